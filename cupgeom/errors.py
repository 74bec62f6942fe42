"""What can be wrong with a value, said in one line, and what can be doubted about a result."""

from __future__ import annotations

import reprlib
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass


class CupgeomError(ValueError):
    """A value that cannot be used: the field, what is wrong with it, and what would do.

    The path of the field grows on the way up (see `within`), so that a value deep in a file is named whole:
    ``cup.rings[1].height: must be below the ring before it (at 100 mm), got 120 mm``.
    """

    def __init__(self, where: str, what: str) -> None:
        super().__init__(where, what)
        self.where = where
        self.what = what

    def __str__(self) -> str:
        return f"{self.where}: {self.what}" if self.where else self.what


@dataclass(frozen=True, slots=True)
class Notice:
    """A doubt that does not stop the work: where it lies, what it is, and its mend."""

    where: str
    what: str
    mend: str = ""

    def __str__(self) -> str:
        return f"{self.where}: {self.what}" + (f"; {self.mend}" if self.mend else "")


@contextmanager
def within(outer: str) -> Iterator[None]:
    """Prefix the field of any `CupgeomError` raised inside with the part it belongs to."""
    try:
        yield
    except CupgeomError as error:
        joint = "" if error.where.startswith("[") or not error.where else "."
        raise CupgeomError(f"{outer}{joint}{error.where}", error.what) from None


def number(value: float) -> str:
    """A number for a message or a caption: ten significant digits, no trailing zeros, no negative zero."""
    return f"{value:z.10g}"


def require_finite(where: str, value: float, unit: str = "mm") -> None:
    """Raise unless `value` is a finite number.

    Raises
    ------
    CupgeomError
        For text, a truth value, NaN and infinities.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise CupgeomError(where, f"must be a number of {unit}, got {reprlib.repr(value)}")
    if not abs(value) <= sys.float_info.max:
        got = value if isinstance(value, float) else "an integer too large for that"
        raise CupgeomError(where, f"must be a finite number of {unit}, got {got}")


def require_at_least(where: str, value: float, least: float, unit: str = "mm") -> None:
    """Raise unless `value` is finite and not below `least`."""
    require_finite(where, value, unit)
    if value < least:
        raise CupgeomError(where, f"must be at least {number(least)} {unit}, got {number(value)} {unit}")


def require_at_most(where: str, value: float, most: float, unit: str = "mm") -> None:
    """Raise unless `value` is finite and not above `most`."""
    require_finite(where, value, unit)
    if value > most:
        raise CupgeomError(where, f"must be at most {number(most)} {unit}, got {number(value)} {unit}")


def require_positive(where: str, value: float, unit: str = "mm") -> None:
    """Raise unless `value` is finite and greater than 0."""
    require_finite(where, value, unit)
    if value <= 0:
        raise CupgeomError(where, f"must be greater than 0 {unit}, got {number(value)} {unit}")
