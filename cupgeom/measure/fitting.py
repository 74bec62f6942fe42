"""The one fit of a cup to all its readings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, number
from cupgeom.measure.adjust import Adjustment, adjust, derivatives
from cupgeom.measure.advice import candidates, settling, still_open
from cupgeom.measure.estimate import COVERAGE_FACTOR_95
from cupgeom.measure.measured import Measured, Residual
from cupgeom.measure.paper import PaperGap
from cupgeom.measure.profile import Profile
from cupgeom.measure.reading import Film, Reading, Slant, labels, listed
from cupgeom.measure.sizes import cup_of, estimates, sizes_of, unknown_names
from cupgeom.measure.start import start
from cupgeom.measure.verdict import judge

if TYPE_CHECKING:
    from cupgeom.measure.adjust import Floats, Predict


def fit(readings: Sequence[Reading | PaperGap], *, rings: int = 2, without: Sequence[str] = ()) -> Measured:
    """The cup that fits the readings best.

    Parameters
    ----------
    readings
        In any mix and number; a `PaperGap` stands for up to three.
    rings
        How many rings the cup has from the rim to the base; 2 for one straight wall.
    without
        Names of readings to set aside, as the verdict names them. The name of what was read several times, without a
        number, sets all of them aside.

    Raises
    ------
    CupgeomError
        When the readings leave something open (says what to measure next), or make no cup (names the reading).

    Notes
    -----
    Weighted least squares; see `cupgeom.measure.adjust.adjust` and, for the verdict, `cupgeom.measure.verdict`.
    """
    import numpy as np

    if type(rings) is not int or rings < 2:
        raise CupgeomError("rings", f"must be a whole number of at least 2, got {rings!r}")
    given = [part for item in readings for part in (item.readings if isinstance(item, PaperGap) else (item,))]
    names, used = _chosen(given, without)
    _check_rings(names, used, rings)
    film = any(reading.coated or isinstance(reading, Film) for reading in used)
    values = np.array([reading.value for reading in used])
    uncertainties = np.array([reading.uncertainty for reading in used])
    begin = start(used, rings, film)
    _check_open(used, rings, film, begin)

    def solve(rows: Sequence[int]) -> Adjustment:
        part = list(rows)
        predict = predictor([used[row] for row in part], rings)
        return adjust(predict, values[None, part], uncertainties[part], begin)

    def settle(fitted: Adjustment, rows: Sequence[int]) -> str:
        options = candidates(rings, film)
        predict = predictor([option.reading for option in options], rings)
        weights = np.array([option.reading.uncertainty for option in options])
        best = settling(fitted.design[0], rows, derivatives(predict, fitted.unknowns)[0] / weights[:, None])
        if best is None:
            return ""
        return options[best].words + (" once more" if options[best].reading.name in names else "")

    fitted = solve(range(len(used)))
    unknowns, covariance = fitted.unknowns[0], fitted.covariance[0]
    _check_fit(names, used, fitted, rings)
    verdict = judge(names, values.tolist(), fitted, solve, settle)
    errors, redundancies, standardized = fitted.errors[0], fitted.redundancies[0], fitted.standardized[0]
    return Measured(
        cup=cup_of(unknowns, rings),
        residuals=tuple(
            Residual(
                name=name,
                reading=reading,
                fitted=float(reading.value - fitted.residuals[0, row]),
                redundancy=float(redundancies[row]),
                standardized=float(standardized[row]),
                error=None if np.isnan(errors[row]) else float(errors[row]),
            )
            for row, (name, reading) in enumerate(zip(names, used, strict=True))
        ),
        left_out=tuple(name for name in labels(given) if name not in names),
        unknowns=estimates(unknown_names(rings, film), unknowns, covariance),
        covariance=tuple(tuple(row) for row in covariance.tolist()),
        estimates=sizes_of(unknowns, covariance, rings, film),
        verdict=verdict,
        rings=rings,
    )


def predictor(readings: Sequence[Reading], rings: int) -> Predict:
    """What readings would be as a function of the unknowns: shapes (q, p) → (q, m)."""
    import numpy as np

    coated = any(reading.coated for reading in readings)

    def predict(unknowns: Floats) -> Floats:
        bare = Profile.of(unknowns, rings)
        grown = bare.grown() if coated else bare
        return np.stack([reading.predict(grown if reading.coated else bare) for reading in readings], axis=1)

    return predict


def _chosen(given: Sequence[Reading], without: Sequence[str]) -> tuple[tuple[str, ...], tuple[Reading, ...]]:
    """The readings that are kept, with their names."""
    names = labels(given)
    known = {*names, *(reading.name for reading in given)}
    for name in without:
        if name not in known:
            there = f"there are {listed(names)}" if names else "there are none"
            raise CupgeomError("without", f"no reading is called {name!r}; {there}")
    kept = [pair for pair in zip(names, given, strict=True) if not {pair[0], pair[1].name} & set(without)]
    return tuple(name for name, _ in kept), tuple(reading for _, reading in kept)


def _check_rings(names: Sequence[str], used: Sequence[Reading], rings: int) -> None:
    for name, reading in zip(names, used, strict=True):
        for place in reading.places:
            if place.ring is not None and place.ring >= rings:
                raise CupgeomError(name, f"must be at a ring of the cup (0 to {rings - 1}), got ring {place.ring}")


def _check_open(used: Sequence[Reading], rings: int, film: bool, begin: Floats) -> None:
    """Raise when the readings leave something open."""
    import numpy as np

    options = candidates(rings, film)
    weights = np.array([reading.uncertainty for reading in (*used, *(option.reading for option in options))])
    predict = predictor([*used, *(option.reading for option in options)], rings)
    rows = derivatives(predict, begin[None, :])[0] / weights[:, None]
    worth = predict(begin[None, :])[0] / weights
    needed = still_open(rows[: len(used)], begin, rows[len(used) :], worth[len(used) :])
    if needed:
        words = listed([options[index].words for index in needed])
        raise CupgeomError("readings", f"not enough to make a cup; measure next: {words}")


def _check_fit(names: Sequence[str], used: Sequence[Reading], fitted: Adjustment, rings: int) -> None:
    """Raise, naming a reading, when the fit makes no cup or a place lies off its wall."""
    import numpy as np

    worst = names[int(np.abs(fitted.standardized[0]).argmax())]
    unknowns = fitted.unknowns[0]
    bare = Profile.of(fitted.unknowns, rings)
    grown = bare.grown() if any(reading.coated for reading in used) else bare
    slack = COVERAGE_FACTOR_95 * math.sqrt(fitted.covariance[0][rings : 2 * rings - 1, rings : 2 * rings - 1].sum())
    for name, reading in zip(names, used, strict=True):
        wall = float((grown if reading.coated else bare).slants.sum())
        for place in reading.places:
            distance = place.drop if place.drop is not None else place.up
            if distance is not None and distance > wall + slack:
                long = number(round(wall, 2))
                raise CupgeomError(name, f"must be on the wall, which is {long} mm long, got {place.words}")
    for index in range(rings - 1):
        rise, slant = abs(unknowns[index + 1] - unknowns[index]) / 2, unknowns[rings + index]
        if not slant > rise:
            culprit = _along(names, used, bare, index) or worst
            raise CupgeomError(
                culprit,
                f"makes the wall {number(round(slant, 2))} mm long, but its radii differ by "
                f"{number(round(rise, 2))} mm; measure again",
            )
    if unknowns[:rings].min() < 0:
        raise CupgeomError(worst, "makes a diameter less than 0 mm; measure again")
    if not fitted.settled[0]:
        raise CupgeomError(worst, "contradicts the other readings so far that they make no cup; measure again")


def _along(names: Sequence[str], used: Sequence[Reading], bare: Profile, wall: int) -> str:
    """The slant that was read along the fewest walls, this one among them; empty when there is none."""
    start, end = bare.slants[0, :wall].sum(), bare.slants[0, : wall + 1].sum()
    spans = []
    for name, reading in zip(names, used, strict=True):
        if isinstance(reading, Slant):
            top, bottom = bare.level(reading.top)[0], bare.level(reading.bottom)[0]
            if top <= (start + end) / 2 <= bottom:
                spans.append((bottom - top, name))
    return min(spans)[1] if spans else ""
