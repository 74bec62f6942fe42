"""All that a maker read off one cup, as it stands in the shop file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from cupgeom.cup import Ring
from cupgeom.records import FLAG, LENGTH, TEXT, WHOLE, Table, from_zero
from cupgeom.shelf.fit import measure_readings
from cupgeom.shelf.level import LEVEL
from cupgeom.shelf.reading import (
    AMOUNT,
    ANYWHERE,
    LENGTHS,
    OPTIONS,
    PAIR,
    SPREAD,
    TAPES,
    PaperRead,
    Read,
    ring_fields,
    rings_of,
)

if TYPE_CHECKING:
    from cupgeom.measure import Measured, Reading

KEYS = (*OPTIONS, "paper_gap", "ring_count", "without")
_THICKNESS = from_zero(LENGTH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """All that was read off one cup.

    Parameters
    ----------
    reads, papers
        Reads are sorted by their option, in the order of `OPTIONS`, so that their names in the fit stay the same
        however they came together.
    ring_count
        How many rings the cup has from the rim to the base.
    without
        Names of readings to set aside, as the fit names them.
    uncertainty
        Of each reading by tape, calliper or ruler that does not state its own, k = 1 [mm]; None leaves it to the tool.
    """

    reads: tuple[Read, ...]
    papers: tuple[PaperRead, ...] = ()
    ring_count: int = 2
    without: tuple[str, ...] = ()
    uncertainty: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "reads", tuple(sorted(self.reads, key=lambda read: OPTIONS.index(read.option))))

    @property
    def sizes(self) -> tuple[float, float, float] | None:
        """Rim, base and height when these three are all that is said, each once and plainly; else None."""
        if [read.option for read in self.reads] != ["rim", "base", "height"]:
            return None
        plain = [Read(option=read.option, value=read.value, typed=read.typed) for read in self.reads]
        rim, base, height = (read.value for read in self.reads)
        return (rim, base, height) if self == Readings(reads=tuple(plain)) else None

    @property
    def inches(self) -> bool:
        """Whether any of them was typed in inches."""
        return any(read.inches for read in self.reads)

    def fitted(self) -> Measured:
        """The cup that fits the readings best, with its uncertainties and a verdict.

        Raises
        ------
        CupgeomError
            When the readings leave something open, or make no cup.
        """
        from cupgeom.measure import fit

        return fit(measure_readings(self), rings=self.ring_count, without=self.without)

    def followed_by(self, later: Readings) -> Readings:
        """These readings and later ones. What was set aside stays so, under the name that it now has."""
        from cupgeom.measure import labels

        both = replace(self, reads=self.reads + later.reads, papers=self.papers + later.papers, without=())
        mine, parts = _parts(self), _parts(both)
        names = labels(parts)
        aside = [
            names[parts.index(part)]
            for part, name in zip(mine, labels(mine), strict=True)
            if {name, part.name} & set(self.without)
        ]
        return replace(both, without=tuple(dict.fromkeys([*aside, *later.without])))


def parse_readings(table: Table) -> Readings:
    """The readings among a cup's keys."""
    found = [_read(option, part) for option in OPTIONS for part in table.tables(option, alone="read")]
    papers = [_paper(part) for part in table.tables("paper_gap")]
    return Readings(
        reads=tuple(read for read in found if read is not None),
        papers=tuple(paper for paper in papers if paper is not None),
        ring_count=table.take("ring_count", WHOLE, 2),
        without=table.items("without", TEXT),
        uncertainty=table.maybe("uncertainty", SPREAD),
    )


def readings_record(readings: Readings) -> dict[str, object]:
    """The keys and values of a shop file that read back as these readings."""
    record: dict[str, object] = {}
    for option in OPTIONS:
        found = [_read_record(read) for read in readings.reads if read.option == option]
        if found:
            record[option] = found[0] if len(found) == 1 else found
    if readings.papers:
        record["paper_gap"] = [_paper_record(paper) for paper in readings.papers]
    if readings.ring_count != 2:
        record["ring_count"] = readings.ring_count
    if readings.without:
        record["without"] = list(readings.without)
    if readings.uncertainty is not None:
        record["uncertainty"] = readings.uncertainty
    return record


def _read(option: str, table: Table) -> Read | None:
    amount = table.take("read", AMOUNT)
    uncertainty = table.maybe("uncertainty", SPREAD)
    at = table.maybe("at", LEVEL) if option in ANYWHERE else None
    top, bottom = (table.maybe(key, LEVEL) if option in LENGTHS else None for key in ("from", "to"))
    thickness = table.take("thickness", _THICKNESS, 0.0) if option in TAPES else 0.0
    coated = option != "film" and table.take("coated", FLAG, False)
    label = table.take("label", TEXT, "")
    return table.make(
        lambda: Read(
            option=option,
            value=amount.value,
            typed=amount.typed,
            uncertainty=amount.uncertainty if uncertainty is None else uncertainty,
            at=at or amount.at,
            top=top,
            bottom=bottom,
            thickness=thickness,
            coated=coated,
            label=label,
        )
    )


def _paper(table: Table) -> PaperRead | None:
    pairs = table.items("printed", PAIR)
    rim, base, step = (table.maybe(key, LENGTH) for key in ("rim", "base", "step"))
    top, bottom = (table.maybe(key, LEVEL) for key in ("from", "to"))
    uncertainty, step_uncertainty = (table.maybe(key, SPREAD) for key in ("uncertainty", "step_uncertainty"))
    thickness, coated = table.take("thickness", _THICKNESS, 0.0), table.take("coated", FLAG, False)
    return table.make(
        lambda: PaperRead(
            printed=rings_of(pairs, "printed"),
            rim=rim,
            base=base,
            step=step,
            top=top,
            bottom=bottom,
            uncertainty=uncertainty,
            step_uncertainty=step_uncertainty,
            thickness=thickness,
            coated=coated,
        ),
        {"printed.rings": "printed", **ring_fields("printed")},
    )


def _read_record(read: Read) -> object:
    record: dict[str, object] = {"read": read.typed or read.value}
    record |= {
        key: str(level)
        for key, level in (("at", read.at), ("from", read.top), ("to", read.bottom))
        if level is not None
    }
    for key, said in (("thickness", read.thickness), ("coated", read.coated), ("label", read.label)):
        if said:
            record[key] = said
    if read.uncertainty is not None:
        record["uncertainty"] = read.uncertainty
    if read.typed and record.keys() == {"read", "at"}:
        return f"{record['read']}@{record['at']}"
    return record["read"] if len(record) == 1 else record


def _paper_record(paper: PaperRead) -> dict[str, object]:
    record: dict[str, object] = {"printed": ring_pairs(paper.printed)}
    for key in ("rim", "base", "step", "uncertainty", "step_uncertainty"):
        if getattr(paper, key) is not None:
            record[key] = getattr(paper, key)
    for key, level in (("from", paper.top), ("to", paper.bottom)):
        if level is not None:
            record[key] = str(level)
    return record | {key: getattr(paper, key) for key in ("thickness", "coated") if getattr(paper, key)}


def ring_pairs(rings: Sequence[Ring]) -> list[list[float]]:
    """Rings as they stand in the file: pairs of diameter and height."""
    return [[ring.diameter, ring.height] for ring in rings]


def _parts(readings: Readings) -> list[Reading]:
    """The readings of the fit, each gap and step of a paper by itself."""
    from cupgeom.measure import PaperGap

    parts: list[Reading] = []
    for one in measure_readings(readings):
        parts += one.readings if isinstance(one, PaperGap) else (one,)
    return parts
