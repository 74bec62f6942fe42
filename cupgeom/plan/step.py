"""One step of an order of work, as the maker lists it from the inside out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from cupgeom.drawing import Colour
from cupgeom.errors import CupgeomError, require_positive

if TYPE_CHECKING:
    from cupgeom.coating.coats import Coat
    from cupgeom.decor.medium import Medium
    from cupgeom.shelf import Level

Kind = Literal["mask", "paint", "tack", "flood", "sand", "vein", "decal", "clear"]
KINDS: tuple[Kind, ...] = get_args(Kind)
RESIN: tuple[Kind, ...] = ("tack", "flood", "vein", "clear")
COATS: tuple[Kind, ...] = ("flood", "vein", "clear")  # those that cover
DARK_BELOW = 0.18  # share of light that comes back; the mid grey of photographers, a convention


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """The part of the wall that paint or glitter covers.

    Parameters
    ----------
    top, bottom
        Levels where it begins and ends; None for the ends of the coated range.
    left_deg, right_deg
        Turns where it begins and ends; the same turn twice is not a zone.
    """

    top: Level | None = None
    bottom: Level | None = None
    left_deg: float = -180.0
    right_deg: float = 180.0

    def __post_init__(self) -> None:
        if self.left_deg == self.right_deg:
            raise CupgeomError("turns", "must be two different turns")

    @property
    def share(self) -> float:
        """Share of the way round that it takes, going to the right from its left turn."""
        return ((self.right_deg - self.left_deg) % 360 or 360.0) / 360


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A decal as the order of work sees it.

    Parameters
    ----------
    name
        What the job calls it.
    medium
        What it is made of.
    after_coat
        Under how many coats the cup was when the piece was sized; None when it is sized for where it lies.
    """

    name: str
    medium: Medium
    after_coat: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the work.

    Parameters
    ----------
    do
        What is done.
    colour
        Of paint, glitter or veins, red, green, blue from 0 to 1; None where it does not hide what is under it.
    material
        Name of the paint, glitter or colorant.
    flake
        Size of the glitter.
    zone
        Where paint or glitter goes; None for the coated range.
    coat
        The resin that goes on, of the same kind; for tack, flood, vein and clear.
    wait_min
        How long the maker means to wait before the next step, counted from its start [min].
    pull_min
        When the tape comes off, counted from mixing [min]; None for in time.
    brush
        Whether loose glitter is brushed off after a tack coat.
    seal
        Whether decals that need it are sealed before they go on.
    edge
        Whether sanding takes the top edge of the wall to metal too.
    pieces
        The decals that go on.

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    do: Kind
    colour: Colour | None = None
    material: str = ""
    flake: float | None = None
    zone: Zone | None = None
    coat: Coat | None = None
    wait_min: float | None = None
    pull_min: float | None = None
    brush: bool = True
    seal: bool = True
    edge: bool = False
    pieces: tuple[Piece, ...] = ()

    def __post_init__(self) -> None:
        if self.do not in KINDS:
            raise CupgeomError("do", f"must be one of {', '.join(KINDS)}, got {self.do!r}")
        for where, unit in (("flake", "mm"), ("wait_min", "min"), ("pull_min", "min")):
            value = getattr(self, where)
            if value is not None:
                require_positive(where, value, unit)
        if (None if self.coat is None else self.coat.kind) != (self.do if self.do in RESIN else None):
            raise CupgeomError("coat", f"goes with {', '.join(RESIN)}, each with a coat of its own kind")
        if (self.do == "decal") != bool(self.pieces):
            raise CupgeomError("pieces", "are the decals that go on" if self.do == "decal" else "go with decal only")

    @property
    def dark(self) -> bool:
        """Whether its colour throws back little light (relative luminance, IEC 61966-2-1 and ITU-R BT.709)."""
        if self.colour is None:
            return False
        red, green, blue = (
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in self.colour
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue < DARK_BELOW


def names(steps: Sequence[Step]) -> tuple[str, ...]:
    """The name of each step, counted by kind: flood 1, flood 2, decal 1."""
    counts: dict[str, int] = {}
    found = []
    for step in steps:
        counts[step.do] = counts.get(step.do, 0) + 1
        found.append(f"{step.do} {counts[step.do]}")
    return tuple(found)


def coats(steps: Sequence[Step]) -> tuple[Coat, ...]:
    """The coats of resin, in the order in which they are laid."""
    return tuple(step.coat for step in steps if step.coat is not None)
