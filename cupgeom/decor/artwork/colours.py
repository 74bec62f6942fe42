"""Colours and paint as SVG and CSS write them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from cupgeom.drawing import Colour

_URL = re.compile(r"""url\(\s*(?:"([^"]*)"|'([^']*)'|([^"')\s]*))\s*\)\s*(.*)""", re.DOTALL)
_LONGEST = 200  # characters of a colour
_ICC = re.compile(r"icc-color\([^)]*\)\s*$")


class Ink(NamedTuple):
    """A colour and how much of it covers."""

    colour: Colour
    opacity: float = 1.0


class Current(NamedTuple):
    """The keyword currentColor: whatever `color` is where the paint is used."""


class Reference(NamedTuple):
    """Paint that an element describes, and what stands in when it cannot be had."""

    href: str
    fallback: Ink | Current | None = None


PaintText = Ink | Current | Reference | None
BLACK = Ink((0.0, 0.0, 0.0))


@lru_cache(maxsize=1024)
def parse_colour(text: str) -> Ink | Current | None:
    """A colour: name, hex, rgb(), hsl(), hwb(), currentColor; None for anything else."""
    from tinycss2.color4 import parse_color

    if len(text) > _LONGEST:
        return None
    try:
        colour = parse_color(_ICC.sub("", text).strip())
    except ValueError:  # color() without arguments
        return None
    if colour is None:
        return None
    if isinstance(colour, str):
        return Current()
    if colour.space == "hsl":
        hue, saturation, lightness = (part or 0.0 for part in colour.coordinates)
        colour.coordinates = (hue, _clamp(saturation / 100) * 100, _clamp(lightness / 100) * 100)
    try:
        red, green, blue = (_clamp(part) for part in colour.to("srgb").coordinates)
    except NotImplementedError:  # lab() and its like
        return None
    return Ink((red, green, blue), colour.alpha)


@lru_cache(maxsize=1024)
def parse_paint(text: str) -> tuple[PaintText] | None:
    """The paint of ``fill`` or ``stroke``, in a tuple since no paint is paint too; None when it cannot be read."""
    text = text.strip()
    if text == "none":
        return (None,)
    if match := _URL.fullmatch(text):
        href = match[1] or match[2] or match[3] or ""
        rest = match[4].strip()
        fallback = parse_colour(rest) if rest and rest != "none" else None
        return (Reference(href.strip(), fallback),)
    colour = parse_colour(text)
    return None if colour is None else (colour,)


def parse_reference(text: str) -> str | None:
    """The address in ``url(...)``, empty for ``none``; None when it is neither."""
    if text.strip() == "none":
        return ""
    match = _URL.fullmatch(text.strip())
    return (match[1] or match[2] or match[3] or "").strip() if match and not match[4] else None


def _clamp(part: float) -> float:
    return min(max(part, 0.0), 1.0)
