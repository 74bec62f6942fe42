"""From the readings of the shop file to the fit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from cupgeom.cup import Cup
from cupgeom.shelf.reading import LENGTHS, TAPES, PaperRead, Read

if TYPE_CHECKING:
    from cupgeom.measure import PaperGap, Place, Reading
    from cupgeom.shelf.level import Level
    from cupgeom.shelf.readings import Readings


def measure_readings(readings: Readings) -> list[Reading | PaperGap]:
    """The readings as the fit takes them."""
    found: list[Reading | PaperGap] = []
    for read in readings.reads:
        common = None if read.option == "film" else readings.uncertainty
        spread = common if read.uncertainty is None else read.uncertainty
        reading = _reading(read)
        found.append(reading if spread is None else replace(reading, uncertainty=spread))
    for paper in readings.papers:
        gap, spread, step = _paper_gap(paper), paper.uncertainty, paper.step_uncertainty
        gap = gap if spread is None else replace(gap, uncertainty=spread)
        found.append(gap if step is None else replace(gap, step_uncertainty=step))
    return found


def _reading(read: Read) -> Reading:
    """One reading with the uncertainty of its tool."""
    from cupgeom.measure import BASE, RIM, Calliper, Film, Height, Slant, Tape

    value, coated, label = read.value, read.coated, read.label
    if read.option == "film":
        return Film(value=value, label=label)
    if read.option in LENGTHS:
        length = Height if read.option == "height" else Slant
        top, bottom = _place(read.top, RIM), _place(read.bottom, BASE)
        return length(value=value, top=top, bottom=bottom, coated=coated, label=label)
    at = _place(read.at, BASE if read.option.startswith("base") else RIM)
    if read.option in TAPES:
        return Tape(value=value, at=at, thickness=read.thickness, coated=coated, label=label)
    return Calliper(value=value, at=at, coated=coated, label=label)


def _paper_gap(paper: PaperRead) -> PaperGap:
    from cupgeom.measure import BASE, RIM, PaperGap

    return PaperGap(
        printed=Cup(rings=paper.printed),
        rim=paper.rim,
        base=paper.base,
        step=paper.step,
        top=_place(paper.top, RIM),
        bottom=_place(paper.bottom, BASE),
        thickness=paper.thickness,
        coated=paper.coated,
    )


def _place(level: Level | None, default: Place) -> Place:
    from cupgeom.measure import Place

    return default if level is None else Place(ring=level.ring, drop=level.drop, up=level.up)
