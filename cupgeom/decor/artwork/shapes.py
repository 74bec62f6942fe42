"""Basic shapes as paths (SVG 1.1, second edition, chapter 9), each from the point where its dashes begin."""

from __future__ import annotations

import math
from collections.abc import Callable
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.pathdata import ArcCentre, Reading, arc_cubics, parse_path, parse_points
from cupgeom.drawing import Path, Pen

Measure = Callable[[str], float | None]  # the length that an attribute gives; None where it gives none


def outline(element: Element, measure: Measure) -> Reading:
    """The path of a shape element; empty where the standard says that nothing is drawn."""
    match element.tag:
        case "path":
            return parse_path(element.get("d", ""))
        case "polyline" | "polygon":
            return parse_points(element.get("points", ""), closed=element.tag == "polygon")
        case "line":
            x1, y1, x2, y2 = (measure(name) or 0.0 for name in ("x1", "y1", "x2", "y2"))
            return Reading(Pen(complex(x1, y1)).line(complex(x2, y2)).path())
        case "rect":
            return _rectangle(measure)
        case "circle":
            return _ellipse(measure, "r", "r")
        case _:
            return _ellipse(measure, "rx", "ry")


SHAPES = frozenset({"path", "polyline", "polygon", "line", "rect", "circle", "ellipse"})


def _ellipse(measure: Measure, across: str, down: str) -> Reading:
    rx, ry = measure(across), measure(down)
    rx, ry = _other_if_unfit(rx, ry), _other_if_unfit(ry, rx)
    if not rx or not ry or rx < 0:
        return Reading(Path(), "" if rx == 0 or ry == 0 else "has no size")
    centre = complex(measure("cx") or 0.0, measure("cy") or 0.0)
    pen = Pen(centre + rx)
    for cubic in arc_cubics(ArcCentre(centre, (rx, ry), 0.0, 0.0, math.tau), centre + rx):
        pen.cubic(*cubic)
    return Reading(pen.close().path())


def _other_if_unfit(radius: float | None, other: float | None) -> float | None:
    """A radius left out or negative is as large as the other one."""
    return radius if radius is not None and radius >= 0 else other


def _rectangle(measure: Measure) -> Reading:
    width, height = measure("width"), measure("height")
    if not width or not height or width < 0 or height < 0:
        return Reading(Path(), "" if width == 0 or height == 0 else "has no size")
    corner = complex(measure("x") or 0.0, measure("y") or 0.0)
    rx, ry = measure("rx"), measure("ry")
    rx, ry = _other_if_unfit(rx, ry), _other_if_unfit(ry, rx)
    rx, ry = min(max(rx or 0.0, 0.0), width / 2), min(max(ry or 0.0, 0.0), height / 2)
    corners = [corner, corner + width, corner + complex(width, height), corner + 1j * height]
    if not rx or not ry:
        pen = Pen(corners[0])
        for point in corners[1:]:
            pen.line(point)
        return Reading(pen.close().path())
    pen = Pen(corner + rx)
    inward = [complex(rx, ry), complex(-rx, ry), complex(-rx, -ry), complex(rx, -ry)]
    for index in (1, 2, 3, 0):  # top right, bottom right, bottom left, top left
        centre = corners[index] + inward[index]
        begin = (index - 2) * math.pi / 2
        start, end = (_on_corner(centre, rx, ry, turns) for turns in (index - 2, index - 1))
        pen.line(start)
        for cubic in arc_cubics(ArcCentre(centre, (rx, ry), 0.0, begin, math.pi / 2), end):
            pen.cubic(*cubic)
    return Reading(pen.close().path())


def _on_corner(centre: complex, rx: float, ry: float, quarters: int) -> complex:
    """The point of an ellipse at so many quarter turns, exactly."""
    return centre + (rx, 1j * ry, -rx, -1j * ry)[quarters % 4]
