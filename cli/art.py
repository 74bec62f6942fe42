"""The options of a decal, and the decal that they describe: art or lettering, its size, its place, its medium."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import shop, store
from .options import DROP, LENGTH, TURN, naming

if TYPE_CHECKING:
    from cupgeom.cup import Cup
    from cupgeom.decor.artwork import Artwork
    from cupgeom.decor.decal import Decal
    from cupgeom.decor.font import Font
    from cupgeom.decor.medium import Medium

FIELDS = {
    "art": "ART",
    "art_height": "--art-height",
    "run": "--run",
    "between_deg": "--between",
    "drop_white": "--drop-white",
    "width": "--width",
    "height": "--art-height",
    "cap_height": "--cap-height",
    "x_height": "--x-height",
    "size": "--width",
    "drop": "--drop",
    "turn_deg": "--turn",
    "rotate_deg": "--rotate",
    "bend": "--bend",
    "true_at": "--true-at",
    "repeat": "--repeat",
    "dpi": "--dpi",
    "text": "--text",
    "font": "--font",
    "letter_spacing": "--letter-spacing",
    "leading": "--leading",
    "align": "--align",
    "language": "--language",
    "medium": "--medium",
    "gap": "--tile-gap",
}
_AS_THEY_ARE = (
    "width",
    "art_height",
    "cap_height",
    "x_height",
    "align",
    "leading",
    "letter_spacing",
    "language",
    "run",
    "drop_white",
    "bend",
    "true_at",
    "repeat",
    "tile",
    "tile_gap",
    "dpi",
)
_EDGES = ("top", "middle", "foot")


class Width(click.ParamType[Any]):
    """A length, or a word for one that the cup gives."""

    name = "width"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Text to mm, or the word."""
        return value if not isinstance(value, str) or value in {"sight", "round"} else LENGTH.convert(value, param, ctx)


class Height(click.ParamType[Any]):
    """A drop, or the edge of the free wall that the decal keeps to."""

    name = "drop"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Text to a drop, or the word."""
        return value if value in _EDGES else DROP.convert(value, param, ctx)


def art_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of a decal; `decal_from` reads them."""
    for decorate in reversed(
        [
            click.option("--text", help="Lettering in place of a file of art; \\n begins a new line."),
            click.option("--font", metavar="FONT", help="Font file, or a name in the shop file's font folder."),
            click.option(
                "--axis",
                "axes",
                metavar="NAME=VALUE",
                multiple=True,
                help="Setting of a variable font, such as wght=700. Once for each axis.",
            ),
            click.option(
                "--width",
                type=Width(),
                help="Width along the wall; sight for all that is seen at once, round for all the way round.",
            ),
            click.option("--art-height", type=LENGTH, help="Height of art, in place of the width."),
            click.option("--cap-height", type=LENGTH, help="Height of capitals, in place of the width."),
            click.option("--x-height", type=LENGTH, help="Height of small letters, in place of the width."),
            click.option("--align", type=click.Choice(["left", "centre", "right"]), default="centre", help="Of lines."),
            click.option("--leading", type=float, default=1.2, help="From line to line, in sizes of the font. [1.2]"),
            click.option("--letter-spacing", type=LENGTH, default=0.0, help="Added between letters. [0 mm]"),
            click.option("--language", default="", metavar="TAG", help="Language of the text, such as tr."),
            click.option(
                "--run",
                type=click.Choice(["round", "up", "down"]),
                default="round",
                help="Lettering round the cup, up the wall or down it. [round]",
            ),
            click.option("--colour", metavar="#RRGGBB", default="#000000", help="Of lettering. [black]"),
            click.option("--drop-white", is_flag=True, help="Leave out a white border that would print as a box."),
            click.option("--turn", type=TURN, help="Where its middle lies. [front]"),
            click.option("--between", metavar="TURN,TURN", help="Half-way between two turns, in place of --turn."),
            click.option(
                "--drop",
                type=Height(),
                help="Where its middle lies; or top, middle, foot of the free wall. [middle]",
            ),
            click.option(
                "--bend",
                type=click.Choice(["level", "even", "flat"]),
                default="level",
                help="As it reads on the wall. [level]",
            ),
            click.option("--rotate", type=float, default=0.0, metavar="DEGREES", help="Turned to the left. [0]"),
            click.option(
                "--true-at",
                type=click.Choice(list(_EDGES)),
                default="middle",
                help="Where a level decal is as wide as asked. [middle]",
            ),
            click.option("--repeat", type=int, default=1, help="How often it stands round the cup. [1]"),
            click.option("--tile", is_flag=True, help="A pattern all round that closes at the seam."),
            click.option("--tile-gap", type=LENGTH, default=0.0, help="About so much between repeats. [0 mm]"),
            click.option(
                "--medium", metavar="NAME", help="A medium of the shop file, or an example. [clear water-slide]"
            ),
            click.option("--dpi", type=float, default=300.0, help="Of pictures. [300]"),
        ]
    ):
        command = decorate(command)
    return command


def decal_from(given: Mapping[str, Any], cup: Cup, art: Path | None, bleed: float = 0.0) -> Decal:
    """The decal that the options describe, on a cup; on a wrap it may reach into the bleed."""
    from cupgeom.decor.asked import Asked, decal_on

    if given["turn"] is not None and given["between"] is not None:
        raise CupgeomError("--between", "cannot stand beside --turn; leave one of the two out")

    medium = medium_from(given)
    with naming(FIELDS):
        asked = Asked(
            art=None if art is None else str(art),
            text=None if given["text"] is None else given["text"].replace("\\n", "\n"),
            font=given["font"],
            axes=tuple(map(_axis, given["axes"])),
            turn_deg=given["turn"] or 0.0,
            between_deg=_between(given["between"]),
            rotate_deg=given["rotate"],
            colour=_colour(given["colour"]),
            drop=given["drop"] or "middle",
            medium=medium,
            **{key: given[key] for key in _AS_THEY_ARE},
        )
        return decal_on(asked, cup, read_art, lambda name: font_from(given, name), bleed=bleed)


def decals_on(given: Mapping[str, Any], cup: Cup) -> tuple[Decal, ...]:
    """The decals of all --decal options, each worded as after `cupgeom decal`."""
    return tuple(_decal_on(text, given, cup) for text in given["decals"])


def _decal_on(text: str, given: Mapping[str, Any], cup: Cup) -> Decal:
    import shlex

    words = shlex.shlex(text, posix=True, punctuation_chars=False)
    words.whitespace_split, words.commenters, words.escape = True, "", ""
    try:
        context = _one.make_context("--decal", list(words), resilient_parsing=False)
        return decal_from({**context.params, "shop": given["shop"]}, cup, context.params["art"], given["bleed"])
    except ValueError as error:
        if isinstance(error, CupgeomError):
            raise CupgeomError(f"--decal {error.where}", error.what) from None
        raise CupgeomError("--decal", f"cannot read {text!r}; close its quotes") from None
    except click.UsageError as error:
        message = error.format_message().rstrip(".")
        raise CupgeomError("--decal", f"cannot read {text!r}: {message}") from None


@click.command(add_help_option=False)
@click.argument("art", type=click.Path(path_type=Path), required=False)
@art_options
def _one(**given: Any) -> None:
    """What stands in one --decal."""


def medium_from(given: Mapping[str, Any]) -> Medium:
    """The medium by name: of the shop file, or an example."""
    from cupgeom.decor.medium import EXAMPLES
    from cupgeom.shelf import Shelf

    name = given["medium"] or EXAMPLES[0].name
    there = given["shop"] or shop.shop_path(given).exists()
    shelf = shop.shelf(given) if there else Shelf(source="the list of examples")
    with naming(FIELDS):
        return shelf.medium(name)


def read_art(name: str) -> Artwork:
    """A file of art as it is."""
    from cupgeom.decor.artwork import read_artwork

    path = Path(name)
    return read_artwork(store.bytes_of(path), path.name)


def font_from(given: Mapping[str, Any], name: str) -> Font:
    """The font by its file, or by a name that the shop file's font folder holds."""
    from cupgeom.decor.font import Font

    path = Path(name)
    if not path.exists():
        path = _in_folder(given, name)
    return Font(data=store.bytes_of(path), name=path.name, axes=tuple(map(_axis, given["axes"])))


def _axis(text: str) -> tuple[str, float]:
    name, sign, value = text.partition("=")
    try:
        return name, float(value if sign else "")
    except ValueError:
        raise CupgeomError("--axis", f"cannot read {text!r}; give a name and a number such as wght=700") from None


def _between(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    from cupgeom import units

    parts = text.split(",")
    if len(parts) != 2:
        raise CupgeomError("--between", f"cannot read {text!r}; give two turns such as -60,30")
    return units.parse_turn(parts[0], "--between"), units.parse_turn(parts[1], "--between")


def _in_folder(given: Mapping[str, Any], name: str) -> Path:
    """The font of a name in the shop file's font folder."""
    home = shop.shop_path(given)
    if not home.exists():
        raise CupgeomError("--font", f"{name} does not exist; give a font file, or name one in a shop file's folder")
    folder = home.parent / shop.shelf(given).fonts
    known = {one.stem: one for one in sorted(folder.glob("*")) if one.suffix.lower() in (".ttf", ".otf", ".woff2")}
    if name in known:
        return known[name]
    from cupgeom.records import nearest

    hint = nearest(name, known) if known else "there are no fonts"
    raise CupgeomError("--font", f"{name!r} is no file and no font in {folder}; {hint}")


def _colour(text: str) -> tuple[float, float, float]:
    digits = text.removeprefix("#")
    if len(digits) != 6 or any(digit not in "0123456789abcdefABCDEF" for digit in digits):
        raise CupgeomError("--colour", f"cannot read {text!r}; give six hexadecimal digits such as #1a2b5c")
    red, green, blue = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    return red, green, blue
