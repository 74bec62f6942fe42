"""Rays met with the handle: its tube as short cylinders with spheres between them, its normals smooth along it.

Everything across the plane of the arch is shrunk first, so that an elliptical tube is a round one.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cupgeom.proof.handle import PIECES, Tube

if TYPE_CHECKING:
    from cupgeom.proof.camera import Camera

Floats = NDArray[np.float64]


def met_tube(tube: Tube, across: Floats, up: Floats, camera: Camera) -> tuple[Floats, Floats]:
    """Depth at which rays of the given slopes meet the tube, shape (rows, columns), and unit normals there.

    Infinite, and 0, where a ray misses. Slopes are those of `picture`: `across` (columns,), `up` (rows,).
    """
    depth = np.full((len(up), len(across)), np.inf)
    normals = np.zeros((*depth.shape, 3))
    turn, squash = math.radians(camera.turn_deg), tube.radius / tube.half_width
    # from the eye's frame to the cup's: turned back, then shrunk across
    back = np.array([[math.cos(turn), 0, math.sin(turn)], [0, 1, 0], [-math.sin(turn), 0, math.cos(turn)]])
    back[0] *= squash
    eye = back @ np.array([0.0, camera.eye_height, camera.distance])
    centres, tangents = tube.centres * [squash, 1, 1], tube.tangents
    seen = camera.in_view(tube.centres)
    size = max(tube.radius, tube.half_width)
    for index in range(PIECES):
        rows, columns = _window(seen[index : index + 2], size, across, up, camera)
        if rows.start >= rows.stop or columns.start >= columns.stop:
            continue
        slopes = np.empty((rows.stop - rows.start, columns.stop - columns.start, 3))
        slopes[:, :, 0], slopes[:, :, 1], slopes[:, :, 2] = across[columns], up[rows, None], -1.0
        rays = slopes @ back.T
        start, end = centres[index], centres[index + 1]
        found, share = _capsule(eye - start, rays, end - start, tube.radius)
        place = depth[rows, columns]
        nearer = found < place
        if not nearer.any():
            continue
        place[nearer] = found[nearer]
        share = share[nearer][:, None]
        outward = eye + rays[nearer] * found[nearer][:, None] - (start + (end - start) * share)
        along = tangents[index] * (1 - share) + tangents[index + 1] * share
        outward -= along * ((outward * along).sum(axis=1, keepdims=True) / (along * along).sum(axis=1, keepdims=True))
        facing = outward @ back  # shrinking is undone on normals by shrinking again: the inverse, transposed
        normals[rows, columns][nearer] = facing / np.linalg.norm(facing, axis=1, keepdims=True)
    return depth, normals


def _window(ends: Floats, size: float, across: Floats, up: Floats, camera: Camera) -> tuple[slice, slice]:
    """The rows and columns of rays that can meet a piece between two points of the eye's frame."""
    near = camera.distance - ends[:, 2] - size

    def slopes(middles: Floats) -> Floats:
        return np.concatenate(
            [(middles + side) / (near + behind) for side in (-size, size) for behind in (0, 2 * size)]
        )

    x, y = slopes(ends[:, 0]), slopes(ends[:, 1] - camera.eye_height)
    columns = slice(int(np.searchsorted(across, x.min())), int(np.searchsorted(across, x.max())))
    rows = slice(int(np.searchsorted(-up, -y.max())), int(np.searchsorted(-up, -y.min())))
    return rows, columns


def _capsule(eye: Floats, rays: Floats, axis: Floats, radius: float) -> tuple[Floats, Floats]:
    """First depth on rays from `eye` at which they meet the points within `radius` of the line 0 to `axis`.

    And the share of the line at which the nearest point of it lies.
    """
    length = float(axis @ axis)
    ray_axis, eye_axis = rays @ axis, float(eye @ axis)
    ray_ray, ray_eye, eye_eye = (rays * rays).sum(axis=2), rays @ eye, float(eye @ eye)
    a = length * ray_ray - ray_axis * ray_axis
    b = length * ray_eye - eye_axis * ray_axis
    c = length * (eye_eye - radius * radius) - eye_axis * eye_axis
    with np.errstate(invalid="ignore", divide="ignore"):
        depth = (-b - np.sqrt(b * b - a * c)) / a
        share = (eye_axis + depth * ray_axis) / length
        good = (share >= 0) & (share <= 1)
        found, where = np.where(good, depth, np.inf), np.where(good, share, 0.0)
        for end in (0.0, 1.0):
            offset = eye - end * axis
            half = rays @ offset
            ball = (-half - np.sqrt(half * half - ray_ray * (float(offset @ offset) - radius * radius))) / ray_ray
            closer = ball < found
            found, where = np.where(closer, ball, found), np.where(closer, end, where)
    return found, where
