"""Kinds of values that a key may hold: how each is read, and its forms in words."""

from __future__ import annotations

import datetime
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, NoReturn, TypeVar

from cupgeom.errors import CupgeomError
from cupgeom.records.faults import shown
from cupgeom.units import LENGTH_FORMS, parse_length, parse_turn

T = TypeVar("T")
Word = TypeVar("Word", bound=str)


@dataclass(frozen=True, slots=True)
class Kind(Generic[T]):
    """What a key may hold: a parser that raises `CupgeomError`, its forms in words, and a placeholder of its type."""

    parse: Callable[[object], T]
    forms: str
    placeholder: T


def row(kind: Kind[T], count: int, forms: str) -> Kind[tuple[T, ...]]:
    """A list of a fixed number of values, such as a diameter and a height."""

    def parse(value: object) -> tuple[T, ...]:
        if not isinstance(value, list) or len(value) != count:
            got = f"a list of {len(value)}" if isinstance(value, list) else shown(value)
            raise CupgeomError("", f"must be {forms}, got {got}")
        parsed = []
        for index, item in enumerate(value):
            try:
                parsed.append(kind.parse(item))
            except CupgeomError as error:
                raise CupgeomError(f"[{index}]", error.what) from None
        return tuple(parsed)

    return Kind(parse, forms, (kind.placeholder,) * count)


def above_zero(kind: Kind[float]) -> Kind[float]:
    """The same, but greater than 0."""

    def parse(value: object) -> float:
        parsed = kind.parse(value)
        return parsed if parsed > 0 else _refuse(value, "greater than 0")

    return Kind(parse, kind.forms, kind.placeholder)


def from_zero(kind: Kind[float]) -> Kind[float]:
    """The same, but not below 0."""

    def parse(value: object) -> float:
        parsed = kind.parse(value)
        return parsed if parsed >= 0 else _refuse(value, "at least 0")

    return Kind(parse, kind.forms, kind.placeholder)


def choice(*options: Word) -> Kind[Word]:
    """One of several words."""
    forms = f"one of {', '.join(options)}"

    def parse(value: object) -> Word:
        for option in options:
            if value == option:
                return option
        return _refuse(value, forms)

    return Kind(parse, forms, options[0])


def _length(value: object) -> float:
    return parse_length(value, "") if isinstance(value, str) else _finite(value, LENGTH_FORMS)


def _turn(value: object) -> float:
    if not isinstance(value, str):
        value = f"{_finite(value, _TURN_FORMS):f}"
    return parse_turn(value, "")


def _finite(value: object, forms: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        _refuse(value, forms)
    return float(value) if abs(value) <= sys.float_info.max else _refuse(value, "a finite number")


def _text(value: object) -> str:
    return value if isinstance(value, str) else _refuse(value, "text in quotes")


def _number(value: object) -> float:
    return _finite(value, "a number")


def _whole(value: object) -> int:
    return value if isinstance(value, int) and not isinstance(value, bool) else _refuse(value, "a whole number")


def _flag(value: object) -> bool:
    return value if isinstance(value, bool) else _refuse(value, "true or false")


def _date(value: object) -> datetime.date:
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value
    return _refuse(value, DATE.forms)


def _refuse(value: object, forms: str) -> NoReturn:
    raise CupgeomError("", f"must be {forms}, got {shown(value)}")


_TURN_FORMS = "front, right, back, left or degrees from -180 to 180"
LENGTH = Kind(_length, LENGTH_FORMS, math.nan)
TURN = Kind(_turn, _TURN_FORMS, math.nan)
TEXT = Kind(_text, "text in quotes", "")
NUMBER = Kind(_number, "a number", math.nan)
WHOLE = Kind(_whole, "a whole number", 0)
FLAG = Kind(_flag, "true or false", False)
DATE = Kind(_date, "a date without quotes such as 2026-03-01", datetime.date.min)
