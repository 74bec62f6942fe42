"""Numbers as SVG writes them: lengths with units, lists, transforms, and how a view box fits its viewport.

Grammar: SVG 1.1 (second edition) 4.2 "Basic data types", 7.6 "The transform attribute", 7.8 "preserveAspectRatio"; the
repeated parts are possessive, so that no text takes longer than its length.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import NamedTuple

from cupgeom.decor.artwork.limits import LARGEST, require_reasonable
from cupgeom.drawing import Affine
from cupgeom.errors import CupgeomError

NUMBER = r"[+-]?(?:[0-9]++(?:\.[0-9]*+)?|\.[0-9]++)(?:[eE][+-]?[0-9]++)?"
SEPARATOR = r"[ \t\r\n\f]*+,?+[ \t\r\n\f]*+"
PIXELS = {  # CSS Values and Units, absolute lengths: 1 in = 25.4 mm = 96 px = 72 pt = 6 pc
    "": 1.0, "px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6, "pt": 96 / 72, "pc": 16.0,
}  # fmt: skip
MM_PER_PIXEL = 25.4 / 96
EMS = {"em": 1.0, "ex": 0.5}  # the second is what CSS takes where the font does not say
_FACTORS = PIXELS | {"deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}  # to pixels, or to degrees
_NUMBER = re.compile(NUMBER)
_LIST = re.compile(rf"[ \t\r\n\f]*+(?:{NUMBER}(?:{SEPARATOR}{NUMBER})*+)?+[ \t\r\n\f]*+")
_SPACE = re.compile(r"[ \t\r\n\f]++")
_LENGTH = re.compile(rf"({NUMBER})(%|[a-zA-Z]*)")
_FUNCTION = re.compile(rf"{SEPARATOR}([a-zA-Z]++)[ \t\r\n\f]*+\(([^()]*+)\)")


class Length(NamedTuple):
    """A length as written; a percentage or a share of the font size is not yet a length."""

    value: float
    unit: str = ""

    def pixels(self, whole: float, font_size: float) -> float:
        """In the units of the drawing: percentages of `whole`, em of the font size."""
        if self.unit == "%":
            return self.value * whole / 100
        if self.unit in EMS:
            return self.value * EMS[self.unit] * font_size
        return self.value * PIXELS[self.unit]


def parse_length(text: str) -> Length | None:
    """A number with or without a unit; None when it is neither."""
    match = _LENGTH.fullmatch(text.strip())
    if not match:
        return None
    unit = match[2].lower()
    if unit != "%" and unit not in PIXELS and unit not in EMS:
        return None
    return Length(require_reasonable(match[1], float(match[1])), unit)


def parse_numbers(text: str) -> tuple[list[float], bool]:
    """The numbers of a list up to its first fault, and whether it had one."""
    if _LIST.fullmatch(text):
        return _checked(_NUMBER.findall(text)), False
    found, at = [], _past_space(text, 0)
    while match := _NUMBER.match(text, at):
        found.append(match[0])
        at = _past_space(text, match.end())
        if text[at : at + 1] == ",":
            at = _past_space(text, at + 1)
    return _checked(found), True


def _checked(found: list[str]) -> list[float]:
    numbers = list(map(float, found))
    if numbers and not (max(numbers) <= LARGEST and min(numbers) >= -LARGEST):
        for text, value in zip(found, numbers, strict=True):
            require_reasonable(text, value)
    return numbers


def _past_space(text: str, at: int) -> int:
    match = _SPACE.match(text, at)
    return match.end() if match else at


def parse_transform(text: str) -> Affine | None:
    """A list of transforms as one map, the first outermost; None when it cannot be read.

    Angles and lengths may have the units that CSS gives them.
    """
    if text.strip() == "none":
        return Affine()
    whole, at = Affine(), 0
    while match := _FUNCTION.match(text, at):
        step = _step(match[1], match[2])
        if step is None:
            return None
        whole, at = whole @ step, match.end()
    return whole if not text[at:].strip(", \t\r\n\f") else None


def _step(name: str, arguments: str) -> Affine | None:
    if _LENGTH.sub("", arguments).strip(", \t\r\n\f"):
        return None
    values = []
    for text, unit in _LENGTH.findall(arguments):
        factor = _FACTORS.get(unit.lower())
        if factor is None:
            return None
        values.append(require_reasonable(text, float(text)) * factor)
    make = _STEPS.get((name, len(values)))
    return make(*values) if make else None


def _moved(x: float, y: float = 0.0) -> Affine:
    return Affine.move(complex(x, y))


def _turned_about(angle_deg: float, x: float, y: float) -> Affine:
    return _moved(x, y) @ Affine.rotation(angle_deg) @ _moved(-x, -y)


_STEPS: dict[tuple[str, int], Callable[..., Affine]] = {
    ("matrix", 6): Affine,
    ("translate", 1): _moved,
    ("translate", 2): _moved,
    ("translateX", 1): _moved,
    ("translateY", 1): lambda y: _moved(0.0, y),
    ("scale", 1): lambda both: Affine.scale(both, both),
    ("scale", 2): Affine.scale,
    ("scaleX", 1): lambda x: Affine.scale(x, 1.0),
    ("scaleY", 1): lambda y: Affine.scale(1.0, y),
    ("rotate", 1): Affine.rotation,
    ("rotate", 3): _turned_about,
    ("skewX", 1): lambda angle_deg: Affine(c=math.tan(math.radians(angle_deg))),
    ("skewY", 1): lambda angle_deg: Affine(b=math.tan(math.radians(angle_deg))),
}


def composed(outer: Affine, inner: Affine) -> Affine:
    """`outer @ inner`, refused when the outcome is too large to reckon with."""
    both = outer @ inner
    if not all(abs(value) <= LARGEST for value in both):
        raise CupgeomError("", f"is moved or scaled beyond {LARGEST:g}")
    return both


def inverse(affine: Affine) -> Affine:
    """The map back; the determinant must not be 0."""
    a, b, c, d, e, f = affine
    size = affine.determinant
    turned = Affine(d / size, -b / size, -c / size, a / size)
    return composed(turned, Affine.move(complex(-e, -f)))


class ViewBox(NamedTuple):
    """The part of the drawing that a viewport shows."""

    x: float
    y: float
    width: float
    height: float


def parse_view_box(text: str) -> ViewBox | None:
    """Four numbers, the last two greater than 0; else None."""
    values, faulty = parse_numbers(text)
    return ViewBox(*values) if len(values) == 4 and not faulty and min(values[2:]) > 0 else None


def fitted(box: ViewBox, width: float, height: float, aspect: str) -> Affine:
    """The map from a view box to a viewport at the origin.

    `aspect` is preserveAspectRatio's text; what cannot be read is taken as its default, ``xMidYMid meet``.
    """
    words = aspect.replace("defer", "").split()
    sx, sy = width / box.width, height / box.height
    to_origin = Affine.move(complex(-box.x, -box.y))
    if words[:1] == ["none"]:
        return composed(Affine.scale(sx, sy), to_origin)
    match = re.fullmatch("x(Min|Mid|Max)Y(Min|Mid|Max)", words[0] if words else "")
    across, down = match.groups() if match else ("Mid", "Mid")
    scale = max(sx, sy) if words[1:] == ["slice"] else min(sx, sy)
    shares = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    shift = complex((width - scale * box.width) * shares[across], (height - scale * box.height) * shares[down])
    return composed(Affine.move(shift) @ Affine.scale(scale, scale), to_origin)
