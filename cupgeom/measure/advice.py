"""What a maker could read next, and which of it would help most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

from cupgeom.measure.place import BASE, RIM, Place
from cupgeom.measure.reading import Calliper, Height, Reading, Slant, Tape

if TYPE_CHECKING:
    from cupgeom.measure.adjust import Floats

_OPEN_AT_LEAST = 5.0  # mm; what is known better than this is not called open
_OPEN_SHARE = 0.25  # nor what is known better than this share of itself
_BEFORE = 1e3  # mm, standard uncertainty of everything before anything was read


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A reading that could be taken, in words that follow "measure". Only its place and uncertainty matter."""

    words: str
    reading: Reading


@cache
def candidates(rings: int, film: bool) -> tuple[Candidate, ...]:
    """All single readings worth suggesting for a cup, the easiest and surest first."""
    places = [RIM, *(Place(ring=index) for index in range(1, rings - 1)), BASE]
    found = [
        Candidate(
            words=f"{place.words} (across with a calliper, or round it with a tape)",
            reading=Calliper(value=1, at=place),
        )
        for place in places
    ]
    pairs = [*pairwise(places), *([(RIM, BASE)] if rings > 2 else [])]
    for kind, how in ((Slant, "along the wall"), (Height, "straight up")):
        for top, bottom in pairs:
            reading = kind(value=1, top=top, bottom=bottom)
            found.append(Candidate(words=f"the {reading.name} ({how})", reading=reading))
    if film:
        tape = Tape(value=10, at=RIM, coated=True)
        found.append(Candidate(words="the rim of the coated cup (round it with a tape)", reading=tape))
    return tuple(found)


def still_open(design: Floats, sizes: Floats, rows: Floats, worth: Floats) -> list[int]:
    """Which candidates have to be measured before the readings make a cup; none when they do.

    Parameters
    ----------
    design
        Weighted derivatives of the readings so far, shape (m, p).
    sizes
        Rough values of the unknowns, shape (p,) [mm].
    rows
        Weighted derivatives of the candidates, shape (c, p).
    worth
        What the candidates would roughly read over their uncertainty, shape (c,).

    Notes
    -----
    Something is open when its standard uncertainty is more than a quarter of it and more than 5 mm. Candidates are
    tried in their order; one is taken when what it would read is still open, until no unknown is.
    """
    import numpy as np

    tall = np.concatenate([design, np.eye(design.shape[1]) / _BEFORE])
    needed: list[int] = []
    for index, row in enumerate(rows):
        inverse = np.linalg.inv(np.linalg.qr(tall)[1])
        spread = inverse @ inverse.T
        if not (np.sqrt(np.diag(spread)) > np.maximum(_OPEN_AT_LEAST, _OPEN_SHARE * np.abs(sizes))).any():
            break
        least = max(_OPEN_SHARE * worth[index], _OPEN_AT_LEAST * np.abs(row).max())
        if np.sqrt(row @ spread @ row) > least:
            needed.append(index)
            tall = np.concatenate([tall, row[None, :]])
    return needed


def settling(design: Floats, group: Sequence[int], rows: Floats) -> int | None:
    """Which one candidate would tell the readings of a group apart best; None when none of them helps.

    The standardized residuals of two readings that can't be told apart have the correlation ±1. The candidate taken
    is the one that leaves the least sum of squared correlations in the group.
    """
    import numpy as np

    scores = []
    for row in (*rows, np.zeros(design.shape[1])):
        square = np.linalg.qr(np.concatenate([design, row[None, :]]))[0]
        block = (np.eye(len(square)) - square @ square.T)[np.ix_(group, group)]
        deviations = np.sqrt(np.maximum(np.diag(block), 1e-12))
        scores.append(float(((block / np.outer(deviations, deviations)) ** 2).sum()))
    *helped, before = scores
    best = min(range(len(helped)), key=lambda index: round(helped[index], 2))
    return best if helped[best] < before - 1e-6 else None
