"""`cupgeom template`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import store
from .options import (
    DROP,
    LENGTH,
    TURN,
    WORDS,
    Command,
    cup_from,
    cup_options,
    inches,
    naming,
    span_from,
    tell,
    unit_option,
)

if TYPE_CHECKING:
    from cupgeom.cup import Cup
    from cupgeom.pages import Correction, Document
    from cupgeom.template import Template

FORMATS = (".svg", ".pdf")
TURNS = """TURN    front, right, back, left, or degrees from -180 to 180,
        positive to your right"""
EXAMPLES = """\b
Examples:
  cupgeom template --rim 88mm --base 70mm --height 170mm -o wrap.pdf
  cupgeom template --rim "3 1/2 in" --base 2.75in --height 6.75in -o wrap.svg
  cupgeom template --rim 88 --base 70 --height 170 --as film -o film.pdf
  cupgeom template --rim 82 --base 82 --height 95 --foot 14,15,80 -o mug.pdf"""
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
    "pages": "--paper",
}


@click.command(name="template", cls=Command, epilog=f"{WORDS}\n{TURNS}\n\n{EXAMPLES}")
@cup_options
@click.option("--from", "trim_from", type=DROP, help="Where the cut begins. [the bare lip]")
@click.option("--to", "trim_to", type=DROP, help="Where the cut ends. [the base edge]")
@click.option("--print-from", type=DROP, help="Where ink begins. [as --from]")
@click.option("--print-to", type=DROP, help="Where ink ends. [as --to]")
@click.option("--closed/--open", "closed", default=None, help="All round, or short of the handle. [open with a handle]")
@click.option("--gap", type=LENGTH, help="Free width at the back of an open wrap on a cup without a handle.")
@click.option(
    "--seam",
    type=click.Choice(["blank", "continued", "butt"]),
    default="blank",
    help="A tab without ink, a tab with the print running on, or edge to edge. [blank]",
)
@click.option("--overlap", type=LENGTH, default=8.0, help="Width of the tab. [8 mm]")
@click.option("--bleed", type=LENGTH, default=3.0, help="How far ink goes beyond the cut. [3 mm]")
@click.option("--safe", type=LENGTH, default=3.0, help="Margin inside the cut for lettering. [3 mm]")
@click.option(
    "--rim-band", type=LENGTH, default=20.0, help="Band at the top edge, hatched as a reminder; 0 for none. [20 mm]"
)
@click.option("--base-clearance", type=LENGTH, default=0.0, help="How far above the base edge --to lies. [0 mm]")
@click.option(
    "--as",
    "purpose",
    type=click.Choice(["pattern", "film", "cut"]),
    default="pattern",
    help="A paper pattern with guides, a printed film, or cut lines only. [pattern]",
)
@click.option(
    "--paper",
    metavar="PAPER",
    help="a5, a4, a3, letter, legal, tabloid, a size such as 13x19in, 'roll 610mm', or fit: as large as needed. "
    "[fit for .svg; a4 for .pdf, letter with inches]",
)
@click.option("--margin", type=LENGTH, default=5.0, help="White edge of the paper. [5 mm]")
@click.option(
    "--split",
    "splits",
    type=TURN,
    multiple=True,
    help="Split into panels at this turn; once for each. [a film: as the paper asks]",
)
@click.option(
    "--printed-bar",
    metavar="ACROSS x ALONG",
    help="Both scale bars as measured on a print, along the paper's width and its length, to put the printer right.",
)
@click.option("--no-notes", is_flag=True, help="Leave out bars, captions and guides.")
@unit_option
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="File to write, .pdf or .svg. Several SVG pages become wrap-A1.svg, wrap-A2.svg ... [required]",
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
def command(**given: Any) -> None:
    """A wrap template at true scale, as SVG or PDF.

    Print it at 100 %, measure its bars, cut it, and close it on the cup.
    """
    output: Path | None = given["output"]
    if output is None:
        raise CupgeomError("-o", "is missing; give a file such as wrap.pdf")
    ending = output.suffix.lower()
    if ending not in FORMATS:
        raise CupgeomError("-o", f"unknown ending of {str(output)!r}; give a name that ends in {' or '.join(FORMATS)}")
    store.check_free(output, force=given["force"])
    cup = cup_from(given)
    with naming(_FIELDS):
        template = _template(given, cup)
        files = _files(output, _document(given, template, ending))
    from cupgeom.template import caption_notices

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
        rim_band=given["rim_band"],
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
        parse_paper(default if given["paper"] is None else given["paper"]),
        purpose=given["purpose"],
        margin=given["margin"],
        inches=typed_inches,
        notes=not given["no_notes"],
        correction=_correction(given["printed_bar"], inches=typed_inches),
    )


def _correction(text: str | None, *, inches: bool) -> Correction:
    from cupgeom.pages import Correction, read_bars

    return Correction() if text is None else read_bars(text, inches=inches)


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
