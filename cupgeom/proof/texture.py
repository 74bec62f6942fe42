"""What a wall shows: its flat sheet as pixels, base colour and layers composed.

The pixels lie on the sheet, so that the pixel engine draws true curves and the mesh can take them without distortion.
The sheet is drawn a little beyond its own edges, with what lies across the back seam on both sides.

A clear film filters what lies below it: the print's colour, as it looks on white, times what is below. The product is
taken of the encoded values; for a power law it is the same as of light.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from cupgeom.drawing import Affine, Box, Clipped, Colour, Drawing, Line, Path, Picture, Segment, path_of
from cupgeom.errors import CupgeomError, require_positive
from cupgeom.flatten import sheet_turn_rad, to_sheet, to_wall
from cupgeom.proof.layer import Laid
from cupgeom.raster import MOST_PIXELS, raster
from cupgeom.wall import Wall
from cupgeom.zones import level_line

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]
_BEYOND_RAD = 0.05  # how far the sheet goes on beyond the seam
_BEYOND = 1.0  # mm, how far beyond its top and base edge
_STRIP = 64  # rows of pixels carried over at a time
_SPLIT = 0.04045  # of sRGB's straight part (IEC 61966-2-1)


def _light(encoded: NDArray[np.float64]) -> Floats:
    """Light from sRGB values 0 to 1 (IEC 61966-2-1)."""
    return np.where(encoded <= _SPLIT, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4).astype(np.float32)


def light_of(colour: Colour) -> Colour:
    """Red, green and blue as light."""
    red, green, blue = map(float, _light(np.array(colour)))
    return red, green, blue


LIGHT = _light(np.arange(256) / 255)


def encoded(light: NDArray[np.floating]) -> NDArray[np.uint8]:
    """Bytes of sRGB from light, clipped to 0 to 1."""
    shares = np.clip(light, 0, 1)
    curve = np.where(shares <= 0.0031308, shares * 12.92, 1.055 * shares ** (1 / 2.4) - 0.055)
    return np.asarray(curve * 255 + 0.5, np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Texture:
    """The sheet of one wall as an opaque picture, lying where its pixels are on the sheet."""

    wall: Wall
    picture: Picture

    def pixel_places(self, x: Doubles, y: Doubles) -> tuple[Doubles, Doubles]:
        """Columns and rows, counted from the top left corner of the picture, of points of the sheet."""
        place, rows = self.picture.place, self.picture.rows
        return (x - place.e) * (self.picture.columns / place.a), rows - (y - place.f) * (rows / place.d)

    def light_at(self, turn_rad: Doubles, drop: Doubles) -> Floats:
        """Light that points of the wall send back under white light, shape (n, 3), between the four nearest pixels."""
        columns, rows = self.pixel_places(*to_sheet(self.wall, turn_rad, drop, np))
        width, height = self.picture.columns, self.picture.rows
        x, y = np.clip(columns - 0.5, 0, width - 1.001), np.clip(rows - 0.5, 0, height - 1.001)
        left, top = x.astype(np.intp), y.astype(np.intp)
        across, down = (x - left).astype(np.float32)[:, None], (y - top).astype(np.float32)[:, None]
        pixels = np.frombuffer(self.picture.pixels, np.uint32)
        first = top * width + left

        def read(at: NDArray[np.intp]) -> Floats:
            return LIGHT[pixels.take(at).view(np.uint8).reshape(-1, 4)[:, :3]]

        upper, lower = read(first), read(first + width)
        upper += (read(first + 1) - upper) * across
        lower += (read(first + width + 1) - lower) * across
        upper += (lower - upper) * down
        return upper


def textured(wall: Wall, base: Colour, layers: tuple[Laid, ...], dpi: float) -> Texture:
    """The sheet of a wall in its base colour with layers laid on it in their order.

    Layers that were laid before coats fattened the wall are composed on the sheet that it had then, twice: on black and
    on white. Since each layer makes of a colour b a colour m b + a, the two tell m and a everywhere; those are carried
    over, turn for turn and drop in proportion.

    Raises
    ------
    CupgeomError
        When the resolution is not positive or asks for more than 100 million pixels.
    """
    canvas = _Canvas(wall, dpi)
    sheet = canvas.filled(base)
    for then, group in groupby(layers, key=lambda laid: laid.wall or wall):
        if then == wall:
            canvas.lay(sheet, group)
            continue
        before = _Canvas(then, dpi)
        pair = before.filled((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))
        before.lay(pair, group)
        before.carry(pair, sheet, canvas)
    pixels = np.full((*sheet.shape[:2], 4), 255, np.uint8)
    pixels[:, :, :3] = sheet[:, :, 0] + 0.5
    rows, columns = sheet.shape[:2]
    place = Affine(columns * canvas.pixel, 0.0, 0.0, rows * canvas.pixel, canvas.left, canvas.top - rows * canvas.pixel)
    return Texture(wall=wall, picture=Picture(pixels=pixels.tobytes(), columns=columns, rows=rows, place=place))


class _Canvas:
    """The pixels of a wall's sheet."""

    def __init__(self, wall: Wall, dpi: float) -> None:
        require_positive("dpi", dpi, "dots per inch")
        self.wall, self.dpi, self.pixel = wall, dpi, 25.4 / dpi
        k = abs(wall.cone_constant)
        self.beyond = min(_BEYOND_RAD, (math.pi / k - math.pi) / 2) if k else _BEYOND_RAD
        self.whole = _sector(wall, -math.pi - self.beyond, math.pi + self.beyond)
        box = self.whole.bounds().grown(2 * self.pixel)
        self.left, self.top = box.left, box.top
        self.columns, self.rows = math.ceil(box.width / self.pixel), math.ceil(box.height / self.pixel)
        if self.columns * self.rows > MOST_PIXELS:
            asked = f"{self.columns} x {self.rows}"
            raise CupgeomError("dpi", f"asks for {asked} pixels, more than 100 million; a lower one would do")

    def filled(self, *bases: Colour) -> Floats:
        """Pixels from 0 to 255, shape (rows, columns, bases, 3), each base colour for itself."""
        sheet = np.empty((self.rows, self.columns, len(bases), 3), np.float32)
        sheet[:] = 255 * np.array(bases, np.float32)
        return sheet

    def lay(self, sheet: Floats, layers: Iterable[Laid]) -> None:
        """Compose layers onto all bases."""
        for laid in layers:
            for drawing in _copies(self.wall, laid.drawing.only(["white", "print"]), self.whole, self.beyond):
                self._lay_one(sheet, drawing, clear=laid.clear)

    def _lay_one(self, sheet: Floats, drawing: Drawing, *, clear: bool) -> None:
        """Compose a drawing; only where it can be is anything worked out."""
        box, pixel = drawing.bounds(), self.pixel
        left, right = math.floor((box.left - self.left) / pixel) - 1, math.ceil((box.right - self.left) / pixel) + 1
        top, bottom = math.floor((self.top - box.top) / pixel) - 1, math.ceil((self.top - box.bottom) / pixel) + 1
        left, right, top, bottom = max(left, 0), min(right, self.columns), max(top, 0), min(bottom, self.rows)
        if right <= left or bottom <= top or not box.width * box.height > 0:
            return
        part = sheet[top:bottom, left:right]
        x, y, across, down = self.left + left * pixel, self.top - top * pixel, right - left, bottom - top
        window = Box(x, y - down * pixel, x + across * pixel, y)
        for role in drawing.roles():
            picture = raster(drawing.only([role]), window, self.dpi)
            pixels = np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 1, 4)
            pixels = pixels[:down, :across]
            alpha = pixels[..., 3:] * np.float32(1 / 255)
            if clear and role == "print":
                part *= 1 - alpha * (1 - pixels[..., :3] * np.float32(1 / 255))
            else:
                part += (pixels[..., :3] - part) * alpha

    def carry(self, pair: Floats, sheet: Floats, to: _Canvas) -> None:
        """Do to another wall's sheet what layers did to black and white on this one."""
        flat = pair.reshape(-1, 6)
        share = self.wall.slant / to.wall.slant
        for top in range(0, to.rows, _STRIP):
            strip = sheet[top : top + _STRIP]
            y = to.top - (np.arange(top, top + len(strip), dtype=np.float64) + 0.5) * to.pixel
            x = to.left + (np.arange(to.columns, dtype=np.float64) + 0.5) * to.pixel
            turn, drop = to_wall(to.wall, x[None, :], y[:, None], np)
            here_x, here_y = to_sheet(self.wall, turn, drop * share, np)
            columns = np.clip((here_x - self.left) / self.pixel - 0.5, 0, self.columns - 1.001)
            rows = np.clip((self.top - here_y) / self.pixel - 0.5, 0, self.rows - 1.001)
            first = rows.astype(np.intp) * self.columns + columns.astype(np.intp)
            across, down = ((at - np.floor(at)).astype(np.float32)[..., None] for at in (columns, rows))
            upper = flat[first] * (1 - across) + flat[first + 1] * across
            lower = flat[first + self.columns] * (1 - across) + flat[first + self.columns + 1] * across
            black, white = np.split(upper * (1 - down) + lower * down, 2, axis=-1)
            strip *= ((white - black) * np.float32(1 / 255))[:, :, None]
            strip += black[:, :, None]


def _sector(wall: Wall, first_rad: float, last_rad: float) -> Path:
    """The sheet between two turns, and a little beyond the wall's edges, as a closed path."""
    ends = []
    for drop, farther in ((0.0, -_BEYOND), (wall.slant, wall.slant + _BEYOND)):
        ends.append(level_line(wall, farther if wall.radius_at(farther) > 0 else drop, first_rad, last_rad))
    top, bottom = ends
    back: Segment = type(bottom)(*reversed(bottom))
    return path_of([top, Line(top.end, back.start), back], closed=True)


def _copies(wall: Wall, drawing: Drawing, whole: Path, beyond: float) -> Iterator[Drawing]:
    """The drawing on the sheet, and what of it reaches beyond the seam, moved round to the other side."""
    if not drawing:
        return
    yield Drawing((Clipped(clip=whole, items=drawing.items),))
    k = abs(wall.cone_constant)
    reach = min(math.pi, math.pi / k - math.pi) if k else math.pi  # half-way to where the sheet meets itself
    for side in (1, -1):
        ends = sorted((side * (math.pi - beyond), side * (math.pi + reach)))
        over = Clipped(clip=_sector(wall, *ends), items=drawing.items)
        turn = -side * math.tau
        place = Affine.move(complex(*to_sheet(wall, turn, 0.0)))
        yield Drawing((over,)).transformed(place @ Affine.rotation(math.degrees(sheet_turn_rad(wall, turn))))
