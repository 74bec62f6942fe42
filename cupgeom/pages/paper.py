"""Paper: named sizes, own sizes, rolls."""

from __future__ import annotations

import re
from dataclasses import dataclass

from cupgeom.errors import CupgeomError, number, require_at_most, require_positive
from cupgeom.units import parse_length, parse_size

# ISO 216 (A sizes) and ANSI/ASME Y14.1 A and B (letter, tabloid), in mm; legal is 8.5 × 14 in (common practice)
_SIZES = {
    "a3": (297.0, 420.0),
    "a4": (210.0, 297.0),
    "a5": (148.0, 210.0),
    "letter": (215.9, 279.4),
    "legal": (215.9, 355.6),
    "tabloid": (279.4, 431.8),
}
LARGEST_PAPER = 5000.0  # mm; a PDF page ends at 14400 points, 5080 mm (ISO 32000, implementation limits; memory)
PAPER_FORMS = "a5, a4, a3, letter, legal, tabloid, a size such as 13x19in, roll 610mm, or fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet, or a roll whose length is cut as needed (no length), or paper made to fit the piece (no width)."""

    name: str
    width: float | None
    length: float | None

    def __post_init__(self) -> None:
        for where, value in (("width", self.width), ("length", self.length)):
            if value is not None:
                require_positive(where, value)
                require_at_most(where, value, LARGEST_PAPER)

    @property
    def turned(self) -> Paper:
        """The same sheet the other way."""
        return Paper(name=self.name, width=self.length, length=self.width)


FIT = Paper(name="fit", width=None, length=None)


def parse_paper(text: str, where: str = "paper") -> Paper:
    """A typed paper: a name, ``13x19in``, ``300 x 500``, ``roll 610mm`` or ``fit``.

    Raises
    ------
    CupgeomError
        When it is none of these, or larger than a page can be.
    """
    cleaned = text.strip().lower()
    if cleaned == "fit":
        return FIT
    if cleaned in _SIZES:
        width, length = _SIZES[cleaned]
        return Paper(name=cleaned, width=width, length=length)
    try:
        roll = re.fullmatch(r"roll\s+(.+)", cleaned)
        if roll:
            return Paper(name=cleaned, width=parse_length(roll[1], where), length=None)
        if re.search(r"\d.*[x×]", cleaned):
            across, along = parse_size(cleaned, where)
            return Paper(name=f"{number(across)} x {number(along)} mm", width=across, length=along)
    except CupgeomError as error:
        raise CupgeomError(where, error.what) from None
    raise CupgeomError(where, f"unknown paper {text!r}; use {PAPER_FORMS}")
