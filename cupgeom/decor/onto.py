"""A whole design onto the sheet: outlines bent, pictures resampled, paint and clips with them, nothing left behind.

A gradient stays one where no colour is off by more than one step of 255, or by more than the outlines may be; it is
then moved by the affine map that is nearest to the bend over its shape. Elsewhere it becomes pixels, bent like a
picture and shown inside the shape's own bent outline.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from cupgeom.decor.bend import bent
from cupgeom.decor.place import Placement
from cupgeom.decor.warp import plain_map, warped
from cupgeom.drawing import Affine, Box, Clipped, Drawing, Gradient, Item, Path, Picture, Shape, Text
from cupgeom.drawing.path import POINTS_PER_KIND
from cupgeom.errors import CupgeomError, require_positive
from cupgeom.raster import raster

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Points = NDArray[np.complex128]
    Numbers = NDArray[np.float64]

_STEP = 1 / 255  # of a colour, from 0 to 1: less is not to be seen
_GRID = np.linspace(-1, 1, 9)  # over a shape's box
_LEAST_SIZE = 1e-3  # mm; of the box of a shape without width or height
_MARGIN = 6.0  # output pixels beyond what shows
_EVERYWHERE = Box(-math.inf, -math.inf, math.inf, math.inf)


def on_sheet(drawing: Drawing, placement: Placement, *, dpi: float = 300, tolerance: float = 0.01) -> Drawing:
    """A design as it lies on the sheet.

    Roles, order, groups, opacities and fill rules are kept. A stroke keeps its width and is not bent across; strokes
    that came with artwork are filled outlines already. Where the map keeps all shapes (*flat*, or a cylinder), the
    design is only moved, pictures and true arcs as they are.

    Parameters
    ----------
    drawing
        In the design's own plane [mm], its box's centre at the origin.
    placement
        Where and how it lies.
    dpi
        Pixels to the inch of pictures, and of gradients that the bend does not leave gradients.
    tolerance
        Largest distance of outlines from the exact image [mm].

    Raises
    ------
    CupgeomError
        When the design reaches beyond the point of the wall, or asks for more than 100 million pixels in one picture,
        and for texts that are not outlines, which cannot be bent.
    """
    require_positive("dpi", dpi, "dots per inch")
    require_positive("tolerance", tolerance)
    plain = plain_map(placement)
    if plain and plain.keeps_circles:
        return drawing.transformed(plain)
    outlines = _all_bent(drawing, placement, tolerance)
    return Drawing(tuple(_Bending(placement, dpi, tolerance, outlines).items(drawing.items)))


class _Bending:
    """Bends the items of one design."""

    def __init__(self, placement: Placement, dpi: float, tolerance: float, outlines: Mapping[Path, Path]) -> None:
        self.placement, self.dpi, self.tolerance, self.outlines = placement, dpi, tolerance, outlines

    def items(self, items: Sequence[Item], room: Box = _EVERYWHERE) -> Iterator[Item]:
        """The items bent; of what becomes pixels only as much as shows in a room, the box of the clips around."""
        for item in items:
            if isinstance(item, Clipped):
                clip = None if item.clip is None else self.outlines[item.clip]
                inner = room if item.clip is None else _overlap(room, _bounds(item.clip))
                yield replace(item, clip=clip, items=tuple(self.items(item.items, inner)))
            elif isinstance(item, Picture):
                margin = _MARGIN * 25.4 / self.dpi
                yield warped(_cropped(item, room.grown(margin)), self.placement, self.dpi)
            elif isinstance(item, Shape):
                yield from self.shape(item, room)
            else:
                _refuse(item)

    def shape(self, shape: Shape, room: Box) -> Iterator[Item]:
        path, fill = self.outlines[shape.path], shape.fill
        if not isinstance(fill, Gradient):
            yield replace(shape, path=path)
            return
        box = _sized(_overlap(_bounds(shape.path), room))
        moved = self.gradient(fill, box)
        if moved:
            yield replace(shape, path=path, fill=moved)
            return
        picture = self.picture(fill, box, shape)
        yield Clipped(clip=path, even_odd=shape.even_odd, items=(picture,))
        if shape.stroke:
            yield replace(shape, path=path, fill=None)

    def gradient(self, gradient: Gradient, box: Box) -> Gradient | None:
        """The gradient on the sheet, where one shows the same colours all over the image of a box."""
        design = (box.centre + _GRID * box.width / 2)[None, :] + 1j * (_GRID * box.height / 2)[:, None]
        sheet = self.placement.to_sheet(design)
        moved = gradient.transformed(_nearest_affine(design - box.centre, sheet) @ Affine.move(-box.centre))
        off = np.abs(_offsets(gradient, design) - _offsets(moved, sheet))
        return moved if off.max() <= _allowed(gradient, self.tolerance) else None

    def picture(self, gradient: Gradient, box: Box, shape: Shape) -> Picture:
        """The gradient as pixels on the sheet, over the image of a box and a little more."""
        room = box.grown(_MARGIN * 25.4 / self.dpi)
        pixels = raster(
            Drawing((Shape(path=room.outline(), role=shape.role, fill=gradient),)), room, self.dpi, role=shape.role
        )
        return replace(warped(pixels, self.placement, self.dpi), opacity=shape.fill_opacity, name=shape.name)


def _all_bent(drawing: Drawing, placement: Placement, tolerance: float) -> dict[Path, Path]:
    """All outlines and clips of a drawing, bent in one go, which is much faster than one by one."""
    paths = list(dict.fromkeys(_paths(drawing.items)))
    joined = Path(b"".join(path.kinds for path in paths), b"".join(path.coords for path in paths))
    image = bent(joined, placement, tolerance)
    kinds = np.frombuffer(image.kinds, np.uint8)
    points = np.zeros(256, np.intp)
    points[[ord(kind) for kind in POINTS_PER_KIND]] = list(POINTS_PER_KIND.values())
    before = 16 * np.concatenate([[0], np.cumsum(points[kinds])])
    begun = np.append(np.flatnonzero(kinds == ord("M")), len(kinds))
    ends = begun[np.cumsum([0] + [path.kinds.count(b"M") for path in paths])]
    parts = (Path(image.kinds[start:end], image.coords[before[start] : before[end]]) for start, end in pairwise(ends))
    return dict(zip(paths, parts, strict=True))


def _paths(items: Sequence[Item]) -> Iterator[Path]:
    for item in items:
        if isinstance(item, Clipped):
            if item.clip is not None:
                yield item.clip
            yield from _paths(item.items)
        elif isinstance(item, Shape):
            yield item.path


def _refuse(text: Text) -> None:
    what = f'"{text.text[:40]}" is set in Vera, which cannot be bent; set it as outlines, with lettering'
    raise CupgeomError("text", what)


def _bounds(path: Path) -> Box:
    """The box of a path; a point where it has no segments."""
    return path.bounds() if path.kinds.strip(b"MZ") else Box(0.0, 0.0, 0.0, 0.0)


def _overlap(one: Box, other: Box) -> Box:
    """What two boxes share; without size where they share nothing."""
    left, bottom = max(one.left, other.left), max(one.bottom, other.bottom)
    return Box(left, bottom, max(left, min(one.right, other.right)), max(bottom, min(one.top, other.top)))


def _cropped(picture: Picture, room: Box) -> Picture:
    """The pixels of a picture that a box touches; at least one."""
    if room.width == math.inf:
        return picture
    a, b, c, d, e, f = picture.place
    x, y = room.outline().points.T - np.array([[e], [f]])
    across = (d * x - c * y) / picture.place.determinant * picture.columns
    down = picture.rows - (a * y - b * x) / picture.place.determinant * picture.rows
    first, last = (np.clip(math.floor(across.min()), 0, picture.columns - 1), math.ceil(across.max()))
    top, end = (np.clip(math.floor(down.min()), 0, picture.rows - 1), math.ceil(down.max()))
    pixels = np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)
    part = pixels[top : max(end, top + 1), first : max(last, first + 1)]
    rows, columns, _ = part.shape
    if part.shape == pixels.shape:
        return picture
    shift = Affine.move(complex(first / picture.columns, 1 - (top + rows) / picture.rows))
    place = picture.place @ shift @ Affine.scale(columns / picture.columns, rows / picture.rows)
    return replace(picture, pixels=part.tobytes(), columns=columns, rows=rows, place=place, jpeg=b"")


def _sized(box: Box) -> Box:
    """The box with a width and a height."""
    return box if min(box.width, box.height) >= _LEAST_SIZE else box.grown(_LEAST_SIZE)


def _nearest_affine(design: Points, sheet: Points) -> Affine:
    """The affine map with the least squares of misses, of a grid that is even about its own centre, the origin."""
    centre = complex(sheet.mean())
    right, up = (complex((part * sheet).sum() / (part * part).sum()) for part in (design.real, design.imag))
    return Affine(right.real, right.imag, up.real, up.imag, centre.real, centre.imag)


def _offsets(gradient: Gradient, points: Points) -> Numbers:
    """Places along a gradient; 0 and 1 at least and at most where its ends go on.

    Notes
    -----
    A point p lies on the circle of radius t about f(1 − t), f the focus: |p − f + ft| = t, so that
    (1 − |f|²)t² − 2t Re((p − f)f*) − |p − f|² = 0.
    """
    a, b, c, d, e, f = gradient.place
    x, y = points.real - e, points.imag - f
    own = ((d * x - c * y) + 1j * (a * y - b * x)) / gradient.place.determinant
    if gradient.kind == "linear":
        offsets = own.real
    else:
        focus, away = gradient.focus, own - gradient.focus
        whole, half = 1 - abs(focus) ** 2, (away * focus.conjugate()).real
        offsets = (half + np.sqrt(half * half + whole * np.abs(away) ** 2)) / whole
    return np.clip(offsets, 0, 1) if gradient.spread == "pad" else offsets


def _allowed(gradient: Gradient, tolerance: float) -> float:
    """How far off an offset may be: by a shift of the tolerance, or more while colours change by less than a step.

    Two stops at one place are a hard edge, which shows wherever it is.
    """
    place = gradient.place
    across = math.hypot(place.c, place.d)
    if gradient.kind == "linear":
        length = abs(place.determinant) / across
    else:  # at least the longest half axis, and as much longer as the rings lie apart on the side away from the focus
        length = math.hypot(place.a, place.b, across) * (1 + abs(gradient.focus))
    ends = gradient.stops[-1], gradient.stops[0]
    steepest = 0.0
    for one, other in [*pairwise(gradient.stops), *([ends] if gradient.spread == "repeat" else [])]:
        change = max(map(abs, np.subtract((*one.colour, one.opacity), (*other.colour, other.opacity))))
        if change:
            run = other.offset - one.offset
            steepest = max(steepest, change / run if run > 0 else math.inf)
    return max(tolerance / length, _STEP / steepest if steepest else math.inf)
