"""The bench log: what was mixed, left over and dripped, pot by pot.

A log is CSV with a heading, a row for each pot, mL and mm::

    cup,coat,mixed,left,dripped,film
    comet,first flood,30,1.5,0.5,0.66
    comet,flood,20,1.0,,

`film` is measured or empty; `dripped` and `left` are 0 where empty; `cups` may say how many were coated from the pot.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

from cupgeom.coating.coats import KINDS, LABELS
from cupgeom.errors import CupgeomError, require_at_least, require_positive
from cupgeom.records import Fault, Faults, nearest, shown

REQUIRED = ("cup", "coat", "mixed")
COLUMNS = (*REQUIRED, "left", "dripped", "film", "cups")
RAN_ML = 2.0  # a cup that drips more than this ran: assumed
_LARGEST_ML, _LARGEST_FILM, _MOST_CUPS = 10_000.0, 10.0, 1000
_MOST_ROWS = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One pot of the log.

    Parameters
    ----------
    line
        Where it stands in the file.
    cup
        Name of the cup.
    coat
        Label of the coat, such as ``first flood``.
    mixed_ml, left_ml, dripped_ml
        In the pot, left in it, caught under the rack [mL].
    film
        As measured on the cup; None where it was not.
    cups
        How many were coated from this pot.
    """

    line: int
    cup: str
    coat: str
    mixed_ml: float
    left_ml: float = 0.0
    dripped_ml: float = 0.0
    film: float | None = None
    cups: int = 1

    def __post_init__(self) -> None:
        if self.coat not in LABELS:
            raise CupgeomError("coat", f"no coat {self.coat!r}; {nearest(self.coat, LABELS)}")
        require_positive("mixed_ml", self.mixed_ml, "mL")
        require_at_least("left_ml", self.left_ml, 0, "mL")
        require_at_least("dripped_ml", self.dripped_ml, 0, "mL")
        require_at_least("cups", self.cups, 1, "cups")
        if self.film is not None:
            require_positive("film", self.film)
        if self.applied_ml <= 0:
            raise CupgeomError("left_ml", "and what dripped leave nothing of what was mixed")

    @property
    def applied_ml(self) -> float:
        """On the cups, and on stick and gloves [mL]."""
        return self.mixed_ml - self.left_ml - self.dripped_ml

    @property
    def ran(self) -> bool:
        """Whether the cups dripped more than the odd drop."""
        return self.dripped_ml > RAN_ML * self.cups


def parse_log(text: str, name: str = "log.csv") -> tuple[Entry, ...]:
    """The pots of a log.

    Raises
    ------
    Faults
        With all that is wrong, each with its line and column.
    """
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")), skipinitialspace=True)
    faults: list[Fault] = []
    entries = []
    heading: list[str] = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if not heading:
                heading = [cell.strip().lower() for cell in cells]
                faults += _of_heading(heading, reader.line_num, name)
                if faults:
                    break
                continue
            found = _Row(name, reader.line_num, heading, cells, faults)
            entries += found.entry()
            if len(entries) > _MOST_ROWS:
                raise CupgeomError(name, f"has more than {_MOST_ROWS} rows")
    except csv.Error as error:
        faults.append(Fault(file=name, line=reader.line_num, what=f"this is not CSV ({error})"))
    if not heading:
        faults.append(Fault(file=name, line=1, what=f"is empty; begin with {','.join(COLUMNS[:-1])}"))
    elif not faults and not entries:
        faults.append(Fault(file=name, line=1, what="has a heading and no rows"))
    if faults:
        raise Faults(faults)
    return tuple(entries)


def _of_heading(heading: Sequence[str], line: int, name: str) -> list[Fault]:
    unknown = [word for word in heading if word not in COLUMNS]
    missing = [word for word in REQUIRED if word not in heading]
    twice = [word for word in dict.fromkeys(heading) if heading.count(word) > 1]
    return [
        *(Fault(file=name, line=line, key=word, what=f"unknown column; {nearest(word, COLUMNS)}") for word in unknown),
        *(Fault(file=name, line=line, key=word, what="this column is missing") for word in missing),
        *(Fault(file=name, line=line, key=word, what="this column is there twice") for word in twice),
    ]


class _Row:
    """One row of a log while it is read."""

    def __init__(self, name: str, line: int, heading: Sequence[str], cells: Sequence[str], faults: list[Fault]) -> None:
        self.name, self.line, self.faults = name, line, faults
        self.cells = dict(zip(heading, (cell.strip() for cell in cells), strict=False))
        self.before = len(faults)
        if len(cells) > len(heading):
            self.note("", f"has {len(cells)} values for {len(heading)} columns; quote a value that holds a comma")

    def note(self, column: str, what: str) -> None:
        self.faults.append(Fault(file=self.name, line=self.line, key=column, what=what))

    def entry(self) -> list[Entry]:
        """The pot, none when something is wrong with it."""
        coat = self.coat()
        mixed = self.number("mixed", "mL", _LARGEST_ML, None)
        left, dripped = (self.number(column, "mL", _LARGEST_ML, 0.0) for column in ("left", "dripped"))
        film = self.number("film", "mm", _LARGEST_FILM, -1.0)
        cups = self.number("cups", "cups", _MOST_CUPS, 1.0)
        if cups != int(cups):
            self.note("cups", f"must be a whole number, got {self.cells['cups']!r}")
        if not self.cells.get("cup"):
            self.note("cup", "is empty; give the cup's name")
        if len(self.faults) > self.before:
            return []
        try:
            entry = Entry(
                line=self.line,
                cup=self.cells["cup"],
                coat=coat,
                mixed_ml=mixed,
                left_ml=left,
                dripped_ml=dripped,
                film=None if film < 0 else film,
                cups=int(cups),
            )
        except CupgeomError as error:
            self.note(error.where.removesuffix("_ml"), error.what)
            return []
        return [entry]

    def coat(self) -> str:
        word = self.cells.get("coat", "").lower()
        if word not in LABELS:
            self.note("coat", f"no coat {shown(word)}; {nearest(word, (*KINDS, *LABELS[1:2]))}")
        return word

    def number(self, column: str, unit: str, most: float, default: float | None) -> float:
        text = self.cells.get(column, "")
        if not text and default is not None:
            return default
        try:
            value = math.nan if "_" in text else float(text)
        except ValueError:
            value = math.nan
        if not 0 <= value <= most:
            self.note(column, f"must be a number of {unit} from 0 to {most:g}, got {shown(text)}")
            return 1.0
        return value
