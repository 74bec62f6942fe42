"""On which line each key of a TOML text stands, which tomllib does not tell."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left

Path = tuple[str | int, ...]
DEEPEST = 50  # names in one dotted key; no file of ours needs as many


def key_lines(text: str) -> dict[Path, int]:
    """The line of each key, table and list item of a text that is valid TOML; a list's items are numbered from 0."""
    return _Scanner(text).lines


def header_lines(text: str) -> list[int]:
    """The lines on which a [table] or [[table]] begins, in a text that is valid TOML."""
    return _Scanner(text).headers


class _Scanner:
    """Walks through a text that is valid TOML and notes on which line each key stands."""

    _SPACE = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
    _NAME = r"""(?:[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"|'[^']*')"""
    _KEY = re.compile(rf"{_NAME}(?:[ \t]*\.[ \t]*{_NAME})*")
    _STRING = re.compile(
        r'''"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\])*"|'[^']*\'''', re.DOTALL
    )  # three to five quotes end a long string: up to two of them belong to it
    _PLAIN = re.compile(r"[^,\]}#\n]*")  # a number, a date, true or false

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.lines: dict[Path, int] = {}
        self.headers: list[int] = []
        self._counts: dict[Path, int] = {}  # tables so far under each [[name]]
        self._ends = [match.start() for match in re.finditer("\n", text)]
        table: Path = ()
        self._skip(self._SPACE)
        while self.at < len(text):
            if text[self.at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(self._SPACE)

    def _header(self) -> Path:
        """A [table] or [[table]]; the path of what follows it."""
        start, brackets = self.at, 2 if self.text.startswith("[[", self.at) else 1
        self.headers.append(self._line(start))
        self.at += brackets
        self._skip(self._SPACE)
        path: Path = ()
        *parents, last = self._key()
        for name in parents:
            path = self._mark((*path, name), start)
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
        path = self._mark((*path, last), start)
        if brackets == 2:
            self._counts[path] = self._counts.get(path, 0) + 1
            path = self._mark((*path, self._counts[path] - 1), start)
        self._skip(self._SPACE)
        self.at += brackets
        return path

    def _pair(self, path: Path) -> None:
        start = self.at
        for name in self._key():
            path = self._mark((*path, name), start)
        self._skip(self._SPACE)
        self.at += 1  # the equals sign
        self._skip(self._SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        opening = self.text[self.at]
        if opening in "[{":
            self.at += 1
            index = 0
            while self._next() not in "]}":
                if opening == "[":
                    self._value(self._mark((*path, index), self.at))
                    index += 1
                else:
                    self._pair(path)
                if self._next() == ",":
                    self.at += 1
            self.at += 1
        else:
            self._skip(self._STRING if opening in "\"'" else self._PLAIN)

    def _next(self) -> str:
        """The next character that is neither space nor comment."""
        self._skip(self._SPACE)
        return self.text[self.at]

    def _key(self) -> list[str]:
        written = self._skip(self._KEY)
        if re.fullmatch(r"[\w-]+", written):
            return [written]
        names = []
        inner: object = tomllib.loads(f"{written} = 0")
        while isinstance(inner, dict):
            name, inner = next(iter(inner.items()))
            names.append(name)
        if len(names) > DEEPEST:
            raise RecursionError
        return names

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise AssertionError("tomllib has found the text to be valid")
        self.at = match.end()
        return match[0]

    def _mark(self, path: Path, start: int) -> Path:
        self.lines.setdefault(path, self._line(start))
        return path

    def _line(self, at: int) -> int:
        return bisect_left(self._ends, at) + 1
