"""`cupgeom template`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import store
from .options import DROP, LENGTH, TURN, cup_from, cup_options, inches, naming, span_from, tell, unit_option

if TYPE_CHECKING:
    from cupgeom.cup import Cup
    from cupgeom.pages import Correction, Document
    from cupgeom.template import Template

FORMATS = (".svg", ".pdf")
EXAMPLE = """\b
Examples:
  cupgeom template --rim 88mm --base 70mm --height 170mm -o wrap.pdf
  cupgeom template --rim "3 1/2 in" --base "2 3/4 in" --height "6 3/4 in" --paper tabloid -o wrap.svg
  cupgeom template --rim 82 --base 82 --height 95 --foot 14,15,30 --foot 14,65,80 -o mug.pdf
  cupgeom template --rim 88 --base 70 --height 170 --as film --seam continued --paper a4 -o film.pdf"""
_FIELDS = {
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
}


@click.command(name="template", epilog=EXAMPLE)
@cup_options
@click.option("--from", "trim_from", type=DROP, help="Drop where the blade begins; '20mm up' counts from the base.")
@click.option("--to", "trim_to", type=DROP, help="Drop where the blade ends.")
@click.option("--print-from", type=DROP, help="Drop where ink begins. [where the blade does]")
@click.option("--print-to", type=DROP, help="Drop where ink ends.")
@click.option("--closed/--open", "closed", default=None, help="All round, or short of the handle. [by the handle]")
@click.option("--gap", type=LENGTH, help="Width left free at the back of an open wrap without a handle.")
@click.option(
    "--seam",
    type=click.Choice(["blank", "continued", "butt"]),
    default="blank",
    help="Tab without ink, tab with the print running on, or edge to edge. [blank]",
)
@click.option("--overlap", type=LENGTH, default=8.0, help="Width of the tab, along the wall. [8 mm]")
@click.option("--bleed", type=LENGTH, default=3.0, help="How far ink goes beyond the trim. [3 mm]")
@click.option("--safe", type=LENGTH, default=3.0, help="Margin to keep lettering out of. [3 mm]")
@click.option("--rim-band", default="20mm", help="Advisory band below the top edge, or off. [20 mm]")
@click.option("--base-clearance", type=LENGTH, default=0.0, help="How far above the base edge the wrap ends. [0]")
@click.option(
    "--as",
    "purpose",
    type=click.Choice(["pattern", "film", "cut"]),
    default="pattern",
    help="Paper pattern with guides, printed film, or cut lines only. [pattern]",
)
@click.option(
    "--paper",
    default=None,
    help="a4, a3, letter, legal, tabloid, 13x19in, 'roll 610mm', or fit. [pdf: a4, or letter in inches; svg: fit]",
)
@click.option("--margin", type=LENGTH, default=5.0, help="White edge of the paper. [5 mm]")
@click.option(
    "--split", "splits", type=TURN, multiple=True, help="Turn at which to split into panels, besides the back."
)
@click.option(
    "--printed-bar",
    metavar="ACROSS x ALONG",
    help="The printed bars as measured: along the paper's width, then its length.",
)
@click.option("--no-notes", is_flag=True, help="Leave out bars, captions and guides.")
@unit_option
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), required=True, help="The file; .pdf or .svg chooses the format."
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
def command(**given: Any) -> None:  # fmt: skip
    """A wrap template at true scale: print at 100 %, cut, close it on the cup."""
    output: Path = given["output"]
    ending = output.suffix.lower()
    if ending not in FORMATS:
        raise CupgeomError("-o", f"unknown ending {output.suffix!r} of {output.name}; use {' or '.join(FORMATS)}")
    store.check_free(output, force=given["force"])
    cup = cup_from(given)
    with naming(_FIELDS):
        template = _template(given, cup)
        pages = _document(given, template, ending)
    from cupgeom.template import caption_notices

    files = _files(output, pages)
    for path in files:
        store.check_free(path, force=given["force"])
    store.write_all(files)
    tell([*template.notices, *caption_notices(template)])
    for path in files:
        click.echo(f"wrote {path}")


def _template(given: dict[str, Any], cup: Cup) -> Template:
    from cupgeom.template import Template

    trim = span_from(
        cup,
        given["trim_from"],
        given["trim_to"],
        ("--from", "--to"),
        given["bare_lip"],
        cup.slant - given["base_clearance"],
    )
    printed = span_from(cup, given["print_from"], given["print_to"], ("--print-from", "--print-to"), given["bare_lip"])
    band = given["rim_band"].strip().lower()
    return Template(
        cup=cup,
        trim=trim,
        printed=printed,
        closed=given["closed"],
        gap=given["gap"],
        seam=given["seam"],
        overlap=given["overlap"],
        bleed=given["bleed"],
        safe=given["safe"],
        rim_band=0.0 if band == "off" else LENGTH.convert(band, None, None),
        base_clearance=given["base_clearance"],
        splits_deg=tuple(given["splits"]),
    )


def _document(given: dict[str, Any], template: Template, ending: str) -> Document:
    from cupgeom.pages import parse_paper
    from cupgeom.template import document

    typed_inches = inches(given)
    default = "fit" if ending == ".svg" else "letter" if typed_inches else "a4"
    return document(
        template,
        parse_paper(given["paper"] or default),
        purpose=given["purpose"],
        margin=given["margin"],
        inches=typed_inches,
        notes=not given["no_notes"],
        correction=_correction(given["printed_bar"], inches=typed_inches),
    )


def _correction(text: str | None, *, inches: bool) -> Correction:
    from cupgeom.pages import Correction, read_bars

    return read_bars(text, inches=inches) if text else Correction()


def _files(output: Path, pages: Document) -> dict[Path, bytes]:
    """The bytes to write: one PDF, or one SVG a page, named after the page where there are several."""
    if output.suffix.lower() == ".pdf":
        from cupgeom.writers import pdf

        return {output: pdf.render(pages)}
    from cupgeom.writers import svg

    return {_page_path(output, part): svg.render(part) for part in pages.split()}


def _page_path(output: Path, part: Document) -> Path:
    name = part.pages[0].name
    return output.with_name(f"{output.stem}-{name}{output.suffix}") if name else output
