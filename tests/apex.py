"""The schoolbook way to flatten a wall, about the apex of its cone: a second opinion on the library's one formula.

It knows a cup by rim diameter, base diameter and height only. Points are complex, x to the right and y up from the
front point of the top edge. Where the taper is so slight that floats would lose the far apex, it counts in mpmath.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from mpmath import mp
from numpy.typing import NDArray

from cupgeom import Cup

Floats = NDArray[np.float64]
_SLIGHT = 1e-4  # loss of radius per mm of drop above which floats keep 1e-9 mm


@dataclass(frozen=True)
class Apex:
    """A wall of one taper, or straight where rim and base are equal."""

    rim: float
    base: float
    height: float

    @classmethod
    def of(cls, cup: Cup) -> Apex:
        return cls(cup.rings[0].diameter, cup.rings[-1].diameter, cup.rings[0].height - cup.rings[-1].height)

    @property
    def slant(self) -> float:
        return math.sqrt(self.height**2 + ((self.rim - self.base) / 2) ** 2)

    @property
    def slope(self) -> float:
        """Loss of radius per mm of drop."""
        return (self.rim - self.base) / 2 / self.slant

    def radius(self, drop: Any) -> Any:
        return self.rim / 2 - self.slope * drop

    def flat(self, turn: Any, drop: Any) -> NDArray[np.complex128]:
        """Points of the wall on the sheet."""
        turn, drop = np.broadcast_arrays(np.asarray(turn, float), np.asarray(drop, float))
        if self.rim == self.base:
            return self.rim / 2 * turn - 1j * drop
        if abs(self.slope) > _SLIGHT:
            return _flat(self.rim / 2, self.slope, turn, drop, np.exp)
        return self._precise(lambda r, k, a, b: _flat(r, k, a, b, mp.exp), turn, drop)

    def rolled(self, points: Any) -> tuple[Floats, Floats]:
        """Turn [rad] and drop of points of the sheet."""
        points = np.asarray(points, complex)
        x, y = points.real, points.imag
        if self.rim == self.base:
            return x * 2 / self.rim, -y
        if abs(self.slope) > _SLIGHT:
            place = _rolled(self.rim / 2, self.slope, x, y, np.angle)
        else:
            place = self._precise(lambda r, k, a, b: _rolled(r, k, a, b, mp.arg), x, y)
        return place.real, place.imag

    def in_space(self, turn: Any, drop: Any) -> Floats:
        """Points of the wall in space, shape (n, 3): right, front, up."""
        radius = self.radius(drop)
        return np.stack([radius * np.sin(turn), radius * np.cos(turn), -drop * self.height / self.slant], axis=-1)

    def _precise(self, point_map: Any, first: Any, second: Any) -> NDArray[np.complex128]:
        with mp.workdps(50):
            loss = (mp.mpf(self.rim) - mp.mpf(self.base)) / 2
            slope = loss / mp.sqrt(mp.mpf(self.height) ** 2 + loss**2)
            radius = mp.mpf(self.rim) / 2
            one = np.frompyfunc(lambda a, b: complex(point_map(radius, slope, mp.mpf(a), mp.mpf(b))), 2, 1)
            return np.asarray(one(first, second), complex)


def _flat(radius: Any, slope: Any, turn: Any, drop: Any, exp: Any) -> Any:
    """From the apex at −i·radius/slope: distance (radius − slope·drop)/slope at the angle slope·turn."""
    return 1j * ((radius - slope * drop) * exp(-1j * slope * turn) - radius) / slope


def _rolled(radius: Any, slope: Any, x: Any, y: Any, arg: Any) -> Any:
    """The inverse: turn as the real part, drop as the imaginary part."""
    away = radius - 1j * slope * (x + 1j * y)
    return -arg(away) / slope + 1j * (radius - abs(away)) / slope
