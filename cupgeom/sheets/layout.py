"""Where every piece lies: the result of packing, plain numbers that can be kept and repeated."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from cupgeom.drawing import Affine
from cupgeom.errors import CupgeomError, number, require_finite
from cupgeom.sheets.piece import Part, SheetSize


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One piece on one sheet: turned anticlockwise about its origin, then moved.

    Attributes
    ----------
    part
        Which part, counted from 0.
    sheet
        Which sheet, counted from 0.
    """

    part: int
    sheet: int
    angle_deg: float
    at: complex

    def __post_init__(self) -> None:
        require_finite("angle_deg", self.angle_deg, "degrees")
        require_finite("at.x", self.at.real)
        require_finite("at.y", self.at.imag)

    @property
    def affine(self) -> Affine:
        """From the part's own coordinates to the sheet's."""
        return Affine.move(self.at) @ Affine.rotation(self.angle_deg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """All pieces of an order on as many sheets as they need.

    Raises
    ------
    CupgeomError
        When a part does not occur exactly as often as its count, or a sheet is left out.
    """

    size: SheetSize
    parts: tuple[Part, ...]
    placements: tuple[Placement, ...]

    def __post_init__(self) -> None:
        counts = Counter(placement.part for placement in self.placements)
        wanted = {index: part.count for index, part in enumerate(self.parts)}
        if dict(counts) != wanted:
            raise CupgeomError("placements", "must hold every part exactly as often as it is wanted")
        if {placement.sheet for placement in self.placements} != set(range(self.sheets)):
            raise CupgeomError("placements", "must leave out no sheet")

    @property
    def sheets(self) -> int:
        """How many sheets."""
        return max((placement.sheet for placement in self.placements), default=-1) + 1

    def on(self, sheet: int) -> list[Placement]:
        """The pieces of one sheet."""
        return [placement for placement in self.placements if placement.sheet == sheet]

    def used_length(self, sheet: int) -> float:
        """How far up from the bottom of the room the pieces of a sheet reach."""
        tops = [outline.bounds[3] for outline in self.outlines(sheet)]
        return float(max(tops)) - self.size.room.bottom

    def outlines(self, sheet: int) -> list[Any]:
        """What each piece of a sheet covers there, as shapely polygons, in the order of `on`."""
        return [self.parts[place.part].outline_at(place.affine) for place in self.on(sheet)]

    @property
    def length(self) -> float:
        """Length of medium that the order takes: full sheets, and the used length of the last; of a roll all strips."""
        last = self.sheets - 1
        if self.size.length is None:
            return sum(map(self.used_length, range(self.sheets)))
        return last * self.size.room.height + self.used_length(last)

    @property
    def used_share(self) -> float:
        """Area of the pieces over the room that they take, the last sheet counted as far as it is used."""
        pieces = sum(part.count * part.area() for part in self.parts)
        return pieces / (self.length * self.size.room.width)

    def __str__(self) -> str:
        pieces = "1 piece" if len(self.placements) == 1 else f"{len(self.placements)} pieces"
        sheets = "1 sheet" if self.sheets == 1 else f"{self.sheets} sheets"
        return f"{pieces} on {sheets}, {number(round(100 * self.used_share, 1))} % used"
