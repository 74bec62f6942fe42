"""A stretch of a curve that one Gauss rule measures to full precision, and the way from a drop to its parameter."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from cupgeom.profile.pieces import Piece, Trace
from cupgeom.profile.quadrature import gauss, panels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_DIGITS = 4  # units in the last place to which a parameter meets its drop or height
_MOST_STEPS = 60  # halvings that use up a double's digits
_SHORT_ORDER = 4  # of the rule between close parameters, 64 or more a panel


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """The stretch of one piece between two of its parameters, with the drop of its top and its measures."""

    index: int  # of the piece in its profile
    piece: Piece
    start: float
    end: float
    top: float
    length: float
    area: float
    volume: float

    @property
    def bottom(self) -> float:
        """Drop of its lower end."""
        return self.top + self.length

    def trace(self, *u: float) -> Trace:
        """Points at parameters."""
        import numpy as np

        return self.piece.trace(np.array(u))

    def drop_at(self, u: float) -> float:
        """Drop at a parameter."""
        return self.top + self._to(u)[0]

    def area_to(self, u: float) -> float:
        """Area from the top of the panel to a parameter [mm²]."""
        return self._to(u)[1]

    def drops(self, u: Floats) -> Floats:
        """Drops at rising parameters of shape (n,), close to each other."""
        import numpy as np

        lengths = gauss(partial(_rates, self.piece), u, order=_SHORT_ORDER)[0]
        drops: Floats = self.drop_at(float(u[0])) + np.concatenate([[0.0], np.cumsum(lengths)])
        return drops

    def parameter_at(self, drop: float) -> float:
        """Parameter at a drop; the panel's own ends exactly."""
        if drop <= self.top or drop >= self.bottom:
            return self.start if drop <= self.top else self.end

        def measured(u: float) -> tuple[float, float]:
            at = self.trace(u)
            return self.drop_at(u), math.hypot(at.radius_rate[0], at.height_rate[0])

        return self._sought(measured, drop, size=drop)

    def parameter_at_height(self, height: float) -> float:
        """Parameter at a height on the scale of the rings."""

        def measured(u: float) -> tuple[float, float]:
            at = self.trace(u)
            return -float(at.height[0]), -float(at.height_rate[0])

        ends = self.piece.top.height, self.piece.bottom.height
        return self._sought(measured, -height, size=max(map(abs, ends)))

    def _sought(self, measured: Callable[[float], tuple[float, float]], target: float, size: float) -> float:
        """Parameter at which a growing quantity, given with its rate, meets a target to the last digits of `size`.

        Newton steps, and halving where a step would leave the bracket.
        """
        low, high = self.start, self.end
        u = (low + high) / 2
        for _ in range(_MOST_STEPS):
            value, rate = measured(u)
            if abs(value - target) <= _DIGITS * math.ulp(size):
                break
            low, high = (low, u) if value > target else (u, high)
            step = u - (value - target) / rate if rate > 0 else math.nan
            u = step if low <= step <= high else (low + high) / 2
        return u

    def _to(self, u: float) -> tuple[float, float]:
        length, area, _ = gauss(partial(_rates, self.piece), (self.start, u))[:, 0]
        return float(length), float(area)


def measured(pieces: Sequence[Piece]) -> tuple[Panel, ...]:
    """The pieces as panels, from the top edge down."""
    result: list[Panel] = []
    drop = 0.0
    for index, piece in enumerate(pieces):
        for ends in pairwise(piece.breaks):
            for start, end, (length, area, volume) in panels(partial(_rates, piece), *ends):
                result.append(
                    Panel(
                        index=index,
                        piece=piece,
                        start=start,
                        end=end,
                        top=drop,
                        length=float(length),
                        area=float(area),
                        volume=float(volume),
                    )
                )
                drop = result[-1].bottom
    return tuple(result)


def _rates(piece: Piece, u: Floats) -> Floats:
    """Length, area and volume gained per step of the parameter, shape (3, n)."""
    import numpy as np

    at = piece.trace(u)
    length = np.hypot(at.radius_rate, at.height_rate)
    return np.stack([length, 2 * np.pi * at.radius * length, -np.pi * at.radius**2 * at.height_rate])
