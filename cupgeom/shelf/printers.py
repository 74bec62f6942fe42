"""The corrections of the maker's printers, each for one paper, as they stand in the shop file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError
from cupgeom.records import DATE, NUMBER, TEXT, Table
from cupgeom.units import is_inches

if TYPE_CHECKING:
    from cupgeom.pages import Correction, Paper

_NO_PAPER = "a correction belongs to a paper of a known size, or to a roll, not to fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperCorrection:
    """How much longer everything is sent to one printer, so that it comes out true on one paper."""

    printer: str
    key: str  # the paper as it is typed in the file
    paper: Paper
    correction: Correction
    notes: str = ""
    made: date | None = None


def parse_printer(printer: str, table: Table) -> tuple[PaperCorrection, ...]:
    """The corrections of one printer, a table for each paper."""
    table.take("notes", TEXT, "")
    found: dict[tuple[float | None, float | None], str] = {}
    corrections = []
    for key, part in table.named().items():
        made = _correction(printer, key, part)
        if made is None:
            continue
        size = (made.paper.width, made.paper.length)
        if size in found:
            table.fault(key, f"is the same paper as {found[size]}; keep one of the two")
        found[size] = key
        corrections.append(made)
    return tuple(corrections)


def correction_for(corrections: Sequence[PaperCorrection], printer: str, paper: Paper) -> PaperCorrection | None:
    """The correction of a printer for a paper of this size, None when there is none."""
    for one in corrections:
        if one.printer == printer and (one.paper.width, one.paper.length) == (paper.width, paper.length):
            return one
    return None


def sized_paper(text: str) -> Paper:
    """A typed paper that a correction can belong to.

    Raises
    ------
    CupgeomError
        When the paper is unknown or has no size of its own.
    """
    from cupgeom.pages import FIT, parse_paper

    paper = parse_paper(text)
    if paper == FIT:
        raise CupgeomError("paper", _NO_PAPER)
    return paper


def _correction(printer: str, key: str, table: Table) -> PaperCorrection | None:
    from cupgeom.pages import Correction, read_bars

    bars = table.maybe("printed_bar", TEXT)
    across, along = table.maybe("across", NUMBER), table.maybe("along", NUMBER)
    notes, made = table.take("notes", TEXT, ""), table.maybe("date", DATE)

    def build() -> PaperCorrection:
        stated = across is not None or along is not None
        if stated == (bars is not None):
            raise CupgeomError("", 'give either printed_bar = "99.2mm x 100.4mm", or across and along')
        if bars is not None:
            correction = read_bars(bars, inches=any(map(is_inches, re.split("[x×]", bars))))
        else:
            correction = Correction(across=1.0 if across is None else across, along=1.0 if along is None else along)
        return PaperCorrection(
            printer=printer, key=key, paper=sized_paper(key), correction=correction, notes=notes, made=made
        )

    return table.make(build, {} if bars is None else {"across": "printed_bar", "along": "printed_bar"})
