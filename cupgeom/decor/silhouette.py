"""The silhouette of a drawing, and what a blade makes of it: contour, underlay, places too fine to cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cupgeom.drawing import Affine, Clipped, Drawing, Item, Path, Picture, Shape, Text, polyline
from cupgeom.errors import require_at_least

if TYPE_CHECKING:
    from collections.abc import Iterator

TOLERANCE = 0.01  # mm, of outlines made polygons
LEAST_PART = 1.0  # mm²; holes and islands of a contour below it only make a blade stumble (assumed)
_FINEST = 0.02  # mm, of what a rounded corner may seem to be narrower
_MOST_TRACED = 400  # columns or rows of a picture's outline
_ZOOM = 16.0  # engine units to the mm: its 32-bit floats then keep 0.001 mm on anything that fits on a cup
_LONG = 4.0  # widths; a part that is lost is a corner or a tip up to this length, a fine stroke beyond
_CORNER = 64  # chords of a quarter turn


def silhouette(drawing: Drawing) -> Any:
    """All that a drawing covers, as a shapely polygon or multipolygon in mm.

    What is more than half transparent in a picture is not covered; groups are cut to their clips.
    """
    from shapely import union_all

    return union_all([_covered(item) for item in drawing.items])


def contour(shape: Any, margin: float) -> Path:
    """A cut line so far outside a silhouette, rounded, without holes and slivers.

    Parameters
    ----------
    shape
        From `silhouette`.
    margin
        Distance [mm]; 0 keeps the silhouette and its holes.
    """
    require_at_least("margin", margin, 0)
    if margin == 0:
        return path_of_shape(shape)
    from shapely import Polygon, union_all

    grown = shape.buffer(2 * margin, quad_segs=_CORNER).buffer(-margin, quad_segs=_CORNER)
    filled = union_all([Polygon(part.exterior) for part in _polygons(grown) if part.area >= LEAST_PART])
    return path_of_shape(filled.simplify(TOLERANCE / 4))


def choked(shape: Any, distance: float) -> Path:
    """The silhouette moved inward, for a white underlay that must not peep out."""
    return path_of_shape(shape.buffer(-distance, quad_segs=_CORNER).simplify(TOLERANCE / 4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fine:
    """A place where a stroke or a gap is finer than a medium bears: its middle, and how large the place is [mm]."""

    at: complex
    reach: float


def fine_strokes(shape: Any, least: float) -> list[Fine]:
    """Places where the silhouette is narrower than `least` mm: what opening it by a disc of that width takes away."""
    return _lost(shape, shape.buffer(-least / 2).buffer(least / 2 + _FINEST), least)


def fine_gaps(shape: Any, least: float) -> list[Fine]:
    """Places where a gap is narrower than `least` mm: what closing the silhouette by such a disc fills in."""
    closed = shape.buffer(least / 2).buffer(-least / 2 - _FINEST)
    return _lost(closed, shape, least)


def path_of_shape(shape: Any) -> Path:
    """A shapely polygon or multipolygon as closed outlines, outer ones anticlockwise, holes clockwise."""
    from shapely import force_2d, get_coordinates
    from shapely.geometry.polygon import orient

    kinds, coords = bytearray(), bytearray()
    for polygon in _polygons(shape):
        turned = orient(polygon)
        for ring in (turned.exterior, *turned.interiors):
            points = get_coordinates(force_2d(ring))[:-1]
            kinds += b"M" + b"L" * (len(points) - 1) + b"Z"
            coords += points.tobytes()
    return Path(bytes(kinds), bytes(coords))


def _lost(whole: Any, left: Any, least: float) -> list[Fine]:
    """What is in one shape and not in the other: parts that are long, or stand alone; a mere corner is rounded off."""
    found = []
    for part in _polygons(whole.difference(left)):
        west, south, east, north = part.bounds
        reach = max(east - west, north - south)
        alone = part.area > least**2 / 20 and part.distance(left) > 0
        if reach >= _LONG * least or alone:
            at = part.representative_point()
            found.append(Fine(at=complex(at.x, at.y), reach=reach))
    return sorted(found, key=lambda fine: (-fine.reach, fine.at.real, fine.at.imag))


def _polygons(shape: Any) -> Iterator[Any]:
    for part in getattr(shape, "geoms", [shape]):
        if part.geom_type == "Polygon" and not part.is_empty:
            yield part


def _covered(item: Item) -> Any:
    """What one item covers."""
    if isinstance(item, Clipped):
        inner = silhouette(Drawing(item.items))
        return inner if item.clip is None else inner.intersection(_filled(item.clip, even_odd=item.even_odd))
    if isinstance(item, Picture):
        return _of_picture(item)
    if isinstance(item, Text):
        return item.outline().to_shapely(TOLERANCE)
    return _of_shape(item)


def _of_shape(shape: Shape) -> Any:
    from shapely import LineString, MultiPolygon, union_all

    parts = []
    if shape.fill is not None and shape.fill_opacity > 0:
        parts.append(_filled(shape.path, even_odd=shape.even_odd))
    if shape.stroke is not None and shape.stroke.opacity > 0:
        lines = [LineString([(p.real, p.imag) for p in ring]) for ring in shape.path.flattened(TOLERANCE)]
        parts += [line.buffer(shape.stroke.width / 2) for line in lines]
    return union_all(parts) if parts else MultiPolygon()


def _filled(path: Path, *, even_odd: bool) -> Any:
    """The inside of a path; where outlines may add up, the outline engine finds what they cover (nonzero rule)."""
    if even_odd or path.kinds.count(b"M") == 1:
        return path.to_shapely(TOLERANCE)
    import pathops

    rings = [ring for ring in path.flattened(TOLERANCE) if len(ring) > 2]
    if not rings:
        return path.to_shapely(TOLERANCE)
    middle = path.bounds().centre
    engine = pathops.Path()
    for ring in rings:
        engine.moveTo(*_zoomed(ring[0] - middle))
        for point in ring[1:]:
            engine.lineTo(*_zoomed(point - middle))
        engine.close()
    try:
        engine.simplify(fix_winding=False, keep_starting_points=False)
    except pathops.PathOpsError:
        return path.to_shapely(TOLERANCE)
    covered = Path()
    for ring in engine.contours:
        corners = [complex(*points[-1]) / _ZOOM + middle for _, points in ring.segments if points]
        covered += polyline(corners, closed=True)
    return covered.to_shapely(TOLERANCE)


def _zoomed(point: complex) -> tuple[float, float]:
    return point.real * _ZOOM, point.imag * _ZOOM


def _of_picture(picture: Picture) -> Any:
    """The pixels of a picture that are at least half opaque, as runs of a coarse grid made one."""
    import numpy as np
    from shapely import Polygon, box, union_all

    alpha = np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)[..., 3]
    corners = [(p.real, p.imag) for p in picture.corners()]
    if (alpha >= 128).all():
        return Polygon(corners)
    step = -(-max(picture.rows, picture.columns) // _MOST_TRACED)
    rows, columns = -(-picture.rows // step), -(-picture.columns // step)
    padded = np.zeros((rows * step, columns * step), np.uint8)
    padded[: picture.rows, : picture.columns] = alpha
    solid = padded.reshape(rows, step, columns, step).max(axis=(1, 3)) >= 128
    edges = np.diff(np.pad(solid.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    runs = []
    for row in np.flatnonzero(solid.any(axis=1)).tolist():
        starts, ends = np.flatnonzero(edges[row] == 1).tolist(), np.flatnonzero(edges[row] == -1).tolist()
        top, bottom = 1 - row * step / picture.rows, 1 - min((row + 1) * step, picture.rows) / picture.rows
        for start, end in zip(starts, ends, strict=True):
            right = min(end * step, picture.columns) / picture.columns
            runs.append(box(start * step / picture.columns, bottom, right, top))
    place: Affine = picture.place
    from shapely.affinity import affine_transform

    united = union_all(runs) if runs else Polygon()
    return affine_transform(united, [place.a, place.c, place.b, place.d, place.e, place.f])
