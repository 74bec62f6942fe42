"""A closed outline moved sideways by a distance, corners mitred: the bleed and the safe margin."""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

from cupgeom.drawing.path import Path, path_of
from cupgeom.drawing.segment import Arc, Box, Cubic, Line, Segment
from cupgeom.errors import CupgeomError, number, require_finite

_NOTHING = 1e-9  # mm; shorter sides are no sides, ends this near to each other need no mitre
_FIT = 0.002  # mm; how near the cubics of an offset cubic stay to it
_SLACK = 0.005  # mm; how much nearer than the distance the result may come, through those cubics
_PROBES = 8  # points of each moved side that are looked at
_LONGEST_MITRE = 100  # times the distance; sides that would meet farther beyond their ends do not meet


class _Round:
    """The line or circle at a distance to the right of a line or an arc; it goes on beyond its ends."""

    def __init__(self, segment: Line | Arc, distance: float) -> None:
        leaving = segment.velocity(0.0)
        self.segment, self.length = segment, abs(leaving)
        self._sweep = segment.sweep_rad if isinstance(segment, Arc) else 0.0
        self._stretch = 1 + segment.curvature(0.0) * distance  # not positive where the circle turns inside out
        self._start = segment.start - 1j * leaving / abs(leaving) * distance
        self._leaving = leaving * self._stretch

    def point(self, t: float) -> complex:
        """The point at parameter t, beside the segment's own."""
        half = self._sweep * t / 2
        return self._start + self._leaving * t * (math.sin(half) / half if half else 1.0) * cmath.exp(1j * half)

    def velocity(self, t: float) -> complex:
        """Derivative of `point`."""
        return self._leaving * cmath.exp(1j * self._sweep * t)

    def folds(self, t0: float, t1: float) -> bool:
        """Whether nothing is left between two parameters, or the curve runs backwards there."""
        return t1 <= t0 or self._stretch <= 0

    def between(self, t0: float, t1: float) -> list[Segment]:
        """The part between two parameters."""
        if isinstance(self.segment, Line):
            return [Line(self.point(t0), self.point(t1))]
        return [Arc(self.point(t0), self.point((t0 + t1) / 2), self.point(t1))]


class _Bent:
    """The curve at a distance to the right of a cubic; beyond its ends it goes straight."""

    def __init__(self, segment: Cubic, distance: float) -> None:
        self.segment, self.length = segment, segment.length()
        self._distance = distance

    def point(self, t: float) -> complex:
        """The point at parameter t, beside the segment's own."""
        at = _inner(t)
        velocity = self.segment.velocity(at)
        return self.segment.point(at) - 1j * velocity / abs(velocity) * self._distance + (t - at) * velocity

    def velocity(self, t: float) -> complex:
        """Derivative of `point`."""
        at = _inner(t)
        return self.segment.velocity(at) * (self._stretch(t) if at == t else 1.0)

    def folds(self, t0: float, t1: float) -> bool:
        """Whether nothing is left between two parameters, or the curve runs backwards there."""
        first, last = _inner(t0), _inner(t1)
        return t1 <= t0 or any(self._stretch(first + (last - first) * i / _PROBES) <= 0 for i in range(_PROBES + 1))

    def between(self, t0: float, t1: float) -> list[Segment]:
        """The part between two parameters: cubics within 0.002 mm, lines beyond its ends; empty when none are found."""
        first, last = _inner(t0), _inner(t1)
        before = [Line(self.point(t0), self.point(min(t1, 0.0)))] if t0 < 0 else []
        after = [Line(self.point(max(t0, 1.0)), self.point(t1))] if t1 > 1 else []
        if first == last:
            return [*before, *after]
        for count in (1, 2, 4, 8, 16, 32, 64, 128, 256):
            ends = [first + (last - first) * i / count for i in range(count + 1)]
            cubics = [self._hermite(*pair) for pair in pairwise(ends)]
            if all(self._fits(cubic, *pair) for cubic, pair in zip(cubics, pairwise(ends), strict=True)):
                return [*before, *cubics, *after]
        return []

    def _stretch(self, t: float) -> float:
        """How much faster than the cubic the curve runs there: 1 + curvature·distance."""
        return 1 + self.segment.curvature(t) * self._distance

    def _fits(self, cubic: Cubic, t0: float, t1: float) -> bool:
        return all(abs(cubic.point(u) - self.point(t0 + (t1 - t0) * u)) <= _FIT for u in (0.25, 0.5, 0.75))

    def _hermite(self, t0: float, t1: float) -> Cubic:
        start, end, third = self.point(t0), self.point(t1), (t1 - t0) / 3
        return Cubic(start, start + third * self.velocity(t0), end - third * self.velocity(t1), end)


def _inner(t: float) -> float:
    """The parameter, held between the ends of a cubic."""
    return min(max(t, 0.0), 1.0)


_Curve = _Round | _Bent
_Obstacle = tuple[
    Segment, Line | Arc, Box
]  # a side, a piece of it, and the box round all that is too near to the piece


def offset(path: Path, distance: float, where: str = "distance") -> Path:
    """A closed outline with every side moved by `distance`, outward when positive, its corners mitred.

    Lines stay lines and arcs stay true arcs about the same centre, so that an annular sector of radii P₂ and P₁ becomes
    one of P₂ + d and P₁ − d with its straight edges moved by d; a cubic becomes cubics within 0.002 mm. A side that its
    neighbours use up is left out, and they meet instead.

    Parameters
    ----------
    path
        One closed outline, run either way, that does not cross itself.
    distance
        [mm], negative inward.
    where
        The field to name when the distance is too large for the outline.

    Raises
    ------
    CupgeomError
        When the path is not one closed outline, or no outline keeps the distance from all of its sides.
    """
    require_finite(where, distance)
    outlines = [segments for segments, closed in path.outlines() if closed]
    if len(outlines) != 1:
        raise CupgeomError("path", f"must be one closed outline, got {len(outlines)}")
    if distance == 0:
        return path
    sides = [segment for segment in outlines[0] if segment.length() > _NOTHING]
    if any(segment.velocity(t) == 0 for segment in sides for t in (0.0, 1.0)):
        raise CupgeomError("path", "has a cubic with a handle of no length, which gives it no direction there")
    away = distance if path.area() > 0 else -distance
    curves: list[_Curve] = [_Bent(side, away) if isinstance(side, Cubic) else _Round(side, away) for side in sides]
    obstacles = _obstacles(sides, abs(distance) - _SLACK)
    moved: list[Segment] = []
    for curve, start, end in _mitred(curves, _LONGEST_MITRE * abs(distance)):
        pieces = curve.between(start, end)
        if not pieces or not _clear(pieces, curve.segment, obstacles, abs(distance) - _SLACK):
            moved = []
            break
        moved += pieces
    if not moved:
        raise CupgeomError(where, f"{number(abs(distance))} mm is too large for the outline; give less")
    return path_of(_joined(moved), closed=True)


def _mitred(curves: list[_Curve], reach: float) -> list[tuple[_Curve, float, float]]:
    """The curves that are left, each with the parameters where it meets the one before it and the one after it.

    While some are used up, the shortest of them is left out; none are left when no two sides meet.
    """
    met: dict[tuple[_Curve, _Curve], tuple[float, float] | None] = {}
    while curves:
        pairs = list(pairwise([curves[-1], *curves]))
        for pair in pairs:
            if pair not in met:
                met[pair] = _joint(*pair, reach)
        joints = [met[pair] for pair in pairs]
        left: list[tuple[_Curve, float, float]] = []
        used_up: list[_Curve] = []
        for curve, here, there in zip(curves, joints, [*joints[1:], joints[0]], strict=True):
            if here is None or there is None or curve.folds(here[1], there[0]):
                used_up.append(curve)
            else:
                left.append((curve, here[1], there[0]))
        if not used_up:
            return left
        curves.remove(min(used_up, key=lambda curve: curve.length))
    return []


def _joint(before: _Curve, after: _Curve, reach: float) -> tuple[float, float] | None:
    """Parameters at which two neighbouring curves meet: Newton's method from their own ends.

    None where it fails, or finds them to meet farther than `reach` beyond their ends.
    """
    s, t = 1.0, 0.0
    gap = after.point(t) - before.point(s)
    if abs(gap) <= _NOTHING:
        return s, t
    for _ in range(40):
        out, into = before.velocity(s), after.velocity(t)
        crossing = (out.conjugate() * into).imag
        if crossing == 0:
            return None
        s += (gap.conjugate() * into).imag / crossing
        t += (gap.conjugate() * out).imag / crossing
        if abs(gap) <= _NOTHING:  # met one step ago, and nearer still after this one
            return (s, t) if max((s - 1) * before.length, -t * after.length) <= reach else None
        gap = after.point(t) - before.point(s)
    return None


def _obstacles(sides: list[Segment], margin: float) -> list[_Obstacle]:
    """The sides in pieces that fill their boxes well."""
    pieces: list[tuple[Segment, Line | Arc]] = []
    for side in sides:
        if isinstance(side, Line):
            pieces.append((side, side))
        elif isinstance(side, Arc):
            count = math.ceil(abs(side.sweep_rad) / (math.pi / 4)) or 1
            pieces += [(side, side.split(i / count, (i + 1) / count)) for i in range(count)]
        else:
            count = side.chords(_FIT)
            corners = [side.point(i / count) for i in range(count + 1)]
            pieces += [(side, Line(*pair)) for pair in pairwise(corners)]
    return [(side, piece, piece.bounds().grown(margin)) for side, piece in pieces]


def _clear(pieces: list[Segment], source: Segment, obstacles: list[_Obstacle], least: float) -> bool:
    """Whether the pieces moved away from one side are nowhere nearer than a distance to any other."""
    for piece in pieces:
        for point in [piece.point(i / _PROBES) for i in range(_PROBES)]:
            for side, obstacle, box in obstacles:
                if box.holds(point) and side is not source and obstacle.distance(point) < least:
                    return False
    return True


def _joined(segments: list[Segment]) -> list[Segment]:
    """The segments with each start put exactly on the end before it."""
    return [segment._replace(start=segments[index - 1].end) for index, segment in enumerate(segments)]
