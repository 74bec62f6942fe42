"""Kinds of values that only a job file holds: waits, times of the day, colours, places."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable
from pathlib import PurePosixPath
from typing import Any, Literal, NoReturn, get_args

from cupgeom.drawing import Colour
from cupgeom.errors import CupgeomError
from cupgeom.records import LENGTH, NUMBER, TURN, Kind, row, shown
from cupgeom.units import parse_length

_WAIT = re.compile(r"(?:(\d+(?:\.\d+)?)\s*d)?\s*(?:(\d+(?:\.\d+)?)\s*h)?\s*(?:(\d+(?:\.\d+)?)\s*min)?")
_HEX = re.compile(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})")
Edge = Literal["top", "middle", "foot"]
Fitted = Literal["sight", "round"]
Height = tuple[float, bool] | Edge  # mm and whether they count from the base; or an edge of the free wall
_EDGES: tuple[Edge, ...] = get_args(Edge)
_FITTED: tuple[Fitted, ...] = get_args(Fitted)


def _wait(value: object) -> float:
    if isinstance(value, (int, float)) and not isinstance(value, bool) and 0 < value < math.inf:
        return float(value)
    match = _WAIT.fullmatch(value.strip()) if isinstance(value, str) and value.strip() else None
    minutes = (
        sum(float(part or 0) * unit for part, unit in zip(match.groups(), (1440, 60, 1), strict=True)) if match else 0
    )
    return minutes if 0 < minutes < math.inf else _refuse(value, WAIT)


def _clock(value: object) -> int:
    match = re.fullmatch(r"(\d{1,2}):(\d{2})", value) if isinstance(value, str) else None
    if isinstance(value, datetime.time):
        return value.hour * 60 + value.minute
    if match and (int(match[1]) < 24 or match[0] == "24:00") and int(match[2]) < 60:
        return int(match[1]) * 60 + int(match[2])
    return _refuse(value, CLOCK)


def _colour(value: object) -> Colour:
    match = _HEX.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        _refuse(value, COLOUR)
    red, green, blue = (int(part, 16) / 255 for part in match.groups())
    return red, green, blue


def _width(value: object) -> float | Fitted:
    for word in _FITTED:
        if value == word:
            return word
    width = LENGTH.parse(value)
    if not width > 0:
        raise CupgeomError("", f"must be greater than 0 mm, got {shown(value)}")
    return width


def _height(value: object) -> Height:
    if isinstance(value, str):
        text = value.strip().lower()
        for edge in _EDGES:
            if text == edge:
                return edge
        if text.endswith("up"):
            return parse_length(text[:-2], ""), True
    return LENGTH.parse(value), False


def _axes(value: object) -> tuple[tuple[str, float], ...]:
    if not isinstance(value, dict) or not value:
        _refuse(value, AXES)
    return tuple((name, NUMBER.parse(setting)) for name, setting in value.items())


def relative(outside: bool) -> Kind[str]:
    """A path of a file, seen from the job file; within its folder unless `outside`."""

    def parse(value: object) -> str:
        if not isinstance(value, str) or not value.strip() or "\0" in value:
            _refuse(value, kind)
        if not outside and _leaves(value):
            raise CupgeomError("", f"must stay in the job's folder, got {shown(value)}; copy the file there")
        return value

    kind: Kind[str] = Kind(parse, 'a file such as "art/comet.svg", seen from the job file', "")
    return kind


def _leaves(text: str) -> bool:
    """Whether a path leads out of the folder that it is seen from, on any system."""
    plain = text.replace("\\", "/")
    if plain.startswith("/") or re.match(r"[A-Za-z]:|~", plain):
        return True
    depth = 0
    for part in PurePosixPath(plain).parts:
        depth += -1 if part == ".." else 1
        if depth < 0:
            return True
    return False


def whole_from(least: int) -> Kind[int]:
    """A whole number of at least so much."""

    def parse(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or value < least:
            raise CupgeomError("", f"must be a whole number from {least}, got {shown(value)}")
        return value

    return Kind(parse, f"a whole number from {least}", least)


def unless(kind: Kind[str], check: Callable[[str], str]) -> Kind[str]:
    """Text that a check lets pass; it answers with what is wrong, or with nothing."""

    def parse(value: object) -> str:
        text = kind.parse(value)
        wrong = check(text)
        if wrong:
            raise CupgeomError("", wrong)
        return text

    return Kind(parse, kind.forms, kind.placeholder)


def _refuse(value: object, kind: Kind[Any]) -> NoReturn:
    raise CupgeomError("", f"must be {kind.forms}, got {shown(value)}")


WAIT = Kind(_wait, 'a time such as "10h", "1h 30min", "2d", or a number of minutes', math.nan)
CLOCK = Kind(_clock, 'a time of the day such as "08:00"', 0)
COLOUR = Kind(_colour, 'a colour such as "#1a2b5c"', (0.0, 0.0, 0.0))
WIDTH: Kind[float | Fitted] = Kind(_width, "a length such as 70, 70mm or 2.75in, or sight, or round", math.nan)
HEIGHT: Kind[Height] = Kind(_height, 'a drop such as 60mm, a height such as "20mm up", or top, middle, foot', "middle")
TURNS = row(TURN, 2, "two turns in brackets such as [-60, 30]")
AXES: Kind[tuple[tuple[str, float], ...]] = Kind(_axes, "settings of a variable font such as { wght = 700 }", ())
