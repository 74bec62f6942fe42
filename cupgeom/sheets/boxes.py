"""Pieces packed by their boxes, exactly: what tiles that fill a sheet to the last tenth need, and no grid can give.

Of each sheet the largest free rectangles are kept, and a box goes into the bottom left corner of one that holds it (the
maximal rectangles of J. Jylänki, *A Thousand Ways to Pack the Bin*, 2010; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from cupgeom.drawing import Box

_SLACK = 1e-9  # mm, rounding


Fit = Literal["low", "snug", "upright", "turned"]
FITS: tuple[Fit, ...] = ("low", "snug", "upright", "turned")


class Boxed(NamedTuple):
    """Where the box of a piece came to lie: its sheet, whether it lies turned by a quarter, its bottom left corner."""

    sheet: int
    turned: bool
    corner: complex


def packed(
    sides: Sequence[tuple[float, float]], may_turn: Sequence[bool], room: Box, gap: float, fit: Fit
) -> list[Boxed]:
    """The boxes in the order given, each on the first sheet that has room; every one fits an empty sheet.

    Parameters
    ----------
    sides, may_turn
        Width and height of each box, and whether it may be turned.
    room, gap
        Where boxes may lie, and how far they stay apart.
    fit
        Which corner is taken: the one where the box reaches least far up, or where it leaves the narrowest strip beside
        it; or the lowest with all boxes as they are, or turned, where they can be.
    """
    whole = Box(room.left, room.bottom, room.right + gap, room.top + gap)
    sheets: list[list[Box]] = []
    found: list[Boxed] = []
    for (width, height), turn in zip(sides, may_turn, strict=True):
        ways = [(width + gap, height + gap, False)] + ([(height + gap, width + gap, True)] if turn else [])
        ways = [way for way in ways if way[0] <= whole.width + _SLACK and way[1] <= whole.height + _SLACK]
        if fit in ("upright", "turned"):
            ways = ways[:1] if fit == "upright" else ways[-1:]
        index = 0
        while True:
            if index == len(sheets):
                sheets.append([whole])
            spots = [
                (_value(free, across, along, fit), free.bottom + along, free.left, turned, across, along, free)
                for free in sheets[index]
                for across, along, turned in ways
                if across <= free.width + _SLACK and along <= free.height + _SLACK
            ]
            if spots:
                break
            index += 1
        *_, turned, across, along, free = min(spots)
        sheets[index] = _without(sheets[index], Box(free.left, free.bottom, free.left + across, free.bottom + along))
        found.append(Boxed(index, turned, complex(free.left, free.bottom)))
    return found


def _value(free: Box, across: float, along: float, fit: Fit) -> float:
    """What is to be small where a box is put."""
    return min(free.width - across, free.height - along) if fit == "snug" else free.bottom + along


def _without(frees: list[Box], taken: Box) -> list[Box]:
    """The largest free rectangles that are left when a box is taken."""
    parts: list[Box] = []
    for free in frees:
        if not (
            taken.left < free.right - _SLACK
            and free.left < taken.right - _SLACK
            and taken.bottom < free.top - _SLACK
            and free.bottom < taken.top - _SLACK
        ):
            parts.append(free)
            continue
        if taken.left > free.left + _SLACK:
            parts.append(free._replace(right=taken.left))
        if taken.right < free.right - _SLACK:
            parts.append(free._replace(left=taken.right))
        if taken.bottom > free.bottom + _SLACK:
            parts.append(free._replace(top=taken.bottom))
        if taken.top < free.top - _SLACK:
            parts.append(free._replace(bottom=taken.top))
    parts = list(dict.fromkeys(parts))
    return [part for part in parts if not any(_holds(other, part) for other in parts if other is not part)]


def _holds(outer: Box, inner: Box) -> bool:
    return (
        outer.left <= inner.left
        and outer.bottom <= inner.bottom
        and outer.right >= inner.right
        and outer.top >= inner.top
    )
