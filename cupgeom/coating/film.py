"""A thin film of resin on a cup that turns about a level axis: how much it carries before it drips, and how it lies.

Lubrication theory (H. K. Moffatt, J. de Mécanique 16 (1977) 651–673; V. V. Pukhnachev, 1977)::

             top                       h   film, at the angle θ round the cup
           .-----.   turning           R   radius of the cup
         .'       '.  ⤺                Ω   speed of turning
        /           \\                  μ, ρ  viscosity and density of the resin
       |      +------| θ = 0: the side that rises, level with the axis;
        \\           /    gravity pulls straight back here and the film is thickest
         '._______.'

The resin is carried round by the wall and pulled down by gravity; in a steady film the same volume passes every angle::

    H − H³ cos θ/3 = q             H = h/√(μΩR/(ρg))

A smooth film all round exists for q ≤ 2/3 only. At q = 2/3 its mean is K = 0.7071 (∮H dθ/2π; the load 4.44272 is given
by G. A. Leslie, S. K. Wilson & B. R. Duffy, QJMAM 2012), so that the largest mean film is K·√(μΩR/(ρg)).

Valid for a film much thinner than the radius, of even viscosity, level axis, no surface tension. With surface tension
and the pull normal to the wall a lobe grows a few per cent below the limit: `WARN_FROM` is where to be careful. The
limit is where a smooth film ends, not a promise that less does not drip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from cupgeom.cup import Cup, Wall
from cupgeom.errors import CupgeomError, number, require_at_least, require_positive

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.80665  # standard gravity, exact: 3rd General Conference on Weights and Measures, 1901
CRITICAL_FLUX = 2 / 3  # largest q of a smooth film; the bound α ≤ 4/27 of other writers is the same
WARN_FROM = 0.9  # share of the drip limit
DRIPS_FROM = 1.0
VALIDITY = "thin film, even viscosity, no surface tension, level axis"
_NODES = 200  # of the quadrature on each quarter; the mean is then right to 1e-12 below the limit
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Rack:
    """A turning rack with a resin on it: what decides how much film a wall carries.

    Parameters
    ----------
    speed_rpm
        Turns a minute [1/min].
    viscosity_pa_s
        Dynamic viscosity of the mixed resin [Pa·s]; 1 Pa·s = 1000 cP = 1000 mPa·s.
    density_kg_m3
        Density of the mixed resin [kg/m³].
    """

    speed_rpm: float
    viscosity_pa_s: float
    density_kg_m3: float

    def __post_init__(self) -> None:
        require_positive("speed_rpm", self.speed_rpm, "rpm")
        require_positive("viscosity_pa_s", self.viscosity_pa_s, "Pa·s")
        require_positive("density_kg_m3", self.density_kg_m3, "kg/m³")

    @property
    def speed_rad_s(self) -> float:
        """Speed of turning [rad/s]."""
        return self.speed_rpm * math.tau / 60

    def scale(self, radius: float) -> float:
        """The film √(μΩR/(ρg)) that the theory counts in [mm], at a radius [mm]; the thickest place at the limit."""
        require_positive("radius", radius)
        pull = self.density_kg_m3 * GRAVITY_M_S2
        return 1000 * math.sqrt(self.viscosity_pa_s * self.speed_rad_s * (radius / 1000) / pull)

    def drip_limit(self, radius: float) -> float:
        """Largest mean film that a wall of this radius carries without dripping [mm]."""
        return critical_mean() * self.scale(radius)

    def share(self, cup: Cup, film: float) -> float:
        """Share of the drip limit that a mean film [mm] uses, at the smallest coated radius of the cup."""
        require_at_least("film", film, 0)
        return film / self.drip_limit(smallest_radius(cup))

    def capacity(self, cup: Cup) -> float:
        """Most that the coated walls carry [mm³]: the drip limit at each radius, over the area.

        Notes
        -----
        ∫ K c √ρ · 2πρ ds with c = √(μΩ/(ρg)), s along the wall. The radius ρ is linear in s from R to r, so that the
        mean of ρ^(3/2) is (2/5)(R^(5/2) − r^(5/2))/(R − r); with a = √R, b = √r this is
        (2/5)(a⁴ + a³b + a²b² + ab³ + b⁴)/(a + b), which holds at R = r too. The underside, which stands upright on the
        rack, is left out.
        """
        unit = self.drip_limit(1.0)
        parts = (
            span * _mean_power(wall.radius_at(top), wall.radius_at(top + span))
            for wall, top, span in _coated_parts(cup)
        )
        return math.tau * unit * math.fsum(parts)

    def thickest(self, radius: float, film: float) -> float:
        """Thickest place of a film of this mean [mm]: the side that rises, θ = 0.

        Raises
        ------
        CupgeomError
            When the mean is above the drip limit.
        """
        flux = self._flux(radius, film)
        return float(self.scale(radius) * height(flux, 0.0))

    def profile(self, radius: float, film: float, count: int = 361) -> Floats:
        """The film round the cup [mm] at equal angles from θ = −π to π, for a film of this mean.

        Raises
        ------
        CupgeomError
            When the mean is above the drip limit.
        """
        import numpy as np

        return self.scale(radius) * height(self._flux(radius, film), np.linspace(-math.pi, math.pi, count))

    def _flux(self, radius: float, film: float) -> float:
        require_at_least("film", film, 0)
        limit = self.drip_limit(radius)
        if film > limit:
            raise CupgeomError("film", f"must be at most the drip limit of {limit:.3f} mm, got {number(film)} mm")
        return flux_of(film / self.scale(radius))


def slowest_rpm(cup: Cup, film: float, viscosity_pa_s: float, density_kg_m3: float) -> float:
    """Slowest turning that holds a mean film [mm] on the cup [1/min]: the film is then at its drip limit.

    Ω = (h/K)² ρg/(μR) at the smallest coated radius.
    """
    rack = Rack(speed_rpm=1.0, viscosity_pa_s=viscosity_pa_s, density_kg_m3=density_kg_m3)
    return rack.share(cup, film) ** 2


def thinnest_pa_s(cup: Cup, film: float, speed_rpm: float, density_kg_m3: float) -> float:
    """Thinnest resin that the rack holds as a mean film [mm] on the cup [Pa·s], as `slowest_rpm`."""
    rack = Rack(speed_rpm=speed_rpm, viscosity_pa_s=1.0, density_kg_m3=density_kg_m3)
    return rack.share(cup, film) ** 2


def mean_film(cup: Cup, volume: float) -> float:
    """Mean film [mm] of a volume of resin [mm³] on the coated area of the cup."""
    require_at_least("volume", volume, 0, "mm³")
    require_positive("coated_area", cup.coated_area, "mm²")
    return volume / cup.coated_area


def smallest_radius(cup: Cup) -> float:
    """Smallest radius of the coated walls [mm], where the film drips first.

    Raises
    ------
    CupgeomError
        When the coat reaches the point of the cup.
    """
    radius = min(min(wall.radius_at(top), wall.radius_at(top + span)) for wall, top, span in _coated_parts(cup))
    if radius <= 0:
        raise CupgeomError("coated", "reaches the point of the cup, where nothing holds a film; end it above")
    return radius


def height(flux: float, angle_rad: ArrayLike) -> Floats:
    """Film height H of a steady film at angles θ: the smallest positive root of H³ cos θ − 3H + 3q = 0.

    In trigonometric form, with s = √|cos θ| and φ = (3q/2)s: H = (2/s) sin(asin(φ)/3) on the half that rises, the same
    with sinh and asinh on the half that sinks; H = q where cos θ = 0.
    """
    import numpy as np

    cosine = np.cos(np.asarray(angle_rad, dtype=float))
    root = np.sqrt(np.abs(cosine))
    ratio = np.minimum(1.5 * flux * root, np.where(cosine > 0, 1.0, np.inf))
    rising = np.sin(np.arcsin(np.minimum(ratio, 1.0)) / 3)
    sinking = np.sinh(np.arcsinh(ratio) / 3)
    level = root * max(flux, 1e-3) < 1e-8
    film: Floats = np.where(level, flux, 2 * np.where(cosine > 0, rising, sinking) / np.where(level, 1.0, root))
    return film


def mean_height(flux: float) -> float:
    """Mean of H round the cup for a flux q, by Gauss–Legendre quadrature; at q = 2/3 the critical mean K.

    Raises
    ------
    CupgeomError
        When no smooth film has this flux.
    """
    if not 0 <= flux <= CRITICAL_FLUX:
        raise CupgeomError("flux", f"must be from 0 to 2/3, got {number(flux)}")
    import numpy as np

    nodes, weights = _quadrature()
    quarter = math.pi / 2
    angles = np.concatenate([quarter * nodes, quarter * (1 + nodes)])  # H is smooth on each; θ and −θ are alike
    return float(np.concatenate([weights, weights]) @ height(flux, angles)) / 2


@cache
def critical_mean() -> float:
    """K, the mean of H at the largest flux."""
    return mean_height(CRITICAL_FLUX)


def flux_of(mean: float) -> float:
    """The flux q of a film whose mean height is given, by halving; the mean rises with the flux.

    Raises
    ------
    CupgeomError
        When no smooth film has this mean.
    """
    require_at_least("mean", mean, 0, "of the scale")
    if mean > critical_mean() * (1 + 1e-12):
        raise CupgeomError("mean", f"must be at most {critical_mean():.6f}, got {number(mean)}")
    low, high = 0.0, CRITICAL_FLUX
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if mean_height(middle) < mean else (low, middle)
    return high


@cache
def _quadrature() -> tuple[Floats, Floats]:
    """Nodes and weights on 0 to 1."""
    import numpy as np

    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    return (nodes + 1) / 2, weights / 2


def _coated_parts(cup: Cup) -> list[tuple[Wall, float, float]]:
    """Each wall that is coated: the wall, the drop on it where the coat begins, its length down the wall."""
    span, parts = cup.coated_span, []
    for start, wall in zip(cup.wall_tops, cup.walls, strict=True):
        top, bottom = max(span.top - start, 0.0), min(span.bottom - start, wall.slant)
        if bottom > top:
            parts.append((wall, top, bottom - top))
    return parts


def _mean_power(first: float, last: float) -> float:
    """Mean of ρ^(3/2) where ρ runs evenly from one radius to another."""
    a, b = math.sqrt(max(first, 0.0)), math.sqrt(max(last, 0.0))
    return 0.4 * (a**4 + a**3 * b + a * a * b * b + a * b**3 + b**4) / (a + b)
