"""The general piece of a profile: any radius and height, or any radius and drop, as functions of a parameter."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Self

from cupgeom.cup import Ring
from cupgeom.errors import CupgeomError, number
from cupgeom.profile.pieces import Role, Trace, require_role
from cupgeom.profile.quadrature import integral

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Function = Callable[[float], float]
DEGREE = 16  # of the polynomials that stand for the functions
TAIL = 1e-13  # largest of their last three coefficients, as a share of the largest one
DEEPEST = 40  # halvings; a function that needs more has a corner or an upright tangent
MOST_PANELS = 2000
_DENSE = 65  # points a panel that are looked at for a rise or a negative radius
_UPRIGHT = 1e-9  # share by which a radius may outrun the drop, as rounding does on a level stretch


@dataclass(frozen=True, slots=True)
class _Fit:
    """Two functions of u = 0…1 as Chebyshev polynomials on panels, from which their exact rates follow."""

    breaks: tuple[float, ...]
    coefficients: Floats  # of shape (DEGREE + 1, 4, panels): both functions, then both rates

    def values_and_rates(self, u: Floats) -> Floats:
        """Both values and both rates at parameters of shape (n,), as an array of shape (4, n)."""
        import numpy as np
        from numpy.polynomial.chebyshev import chebval

        breaks = np.array(self.breaks)
        at = np.clip(np.searchsorted(breaks, u, side="right") - 1, 0, len(breaks) - 2)
        left, right = breaks[at], breaks[at + 1]
        values: Floats = chebval((2 * u - left - right) / (right - left), self.coefficients[:, :, at], tensor=False)
        return values


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A piece whose radius and height are functions of any parameter, such as a height, an angle or a drop.

    Parameters
    ----------
    radius, height
        Functions of the parameter [mm]. They must be smooth: split the curve at a corner.
    start, end
        The parameter at the top and at the bottom; it may fall from one to the other.

    Raises
    ------
    CupgeomError
        When a function cannot be computed, is not smooth, or the curve rises or crosses the axis; naming where.

    Notes
    -----
    Slopes are not asked for: the functions are replaced by Chebyshev polynomials, to 13 digits, and these are
    differentiated. A curve with an upright tangent in its parameter, such as √(9 − t²) at t = 3, has no such
    polynomial; an angle or the other coordinate as the parameter mends that.
    """

    radius: Function
    height: Function
    start: float
    end: float
    role: Role
    top: Ring = field(init=False)
    bottom: Ring = field(init=False)
    _fit: _Fit = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_role(self.role)
        _require_range(self.start, self.end)
        fit = _fit("radius", self.radius, "height", self.height, self.start, self.end)
        object.__setattr__(self, "_fit", fit)
        self._check_course()
        for name, at in (("top", self.start), ("bottom", self.end)):
            ring = Ring(diameter=2 * max(self.radius(at), 0.0), height=float(self.height(at)))
            object.__setattr__(self, name, ring)

    @classmethod
    def of_drop(
        cls, *, radius: Function, drop: Function, start: float, end: float, top_height: float, role: Role
    ) -> Self:
        """A curve of a radius and a drop (length along the wall) as functions of a parameter.

        Its height follows from both, as the wall falls by √(drop′² − radius′²); only differences of the drop count.

        Raises
        ------
        CupgeomError
            As for any `Curve`, and where the drop does not grow, or the radius changes faster than it.
        """
        _require_range(start, end)
        fit = _fit("radius", radius, "drop", drop, start, end)

        def fall(u: Floats) -> Floats:
            import numpy as np

            _, _, outward, downward = fit.values_and_rates(u)
            square = downward * downward - outward * outward
            wrong = (downward < 0) | (square < -_UPRIGHT * outward * outward)
            if wrong.any():
                at = number(start + (end - start) * float(u[np.argmax(wrong)]))
                raise CupgeomError("drop", f"must grow at least as fast as the radius changes, but does not at {at}")
            falls: Floats = np.sqrt(np.maximum(square, 0.0))[np.newaxis]
            return falls

        steps = [float(integral(fall, *ends)[0]) for ends in pairwise(fit.breaks)]
        fallen = tuple(accumulate(steps, initial=0.0))

        def height(parameter: float) -> float:
            u = (parameter - start) / (end - start)
            index = min(max(bisect_right(fit.breaks, u) - 1, 0), len(steps) - 1)
            return top_height - fallen[index] - float(integral(fall, fit.breaks[index], u)[0])

        return cls(radius=radius, height=height, start=start, end=end, role=role)

    @property
    def breaks(self) -> tuple[float, ...]:
        """Shares of the way from start to end, at the ends of the polynomials."""
        return self._fit.breaks

    def trace(self, u: Floats) -> Trace:
        """Points at shares of the way from start to end."""
        return Trace(*self._fit.values_and_rates(u))

    def _check_course(self) -> None:
        import numpy as np

        for left, right in pairwise(self.breaks):
            u = np.linspace(left, right, _DENSE)
            course = self.trace(u)
            rises, crosses = np.diff(course.height) >= 0, course.radius < -TAIL * np.abs(course.height).max() - 1e-12
            for where, what, wrong in (
                ("height", "must fall all the way from the top to the bottom, but does not", rises),
                ("radius", "must not be negative, but is", crosses),
            ):
                if wrong.any():
                    at = self.start + (self.end - self.start) * float(u[np.argmax(wrong)])
                    raise CupgeomError(where, f"{what} at {number(at)}")


def _require_range(start: float, end: float) -> None:
    for where, value in (("start", start), ("end", end)):
        if not math.isfinite(value):
            raise CupgeomError(where, f"must be a finite number, got {value}")
    if start == end:
        raise CupgeomError("end", f"must differ from the start, both are {number(start)}")


def _fit(first_name: str, first: Function, second_name: str, second: Function, start: float, end: float) -> _Fit:
    """Both functions on u = 0…1, u = (parameter − start)/(end − start), on panels halved until the tails vanish."""
    import numpy as np
    from numpy.polynomial.chebyshev import chebder, chebfit, chebpts1

    def fitted(left: float, right: float) -> Floats:
        shares = left + (right - left) * (1 + nodes) / 2
        at = [start + (end - start) * float(share) for share in shares]
        values = [(_value(first_name, first, each), _value(second_name, second, each)) for each in at]
        polynomials: Floats = chebfit(nodes, np.array(values), DEGREE)
        return polynomials

    nodes = chebpts1(DEGREE + 1)
    breaks, panels, waiting = [0.0], [], [(0.0, 1.0, 0)]
    while waiting:
        left, right, depth = waiting.pop()
        pair = fitted(left, right)
        if abs(pair[-3:]).max() <= TAIL * abs(pair).max():
            breaks.append(right)
            rates = chebder(pair, scl=2 / (right - left))
            panels.append(np.concatenate([pair, np.pad(rates, ((0, 1), (0, 0)))], axis=1))
        elif depth == DEEPEST or len(panels) + len(waiting) > MOST_PANELS:
            at = number(start + (end - start) * left)
            raise CupgeomError(
                second_name,
                f"the curve is not smooth near {at}: split it there, or choose another parameter, such as an angle",
            )
        else:
            waiting += [((left + right) / 2, right, depth + 1), (left, (left + right) / 2, depth + 1)]
    coefficients = np.stack(panels, axis=2)
    coefficients.flags.writeable = False
    return _Fit(tuple(breaks), coefficients)


def _value(name: str, function: Function, parameter: float) -> float:
    try:
        value = float(function(parameter))
    except (ArithmeticError, ValueError) as error:
        raise CupgeomError(name, f"cannot be computed at {number(parameter)}: {error}") from None
    if not math.isfinite(value):
        raise CupgeomError(name, f"must be a finite number of mm, got {value} at {number(parameter)}")
    return value
