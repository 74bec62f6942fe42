"""`cupgeom template`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import shop, store
from .cup import Chosen, choose, cup_options
from .options import WORDS, Command, naming, tell, unit_option
from .wrap import FIELDS, wrap_options, wraps_from

if TYPE_CHECKING:
    from cupgeom.errors import Notice
    from cupgeom.pages import Correction, Document, Paper

FORMATS = (".svg", ".pdf")
TURNS = """TURN    front, right, back, left, or degrees from -180 to 180,
        positive to your right"""
EXAMPLES = """\b
Examples:
  cupgeom template --rim 88mm --base 70mm --height 170mm -o wrap.pdf
  cupgeom template --rim "3 1/2 in" --base 2.75in --height 6.75in -o wrap.svg
  cupgeom template --rim 88 --base 70 --height 170 --as film -o film.pdf
  cupgeom template --rim 82 --base 82 --height 95 --foot 14,15,80 -o mug.pdf
  cupgeom template --cup "tapered 20" --fit-test -o fit.pdf
  cupgeom template --cup "tapered 20" --film 1.2mm -o coated.pdf"""


@click.command(name="template", cls=Command, epilog=f"{WORDS}\n{TURNS}\n\n{EXAMPLES}")
@cup_options
@wrap_options
@click.option(
    "--printer",
    metavar="NAME",
    help="Correct for this printer of the shop file; with --printed-bar, keep its correction for this paper there.",
)
@click.option("--fit-test", is_flag=True, help="Two narrow bands of paper that tell how well the cup is known.")
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
    chosen = choose(given, sheet=given["wall"] is None)
    with naming(FIELDS):
        paper = _paper(given, chosen, ending)
        correction = _correction(given, paper, inches=chosen.inches)
        pages, notices = _pages(given, chosen, paper, correction)
        files = _files(output, pages)
    for path in files:
        store.check_free(path, force=given["force"])
    store.write_all(files)
    _keep(given, paper, correction)
    tell([*chosen.notices, *notices])
    for path in files:
        click.echo(f"wrote {path}")


def _pages(
    given: dict[str, Any], chosen: Chosen, paper: Paper, correction: Correction
) -> tuple[Document, tuple[Notice, ...]]:
    from cupgeom.template import caption_notices, document, fit_test, joined

    wraps = wraps_from(given, chosen)
    margin, inches = given["margin"], chosen.inches
    if given["fit_test"]:
        tests = [
            fit_test(chosen.cup, paper, wall_index=wrap.wall_index, margin=margin, inches=inches, correction=correction)
            for wrap in wraps
        ]
        return joined(tests), ()
    parts = [
        document(
            wrap,
            paper,
            purpose=given["purpose"],
            margin=margin,
            inches=inches,
            notes=not given["no_notes"],
            correction=correction,
            remarks=chosen.remarks,
        )
        for wrap in wraps
    ]
    notices = [notice for wrap in wraps for notice in (*wrap.notices, *caption_notices(wrap))]
    return joined(parts), tuple(dict.fromkeys(notices))


def _paper(given: dict[str, Any], chosen: Chosen, ending: str) -> Paper:
    from cupgeom.pages import parse_paper

    default = "fit" if ending == ".svg" else "letter" if chosen.inches else "a4"
    return parse_paper(default if given["paper"] is None else given["paper"])


def _correction(given: dict[str, Any], paper: Paper, *, inches: bool) -> Correction:
    """What the printer's bars ask for: the correction in force for the printer, times the one newly measured."""
    from cupgeom.pages import Correction, read_bars

    correction = Correction()
    if given["printer"] and (given["printed_bar"] is None or _known(given, paper)):
        correction = _of_printer(given, paper)
    if given["printed_bar"] is not None:
        correction *= read_bars(given["printed_bar"], inches=inches)
    return correction


def _known(given: dict[str, Any], paper: Paper) -> bool:
    """Whether the shop file has a correction of the printer for the paper."""
    if not shop.shop_path(given).exists():
        return False
    return shop.shelf(given).has_printer(given["printer"], paper.name)


def _of_printer(given: dict[str, Any], paper: Paper) -> Correction:
    try:
        return shop.shelf(given).printer(given["printer"], paper.name)
    except CupgeomError as error:
        if error.where not in {"printer", "paper"}:
            raise
        raise CupgeomError(f"--{error.where}", error.what) from None


def _keep(given: dict[str, Any], paper: Paper, correction: Correction) -> None:
    """Keep a newly measured correction in the shop file; one that is there has been multiplied into it."""
    if not given["printer"] or given["printed_bar"] is None:
        return
    from cupgeom.shelf import with_printer

    path = shop.shop_path(given)
    store.update(
        path,
        lambda text: with_printer(
            text, given["printer"], paper.name, correction, replace=given["force"], source=str(path)
        ),
    )
    click.echo(f"saved the correction of {given['printer']} for {paper.name} in {path}", err=True)


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
