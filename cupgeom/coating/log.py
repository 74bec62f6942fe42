"""What a bench log says of the maker's own hand: film, loss and drip limit, each with its 95 % range."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from cupgeom.coating.cure import Cure
from cupgeom.coating.estimate import Bench
from cupgeom.coating.film import smallest_radius
from cupgeom.coating.least_squares import Fitted, fit, student
from cupgeom.coating.mixing import Loss
from cupgeom.coating.pots import Entry
from cupgeom.coating.resin import Resin
from cupgeom.cup import Cup
from cupgeom.errors import CupgeomError, Notice, require_positive
from cupgeom.records import nearest

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HAND_ML = 1.0  # scatter of what a hand lays from one pot [mL, k = 1]: assumed; the misfit sets its size
FILM_MM = 0.05  # scatter of a measured film against it [mm, k = 1]: assumed
STICK_ML = (0.5, 0.5)  # what sticks to stick and gloves, and how well that is known, where a log cannot tell: assumed
_UNLIKELY = 0.05  # chance of naming any row of a good log


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """What a log says of the maker's own hand.

    Attributes
    ----------
    films
        Mean film by label of the coat [mm].
    loss
        What each pot loses [mL]; `left_ml` and `dripped_ml` of it on average.
    own_limit
        The drip limit found at the bench, as a share of the theory's; None where fewer than two coats ran.
    """

    films: Mapping[str, Fitted] = field(default_factory=lambda: MappingProxyType({}))
    loss: Fitted
    left_ml: float
    dripped_ml: float
    own_limit: Fitted | None = None
    notices: tuple[Notice, ...] = ()

    def of(self, bench: Bench) -> Bench:
        """The same bench with this hand: its films, its loss, its drip limit."""
        stick = max(self.loss.value - self.left_ml - self.dripped_ml, 0.0)
        return replace(
            bench,
            own_films=MappingProxyType({label: one.value for label, one in self.films.items()}),
            loss=Loss(pot_ml=self.left_ml, stick_ml=stick, drips_ml=self.dripped_ml),
            own_limit=bench.own_limit if self.own_limit is None else self.own_limit.value,
        )


def learn(
    entries: Sequence[Entry], areas: Mapping[str, float], limits: Mapping[str, float] | None = None, name: str = "log"
) -> Habits:
    """Film, loss and drip limit from a log.

    Parameters
    ----------
    entries
        The pots.
    areas
        Coated area of each cup by name [mm²].
    limits
        Theory's drip limit of each cup by name [mm], for the resin and rack of the log; None where it is not wanted.
    name
        Of the log, for notices.

    Raises
    ------
    CupgeomError
        When there is no pot that did not run, or a cup has no area.

    Notes
    -----
    mixed − left − dripped = film·area·cups + what sticks, and film measured = film: weighted least squares for a film a
    label and one loss. A pot that ran says nothing of the film one wants, but what stayed on the cup is its drip limit.
    """
    _require_known(entries, areas, name)
    steady = [entry for entry in entries if not entry.ran]
    if not steady:
        raise CupgeomError(name, "has no pot that did not run; there is nothing to learn a film from")
    import numpy as np

    found = list(dict.fromkeys(entry.coat for entry in steady))
    design, uncertainties, readings, lines = equations(steady, found, areas)
    notices = []
    if np.linalg.matrix_rank(design / uncertainties[:, None]) < len(found) + 1:
        design = np.vstack([design, [0.0] * len(found) + [1.0]])
        uncertainties, readings = np.append(uncertainties, STICK_ML[1]), np.append(readings, STICK_ML[0])
        what = f"cannot tell the film from what sticks to stick and gloves, taken as {STICK_ML[0]:g} mL"
        notices.append(Notice(name, what, "measure one film, or log cups of another size"))
    result = fit(design, uncertainties, readings[None, :])
    values, halves = result.unknowns[0], result.half_ranges[0]
    films = {label: Fitted(value=float(values[i]), half_range=float(halves[i])) for i, label in enumerate(found)}
    sticks = Fitted(value=float(values[-1]), half_range=float(halves[-1]))
    left = math.fsum(entry.left_ml for entry in steady) / len(steady)
    dripped = math.fsum(entry.dripped_ml for entry in steady) / len(steady)
    notices += _outliers(result.deleted_residuals[0], result.degrees, lines, name)
    own = _own_limit(entries, areas, limits or {}, sticks.value)
    notices += _against_held(steady, areas, limits or {}, sticks.value, own, name)
    if own and own.value > 1:
        what = f"puts the drip limit at {100 * own.value:.0f} % of what theory allows"
        notices.append(Notice(name, what, "check viscosity, rack and room against those of the log"))
    for label in [label for label, one in films.items() if one.value <= 0]:
        del films[label]
        notices.append(Notice(name, f"makes the {label} coat's film less than nothing; common practice is used"))
    return Habits(
        films=MappingProxyType(films),
        loss=Fitted(value=left + dripped + sticks.value, half_range=sticks.half_range),
        left_ml=left,
        dripped_ml=dripped,
        own_limit=own,
        notices=tuple(notices),
    )


def learn_of(
    entries: Sequence[Entry], cups: Mapping[str, Cup], resin: Resin, bench: Bench, name: str = "log"
) -> Habits:
    """The same from the cups themselves, as if the log was kept with this resin, rack and room; see `learn`."""
    rack = Cure(resin=resin.in_room(bench.room_c), cup_c=bench.cup_c).rack(bench.speed_rpm)
    areas = {label: cup.coated_area for label, cup in cups.items()}
    limits = {label: rack.drip_limit(smallest_radius(cup)) for label, cup in cups.items()}
    return learn(entries, areas, limits, name)


def equations(
    entries: Sequence[Entry], found: Sequence[str], areas: Mapping[str, float]
) -> tuple[Floats, Floats, Floats, list[tuple[int, str]]]:
    """The design, the uncertainties, the readings, and the line and column that each comes from."""
    import numpy as np

    rows, uncertainties, readings, lines = [], [], [], []
    for entry in entries:
        label = found.index(entry.coat)
        row = [0.0] * (len(found) + 1)
        row[label], row[-1] = areas[entry.cup] * entry.cups / 1000, 1.0
        rows.append(row)
        uncertainties.append(HAND_ML * math.sqrt(entry.cups))
        readings.append(entry.applied_ml)
        lines.append((entry.line, "mixed"))
        if entry.film is not None:
            rows.append([float(index == label) for index in range(len(row))])
            uncertainties.append(FILM_MM)
            readings.append(entry.film)
            lines.append((entry.line, "film"))
    return np.array(rows), np.array(uncertainties), np.array(readings), lines


def _outliers(deleted: Floats, degrees: int, lines: Sequence[tuple[int, str]], name: str) -> list[Notice]:
    if degrees < 2:
        return []
    threshold = student(1 - _UNLIKELY / 2 / len(deleted), degrees - 1)
    return [
        Notice(f"{name}:{line}", f"{column} disagrees with the other rows", "mend it, or take the row out")
        for (line, column), value in zip(lines, deleted, strict=False)
        if abs(value) > threshold
    ]


def _held(entry: Entry, areas: Mapping[str, float], stick_ml: float) -> float:
    """Mean film that stayed on the cups of a pot."""
    return (entry.applied_ml - stick_ml) * 1000 / (areas[entry.cup] * entry.cups)


def _own_limit(
    entries: Sequence[Entry], areas: Mapping[str, float], limits: Mapping[str, float], stick_ml: float
) -> Fitted | None:
    ran = [entry for entry in entries if entry.ran and entry.cup in limits]
    shares = [_held(entry, areas, stick_ml) / limits[entry.cup] for entry in ran]
    count = len(shares)
    if count < 2 or min(shares) <= 0:
        return None
    mean = math.fsum(shares) / count
    variance = math.fsum((share - mean) ** 2 for share in shares) / (count - 1)
    return Fitted(value=mean, half_range=student(0.975, count - 1) * math.sqrt(variance / count))


def _against_held(
    steady: Sequence[Entry],
    areas: Mapping[str, float],
    limits: Mapping[str, float],
    stick_ml: float,
    own: Fitted | None,
    name: str,
) -> list[Notice]:
    """The rows that held more than the limit found from those that ran."""
    if own is None:
        return []
    most = own.value + own.half_range
    return [
        Notice(f"{name}:{entry.line}", "held more film than those that ran; another rack, resin or room?")
        for entry in steady
        if entry.cup in limits and _held(entry, areas, stick_ml) / limits[entry.cup] > most
    ]


def _require_known(entries: Sequence[Entry], areas: Mapping[str, float], name: str) -> None:
    for entry in entries:
        if entry.cup not in areas:
            what = f"no cup {entry.cup!r}; {nearest(entry.cup, [known for known in areas if known])}"
            raise CupgeomError(f"{name}:{entry.line}: cup", what)
        require_positive(f"area of {entry.cup}", areas[entry.cup], "mm²")
