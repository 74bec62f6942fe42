"""A picture of the film round the cup as it turns: across the cup, and unrolled; the drip limit marked."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.coating.estimate import Estimate, Row
from cupgeom.coating.film import VALIDITY
from cupgeom.drawing import Drawing, Item, Path, Pen, Role, Shape, Stroke, Text, circle, polyline
from cupgeom.errors import number
from cupgeom.pages import Document, Page

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_WIDTH, _HEIGHT = 262.0, 118.0
_CENTRE, _RING, _THICK = (
    52 + 58j,
    30.0,
    12.0,
)  # of the cross-section: centre, cup, and what the limit's thickest film is
_GRAPH, _ACROSS, _UP = 116 + 28j, 92.0, 66.0  # of the graph: corner, width, height
_TEXT, _SMALL = 3.0, 2.5
_WALL, _FILM, _AXIS = Stroke(width=0.5), Stroke(width=0.4), Stroke(width=0.15)
_GRID = Stroke(width=0.1, colour=(0.6, 0.6, 0.6))
_LIMIT = Stroke(width=0.3, dashes=(2.0, 1.2))
_MEAN = Stroke(width=0.2, dashes=(0.5, 1.0))
_RESIN = (0.72, 0.83, 0.92)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Curve:
    """A film at equal angles from −180° to 180°."""

    label: str
    mean: float
    heights: Floats


def film_picture(estimate: Estimate) -> Document:
    """The film of each coat round the cup at its smallest coated radius, and the film at the drip limit.

    A coat above the limit has no smooth film, so none is drawn of it; a line says so.
    """
    rack, radius, own = estimate.rack, estimate.radius, estimate.bench.own_limit
    ceiling = rack.drip_limit(radius)
    limit = _Curve(label="drip limit", mean=ceiling, heights=rack.profile(radius, ceiling))
    distinct = _distinct(estimate.rows)
    curves = [
        _Curve(label=label, mean=film, heights=rack.profile(radius, film))
        for label, film in distinct
        if film <= ceiling
    ]
    shown = max(curves, key=lambda curve: curve.mean, default=None)
    title = f"{estimate.cup.name}: " if estimate.cup.name else ""
    title += f"film round the cup at {number(rack.speed_rpm)} rpm, where it is {2 * radius:.1f} mm across"
    notes = [f"{rack.viscosity_pa_s:.2f} Pa·s, {rack.density_kg_m3:.0f} kg/m³; {VALIDITY}"]
    notes += [
        f"{label}: {film:.2f} mm is {100 * film / ceiling:.0f} % of the limit: no smooth film, expect drips"
        for label, film in distinct
        if film > ceiling
    ]
    if own != 1.0:
        notes.append(f"your own log puts the limit at {100 * own:.0f} % of this one")
    items: list[Item] = [Text(text=title, at=complex(8, _HEIGHT - 9), size=3.6, bold=True)]
    items += [Text(text=note, at=complex(8, 10.5 - 4 * place), size=_SMALL) for place, note in enumerate(notes[:3])]
    items += _section(shown, limit, radius) + _graph(curves, limit)
    page = Page(width=_WIDTH, height=_HEIGHT, drawing=Drawing(tuple(items)))
    return Document(title=title, pages=(page,))


def _distinct(rows: tuple[Row, ...]) -> list[tuple[str, float]]:
    """The films that occur, each with the labels of its coats."""
    found: dict[float, list[str]] = {}
    for row in rows:
        found.setdefault(round(row.film, 6), []).append(row.label)
    return [(", ".join(dict.fromkeys(names)), film) for film, names in found.items()]


def _section(shown: _Curve | None, limit: _Curve, radius: float) -> list[Item]:
    """The cup across its axis, turning anticlockwise, the film many times as thick as it is."""
    scale = _THICK / float(limit.heights.max())
    items: list[Item] = []
    if shown is not None:
        outside = _round(shown, scale) + circle(_CENTRE, _RING)
        items.append(
            Shape(path=outside, role="print", fill=_RESIN, stroke=_FILM, even_odd=True, name=f"film, {shown.label}")
        )
    items.append(Shape(path=circle(_CENTRE, _RING), role="print", stroke=_WALL, name="wall"))
    items.append(Shape(path=_round(limit, scale), role="guide", stroke=_LIMIT, name="film at the drip limit"))
    turning = [_CENTRE + 20 * complex(math.cos(t), math.sin(t)) for t in (math.radians(a) for a in range(30, 151, 6))]
    tip = turning[-1]
    arrow = polyline(turning) + Pen(tip + 3.6 + 1.2j).line(tip).line(tip + 1.2 + 3.6j).path()
    items.append(Shape(path=arrow, role="note", stroke=_AXIS, name="turning"))
    items.append(Text(text="turns", at=_CENTRE + 9j, size=_TEXT, anchor="middle"))
    pull = Pen(_CENTRE - 4j).line(_CENTRE - 16j).path() + Pen(_CENTRE - 1.4 - 13j).line(_CENTRE - 16j).path()
    pull += Pen(_CENTRE + 1.4 - 13j).line(_CENTRE - 16j).path()
    items.append(Shape(path=pull, role="note", stroke=_AXIS, name="gravity"))
    items.append(Text(text="gravity", at=_CENTRE + 3 - 11j, size=_TEXT))
    items.append(Text(text="0°", at=_CENTRE + _RING - 6 - 1j, size=_TEXT))
    what = shown.label if shown is not None else "drip limit only"
    said = f"{what}, film drawn {scale * radius / _RING:.0f} times too thick"
    items.append(Text(text=said, at=_CENTRE - 1j * (_RING + 12), size=_SMALL, anchor="middle"))
    return items


def _round(curve: _Curve, scale: float) -> Path:
    count = len(curve.heights) - 1
    angles = (-math.pi + math.tau * index / count for index in range(count))
    return polyline(
        (
            _CENTRE + (_RING + scale * float(film)) * complex(math.cos(angle), math.sin(angle))
            for angle, film in zip(angles, curve.heights[:-1], strict=True)
        ),
        closed=True,
    )


def _graph(curves: list[_Curve], limit: _Curve) -> list[Item]:
    """The same unrolled: film over angle."""
    step = next(step for step in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 1e9) if limit.heights.max() / step <= 8)
    top = step * math.ceil(float(limit.heights.max()) * 1.02 / step)
    items: list[Item] = []
    for index in range(round(top / step) + 1):
        at = _GRAPH + 1j * _UP * index * step / top
        items.append(Shape(path=polyline([at, at + _ACROSS]), role="note", stroke=_GRID, name="scale"))
        items.append(Text(text=f"{index * step:.1f}", at=at - 1.5 - 0.9j, size=_SMALL, anchor="end"))
    items.append(Text(text="film, mm", at=_GRAPH + 1j * (_UP + 3) - 8, size=_TEXT))
    names = ((-180, ""), (-90, "bottom"), (0, "rises"), (90, "top"), (180, ""))
    for degrees, name in names:
        at = _GRAPH + _ACROSS * (degrees + 180) / 360
        items.append(Shape(path=polyline([at, at - 1.5j]), role="note", stroke=_AXIS, name="angle"))
        items.append(
            Text(text=f"{degrees}° {name}".strip().replace("-", "−"), at=at - 5j, size=_SMALL, anchor="middle")
        )
    for curve, stroke in [*((curve, _FILM) for curve in curves), (limit, _LIMIT)]:
        count = len(curve.heights) - 1
        points = [
            _GRAPH + complex(_ACROSS * index / count, _UP * float(film) / top)
            for index, film in enumerate(curve.heights)
        ]
        role: Role = "guide" if curve is limit else "print"
        items.append(Shape(path=polyline(points), role=role, stroke=stroke, name=curve.label))
    level = _GRAPH + 1j * _UP * limit.mean / top
    items.append(Shape(path=polyline([level, level + _ACROSS]), role="note", stroke=_MEAN, name="mean at the limit"))
    return items + _names(curves, limit, top)


def _names(curves: list[_Curve], limit: _Curve, top: float) -> list[Item]:
    """What is what, to the right of the graph, moved up where two would meet."""
    said = [(float(curve.heights[-1]), f"{curve.label}: mean {curve.mean:.2f} mm") for curve in curves]
    said += [
        (float(limit.heights[-1]), "film at the drip limit"),
        (limit.mean, f"drip limit: mean {limit.mean:.2f} mm"),
    ]
    items: list[Item] = []
    lowest = 0.0
    for film, words in sorted(said):
        height = max(_UP * film / top - 0.9, lowest)
        lowest = height + _SMALL * 1.3
        items.append(Text(text=words, at=_GRAPH + _ACROSS + 2 + 1j * height, size=_SMALL))
    return items
