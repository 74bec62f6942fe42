"""Weighted least squares of a linear model, its scatter estimated from the misfit; Student's t for its ranges."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, require_at_least, require_finite

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_HALVINGS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A fitted number and half of its 95 % range."""

    value: float
    half_range: float

    def __post_init__(self) -> None:
        require_finite("value", self.value, "")
        require_at_least("half_range", self.half_range, 0, "")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LinearFit:
    """The fits of q sets of m readings with p unknowns, all with one design.

    Attributes
    ----------
    unknowns
        Shape (q, p).
    half_ranges
        Half of the 95 % range of each unknown, shape (q, p).
    deleted_residuals
        Each reading against the fit without it, in standard deviations of that difference, shape (q, m): Student's t
        with degrees − 1; 0 where nothing checks it.
    degrees
        Readings more than unknowns.
    """

    unknowns: Floats
    half_ranges: Floats
    deleted_residuals: Floats
    degrees: int


def fit(design: Floats, uncertainties: Floats, readings: Floats) -> LinearFit:
    """Fit q sets of readings at once.

    Parameters
    ----------
    design
        What each unknown adds to each reading, shape (m, p), of full rank.
    uncertainties
        Of the readings against each other, shape (m,); a common factor is estimated from the misfit.
    readings
        Shape (q, m).

    Notes
    -----
    x = (AᵀA)⁻¹Aᵀy with rows divided by their uncertainties; covariance s²(AᵀA)⁻¹ with s² = misfit²/(m − p), so that
    (x − true)/√var follows Student's t (N. R. Draper & H. Smith, Applied Regression Analysis; from memory). With m = p
    the uncertainties are taken as stated, and the ranges are those of the normal distribution.
    """
    import numpy as np

    weighted, aim = design / uncertainties[:, None], readings / uncertainties
    inverse = np.linalg.pinv(weighted)
    unknowns = aim @ inverse.T
    residuals = aim - unknowns @ weighted.T
    degrees = len(design) - design.shape[1]
    squares = (residuals**2).sum(axis=1)
    variance = squares / degrees if degrees else np.ones(len(readings))
    factor = student(0.975, degrees) if degrees else student(0.975, 10**9)
    spread = np.sqrt((inverse**2).sum(axis=1))
    free = 1 - np.einsum("ij,ji->i", weighted, inverse)
    checked = (free > 1e-9) & (degrees > 1)
    free = np.where(checked, free, 1.0)
    without = (squares[:, None] - residuals**2 / free) / max(degrees - 1, 1)
    tiny = 1e-18 + 1e-24 * squares[:, None]
    return LinearFit(
        unknowns=unknowns,
        half_ranges=factor * np.sqrt(variance)[:, None] * spread,
        deleted_residuals=np.where(checked, residuals / np.sqrt(np.maximum(without, tiny) * free), 0.0),
        degrees=degrees,
    )


@cache
def student(chance: float, degrees: int) -> float:
    """The t below which Student's distribution with so many degrees of freedom has this chance, 0.5 to 1.

    Notes
    -----
    By halving on the finite sums of M. Abramowitz & I. A. Stegun, 26.7.3 and 26.7.4 (from memory); beyond 200 degrees
    by their expansion 26.7.5 round the normal quantile.
    """
    if not 0.5 <= chance < 1 or degrees < 1:
        raise CupgeomError("chance", f"must be from 0.5 to below 1 with at least 1 degree, got {chance}, {degrees}")
    if degrees > 200:
        from statistics import NormalDist

        z = NormalDist().inv_cdf(chance)
        first, second = (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96
        return z + first / degrees + second / degrees**2
    low, high = 0.0, math.pi / 2
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _inside(middle, degrees) < 2 * chance - 1 else (low, middle)
    return math.sqrt(degrees) * math.tan(low)


def _inside(angle: float, degrees: int) -> float:
    """Chance of |t| < √degrees·tan(angle)."""
    cosine, sine = math.cos(angle), math.sin(angle)
    if degrees == 1:
        return 2 * angle / math.pi
    odd = degrees % 2
    term = cosine if odd else 1.0
    total = term
    for k in range(2 + odd, degrees - 1, 2):
        term *= cosine * cosine * (k - 1) / k
        total += term
    return 2 / math.pi * (angle + sine * total) if odd else sine * total
