"""A measured cup: the sizes with their uncertainties, and what the readings say of each other."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.cup import Cup
from cupgeom.errors import CupgeomError, Notice
from cupgeom.measure.estimate import Estimate, propagate
from cupgeom.measure.reading import Reading, listed
from cupgeom.measure.sizes import cup_of
from cupgeom.measure.verdict import Verdict

if TYPE_CHECKING:
    from cupgeom.measure.profile import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """What one reading says beside the fitted cup.

    Parameters
    ----------
    name
        The reading in a maker's words.
    reading
        As it was given.
    fitted
        What it would be on the fitted cup [mm].
    redundancy
        How well the others check it, 0 (not at all) to 1.
    standardized
        Residual over its own standard deviation; 0 when nothing checks the reading.
    error
        The reading minus what the others say it should be [mm]; None when they say nothing.
    """

    name: str
    reading: Reading
    fitted: float
    redundancy: float
    standardized: float
    error: float | None

    @property
    def residual(self) -> float:
        """Reading minus fitted [mm]."""
        return self.reading.value - self.fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A cup from readings, with what is known about its sizes and about the readings.

    Parameters
    ----------
    cup
        The fitted cup, without film.
    residuals
        One for each reading used, in the order given.
    left_out
        Names of the readings set aside.
    unknowns
        What was fitted: ring diameters, slants, and the film where a reading touched the coats.
    covariance
        Of the unknowns [mm²].
    estimates
        Diameters, slants, height, area, length of both edges, seam gaps, film.
    verdict
        Whether the readings agree.
    rings
        How many rings were fitted; the cup has fewer where a ring came to lie on the straight line of its neighbours.

    Notes
    -----
    Uncertainties are standard uncertainties (k = 1), propagated with all correlations (GUM, JCGM 100:2008). The 95 %
    range is ±1.96 of them, normal and not Student's, since the readings' uncertainties are stated beforehand and not
    taken from their scatter.
    """

    cup: Cup
    residuals: tuple[Residual, ...]
    left_out: tuple[str, ...]
    unknowns: tuple[Estimate, ...]
    covariance: tuple[tuple[float, ...], ...]
    estimates: tuple[Estimate, ...]
    verdict: Verdict
    rings: int

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What can be doubted: readings that disagree, readings that nothing checks."""
        return self.verdict.notices

    @property
    def film(self) -> float:
        """Film on the walls [mm]; 0 when no reading touched the coats."""
        return self.unknowns[-1].value if len(self.unknowns) == 2 * self.rings else 0.0

    @property
    def coated_cup(self) -> Cup:
        """The cup as it is under its film."""
        return self.cup.grown(max(self.film, 0.0))

    def estimate(self, name: str) -> Estimate:
        """The estimate of this name, such as ``rim diameter``, ``slant``, ``area`` or ``seam gap at the base``.

        Raises
        ------
        CupgeomError
            Naming those there are.
        """
        for estimate in self.estimates:
            if estimate.name == name:
                return estimate
        raise CupgeomError(
            "estimate",
            f"there is none called {name!r}; there are {listed([estimate.name for estimate in self.estimates])}",
        )

    def uncertainty_of(
        self, function: Callable[[Cup], float], name: str = "value", unit: str = "mm", *, coated: bool = False
    ) -> Estimate:
        """Any number that follows from the cup, with its uncertainty.

        Parameters
        ----------
        function
            Takes a cup near the fitted one.
        coated
            Hand it the coated cup.
        """

        def of_unknowns(unknowns: Floats) -> float:
            cup = cup_of(unknowns, self.rings)
            film = unknowns[-1] if len(unknowns) == 2 * self.rings else 0.0
            return function(cup.grown(max(float(film), 0.0)) if coated else cup)

        values, spread = propagate(of_unknowns, [unknown.value for unknown in self.unknowns], self.covariance)
        return Estimate(name=name, value=float(values[0]), uncertainty=math.sqrt(spread[0, 0]), unit=unit)
