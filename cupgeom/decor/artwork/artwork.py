"""Artwork: a drawing that came from a file, its size, and how sharp it is at the size it is wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cupgeom.drawing import Box, Drawing, Picture
from cupgeom.errors import CupgeomError, Notice, number, require_positive

_ROUNDING = 1e-9
SOFT_DPI, COARSE_DPI = 200.0, 120.0  # below the first pixels begin to show, below the second they do (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Artwork:
    """What a file of art shows.

    Attributes
    ----------
    name
        The file, as messages name it.
    drawing
        In mm, y up, the page's lower left corner at the origin.
    size
        Width and height of the page.
    box
        Smallest upright rectangle round what is visible.
    notices
        What was left out or guessed.
    """

    name: str
    drawing: Drawing
    size: tuple[float, float]
    box: Box
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        require_positive("size[0]", self.size[0])
        require_positive("size[1]", self.size[1])
        if not self.drawing:
            raise CupgeomError("drawing", "is empty")
        require_positive("box.width", self.box.width)
        require_positive("box.height", self.box.height)

    def pictures(self) -> tuple[Picture, ...]:
        """The pictures of pixels in it."""
        return tuple(leaf for leaf in self.drawing.leaves() if isinstance(leaf, Picture))


def effective_dpi(artwork: Artwork, width: float) -> float | None:
    """Pixels for each inch of the coarsest picture, across or down, when the art is so wide; None without pictures.

    Parameters
    ----------
    artwork
        The art; its `box` is what is scaled to the width.
    width
        On the cup [mm].
    """
    require_positive("width", width)
    scale = width / artwork.box.width / 25.4
    densities = []
    for picture in artwork.pictures():
        place = picture.place
        across, down = abs(complex(place.a, place.b)), abs(complex(place.c, place.d))
        densities += [picture.columns / (across * scale), picture.rows / (down * scale)]
    return min(densities, default=None)


def resolution_notices(artwork: Artwork, width: float) -> tuple[Notice, ...]:
    """What there is to say about the sharpness of the art at a width [mm]: nothing, a doubt, or a loud one."""
    dpi = effective_dpi(artwork, width)
    if dpi is None or dpi >= SOFT_DPI * (1 - _ROUNDING):
        return ()
    enough = number(math.floor(10 * width * dpi / SOFT_DPI * (1 + _ROUNDING)) / 10)
    mend = f"use a picture with more pixels, or make it at most {enough} mm wide"
    what = f"{number(round(width, 2))} mm wide it has {dpi:.0f} pixels for each inch"
    if dpi < COARSE_DPI:
        return (Notice(artwork.name, f"COARSE: {what}; its pixels will show", mend),)
    return (Notice(artwork.name, f"{what}; it will look soft", mend),)
