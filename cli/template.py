"""`cupgeom template`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import printer, store
from .cup import Chosen, choose, coat_options, cup_options
from .formats import require_ending, written
from .options import WORDS, Command, naming, tell, unit_option
from .wrap import FIELDS, wrap_options, wraps_from

if TYPE_CHECKING:
    from cupgeom.errors import Notice
    from cupgeom.pages import Correction, Document, Paper
    from cupgeom.template.art import Art

FORMATS = (".svg", ".pdf", ".png")
TURNS = """TURN    front, right, back, left, or degrees from -180 to 180,
        positive to your right"""
EXAMPLES = """\b
Examples:
  cupgeom template --rim 88mm --base 70mm --height 170mm -o wrap.pdf
  cupgeom template --rim "3 1/2 in" --base 2.75in --height 6.75in -o wrap.svg
  cupgeom template --rim 88 --base 70 --height 170 --as film -o film.pdf
  cupgeom template --rim 82 --base 82 --height 95 --foot 14,15,80 -o mug.pdf
  cupgeom template --cup "tapered 20" --fit-test -o fit.pdf
  cupgeom template --cup "tapered 20" --as film -o print.pdf \\
    --decal "stars.svg --width 70mm --drop 60mm"
  cupgeom template --cup "tapered 20" --sleeve -o sleeve.pdf \\
    --decal "stars.svg --width 70mm --drop 60mm"
  cupgeom template --cup "tapered 20" --film 1.2mm -o coated.pdf"""


@click.command(name="template", cls=Command, epilog=f"{WORDS}\n{TURNS}\n\n{EXAMPLES}")
@cup_options
@coat_options
@wrap_options
@printer.printer_options
@click.option(
    "--decal",
    "decals",
    metavar="WORDS",
    multiple=True,
    help="A decal on the wrap, in the words of cupgeom decal: a file or --text, its size and place. Once for each.",
)
@click.option("--sleeve", is_flag=True, help="A placement sleeve: openings for the decals in place of their print.")
@click.option(
    "--medium", metavar="NAME", help="What a wrap with decals is printed on: it decides seam, white and mirror."
)
@click.option("--dpi", type=float, default=300.0, help="Of a .png. [300]")
@click.option("--fit-test", is_flag=True, help="Two narrow bands of paper that tell how well the cup is known.")
@unit_option
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="File to write: .pdf, .svg or .png. Several SVG or PNG pages become wrap-A1.svg, wrap-A2.svg ... [required]",
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
def command(**given: Any) -> None:
    """A wrap template at true scale, as SVG or PDF.

    Print it at 100 %, measure its bars, cut it, and close it on the cup.
    """
    output: Path | None = given["output"]
    if output is None:
        raise CupgeomError("-o", "is missing; give a file such as wrap.pdf")
    require_ending(output, FORMATS)
    store.check_free(output, force=given["force"])
    chosen = choose(given, sheet=given["wall"] is None)
    with naming(FIELDS):
        paper = _paper(given, chosen, output.suffix.lower())
        correction = printer.correction(given, paper, inches=chosen.inches)
        pages, notices = _pages(given, chosen, paper, correction)
        files = written(output, pages, given["dpi"])
    for path in files:
        store.check_free(path, force=given["force"])
    store.refuse_inputs(files)
    store.write_all(files)
    printer.keep(given, paper, correction)
    tell([*chosen.notices, *notices])
    for path in files:
        click.echo(f"wrote {path}")


def _pages(
    given: dict[str, Any], chosen: Chosen, paper: Paper, correction: Correction
) -> tuple[Document, tuple[Notice, ...]]:
    from cupgeom.template import caption_notices, document, fit_test, joined

    art, said = _art(given, chosen)
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
            art=art,
        )
        for wrap in wraps
    ]
    notices = [notice for wrap in wraps for notice in (*wrap.notices, *caption_notices(wrap))] + said
    return joined(parts), tuple(dict.fromkeys(notices))


def _art(given: dict[str, Any], chosen: Chosen) -> tuple[Art | None, list[Notice]]:
    """The decals on the wrap with what there is to note about them, and what its medium decides."""
    if not given["decals"]:
        for option in ("sleeve", "medium"):
            if given[option]:
                raise CupgeomError(f"--{option}", "is for a wrap with decals; give --decal too")
        return None, []
    from dataclasses import replace

    from cupgeom.decor.report import report
    from cupgeom.template.art import Art

    from .art import decals_on, medium_from

    decals = decals_on(given, chosen.cup)
    if given["sleeve"]:
        return Art(decals=decals, sleeve=True), [notice for decal in decals for notice in report(decal).notices]
    medium = medium_from(given) if given["medium"] else None
    if medium:
        decals = tuple(replace(decal, medium=medium) for decal in decals)
        given["seam"] = given["seam"] or medium.seam
    notices = [notice for decal in decals for notice in report(decal).notices if medium or notice.where != "medium"]
    return Art(decals=decals, white=bool(medium and medium.white), mirrored=bool(medium and medium.mirrored)), notices


def _paper(given: dict[str, Any], chosen: Chosen, ending: str) -> Paper:
    from cupgeom.pages import parse_paper

    default = "fit" if ending != ".pdf" else "letter" if chosen.inches else "a4"
    return parse_paper(default if given["paper"] is None else given["paper"])
