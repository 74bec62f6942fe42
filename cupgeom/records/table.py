"""The tables of a file, whose keys are taken one by one; what is wrong is noted until the end."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from typing import TypeVar

from cupgeom.errors import CupgeomError
from cupgeom.records.faults import Fault, Faults, key_text, nearest, shown
from cupgeom.records.kinds import Kind
from cupgeom.records.lines import Path, key_lines

T = TypeVar("T")


class Table:
    """One table of a file, whose keys are taken one by one."""

    def __init__(self, values: Mapping[str, object], path: Path, file: _File, alone: str = "") -> None:
        self._values, self._path, self._file, self._alone = values, path, file, alone
        self._asked: dict[str, None] = {}
        file.tables.append(self)

    @property
    def values(self) -> dict[str, object]:
        """All keys and values as they stand in the file."""
        return dict(self._values)

    def take(self, key: str, kind: Kind[T], default: T | None = None) -> T:
        """The value of a key; without a default the key must be there."""
        if key in self:
            return self._read(self._values[key], self._at(key), kind)
        if default is None:
            self._file.note(self._at(key), f"is missing; give {kind.forms}")
            return kind.placeholder
        return default

    def maybe(self, key: str, kind: Kind[T]) -> T | None:
        """The value of a key that may be left out."""
        return self.take(key, kind) if key in self else None

    def items(self, key: str, kind: Kind[T]) -> tuple[T, ...]:
        """The values of a list; nothing when the key is left out."""
        if key not in self:
            return ()
        value, path = self._values[key], self._at(key)
        if not isinstance(value, list):
            self._file.note(path, f"must be a list in brackets, each of it {kind.forms}, got {shown(value)}")
            return ()
        return tuple(self._read(item, (*path, index), kind) for index, item in enumerate(value))

    def table(self, key: str) -> Table | None:
        """The table under a key, None when it is left out or no table."""
        return self._table(self._values[key], self._at(key)) if key in self else None

    def tables(self, key: str, alone: str = "") -> tuple[Table, ...]:
        """The tables under a key, be it one or a list of them; nothing when it is left out.

        A plain value stands for a table that has it under the key `alone`.
        """
        if key not in self:
            return ()
        value, path = self._values[key], self._at(key)
        if not isinstance(value, list):
            found = [self._table(value, path, alone)]
        else:
            found = [self._table(item, (*path, index), alone) for index, item in enumerate(value)]
        return tuple(table for table in found if table is not None)

    def named(self) -> dict[str, Table]:
        """The tables under all keys that were not asked for, by name."""
        found = {}
        for key in [key for key in self._values if key not in self._asked]:
            table = self.table(key)
            if table is not None:
                found[key] = table
        return found

    def leave(self, *keys: str) -> None:
        """Let keys be there without reading them."""
        for key in keys:
            self._asked[key] = None

    def make(self, build: Callable[[], T], fields: Mapping[str, str] | None = None) -> T | None:
        """A value from what was taken, None when something in this table is wrong.

        An error of `build` is noted at the key that its field came from (see `locate`).
        """
        if self._path in self._file.faulty:
            return None
        try:
            return build()
        except CupgeomError as error:
            self._file.note(*self._located(error, fields or {}))
            return None

    def locate(self, error: CupgeomError, fields: Mapping[str, str] | None = None) -> Faults:
        """An error in a value made from this table, as a fault at the key that its field came from.

        `fields` says which key a field came from, where the two have different names: ``{"walls[].height":
        "rings[][1]"}``; the longest field that fits is taken, and the indices are carried over.
        """
        return Faults([self._file.fault(*self._located(error, fields or {}))])

    def fault(self, key: str, what: str) -> None:
        """Note what is wrong with the value of a key."""
        self._file.note(self._at(key), what)

    def unknown(self) -> Iterator[tuple[Path, str]]:
        """The keys that nobody asked for, each with what would do."""
        for key in self._values:
            if key not in self._asked:
                yield (*self._path, key), f"unknown key; {nearest(key, self._asked)}"

    def __contains__(self, key: str) -> bool:
        self._asked[key] = None
        return key in self._values

    def _at(self, key: str) -> Path:
        return self._path if key == self._alone else (*self._path, key)

    def _read(self, value: object, path: Path, kind: Kind[T]) -> T:
        try:
            return kind.parse(value)
        except CupgeomError as error:
            self._file.note((*path, *_steps(error.where)), error.what)
            return kind.placeholder

    def _table(self, value: object, path: Path, alone: str = "") -> Table | None:
        if isinstance(value, dict):
            return Table(value, path, self._file)
        if alone and not isinstance(value, list):
            return Table({alone: value}, path, self._file, alone)
        self._file.note(path, f"must be a table with keys, got {shown(value)}")
        return None

    def _located(self, error: CupgeomError, fields: Mapping[str, str]) -> tuple[Path, str]:
        steps = _steps(_renamed(error.where, fields))
        if steps == (self._alone,):
            return self._path, error.what
        path = self._file.known((*self._path, *steps))
        if len(path) <= len(self._path):
            return self._path, f"{error.where}: {error.what}" if error.where else error.what
        return path, error.what


def read(text: str, name: str, build: Callable[[Table], T]) -> T:
    """What `build` makes of the root table of a text.

    Raises
    ------
    Faults
        With all that is wrong in the text, or the place where it stops being TOML.
    """
    values, lines = _parsed(text, name)
    file = _File(name, lines)
    built = build(Table(values, (), file))
    for table in file.tables:
        for path, what in table.unknown():
            file.note(path, what)
    file.check()
    return built


class _File:
    """What is known of a file while it is read: its name, the lines of its keys, and what was noted."""

    def __init__(self, name: str, lines: Mapping[Path, int]) -> None:
        self.name, self.lines = name, lines
        self.noted: list[tuple[Path, str]] = []
        self.faulty: set[Path] = set()  # each path at or above a fault
        self.tables: list[Table] = []

    def note(self, path: Path, what: str) -> None:
        self.noted.append((path, what))
        self.faulty.update(path[:end] for end in range(len(path) + 1))

    def fault(self, path: Path, what: str) -> Fault:
        return Fault(file=self.name, line=self.lines.get(self.known(path), 1), key=key_text(path), what=what)

    def check(self) -> None:
        """Raise what was noted, in the order of the file."""
        if self.noted:
            order = {path: index for index, path in enumerate(self.lines)}
            noted = sorted(self.noted, key=lambda note: order.get(self.known(note[0]), -1))
            raise Faults([self.fault(*note) for note in noted])

    def known(self, path: Path) -> Path:
        """The longest part of a path that stands in the file."""
        end = len(path)
        while end and path[:end] not in self.lines:
            end -= 1
        return path[:end]


def _steps(where: str) -> Path:
    """The field of an error as steps: ``rings[1].height`` → rings, 1, height."""
    return tuple(int(index) if index else name for index, name in re.findall(r"\[(\d+)\]|([^.\[\]]+)", where))


def _renamed(where: str, fields: Mapping[str, str]) -> str:
    """A field by the key that it came from: ``rings[1].height``, with rings[].height: rings[][1], is rings[1][1]."""
    indices = iter(re.findall(r"\[\d+\]", where))
    plain = re.sub(r"\[\d+\]", "[]", where)
    fitting = [field for field in fields if plain == field or plain.startswith((f"{field}.", f"{field}["))]
    if not fitting:
        return where
    longest = max(fitting, key=len)
    return re.sub(r"\[\]", lambda _: next(indices, ""), fields[longest] + plain[len(longest) :])


def _parsed(text: str, name: str) -> tuple[dict[str, object], dict[Path, int]]:
    """The values of a text, and the lines of its keys."""
    try:
        return tomllib.loads(text), key_lines(text)
    except tomllib.TOMLDecodeError as error:
        message, _, place = str(error).rpartition(" (at ")
        found = re.match(r"line (\d+), column (\d+)", place)
        end = text.rstrip()
        last = (end.count("\n") + 1, len(end) - (end.rfind("\n") + 1) + 1)
        line, column = (int(found[1]), int(found[2])) if found else last
        own = (words for start, words in _SYNTAX.items() if message.startswith(start))
        what = next(own, f"this is not TOML ({message}); mend what stands there")
        raise Faults([Fault(file=name, line=line, column=column, what=what)]) from None
    except RecursionError:
        raise Faults([Fault(file=name, line=1, what="tables or lists are nested too deep; make it flatter")]) from None
    except ValueError:  # an integer of more digits than Python converts
        digits = re.search(r"[\d_]{1000,}", text)
        line = text.count("\n", 0, digits.start() if digits else 0) + 1
        raise Faults([Fault(file=name, line=line, what="a number has too many digits; shorten it")]) from None


_SYNTAX = {  # our words for what tomllib finds, by how its message begins
    "Expected newline": 'the line should end here; put text in quotes, such as "10 7/8 in", each key on its own line',
    "Expected '='": "a = is missing after the key; write key = value, and a key that holds spaces in quotes",
    "Invalid value": "no value; give a number, true, false, a date such as 2026-03-01, or text in straight quotes",
    "Invalid statement": "neither a key nor a table; write key = value or [table], with straight quotes",
    "Illegal character '\\n'": "the text does not end; close it with a quote on the same line",
    "Illegal character": "a character that cannot stand here; remove it",
    "Unterminated string": "the text does not end; close it with a quote on the same line",
    "Unescaped": "a backslash in text in double quotes; write such text in single quotes",
    "Cannot overwrite": "this key stands there already; remove one of the two",
    "Cannot declare": "this table stands there already; remove or rename one of the two",
}
