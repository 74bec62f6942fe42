"""A level on the wall as a maker types it: 75mm, 20mm up, rim, base, ring 1."""

from __future__ import annotations

import re
from dataclasses import dataclass

from cupgeom.errors import CupgeomError, number, require_at_least
from cupgeom.records import LENGTH, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A drop from the top edge, an up from the base edge, or a ring's number (0 the rim, −1 the base): one of them."""

    drop: float | None = None
    up: float | None = None
    ring: int | None = None

    def __post_init__(self) -> None:
        for value in (self.drop, self.up):
            if value is not None:
                require_at_least("", value, 0)

    def __str__(self) -> str:
        """As it may be typed."""
        if self.ring is not None:
            return {0: "rim", -1: "base"}.get(self.ring, f"ring {self.ring}")
        length = repr(self.drop if self.up is None else self.up).removesuffix(".0")
        return f"{length}mm" if self.up is None else f"{length}mm up"

    def drop_on(self, length: float) -> float:
        """Drop of the level on a wall of this length.

        Raises
        ------
        CupgeomError
            When it is above the wall, or an inner ring, whose drop the length does not tell.
        """
        if self.ring is not None:
            if self.ring not in (0, -1):
                raise CupgeomError("", "must be a drop, a height above the base, rim or base, not an inner ring")
            return length if self.ring else 0.0
        if self.up is not None:
            if self.up > length:
                raise CupgeomError("", f"must be on the wall of {number(length)} mm, got {number(self.up)} mm up")
            return length - self.up
        return self.drop or 0.0


def parse_level(value: object) -> Level:
    """A level from a number (mm of drop) or a text.

    Raises
    ------
    CupgeomError
        When it is neither.
    """
    text = value.strip().lower() if isinstance(value, str) else ""
    if text in ("rim", "base"):
        return Level(ring=0 if text == "rim" else -1)
    ring = re.fullmatch(r"ring\s*(\d{1,3})", text)
    if ring:
        return Level(ring=int(ring[1]))
    if text.endswith("up"):
        return Level(up=LENGTH.parse(text[:-2]))
    return Level(drop=LENGTH.parse(value))


LEVEL = Kind(parse_level, 'a drop such as 75mm, a height above the base such as "20mm up", rim or base', Level(ring=0))
