"""The handle as a tube along an arch between its feet, plain enough to stand for any handle.

The cup stands with its axis upright: x to the right of someone who looks at the front, y up from the base ring, z
toward them. The handle is at the back, in the plane x = 0, z < 0.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cupgeom.cup import Cup

Floats = NDArray[np.float64]
PIECES = 48  # straight pieces of the centre line
_REACH = 0.42  # how far the arch stands out, as a share of the height between its ends; drawn by eye
_LEAST_REACH = 18.0  # mm, room for a finger


@dataclass(frozen=True, slots=True, eq=False)
class Tube:
    """A tube of elliptical section: points of its centre line, the half-axis in its plane, and across it.

    Attributes
    ----------
    centres
        Shape (PIECES + 1, 3), from the upper end to the lower one [mm].
    radius
        Half the tube's thickness in the plane of the arch [mm].
    half_width
        Half its width across that plane [mm].
    """

    centres: Floats
    radius: float
    half_width: float

    @property
    def tangents(self) -> Floats:
        """Unit directions along the centre line at its points, shape (PIECES + 1, 3)."""
        steps = np.gradient(self.centres, axis=0)
        return np.asarray(steps / np.linalg.norm(steps, axis=1, keepdims=True))


def tube(cup: Cup) -> Tube | None:
    """The handle of a cup between its highest and its lowest foot, None for a cup without one.

    Half a superellipse of power 2.6 stands out from the line between the two ends, which lie just inside the wall.
    """
    if cup.handle is None:
        return None
    feet = sorted(cup.handle.feet, key=lambda foot: foot.top)
    first, last = feet[0], feet[-1]
    width = min(foot.width for foot in feet)
    spread = last.bottom - first.top
    radius = min(0.32 * width, 0.12 * spread, 5.0)
    half_width = max(radius, min(width / 2, 1.8 * radius))
    if len(feet) > 1:
        drops = ((first.top + first.bottom) / 2, (last.top + last.bottom) / 2)
    else:
        drops = (first.top + radius, last.bottom - radius)
    ends = [np.array([0.0, _height(cup, drop), -(cup.radius_at(drop) - 0.5 * radius)]) for drop in drops]
    along = np.linspace(0, math.pi, PIECES + 1)
    run = (1 - np.sign(np.cos(along)) * np.abs(np.cos(along)) ** (2 / 2.6)) / 2
    out = max(_LEAST_REACH, _REACH * float(ends[0][1] - ends[1][1])) * np.sin(along) ** (2 / 2.6)
    centres = ends[0] + (ends[1] - ends[0]) * run[:, None] + np.array([0.0, 0.0, -1.0]) * out[:, None]
    return Tube(_evenly(centres), radius, half_width)


def _evenly(points: Floats) -> Floats:
    """The same line by as many points at even distances."""
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    at = np.linspace(0, lengths[-1], PIECES + 1)
    return np.stack([np.interp(at, lengths, points[:, axis]) for axis in range(3)], axis=1)


def _height(cup: Cup, drop: float) -> float:
    """Height above the base ring of a drop."""
    for top, wall, ring in zip(reversed(cup.wall_tops), reversed(cup.walls), reversed(cup.rings[:-1]), strict=True):
        if drop >= top:
            return ring.height - (drop - top) * math.cos(wall.half_angle_rad) - cup.rings[-1].height
    raise AssertionError("the first wall starts at drop 0")
