"""From a curve to straight walls: the fewest chords within an error, spread evenly."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, number
from cupgeom.profile.pieces import Piece

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

CHORD_ERROR = 0.05  # mm; well below what a hand cuts to (common practice, no source)
LEAST_CHORD_ERROR = 1e-6  # mm; below it rounding decides
MOST_WALLS = 1000  # from one piece
_SAMPLES = 65  # a smooth stretch; they find a largest distance to within 1/4000
_MARGIN = 1 - 5e-4  # of the chord error, for what lies between the samples
_EVEN = 1e-5  # share of the error within which a chord counts as the longest
_SAME = 1e-3  # share of the error below which a smaller one is not sought
_NOTHING = 1e-200  # mm; stands for a deviation of 0


def facet_parameters(piece: Piece, chord_error: float) -> list[float]:
    """Parameters of a piece, first to last, whose chords keep within the error of the curve.

    Each chord from the top is as long as the error lets it be, which needs the fewest; the same number is then spread
    evenly.

    Raises
    ------
    CupgeomError
        When more than `MOST_WALLS` are needed.
    """
    allowed = chord_error * _MARGIN
    ends = _chords(piece, allowed, MOST_WALLS)
    if ends is None:
        raise CupgeomError(
            "chord_error", f"would cut a piece into more than {MOST_WALLS} walls, got {number(chord_error)} mm"
        )
    return _spread(piece, ends, allowed)


def deviation(piece: Piece, start: float, end: float) -> float:
    """Largest distance of the curve between two parameters from the chord that joins its ends."""
    import numpy as np

    stops = [start, *(at for at in piece.breaks if start < at < end), end]
    points = piece.trace(np.concatenate([np.linspace(*ends, _SAMPLES) for ends in pairwise(stops)]))
    across, down = points.radius - points.radius[0], points.height - points.height[0]
    run, fall = across[-1], down[-1]
    share = np.clip((across * run + down * fall) / (run * run + fall * fall), 0, 1)
    return float(np.hypot(across - share * run, down - share * fall).max())


def _chords(piece: Piece, allowed: float, most: int) -> list[float] | None:
    """Ends of the longest chords from the top down, None when there would be more than `most`."""
    first, last = piece.breaks[0], piece.breaks[-1]
    ends, step = [first], last - first
    while ends[-1] < last:
        if len(ends) > most:
            return None
        ends.append(_longest(piece, ends[-1], step, allowed))
        step = ends[-1] - ends[-2]
    return ends


def _longest(piece: Piece, start: float, step: float, allowed: float) -> float:
    """End of the longest chord from a parameter, within `_EVEN` of the error; `step` is where the search begins.

    A chord's deviation grows as the square of its length, which tells the next trial; where the curve does otherwise
    and the bracket shrinks slowly, it is halved.
    """
    last = piece.breaks[-1]
    if deviation(piece, start, last) <= allowed:
        return last
    short, long, trial = start, last, start + step
    while long - short > _EVEN * (long - start):
        if not short < trial < long:
            trial = (short + long) / 2
        width = long - short
        error = deviation(piece, start, trial)
        if error > allowed:
            long = trial
        elif error >= allowed * (1 - _EVEN):
            return trial
        else:
            short = trial
        trial = start + (trial - start) * math.sqrt(allowed * (1 - _EVEN / 2) / max(error, _NOTHING))
        if long - short > width / 2:
            trial = (short + long) / 2
    return short


def _spread(piece: Piece, ends: list[float], allowed: float) -> list[float]:
    """As many chords at the smallest error that needs no more of them, so that the last is as long as the others."""
    count, refused = len(ends) - 1, 0.0
    while allowed - refused > _SAME * allowed:
        last = math.sqrt(deviation(piece, ends[-2], ends[-1]) / allowed)  # its length as a share of a full one
        if last >= 1 - count * _EVEN or count == 1:
            break
        trial = allowed * ((count - 1 + last) / count) ** 2 * (1 + _EVEN)
        if not refused < trial < allowed:
            trial = (refused + allowed) / 2
        fewer = _chords(piece, trial, count)
        if fewer is None:
            refused = trial
        else:
            ends, allowed = fewer, trial
    return ends
