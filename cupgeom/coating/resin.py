"""A two-part resin as its data sheet describes it: ratio, densities, viscosity, and the clocks that run once mixed.

The data sheet rules. What a sheet leaves out is filled by the named assumptions below, each of which is a guess to be
replaced: most sheets give one viscosity or none, and clocks at one temperature.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Literal, get_args

from cupgeom.errors import (
    CupgeomError,
    Notice,
    number,
    require_at_least,
    require_at_most,
    require_finite,
    require_positive,
    within,
)

Body = Literal["thin", "medium", "thick"]
BODIES: tuple[Body, ...] = get_args(Body)
BODY_PA_S: Mapping[Body, float] = {"thin": 0.5, "medium": 1.0, "thick": 3.0}  # at ROOM_C, mixed: assumed, no source
ROOM_C = 22.0  # what clocks refer to where the sheet names no temperature: assumed
ANDRADE_K = 6000.0  # the B of μ = A exp(B/T) where the sheet gives one viscosity [K]: assumed; halves μ in 10 degrees
DOUBLING_DEGREES = 10.0  # a warmer room by this many degrees runs the clocks twice as fast: rule of thumb, no source
ROOM_RANGE_C = (18.0, 30.0)  # outside it the rule is not trusted and a notice says so: assumed
LARGEST_BATCH_G = 100.0  # a larger pot heats itself: common practice, no source
_ZERO_C_IN_K = 273.15  # exact
_COLDEST_C, _HOTTEST_C = 0.0, 100.0  # no resin is worked outside; a slipped unit is noticed
_LONGEST_MIN = 60.0 * 24 * 365
_FIRST_VISCOSITY, _LAST_VISCOSITY = 0.01, 100.0  # Pa·s, thinner than oil, thicker than honey: typed cP is noticed
_LEAST_DENSITY, _MOST_DENSITY = 0.5, 3.0  # g/mL; kg/m³ typed as g/mL is noticed
_LARGEST_RATIO = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Resin:
    """A two-part resin.

    Parameters
    ----------
    name
        What the maker calls it.
    ratio
        Parts A and B by volume.
    density_a_g_per_ml, density_b_g_per_ml
        Of the two parts [g/mL].
    viscosity
        Of the mixed resin: one or two pairs (temperature [°C], viscosity [Pa·s]), or ``thin``, ``medium``, ``thick``
        where the sheet says nothing (assumed 0.5, 1 and 3 Pa·s at 22 °C). 1 Pa·s = 1000 cP = 1000 mPa·s.
    pot_life_min, pot_life_mass_g
        How long a pot of this mass can be worked [min], [g].
    gel_min
        When it no longer flows, from mixing [min].
    recoat_from_min, recoat_until_min
        When the next coat bonds without sanding, from mixing [min].
    sandable_from_min
        When it is hard through, from mixing [min]; a clock of its own.
    in_service_from_min
        When it is fully cured, from mixing [min].
    largest_batch_g
        Largest pot that does not heat itself [g].
    price_per_ml
        What a mL of mixed resin costs, None where it does not matter.
    temperature_c
        Room temperature that the clocks refer to [°C].

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    name: str
    ratio: tuple[float, float]
    density_a_g_per_ml: float
    density_b_g_per_ml: float
    viscosity: tuple[tuple[float, float], ...] | Body
    pot_life_min: float
    pot_life_mass_g: float
    gel_min: float
    recoat_from_min: float
    recoat_until_min: float
    sandable_from_min: float
    in_service_from_min: float
    largest_batch_g: float = LARGEST_BATCH_G
    price_per_ml: Decimal | None = None
    temperature_c: float = ROOM_C

    def __post_init__(self) -> None:
        if len(self.ratio) != 2:
            raise CupgeomError("ratio", f"must be two parts such as 1:1, got {len(self.ratio)}")
        for index, part in enumerate(self.ratio):
            require_positive(f"ratio[{index}]", part, "parts")
            require_at_most(f"ratio[{index}]", part, _LARGEST_RATIO, "parts")
        for where in ("density_a_g_per_ml", "density_b_g_per_ml"):
            require_at_least(where, getattr(self, where), _LEAST_DENSITY, "g/mL")
            require_at_most(where, getattr(self, where), _MOST_DENSITY, "g/mL")
        self._check_viscosity()
        for where in ("pot_life_mass_g", "largest_batch_g"):
            require_positive(where, getattr(self, where), "g")
        require_temperature("temperature_c", self.temperature_c)
        self._check_clocks()
        if self.price_per_ml is not None and not (self.price_per_ml.is_finite() and self.price_per_ml >= 0):
            raise CupgeomError("price_per_ml", f"must be 0 or more, got {self.price_per_ml}")

    @property
    def parts(self) -> tuple[Fraction, Fraction]:
        """Shares of A and B by volume, exact as typed; together 1."""
        part_a, part_b = (Fraction(str(part)) for part in self.ratio)
        return part_a / (part_a + part_b), part_b / (part_a + part_b)

    @property
    def density_g_per_ml(self) -> float:
        """Density of the mixture [g/mL], the two parts taken to keep their volumes."""
        share_a, share_b = map(float, self.parts)
        return share_a * self.density_a_g_per_ml + share_b * self.density_b_g_per_ml

    @property
    def density_kg_m3(self) -> float:
        """Density of the mixture [kg/m³]."""
        return 1000 * self.density_g_per_ml

    @property
    def ratio_by_mass(self) -> float:
        """Grams of A for each gram of B."""
        share_a, share_b = map(float, self.parts)
        return share_a * self.density_a_g_per_ml / (share_b * self.density_b_g_per_ml)

    def viscosity_pa_s(self, temperature_c: float) -> float:
        """Viscosity of the freshly mixed resin at a temperature [Pa·s].

        Notes
        -----
        μ = A exp(B/T), T in kelvin (E. N. da C. Andrade, Philosophical Magazine 17 (1934) 497; from memory), through
        the two viscosities of the sheet; through one of them with the assumed B of `ANDRADE_K`.
        """
        require_temperature("temperature", temperature_c)
        pairs = ((ROOM_C, BODY_PA_S[self.viscosity]),) if isinstance(self.viscosity, str) else self.viscosity
        (first_c, first), *others = pairs
        steepness = ANDRADE_K
        for second_c, second in others:
            steepness = math.log(first / second) / (_inverse_k(first_c) - _inverse_k(second_c))
        return first * math.exp(steepness * (_inverse_k(temperature_c) - _inverse_k(first_c)))

    def in_room(self, temperature_c: float) -> Resin:
        """The same resin with its clocks as they run in a room of another temperature [°C].

        Notes
        -----
        Each clock runs 2^(ΔT/10) times as fast, a rule of thumb (`DOUBLING_DEGREES`) that a data sheet beats.
        """
        require_temperature("room", temperature_c)
        slower = 2 ** ((self.temperature_c - temperature_c) / DOUBLING_DEGREES)
        return replace(
            self,
            temperature_c=temperature_c,
            pot_life_min=self.pot_life_min * slower,
            gel_min=self.gel_min * slower,
            recoat_from_min=self.recoat_from_min * slower,
            recoat_until_min=self.recoat_until_min * slower,
            sandable_from_min=self.sandable_from_min * slower,
            in_service_from_min=self.in_service_from_min * slower,
        )

    def pot_life_of(self, mass_g: float) -> float:
        """How long a pot of another mass can be worked [min].

        Less in proportion for a larger one, no more for a smaller: assumed, and cautious; a data sheet that gives
        several masses beats it.
        """
        require_positive("mass", mass_g, "g")
        return self.pot_life_min * min(1.0, self.pot_life_mass_g / mass_g)

    def notices(self, room_c: float) -> tuple[Notice, ...]:
        """What is assumed where the data sheet is silent, for a room of this temperature [°C]."""
        said = []
        if isinstance(self.viscosity, str):
            what = f"{self.viscosity} is taken as {number(BODY_PA_S[self.viscosity])} Pa·s at {number(ROOM_C)} °C"
            said.append(Notice("viscosity", what, "put the data sheet's viscosity in the shop file"))
        elif len(self.viscosity) == 1 and room_c != self.viscosity[0][0]:
            said.append(Notice("viscosity", "known at one temperature; assumed to halve every 10 degrees up"))
        if room_c != self.temperature_c:
            what = f"at {number(room_c)} °C the clocks are assumed to run 2^(degrees/10) times as fast as at"
            said.append(Notice("room", f"{what} {number(self.temperature_c)} °C", "the data sheet rules"))
        if not ROOM_RANGE_C[0] <= room_c <= ROOM_RANGE_C[1]:
            low, high = map(number, ROOM_RANGE_C)
            what = f"{number(room_c)} °C is outside {low} to {high} °C, where resin is commonly worked"
            said.append(Notice("room", what, "the clocks are guesses there"))
        return tuple(said)

    def _check_viscosity(self) -> None:
        if isinstance(self.viscosity, str):
            if self.viscosity not in BODIES:
                words = ", ".join(BODIES)
                raise CupgeomError("viscosity", f"must be one of {words}, or numbers, got {self.viscosity!r}")
            return
        if len(self.viscosity) not in (1, 2):
            raise CupgeomError("viscosity", f"must be one or two pairs, got {len(self.viscosity)}")
        for index, (degrees, pa_s) in enumerate(self.viscosity):
            with within(f"viscosity[{index}]"):
                require_temperature("[0]", degrees)
                require_at_least("[1]", pa_s, _FIRST_VISCOSITY, "Pa·s")
                require_at_most("[1]", pa_s, _LAST_VISCOSITY, "Pa·s")
        if len(self.viscosity) == 2:
            (colder, thicker), (warmer, thinner) = sorted(self.viscosity)
            if colder == warmer:
                raise CupgeomError("viscosity[1][0]", f"must be another temperature than {number(colder)} °C")
            if thinner >= thicker:
                raise CupgeomError("viscosity", "must be less at the higher of the two temperatures")

    def _check_clocks(self) -> None:
        clocks = ("pot_life_min", "gel_min", "recoat_from_min", "recoat_until_min", "sandable_from_min")
        for where in (*clocks, "in_service_from_min"):
            require_positive(where, getattr(self, where), "min")
            require_at_most(where, getattr(self, where), _LONGEST_MIN, "min")
        ordered = (
            ("pot_life_min", "gel_min"),
            ("recoat_from_min", "recoat_until_min"),
            ("gel_min", "sandable_from_min"),
            ("sandable_from_min", "in_service_from_min"),
        )
        for first, later in ordered:
            before, after = getattr(self, first), getattr(self, later)
            if after < before:
                what = f"must not be before {first} ({number(before)} min), got {number(after)} min"
                raise CupgeomError(later, what)


def require_temperature(where: str, temperature_c: float) -> None:
    """Raise unless a temperature [°C] is one that resin is worked at."""
    require_finite(where, temperature_c, "°C")
    if not _COLDEST_C <= temperature_c <= _HOTTEST_C:
        low, high = number(_COLDEST_C), number(_HOTTEST_C)
        raise CupgeomError(where, f"must be from {low} to {high} °C, got {number(temperature_c)} °C")


def _inverse_k(temperature_c: float) -> float:
    return 1 / (temperature_c + _ZERO_C_IN_K)


EXAMPLE = Resin(  # invented: it is nobody's resin and stands in until the shop file names one
    name="invented example",
    ratio=(1.0, 1.0),
    density_a_g_per_ml=1.15,
    density_b_g_per_ml=1.05,
    viscosity=((22.0, 1.0), (35.0, 0.4)),
    pot_life_min=40.0,
    pot_life_mass_g=100.0,
    gel_min=240.0,
    recoat_from_min=240.0,
    recoat_until_min=720.0,
    sandable_from_min=600.0,
    in_service_from_min=7 * 24 * 60.0,
)
