"""The pieces that outlines are made of: lines, true arcs, cubics, and the boxes round them.

Points are complex numbers, x + iy in mm, y up. Every piece runs from its start at parameter 0 to its end at 1.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterable
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from cupgeom.errors import CupgeomError, number

if TYPE_CHECKING:
    from cupgeom.drawing.path import Path

# 5-point Gauss-Legendre rule on [-1, 1]: Abramowitz & Stegun, Handbook of Mathematical Functions, table 25.4
_GAUSS_5 = (
    (0.0, 0.5688888888888889),
    (0.5384693101056831, 0.47862867049936647),
    (-0.5384693101056831, 0.47862867049936647),
    (0.906179845938664, 0.23692688505618908),
    (-0.906179845938664, 0.23692688505618908),
)


class Box(NamedTuple):
    """An upright rectangle, in mm."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Extent along x."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Extent along y."""
        return self.top - self.bottom

    @property
    def centre(self) -> complex:
        """The point in the middle."""
        return complex((self.left + self.right) / 2, (self.bottom + self.top) / 2)

    def grown(self, margin: float) -> Box:
        """The rectangle with every side moved outward."""
        return Box(self.left - margin, self.bottom - margin, self.right + margin, self.top + margin)

    def union(self, other: Box) -> Box:
        """The smallest rectangle that holds both."""
        return Box(
            min(self.left, other.left),
            min(self.bottom, other.bottom),
            max(self.right, other.right),
            max(self.top, other.top),
        )

    def holds(self, point: complex) -> bool:
        """Whether a point lies in the rectangle or on its edge."""
        return self.left <= point.real <= self.right and self.bottom <= point.imag <= self.top

    def outline(self) -> Path:
        """The rectangle as a closed path, anticlockwise."""
        from cupgeom.drawing.path import polyline

        xs, ys = (self.left, self.right, self.right, self.left), (self.bottom, self.bottom, self.top, self.top)
        return polyline(map(complex, xs, ys), closed=True)


class Line(NamedTuple):
    """A straight segment."""

    start: complex
    end: complex

    def point(self, t: float) -> complex:
        """The point at parameter t, 0 at the start and 1 at the end; the line goes on beyond."""
        return self.start + (self.end - self.start) * t

    def velocity(self, t: float) -> complex:
        """Derivative of `point`."""
        return self.end - self.start

    def curvature(self, t: float) -> float:
        """Change of direction per length [rad/mm]: none."""
        return 0.0

    def length(self) -> float:
        """Length."""
        return abs(self.end - self.start)

    def swept_area(self) -> float:
        """Signed area between the segment and the origin, anticlockwise positive."""
        return _cross(self.start, self.end) / 2

    def bounds(self) -> Box:
        """Smallest upright rectangle around it."""
        return _box((self.start, self.end))

    def split(self, t0: float, t1: float) -> Line:
        """The part between two parameters."""
        return Line(self.point(t0), self.point(t1))

    def distance(self, point: complex) -> float:
        """Distance from a point to the nearest point of the segment."""
        run = self.end - self.start
        square = abs(run) ** 2
        t = _dot(run, point - self.start) / square if square else 0.0
        return abs(point - self.point(min(max(t, 0.0), 1.0)))

    def chords(self, tolerance: float) -> int:
        """How many equal straight pieces stay within a tolerance of it: one."""
        return 1


class Arc(NamedTuple):
    """A circular arc by its start, the point at its middle and its end; less than a whole turn.

    ::

               middle
             _.--*--._           sweep = 4 atan(bulge), bulge = 2·sagitta/chord, anticlockwise positive
           .'    |sagitta        radius = (chord²/4 + sagitta²)/(2·sagitta)
        start ---+------ end
               chord

    Nothing here goes through the centre, so that a nearly straight arc is as exact as a round one.
    """

    start: complex
    middle: complex
    end: complex

    @property
    def sweep_rad(self) -> float:
        """Angle of the arc at its centre, anticlockwise positive, within ±2π."""
        chord = self.end - self.start
        rise = self.middle - (self.start + self.end) / 2
        return -4 * math.atan2(2 * _cross(chord, rise), abs(chord) ** 2)

    @property
    def radius(self) -> float:
        """Radius of the circle; infinite for a straight arc."""
        half = abs(self.end - self.start) / 2
        sagitta = abs(self.middle - (self.start + self.end) / 2)
        return (half * half + sagitta * sagitta) / (2 * sagitta) if sagitta else math.inf

    @property
    def centre(self) -> complex:
        """Centre of the circle; loses digits as the radius grows.

        Raises
        ------
        CupgeomError
            When the arc is straight.
        """
        sagitta = (self.start + self.end) / 2 - self.middle
        if sagitta == 0:
            raise CupgeomError("arc", "is straight, so it has no centre")
        return self.middle + sagitta * (self.radius / abs(sagitta))

    def point(self, t: float) -> complex:
        """The point at parameter t, 0 at the start and 1 at the end; the circle goes on beyond."""
        half = self.sweep_rad * t / 2
        return self.start + self._start_velocity() * t * _sinc(half) * cmath.exp(1j * half)

    def velocity(self, t: float) -> complex:
        """Derivative of `point`."""
        return self._start_velocity() * cmath.exp(1j * self.sweep_rad * t)

    def curvature(self, t: float) -> float:
        """Change of direction per length [rad/mm], anticlockwise positive: the same everywhere."""
        return self.sweep_rad / self.length()

    def length(self) -> float:
        """Length along the arc."""
        return abs(self._start_velocity())

    def swept_area(self) -> float:
        """Signed area between the arc and the origin, anticlockwise positive."""
        sweep = self.sweep_rad
        if abs(sweep) < 0.1:  # sweep − sin(sweep) over 8 sin²(sweep/2), as a series: relative error below 2e-14
            share = sweep / 12 * (1 + sweep**2 / 30 + sweep**4 / 840 + sweep**6 / 25200)
        else:
            share = (sweep - math.sin(sweep)) / (8 * math.sin(sweep / 2) ** 2)
        return _cross(self.start, self.end) / 2 + share * abs(self.end - self.start) ** 2

    def bounds(self) -> Box:
        """Smallest upright rectangle around it, with the circle's own extremes where the arc passes them."""
        sweep, heading = self.sweep_rad, cmath.phase(self._start_velocity())
        points = [self.start, self.end]
        for quarter in range(4):
            ahead = (quarter * math.pi / 2 - heading) % math.tau
            turn = ahead if sweep > 0 else ahead - math.tau
            if sweep and 0 < turn / sweep < 1:
                points.append(self.point(turn / sweep))
        return _box(points)

    def split(self, t0: float, t1: float) -> Arc:
        """The part between two parameters."""
        return Arc(self.point(t0), self.point((t0 + t1) / 2), self.point(t1))

    def distance(self, point: complex) -> float:
        """Distance from a point to the nearest point of the arc.

        Notes
        -----
        With w the point seen from the start, n the unit normal to the left and κ the curvature, the distance to the
        circle is D/(1 + |κw − n|), D = κ|w|² − 2 n·w, which needs no centre (our own derivation).
        """
        if abs(self.sweep_rad) > math.pi / 2:
            return min(self.split(0.0, 0.5).distance(point), self.split(0.5, 1.0).distance(point))
        first, last = self.velocity(0.0), self.velocity(1.0)
        aside, curvature = point - self.start, self.curvature(0.0)
        if _dot(aside, first) <= 0 or _dot(point - self.end, last) >= 0:
            return min(abs(aside), abs(point - self.end))
        normal = 1j * first / abs(first)
        power = curvature * abs(aside) ** 2 - 2 * _dot(normal, aside)
        return abs(power / (1 + abs(curvature * aside - normal)))

    def chords(self, tolerance: float) -> int:
        """How many equal straight pieces stay within a tolerance of it; at least one for every quarter turn.

        Notes
        -----
        A chord of the angle φ leaves the arc by radius·(1 − cos(φ/2)) = 2·radius·sin²(φ/4).
        """
        share = min(math.sin(math.pi / 8), math.sqrt(tolerance / 2 / self.radius))
        return max(1, math.ceil(abs(self.sweep_rad) / (4 * math.asin(share)))) if share else 1

    def cubics(self, tolerance: float) -> list[Cubic]:
        """Cubics within `tolerance` of the arc, in equal pieces.

        Notes
        -----
        Handles of (4/3)·tan(φ/4)·radius along the end tangents; the radial error of a piece of angle φ is at most
        (2/27)·sin⁶(φ/4)/cos²(φ/4)·radius, always outward (standard result).
        """
        require_tolerance(tolerance)
        sweep, radius = self.sweep_rad, self.radius
        if sweep == 0 or not math.isfinite(radius):
            third = (self.end - self.start) / 3
            return [Cubic(self.start, self.start + third, self.end - third, self.end)]
        count = max(1, math.ceil(abs(sweep) / (math.pi / 2)))
        while radius * 2 / 27 * math.sin(sweep / count / 4) ** 6 / math.cos(sweep / count / 4) ** 2 > tolerance:
            count += 1
        pieces = []
        handle = (4 / 3) * math.tan(sweep / count / 4) / sweep
        start = self.start
        for index in range(count):
            t0, t1 = index / count, (index + 1) / count
            end = self.end if index == count - 1 else self.point(t1)
            pieces.append(Cubic(start, start + handle * self.velocity(t0), end - handle * self.velocity(t1), end))
            start = end
        return pieces

    def _start_velocity(self) -> complex:
        sweep = self.sweep_rad
        direction = cmath.exp(-0.5j * sweep) * (self.end - self.start)
        return direction / _sinc(sweep / 2)


class Cubic(NamedTuple):
    """A cubic Bézier segment."""

    start: complex
    first: complex
    second: complex
    end: complex

    def point(self, t: float) -> complex:
        """The point at parameter t; the polynomial goes on beyond 0 and 1."""
        u = 1 - t
        return u * u * u * self.start + 3 * u * t * (u * self.first + t * self.second) + t * t * t * self.end

    def velocity(self, t: float) -> complex:
        """Derivative of `point`."""
        u = 1 - t
        return 3 * (
            u * u * (self.first - self.start)
            + 2 * u * t * (self.second - self.first)
            + t * t * (self.end - self.second)
        )

    def curvature(self, t: float) -> float:
        """Change of direction per length [rad/mm], anticlockwise positive; infinite where the point stands still."""
        velocity = self.velocity(t)
        bend = (1 - t) * (self.start - 2 * self.first + self.second) + t * (self.first - 2 * self.second + self.end)
        return 6 * _cross(velocity, bend) / abs(velocity) ** 3 if velocity else math.inf

    def length(self) -> float:
        """Arc length, to 1e-10 mm."""
        cuts = [0.0, *self._turns(), 1.0]  # the speed has its kinks where the cubic turns back on itself
        return math.fsum(self._length(t0, t1, self._gauss(t0, t1), 24) for t0, t1 in pairwise(cuts))

    def swept_area(self) -> float:
        """Signed area between the segment and the origin (Green's theorem on the polynomial)."""
        a, b, c, d = self
        return (
            6 * _cross(a, b) + 3 * _cross(a, c) + _cross(a, d) + 3 * _cross(b, c) + 3 * _cross(b, d) + 6 * _cross(c, d)
        ) / 20

    def bounds(self) -> Box:
        """Smallest upright rectangle around it, from the roots of the derivative."""
        return _box([self.start, self.end, *map(self.point, self._turns())])

    def split(self, t0: float, t1: float) -> Cubic:
        """The part between two parameters."""
        start, end, third = self.point(t0), self.point(t1), (t1 - t0) / 3
        return Cubic(start, start + third * self.velocity(t0), end - third * self.velocity(t1), end)

    def chords(self, tolerance: float) -> int:
        """How many straight pieces, equal in parameter, stay within a tolerance of it.

        Notes
        -----
        n chords leave it by at most max|P″|/(8n²), and |P″| ≤ 6 · the largest second difference of the control points.
        """
        bend = max(
            abs(self.start - 2 * self.first + self.second),
            abs(self.first - 2 * self.second + self.end),
        )
        return max(1, math.ceil(math.sqrt(0.75 * bend / tolerance)))

    def _turns(self) -> list[float]:
        """Parameters in between where x or y turns back, in order."""
        a = self.end - self.start + 3 * (self.first - self.second)
        b = 2 * (self.start - 2 * self.first + self.second)
        c = self.first - self.start
        roots = [*_roots(a.real, b.real, c.real), *_roots(a.imag, b.imag, c.imag)]
        return sorted(t for t in roots if 0 < t < 1)

    def _gauss(self, t0: float, t1: float) -> float:
        half, mid = (t1 - t0) / 2, (t0 + t1) / 2
        return half * sum(weight * abs(self.velocity(mid + half * node)) for node, weight in _GAUSS_5)

    def _length(self, t0: float, t1: float, whole: float, depth: int) -> float:
        mid = (t0 + t1) / 2
        left, right = self._gauss(t0, mid), self._gauss(mid, t1)
        if depth == 0 or abs(left + right - whole) < 1e-11 + 1e-14 * whole:  # the second term is rounding
            return left + right
        return self._length(t0, mid, left, depth - 1) + self._length(mid, t1, right, depth - 1)


Segment = Line | Arc | Cubic


def require_tolerance(tolerance: float) -> None:
    """Raise unless a tolerance is greater than 0."""
    if not tolerance > 0:
        raise CupgeomError("tolerance", f"must be greater than 0 mm, got {number(tolerance)} mm")


def _cross(a: complex, b: complex) -> float:
    return a.real * b.imag - a.imag * b.real


def _dot(a: complex, b: complex) -> float:
    return a.real * b.real + a.imag * b.imag


def _sinc(x: float) -> float:
    return math.sin(x) / x if x else 1.0


def _box(points: Iterable[complex]) -> Box:
    xs, ys = zip(*((p.real, p.imag) for p in points), strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def _roots(a: float, b: float, c: float) -> list[float]:
    """Real roots of at² + bt + c, in the form that does not cancel."""
    if a == 0:
        return [-c / b] if b else []
    discriminant = b * b - 4 * a * c
    if discriminant < 0:
        return []
    q = -(b + math.copysign(math.sqrt(discriminant), b)) / 2
    return [q / a, c / q] if q else [0.0]
