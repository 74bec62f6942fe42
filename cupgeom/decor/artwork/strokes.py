"""Outlines of strokes, and unions and intersections of areas: the one place that talks to skia-pathops.

That engine reckons in 32-bit floats with a tolerance of a quarter of its unit, so each path is moved to the origin and
blown up to `_EXTENT` units first.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

from cupgeom.decor.artwork.joining import joined
from cupgeom.decor.artwork.numbers import inverse
from cupgeom.decor.artwork.points import around, handle_box, moved
from cupgeom.drawing import Affine, Box, Cubic, Path, Pen, Segment
from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    import pathops

_EXTENT = 8192.0
_CLOSE = 0.3  # of those units, by which its many short pieces may be off when joined: 4e-5 of the size of a path
_SMALLEST = 1e-12  # of what is blown up
_LINE, _QUAD, _CONIC, _CUBIC, _END = 1, 2, 3, 4, 5  # numbers of verbs
_MOST_APART = 200
MOST_PIECES = 3000  # of areas that are united or cut
MOST_MEETINGS = 40_000  # of their pieces' boxes, each counted from both sides
MOST_DASHES = 10_000  # in one path


class Line(NamedTuple):
    """How a stroke runs: width, caps, joins, dashes; all lengths in the units of the path."""

    width: float
    cap: str = "butt"
    join: str = "miter"
    miter_limit: float = 4.0
    dashes: tuple[float, ...] = ()
    dash_offset: float = 0.0

    def scaled(self, by: float) -> Line:
        """The same stroke of a path so much larger."""
        dashes = tuple(dash * by for dash in self.dashes)
        return self._replace(width=self.width * by, dashes=dashes, dash_offset=self.dash_offset * by)


def stroked(path: Path, line: Line) -> Path:
    """The outline of a stroked path, to be filled by the nonzero rule; may be empty."""
    import pathops

    caps = {"round": pathops.LineCap.ROUND_CAP, "square": pathops.LineCap.SQUARE_CAP}
    joins = {"round": pathops.LineJoin.ROUND_JOIN, "bevel": pathops.LineJoin.BEVEL_JOIN}
    zoom = _zoom([path], line.width)
    stroke, line = _to_pathops(path, zoom), line.scaled(zoom.a)
    cap, join = caps.get(line.cap, pathops.LineCap.BUTT_CAP), joins.get(line.join, pathops.LineJoin.MITER_JOIN)
    stroke.stroke(line.width, cap, join, line.miter_limit, list(line.dashes) or None, line.dash_offset)
    return _from_pathops(stroke, zoom)


def dash_count(path: Path, dashes: tuple[float, ...]) -> float:
    """At most how many dashes a path takes, by the length of its control polygon."""
    import numpy as np

    points = path.points
    length = float(np.hypot(*np.diff(points, axis=0).T).sum()) if len(points) > 1 else 0.0
    return 2 * length / sum(dashes) * len(dashes)


def united(areas: Sequence[tuple[Path, bool]]) -> tuple[Path, bool]:
    """The union of areas, each a path and whether it fills by the even-odd rule.

    Raises
    ------
    CupgeomError
        When they overlap and are too tangled for that.
    """
    import pathops

    if len(areas) < 2:
        return areas[0] if areas else (Path(), False)
    rules = {even_odd for _, even_odd in areas}
    if len(rules) == 1 and _are_apart([handle_box(path) for path, _ in areas]):
        kinds, coords = (
            b"".join(parts) for parts in zip(*((path.kinds, path.coords) for path, _ in areas), strict=True)
        )
        return Path(kinds, coords), rules.pop()
    _require_untangled(*(path for path, _ in areas))
    zoom = _zoom([path for path, _ in areas])
    builder = pathops.OpBuilder(fix_winding=True, keep_starting_points=False)
    for path, even_odd in areas:
        builder.add(_filled(path, even_odd, zoom), pathops.PathOp.UNION)
    return _from_pathops(builder.resolve(), zoom), False


def intersection(one: tuple[Path, bool], other: tuple[Path, bool]) -> Path:
    """The area that two areas share; fills by the nonzero rule.

    Raises
    ------
    CupgeomError
        When they are too tangled for that.
    """
    import pathops

    _require_untangled(one[0], other[0])
    zoom = _zoom([one[0], other[0]])
    both = pathops.op(_filled(*one, zoom), _filled(*other, zoom), pathops.PathOp.INTERSECTION, fix_winding=True)
    return _from_pathops(both, zoom)


def _zoom(paths: Sequence[Path], margin: float = 0.0) -> Affine:
    """The map that brings paths to the size at which the engine is exact enough."""
    box = around(map(handle_box, paths))
    scale = _EXTENT / max(box.width, box.height, margin, _SMALLEST)
    return Affine.scale(scale, scale) @ Affine.move(-box.centre)


def _require_untangled(*paths: Path) -> None:
    """Raise unless few pieces of the paths may meet, for what they make of each other takes time by their meetings."""
    import numpy as np

    boxes = np.array([_piece_box(segment) for path in paths for segment in path.segments()])
    if len(boxes) <= MOST_PIECES:
        left, low, right, high = boxes.T
        meets = (left[:, None] <= right) & (left <= right[:, None]) & (low[:, None] <= high) & (low <= high[:, None])
        if np.count_nonzero(meets) <= MOST_MEETINGS:
            return
    raise CupgeomError("", "is clipped by areas that are too tangled to be united or cut")


def _piece_box(segment: Segment) -> tuple[float, float, float, float]:
    xs, ys = zip(*((point.real, point.imag) for point in segment), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _are_apart(boxes: list[Box]) -> bool:
    """Whether no two of a few rectangles meet."""
    if len(boxes) > _MOST_APART:
        return False
    return not any(
        one.left <= two.right and two.left <= one.right and one.bottom <= two.top and two.bottom <= one.top
        for one, two in combinations(boxes, 2)
    )


def _filled(path: Path, even_odd: bool, zoom: Affine) -> pathops.Path:
    import pathops

    area = _to_pathops(path, zoom)
    area.fillType = pathops.FillType.EVEN_ODD if even_odd else pathops.FillType.WINDING
    return area


def _to_pathops(path: Path, zoom: Affine) -> pathops.Path:
    import pathops

    out = pathops.Path()
    coords = iter(moved(path, zoom).points.tolist())
    for kind in map(chr, path.kinds):
        match kind:
            case "M":
                out.moveTo(*next(coords))
            case "L":
                out.lineTo(*next(coords))
            case "C":
                out.cubicTo(*next(coords), *next(coords), *next(coords))
            case _:
                out.close()
    return out


def _from_pathops(path: pathops.Path, zoom: Affine) -> Path:
    """The path at its own size: quadratics as cubics, joined; the conics of round ends to 1e-4 of the width."""
    pen, here, run = Pen(), 0j, list[Cubic]()
    ended = True
    for verb, points in path:
        if verb == _QUAD:
            handle, end = (complex(*point) for point in points)
            run.append(Cubic(here, here + (handle - here) * 2 / 3, end + (handle - end) * 2 / 3, end))
            here = end
            continue
        for cubic in joined(run, _CLOSE):
            pen.segment(cubic)
        run.clear()
        if verb == _END:
            if not ended:
                pen.close()
            ended = True
            continue
        ended = False
        if verb == _CONIC:
            handle, end, share = complex(*points[0]), complex(*points[1]), _share(points[2])
            pen.cubic(here + (handle - here) * share, end + (handle - end) * share, end)
        elif verb == _CUBIC:
            end = complex(*points[2])
            pen.cubic(complex(*points[0]), complex(*points[1]), end)
        else:
            end = complex(*points[0])
            (pen.line if verb == _LINE else pen.move)(end)
        here = end
    for cubic in joined(run, _CLOSE):
        pen.segment(cubic)
    return moved(pen.path(), inverse(zoom))


def _share(weight: float) -> float:
    """How far along its two sides the handles of the cubic lie that stands in for a conic (standard result)."""
    return 4 * weight / (3 * (1 + weight))
