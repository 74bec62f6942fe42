"""The order list: a table of text, one row an order, read row by row so that any number of rows fits in memory."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from cupgeom.errors import CupgeomError, Notice
from cupgeom.sheets.piece import MOST_COPIES

_CHUNK = 1 << 16  # bytes
_LONGEST_ROW = 100_000  # characters; more is a quotation mark that nobody closed
_MOST_NOTICES = 20
_SEPARATORS = (",", ";", "\t")
QUANTITY = "qty"


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One row: where it stands in the file, how many are wanted, and its columns as text.

    What looks like a formula is text like everything else.
    """

    row: int
    quantity: int
    values: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.values[column]


@dataclass(kw_only=True)
class OrderList:
    """Rows of an order list, read as they are asked for; notices are complete when the last row has been read.

    Blank rows, rows that lack something needed and rows that are the same as an earlier one are reported.

    Parameters
    ----------
    data
        The file's bytes, whole or in pieces: UTF-8 with or without a byte order mark, lines ended by LF or CRLF,
        columns parted by commas, semicolons or tabs (whichever the first line has most of, outside quotation marks).
    needs
        Columns that there must be.
    rename
        From a column that is needed to what the file calls it.
    only
        Keep the rows of these names alone, as the column `key` has them.
    key
        The column that names a row.

    Raises
    ------
    CupgeomError
        Naming the row, on the way through: a missing column, text that is not UTF-8, a quantity that is none, a row
        with more cells than there are columns.
    """

    data: bytes | Iterable[bytes]
    needs: Sequence[str] = ("name",)
    rename: Mapping[str, str] = field(default_factory=dict)
    only: Collection[str] = ()
    key: str = "name"
    notices: list[Notice] = field(default_factory=list, init=False)

    def __iter__(self) -> Iterator[Order]:
        self.notices.clear()
        rows = _rows(_lines(self.data))
        header = next(rows, None)
        if header is None:
            raise CupgeomError("orders", "has no rows; the first must name the columns")
        columns = self._columns([cell.strip() for cell in header[1]])
        seen: dict[int, int] = {}
        found: set[str] = set()
        doubts = _Doubts(self.notices)
        for row, cells in rows:
            if not any(cell.strip() for cell in cells):
                doubts.add(row, "is blank", "it is left out")
                continue
            if any(cell.strip() for cell in cells[len(columns) :]):
                what = (
                    f"has {len(cells)} cells, but there are {len(columns)} columns; put text with separators in quotes"
                )
                raise CupgeomError(_where(row), what)
            padded = [*cells, *[""] * (len(columns) - len(cells))]
            values = {column: cell.strip() for column, cell in zip(columns, padded, strict=False) if column}
            name = values.get(self.key, "")
            if self.only and name not in self.only:
                continue
            found.add(name)
            for column in self.needs:
                if not values[column]:
                    doubts.add(row, f"has nothing in the column {column!r}", "fill it in, or take the row out")
            # a row is kept by its hash only, so that ten thousand rows take little memory
            mark = hash(tuple(values.items()))
            if mark in seen:
                doubts.add(row, f"is the same as row {seen[mark]}", "both are made")
            seen.setdefault(mark, row)
            yield Order(row=row, quantity=_quantity(row, values.get(QUANTITY)), values=values)
        doubts.close()
        lacking = [name for name in self.only if name not in found]
        if lacking:
            raise CupgeomError("only", f"no row has {', '.join(map(repr, lacking))} in the column {self.key!r}")

    def _columns(self, header: list[str]) -> list[str]:
        """The names of the columns in our own words."""
        ours = {theirs: name for name, theirs in self.rename.items()}
        listed = ", ".join(map(repr, filter(None, header)))
        for name, theirs in self.rename.items():
            if theirs not in header:
                raise CupgeomError("orders", f"has no column {theirs!r} for {name!r}; its columns are {listed}")
        columns = [ours.get(cell, cell if cell not in self.rename else "") for cell in header]
        for name in [*self.needs, *([self.key] if self.only else [])]:
            if name not in columns:
                raise CupgeomError("orders", f"has no column {name!r}; its columns are {listed}")
        for name in filter(None, columns):
            if columns.count(name) > 1:
                raise CupgeomError("orders", f"has the column {name!r} twice; name them differently")
        return columns


class _Doubts:
    """Collects notices, and counts those beyond the first few."""

    def __init__(self, notices: list[Notice]) -> None:
        self.notices, self.more = notices, 0

    def add(self, row: int, what: str, mend: str) -> None:
        """One more."""
        if len(self.notices) < _MOST_NOTICES:
            self.notices.append(Notice(_where(row), what, mend))
        else:
            self.more += 1

    def close(self) -> None:
        """Say how many were left out."""
        if self.more:
            self.notices.append(Notice("orders", f"{self.more} more rows are blank, doubled or lack something"))


def _where(row: int) -> str:
    return f"orders[{row}]"


def _quantity(row: int, text: str | None) -> int:
    """How many: 1 where there is no such column or nothing in it."""
    if not text:
        return 1
    if text.isascii() and text.isdigit() and 1 <= len(text) <= 9 and 1 <= int(text) <= MOST_COPIES:
        return int(text)
    what = f"must be a whole number from 1 to {MOST_COPIES}, got {text[:40]!r}"
    raise CupgeomError(f"{_where(row)}.{QUANTITY}", what)


def _lines(data: bytes | Iterable[bytes]) -> Iterator[str]:
    """Lines with their ends; a line that is not UTF-8 is named."""
    rest, number = b"", 0
    for chunk in _chunks(data):
        if number == 0 and not rest and chunk.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            raise CupgeomError("orders", "is UTF-16 text; save it as UTF-8")
        *lines, rest = (rest + chunk).split(b"\n")
        for line in lines:
            number += 1
            yield _decoded(line + b"\n", number)
        if len(rest) > 4 * _LONGEST_ROW:
            raise CupgeomError(f"orders[{number + 1}]", f"is longer than {_LONGEST_ROW} characters")
    if rest:
        yield _decoded(rest, number + 1)


def _chunks(data: bytes | Iterable[bytes]) -> Iterator[bytes]:
    if isinstance(data, bytes):
        for start in range(0, len(data), _CHUNK):
            yield data[start : start + _CHUNK]
    else:
        yield from data


def _decoded(line: bytes, number: int) -> str:
    if number == 1:
        line = line.removeprefix(codecs.BOM_UTF8)
    try:
        text = line.decode()
    except UnicodeDecodeError as error:
        shown = line.decode("ascii", "replace").strip()[:40]
        what = f"is not UTF-8 at byte {error.start + 1} ({shown!r}); save the whole list as UTF-8"
        raise CupgeomError(f"orders[{number}]", what) from None
    if "\0" in text:
        raise CupgeomError(f"orders[{number}]", "holds a zero byte, so it is no text; save the list as UTF-8")
    return text


def _rows(lines: Iterator[str]) -> Iterator[tuple[int, list[str]]]:
    """The rows as lists of cells, each with the number of the line on which it starts."""
    first = next(lines, None)
    if first is None:
        return
    separator = _separator(first)
    read = _Counted(first, lines)
    reader = csv.reader(read, delimiter=separator, strict=True)
    start = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise CupgeomError(_where(start), f"cannot be read: {error}; look at its quotation marks") from None
        yield start, cells
        start = read.count + 1


class _Counted:
    """The lines, counted as they are taken."""

    def __init__(self, first: str, lines: Iterator[str]) -> None:
        self.first, self.lines, self.count = first, lines, 0

    def __iter__(self) -> _Counted:
        return self

    def __next__(self) -> str:
        line = self.first if self.count == 0 else next(self.lines)
        self.count += 1
        return line


def _separator(line: str) -> str:
    """The separator that occurs most outside quotation marks."""
    plain = "".join(line.split('"')[::2])
    return max(_SEPARATORS, key=plain.count)
