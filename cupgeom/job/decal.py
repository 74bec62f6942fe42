"""A decal of a job, as its table says: what it shows, what it is made of, how large it is and where it goes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from cupgeom.drawing import BLACK
from cupgeom.errors import CupgeomError
from cupgeom.job.kinds import AXES, COLOUR, HEIGHT, TURNS, WIDTH, relative, unless, whole_from
from cupgeom.records import FLAG, LENGTH, NUMBER, TEXT, TURN, Kind, Table, above_zero, choice, from_zero

if TYPE_CHECKING:
    from cupgeom.decor.asked import Asked
    from cupgeom.decor.medium import Medium
    from cupgeom.shelf import Shelf

SIZES = ("width", "art_height", "cap_height", "x_height")
LETTERING_ONLY = (
    "font",
    "axis",
    "cap_height",
    "x_height",
    "align",
    "leading",
    "letter_spacing",
    "language",
    "run",
    "colour",
)
ART_ONLY = ("art_height", "drop_white", "dpi")
_FIELDS = {"turn_deg": "turn", "between_deg": "between", "rotate_deg": "rotate", "axes": "axis"}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDecal:
    """A decal of a job.

    Parameters
    ----------
    name
        Its key in the job file.
    asked
        What it shows, how large it is, where it goes; the options of the command line.
    after_coat
        Under how many coats the cup was when it was made; None for as many as lie under it.
    """

    name: str
    asked: Asked
    after_coat: int | None = None


def parse_decal(name: str, table: Table, shelf: Shelf, *, outside: bool) -> JobDecal | None:
    """A decal from the keys of its table; None when something is wrong, which is noted."""
    file = relative(outside)
    art, text = table.maybe("art", file), table.maybe("text", LETTERS)
    font, axes = table.maybe("font", file), table.take("axis", AXES, ())
    medium = _medium(table, shelf)
    _check_choice(table, art, text, font)
    width, art_height = table.maybe("width", WIDTH), table.maybe("art_height", above_zero(LENGTH))
    cap_height, x_height = (table.maybe(key, above_zero(LENGTH)) for key in ("cap_height", "x_height"))
    between = table.maybe("between", TURNS)
    if between is not None and "turn" in table:
        table.fault("between", "cannot stand beside turn; keep one of the two")
    tile = table.take("tile", FLAG, False)
    if not tile and not any(key in table for key in ("turn", "drop", "between")):
        table.fault("drop", 'is missing; give a place, such as drop = 60 or turn = "front"')
    turn_deg, drop = table.take("turn", TURN, 0.0), table.take("drop", HEIGHT, "middle")
    after_coat = table.maybe("after_coat", whole_from(0))
    align, run = table.take("align", _ALIGN, "centre"), table.take("run", _RUN, "round")
    leading = table.take("leading", above_zero(NUMBER), 1.2)
    letter_spacing, language = table.take("letter_spacing", LENGTH, 0.0), table.take("language", TEXT, "")
    colour = table.take("colour", COLOUR, BLACK)
    bend, true_at = table.take("bend", _BEND, "level"), table.take("true_at", _TRUE_AT, "middle")
    rotate_deg, repeat = table.take("rotate", NUMBER, 0.0), table.take("repeat", whole_from(1), 1)
    tile_gap = table.take("tile_gap", from_zero(LENGTH), 0.0)
    drop_white, dpi = table.take("drop_white", FLAG, False), table.take("dpi", above_zero(NUMBER), 300.0)

    def build() -> JobDecal | None:
        from cupgeom.decor.asked import Asked

        if medium is None:
            return None
        sizes = [key for key in SIZES if key in table]
        if (art is None) == (text is None):
            raise CupgeomError("", "needs art or text, one of the two")
        if len(sizes) != 1:
            raise CupgeomError("", f"needs one size of {', '.join(SIZES)}, got {' and '.join(sizes) or 'none'}")
        asked = Asked(
            art=art,
            text=text,
            font=font,
            axes=axes,
            width=width,
            art_height=art_height,
            cap_height=cap_height,
            x_height=x_height,
            turn_deg=turn_deg,
            between_deg=None if between is None else (between[0], between[1]),
            drop=drop,
            medium=medium,
            align=align,
            leading=leading,
            letter_spacing=letter_spacing,
            language=language,
            run=run,
            colour=colour,
            drop_white=drop_white,
            bend=bend,
            rotate_deg=rotate_deg,
            true_at=true_at,
            repeat=repeat,
            tile=tile,
            tile_gap=tile_gap,
            dpi=dpi,
        )
        return JobDecal(name=name, asked=asked, after_coat=after_coat)

    return table.make(build, _FIELDS)


def _medium(table: Table, shelf: Shelf) -> Medium | None:
    name = table.take("medium", TEXT)
    if not name:
        return None
    try:
        return shelf.medium(name)
    except CupgeomError as error:
        table.fault("medium", error.what)
        return None


def _check_choice(table: Table, art: str | None, text: str | None, font: str | None) -> None:
    """Note what does not go together: art with keys of lettering, lettering without its font."""
    if "art" in table and "text" in table:
        table.fault("text", "cannot stand beside art; keep one of the two")
        return
    if text is not None and font is None and "font" not in table:
        table.fault("font", 'is missing; give a font file such as "fonts/script.ttf", or the name of a font')
    for key in (LETTERING_ONLY if art is not None else ()) + (ART_ONLY if text is not None else ()):
        if key in table:
            table.fault(key, f"is for {'lettering' if art is not None else 'art'}; leave it out")


def _said(text: str) -> str:
    if not text.strip():
        return "is empty; give the letters"
    odd = next((char for char in text if char < " " and char != "\n"), "")
    return f"holds a control character ({odd!r}); remove it" if odd else ""


LETTERS = unless(TEXT, _said)
_ALIGN: Kind[Literal["left", "centre", "right"]] = choice("left", "centre", "right")
_RUN: Kind[Literal["round", "up", "down"]] = choice("round", "up", "down")
_BEND: Kind[Literal["level", "even", "flat"]] = choice("level", "even", "flat")
_TRUE_AT: Kind[Literal["top", "middle", "foot"]] = choice("top", "middle", "foot")
