"""`cupgeom decal`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import printer, store
from .art import FIELDS as ART_FIELDS
from .art import art_options, decal_from, read_art
from .cup import Chosen, choose, coat_options, cup_options
from .formats import page_path, require_ending, written
from .options import LENGTH, WORDS, Command, json_option, naming, tell, unit_option

if TYPE_CHECKING:
    from cupgeom.decor.decal import Decal
    from cupgeom.decor.report import Report
    from cupgeom.pages import Correction, Paper

FIELDS = ART_FIELDS | {"paper": "--paper", "margin": "--margin", "across": "--printed-bar", "along": "--printed-bar"}
FORMATS = (".svg", ".pdf", ".png")
EXAMPLES = """\b
Examples:
  cupgeom decal --rim 88 --base 70 --height 170 --fit front
  cupgeom decal --cup "tapered 20" --fit 60x40mm
  cupgeom decal stars.svg --cup "tapered 20" --width 70mm --drop 60mm \\
    -o stars.pdf
  cupgeom decal --text "Clear skies" --font fonts/GreatVibes-Latin.ttf \\
    --cup "tapered 20" --width 80mm -o motto.svg"""


@click.command(name="decal", cls=Command, epilog=f"{WORDS}\n\n{EXAMPLES}")
@click.argument("art", type=click.Path(path_type=Path), required=False)
@cup_options
@coat_options
@art_options
@click.option(
    "--fit", metavar="front|SIZE", help="How large it can be at the front; or where a size such as 60x40mm fits."
)
@click.option("--cut-only", is_flag=True, help="Cut lines and nothing else.")
@click.option("--paper", metavar="PAPER", help="As for a template. [a4 for .pdf, letter with inches; else fit]")
@click.option("--margin", type=LENGTH, default=5.0, help="White edge of the paper. [5 mm]")
@printer.printer_options
@click.option("--no-notes", is_flag=True, help="Leave out bars, caption and marks.")
@unit_option
@json_option
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="File to write: .pdf or .svg with print, underlay and cut line; .png the print alone. [numbers only]",
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
def command(**given: Any) -> None:
    """Artwork or lettering bent so that it reads level on the wall.

    Prints what there is to know about it; -o also writes it at true scale.
    """
    output: Path | None = given["output"]
    if output is not None:
        require_ending(output, FORMATS)
        if output.suffix.lower() == ".png" and given["cut_only"]:
            raise CupgeomError("--cut-only", "is not for .png, which holds the print alone; give .svg or .pdf")
        store.check_free(output, force=given["force"])
    chosen = choose(given)
    if given["fit"] is not None:
        for option, asked in (("-o", output), ("--json", given["as_json"])):
            if asked:
                raise CupgeomError(option, "is not for --fit, which answers in words; leave one of the two out")
        click.echo(_fitting(given, chosen))
        return
    from cupgeom.decor.printout import caption_notices
    from cupgeom.decor.report import numbers, report, table

    decal = decal_from(given, chosen.cup, given["art"])
    with naming(FIELDS):
        known = report(decal)
        paper = _paper(given, chosen)
        correction = printer.correction(given, paper, inches=chosen.inches)
        files = {} if output is None else _files(given, chosen, decal, known, paper, correction)
    for path in files:
        store.check_free(path, force=given["force"])
    store.refuse_inputs(files)
    store.write_all(files)
    printer.keep(given, paper, correction)
    if given["as_json"]:
        import json

        click.echo(json.dumps(numbers(known), indent=2, allow_nan=False))
    else:
        click.echo(table(known, "in" if chosen.inches else "mm"))
    tell([*chosen.notices, *known.notices, *(caption_notices(decal) if output else ())])
    for path in files:
        click.echo(f"wrote {path}", err=given["as_json"])


def _fitting(given: dict[str, Any], chosen: Chosen) -> str:
    """The answer to --fit."""
    from cupgeom import units
    from cupgeom.decor import room

    unit = "in" if chosen.inches else "mm"
    with naming(FIELDS):
        if given["fit"] == "wrap":
            sizes = [units.format_length(size, unit) for size in room.wrap_size(chosen.cup)]
            said = "art for a whole wrap  {} wide, {} high with bleed, middle at drop {}".format(*sizes)
            return f'{said}\non a template         --decal "ART --width round"'
        if given["fit"] != "front":
            try:
                width, height = units.parse_size(given["fit"], "--fit")
            except CupgeomError:
                what = f"cannot read {given['fit']!r}; give front, wrap or a size such as 60x40mm"
                raise CupgeomError("--fit", what) from None
            return room.fits_table(room.fits_of_size(chosen.cup, width, height), width, height, unit)
        place = given["drop"]
        drop = None if not isinstance(place, tuple) else chosen.cup.slant - place[0] if place[1] else place[0]
        box = read_art(str(given["art"])).box if given["art"] else None
        ratio = box.height / box.width if box else None
        return room.room_table(room.front_room(chosen.cup, drop), unit, ratio)


def _paper(given: dict[str, Any], chosen: Chosen) -> Paper:
    from cupgeom.pages import parse_paper

    sheet = given["output"] and given["output"].suffix.lower() == ".pdf"
    default = "fit" if not sheet else "letter" if chosen.inches else "a4"
    return parse_paper(default if given["paper"] is None else given["paper"])


def _files(
    given: dict[str, Any], chosen: Chosen, decal: Decal, known: Report, paper: Paper, correction: Correction
) -> dict[Path, bytes]:
    """The bytes to write: one PDF, or one SVG or PNG a piece."""
    from cupgeom.decor.printout import picture_pages, printout

    output: Path = given["output"]
    if output.suffix.lower() == ".png":
        from cupgeom.writers import png

        pictures = picture_pages(decal).split()
        return {page_path(output, part): png.render(part, decal.dpi, background=None) for part in pictures}
    pages = printout(
        decal,
        paper,
        margin=given["margin"],
        inches=chosen.inches,
        notes=not given["no_notes"],
        cut_only=given["cut_only"],
        correction=correction,
        remarks=chosen.remarks,
        fine=known.strokes + known.gaps,
    )
    return written(output, pages)
