"""Pictures through the bend: each output pixel is looked up once in the source, at its exact place on the wall.

The place is computed exactly on a lattice of every 16th pixel (closer where the sheet bends more) and interpolated
between. It is read with Catmull–Rom weights (E. Catmull & R. Rom, 1974; the cubic convolution of R. G. Keys, IEEE
Trans. ASSP 29 (1981), a = −1/2), alpha multiplied in, so that a transparent pixel's colour never shows. Where the
picture is shrunk, squares of source pixels are averaged first, and the output is read more finely and averaged, so that
every source pixel counts. The work goes from tile to tile; beside the source and the output little memory is needed.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from cupgeom.decor.place import Placement
from cupgeom.drawing import Affine, Box, Picture
from cupgeom.errors import CupgeomError, number, require_positive

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Planes = NDArray[np.float32]  # red, green, blue, alpha one after the other, alpha multiplied in
    Numbers = NDArray[np.float64]
    Points = NDArray[np.complex128]

MOST_PIXELS = 100_000_000  # 400 MB
_TILE = 256  # pixels, a side
_LATTICE = 16  # pixels between exact places
_LATTICE_ERROR = 0.02  # of a pixel, between the exact places
_PLAIN_UNTIL = 1.2  # source pixels to an output pixel, to where one reading is enough
_SLACK = 1e-6  # of a pixel, by which rounding may make a side longer


class _Reading(NamedTuple):
    """How densely a picture is read."""

    source: tuple[int, int]  # source columns and rows averaged into one before
    finer: int  # readings to an output pixel, each way
    smooth: bool  # whether by Catmull–Rom, else linear
    lattice: int  # readings between exact places


def warped(picture: Picture, placement: Placement, dpi: float) -> Picture:
    """A picture of the design as it lies on the sheet.

    Where the map is affine (*flat*, or a cylinder) the picture itself is moved, its pixels as they are. Else it is
    resampled into upright pixels; its edge may run anywhere through one, which is then opaque for the part inside.

    Parameters
    ----------
    picture
        Placed in the design's own plane, its box's centre at the origin.
    placement
        Where and how it lies.
    dpi
        Pixels to the inch of the result.

    Raises
    ------
    CupgeomError
        When the dpi is not positive or asks for more than 100 million pixels, and when the picture reaches beyond the
        point of the wall or the cut of the flat sheet.
    """
    require_positive("dpi", dpi, "dots per inch")
    if plain := plain_map(placement):
        return picture.transformed(plain)
    _require_wall(picture, placement)
    pixel = 25.4 / dpi
    box = _sheet_box(picture, placement)
    columns, rows = (max(1, math.ceil(side / pixel - _SLACK)) for side in (box.width, box.height))
    if columns * rows > MOST_PIXELS:
        raise CupgeomError("dpi", f"asks for {columns} x {rows} pixels, more than 100 million; a lower one would do")
    reading = _reading(picture, placement, pixel)
    tiles = _Tiles(picture, placement, complex(box.left, box.top), pixel / reading.finer, reading)
    side = max(_LATTICE, _TILE // reading.finer // max(reading.source))
    pixels = io.BytesIO()
    for top in range(0, rows, side):
        band = np.zeros((min(side, rows - top), columns, 4), np.uint8)
        for left in range(0, columns, side):
            tiles.fill(band[:, left : left + side], left, top)
        pixels.write(band.data)
    place = Affine(columns * pixel, 0.0, 0.0, rows * pixel, box.left, box.top - rows * pixel)
    return Picture(
        pixels=pixels.getvalue(),
        columns=columns,
        rows=rows,
        place=place,
        role=picture.role,
        opacity=picture.opacity,
        name=picture.name,
    )


def plain_map(placement: Placement) -> Affine | None:
    """The whole map from the design to the sheet where it is affine: for *flat*, and on a cylinder; else None."""
    wall = placement.wall
    centre = Affine.move(placement.flat_origin)
    if placement.bend == "flat":
        east = placement.flat_direction
        return centre @ Affine(east.real, east.imag, -east.imag, east.real)
    if not wall.straight:
        return None
    stretch = wall.top_radius / placement.true_radius
    up = stretch if placement.bend == "even" else 1.0
    return centre @ Affine.scale(stretch, up) @ Affine.rotation(placement.rotate_deg)


class _Tiles:
    """Fills one tile of the output after another."""

    def __init__(
        self, picture: Picture, placement: Placement, corner: complex, pixel: float, reading: _Reading
    ) -> None:
        self._source = np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)
        self._back = _to_pixels(picture)
        self._placement, self._corner, self._pixel, self._reading = placement, corner, pixel, reading

    def fill(self, tile: Bytes, left: int, top: int) -> None:
        """Write the pixels of a tile whose top left pixel is given; what lies outside the picture stays as it is."""
        finer, share = self._reading.finer, self._reading.source
        rows, columns = tile.shape[0] * finer, tile.shape[1] * finer
        x, y, across, down = self._places(left * finer, top * finer, rows, columns)
        source_rows, source_columns, _ = self._source.shape
        covered = _covered(x, source_columns, across) * _covered(y, source_rows, down)
        inside = covered > 0
        if not inside.any():
            return
        x, y = _within(x / share[0], inside), _within(y / share[1], inside)
        read = _smoothly if self._reading.smooth else _linearly
        first_row, first_column = math.floor(y.min()) - 2, math.floor(x.min()) - 2
        last_row, last_column = math.floor(y.max()) + 3, math.floor(x.max()) + 3
        window = _window(self._source, (first_row, last_row), (first_column, last_column), share)
        planes = read(window, x - (first_column + 0.5), y - (first_row + 0.5)) * covered.astype(np.float32)
        if finer > 1:
            planes = planes.reshape(4, tile.shape[0], finer, tile.shape[1], finer).mean(axis=(2, 4))
        _write(planes, tile)

    def _places(self, left: int, top: int, rows: int, columns: int) -> tuple[Numbers, Numbers, float, float]:
        """Where readings lie in the source, in pixels from its top left corner, and how far apart across and down."""
        step = self._reading.lattice
        design = self._nodes(left, top, rows, columns, step)
        if step > 1 and self._is_torn(design):
            step, design = 1, self._nodes(left, top, rows, columns, 1)
        places = [a * design.real + b * design.imag + c for a, b, c in self._back]
        x, y = (_between(place, step)[:rows, :columns] for place in places)
        return x, y, _apart(places[0]) / step, _apart(places[1]) / step

    def _nodes(self, left: int, top: int, rows: int, columns: int, step: int) -> Points:
        """Exact places in the design of every few readings, the last ones beyond the tile."""
        down, along = (np.arange(-(-count // step) + 1) * step for count in (rows, columns))
        x, y = (left + along + 0.5) * self._pixel, (top + down + 0.5) * self._pixel
        return self._placement.from_sheet(self._corner + x - 1j * y[:, None])

    def _is_torn(self, design: Points) -> bool:
        """Whether the cut of the flat sheet, opposite its front, runs between nodes; turns jump there by a round."""
        half_round = math.pi / abs(self._placement.wall.cone_constant) * self._placement.true_radius
        return any(bool((np.abs(np.diff(design, axis=axis)) > half_round).any()) for axis in (0, 1))


def _require_wall(picture: Picture, placement: Placement) -> None:
    """Raise when a corner would lie where the wall has no radius, or beyond the cut of the flat sheet."""
    wall = placement.wall
    for turn, drop in zip(*placement.to_turn_and_drop(np.array(picture.corners())), strict=True):
        if not wall.radius_at(float(drop)) > 0:
            what = f"reaches beyond the point of the wall, at drop {number(float(drop))} mm; place it elsewhere"
            raise CupgeomError("picture", what)
        if abs(turn * wall.cone_constant) > math.pi:
            reach = number(round(math.degrees(turn), 2))
            what = (
                f"reaches to turn {reach} degrees, where the flat sheet overlaps itself; place it nearer to the front"
            )
            raise CupgeomError("picture", what)


def _sheet_box(picture: Picture, placement: Placement) -> Box:
    """The upright box on the sheet that a bent picture fills, from points along its outline.

    A curve bulges between two points by an eighth of its second difference; twice that is added.
    """
    corners = np.array(picture.corners())
    along = np.linspace(0, 1, 65)
    sides = placement.to_sheet(corners[:, None] + (np.roll(corners, -1) - corners)[:, None] * along)
    x, y = sides.real, sides.imag
    bulge_x, bulge_y = (float(np.abs(np.diff(value, 2)).max()) / 4 for value in (x, y))
    return Box(x.min() - bulge_x, y.min() - bulge_y, x.max() + bulge_x, y.max() + bulge_y)


def _to_pixels(picture: Picture) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Factors (of x, of y, of 1) that turn a point of the design into columns and rows from the top left corner."""
    a, b, c, d, e, f = picture.place
    columns, rows = picture.columns / picture.place.determinant, picture.rows / picture.place.determinant
    across = (d * columns, -c * columns, (c * f - d * e) * columns)
    return across, (b * rows, -a * rows, picture.rows - (b * e - a * f) * rows)


def _reading(picture: Picture, placement: Placement, pixel: float) -> _Reading:
    """How densely to read, from what one output pixel is in the source at places all over the picture."""
    grid = np.linspace(0.01, 0.99, 9)  # a little within, so that no step of a pixel crosses the cut of the flat sheet
    unit = grid[None, :] + 1j * grid[:, None]
    a, b, c, d, e, f = picture.place
    design = (a + 1j * b) * unit.real + (c + 1j * d) * unit.imag + complex(e, f)
    sheet = placement.to_sheet(design)
    steps = [placement.from_sheet(sheet + step) - design for step in (pixel, 1j * pixel)]
    ratios = [
        float(np.hypot(*(factors[0] * step.real + factors[1] * step.imag for step in steps)).max())
        for factors in _to_pixels(picture)
    ]
    share = max(1, int(ratios[0] / 2)), max(1, int(ratios[1] / 2))
    finer = math.ceil(max(ratio / one for ratio, one in zip(ratios, share, strict=True)) / _PLAIN_UNTIL)
    behind = [placement.from_sheet(sheet - step) - design for step in (pixel, 1j * pixel)]
    curved = max(float(np.abs(one + other).max()) for one, other in zip(steps, behind, strict=True)) / pixel / finer**2
    lattice = _LATTICE
    while lattice > 1 and lattice * lattice * curved / 4 > _LATTICE_ERROR:  # an eighth each along rows and columns
        lattice //= 2
    return _Reading(share, finer, max(ratios) < 2, lattice)


def _between(nodes: Numbers, step: int) -> Numbers:
    """Values at every reading, linear between nodes that are a number of readings apart."""
    share = np.arange(step) / step
    columns = nodes.shape[1]
    nodes = (nodes[:-1, None] + np.diff(nodes, axis=0)[:, None] * share[:, None]).reshape(-1, columns)
    return np.asarray((nodes[:, :-1, None] + np.diff(nodes)[:, :, None] * share).reshape(len(nodes), -1))


def _apart(nodes: Numbers) -> float:
    """Difference between neighbouring nodes along the slope, where it is as usual in a tile."""
    return math.hypot(*(float(np.median(np.abs(np.diff(nodes, axis=axis)))) for axis in (0, 1)))


def _covered(place: Numbers, size: int, apart: float) -> Numbers:
    """Share of a reading's width that lies within 0 and the size."""
    after, before = (np.clip(distance / apart + 0.5, 0, 1) for distance in (place, size - place))
    return np.asarray(after + before - 1)


def _within(place: Numbers, inside: NDArray[np.bool_]) -> Numbers:
    """Places that do not count moved to the range of those that do."""
    wanted = place[inside]
    return np.asarray(np.clip(place, wanted.min(), wanted.max()))


def _window(source: Bytes, rows: tuple[int, int], columns: tuple[int, int], share: tuple[int, int]) -> Planes:
    """A part of the source, squares of it averaged; outside the picture its edge is repeated."""
    across, down = share
    row = np.clip(np.arange(rows[0] * down, rows[1] * down), 0, source.shape[0] - 1)
    column = np.clip(np.arange(columns[0] * across, columns[1] * across), 0, source.shape[1] - 1)
    part = source[row[0] : row[-1] + 1, column[0] : column[-1] + 1]
    part = part.take(row - row[0], axis=0).take(column - column[0], axis=1)
    planes: Planes = part.transpose(2, 0, 1).astype(np.float32, order="C")
    planes[:3] *= planes[3] * np.float32(1 / 255)
    if share == (1, 1):
        return planes
    planes = np.asarray(sum(planes[:, i::down] for i in range(down)))
    planes = np.asarray(sum(planes[:, :, i::across] for i in range(across)))
    planes /= across * down
    return planes


def _smoothly(window: Planes, x: Numbers, y: Numbers) -> Planes:
    """Catmull–Rom readings at places counted from the middle of the window's first pixel."""
    return _weighted(window, x, y, -1, _catmull_rom)


def _linearly(window: Planes, x: Numbers, y: Numbers) -> Planes:
    """Linear readings."""
    return _weighted(window, x, y, 0, lambda t: [1 - t, t])


def _weighted(window: Planes, x: Numbers, y: Numbers, first: int, weights: Callable[[Planes], list[Planes]]) -> Planes:
    """Sums of neighbours in a row and of those rows, from the neighbour `first` on, each under its weight."""
    left, top = np.floor(x), np.floor(y)
    width = window.shape[2]
    start = ((top + first) * width + (left + first)).astype(np.intp)
    across, down = weights((x - left).astype(np.float32)), weights((y - top).astype(np.float32))
    total = np.zeros((len(window), *x.shape), np.float32)
    line, value = np.empty_like(total[0]), np.empty_like(total[0])
    for index, plane in enumerate(window.reshape(len(window), -1)):
        for row, weight in enumerate(down):
            line[:] = 0
            for column, share in enumerate(across):
                plane[row * width + column :].take(start, out=value, mode="clip")  # all lie within; "raise" is slower
                value *= share
                line += value
            line *= weight
            total[index] += line
    return total


def _catmull_rom(t: Planes) -> list[Planes]:
    """Weights of the four neighbours, from one before to two after."""
    return [
        t * (-0.5 + t * (1 - 0.5 * t)),
        1 + t * t * (1.5 * t - 2.5),
        t * (0.5 + t * (2 - 1.5 * t)),
        t * t * (0.5 * t - 0.5),
    ]


def _write(planes: Planes, tile: Bytes) -> None:
    """Bytes with the alpha divided out again."""
    alpha = np.clip(planes[3], 0, 255)
    with np.errstate(divide="ignore", invalid="ignore"):
        colours = planes[:3] * (255 / planes[3])
    tile[..., 3] = alpha + np.float32(0.5)
    tile[..., :3] = np.where(tile[..., 3] > 0, np.clip(colours, 0, 255) + np.float32(0.5), 0).transpose(1, 2, 0)
