"""Sheets filled piece by piece on a grid: each piece at the best place that is free, in a given order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple

from cupgeom.sheets.masks import Meetings

Rule = Literal["top", "bottom", "middle"]
RULES: tuple[Rule, ...] = ("top", "bottom", "middle")  # what of a piece is to lie lowest
_SHARE = {"top": 1.0, "bottom": 0.0, "middle": 0.5}


class Turned(NamedTuple):
    """A part at one angle: its mask, and how many columns and rows its corner can be moved inside the room."""

    mask: int
    angle_deg: float
    columns: int
    rows: int


class Step(NamedTuple):
    """The next piece to place, and the one angle at which it must lie, if it must."""

    part: int
    only_deg: float | None = None


class Spot(NamedTuple):
    """Where a piece came to lie."""

    part: int
    turned: Turned
    sheet: int
    column: int
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """What came of one order: the pieces, and how good it is (sheets, rows used on the last, then height in all)."""

    spots: tuple[Spot, ...]
    score: tuple[float, ...]


class _Sheet:
    """A sheet while it is filled: for each mask, the bitmap of corners that are taken."""

    def __init__(self, meetings: Meetings) -> None:
        self.meetings = meetings
        self.placed: list[tuple[int, int, int]] = []
        self.top = 0
        self._taken: dict[int, tuple[int, int]] = {}

    def lowest(self, turned: Turned) -> tuple[int, int] | None:
        """Row and column of the lowest, then leftmost free corner for a mask."""
        stride, mask = self.meetings.stride, self.meetings.masks[turned.mask]
        taken, known = self._taken.get(turned.mask, (0, 0))
        for fixed, column, row in self.placed[known:]:
            taken |= self.meetings.moves(fixed, turned.mask) << (row * stride + column)
        self._taken[turned.mask] = (taken, len(self.placed))
        rows = min(turned.rows, self.top + 1)
        start = (mask.rows - 1) * stride + mask.columns - 1
        room = _rectangle(turned.columns, rows, stride)
        free = room & ~(taken >> start)
        if not free:
            return None
        return divmod((free & -free).bit_length() - 1, stride)

    def add(self, mask: int, column: int, row: int) -> None:
        """Put a mask down."""
        self.placed.append((mask, column, row))
        self.top = max(self.top, row + self.meetings.masks[mask].rows)


@lru_cache(maxsize=512)
def _rectangle(columns: int, rows: int, stride: int) -> int:
    """The bitmap of a full rectangle at the origin."""
    bits, done = (1 << columns) - 1, 1
    while done < rows:
        step = min(done, rows - done)
        bits |= bits << (step * stride)
        done += step
    return bits


def fill(
    meetings: Meetings,
    turns: Sequence[Sequence[Turned]],
    steps: Sequence[Step],
    rule: Rule,
    limit: tuple[float, ...] | None = None,
) -> Fill | None:
    """Place pieces in an order, each on the first sheet that has room and there where `rule` puts it lowest.

    Parameters
    ----------
    meetings, turns
        The masks, and for each part the angles at which it may lie; each fits an empty sheet at one of them.
    steps, rule
        The order, and what is to lie lowest.
    limit
        A score that must not be passed.

    Returns
    -------
    Fill or None
        None when the limit was passed on the way.
    """
    sheets: list[_Sheet] = []
    spots: list[Spot] = []
    share, total = _SHARE[rule], 0.0
    for part, only_deg in steps:
        choices = [turned for turned in turns[part] if only_deg in (None, turned.angle_deg)] or turns[part]
        best: tuple[float, float, int] | None = None
        for index in range(len(sheets) + 1):
            if index == len(sheets):
                sheets.append(_Sheet(meetings))
            for turned in choices:
                place = sheets[index].lowest(turned)
                if place is None:
                    continue
                rows = meetings.masks[turned.mask].rows
                value = (place[0] + share * rows, place[0] + rows, place[1])
                if best is None or value < best:
                    best, chosen = value, Spot(part, turned, index, place[1], place[0])
            if best is not None:
                break
        sheets[chosen.sheet].add(chosen.turned.mask, chosen.column, chosen.row)
        spots.append(chosen)
        total += chosen.row + meetings.masks[chosen.turned.mask].rows / 2
        if limit is not None and (len(sheets), sheets[-1].top) > limit[:2]:
            return None
    return Fill(spots=tuple(spots), score=(len(sheets), sheets[-1].top, total))


def columns_of(length: float, cell: float) -> int:
    """How many cells a length takes."""
    return math.ceil(length / cell - 1e-9)
