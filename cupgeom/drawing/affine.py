"""Affine maps of the plane."""

from __future__ import annotations

import math
from typing import NamedTuple

_QUARTERS = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}


class Affine(NamedTuple):
    """The map (x, y) → (ax + cy + e, bx + dy + f), in the order of SVG's ``matrix(a b c d e f)``.

    ::

        | a c e |
        | b d f |        `outer @ inner` does `inner` first
        | 0 0 1 |
    """

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def move(cls, by: complex) -> Affine:
        """A shift."""
        return cls(e=by.real, f=by.imag)

    @classmethod
    def scale(cls, sx: float, sy: float) -> Affine:
        """A stretch along x and y."""
        return cls(a=sx, d=sy)

    @classmethod
    def rotation(cls, angle_deg: float) -> Affine:
        """A turn about the origin, anticlockwise, exact at right angles."""
        angle = math.radians(angle_deg)
        cos, sin = _QUARTERS.get(angle_deg % 360, (math.cos(angle), math.sin(angle)))
        return cls(cos, sin, -sin, cos)

    def __call__(self, point: complex) -> complex:
        """Where the map takes a point."""
        x, y = point.real, point.imag
        return complex(self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f)

    def __matmul__(self, inner: Affine) -> Affine:
        return Affine(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    @property
    def determinant(self) -> float:
        """Signed change of area; negative for a mirror."""
        return self.a * self.d - self.b * self.c

    @property
    def keeps_circles(self) -> bool:
        """Whether circles stay circles: a turn, a shift, an even scale, a mirror, or several of these."""
        size = self.a * self.a + self.b * self.b + self.c * self.c + self.d * self.d
        skew = abs(self.a * self.c + self.b * self.d)
        stretch = abs(self.a * self.a + self.b * self.b - self.c * self.c - self.d * self.d)
        return size > 0 and max(skew, stretch) <= 1e-12 * size

    @property
    def even_scale(self) -> float:
        """Square root of the change of area: the scale of a length that has no direction, such as a line width."""
        return math.sqrt(abs(self.determinant))

    @property
    def angle_deg(self) -> float:
        """Direction of the x axis after the map, anticlockwise."""
        return math.degrees(math.atan2(self.b, self.a))
