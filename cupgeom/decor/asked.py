"""A decal as it is asked for, by option or by key of a job file, and the decal that this makes on a cup."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from cupgeom import zones
from cupgeom.cup import Cup
from cupgeom.decor import design as designs
from cupgeom.decor import room, sight
from cupgeom.decor.decal import Decal, TrueAt
from cupgeom.decor.design import Design
from cupgeom.decor.lettering import RUNNING_DEG, Align, Running
from cupgeom.decor.medium import EXAMPLES, Medium
from cupgeom.decor.place import Bend
from cupgeom.drawing import BLACK, Colour
from cupgeom.errors import CupgeomError, number

if TYPE_CHECKING:
    from cupgeom.decor.artwork import Artwork
    from cupgeom.decor.font import Font

Edge = Literal["top", "middle", "foot"]
Fitted = Literal["sight", "round"]
SIZES = ("width", "art_height", "cap_height", "x_height")
LETTERING_SIZES = ("width", "cap_height", "x_height")
_ROUNDS = 30  # that settle a width that goes by a place that goes by the height
_ANY = 10.0  # mm, a size to learn a shape at


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a decal shows, how large it is, where it goes.

    Parameters
    ----------
    art, text
        A file of art or lettering, one of the two.
    font, axes
        Of lettering: a font by file or by name, and where a variable one stands.
    width, art_height, cap_height, x_height
        One of them; none for art at the size of its file. A width of ``sight`` is all that is seen at once, one of
        ``round`` all the way round.
    turn_deg, between_deg
        Where its middle lies, or half-way between two turns.
    drop
        Where its middle lies: mm and whether they count from the base, or an edge of the free wall.
    medium
        What it is made of.
    align, leading, letter_spacing, language, run, colour
        Of lettering, see `lettering`; `run` round the cup, up the wall or down it.
    drop_white
        Leave out a plain border of a picture.
    tile, tile_gap
        A pattern all round that closes at the seam, with about so much between its repeats.
    bend, rotate_deg, true_at, repeat, dpi
        See `Decal`.

    Raises
    ------
    CupgeomError
        Naming the field, when two do not go together.
    """

    art: str | None = None
    text: str | None = None
    font: str | None = None
    axes: tuple[tuple[str, float], ...] = ()
    width: float | Fitted | None = None
    art_height: float | None = None
    cap_height: float | None = None
    x_height: float | None = None
    turn_deg: float = 0.0
    between_deg: tuple[float, float] | None = None
    drop: tuple[float, bool] | Edge = "middle"
    medium: Medium = EXAMPLES[0]
    align: Align = "centre"
    leading: float = 1.2
    letter_spacing: float = 0.0
    language: str = ""
    run: Running = "round"
    colour: Colour = BLACK
    drop_white: bool = False
    bend: Bend = "level"
    rotate_deg: float = 0.0
    true_at: TrueAt = "middle"
    repeat: int = 1
    tile: bool = False
    tile_gap: float = 0.0
    dpi: float = 300.0

    def __post_init__(self) -> None:
        if (self.art is None) == (self.text is None):
            raise CupgeomError("art", "give a file of art or a text, one of the two")
        if self.tile and self.repeat != 1:
            raise CupgeomError("repeat", "cannot stand beside a tiled pattern, which goes round as often as it fits")
        sizes = [size for size in SIZES if getattr(self, size) is not None]
        if self.text is None:
            for size in ("cap_height", "x_height"):
                if size in sizes:
                    raise CupgeomError(size, "is for lettering; give a width or a height of art")
            if len(sizes) > 1:
                raise CupgeomError("art_height", "cannot stand beside a width, since art keeps its proportions")
            if self.run != "round":
                raise CupgeomError("run", "is for lettering; turn art by rotating it")
            return
        if "art_height" in sizes:
            raise CupgeomError("art_height", "is for art; give lettering a width, or a height of its letters")
        if len(sizes) != 1:
            raise CupgeomError("width", "give one of a width, a height of capitals and a height of small letters")
        if not self.font:
            raise CupgeomError("font", "is missing; give a font file, such as fonts/script.ttf")

    @property
    def middle_deg(self) -> float:
        """Turn of its middle."""
        return self.turn_deg if self.between_deg is None else sum(self.between_deg) / 2

    @property
    def turned_deg(self) -> float:
        """Turn about its middle, that of the way its text runs included."""
        return self.rotate_deg + RUNNING_DEG[self.run]

    def drop_on(self, cup: Cup, width: float, height: float) -> float:
        """Drop of its middle on a cup: as asked, or from an edge of the wall that is free below the rim band.

        The middle of art for all the way round is that of the whole wall below the bare lip.
        """
        if not isinstance(self.drop, str):
            return cup.slant - self.drop[0] if self.drop[1] else self.drop[0]
        if self.width == "round" and self.drop == "middle":
            return (cup.bare_lip + cup.slant) / 2
        turned = math.radians(self.turned_deg)
        height = width * abs(math.sin(turned)) + height * abs(math.cos(turned))
        top = min(max(zones.RIM_BAND, cup.bare_lip), cup.slant / 2)
        foot = cup.slant - room.FOOT_MARGIN
        return {"top": top + height / 2, "foot": foot - height / 2, "middle": (top + foot) / 2}[self.drop]


def decal_on(
    asked: Asked,
    cup: Cup,
    art: Callable[[str], Artwork],
    font: Callable[[str], Font],
    *,
    bleed: float = 0.0,
) -> Decal:
    """The decal on a cup.

    Parameters
    ----------
    asked
        What is wanted.
    cup
        As it is when the decal goes on.
    art, font
        What reads a file of art, and a font by its file or name.
    bleed
        How far it may reach beyond the edges of the cup.

    Raises
    ------
    CupgeomError
        Naming the field.
    """
    design = _lettered(asked, cup, font(asked.font or "")) if asked.text is not None else _drawn(asked, cup, art)
    decal = Decal(
        cup=cup,
        design=design,
        drop=asked.drop_on(cup, design.width, design.height),
        turn_deg=asked.middle_deg,
        bend=asked.bend,
        rotate_deg=asked.turned_deg,
        true_at=asked.true_at,
        medium=asked.medium,
        repeat=asked.repeat,
        dpi=asked.dpi,
        bleed=bleed,
    )
    if not asked.tile:
        return decal
    tile, count = designs.closed_round(design, math.tau * decal.true_radius, gap=asked.tile_gap)
    return replace(decal, design=tile, repeat=count)


def _drawn(asked: Asked, cup: Cup, read: Callable[[str], Artwork]) -> Design:
    from cupgeom.decor.artwork import art_without_white

    artwork = read(asked.art or "")
    if asked.drop_white:
        artwork = art_without_white(artwork)
    width = asked.width
    if isinstance(width, str):
        width = _fitted(asked, cup, width, artwork.box.height / artwork.box.width)
    return designs.of_artwork(artwork, width=width, height=asked.art_height)


def _lettered(asked: Asked, cup: Cup, font: Font) -> Design:
    from cupgeom.decor.lettering import Lettering, lettering

    def set_at(
        size: float | None = None, width: float | None = None, cap: float | None = None, small: float | None = None
    ) -> Lettering:
        return lettering(
            asked.text or "",
            font,
            size=size,
            width=width,
            cap_height=cap,
            x_height=small,
            leading=asked.leading,
            align=asked.align,
            letter_spacing=asked.letter_spacing,
            language=asked.language,
        )

    width = asked.width
    if isinstance(width, str):
        shape = set_at(size=_ANY).bounds
        width = _fitted(asked, cup, width, shape.height / shape.width)
    made = set_at(width=width, cap=asked.cap_height, small=asked.x_height)
    return designs.of_lettering(made, asked.colour)


def _fitted(asked: Asked, cup: Cup, word: Fitted, ratio: float) -> float:
    """The width that a word stands for where the decal will lie, whose place may go by its height."""
    width = _ANY
    for _ in range(_ROUNDS):
        drop = min(max(asked.drop_on(cup, width, width * ratio), 0.0), cup.slant)
        radius = cup.radius_at(drop)
        width = math.tau * radius if word == "round" else sight.widest_in_sight(radius)
    if asked.drop_on(cup, width, width * ratio) < 0:
        raise CupgeomError("width", f"{word} makes it {number(round(width * ratio, 1))} mm high; give a width")
    return width
