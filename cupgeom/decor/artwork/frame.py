"""Where the walk through a file stands: the map to mm, the style handed down, the viewport."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from cupgeom.decor.artwork.numbers import Length, composed
from cupgeom.decor.artwork.style import Style
from cupgeom.drawing import Affine

Mode = Literal["paint", "extent", "clip"]  # draw it, measure its outlines, or gather them for a clip
_AS_IT_IS = Affine()


class Frame(NamedTuple):
    """What an element meets that is drawn here."""

    to_mm: Affine
    style: Style
    viewport: tuple[float, float]
    depth: int = 0
    mode: Mode = "paint"

    def moved(self, by: Affine) -> Frame:
        """The frame inside a transform."""
        return self if by == _AS_IT_IS else self._replace(to_mm=composed(self.to_mm, by))

    def entered(self, style: Style) -> Frame:
        """The frame inside an element of a style, its own transform applied."""
        inside = self._replace(style=style, depth=self.depth + 1)
        across, down = (inside.pixels(part, axis) for part, axis in zip(style.transform_origin, "xy", strict=True))
        origin = complex(across, down)
        if not origin:
            return inside.moved(style.transform)
        return inside.moved(Affine.move(origin) @ style.transform @ Affine.move(-origin))

    def pixels(self, length: Length, axis: str = "") -> float:
        """A length in units of the drawing; percentages are of the viewport's width, height or mean diagonal."""
        width, height = self.viewport
        whole = width if axis == "x" else height if axis == "y" else math.hypot(width, height) / math.sqrt(2)
        return length.pixels(whole, self.style.font_size)
