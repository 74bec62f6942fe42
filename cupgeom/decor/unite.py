"""Glyph outlines made one by skia-pathops: no overlaps in a glyph or between neighbours, so that a blade can follow.

Curves stay curves; quadratic ones are raised to cubics, exactly. In what comes out no two outlines cross, and they run
anticlockwise, their holes clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pathops

from cupgeom.drawing import Box, Path
from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Points = NDArray[np.complex128]
    Legs = NDArray[np.float64]  # shape (n, 4): left, bottom, right, top of the lines between neighbouring points

_ZOOM = 1 / 16  # of the fonts' grid: an em of 1024 to 2047, at which the engine's 32-bit floats serve well
_MOST_PARTS, _MOST_TOUCHES, _MOST_RINGS, _MOST_PAIRS = 4000, 200_000, 4000, 4_000_000
_MOST_WORK = 1.5  # see `_work`
_MOST_CROSSINGS = 150_000  # that may go unexamined
_MOVE, _LINE, _QUADRATIC, _CUBIC, _CLOSE = 0, 1, 2, 4, 5  # of the engine's verbs
_KINDS = bytes.maketrans(bytes((_MOVE, _LINE, _QUADRATIC, _CUBIC, _CLOSE)), b"MLCCZ")
_POINTS_PER_VERB = np.array([1, 1, 2, 0, 3, 0])


class Outline(NamedTuple):
    """The outline of a glyph in grid units, without overlaps, as the engine has it and as points of a `Path`."""

    engine: pathops.Path
    kinds: bytes
    points: Points
    box: Box | None  # None where the glyph is blank
    legs: Legs
    rings: int
    work: float


def outline(draw: Callable[[Any], None], name: str) -> Outline:
    """The outline that is drawn with a font pen, of a font that messages call `name`."""
    drawn = pathops.Path()
    draw(drawn.getPen())
    engine = drawn.transform(_ZOOM, 0, 0, _ZOOM, 0, 0)
    work = require_bearable(_work(_legs(engine), _rings(engine)), name)
    engine = _simplified(engine, name)
    kinds, points = _points(engine)
    box = Path(kinds, points.tobytes()).bounds() if kinds else None
    return Outline(engine, kinds, points, box, _legs(engine), _rings(engine), work)


def united(parts: Sequence[tuple[Outline, complex]], scale: float, name: str, work: float = 0.0) -> Path:
    """One path of outlines at their places in grid units, those that may touch united, enlarged by `scale` at last.

    `work` is what has been spent on the outlines before.
    """
    if len(parts) > _MOST_PARTS:
        raise _too_much(name)
    kinds, pieces = bytearray(), []
    unexamined = _MOST_CROSSINGS
    for group, crossings in _touching(parts, name):
        first, origin = parts[group[0]]
        more, points = first.kinds, first.points
        if len(group) > 1:
            whole, legs, rings = pathops.Path(), [], 0
            for part, place in (parts[index] for index in group):
                x, y = (place - origin).real * _ZOOM, (place - origin).imag * _ZOOM
                whole.addPath(part.engine.transform(1, 0, 0, 1, x, y))
                legs.append(part.legs + np.array((x, y, x, y)))
                rings += part.rings
            unexamined -= crossings
            if unexamined < 0:
                work = require_bearable(work + _work(np.concatenate(legs), rings), name)
            more, points = _points(_simplified(whole, name))
        work = require_bearable(work + len(more) * 1e-6, name)
        kinds += more
        pieces.append((points + origin) * scale + 0.0)
    return Path(bytes(kinds), np.concatenate(pieces).tobytes() if pieces else b"")


def require_bearable(work: float, name: str) -> float:
    """The same work; raise when it would take more than a few seconds."""
    if work > _MOST_WORK:
        raise _too_much(name)
    return work


def _legs(path: pathops.Path) -> Legs:
    """Boxes of the lines between neighbouring points of each ring, handles included."""
    points, verbs = _coordinates(path), np.array(path.verbs, dtype=int)
    begins = np.cumsum(_POINTS_PER_VERB[verbs])[verbs == _MOVE] - 1
    corners = np.delete(np.stack([points[:-1], points[1:]]), begins[1:] - 1, axis=1) if len(points) else points[None]
    return np.concatenate([corners.min(axis=0), corners.max(axis=0)], axis=1)


def _rings(path: pathops.Path) -> int:
    return sum(1 for _ in path.contours)


def _work(legs: Legs, rings: int) -> float:
    """Roughly the seconds, at worst, that the engine takes over so many legs and rings (timed on tangles made for it).

    What takes it long are pairs: of all legs a little, of legs that may cross a lot, of rings.
    """
    left, bottom, right, top = legs[np.argsort(legs[:, 0])].T
    begun = np.arange(1, len(legs) + 1)
    near = np.searchsorted(left, right, side="right") - begun  # legs that begin further right, before this one ends
    pairs = int(near.sum())
    if pairs > _MOST_PAIRS:
        return math.inf
    one = np.repeat(begun - 1, near)
    other = np.arange(pairs) + np.repeat(begun - np.cumsum(near) + near, near)
    crossings = max(0, int(np.count_nonzero((bottom[one] <= top[other]) & (bottom[other] <= top[one]))) - len(legs))
    return float((len(legs) / 36_000) ** 2 / 2 + (crossings / 120_000) ** 1.3 + (rings / 4_000) ** 2)


def _too_much(name: str) -> CupgeomError:
    return CupgeomError(name, "draws these letters with too many or too tangled outlines; take fewer or a plainer font")


def _simplified(path: pathops.Path, name: str) -> pathops.Path:
    """The rings round the area that a path covers (nonzero rule), outer ones anticlockwise, holes clockwise."""
    try:
        path.simplify(fix_winding=False, keep_starting_points=False)
    except pathops.PathOpsError:
        raise CupgeomError(name, "draws these letters with outlines that cannot be united") from None
    rings = [ring for ring in path.contours if ring.area > 0]
    if len(rings) > _MOST_RINGS:
        raise _too_much(name)
    boxes = np.array([ring.bounds for ring in rings]).reshape(-1, 4)
    low, high = boxes[:, :2], boxes[:, 2:]
    wider = np.all((low[:, None] <= low) & (high[:, None] >= high), axis=2)  # row around column
    simple = pathops.Path()
    for index, ring in enumerate(rings):
        larger = np.flatnonzero(wider[:, index])
        depth = 0
        if len(larger) > 1:
            ends = [points[-1] for _, points in ring if points]
            some = ends[0], ends[len(ends) // 3], ends[2 * len(ends) // 3]  # one of them may lie on the other's edge
            depth = sum(sum(map(rings[other].contains, some)) > 1 for other in larger if other != index)
        if ring.clockwise == (depth % 2 == 0):
            ring.reverse()
        simple.addPath(ring)
    return simple


def _points(path: pathops.Path) -> tuple[bytes, Points]:
    """Kinds and points, in grid units, of a path; handles of quadratic curves become two thirds of themselves."""
    verbs = bytes(path.verbs)
    points = _coordinates(path).view(np.complex128)[:, 0] / _ZOOM
    kinds = np.frombuffer(verbs, dtype=np.uint8)
    handles = np.cumsum(_POINTS_PER_VERB[kinds])[kinds == _QUADRATIC] - 2
    starts, ends = points[handles - 1], points[handles + 1]
    times = np.ones(len(points), dtype=int)
    times[handles] = 2
    raised = np.repeat(points, times)
    places = handles + np.arange(len(handles))
    raised[places] = starts + (points[handles] - starts) * 2 / 3
    raised[places + 1] = ends + (points[handles] - ends) * 2 / 3
    return verbs.translate(_KINDS), raised


def _coordinates(path: pathops.Path) -> NDArray[np.float64]:
    return np.fromiter(chain.from_iterable(path.points), dtype=np.float64).reshape(-1, 2)


def _touching(parts: Sequence[tuple[Outline, complex]], name: str) -> list[tuple[list[int], int]]:
    """Parts whose boxes touch, directly or through others, grouped, and how many of their legs may cross at most.

    In the order of their first ones.
    """
    group = list(range(len(parts)))

    def leader(index: int) -> int:
        while group[index] != index:
            group[index] = index = group[group[index]]
        return index

    boxes = []
    for index, (part, at) in enumerate(parts):
        if part.box:
            left, bottom, right, top = part.box
            boxes.append((left + at.real, bottom + at.imag, right + at.real, top + at.imag, index))
    boxes.sort()
    near: list[tuple[float, float, float, float, int]] = []
    crossings, touches = [0] * len(parts), 0
    for box in boxes:
        near = [other for other in near if other[2] >= box[0]]
        for other in near:
            if other[1] <= box[3] and box[1] <= other[3]:
                one, two = leader(other[4]), leader(box[4])
                group[max(one, two)] = min(one, two)
                crossings[box[4]] += len(parts[other[4]][0].legs) * len(parts[box[4]][0].legs)
                touches += 1
        if touches > _MOST_TOUCHES:
            raise _too_much(name)
        near.append(box)
    groups: dict[int, list[int]] = {}
    for *_, index in sorted(boxes, key=lambda box: box[4]):
        groups.setdefault(leader(index), []).append(index)
    return [(members, sum(crossings[member] for member in members)) for members in groups.values()]
