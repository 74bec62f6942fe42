"""Pieces packed onto media by true shape: the same input gives the same sheets.

Each piece goes, in some order, to the lowest free place of a grid; several orders are tried, then the best is changed
step by step. At the end the pieces leave the grid: they slide down and to the left until true outlines are a gap apart.
The bitmaps make sure that nothing overlaps on the grid, shapely that nothing does at the end.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

from cupgeom.errors import CupgeomError
from cupgeom.sheets.filling import RULES
from cupgeom.sheets.layout import Layout
from cupgeom.sheets.piece import Part, SheetSize
from cupgeom.sheets.search import FINER_ANGLES, Candidate, Search, sides, worth

Effort = Literal["quick", "usual", "dense"]
EFFORTS: tuple[Effort, ...] = ("quick", "usual", "dense")
Progress = Callable[[int, int], None]
Stop = Callable[[], bool]

_WORK = 4e6  # pairs of pieces looked at in the longest search
_TRIES, _LARGE_TRIES, _DENSE_TRIES = 60, 3000, 600
_WARMTH = 3.0  # rows; how much worse an outcome may be kept at first
_LARGE = 0.25  # of the largest piece's area; from there on pieces are large
_KEPT = 3  # layouts that leave the grid, of which the best is taken
_MOST_BOXES = 400  # pieces that are packed by their boxes too
_CELLS = (1.0, 2.0, 4.0)  # mm
_MOST_CELLS = 1e6  # that the boxes of the pieces may cover together, so that bitmaps stay small


def pack(
    parts: Sequence[Part],
    size: SheetSize,
    *,
    effort: Effort = "usual",
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> Layout:
    """The parts on as few sheets as found, the last one used as little as found.

    Parameters
    ----------
    parts
        What to place; each as often as its count.
    size
        The medium.
    effort
        ``quick`` tries a few orders, ``usual`` some more, ``dense`` starts from there and goes on much longer, with
        pieces turned by half right angles too; more effort never gives a worse layout.
    progress
        Called with the tries done and the tries there may be.
    stop
        Asked before each try but the first; True ends the search, and the best so far is used.

    Raises
    ------
    CupgeomError
        Naming the piece and its size, when the medium cannot hold it; when there is nothing to place.
    """
    if not parts:
        raise CupgeomError("parts", "must hold at least one piece")
    if effort not in EFFORTS:
        raise CupgeomError("effort", f"must be one of {', '.join(EFFORTS)}, got {effort!r}")
    area = sum(part.count * math.prod(sides(part.outline())) for part in parts)
    cell = next((cell for cell in _CELLS if area <= _MOST_CELLS * cell * cell), _CELLS[-1])
    search = Search(parts, size, cell)
    orders = list(search.first_orders())
    large = _large(parts)
    usual = 0 if effort == "quick" else _tries(search, _TRIES, len(orders[0][0]))
    dense = _tries(search, _DENSE_TRIES, len(orders[0][0])) if effort == "dense" else 0
    alone = _tries(search, _LARGE_TRIES, sum(parts[part].count for part in large)) if dense and large else 0
    watch = _Watch(len(orders) - 1 + usual + _KEPT * alone + dense, progress, stop)

    found: list[Candidate] = []
    for steps, rule in orders:
        if found and watch.stopped():
            break
        candidate = search.filled(steps, rule, min(c.fill.score for c in found) if found else None)
        found += [candidate] if candidate else []
    found.sort(key=lambda c: c.fill.score)
    layouts = [search.layout(candidate) for candidate in found[:_KEPT]]
    if len(orders[0][0]) <= _MOST_BOXES:
        layouts.append(search.boxed(steps for steps, rule in orders if rule == RULES[0]))
    layouts = [_shortest(layouts)]
    if usual and not watch.ended:
        found.insert(0, search.improved(found[0], usual, _WARMTH, watch.stopped))
        layouts = [_shortest([*layouts, search.layout(found[0])])]
    if dense and not watch.ended:
        search = Search(parts, size, cell, FINER_ANGLES)
        starts = [again for again in (search.filled(c.steps, c.rule) for c in found[:1]) if again]
        if alone:
            starts += [search.large_first(c, large, alone, watch.stopped) for c in found[:_KEPT]]
        best_start = min(starts, key=lambda c: worth(c.fill))
        layouts.append(search.layout(search.improved(best_start, dense, _WARMTH, watch.stopped)))
    return _shortest(layouts)


def _shortest(layouts: list[Layout]) -> Layout:
    """The layout that takes least, once the last sheet of the best was tried again."""
    best = min(layouts, key=_length)
    return min(layouts + ([_last_sheet_again(best)] if best.sheets > 1 else []), key=_length)


def _length(layout: Layout) -> tuple[int, float]:
    return layout.sheets, layout.length


def _last_sheet_again(layout: Layout) -> Layout:
    """The pieces of the last sheet packed on their own, where that takes less of it."""
    last = layout.sheets - 1
    counts = Counter(place.part for place in layout.on(last))
    again = pack(
        [replace(layout.parts[part], count=count) for part, count in counts.items()], layout.size, effort="quick"
    )
    if again.sheets > 1 or again.length >= layout.used_length(last):
        return layout
    kept = [place for place in layout.placements if place.sheet < last]
    moved = [replace(place, part=list(counts)[place.part], sheet=last) for place in again.placements]
    return replace(layout, placements=(*kept, *moved))


class _Watch:
    """Counts the tries and asks whether to go on."""

    def __init__(self, total: int, progress: Progress | None, stop: Stop | None) -> None:
        self.total, self.progress, self.stop = total, progress, stop
        self.done, self.ended = 0, False

    def stopped(self) -> bool:
        """Whether the search is to end; asked once before each try."""
        self.done += 1
        if self.progress:
            self.progress(self.done, self.total)
        self.ended = self.ended or (self.stop is not None and self.stop())
        return self.ended


def _tries(search: Search, most: int, pieces: int) -> int:
    """How often orders of so many pieces are changed: `most`, and fewer where each takes long."""
    angles = max(map(len, search.turns))
    return min(most, int(_WORK / (pieces * pieces * angles / 4 + 50)))


def _large(parts: Sequence[Part]) -> list[int]:
    """The parts that make the shape of a layout, where there are both such and others."""
    areas = [part.area() for part in parts]
    large = [index for index, area in enumerate(areas) if area >= _LARGE * max(areas)]
    return large if len(large) < len(parts) and sum(parts[index].count for index in large) > 1 else []
