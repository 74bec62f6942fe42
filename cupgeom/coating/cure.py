"""Resin that thickens while the cup turns: the drip limit over time, and when the rack may stop.

The viscosity grows as exp(t/τ) up to the gel, a common fit of isothermal cures (M. B. Roller, Polymer Engineering and
Science 15 (1975) 406–414; from memory). The pot life is taken as the time in which it doubles, so that
τ = pot life/ln 2: assumed, since few data sheets say what theirs means.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.coating.film import GRAVITY_M_S2, Rack
from cupgeom.coating.resin import Resin, require_temperature
from cupgeom.errors import CupgeomError, number, require_at_least, require_positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

ALLOWED_SAG = 0.05  # mm that the film may change after the rack stops: a tenth of a common coat, assumed
WARMTH_FADES_MIN = 10.0  # a warmed cup has lost 63 % of its warmth by then: assumed, no source
_FADED = 3.0  # times that; 5 % of the warmth is left


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """A coat of resin from mixing to gel.

    Parameters
    ----------
    resin
        With its clocks as they run in this room (`Resin.in_room`).
    cup_c
        Temperature of a warmed cup [°C], None for a cup at room temperature.
    warmed_at_min
        When it is warmed [min after mixing]; before that it is at room temperature.
    """

    resin: Resin
    cup_c: float | None = None
    warmed_at_min: float = 0.0

    def __post_init__(self) -> None:
        if self.cup_c is not None:
            require_temperature("cup_c", self.cup_c)
            room = number(self.resin.temperature_c)
            if self.cup_c < self.resin.temperature_c:
                raise CupgeomError("cup_c", f"must be at least the room's {room} °C, got {number(self.cup_c)} °C")
        require_at_least("warmed_at_min", self.warmed_at_min, 0, "min")

    @property
    def tau_min(self) -> float:
        """Time in which the viscosity grows e times [min]."""
        return self.resin.pot_life_min / math.log(2)

    def temperature_c(self, minute: float) -> float:
        """Temperature of the film [°C]: the room's, and after warming a warmth that fades."""
        room = self.resin.temperature_c
        if self.cup_c is None or minute < self.warmed_at_min:
            return room
        return room + (self.cup_c - room) * math.exp(-(minute - self.warmed_at_min) / WARMTH_FADES_MIN)

    def viscosity_pa_s(self, minute: float) -> float:
        """Viscosity [Pa·s] at a minute after mixing; from the gel on it flows no more, and the gel's is given."""
        require_at_least("minute", minute, 0, "min")
        grown = math.exp(min(minute, self.resin.gel_min) / self.tau_min)
        return self.resin.viscosity_pa_s(self.temperature_c(minute)) * grown

    def rack(self, speed_rpm: float, minute: float = 0.0) -> Rack:
        """The turning rack as the resin is at a minute after mixing."""
        return Rack(
            speed_rpm=speed_rpm,
            viscosity_pa_s=self.viscosity_pa_s(minute),
            density_kg_m3=self.resin.density_kg_m3,
        )

    def limits(self, speed_rpm: float, radius: float, minutes: ArrayLike) -> Floats:
        """The drip limit [mm] of a wall of this radius at each of the minutes."""
        import numpy as np

        return np.array([self.rack(speed_rpm, float(minute)).drip_limit(radius) for minute in np.atleast_1d(minutes)])

    @property
    def weakest_min(self) -> float:
        """When the drip limit is least [min after mixing]: at once, or when the cup is warmed.

        The viscosity only grows between these two moments and after them.
        """
        moments = (0.0, min(self.warmed_at_min, self.resin.gel_min))
        return min(moments, key=self.viscosity_pa_s)

    def sag(self, radius: float, film: float, stop_min: float) -> float:
        """Largest change of an even film [mm] from the moment the rack stops until the gel.

        Notes
        -----
        An even film on a cup at rest changes at ρgh³/(3μR)·sin θ (Moffatt's equation without turning). Up to the gel
        that adds up to ρgh³/(3R)·∫dt/μ = ρgh³/(3R)·(τ/μ₀)(exp(−t/τ) − exp(−t_gel/τ)) at the side. It says when a sag
        begins, not how far a run goes: more than a tenth of the film is beyond it.
        """
        require_at_least("stop_min", stop_min, 0, "min")
        tau, gel = self.tau_min, self.resin.gel_min
        left = math.exp(-min(stop_min, gel) / tau) * -math.expm1(min(stop_min - gel, 0.0) / tau)
        return self._pull(radius, film) * left

    def stop_min(self, radius: float, film: float, allowed: float = ALLOWED_SAG) -> float:
        """Earliest moment that the rack may stop so that the sag stays below `allowed` [min after mixing].

        A warmed cup turns at least until its warmth has faded; nothing needs to turn after the gel.
        """
        require_positive("allowed", allowed)
        pull, tau, gel = self._pull(radius, film), self.tau_min, self.resin.gel_min
        earliest = 0.0
        if self.sag(radius, film, 0.0) > allowed:
            earliest = -tau * math.log(allowed / pull + math.exp(-gel / tau))
        if self.cup_c is not None:
            earliest = max(earliest, self.warmed_at_min + _FADED * WARMTH_FADES_MIN)
        return min(earliest, gel)

    def _pull(self, radius: float, film: float) -> float:
        """ρgh³/(3R)·τ/μ₀ in mm: the sag of a film that stops at once and never gels."""
        require_positive("radius", radius)
        require_at_least("film", film, 0)
        force = self.resin.density_kg_m3 * GRAVITY_M_S2 * (film / 1000) ** 3 / (3 * radius / 1000)  # Pa·m
        seconds = 60 * self.tau_min
        return 1000 * force * seconds / self.resin.viscosity_pa_s(self.resin.temperature_c)
