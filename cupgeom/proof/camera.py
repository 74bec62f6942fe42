"""The eye: a pinhole at a distance from the axis, its picture plane upright, so that upright lines stay upright.

The cup stands with its axis upright: x to the right of someone who looks at the front, y up from the base ring, z
toward them. An eye at a turn sees the same with the cup turned under it; in its own frame it stands at
(0, eye_height, distance)::

    x' = x cos θ − z sin θ      z' = x sin θ + z cos θ      depth = distance − z'
    column = centre + focal · x'/depth       row = centre − focal · (y − eye_height)/depth
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cupgeom.decor.sight import EYE_DISTANCE
from cupgeom.errors import require_at_least, require_finite, require_positive
from cupgeom.proof.finished import FinishedCup

Floats = NDArray[np.float64]
LOOK_DOWN = 0.13  # height of the eye above the top edge, as a share of its distance: shows the opening as an ellipse
SHADOW_REACH = 2.2  # radii of the base; beyond it the ground is bare
_MARGIN = 0.04  # of the picture, left free on each side


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A pinhole that looks level at the axis from a turn.

    Parameters
    ----------
    turn_deg
        From where it looks: 0 at the front, 90 at the cup's right-hand side.
    distance
        From the axis [mm].
    eye_height
        Above the base ring [mm].
    focal
        Pixels in the picture for a slope of 1.
    centre
        Column and row of what lies straight ahead, counted from the picture's top left corner.
    columns, rows
        Size of the picture.
    """

    turn_deg: float
    distance: float
    eye_height: float
    focal: float
    centre: tuple[float, float]
    columns: int
    rows: int

    def __post_init__(self) -> None:
        require_finite("turn_deg", self.turn_deg, "degrees")
        for where in ("distance", "focal"):
            require_positive(where, getattr(self, where))
        require_finite("eye_height", self.eye_height)
        for where in ("columns", "rows"):
            require_at_least(where, getattr(self, where), 1, "pixels")

    def in_view(self, points: Floats) -> Floats:
        """Points of the cup, shape (n, 3), in the eye's frame."""
        turn = math.radians(self.turn_deg)
        x, y, z = points[:, 0], points[:, 1], points[:, 2]
        cos, sin = math.cos(turn), math.sin(turn)
        return np.stack([x * cos - z * sin, y, x * sin + z * cos], axis=1)

    def project(self, points: Floats) -> Floats:
        """Where points of the cup, shape (n, 3), are seen: columns and rows, shape (n, 2)."""
        seen = self.in_view(points)
        scale = self.focal / (self.distance - seen[:, 2])
        return np.stack(
            [self.centre[0] + scale * seen[:, 0], self.centre[1] - scale * (seen[:, 1] - self.eye_height)], axis=1
        )


def camera(finished: FinishedCup, turn_deg: float, columns: int, rows: int) -> Camera:
    """An eye at `EYE_DISTANCE` that sees the whole cup, as large as the picture allows, the same from each turn."""
    distance = finished.eye_distance(EYE_DISTANCE)
    widest, low, high = _slopes(finished, distance)
    focal = (1 - 2 * _MARGIN) * min(columns / (2 * widest), rows / (high - low))
    return Camera(
        turn_deg=turn_deg,
        distance=distance,
        eye_height=_eye_height(finished, distance),
        focal=focal,
        centre=(columns / 2, rows / 2 + focal * (high + low) / 2),
        columns=columns,
        rows=rows,
    )


def natural_rows(finished: FinishedCup, columns: int) -> int:
    """Height of a picture that the cup fills as it fills its width, from half to twice the width."""
    widest, low, high = _slopes(finished, finished.eye_distance(EYE_DISTANCE))
    return round(columns * min(2.0, max(0.5, (high - low) / (2 * widest))))


def _eye_height(finished: FinishedCup, distance: float) -> float:
    return finished.cup.height + LOOK_DOWN * distance


def _slopes(finished: FinishedCup, distance: float) -> tuple[float, float, float]:
    """Largest slope aside at which anything is seen, least and largest slope upward."""
    reach, _ = finished.extent()
    eye_height = _eye_height(finished, distance)
    rings = [(ring.diameter / 2, ring.height - finished.cup.rings[-1].height) for ring in finished.cup.rings]
    reach = max(reach, 0.9 * SHADOW_REACH * rings[-1][0])
    low = min((level - eye_height) / (distance - radius) for radius, level in rings)
    high = max((level - eye_height) / (distance + radius) for radius, level in rings)
    return reach / math.sqrt(distance * distance - reach * reach), low, high
