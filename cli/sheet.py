"""`cupgeom sheet`."""

from __future__ import annotations

import re
import signal
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError, Notice

from . import printer, store
from .art import FIELDS as ART_FIELDS
from .art import decals_on
from .cup import choose, coat_options, cup_options
from .formats import require_ending, written
from .options import LENGTH, WORDS, Command, json_option, naming, tell, unit_option

if TYPE_CHECKING:
    from cupgeom.cup import Cup
    from cupgeom.decor.medium import Medium
    from cupgeom.pages import Paper
    from cupgeom.sheets.layout import Layout
    from cupgeom.sheets.packing import Effort
    from cupgeom.sheets.piece import Part

FORMATS = (".pdf", ".svg", ".png", ".dxf")
_SILENCE_S = 3.0  # between two words of progress
EXAMPLES = """\b
Examples:
  cupgeom sheet --cup "tapered 20" --cups 6 -o sheet.pdf \\
    --decal "stars.svg --width 40mm --drop 60mm"
  cupgeom sheet --cup "tapered 20" --orders guests.csv -o names.pdf \\
    --decal "--text {name} --font fonts/GreatVibes-Latin.ttf --width 30mm"
  cupgeom sheet --help"""
_FIELDS = ART_FIELDS | {
    "cups": "--cups",
    "margin": "--margin",
    "paper": "--paper",
    "across": "--printed-bar",
    "along": "--printed-bar",
    "only": "--only",
    "media": "--paper",
    "count": "--cups",
    "gap": "--gap",
    "shrink": "--shrink",
}


@click.command(name="sheet", cls=Command, epilog=f"{WORDS}\n\n{EXAMPLES}")
@cup_options
@coat_options
@click.option(
    "--decal",
    "decals",
    metavar="WORDS",
    multiple=True,
    required=True,
    help="A decal in the words of cupgeom decal; {name} stands for that column of --orders. Once for each.",
)
@click.option("--cups", type=int, default=1, help="How many cups get each decal. [1]")
@click.option("--orders", metavar="FILE", help="CSV with a row an order and its columns named, such as name and qty.")
@click.option("--column", "columns", metavar="NAME=HEADER", multiple=True, help="What the file calls a column.")
@click.option("--only", metavar="NAME", multiple=True, help="Only the rows of this name, to make one again.")
@click.option("--widest", type=LENGTH, help="Longer names are made smaller, to this width.")
@click.option("--shrink", type=float, default=0.7, help="Down to this share of their size, then it is an error. [0.7]")
@click.option("--paper", default="a4", metavar="PAPER", help="Sheet or roll, as for a template. [a4]")
@click.option("--margin", type=LENGTH, default=5.0, help="White edge of the paper. [5 mm]")
@click.option("--gap", type=LENGTH, default=2.0, help="Least distance between pieces. [2 mm]")
@click.option("--no-turning", is_flag=True, help="Keep all pieces upright.")
@click.option("--dense", is_flag=True, help="Search longer for a tighter sheet; Ctrl-C keeps the best so far.")
@printer.printer_options
@click.option("--dpi", type=float, default=300.0, help="Of a .png. [300]")
@unit_option
@json_option
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Sheets with print, white underlay and cut lines: .pdf, .svg or .png; .dxf cut lines alone. [numbers only]",
)
@click.option(
    "--cut",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Cut lines alone with the registration marks of the printed sheets: .pdf, .svg or .dxf.",
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
def command(**given: Any) -> None:
    """Many decals on few sheets, packed by their true shape.

    One set of sheets for each medium. Align a cut file by its registration marks, by hand or by the cutter's own means.
    """
    from cupgeom.pages import parse_paper

    for option, endings in (("output", FORMATS), ("cut", (".pdf", ".svg", ".dxf"))):
        path: Path | None = given[option]
        if path is not None:
            require_ending(path, endings, "-o" if option == "output" else "--cut")
    if given["output"] is not None and given["output"] == given["cut"]:
        raise CupgeomError("--cut", "names the same file as -o; give another name")
    if not 0 < given["shrink"] <= 1:
        raise CupgeomError("--shrink", f"must be a share from 0 to 1, got {given['shrink']:g}")
    chosen = choose(given)
    notices: list[Notice] = [*chosen.notices]
    with naming(_FIELDS):
        paper = parse_paper(given["paper"])
        correction = printer.correction(given, paper, inches=chosen.inches)
        sets = _parts(given, chosen.cup, notices)
        files: dict[Path, bytes] = {}
        told = []
        for medium, parts in sets.items():
            layout = _packed(given, parts, paper, medium)
            told.append((medium, layout))
            several = f"-{medium.name.replace(' ', '-')}" if len(sets) > 1 else ""
            notes = _notes(medium, chosen.inches)
            files |= _files(given, layout, notes, several, correction, notices)
    for path in files:
        store.check_free(path, force=given["force"])
    store.refuse_inputs(files)
    store.write_all(files)
    printer.keep(given, paper, correction)
    _tell_layouts(told, as_json=given["as_json"])
    tell(list(dict.fromkeys(notices)))
    for path in files:
        click.echo(f"wrote {path}", err=given["as_json"])


def _parts(given: dict[str, Any], cup: Cup, notices: list[Notice]) -> dict[Medium, list[Part]]:
    """The pieces of all decals, by the medium that they go on."""
    from cupgeom.sheets.parts import fitting, parts_of

    sets: dict[Medium, list[Part]] = {}
    for label, words, count in _wanted(given, notices):
        with _row(label):
            decals = decals_on(given | {"decals": words, "bleed": 0.0}, cup)
        for decal in decals:
            with _row(label):
                made = decal if given["widest"] is None else fitting(decal, given["widest"], given["shrink"])
                notices += [one for one in made.design.notices if one not in notices]
                parts = parts_of(made, made.design.name, count)
            turned = [replace(part, may_rotate=not given["no_turning"]) for part in parts]
            sets.setdefault(made.medium, []).extend(turned)
    return sets


@contextmanager
def _row(label: str) -> Iterator[None]:
    """Let an error in the decal of a row begin with that row."""
    try:
        yield
    except CupgeomError as error:
        if not label:
            raise
        where = error.where.removeprefix("--decal ")
        raise CupgeomError(label, f"{where}: {error.what}" if where else error.what) from None


@contextmanager
def _naming_rows(file: str) -> Iterator[None]:
    """Let an error in an order list name its file and row."""
    try:
        yield
    except CupgeomError as error:
        if error.where == "orders" or error.where.startswith("orders["):
            raise CupgeomError(_row_of(file, error.where), error.what) from None
        raise


def _row_of(file: str, where: str) -> str:
    """The file and the row, from a field such as orders[5].qty."""
    match = re.match(r"orders\[(\d+)\]\.?(.*)", where)
    if match is None:
        return file
    column = f", {match[2]}" if match[2] else ""
    return f"{file}, row {match[1]}{column}"


def _wanted(given: dict[str, Any], notices: list[Notice]) -> Iterator[tuple[str, list[str], int]]:
    """For each order its label, its decals in words, and how many cups get them."""
    if not given["orders"]:
        for option in ("columns", "only"):
            if given[option]:
                raise CupgeomError(
                    "--column" if option == "columns" else "--only", "is for an order list; give --orders"
                )
        named = _placeholders(given["decals"])
        if named:
            raise CupgeomError("--decal", f"{{{named[0]}}} stands for a column of an order list; give --orders")
        yield "", given["decals"], given["cups"]
        return
    from cupgeom.sheets.orders import OrderList

    rename = dict(_renamed(text) for text in given["columns"])
    named = [text for text in given["decals"] if _placeholders([text])]
    rows = OrderList(
        data=store.bytes_of(Path(given["orders"])), needs=_placeholders(named), rename=rename, only=given["only"]
    )
    cups, file = 0, given["orders"]
    with _naming_rows(file):
        for row in rows:
            cups += row.quantity
            called = f" ({row.values['name']})" if row.values.get("name") else ""
            words = [_filled(text, row.values) for text in named]
            yield f"{file}, row {row.row}{called}", words, row.quantity * given["cups"]
    if not cups:
        raise CupgeomError(file, "holds no orders below its first row")
    alike = [text for text in given["decals"] if text not in named]
    if alike and cups:
        yield "", alike, cups * given["cups"]
    notices += [replace(notice, where=_row_of(file, notice.where)) for notice in rows.notices]


def _placeholders(decals: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(name for text in decals for name in re.findall(r"\{([^{}]+)\}", text)))


def _filled(text: str, values: Mapping[str, str]) -> str:
    """The words of a decal with what stands in a row; quotation marks in it stay letters."""

    def quoted(match: re.Match[str]) -> str:
        return "'" + values[match[1]].replace("'", "'\"'\"'") + "'"

    return re.sub(r"\{([^{}]+)\}", quoted, text)


def _renamed(text: str) -> tuple[str, str]:
    name, sign, header = text.partition("=")
    if not (name and sign and header):
        raise CupgeomError("--column", f"cannot read {text!r}; give a name and the file's header, such as name=Guest")
    return name, header


def _packed(given: dict[str, Any], parts: list[Part], paper: Paper, medium: Medium) -> Layout:
    """The layout, with progress where it takes long; Ctrl-C ends the search and keeps the best so far."""
    from cupgeom.sheets.packing import pack
    from cupgeom.sheets.piece import SheetSize
    from cupgeom.sheets.sheet import with_room_for

    if paper.width is None:
        raise CupgeomError("--paper", "must be a sheet or a roll; give one such as a4 or 'roll 300mm'")
    size = SheetSize(width=paper.width, length=paper.length, margin=given["margin"], gap=given["gap"])
    size = with_room_for(_notes(medium, False), size)
    stopped, told = False, time.monotonic()

    def progress(done: int, total: int) -> None:
        nonlocal told
        if time.monotonic() - told >= _SILENCE_S:
            told = time.monotonic()
            click.echo(f"packing {medium.name}: {done} of {total} tries; Ctrl-C keeps the best so far", err=True)

    def stop(*_: object) -> None:
        nonlocal stopped
        stopped = True

    before = signal.signal(signal.SIGINT, stop)
    try:
        effort: Effort = "dense" if given["dense"] else "usual"
        return pack(parts, size, effort=effort, progress=progress, stop=lambda: stopped)
    finally:
        signal.signal(signal.SIGINT, before)


def _notes(medium: Medium, inches: bool) -> Any:
    from cupgeom.sheets.sheet import Notes

    white = " · white underlay" if medium.white else ""
    return Notes(title=f"{medium.name}{white}", inches=inches, mirrored=medium.mirrored)


def _files(
    given: dict[str, Any], layout: Layout, notes: Any, several: str, correction: Any, notices: list[Notice]
) -> dict[Path, bytes]:
    """The bytes to write for one medium."""
    from cupgeom.sheets.sheet import cut_document, document, unlabelled

    files: dict[Path, bytes] = {}
    output: Path | None = given["output"]
    if output is not None:
        notices += unlabelled(layout)
        cutting = output.suffix.lower() == ".dxf"
        pages = cut_document(layout, notes) if cutting else document(layout, notes, correction=correction)
        files |= written(output.with_stem(output.stem + several), pages, given["dpi"])
    if given["cut"] is not None:
        cut: Path = given["cut"]
        files |= written(cut.with_stem(cut.stem + several), cut_document(layout, notes, marks=True), given["dpi"])
    return files


def _tell_layouts(told: list[tuple[Medium, Layout]], *, as_json: bool) -> None:
    if not as_json:
        for medium, layout in told:
            click.echo(f"{medium.name}: {layout}")
        return
    import json

    numbers = [
        {
            "medium": medium.name,
            "pieces": len(layout.placements),
            "sheets": layout.sheets,
            "used_share": layout.used_share,
            "length_mm": layout.length,
        }
        for medium, layout in told
    ]
    click.echo(json.dumps(numbers, indent=2, allow_nan=False))
