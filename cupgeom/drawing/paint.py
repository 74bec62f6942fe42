"""What fills an outline: one colour, or a gradient; and pictures of pixels."""

from __future__ import annotations

import math
import reprlib
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal

from cupgeom.drawing.affine import Affine
from cupgeom.drawing.role import Role, require_role
from cupgeom.drawing.segment import Box
from cupgeom.errors import CupgeomError, number, require_finite

Colour = tuple[float, float, float]
BLACK: Colour = (0.0, 0.0, 0.0)
Spread = Literal["pad", "reflect", "repeat"]
Kind = Literal["linear", "radial"]
FARTHEST_FOCUS = 0.999  # of the radius; where a focus is still nearer to the circle, renderers part ways
_AS_IT_IS = Affine()
_FRAMES = {0xC0, 0xC1, 0xC2}  # markers of baseline, extended and progressive frames: what PDF's DCTDecode reads


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A colour at a place along a gradient, 0 at its start and 1 at its end."""

    offset: float
    colour: Colour
    opacity: float = 1.0

    def __post_init__(self) -> None:
        require_share("stop.offset", self.offset)
        require_colour("stop.colour", self.colour)
        require_share("stop.opacity", self.opacity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gradient:
    """Colours that change along a line or outward from a point; between two stops each of red, green, blue is linear.

    Attributes
    ----------
    kind
        ``linear``: from x = 0 to x = 1 of its own plane; ``radial``: from the focus to the circle of radius 1 about 0.
    stops
        At least one, offsets not falling; two at the same offset make a hard edge.
    place
        Map from the gradient's own plane to the drawing.
    focus
        Where a radial gradient starts, within 0.999 of the centre; farther ones are best pulled in to that.
    spread
        What lies beyond the ends: the end's colour, the gradient there and back, or the gradient again.
    """

    kind: Kind
    stops: tuple[Stop, ...]
    place: Affine = _AS_IT_IS
    focus: complex = 0j
    spread: Spread = "pad"

    def __post_init__(self) -> None:
        if self.kind not in ("linear", "radial"):
            raise CupgeomError("gradient.kind", f"must be linear or radial, got {self.kind!r}")
        if not self.stops:
            raise CupgeomError("gradient.stops", "needs at least one colour")
        if any(after.offset < before.offset for before, after in pairwise(self.stops)):
            raise CupgeomError("gradient.stops", "must be in order of their offsets")
        if not abs(self.focus) <= FARTHEST_FOCUS + 1e-9:  # rounding in one that was pulled in
            what = f"must lie within {FARTHEST_FOCUS} of the centre, got {number(abs(self.focus))}"
            raise CupgeomError("gradient.focus", what)
        if self.spread not in ("pad", "reflect", "repeat"):
            raise CupgeomError("gradient.spread", f"must be pad, reflect or repeat, got {self.spread!r}")
        require_place("gradient.place", self.place)

    @property
    def is_opaque(self) -> bool:
        """Whether nothing shines through."""
        return all(stop.opacity == 1 for stop in self.stops)

    def transformed(self, affine: Affine) -> Gradient:
        """The gradient moved with what it fills."""
        return replace(self, place=affine @ self.place)


Paint = Colour | Gradient


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """Pixels in a parallelogram.

    Attributes
    ----------
    pixels
        Red, green, blue, alpha (sRGB), one byte each, rows from the top, alpha not multiplied in.
    columns, rows
        Size in pixels.
    place
        Map from the unit square, (0, 0) bottom left and (1, 1) top right, to the drawing.
    jpeg
        The same picture as the bytes of a JPEG file, where it came as one, so that a writer can pass it on untouched:
        opaque, sRGB or grey, stored upright.
    """

    pixels: bytes = field(repr=False)
    columns: int
    rows: int
    place: Affine
    role: Role = "print"
    opacity: float = 1.0
    jpeg: bytes = field(default=b"", repr=False)
    name: str = ""

    def __post_init__(self) -> None:
        if self.columns < 1 or self.rows < 1 or len(self.pixels) != 4 * self.columns * self.rows:
            what = f"must be 4 bytes for each of {self.columns} x {self.rows} pixels, got {len(self.pixels)} bytes"
            raise CupgeomError("picture.pixels", what)
        require_place("picture.place", self.place)
        require_role("picture.role", self.role)
        require_share("picture.opacity", self.opacity)
        if self.jpeg and jpeg_frame(self.jpeg)[:2] != (self.columns, self.rows):
            raise CupgeomError("picture.jpeg", "has another size than the pixels")

    def corners(self) -> tuple[complex, complex, complex, complex]:
        """Where the corners lie, in the order bottom left, bottom right, top right, top left."""
        low, right, high, left = (self.place(corner) for corner in (0j, 1 + 0j, 1 + 1j, 1j))
        return low, right, high, left

    def bounds(self) -> Box:
        """Smallest upright rectangle round the picture."""
        xs, ys = zip(*((corner.real, corner.imag) for corner in self.corners()), strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys))

    def transformed(self, affine: Affine) -> Picture:
        """The picture moved; a JPEG goes along."""
        return replace(self, place=affine @ self.place)


def require_share(where: str, value: float) -> None:
    """Raise unless `value` is a number from 0 to 1."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 1:
        raise CupgeomError(where, f"must be a number from 0 to 1, got {reprlib.repr(value)}")


def require_colour(where: str, colour: Colour) -> None:
    """Raise unless `colour` is red, green and blue from 0 to 1."""
    if len(colour) != 3 or not all(0 <= part <= 1 for part in colour):
        raise CupgeomError(where, f"must be red, green and blue from 0 to 1, got {colour}")


def require_paint(where: str, paint: Paint) -> None:
    """Raise unless `paint` is a gradient or a good colour."""
    if not isinstance(paint, Gradient):
        require_colour(where, paint)


def require_place(where: str, place: Affine) -> None:
    """Raise unless a map is finite and keeps areas areas."""
    for name, value in zip(place._fields, place, strict=True):
        require_finite(f"{where}.{name}", value)
    if place.determinant == 0 or not math.isfinite(place.determinant):
        raise CupgeomError(where, "squeezes everything onto a line")


def jpeg_frame(data: bytes) -> tuple[int, int, int]:
    """Columns, rows and colours of a JPEG file, from its frame header (ITU-T T.81, B.2.2).

    Raises
    ------
    CupgeomError
        When the bytes are no JPEG that printers' software reads: 8 bits, grey or three colours, not arithmetic-coded.
    """
    at = 2
    while data[:2] == b"\xff\xd8" and at + 10 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker in _FRAMES:
            depth, rows, columns = data[at + 4], *(int.from_bytes(data[i : i + 2]) for i in (at + 5, at + 7))
            colours = data[at + 9]
            if depth == 8 and colours in (1, 3):
                return columns, rows, colours
            break
        # 0xFF may be repeated as a filler before a marker
        at += 1 if marker == 0xFF else 2 + int.from_bytes(data[at + 2 : at + 4])
    raise CupgeomError("picture.jpeg", "must be a JPEG of 8 bits, grey or in three colours")
