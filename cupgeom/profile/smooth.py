"""Measured points joined by one smooth curve that never swings beyond them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

from cupgeom.cup import Ring
from cupgeom.errors import CupgeomError
from cupgeom.profile.pieces import Role, Trace, require_fall, require_role, require_width

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Smooth:
    """Measured rings, each below the one before it, joined by monotone cubics.

    Radius and height are each a monotone cubic of the length along the chords between the points. Chord length rather
    than height is the parameter because a foot or a shoulder may come close to level, where radius as a function of
    height has no usable slope. Between two neighbours the radius and the height both stay between theirs, so that the
    curve never overshoots, never rises and keeps a belly where it was measured.

    References
    ----------
    F. N. Fritsch and R. E. Carlson, "Monotone piecewise cubic interpolation", SIAM Journal on Numerical Analysis 17
    (1980) 238–246.
    """

    rings: tuple[Ring, ...]
    role: Role
    breaks: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _slopes: tuple[tuple[float, ...], tuple[float, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_role(self.role)
        if len(self.rings) < 2:
            raise CupgeomError("rings", f"a smooth curve needs at least two rings, got {len(self.rings)}")
        for index, (above, below) in enumerate(pairwise(self.rings), start=1):
            require_fall(f"rings[{index}]", above, below)
            require_width(f"rings[{index}]", above, below)
        radii, heights = [ring.diameter / 2 for ring in self.rings], [ring.height for ring in self.rings]
        chords = [math.dist(*ends) for ends in pairwise(zip(radii, heights, strict=True))]
        breaks = tuple(accumulate(chords, initial=0.0))
        object.__setattr__(self, "breaks", breaks)
        object.__setattr__(self, "_slopes", (monotone_slopes(breaks, radii), monotone_slopes(breaks, heights)))

    @property
    def top(self) -> Ring:
        """The first point."""
        return self.rings[0]

    @property
    def bottom(self) -> Ring:
        """The last point."""
        return self.rings[-1]

    def trace(self, u: Floats) -> Trace:
        """Points at lengths along the chords."""
        import numpy as np

        knots = np.array(self.breaks)
        at = np.clip(np.searchsorted(knots, u, side="right") - 1, 0, len(knots) - 2)
        radii, heights = np.array([(ring.diameter / 2, ring.height) for ring in self.rings]).T
        step = knots[at + 1] - knots[at]
        share = (u - knots[at]) / step
        (radius, radius_rate), (height, height_rate) = (
            _hermite(share, step, values[at], values[at + 1], slopes[at], slopes[at + 1])
            for values, slopes in zip((radii, heights), np.array(self._slopes), strict=True)
        )
        return Trace(radius, height, radius_rate, height_rate)


def _hermite(
    share: Floats, step: Floats, start: Floats, end: Floats, start_slope: Floats, end_slope: Floats
) -> tuple[Floats, Floats]:
    """Value and rate of the cubics with these end values and slopes, at a share of each step."""
    secant = (end - start) / step
    bend, twist = 3 * secant - 2 * start_slope - end_slope, start_slope + end_slope - 2 * secant
    value = start + step * share * (start_slope + share * (bend + share * twist))
    return value, start_slope + share * (2 * bend + share * 3 * twist)


def monotone_slopes(knots: Sequence[float], values: Sequence[float]) -> tuple[float, ...]:
    """Slopes at the knots that keep the cubic between any two of them monotone (Fritsch and Carlson).

    Each starts as the three-point slope (0 at a peak or a hollow). Where the two of an interval, as multiples α and β
    of its secant, lie outside the circle α² + β² = 9, both are shortened onto it: inside it the cubic is monotone.
    """
    steps = [right - left for left, right in pairwise(knots)]
    secants = [(after - before) / step for (before, after), step in zip(pairwise(values), steps, strict=True)]
    if len(secants) == 1:
        return (secants[0], secants[0])
    inner = [
        (right * before + left * after) / (left + right) if before * after > 0 else 0.0
        for (left, right), (before, after) in zip(pairwise(steps), pairwise(secants), strict=True)
    ]
    slopes = [_end_slope(steps[:2], secants[:2]), *inner, _end_slope(steps[:-3:-1], secants[:-3:-1])]
    for index, secant in enumerate(secants):
        length = math.hypot(slopes[index], slopes[index + 1])
        if length > 3 * abs(secant):
            shorter = 3 * abs(secant) / length
            slopes[index] *= shorter
            slopes[index + 1] *= shorter
    return tuple(slopes)


def _end_slope(steps: Sequence[float], secants: Sequence[float]) -> float:
    """Three-point slope at an end, the nearest interval first; 0 where it would point the wrong way."""
    slope = ((2 * steps[0] + steps[1]) * secants[0] - steps[0] * secants[1]) / (steps[0] + steps[1])
    return slope if slope * secants[0] > 0 else 0.0
