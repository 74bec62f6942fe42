"""Text to numbers and back: millimetres, degrees, two lengths in one.

This is the only place where a typed length or turn becomes a number; the command line and the files both call it.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from cupgeom.errors import CupgeomError, number

MM_PER_INCH = Fraction(254, 10)  # exact, international yard and pound agreement of 1959
POINTS_PER_INCH = 72  # PDF user space unit, ISO 32000

_MM_PER: dict[str, Fraction] = {
    "": Fraction(1),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "″": MM_PER_INCH,
    "”": MM_PER_INCH,
}
_LENGTH = re.compile(
    r"""(?P<sign>[-+]?)\s*
    (?: (?P<whole>\d+)(?:\s+|\s*-\s*)(?P<above>\d+)\s*/\s*(?P<below>\d+)   # 3 1/2 or 3-1/2
      | (?P<num>\d+)\s*/\s*(?P<den>\d+)                                    # 7/8
      | (?P<decimal>(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{1,3})?)       # 88, 88.5, 88,5, 1e2
    )\s*(?P<unit>[^\W\d_]*|["″”])""",
    re.VERBOSE,
)
_SIDES = {"front": 0.0, "right": 90.0, "back": 180.0, "left": -90.0}
_TURN = re.compile(r"([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(?:deg|°)?")
LENGTH_FORMS = "a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in"
_LONGEST = 100  # characters; no sensible length or turn needs as many
_PLAIN = str.maketrans({"\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2013": "-", "\u2044": "/", "\u2215": "/"})


def parse_length(text: str, where: str = "length") -> float:
    """A typed length in mm.

    A plain number is mm; ``mm``, ``cm``, ``in`` and ``"`` are understood, with decimals (point or comma), or with
    fractions such as ``3 1/2 in``, ``3-1/2"`` and ``3½ in``. The value is exact before it is rounded once to a float.

    Raises
    ------
    CupgeomError
        When the text is not a length, a fraction divides by zero, or a comma could be read two ways.
    """
    if not text.strip():
        raise CupgeomError(where, f"is empty; give {LENGTH_FORMS}")
    match = _match(text)
    if match is None:
        if text.strip().lower().lstrip("+-") in {"nan", "inf", "infinity"}:
            raise CupgeomError(where, f"must be a finite length, got {_shown(text)}")
        raise CupgeomError(where, f"cannot read {_shown(text)}; give {LENGTH_FORMS}")
    unit = match["unit"].lower()
    if unit not in _MM_PER:
        raise CupgeomError(where, f'unknown unit {_shown(match["unit"])} in {_shown(text)}; use mm, cm, in or "')
    value = _value(match, text, where) * _MM_PER[unit] * (-1 if match["sign"] == "-" else 1)
    if abs(value) > Fraction(10) ** 300:
        raise CupgeomError(where, f"must be a finite length, got {_shown(text)}")
    return float(value)


def is_inches(text: str) -> bool:
    """Whether a typed length names inches, so that its answer may be given in inches too."""
    match = _match(text)
    return match is not None and _MM_PER.get(match["unit"].lower()) == MM_PER_INCH


def parse_size(text: str, where: str = "size") -> tuple[float, float]:
    """Two typed lengths joined by ``x``, in mm: ``99.2mm x 100.4mm``, ``13x19in`` (a unit at the end serves both).

    Raises
    ------
    CupgeomError
        When there are not two lengths, or only the first has a unit other than mm.
    """
    parts = [part.strip() for part in re.split("[xX×]", text)]
    if len(parts) != 2 or not all(parts):
        raise CupgeomError(where, f"cannot read {_shown(text)}; give two lengths such as 99.2mm x 100.4mm")
    second = parse_length(parts[1], where)
    units = [match and match["unit"] for match in map(_match, parts)]
    if units[0] == "" and units[1]:
        parts[0] += units[1]
    first = parse_length(parts[0], where)
    if units[1] == "" and units[0] and units[0].lower() != "mm":
        raise CupgeomError(where, f"the second length in {_shown(text)} has no unit; give it one")
    return first, second


def parse_turn(text: str, where: str = "turn") -> float:
    """A typed turn in degrees, −180…180: ``front``, ``right``, ``back``, ``left``, ``-30``, ``30 deg`` or ``30°``.

    Raises
    ------
    CupgeomError
        When the text is neither a side nor degrees within ±180.
    """
    cleaned = _plain(text[:_LONGEST])
    if cleaned.lower() in _SIDES:
        return _SIDES[cleaned.lower()]
    match = _TURN.fullmatch(cleaned)
    if match is None or len(text) > _LONGEST:
        raise CupgeomError(
            where, f"cannot read {_shown(text)}; give front, right, back, left or degrees from -180 to 180"
        )
    turn_deg = float(match[1].replace(",", ".")) + 0.0  # adding 0 makes −0 plain
    if abs(turn_deg) > 180:
        raise CupgeomError(where, f"must be from -180° to 180°, got {number(turn_deg)}°")
    return turn_deg


def describe_turn(turn_deg: float) -> str:
    """A turn with the side it lies on, as the cup is seen from the front: ``turn −90° (left, seen from the front)``."""
    rounded = round(turn_deg, 2)
    if rounded == 0:
        side = "front"
    elif abs(rounded) == 180:
        side = "back"
    else:
        side = "right" if rounded > 0 else "left"
        side += ", toward the back" if abs(rounded) > 90 else ", seen from the front"
    return f"turn {number(rounded).replace('-', '−')}° ({side})"


def format_length(mm: float, unit: str = "mm", digits: int = 2) -> str:
    """A length for people, in ``mm`` or ``in`` (inches get one decimal more).

    Raises
    ------
    CupgeomError
        When the unit is another.
    """
    if unit not in {"mm", "in"}:
        raise CupgeomError("unit", f"must be mm or in, got {_shown(unit)}")
    if unit == "in":
        return f"{number(round(mm / float(MM_PER_INCH), digits + 1))} in"
    return f"{number(round(mm, digits))} mm"


def _match(text: str) -> re.Match[str] | None:
    return _LENGTH.fullmatch(_plain(text)) if len(text) <= _LONGEST else None


def _shown(text: str) -> str:
    """Typed text for a message: quoted, shortened."""
    return repr(text if len(text) <= 40 else f"{text[:37]}...")


def _plain(text: str) -> str:
    """The text with ½ written as 1/2, typographic dashes and slashes as plain ones, and no space around it."""
    spelled = "".join(
        f" {unicodedata.normalize('NFKC', char)}" if "VULGAR FRACTION" in unicodedata.name(char, "") else char
        for char in text
    )
    return spelled.translate(_PLAIN).strip()


def _value(match: re.Match[str], text: str, where: str) -> Fraction:
    if match["decimal"]:
        decimal = match["decimal"]
        if re.match(r"[1-9]\d{0,2},\d{3}(?!\d)", decimal):
            raise CupgeomError(where, f"the comma in {_shown(text)} can be read two ways; write a point for decimals")
        return Fraction(decimal.replace(",", "."))
    above, below = int(match["above"] or match["num"]), int(match["below"] or match["den"])
    if below == 0:
        raise CupgeomError(where, f"the fraction in {_shown(text)} divides by zero; give {LENGTH_FORMS}")
    return int(match["whole"] or 0) + Fraction(above, below)
