"""Marker elements: small drawings at the corners of a line, such as arrow heads (SVG 1.1, second edition, 11.6)."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.frame import Frame
from cupgeom.decor.artwork.items import Items, inside
from cupgeom.decor.artwork.numbers import Length, fitted, parse_length
from cupgeom.decor.artwork.pathdata import Reading
from cupgeom.decor.artwork.source import Source
from cupgeom.drawing import Affine, Box, Path, Segment

MARKED = frozenset(("path", "line", "polyline", "polygon"))
_DEFAULT = Length(3.0)


class Corner(NamedTuple):
    """A corner of a path, and the directions in which it is reached and left; 0 where there is none."""

    at: complex
    into: complex
    out: complex

    @property
    def angle_deg(self) -> float:
        """The direction half-way between the two."""
        both = _unit(self.into) + _unit(self.out)
        return math.degrees(cmath.phase(both or self.out or 1 + 0j))


class Markers:
    """Draws the markers of a file."""

    def __init__(self, source: Source, draw: Callable[[Element, Frame], Items]) -> None:
        self._source, self._draw = source, draw

    def items(self, element: Element, reading: Reading, frame: Frame) -> Items:
        """The markers of an element."""
        style = frame.style
        if element.tag not in MARKED or not (style.marker_start or style.marker_mid or style.marker_end):
            return []
        found = [corner for corner in corners(reading.path) if corner.at not in reading.cuts]
        items: Items = []
        for index, corner in enumerate(found):
            first, last = index == 0, index == len(found) - 1
            for wanted, href in ((first, style.marker_start), (not first and not last, style.marker_mid)):
                items += self._one(element, href, corner, frame, first) if wanted and href else []
            items += self._one(element, style.marker_end, corner, frame, False) if last and style.marker_end else []
        return items

    def _one(self, element: Element, href: str, corner: Corner, frame: Frame, is_start: bool) -> Items:
        source = self._source
        marker = source.tree.found(href)
        if marker is None or marker.tag != "marker" or marker in source.under_way:
            source.doubt(element, f"has the marker {href[:60]}, which cannot be had, and is drawn without it")
            return []
        orient = marker.get("orient", "0")
        turn = corner.angle_deg if orient.startswith("auto") else _angle_deg(orient)
        turn += 180.0 if orient == "auto-start-reverse" and is_start else 0.0
        in_strokes = marker.get("markerUnits") != "userSpaceOnUse"
        size = frame.pixels(frame.style.stroke_width) if in_strokes else 1.0
        width, height = (self._length(marker, name, frame, _DEFAULT) for name in ("markerWidth", "markerHeight"))
        if width <= 0 or height <= 0 or size <= 0:
            return []
        view_box, fit = source.view_box(marker), Affine()
        if view_box:
            fit = fitted(view_box, width, height, marker.get("preserveAspectRatio", ""))
        reference = fit(complex(*(self._length(marker, name, frame, Length(0.0)) for name in ("refX", "refY"))))
        place = Affine.move(corner.at) @ Affine.rotation(turn) @ Affine.scale(size, size) @ Affine.move(-reference)
        outer = frame.moved(place)._replace(style=source.cascade.in_place(marker), depth=frame.depth + 1)
        return self._drawn(marker, outer, fit, Box(0.0, 0.0, width, height))

    def _drawn(self, marker: Element, outer: Frame, fit: Affine, room: Box) -> Items:
        self._source.under_way.add(marker)
        try:
            items = [item for child in marker for item in self._draw(child, outer.moved(fit))]
        finally:
            self._source.under_way.discard(marker)
        if outer.style.shows_all:
            return items
        return inside(items, room.outline().transformed(outer.to_mm))

    def _length(self, marker: Element, name: str, frame: Frame, default: Length) -> float:
        return frame.pixels(parse_length(marker.get(name, "")) or default)


def corners(path: Path) -> Iterator[Corner]:
    """The corners of a path in its order; where an outline closes, its start comes a second time."""
    for segments, closed in path.outlines():
        if not segments:
            continue
        first, last = _leaving(segments[0]), -_leaving(segments[-1], backwards=True)
        yield Corner(segments[0].start, last if closed else 0j, first)
        for one, two in pairwise(segments):
            yield Corner(one.end, -_leaving(one, backwards=True), _leaving(two))
        yield Corner(segments[-1].end, last, first if closed else 0j)


def _leaving(segment: Segment, *, backwards: bool = False) -> complex:
    """The direction in which a segment leaves its start, or its end when run backwards."""
    points = segment[::-1] if backwards else segment
    return next((point - points[0] for point in points[1:] if point != points[0]), 0j)


def _unit(vector: complex) -> complex:
    return vector / abs(vector) if vector else 0j


def _angle_deg(text: str) -> float:
    try:
        return float(text.removesuffix("deg"))
    except ValueError:
        return 0.0
