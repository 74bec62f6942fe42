"""Gradient elements as paint (SVG 1.1, second edition, 13.2)."""

from __future__ import annotations

import math
from typing import Literal
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.colours import Current, Ink
from cupgeom.decor.artwork.frame import Frame
from cupgeom.decor.artwork.limits import MOST_STOPS
from cupgeom.decor.artwork.numbers import composed, parse_length, parse_transform
from cupgeom.decor.artwork.source import Source
from cupgeom.drawing import Affine, Box, Gradient, Stop
from cupgeom.drawing.paint import Spread
from cupgeom.errors import CupgeomError

_FARTHEST_FOCUS = 0.999  # of the radius: SVG 1.1 moves a focus outside the circle onto it, where the paint is undefined
_SPREADS: dict[str, Spread] = {"reflect": "reflect", "repeat": "repeat"}


class Gradients:
    """Turns the gradient elements of a tree into paint."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._stops: dict[Element, tuple[Stop, ...]] = {}

    def paint(self, element: Element, box: Box, frame: Frame) -> Gradient | Ink | None:
        """What a gradient puts on something of a bounding box; one colour where it has no length.

        Parameters
        ----------
        element
            A linearGradient or radialGradient.
        box
            Of what is painted, in its own units.
        frame
            Where that stands.
        """
        chain, outer, viewport = list(self._source.tree.chain(element)), frame.to_mm, frame.viewport
        stops = self._all_stops(chain)
        if not stops:
            return None
        last = Ink(stops[-1].colour, stops[-1].opacity)
        if len(stops) == 1:
            return last
        of_box = self._value(chain, "gradientUnits") != "userSpaceOnUse"
        if of_box:
            if not box.width or not box.height:
                return None
            outer = composed(outer, Affine(box.width, 0.0, 0.0, box.height, box.left, box.bottom))
            viewport = (1.0, 1.0)
        own = parse_transform(self._value(chain, "gradientTransform") or "")
        outer = composed(outer, own or Affine())
        kind: Literal["linear", "radial"] = "linear" if element.tag == "linearGradient" else "radial"
        own_kind = [link for link in chain if link.tag == element.tag]
        placing, focus = (self._line if kind == "linear" else self._circle)(own_kind, viewport)
        if placing is None:
            return last
        place = composed(outer, placing)
        if not place.determinant:
            return None
        spread = _SPREADS.get(self._value(chain, "spreadMethod") or "", "pad")
        return Gradient(kind=kind, stops=stops, place=place, focus=focus, spread=spread)

    def _line(self, chain: list[Element], viewport: tuple[float, float]) -> tuple[Affine | None, complex]:
        width, height = viewport
        x1, y1 = self._length(chain, "x1", "0%", width), self._length(chain, "y1", "0%", height)
        x2, y2 = self._length(chain, "x2", "100%", width), self._length(chain, "y2", "0%", height)
        along = complex(x2 - x1, y2 - y1)
        return (Affine(along.real, along.imag, -along.imag, along.real, x1, y1) if along else None), 0j

    def _circle(self, chain: list[Element], viewport: tuple[float, float]) -> tuple[Affine | None, complex]:
        width, height = viewport
        diagonal = math.hypot(width, height) / math.sqrt(2)
        centre = complex(self._length(chain, "cx", "50%", width), self._length(chain, "cy", "50%", height))
        radius = self._length(chain, "r", "50%", diagonal)
        if radius <= 0:
            return None, 0j
        fx = self._length(chain, "fx", "", width) if self._value(chain, "fx") else centre.real
        fy = self._length(chain, "fy", "", height) if self._value(chain, "fy") else centre.imag
        focus = (complex(fx, fy) - centre) / radius
        if abs(focus) > _FARTHEST_FOCUS:
            focus *= _FARTHEST_FOCUS / abs(focus)
        if self._length(chain, "fr", "0", diagonal) > 0:
            self._source.doubt(chain[0], "has a focal radius, which is taken as 0")
        return Affine(radius, 0.0, 0.0, radius, centre.real, centre.imag), focus

    def _value(self, chain: list[Element], name: str) -> str | None:
        return next((link.attrib[name] for link in chain if name in link.attrib), None)

    def _length(self, chain: list[Element], name: str, default: str, whole: float) -> float:
        length = parse_length(self._value(chain, name) or default) or parse_length(default)
        return length.pixels(whole, self._source.cascade.in_place(chain[0]).font_size) if length else 0.0

    def _all_stops(self, chain: list[Element]) -> tuple[Stop, ...]:
        """The stops of the first gradient of a chain that has any."""
        for link in chain:
            if link not in self._stops:
                self._stops[link] = self._read_stops(link)
            if self._stops[link]:
                return self._stops[link]
        return ()

    def _read_stops(self, gradient: Element) -> tuple[Stop, ...]:
        stops: list[Stop] = []
        elements = gradient.findall("stop")
        if len(elements) > MOST_STOPS:
            raise CupgeomError("", f"has a gradient of more than {MOST_STOPS} stops")
        for element in elements:
            style = self._source.cascade.in_place(element)
            length = parse_length(element.get("offset", "0"))
            offset = length.pixels(1.0, 0.0) if length and length.unit in ("", "%") else 0.0
            offset = min(max(offset, stops[-1].offset if stops else 0.0), 1.0)
            ink = style.color if isinstance(style.stop_color, Current) else style.stop_color
            stops.append(Stop(offset=offset, colour=ink.colour, opacity=ink.opacity * style.stop_opacity))
        return tuple(stops)
