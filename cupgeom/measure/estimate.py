"""A number with its uncertainty, and how uncertainty passes through a formula."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, require_at_least, require_finite

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

COVERAGE_FACTOR_95 = NormalDist().inv_cdf(0.975)  # 1.960: the uncertainties of the readings are stated, not estimated
_SHARE_OF_UNCERTAINTY = 1e-3  # step of a numerical derivative


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A number with its standard uncertainty (k = 1)."""

    name: str
    value: float
    uncertainty: float
    unit: str = "mm"

    def __post_init__(self) -> None:
        require_finite(self.name, self.value, self.unit)
        require_at_least(f"{self.name}.uncertainty", self.uncertainty, 0, self.unit)

    @property
    def half_range(self) -> float:
        """Half of the 95 % range: the true value lies within value ± this in 19 of 20 cases."""
        return COVERAGE_FACTOR_95 * self.uncertainty


def propagate(
    function: Callable[[Floats], ArrayLike], values: ArrayLike, covariance: ArrayLike
) -> tuple[Floats, Floats]:
    """Results of a formula and their covariance, from its inputs and theirs.

    Parameters
    ----------
    function
        Takes the m inputs, shape (m,), and gives one number or k of them.
    values
        The inputs, shape (m,).
    covariance
        Their covariance, shape (m, m); a standard uncertainty is the square root of its diagonal.

    Returns
    -------
    results, covariance
        Shapes (k,) and (k, k).

    Raises
    ------
    CupgeomError
        When a variance is negative or not finite, or the shapes do not match.

    Notes
    -----
    C_out = J C_in Jᵀ with the sensitivities J by central differences of a thousandth of each uncertainty: the law of
    propagation of uncertainty for correlated inputs, GUM (JCGM 100:2008) section 5.2, first order.
    """
    import numpy as np

    inputs, spread = np.asarray(values, dtype=float), np.asarray(covariance, dtype=float)
    if spread.shape != (inputs.size, inputs.size):
        raise CupgeomError("covariance", f"must be {inputs.size} by {inputs.size}, got shape {spread.shape}")
    if not (np.isfinite(spread).all() and (np.diag(spread) >= 0).all()):
        raise CupgeomError("covariance", "must be finite with no negative variance")
    results = np.atleast_1d(np.asarray(function(inputs), dtype=float))
    sensitivities = np.zeros((results.size, inputs.size))
    for index, step in enumerate(_SHARE_OF_UNCERTAINTY * np.sqrt(np.diag(spread))):
        if step > 0:
            shift = np.zeros(inputs.size)
            shift[index] = step
            rise = np.asarray(function(inputs + shift), dtype=float) - np.asarray(function(inputs - shift), dtype=float)
            sensitivities[:, index] = rise / (2 * step)
    return results, sensitivities @ spread @ sensitivities.T
