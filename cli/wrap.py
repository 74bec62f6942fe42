"""The options of a wrap, and the templates that they describe."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from .options import DROP, LENGTH, TURN, span_from

if TYPE_CHECKING:
    from cupgeom.cup import Cup
    from cupgeom.template import Template

    from .cup import Chosen

FIELDS = {
    "trim": "--to",
    "printed": "--print-to",
    "gap": "--gap",
    "seam": "--seam",
    "overlap": "--overlap",
    "bleed": "--bleed",
    "safe": "--safe",
    "rim_band": "--rim-band",
    "base_clearance": "--base-clearance",
    "splits_deg": "--split",
    "bare_lip": "--bare-lip",
    "handle": "--foot",
    "cup": "--height",
    "paper": "--paper",
    "margin": "--margin",
    "across": "--printed-bar",
    "along": "--printed-bar",
    "pages": "--paper",
    "wall_index": "--wall",
    "band": "--fit-test",
    "dpi": "--dpi",
}


def wrap_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of a wrap; `wraps_from` reads them."""
    for decorate in reversed(
        [
            click.option("--wall", metavar="NUMBER", help="One wall of a cup of several, 1 at the top. [all]"),
            click.option("--from", "trim_from", type=DROP, help="Where the cut begins. [the bare lip]"),
            click.option("--to", "trim_to", type=DROP, help="Where the cut ends. [the base edge]"),
            click.option("--print-from", type=DROP, help="Where ink begins. [as --from]"),
            click.option("--print-to", type=DROP, help="Where ink ends. [as --to]"),
            click.option(
                "--closed/--open",
                "closed",
                default=None,
                help="All round, or short of the handle. [open with a handle]",
            ),
            click.option(
                "--gap", type=LENGTH, help="Free width at the back of an open wrap on a cup without a handle."
            ),
            click.option(
                "--seam",
                type=click.Choice(["blank", "continued", "butt"]),
                help="A tab without ink, a tab with the print running on, or edge to edge. [blank]",
            ),
            click.option("--overlap", type=LENGTH, default=8.0, help="Width of the tab. [8 mm]"),
            click.option("--bleed", type=LENGTH, default=3.0, help="How far ink goes beyond the cut. [3 mm]"),
            click.option("--safe", type=LENGTH, default=3.0, help="Margin inside the cut for lettering. [3 mm]"),
            click.option(
                "--rim-band",
                type=LENGTH,
                default=20.0,
                help="Band at the top edge, hatched as a reminder; 0 for none. [20 mm]",
            ),
            click.option(
                "--base-clearance", type=LENGTH, default=0.0, help="How far above the base edge --to lies. [0 mm]"
            ),
            click.option(
                "--as",
                "purpose",
                type=click.Choice(["pattern", "film", "cut"]),
                default="pattern",
                help="A paper pattern with guides, a printed film, or cut lines only. [pattern]",
            ),
            click.option(
                "--paper",
                metavar="PAPER",
                help="a5, a4, a3, letter, legal, tabloid, a size such as 13x19in, 'roll 610mm', or fit: as large as"
                " needed."
                " [a4 for .pdf, letter with inches; else fit]",
            ),
            click.option("--margin", type=LENGTH, default=5.0, help="White edge of the paper. [5 mm]"),
            click.option(
                "--split",
                "splits",
                type=TURN,
                multiple=True,
                help="Split into panels at this turn; once for each. [a film: as the paper asks]",
            ),
            click.option("--no-notes", is_flag=True, help="Leave out bars, captions and guides."),
        ]
    ):
        command = decorate(command)
    return command


def wraps_from(given: Mapping[str, Any], chosen: Chosen) -> tuple[Template, ...]:
    """The templates of the cup's walls, from the top down."""
    cup = chosen.cup
    return tuple(_wrap(given, cup, index) for index in _walls(given["wall"], cup))


def _walls(number: str | None, cup: Cup) -> range:
    count = len(cup.walls)
    if number is None:
        return range(count)
    if not (number.isascii() and number.isdigit() and 1 <= int(number) <= count):
        raise CupgeomError("--wall", f"must be a whole number from 1 to {count}, got {number!r}")
    return range(int(number) - 1, int(number))


def _wrap(given: Mapping[str, Any], cup: Cup, index: int) -> Template:
    from cupgeom.template import Template

    whole = len(cup.walls) == 1
    trim = span_from(
        cup,
        given["trim_from"],
        given["trim_to"],
        ("--from", "--to"),
        cup.bare_lip,
        cup.slant - given["base_clearance"],
    )
    printed = span_from(cup, given["print_from"], given["print_to"], ("--print-from", "--print-to"), cup.bare_lip)
    if not whole and (trim or printed):
        option = "--from and --to" if trim else "--print-from and --print-to"
        raise CupgeomError(option, "are for a cup of one wall; choose the wall with --wall")
    return Template(
        cup=cup,
        wall_index=index,
        trim=trim,
        printed=printed,
        closed=given["closed"],
        gap=given["gap"],
        seam=given["seam"] or "blank",
        overlap=given["overlap"],
        bleed=given["bleed"],
        safe=given["safe"],
        rim_band=given["rim_band"],
        base_clearance=given["base_clearance"] if index == len(cup.walls) - 1 else 0.0,
        splits_deg=tuple(given["splits"]),
    )
