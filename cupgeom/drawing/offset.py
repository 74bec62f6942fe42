"""A closed outline moved sideways by a distance, corners mitred: the bleed and the safe margin."""

from __future__ import annotations

from itertools import pairwise

from cupgeom.drawing.path import Path, path_of
from cupgeom.drawing.segment import Arc, Cubic, Line, Segment
from cupgeom.errors import CupgeomError, number, require_finite

_NOTHING = 1e-9  # mm; shorter sides are no sides, ends this near to each other need no mitre
_FIT = 0.002  # mm; how near the cubics of an offset cubic stay to it
_SLACK = 0.005  # mm; how much nearer than the distance the result may come, through those cubics
_PROBES = 8  # points of each moved side that are looked at


class _Beside:
    """The curve at a distance to the right of a segment.

    Beyond its ends a line or a circle goes on, a cubic goes straight.
    """

    def __init__(self, segment: Segment, distance: float) -> None:
        self.segment, self.distance = segment, distance

    def point(self, t: float) -> complex:
        at = self._within(t)
        velocity = self.segment.velocity(at)
        return self.segment.point(at) - 1j * velocity / abs(velocity) * self.distance + (t - at) * velocity

    def velocity(self, t: float) -> complex:
        """Derivative of `point`."""
        at = self._within(t)
        return self.segment.velocity(at) * (self.stretch(t) if at == t else 1.0)

    def stretch(self, t: float) -> float:
        """How much longer than the segment the curve is there, 1 + κ·distance; not positive where it folds over."""
        return 1 + self.segment.curvature(t) * self.distance

    def folds(self, t0: float, t1: float) -> bool:
        """Whether nothing is left between two parameters, or the curve folds over there."""
        if t1 <= t0:
            return True
        first, last = self._within(t0), self._within(t1)
        return any(self.stretch(first + (last - first) * i / _PROBES) <= 0 for i in range(_PROBES + 1))

    def between(self, t0: float, t1: float) -> list[Segment]:
        """The part between two parameters as a line, a true arc, or cubics; empty when cubics do not come near it."""
        if isinstance(self.segment, Line):
            return [Line(self.point(t0), self.point(t1))]
        if isinstance(self.segment, Arc):
            return [Arc(self.point(t0), self.point((t0 + t1) / 2), self.point(t1))]
        before = [Line(self.point(t0), self.point(0.0))] if t0 < 0 else []
        after = [Line(self.point(1.0), self.point(t1))] if t1 > 1 else []
        cubics = self._fitted(max(t0, 0.0), min(t1, 1.0))
        return [*before, *cubics, *after] if cubics else []

    def _fitted(self, t0: float, t1: float) -> list[Cubic]:
        for count in (1, 2, 4, 8, 16, 32, 64, 128, 256):
            ends = [t0 + (t1 - t0) * i / count for i in range(count + 1)]
            pieces = [self._hermite(*pair) for pair in pairwise(ends)]
            if all(self._fits(piece, *pair) for piece, pair in zip(pieces, pairwise(ends), strict=True)):
                return pieces
        return []

    def _fits(self, piece: Cubic, t0: float, t1: float) -> bool:
        return all(abs(piece.point(u) - self.point(t0 + (t1 - t0) * u)) <= _FIT for u in (0.25, 0.5, 0.75))

    def _hermite(self, t0: float, t1: float) -> Cubic:
        start, end, third = self.point(t0), self.point(t1), (t1 - t0) / 3
        return Cubic(start, start + third * self.velocity(t0), end - third * self.velocity(t1), end)

    def _within(self, t: float) -> float:
        return min(max(t, 0.0), 1.0) if isinstance(self.segment, Cubic) else t


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
    moved: list[Segment] = []
    for curve, start, end in _mitred([_Beside(side, away) for side in sides]):
        pieces = curve.between(start, end)
        if not pieces or not _keep_clear(pieces, curve.segment, sides, abs(distance) - _SLACK):
            moved = []
            break
        moved += pieces
    if not moved:
        raise CupgeomError(where, f"{number(abs(distance))} mm is too large for the outline; give less")
    return path_of(_joined(moved), closed=True)


def _mitred(curves: list[_Beside]) -> list[tuple[_Beside, float, float]]:
    """The curves that are left, each with the parameters where it meets the one before it and the one after it.

    While some are used up, the shortest of them is left out; none are left when no two sides meet.
    """
    while curves:
        joints = [_joint(curves[index - 1], curves[index]) for index in range(len(curves))]
        used_up = []
        for index, curve in enumerate(curves):
            here, there = joints[index], joints[(index + 1) % len(curves)]
            if here is None or there is None or curve.folds(here[1], there[0]):
                used_up.append(curve)
        if not used_up:
            return [
                (curve, joints[index][1], joints[(index + 1) % len(curves)][0]) for index, curve in enumerate(curves)
            ]
        curves.remove(min(used_up, key=lambda curve: curve.segment.length()))
    return []


def _joint(before: _Beside, after: _Beside) -> tuple[float, float] | None:
    """Parameters at which two neighbouring curves meet: Newton's method from their own ends. None where it fails."""
    s, t = 1.0, 0.0
    for _ in range(40):
        gap = after.point(t) - before.point(s)
        if abs(gap) <= _NOTHING:
            return s, t
        out, into = before.velocity(s), after.velocity(t)
        crossing = (out.conjugate() * into).imag
        if crossing == 0:
            return None
        s += (gap.conjugate() * into).imag / crossing
        t += (gap.conjugate() * out).imag / crossing
    return None


def _keep_clear(pieces: list[Segment], source: Segment, sides: list[Segment], least: float) -> bool:
    """Whether the pieces moved away from one side are nowhere nearer than a distance to any other."""
    boxes = [side.bounds().grown(least) for side in sides]
    for piece in pieces:
        for index in range(_PROBES):
            point = piece.point(index / _PROBES)
            for side, box in zip(sides, boxes, strict=True):
                if side is not source and box.holds(point) and side.distance(point) < least:
                    return False
    return True


def _joined(segments: list[Segment]) -> list[Segment]:
    """The segments with each start put exactly on the end before it."""
    return [segment._replace(start=segments[index - 1].end) for index, segment in enumerate(segments)]
