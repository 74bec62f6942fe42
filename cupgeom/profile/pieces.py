"""The pieces of a profile: what each of them must tell, and the two simple ones, a straight run and a circular arc."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple, Protocol, get_args

from cupgeom.cup import Ring
from cupgeom.errors import CupgeomError, number, require_positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Role = Literal["lip", "band", "taper", "shoulder", "foot"]
ROLES: tuple[Role, ...] = get_args(Role)
_LEVEL = 1e-12  # share by which an arc may miss the radius at which its end is level, as rounding does


class Trace(NamedTuple):
    """Points of a curve, and their rates of change with its parameter; each of shape (n,)."""

    radius: Floats
    height: Floats
    radius_rate: Floats
    height_rate: Floats


class Piece(Protocol):
    """One piece of a profile: a curve that falls from its top ring to its bottom ring."""

    @property
    def role(self) -> Role:
        """What the piece is to a maker: lip, band, taper, shoulder or foot."""

    @property
    def top(self) -> Ring:
        """The ring that it starts from."""

    @property
    def bottom(self) -> Ring:
        """The ring that it ends at."""

    @property
    def breaks(self) -> tuple[float, ...]:
        """Rising parameters, from the top's to the bottom's, between which the curve is smooth."""

    def trace(self, u: Floats) -> Trace:
        """Radius, height and their rates at parameters of shape (n,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A straight run between two rings: a band where they are equally wide, else a taper."""

    top: Ring
    bottom: Ring
    role: Role

    def __post_init__(self) -> None:
        require_role(self.role)
        require_fall("bottom", self.top, self.bottom)
        require_width("bottom", self.top, self.bottom)

    @property
    def breaks(self) -> tuple[float, ...]:
        """From 0 at the top to 1 at the bottom."""
        return (0.0, 1.0)

    def trace(self, u: Floats) -> Trace:
        """Points at shares of the run."""
        import numpy as np

        run = (self.bottom.diameter - self.top.diameter) / 2
        rise = self.bottom.height - self.top.height
        return Trace(
            self.top.diameter / 2 + run * u, self.top.height + rise * u, np.full_like(u, run), np.full_like(u, rise)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A circular arc between two rings: a rolled lip, a shoulder, a foot.

    Parameters
    ----------
    top, bottom
        The rings at its two ends.
    arc_radius
        Radius of the arc itself, seen in the cut through the axis.
    hollow
        False: the arc bulges away from the axis. True: it bulges towards it.

    Raises
    ------
    CupgeomError
        When the arc would have to rise on its way down, or would cross the axis.

    Notes
    -----
    ::

        axis       top               c = length of the chord,  β = asin(c / 2ρ) half the angle of the arc
          |         o .              t = unit vector down the chord,  n = unit vector square to it, to the bulge
          |          \\  .  ρ
          |         t \\  .           point(ψ) = middle of the chord + t ρ sin ψ + n ρ (cos ψ − cos β)
          |            \\--.-> n      ψ from −β (top) to β (bottom)
          |             \\ .
          |              o           cos ψ − cos β = 2 sin((β + ψ)/2) sin((β − ψ)/2) keeps its digits where
                       bottom        the arc is nearly straight

    The arc is level at one end when ρ = c²/(2·fall), fall = height of the top above the bottom; with less it would
    rise above its top or dip below its bottom. An arc of more than half a circle always does.
    """

    top: Ring
    bottom: Ring
    arc_radius: float
    role: Role
    hollow: bool = False

    def __post_init__(self) -> None:
        require_role(self.role)
        require_fall("bottom", self.top, self.bottom)
        require_positive("arc_radius", self.arc_radius)
        chord, fall = self._chord, self.top.height - self.bottom.height
        least = chord * chord / (2 * fall)
        if self.arc_radius < least * (1 - _LEVEL):
            raise CupgeomError(
                "arc_radius",
                f"must be at least {number(least)} mm, or the arc would rise on its way from the top ring to the "
                f"bottom ring, got {number(self.arc_radius)} mm",
            )
        if self._innermost() < 0:
            raise CupgeomError("arc_radius", f"an arc of {number(self.arc_radius)} mm would cross the cup's axis")

    @property
    def breaks(self) -> tuple[float, ...]:
        """The angles −β and β [rad], seen from the arc's centre."""
        half = math.asin(min(self._chord / (2 * self.arc_radius), 1.0))
        return (-half, half)

    def trace(self, u: Floats) -> Trace:
        """Points at angles [rad] from the middle of the arc."""
        import numpy as np

        (t_radius, t_height), (n_radius, n_height) = self._directions
        rho, half = self.arc_radius, self.breaks[1]
        along, rate_along = rho * np.sin(u), rho * np.cos(u)
        out, rate_out = 2 * rho * np.sin((half + u) / 2) * np.sin((half - u) / 2), -rho * np.sin(u)
        return Trace(
            (self.top.diameter + self.bottom.diameter) / 4 + t_radius * along + n_radius * out,
            (self.top.height + self.bottom.height) / 2 + t_height * along + n_height * out,
            t_radius * rate_along + n_radius * rate_out,
            t_height * rate_along + n_height * rate_out,
        )

    @property
    def _chord(self) -> float:
        run = (self.bottom.diameter - self.top.diameter) / 2
        return math.hypot(run, self.bottom.height - self.top.height)

    @property
    def _directions(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """The unit vectors t and n, each as radius and height."""
        chord, side = self._chord, -1.0 if self.hollow else 1.0
        t_radius = (self.bottom.diameter - self.top.diameter) / 2 / chord
        t_height = (self.bottom.height - self.top.height) / chord
        return (t_radius, t_height), (-side * t_height, side * t_radius)

    def _innermost(self) -> float:
        """Smallest radius that the arc comes to, which lies inside it only where it is hollow."""
        import numpy as np

        (t_radius, _), (n_radius, _) = self._directions
        upright = math.atan2(t_radius, n_radius) if n_radius > 0 else math.atan2(-t_radius, -n_radius)
        half = self.breaks[1]
        angles = [-half, half] if abs(upright) > half else [-half, upright, half]
        rounding = _LEVEL * (self.top.diameter + self.bottom.diameter)
        return float(self.trace(np.array(angles)).radius.min()) + rounding


def require_role(role: Role) -> None:
    """Raise unless `role` is one of `ROLES`."""
    if role not in ROLES:
        raise CupgeomError("role", f"must be one of {', '.join(ROLES)}, got {role!r}")


def require_fall(where: str, above: Ring, below: Ring) -> None:
    """Raise unless the ring below lies lower."""
    if not below.height < above.height:
        raise CupgeomError(
            f"{where}.height",
            f"must be below the ring before it (at {number(above.height)} mm), got {number(below.height)} mm",
        )


def require_width(where: str, above: Ring, below: Ring) -> None:
    """Raise when both rings are points on the axis, between which a straight run has no wall."""
    if above.diameter == below.diameter == 0:
        raise CupgeomError(
            f"{where}.diameter", "this ring and the one before it are both 0 mm across; one must be greater than 0 mm"
        )
