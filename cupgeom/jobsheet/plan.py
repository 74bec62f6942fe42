"""The small map of the flat wrap: scaled into its place, each decal with its number in a disc."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from cupgeom.drawing import Affine, Box, Clipped, Colour, Drawing, Item, Shape, Stroke, Text, circle, polyline
from cupgeom.drawing.vera import CAP_HEIGHT
from cupgeom.jobsheet.block import INK

_DISC, _NUMBER = 2.3, 2.2  # mm, radius of a disc and size of its number
_APART = 2 * _DISC + 0.4
_THINNEST = 0.08  # mm, of a line once scaled
_WAYS = 16  # directions tried round a decal whose own place is taken
_PAPER: Colour = (1.0, 1.0, 1.0)
_LINE = Stroke(width=0.2, colour=INK)


def fitted(plan: Drawing, numbered: Sequence[tuple[str, complex]], place: Box) -> list[Item]:
    """The plan as large as a place holds, in its middle, and the numbers on it.

    A number stands on its decal or, where another is in the way, as near as there is room, with a line to it; where
    the whole place is taken it is left out.
    """
    shown = Drawing(tuple(_shown(plan.items)))
    if not shown:
        return []
    box = shown.bounds()
    scale = min(place.width / max(box.width, 1e-9), place.height / max(box.height, 1e-9))
    fit = Affine.move(place.centre) @ Affine.scale(scale, scale) @ Affine.move(-box.centre)
    items: list[Item] = [_thinned(item, scale) for item in shown.transformed(fit).items]
    discs: list[Item] = []
    taken: list[complex] = []
    inner = place.grown(-_DISC)
    for name, at in numbered:
        wanted = fit(at)
        found = next((near for near in _near(wanted, place) if inner.holds(near) and _is_free(near, taken)), None)
        if found is not None:
            taken.append(found)
            discs += _disc(name, found)
            if found != wanted:
                path = polyline([wanted, found])
                items.append(Shape(path=path, role="note", stroke=_LINE, name=f"to decal {name}"))
    return items + discs


def _shown(items: Sequence[Item]) -> Iterator[Item]:
    """What the map shows, all in one role so that it is painted in its own order and nothing of it is cut."""
    for item in items:
        if isinstance(item, Clipped):
            inner = tuple(_shown(item.items))
            if inner:
                yield replace(item, items=inner)
        elif not isinstance(item, Text) and item.role != "white":
            yield replace(item, role="note")


def _thinned(item: Item, scale: float) -> Item:
    """The item with its lines scaled as well."""
    if isinstance(item, Clipped):
        return replace(item, items=tuple(_thinned(inner, scale) for inner in item.items))
    if isinstance(item, Shape) and item.stroke:
        dashes = tuple(dash * scale for dash in item.stroke.dashes)
        stroke = replace(item.stroke, width=max(item.stroke.width * scale, _THINNEST), dashes=dashes)
        return replace(item, stroke=stroke)
    return item


def _near(wanted: complex, place: Box) -> Iterator[complex]:
    """Places from a point outwards, until all of the box lies behind."""
    yield wanted
    reach = abs(wanted - place.centre) + math.hypot(place.width, place.height)
    for ring in range(1, math.ceil(reach / _DISC)):
        for way in range(_WAYS):
            yield wanted + cmath.rect(ring * _DISC, math.tau * way / _WAYS + math.pi / 2)


def _is_free(near: complex, taken: Sequence[complex]) -> bool:
    return all(abs(near - other) >= _APART for other in taken)


def _disc(name: str, at: complex) -> Iterator[Item]:
    yield Shape(path=circle(at, _DISC), role="note", stroke=_LINE, fill=_PAPER, name=f"decal {name}")
    size = _NUMBER if len(name) < 3 else 0.75 * _NUMBER
    low = at - 0.5j * CAP_HEIGHT * size
    yield Text(text=name, at=low, size=size, anchor="middle", bold=True, colour=INK)
