"""The walls unrolled into one upright strip: turn from left to right, drop downward."""

from __future__ import annotations

import math

import numpy as np

from cupgeom.drawing import Affine, Picture
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.texture import Texture, encoded

_BARE = (0.55, 0.56, 0.58)  # light that bare steel sends back here, where nothing is lit
_FINER = 2


def strip(finished: FinishedCup, textures: tuple[Texture, ...], columns: int) -> Picture:
    """All walls as one picture, drops at true scale to the widest circle; narrower parts are drawn as wide as that.

    Returns
    -------
    Picture
        `columns` wide, as high as the slant asks for; one pixel a unit of its place.
    """
    cup = finished.cup
    widest = max(ring.diameter for ring in cup.rings) / 2
    pixel = math.tau * widest / columns
    rows = max(1, round(cup.slant / pixel))
    turns = ((np.arange(columns * _FINER) + 0.5) / (columns * _FINER) - 0.5) * math.tau
    drops = (np.arange(rows * _FINER) + 0.5) / (rows * _FINER) * cup.slant
    light = np.empty((len(drops), len(turns), 3), np.float32)
    light[:] = _BARE
    span = cup.coated_span
    for wall, start, texture in zip(cup.walls, cup.wall_tops, textures, strict=True):
        inside = (drops >= start) & (drops < start + wall.slant) & (drops >= span.top) & (drops <= span.bottom)
        for row in np.nonzero(inside)[0]:
            light[row] = texture.light_at(turns, np.full_like(turns, drops[row] - start))
    mean = (light[::2, ::2] + light[::2, 1::2] + light[1::2, ::2] + light[1::2, 1::2]) * np.float32(0.25)
    pixels = np.full((rows, columns, 4), 255, np.uint8)
    pixels[:, :, :3] = encoded(mean)
    place = Affine.scale(float(columns), float(rows))
    return Picture(pixels=pixels.tobytes(), columns=columns, rows=rows, place=place)
