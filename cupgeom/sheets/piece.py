"""A piece to put on a sheet, and the medium it goes on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from cupgeom.drawing import Affine, Box, Drawing, Path
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most, require_positive

FLATNESS = 0.002  # mm by which the polygons that are compared may leave the true outlines
LONGEST_STRIP = 5000.0  # mm of a roll on one page; a PDF page ends at 5080 mm
MOST_COPIES = 100_000
_NOTHING = Drawing()


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One kind of piece: its outline, what is drawn of it, and how often it is wanted.

    Parameters
    ----------
    name
        What it is called in messages.
    cut
        The line that the blade follows, closed; holes are free for other pieces.
    drawing
        What is drawn, in the coordinates of the cut line; without items of the role ``cut`` the cut line is drawn too.
    count
        How many are made.
    may_rotate
        Whether the sheet may hold it turned.
    bleed
        How far ink reaches beyond the cut line [mm]; the gap to other pieces is counted from there.
    label
        What stands beside it on the sheet; the name unless said otherwise.

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    name: str
    cut: Path
    drawing: Drawing = _NOTHING
    count: int = 1
    may_rotate: bool = True
    bleed: float = 0.0
    label: str = ""

    def __post_init__(self) -> None:
        if not self.name:
            raise CupgeomError("name", "must not be empty")
        if type(self.count) is not int or not 1 <= self.count <= MOST_COPIES:
            raise CupgeomError("count", f"must be a whole number from 1 to {MOST_COPIES}, got {self.count!r}")
        require_at_least("bleed", self.bleed, 0)
        require_at_most("bleed", self.bleed, 100)
        if not any(closed for _, closed in self.cut.outlines()):
            raise CupgeomError("cut", "must be a closed outline")
        if self.outline().is_empty:
            raise CupgeomError("cut", "must enclose an area")

    def outline(self) -> Any:
        """What the piece covers, ink included, as a shapely polygon or multipolygon within 0.002 mm of it."""
        return _outline(self.cut, self.bleed)

    def outline_at(self, affine: Affine) -> Any:
        """`outline` moved."""
        from shapely.affinity import affine_transform

        a, b, c, d, e, f = affine
        return affine_transform(self.outline(), [a, c, b, d, e, f])

    def area(self) -> float:
        """What is left when it is cut out [mm²]."""
        return float(_outline(self.cut, 0.0).area)


@lru_cache(maxsize=1024)
def _outline(cut: Path, bleed: float) -> Any:
    if not bleed:
        return cut.to_shapely(FLATNESS)
    # a mitred corner turns with the chords that meet in it, bleed times as far: they must be much shorter there
    return cut.to_shapely(FLATNESS / 16).buffer(bleed, join_style="mitre").simplify(FLATNESS)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSize:
    """A medium: a sheet, or a roll where the length is None; what is kept free of pieces; the gap between two.

    Parameters
    ----------
    width, length
        Of the sheet [mm]; a roll has no length and is cut as needed.
    margin
        White edge that the printer leaves on all four sides [mm].
    gap
        Least distance between two pieces [mm].
    left, right, top, foot
        Kept free besides the margin, for notes and marks [mm].
    """

    width: float
    length: float | None
    margin: float = 5.0
    gap: float = 2.0
    left: float = 0.0
    right: float = 0.0
    top: float = 0.0
    foot: float = 0.0

    def __post_init__(self) -> None:
        require_positive("width", self.width)
        require_at_most("width", self.width, LONGEST_STRIP)
        if self.length is not None:
            require_positive("length", self.length)
            require_at_most("length", self.length, LONGEST_STRIP)
        for where in ("margin", "gap", "left", "right", "top", "foot"):
            require_at_least(where, getattr(self, where), 0)
        require_at_most("gap", self.gap, 100)
        if self.room.width <= 0 or self.room.height <= 0:
            raise CupgeomError("margin", f"of {number(self.margin)} mm leaves nothing of {self}")

    @property
    def room(self) -> Box:
        """Where pieces may lie, origin at the bottom left of the sheet; on a roll the longest that a page can hold."""
        return Box(
            self.margin + self.left,
            self.margin + self.foot,
            self.width - self.margin - self.right,
            (self.length or LONGEST_STRIP) - self.margin - self.top,
        )

    def page_length(self, used: float) -> float:
        """Length of the page that holds a sheet used this far from the bottom of the room."""
        return self.length or self.room.bottom + used + self.top + self.margin

    def __str__(self) -> str:
        if self.length is None:
            return f"a roll {number(self.width)} mm wide"
        return f"a sheet of {number(self.width)} x {number(self.length)} mm"
