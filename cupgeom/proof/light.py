"""The light in which a cup is shown: a bright room with a tall soft window at the left and a narrow one at the right.

It goes with the eye, so that each view is lit alike. All of it is drawn by eye, to please; light is linear, 1 = white.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
KEY = (-0.46, 0.48, 0.747)  # direction of the large window, of length 1
REFLECTED = 0.04  # share that clear resin of index 1.5 mirrors straight on (Fresnel)
STEEL = (0.80, 0.81, 0.83)  # share that brushed steel mirrors, by eye
_ROOM = np.float32(0.30)
_WINDOWS = (  # where they stand (x, z), cosine of half their width, from what height to what height, how bright
    ((-0.80, 0.60), 0.955, -0.50, 0.75, 3.6),
    ((0.94, -0.34), 0.985, -0.55, 0.75, 2.4),
)


def room(x: Floats, y: Floats, z: Floats, blur: float = 0.0) -> Floats:
    """Light that comes from directions of length 1, shape (n,); `blur` from 0 to 1 softens the windows' edges."""
    level = 1 / np.maximum(np.hypot(x, z), np.float32(1e-3))
    light = _ROOM + 0.6 * _ROOM * np.clip(y, -0.6, 1)
    for (ahead_x, ahead_z), narrow, low, high, bright in _WINDOWS:
        edge = 0.05 + 0.25 * blur
        window = _step(((x * ahead_x + z * ahead_z) * level - narrow + (0.45 + blur) * edge) / edge)
        window *= _step((y - low) / (0.25 + 0.5 * blur)) * _step((high - y) / (0.25 + 0.5 * blur))
        light += bright * (1 - 0.55 * blur) * window
    return np.asarray(light, np.float32)


def on_paint(normal: Floats) -> Floats:
    """Light that falls on a dull surface, shape (n, 1): a soft key light wrapped round, and the room."""
    key = normal @ np.array(KEY, np.float32)
    light = 0.50 + 0.56 * np.clip((key + 0.4) / 1.4, 0, 1) + 0.05 * normal[:, 1]
    return np.asarray(light[:, None], np.float32)


def resin(colour: Floats, normal: Floats, ray: Floats) -> Floats:
    """Colour under smooth, clear resin: what is below in soft light, and the room mirrored (Schlick's Fresnel)."""
    facing = np.clip(-np.einsum("ij,ij->i", normal, ray), 0, 1)
    mirrored = REFLECTED + (1 - REFLECTED) * (1 - facing) ** 5
    shine = room(*_mirror(normal, ray, facing)) * mirrored
    return np.asarray(colour * on_paint(normal) * (1 - mirrored)[:, None] + shine[:, None], np.float32)


def steel(normal: Floats, ray: Floats, shade: Floats | float = 1.0) -> Floats:
    """Brushed steel: the room mirrored with soft edges."""
    facing = np.clip(-np.einsum("ij,ij->i", normal, ray), 0, 1)
    sharp, soft = room(*_mirror(normal, ray, facing), blur=0.55), on_paint(normal)[:, 0]
    shine = (0.62 * np.minimum(sharp, 1.9) + 0.36 * soft) * shade
    return np.asarray(shine[:, None] * np.array(STEEL, np.float32), np.float32)


def _mirror(normal: Floats, ray: Floats, facing: Floats) -> tuple[Floats, Floats, Floats]:
    mirrored = ray + (2 * facing)[:, None] * normal
    return mirrored[:, 0], mirrored[:, 1], mirrored[:, 2]


def _step(at: NDArray[np.floating]) -> Floats:
    """0 below 0, 1 above 1, smooth between."""
    t = np.clip(at, 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)
