"""Outlines as cells of a grid, and where two of them meet: whole bitmaps kept in one integer each.

A bitmap of rows of `stride` bits is an integer: the cell in column x and row y is bit y·stride + x. Moving it is one
shift, joining two is one `or`, so that all places where one piece would touch another cost a few operations a row.
Every cell that the outline touches is set, so that two pieces whose cells differ are surely apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

_MOST_BYTES = 160_000_000  # of bitmaps kept to be used again
_SIMPLER = 0.05  # mm; by so much the outlines are grown and then simplified, which makes them quick to cut into rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Mask:
    """The cells that a shape touches, as runs (row, first column, columns), counted from the bottom left of its box."""

    columns: int
    rows: int
    runs: tuple[tuple[int, int, int], ...] = field(repr=False)


def pad_of(gap: float) -> float:
    """By how much outlines are grown before they become cells: half the gap and what simplifying takes."""
    return gap / 2 + _SIMPLER


def mask_of(shape: Any, pad: float, cell: float) -> Mask:
    """The cells that a shapely shape grown by `pad` touches; the grid starts at the grown box's bottom left corner."""
    from shapely import clip_by_rect

    left, bottom, right, top = shape.bounds
    left, bottom, right, top = left - pad, bottom - pad, right + pad, top + pad
    grown = shape.simplify(_SIMPLER / 4).buffer(pad, quad_segs=8).simplify(_SIMPLER / 2)
    columns, rows = (math.ceil((high - low) / cell - 1e-9) for low, high in ((left, right), (bottom, top)))
    runs: list[tuple[int, int, int]] = []
    for row in range(rows):
        low = bottom + row * cell
        strip = clip_by_rect(grown, left - 1, low, right + 1, low + cell)
        spans = sorted((p.bounds[0], p.bounds[2]) for p in getattr(strip, "geoms", [strip]) if not p.is_empty)
        last = -1
        for start, end in spans:
            first = max(0, math.floor((start - left) / cell), last)
            after = min(columns, math.floor((end - left) / cell) + 1)
            if after > first:
                runs.append((row, first, after - first))
                last = after
    return Mask(columns=columns, rows=rows, runs=tuple(runs))


class Meetings:
    """For pairs of masks, the bitmap of moves at which they share a cell; kept, as packing asks again and again."""

    def __init__(self, masks: list[Mask], stride: int) -> None:
        self.masks, self.stride = masks, stride
        self._smears: dict[int, list[int]] = {}
        self._kept: dict[tuple[int, int], int] = {}
        self._bytes = 0

    def moves(self, fixed: int, moving: int) -> int:
        """Where the moving mask meets the fixed one.

        Bit (y, x) says that it does when its corner lies at (x − columns + 1, y − rows + 1) of the moving mask, seen
        from the fixed one's corner.
        """
        key = (fixed, moving)
        if key not in self._kept:
            found = self._moves(fixed, self.masks[moving])
            self._bytes += found.bit_length() // 8
            self._kept[key] = found
            while self._bytes > _MOST_BYTES:
                self._bytes -= self._kept.pop(next(iter(self._kept))).bit_length() // 8
            return found
        return self._kept[key]

    def _moves(self, fixed: int, moving: Mask) -> int:
        smears, found = self._smeared(fixed), 0
        for row, first, count in moving.runs:
            # the fixed mask smeared over `count` columns, from two smears over a power of two
            power = count.bit_length() - 1
            smear = smears[power]
            smear |= smear << (count - (1 << power))
            found |= smear << ((moving.rows - 1 - row) * self.stride + moving.columns - first - count)
        return found

    def _smeared(self, index: int) -> list[int]:
        """The mask's bitmap smeared to the right over 1, 2, 4, 8 … columns."""
        if index not in self._smears:
            bits = 0
            for row, first, count in self.masks[index].runs:
                bits |= ((1 << count) - 1) << (row * self.stride + first)
            smears = [bits]
            widest = max(mask.columns for mask in self.masks)
            while 1 << len(smears) <= widest:
                smears.append(smears[-1] | smears[-1] << (1 << (len(smears) - 1)))
            self._smears[index] = smears
        return self._smears[index]
