"""`cupgeom measure`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import shop, store
from .options import LENGTH, Command, json_option, tell, unit_option

if TYPE_CHECKING:
    from cupgeom.shelf import PaperRead, Read, Readings, ShelfCup

EXAMPLE = """\b
READING  a length as read: 258mm, "10 7/8 in"; its own uncertainty may
         stand behind it: "258mm ± 0.3mm"
Each may be given several times.

\b
Examples:
  cupgeom measure --rim-around "10 7/8 in" --base-around "8 5/8 in" \\
    --slant "6 3/4 in" --save "tapered 21"
  cupgeom measure --rim 88 --base 70 --height 170 --around 251mm@60mm
  cupgeom measure --cup "tapered 20" --paper-gap rim=1.5mm,base=-0.5mm \\
    --save "tapered 20" --force
  cupgeom measure --list"""
_READINGS = {
    "rim_around": "Tape round the rim.",
    "base_around": "Tape round the base.",
    "around": "Tape round a place: 251mm@60mm, a drop, or 251mm@'20mm up'.",
    "rim": "Calliper across the rim.",
    "base": "Calliper across the base.",
    "across": "Calliper across a place: 80mm@60mm.",
    "height": "Ruler, straight up from base to rim.",
    "slant": "Ruler, along the wall from rim to base.",
}


def _reading_options(command: Any) -> Any:
    for key, words in reversed(_READINGS.items()):
        option = f"--{key.replace('_', '-')}"
        command = click.option(option, key, multiple=True, metavar="READING", help=words)(command)
    return command


@click.command(name="measure", cls=Command, epilog=EXAMPLE)
@_reading_options
@click.option("--tape-thickness", type=LENGTH, default=0.0, help="Of a tape that lies on the wall. [0 mm]")
@click.option(
    "--paper-gap",
    "paper_gaps",
    multiple=True,
    metavar="rim=…,base=…,step=…",
    help="What a fit-test print of --cup showed: gap + or overlap - at its edges, and how far the right end stands"
    " above (+) the left at the seam.",
)
@click.option("--cup", metavar="NAME", help="Go on from the readings of this cup in the shop file.")
@click.option("--without", multiple=True, metavar="NAME", help="Set a reading aside, as the verdict names it.")
@click.option("--save", metavar="NAME", help="Keep the readings in the shop file under this name.")
@click.option("--list", "listing", is_flag=True, help="The cups of the shop file.")
@shop.shop_option
@unit_option
@json_option
@click.option("--force", is_flag=True, help="Replace a cup of this name.")
def command(**given: Any) -> None:
    """A cup from tape, calliper and ruler, with what is certain about it."""
    from cupgeom.measure import numbers, table

    if given["listing"]:
        for cup in shop.shelf(given, thorough=True).cups:
            click.echo(cup.summary)
        return
    start = shop.entry(given, given["cup"]) if given["cup"] else None
    readings = _readings(given, start)
    measured = readings.fitted()
    if given["as_json"]:
        import json

        click.echo(json.dumps(numbers(measured), indent=2, allow_nan=False))
    else:
        inches = any(read.inches for read in readings.reads)
        click.echo(table(measured, given["unit"] or ("in" if inches else "mm")))
    tell(measured.notices)
    if given["save"]:
        _save(given, readings, start)


def _save(given: Mapping[str, Any], readings: Readings, start: ShelfCup | None) -> None:
    from cupgeom.shelf import readings_record, with_cup

    path = shop.shop_path(given)
    record = readings_record(readings) | (start.besides if start else {})
    try:
        store.update(path, lambda text: with_cup(text, given["save"], record, replace=given["force"], source=str(path)))
    except CupgeomError as error:
        if error.where != "name":
            raise
        raise CupgeomError("--save", error.what) from None
    click.echo(f"saved {given['save']} in {path}", err=True)


def _readings(given: Mapping[str, Any], start: ShelfCup | None) -> Readings:
    """The readings typed now, behind those that the shop file has of the cup."""
    from cupgeom.shelf import Readings

    new = Readings(
        reads=tuple(_reads(given)),
        papers=tuple(_papers(given, start)),
        without=tuple(given["without"]),
    )
    return start.readings().followed_by(new) if start else new


def _reads(given: Mapping[str, Any]) -> Iterator[Read]:
    from cupgeom.shelf import TAPES, Read, parse_amount

    for key in _READINGS:
        for text in given[key]:
            option = f"--{key.replace('_', '-')}"
            try:
                amount = parse_amount(text)
                yield Read.of(key, amount, thickness=given["tape_thickness"] if key in TAPES else 0.0)
            except CupgeomError as error:
                raise CupgeomError(option, error.what) from None


def _papers(given: Mapping[str, Any], start: ShelfCup | None) -> Iterator[PaperRead]:
    from cupgeom.shelf import parse_paper_gap

    for text in given["paper_gaps"]:
        if start is None:
            raise CupgeomError("--paper-gap", "needs the cup that the print was made for; give --cup NAME")
        try:
            yield parse_paper_gap(text, start.cup())
        except CupgeomError as error:
            raise CupgeomError("--paper-gap", error.what) from None
