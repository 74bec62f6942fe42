"""Weighted least squares: the unknowns that fit the readings best, and how well each reading is checked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Predict = Callable[[Floats], Floats]  # unknowns (q, p) → readings (q, m)

UNCHECKED = 1e-9  # a redundancy below this is rounding
_STEP = 1e-4  # mm, step of the numerical derivatives
_SETTLED = 1e-7  # mm; a round that moves nothing further than this was the last
_ROUNDS = 60
_DAMPING = 1e-3  # of the normal matrix's diagonal, when a plain step made the fit worse
_BEFORE = 1e-6  # 1/mm; every unknown is known to a kilometre beforehand, so that no equation is empty


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjustment:
    """The fits of q sets of readings: p unknowns, m readings each.

    Parameters
    ----------
    unknowns
        Shape (q, p).
    residuals
        Reading minus fitted, shape (q, m) [mm].
    uncertainties
        Of the readings, shape (m,) [mm].
    design
        Derivatives of the readings by the unknowns, each row divided by its reading's uncertainty, shape (q, m, p).
    covariance
        Of the unknowns, shape (q, p, p) [mm²].
    chi_square
        Sum of (residual/uncertainty)², shape (q,).
    settled
        Whether the search ended at a minimum, shape (q,).
    """

    unknowns: Floats
    residuals: Floats
    uncertainties: Floats
    design: Floats
    covariance: Floats
    chi_square: Floats
    settled: NDArray[np.bool_]

    @property
    def degrees(self) -> int:
        """Degrees of freedom: readings more than unknowns."""
        _, readings, unknowns = self.design.shape
        return int(readings - unknowns)

    @property
    def checks(self) -> Floats:
        """How each reading is checked by the others, shape (q, m, m).

        R = I − A(AᵀA)⁻¹Aᵀ with the weighted design A: an error in reading j shows in residual i with the share R_ij,
        both counted in their own uncertainties. R_ii, the redundancy, is 0 for a reading that nothing checks.
        """
        import numpy as np

        spread = self.design @ self.covariance @ np.swapaxes(self.design, 1, 2)
        return np.eye(self.design.shape[1]) - spread

    @property
    def redundancies(self) -> Floats:
        """R_ii of each reading, 0 (nothing checks it) to 1, shape (q, m)."""
        import numpy as np

        return np.clip(np.diagonal(self.checks, axis1=1, axis2=2), 0, 1)

    @property
    def standardized(self) -> Floats:
        """Residual over its own standard deviation, w = v/√R_ii, shape (q, m); 0 where nothing checks the reading."""
        import numpy as np

        redundancies, misfit = self.redundancies, self.residuals / self.uncertainties
        checked = redundancies > UNCHECKED
        return np.where(checked, misfit / np.sqrt(np.where(checked, redundancies, 1)), 0)

    @property
    def errors(self) -> Floats:
        """Reading minus what the others say it should be, shape (q, m) [mm]; NaN where they say nothing."""
        import numpy as np

        redundancies = self.redundancies
        checked = redundancies > UNCHECKED
        return np.where(checked, self.residuals / np.where(checked, redundancies, 1), np.nan)


def adjust(predict: Predict, readings: Floats, uncertainties: Floats, start: Floats) -> Adjustment:
    """Fit q sets of readings at once.

    Parameters
    ----------
    predict
        What the readings would be: unknowns (q, p) → (q, m), NaN for unknowns that make no cup.
    readings
        Shape (q, m).
    uncertainties
        Standard uncertainties, shape (m,).
    start
        Where to begin, shape (p,) or (q, p); it must make a cup.

    Notes
    -----
    Gauss–Newton steps, damped after Levenberg and Marquardt where a step would make the fit worse or no cup. Each step
    solves the weighted equations by orthogonal triangles (QR), not by the normal equations. The covariance is
    (AᵀA)⁻¹: the uncertainties are taken as stated and are not rescaled by the misfit.
    """
    import numpy as np

    unknowns = np.array(np.broadcast_to(start, (len(readings), np.shape(start)[-1])), dtype=float)
    count = unknowns.shape[1]
    damping, settled = np.zeros(len(readings)), np.zeros(len(readings), dtype=bool)
    misfit = (readings - predict(unknowns)) / uncertainties
    for _ in range(_ROUNDS):
        design = derivatives(predict, unknowns) / uncertainties[:, None]
        brakes = np.sqrt(damping[:, None] * (design**2).sum(axis=1) + _BEFORE**2)
        tall = np.concatenate([design, brakes[:, :, None] * np.eye(count)], axis=1)
        square, triangle = np.linalg.qr(tall)
        aim = np.concatenate([misfit, np.zeros((len(readings), count))], axis=1)
        steps = np.linalg.solve(triangle, np.swapaxes(square, 1, 2) @ aim[:, :, None])[:, :, 0]
        trial = (readings - predict(unknowns + steps)) / uncertainties
        before, after = (misfit**2).sum(axis=1), (trial**2).sum(axis=1)
        better = after <= before * (1 + 1e-9) + 1e-12
        settled = settled | (better & (np.abs(steps).max(axis=1) <= _SETTLED))
        unknowns = np.where(better[:, None], unknowns + steps, unknowns)
        misfit = np.where(better[:, None], trial, misfit)
        damping = np.where(better, np.where(damping > _DAMPING, damping / 10, 0), np.maximum(10 * damping, _DAMPING))
        if settled.all():
            break
    design = derivatives(predict, unknowns) / uncertainties[:, None]
    known = np.broadcast_to(_BEFORE * np.eye(count), (len(readings), count, count))
    inverse = np.linalg.inv(np.linalg.qr(np.concatenate([design, known], axis=1))[1])
    return Adjustment(
        unknowns=unknowns,
        residuals=misfit * uncertainties,
        uncertainties=uncertainties,
        design=design,
        covariance=inverse @ np.swapaxes(inverse, 1, 2),
        chi_square=(misfit**2).sum(axis=1),
        settled=settled,
    )


def derivatives(predict: Predict, unknowns: Floats) -> Floats:
    """Derivatives of m readings by p unknowns at q places, by central differences, shape (q, m, p)."""
    import numpy as np

    sets, count = unknowns.shape
    shifts = _STEP * np.concatenate([np.eye(count), -np.eye(count)])
    values = predict((unknowns[:, None, :] + shifts).reshape(-1, count)).reshape(sets, 2 * count, -1)
    rises = values[:, :count] - values[:, count:]
    return np.swapaxes(rises, 1, 2) / (2 * _STEP)
