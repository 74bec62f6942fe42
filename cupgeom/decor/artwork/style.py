"""Properties: what each may say, what it says when nothing is said, and which are handed down.

Names and values: SVG 1.1 (second edition) appendix N "Property index"; `paint-order` and `transform-origin` from SVG 2.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import partial
from typing import Any

from cupgeom.decor.artwork.colours import BLACK, Current, Ink, PaintText, parse_colour, parse_paint, parse_reference
from cupgeom.decor.artwork.limits import require_reasonable
from cupgeom.decor.artwork.numbers import EMS, NUMBER, Length, parse_length, parse_transform
from cupgeom.drawing import Affine

INHERIT, INITIAL = "inherit", "initial"
_ZERO, _ONE, _AS_IT_IS = Length(0.0), Length(1.0), Affine()
_SHARE = re.compile(rf"({NUMBER})(%?)")
_FONT_SIZES = {  # CSS 2.2, 15.7: a factor of 1.2 between neighbours, medium = 16 px
    "xx-small": 9.0, "x-small": 10.0, "small": 13.0, "medium": 16.0, "large": 18.0, "x-large": 24.0, "xx-large": 32.0,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """What all properties say about one element; each field's default is the property's initial value."""

    color: Ink = BLACK
    fill: PaintText = BLACK
    stroke: PaintText = None
    fill_opacity: float = 1.0
    stroke_opacity: float = 1.0
    fill_rule: str = "nonzero"
    clip_rule: str = "nonzero"
    stroke_width: Length = _ONE
    stroke_linecap: str = "butt"
    stroke_linejoin: str = "miter"
    stroke_miterlimit: float = 4.0
    stroke_dasharray: tuple[Length, ...] = ()
    stroke_dashoffset: Length = _ZERO
    visibility: str = "visible"
    font_size: float = 16.0
    paint_order: str = "normal"
    marker_start: str = ""
    marker_mid: str = ""
    marker_end: str = ""
    image_rendering: str = "auto"
    # not handed down
    opacity: float = 1.0
    display: str = "inline"
    overflow: str = ""
    clip_path: str = ""
    mask: str = ""
    filter: str = ""
    stop_color: Ink | Current = BLACK
    stop_opacity: float = 1.0
    transform: Affine = _AS_IT_IS
    transform_origin: tuple[Length, Length] = (_ZERO, _ZERO)
    vector_effect: str = "none"
    mix_blend_mode: str = "normal"

    @property
    def shows_all(self) -> bool:
        """Whether a viewport lets its content reach beyond it."""
        return self.overflow in ("visible", "auto")


_OWN = frozenset(
    (
        "opacity", "display", "overflow", "clip_path", "mask", "filter", "stop_color", "stop_opacity", "transform",
        "transform_origin", "vector_effect", "mix_blend_mode",
    )
)  # fmt: skip
_FIELDS = tuple(field.name for field in fields(Style))
_INHERITED = tuple(name for name in _FIELDS if name not in _OWN)


def derived(parent: Style, declared: Mapping[str, Any]) -> Style:
    """The style of an element, from its parent's and what is declared for itself."""
    values = {name: getattr(parent, name) for name in _INHERITED}
    for name, value in declared.items():
        if value == INHERIT:
            values[name] = getattr(parent, name)
        elif value == INITIAL:
            values[name] = getattr(_INITIAL, name)
        elif name == "font_size":
            values[name] = value.pixels(parent.font_size, parent.font_size)
        elif name == "color":
            values[name] = parent.color if isinstance(value, Current) else value
        else:
            values[name] = value
    if values["stroke_width"].unit in EMS:
        values["stroke_width"] = Length(values["stroke_width"].pixels(0.0, values["font_size"]))
    return Style(**values)


_INITIAL = Style()


def parse_declaration(name: str, text: str) -> tuple[tuple[str, Any], ...] | None:
    """The fields of `Style` that a property sets, with values; None when it cannot be read, () when not needed."""
    parser = _PARSERS.get(name)
    if parser is None:
        return ()
    word = text.strip()
    if word in (INHERIT, INITIAL):
        value: Any = word
    elif (value := parser(word)) is None:
        return None
    elif name in ("fill", "stroke"):
        (value,) = value
    if name == "marker":
        return tuple((f"marker_{at}", value) for at in ("start", "mid", "end"))
    return ((name.replace("-", "_"), value),)


def _share(text: str) -> float | None:
    match = _SHARE.fullmatch(text)
    return min(max(float(match[1]) / (100 if match[2] else 1), 0.0), 1.0) if match else None


def _one_of(words: tuple[str, ...], text: str) -> str | None:
    return text if text in words else None


def _any(text: str) -> str:
    return text


def _at_least(least: float, text: str) -> float | None:
    match = _SHARE.fullmatch(text)
    return require_reasonable(text, float(match[1])) if match and not match[2] and float(match[1]) >= least else None


def _positive_length(text: str) -> Length | None:
    length = parse_length(text)
    return length if length and length.value >= 0 else None


def _dashes(text: str) -> tuple[Length, ...] | None:
    """Lengths of lines and gaps; one that is negative, or all 0, makes the line solid."""
    if text == "none":
        return ()
    parts = [parse_length(part) for part in re.split(r"[\s,]+", text.strip(", "))]
    lengths = tuple(part for part in parts if part)
    if len(lengths) < len(parts):
        return None
    if min(part.value for part in lengths) < 0 or not any(part.value for part in lengths):
        return ()
    return lengths * (1 + len(lengths) % 2)


def _font_size(text: str) -> Length | None:
    if text in ("smaller", "larger"):
        return Length(100 / 1.2 if text == "smaller" else 120.0, "%")
    return Length(_FONT_SIZES[text]) if text in _FONT_SIZES else _positive_length(text)


def _origin(text: str) -> tuple[Length, Length] | None:
    words = text.split()
    if set(words[:1]) & {"top", "bottom"} or set(words[1:2]) & {"left", "right"}:
        words = [*reversed(words)] if words[1:] else ["center", *words]
    places = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
    lengths = [parse_length(places.get(word, word)) for word in words[:2]] + [Length(50.0, "%")]
    across, down = lengths[:2] if words else (None, None)
    return (across, down) if across and down else None


_PARSERS: dict[str, Callable[[str], Any]] = {
    "color": parse_colour,
    "fill": parse_paint,
    "stroke": parse_paint,
    "fill-opacity": _share,
    "stroke-opacity": _share,
    "fill-rule": partial(_one_of, ("nonzero", "evenodd")),
    "clip-rule": partial(_one_of, ("nonzero", "evenodd")),
    "stroke-width": _positive_length,
    "stroke-linecap": partial(_one_of, ("butt", "round", "square")),
    "stroke-linejoin": partial(_one_of, ("miter", "round", "bevel", "miter-clip", "arcs")),
    "stroke-miterlimit": partial(_at_least, 1.0),
    "stroke-dasharray": _dashes,
    "stroke-dashoffset": parse_length,
    "visibility": partial(_one_of, ("visible", "hidden", "collapse")),
    "font-size": _font_size,
    "paint-order": _any,
    "marker": parse_reference,
    "marker-start": parse_reference,
    "marker-mid": parse_reference,
    "marker-end": parse_reference,
    "opacity": _share,
    "display": _any,
    "overflow": _any,
    "clip-path": _any,
    "mask": _any,
    "filter": _any,
    "stop-color": parse_colour,
    "stop-opacity": _share,
    "transform": parse_transform,
    "transform-origin": _origin,
    "vector-effect": _any,
    "mix-blend-mode": _any,
    "image-rendering": _any,
}
PROPERTIES = frozenset(_PARSERS) - {"marker"}  # those that may be attributes
