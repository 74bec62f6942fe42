"""Outlines of lines, true arcs and cubics: immutable, exact to measure, cheap to keep.

A `Path` keeps two read-only byte buffers: one letter a segment, and the points of all segments as float64 pairs. An arc
is kept by the point at its middle and its end, so that every number is a point and moves with the rest. Points are
complex numbers, x + iy, y up.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cupgeom.drawing.affine import Affine
from cupgeom.drawing.segment import Arc, Box, Cubic, Line, Segment, require_tolerance
from cupgeom.errors import CupgeomError, require_positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["POINTS_PER_KIND", "Arc", "Box", "Cubic", "Line", "Path", "Pen", "Segment", "circle", "path_of", "polyline"]

POINTS_PER_KIND = {"M": 1, "L": 1, "A": 2, "C": 3, "Z": 0}
_OUTLINES = re.compile(rb"(?:M[LAC]*Z?)*")
_LONG = 16_384  # bytes of coords from which numpy is worth loading
_ASKEW = 1e-6  # share of the chord by which an arc's middle may lie nearer to one end
_ASKEW_LEAST = 1e-9  # mm; rounding in arcs of almost no length


@dataclass(frozen=True, slots=True)
class Path:
    """One or more outlines of lines, true arcs and cubics.

    Attributes
    ----------
    kinds
        One letter a segment: M move, L line, A arc, C cubic, Z close. Every outline starts with M; Z ends it.
    coords
        The points as native float64 pairs (x, y): one for M and L, middle and end for A, three for C, none for Z.
    """

    kinds: bytes = b""
    coords: bytes = b""

    def __post_init__(self) -> None:
        if not isinstance(self.kinds, bytes) or not isinstance(self.coords, bytes):
            raise CupgeomError("path", "kinds and coords must be bytes")
        if not _OUTLINES.fullmatch(self.kinds):
            raise CupgeomError("path", "every outline must start with M, go on with L, A or C, and end or close with Z")
        expected = sum(16 * count * self.kinds.count(kind.encode()) for kind, count in POINTS_PER_KIND.items())
        if len(self.coords) != expected:
            raise CupgeomError("path", f"kinds call for {expected} bytes of coords, got {len(self.coords)}")
        if not self._is_finite():
            raise CupgeomError("path", "every coordinate must be a finite number of mm")
        if b"A" in self.kinds:
            for arc in self._doubtful_arcs():
                _require_true(arc)

    @property
    def points(self) -> NDArray[np.float64]:
        """All points, shape (n, 2), a read-only view without a copy."""
        import numpy as np

        return np.frombuffer(self.coords, dtype=np.float64).reshape(-1, 2)

    def __bool__(self) -> bool:
        return bool(self.kinds)

    def __add__(self, other: Path) -> Path:
        return Path(self.kinds + other.kinds, self.coords + other.coords)

    def outlines(self) -> Iterator[tuple[list[Segment], bool]]:
        """Each outline as its segments and whether it is closed; a closing line is among the segments."""
        coords = memoryview(self.coords).cast("d")
        segments: list[Segment] = []
        start = here = 0j
        at, begun, closed = 0, False, False
        for kind in map(chr, self.kinds):
            count = POINTS_PER_KIND[kind]
            given = [complex(coords[at + 2 * i], coords[at + 2 * i + 1]) for i in range(count)]
            at += 2 * count
            if kind == "M":
                if begun:
                    yield segments, closed
                segments, begun, closed, start = [], True, False, given[0]
                here = start
                continue
            if kind == "Z":
                if here != start:
                    segments.append(Line(here, start))
                closed, here = True, start
                continue
            segments.append(
                Line(here, given[0]) if kind == "L" else Arc(here, *given) if kind == "A" else Cubic(here, *given)
            )
            here = given[-1]
        if begun:
            yield segments, closed

    def segments(self) -> Iterator[Segment]:
        """All segments, outline after outline."""
        for segments, _ in self.outlines():
            yield from segments

    def bounds(self) -> Box:
        """Smallest upright rectangle around the path, exact.

        Raises
        ------
        CupgeomError
            When the path has no segments.
        """
        boxes = [segment.bounds() for segment in self.segments()]
        if not boxes:
            raise CupgeomError("path", "has no segments, so it has no bounds")
        lefts, bottoms, rights, tops = zip(*boxes, strict=True)
        return Box(min(lefts), min(bottoms), max(rights), max(tops))

    def length(self) -> float:
        """Length of all segments."""
        return math.fsum(segment.length() for segment in self.segments())

    def area(self) -> float:
        """Signed area of the closed outlines, anticlockwise positive [mm²]."""
        return math.fsum(segment.swept_area() for segments, closed in self.outlines() if closed for segment in segments)

    def transformed(self, affine: Affine) -> Path:
        """The path moved by an affine map; arcs stay arcs, so the map must keep circles round.

        Raises
        ------
        CupgeomError
            When the path has arcs and the map would squash them.
        """
        if b"A" in self.kinds and not affine.keeps_circles:
            raise CupgeomError("affine", "stretches x and y differently, which true arcs cannot follow")
        if len(self.coords) >= _LONG:
            return Path(self.kinds, _moved(self.points, affine))
        coords = memoryview(self.coords).cast("d")
        moved = array("d")
        for at in range(0, len(coords), 2):
            _append(moved, affine(complex(coords[at], coords[at + 1])))
        return Path(self.kinds, moved.tobytes())

    def reversed(self) -> Path:
        """The same outlines run the other way; a closed one starts where it did."""
        pen = Pen()
        for segments, closed in self.outlines():
            if not segments:
                continue
            pen.move(segments[-1].end)
            backwards: list[Segment] = [type(segment)(*reversed(segment)) for segment in reversed(segments)]
            if closed and isinstance(backwards[-1], Line) and backwards[-1].length() > 0:
                del backwards[-1]  # closing draws it
            for segment in backwards:
                pen.segment(segment)
            if closed:
                pen.close()
        return pen.path()

    def flattened(self, tolerance: float) -> list[list[complex]]:
        """Each outline as the corners of a polygon whose sides lie within `tolerance` of it."""
        require_tolerance(tolerance)
        return [_corners(segments, tolerance) for segments, _ in self.outlines()]

    def with_cubics(self, tolerance: float) -> Path:
        """The path with cubics within `tolerance` of its arcs, for what knows no arcs and for maps that squash."""
        require_tolerance(tolerance)
        if b"A" not in self.kinds:
            return self
        pen = Pen()
        for segments, closed in self.outlines():
            if not segments:
                continue
            pen.move(segments[0].start)
            drawn = segments[:-1] if closed and isinstance(segments[-1], Line) else segments  # closing draws the last
            for segment in drawn:
                for piece in segment.cubics(tolerance) if isinstance(segment, Arc) else [segment]:
                    pen.segment(piece)
            if closed:
                pen.close()
        return pen.path()

    def _is_finite(self) -> bool:
        if len(self.coords) < _LONG:
            return all(map(math.isfinite, memoryview(self.coords).cast("d")))
        import numpy as np

        return bool(np.isfinite(self.points).all())

    def _doubtful_arcs(self) -> Iterator[Arc]:
        """The arcs whose middle may not be their middle: all of a short path, few of a long one."""
        if len(self.coords) < _LONG:
            yield from (segment for segment in self.segments() if isinstance(segment, Arc))
            return
        import numpy as np

        kinds, points = np.frombuffer(self.kinds, np.uint8), np.frombuffer(self.coords, np.complex128)
        counts = np.zeros(256, np.intp)
        counts[[ord(kind) for kind in POINTS_PER_KIND]] = list(POINTS_PER_KIND.values())
        end = np.cumsum(counts[kinds])[kinds == ord("A")] - 1
        start, middle, end = points[end - 2], points[end - 1], points[end]
        with np.errstate(over="ignore", invalid="ignore"):
            chord = np.abs(end - start)
            askew = np.abs(np.abs(middle - start) - np.abs(end - middle))
            true = (askew <= (_ASKEW * chord + _ASKEW_LEAST) / 2) & (chord > 0)
        for index in np.flatnonzero(~true):
            yield Arc(complex(start[index]), complex(middle[index]), complex(end[index]))

    def to_shapely(self, tolerance: float) -> Any:
        """The closed outlines as a shapely polygon or multipolygon (even-odd), for booleans; may be empty."""
        from shapely import MultiPolygon, Polygon, make_valid

        require_tolerance(tolerance)
        covered = MultiPolygon()
        for segments, closed in self.outlines():
            ring = _corners(segments, tolerance) if closed else []
            if len(ring) > 3:
                shape = make_valid(Polygon([(p.real, p.imag) for p in ring]))
                covered = _areas(covered.symmetric_difference(_areas(shape)))
        return covered


class Pen:
    """Builds a `Path` segment by segment; every step gives the pen back."""

    def __init__(self, start: complex | None = None) -> None:
        self._kinds = bytearray()
        self._coords = array("d")
        if start is not None:
            self.move(start)

    def move(self, to: complex) -> Pen:
        """Start a new outline."""
        return self._add(b"M", to)

    def line(self, to: complex) -> Pen:
        """A straight segment."""
        return self._add(b"L", to)

    def arc(self, middle: complex, end: complex) -> Pen:
        """A circular arc by the point half-way along it and its end."""
        return self._add(b"A", middle, end)

    def cubic(self, first: complex, second: complex, end: complex) -> Pen:
        """A cubic by its two handles and its end."""
        return self._add(b"C", first, second, end)

    def close(self) -> Pen:
        """Close the outline."""
        return self._add(b"Z")

    def segment(self, segment: Segment) -> Pen:
        """Any segment that starts where the pen is."""
        return self._add(_KIND_OF[type(segment)], *segment[1:])

    def path(self) -> Path:
        """The finished path."""
        return Path(bytes(self._kinds), self._coords.tobytes())

    def _add(self, kind: bytes, *points: complex) -> Pen:
        self._kinds += kind
        for point in points:
            _append(self._coords, point)
        return self


_KIND_OF: dict[type, bytes] = {Line: b"L", Arc: b"A", Cubic: b"C"}


def path_of(segments: Iterable[Segment], *, closed: bool = False) -> Path:
    """A path of segments that follow each other; nothing from none."""
    pen = Pen()
    begun = False
    for segment in segments:
        if not begun:
            pen.move(segment.start)
        begun = True
        pen.segment(segment)
    return (pen.close() if closed and begun else pen).path()


def polyline(points: Iterable[complex], *, closed: bool = False) -> Path:
    """A path of straight segments through points; nothing from none."""
    pen = Pen()
    begun = False
    for point in points:
        if begun:
            pen.line(point)
        else:
            pen.move(point)
        begun = True
    return (pen.close() if closed and begun else pen).path()


def circle(centre: complex, radius: float) -> Path:
    """A full circle, as two arcs."""
    require_positive("radius", radius)
    east, west = centre + radius, centre - radius
    return Pen(east).arc(centre + 1j * radius, west).arc(centre - 1j * radius, east).close().path()


def _append(coords: array[float], point: complex) -> None:
    coords.append(point.real + 0.0)  # adding 0 makes −0 plain, so that equal paths have equal bytes
    coords.append(point.imag + 0.0)


def _moved(points: NDArray[np.float64], affine: Affine) -> bytes:
    import numpy as np

    x, y = points.T
    moved = np.empty_like(points)
    with np.errstate(over="ignore", invalid="ignore"):  # the path refuses what is not finite
        moved[:, 0] = affine.a * x + affine.c * y + affine.e
        moved[:, 1] = affine.b * x + affine.d * y + affine.f
    moved += 0.0  # makes −0 plain
    return moved.tobytes()


def _require_true(arc: Arc) -> None:
    """Raise unless the middle of an arc is its middle, and its ends are two points where it has any length."""
    before, after = abs(arc.middle - arc.start), abs(arc.end - arc.middle)
    chord = abs(arc.end - arc.start)
    if abs(before - after) > _ASKEW * chord + _ASKEW_LEAST:
        raise CupgeomError("path", "the middle of an arc must lie equally far from its start and its end")
    if chord == 0 and before > _ASKEW_LEAST:
        raise CupgeomError("path", "an arc must end elsewhere than it starts; draw a full circle as two arcs")


def _areas(shape: Any) -> Any:
    """The polygons among the parts of a shapely geometry, without points and lines."""
    from shapely import MultiPolygon

    parts = [part for group in getattr(shape, "geoms", [shape]) for part in getattr(group, "geoms", [group])]
    polygons = [part for part in parts if part.geom_type == "Polygon"]
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)


def _corners(segments: list[Segment], tolerance: float) -> list[complex]:
    corners = [segments[0].start] if segments else []
    for segment in segments:
        count = segment.chords(tolerance)
        corners.extend(segment.point(i / count) for i in range(1, count))
        corners.append(segment.end)
    return corners
