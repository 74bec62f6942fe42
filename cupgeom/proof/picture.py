"""A lit picture of the finished cup: one ray for each quarter of a pixel, met with cones, in numpy.

In the eye's frame a ray is (a t, e + b t, D − t), t its depth, a and b its slopes, e the eye's height, D its distance.
A wall of radius c + m (y − e) has, with s = m b, the radius c + s t where the ray is at t, so that x² + z² = radius²
reads::

    A t² − 2 B t + C = 0     A = a² + 1 − s²     B = D + c s     C = D² − c²

Of its two roots (B ∓ √(B² − AC))/A the first meets the wall from outside, whatever the signs, the second from inside.
The first is written C/(B + √…), which loses no digits where A is small.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cupgeom.drawing import Affine, Picture
from cupgeom.proof import light
from cupgeom.proof.camera import SHADOW_REACH, Camera
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.texture import Texture, encoded
from cupgeom.proof.tube_rays import met_tube

Floats = NDArray[np.float64]
Shares = NDArray[np.float32]
Kinds = NDArray[np.int16]
Places = NDArray[np.intp]
FINER = 2  # rays along each side of a pixel, whose four are averaged
_STRIP = 32  # rows of pixels worked on at a time
_NOTHING, _LIP, _FLOOR, _TUBE, _INNER, _OUTER = -1, 0, 1, 2, 16, 4096  # what a ray meets; walls count on from the last


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """A block of rays: slopes across (columns,) and up (rows, 1)."""

    across: Floats
    up: Floats
    camera: Camera

    def points(self, depth: Floats, at: tuple[Places, Places]) -> tuple[Shares, Shares, Shares]:
        """Where chosen rays are at their depths, in the eye's frame."""
        x, y = self.across[at[1]] * depth, self.camera.eye_height + self.up[at[0], 0] * depth
        return x.astype(np.float32), y.astype(np.float32), (self.camera.distance - depth).astype(np.float32)


@dataclass(frozen=True, slots=True)
class _Cone:
    """A wall between two heights above the base ring: radius at the lower one, and its growth with height."""

    low: float
    high: float
    foot_radius: float
    growth: float

    def met(self, rays: _Rays, *, inside: bool) -> Floats:
        """Depth at which each ray meets the wall from outside, or from inside; infinite where it does not."""
        camera = rays.camera
        c = self.foot_radius + self.growth * (camera.eye_height - self.low)
        s = self.growth * rays.up
        aa = rays.across**2 + (1 - s * s)
        bb = camera.distance + c * s
        cc = camera.distance**2 - c * c
        root = bb * bb - aa * cc
        with np.errstate(invalid="ignore", divide="ignore"):
            root = np.sqrt(root)
            depth = (bb + root) / aa if inside else cc / (bb + root)
            level = camera.eye_height + rays.up * depth
            good = (depth > 0) & (level >= self.low) & (level <= self.high) & (c + s * depth >= 0)
        return np.where(good, depth, np.inf)


def picture(finished: FinishedCup, textures: tuple[Texture, ...], camera: Camera) -> Picture:
    """The finished cup as its customer sees it, on nothing but its own shadow.

    Parameters
    ----------
    finished, textures
        The cup, and what its walls show (`FinishedCup.textures`); about as fine as the picture, or finer.
    camera
        From where, and how large.

    Returns
    -------
    Picture
        One pixel a unit of its place; transparent round the cup.
    """
    scene = _Scene(finished, textures, camera)
    strips = []
    for top in range(0, camera.rows, _STRIP):
        strips.append(scene.strip(top, min(_STRIP, camera.rows - top)))
    place = Affine.scale(float(camera.columns), float(camera.rows))
    return Picture(pixels=b"".join(strips), columns=camera.columns, rows=camera.rows, place=place)


class _Scene:
    """Everything a ray can meet."""

    def __init__(self, finished: FinishedCup, textures: tuple[Texture, ...], camera: Camera) -> None:
        self.finished, self.textures, self.camera = finished, textures, camera
        base = finished.cup.rings[-1].height
        rings = tuple((ring.diameter / 2, ring.height - base) for ring in finished.cup.rings)
        self.walls, self.inner = _cones(rings), _cones(finished.inside)
        self.rim, self.opening, self.height = rings[0][0], finished.opening, rings[0][1]
        self.foot = max(rings[-1][0], 1e-3 * self.height)
        widest = max(radius for radius, _ in rings)
        self.widest = widest / math.sqrt(camera.distance**2 - widest**2)
        self.tube = finished.handle
        span = finished.cup.coated_span
        self.coated = (span.top, span.bottom)

    def strip(self, top: int, rows: int) -> bytes:
        """Some rows of the picture as red, green, blue, alpha."""
        camera = self.camera
        columns = (np.arange(camera.columns * FINER) + 0.5) / FINER
        lines = (np.arange(rows * FINER) + 0.5) / FINER + top
        rays = _Rays(
            (columns - camera.centre[0]) / camera.focal, ((camera.centre[1] - lines) / camera.focal)[:, None], camera
        )
        depth, kind, normals = self._met(rays)
        seen = np.zeros((depth.size, 4), np.float32)
        seen[:, 3] = (kind != _NOTHING).ravel()
        for met in np.flatnonzero(np.bincount(kind.ravel() - _NOTHING)) + _NOTHING:
            found = np.flatnonzero(kind == met)
            at = (found // depth.shape[1], found % depth.shape[1])
            if met == _NOTHING:
                self._shade(seen, rays, found, at)
            else:
                seen[found, :3] = self._coloured(int(met), rays, depth.ravel()[found], at, normals)
        seen = seen.reshape(*depth.shape, 4)
        mean = (seen[::2, ::2] + seen[::2, 1::2] + seen[1::2, ::2] + seen[1::2, 1::2]) * np.float32(0.25)
        alpha = mean[:, :, 3:]
        colour = encoded(mean[:, :, :3] / np.maximum(alpha, np.float32(1e-6)))
        return np.concatenate([colour, (alpha * 255 + 0.5).astype(np.uint8)], axis=2).tobytes()

    def _met(self, rays: _Rays) -> tuple[Floats, Kinds, Floats]:
        """Depth of the nearest thing on each ray, what it is, and the tube's normals where that is the tube."""
        depth = np.full((len(rays.up), len(rays.across)), np.inf)
        kind = np.full(depth.shape, _NOTHING, np.int16)
        normals = np.zeros((0, 3))
        left, right = np.searchsorted(rays.across, (-self.widest, self.widest))
        block, where = replace(rays, across=rays.across[left:right]), np.s_[:, left:right]
        for index, wall in enumerate(self.walls):
            if _reaches(wall, rays):
                _nearer(depth[where], kind[where], wall.met(block, inside=False), _OUTER + index)
        self._meet_top(block, depth[where], kind[where])
        if self.tube is not None:
            found, normals = met_tube(self.tube, rays.across, rays.up[:, 0], self.camera)
            _nearer(depth, kind, found, _TUBE)
            normals = normals[kind == _TUBE]
        return depth, kind, normals

    def _meet_top(self, rays: _Rays, depth: Floats, kind: Kinds) -> None:
        """The lip, and through the opening the inside."""
        plane = _level(rays, self.height)
        if not (np.abs(plane - self.camera.distance) <= self.rim).any():
            return
        aside = np.hypot(rays.across * plane, self.camera.distance - plane)
        _nearer(depth, kind, np.where((aside <= self.rim) & (aside > self.opening), plane, np.inf), _LIP)
        through = aside <= self.opening
        if not through.any():
            return
        nearest, what = np.full(depth.shape, np.inf), np.full(depth.shape, _NOTHING, np.int16)
        for index, wall in enumerate(self.inner):
            _nearer(nearest, what, np.where(through, wall.met(rays, inside=True), np.inf), _INNER + index)
        _nearer(nearest, what, np.where(through, _level(rays, self.inner[-1].low), np.inf), _FLOOR)
        visible = through & (plane < depth)
        depth[visible], kind[visible] = nearest[visible], what[visible]

    def _coloured(self, met: int, rays: _Rays, depth: Floats, at: tuple[Places, Places], normals: Floats) -> Shares:
        """Light that comes from what rays meet at their depths, shape (n, 3)."""
        x, y, z = rays.points(depth, at)
        ray = _unit(rays.across[at[1]], rays.up[at[0], 0], -1.0)
        if met == _TUBE:
            return light.steel(normals.astype(np.float32), ray)
        aside = np.maximum(np.hypot(x, z), np.float32(1e-6))
        if met == _LIP:
            middle, half = (self.rim + self.opening) / 2, (self.rim - self.opening) / 2
            lean = 0.9 * (aside - middle) / half
            return light.steel(_unit(lean * x / aside, 1.0, lean * z / aside), ray)
        if met == _FLOOR:
            return self._inside(np.tile(np.array([0.0, 1.0, 0.0], np.float32), (len(x), 1)), ray, y)
        wall = self.walls[met - _OUTER] if met >= _OUTER else self.inner[met - _INNER]
        normal = _unit(x / aside, -wall.growth, z / aside)
        if met < _OUTER:
            return self._inside(-normal, ray, y)
        return self._outside(met - _OUTER, normal, ray, (x, y, z))

    def _outside(self, index: int, normal: Shares, ray: Shares, point: tuple[Shares, Shares, Shares]) -> Shares:
        """The wall: resin where it is coated, steel where it is bare."""
        x, y, z = point
        wall, start = self.finished.cup.walls[index], self.finished.cup.wall_tops[index]
        drop = (self.walls[index].high - y) / math.cos(wall.half_angle_rad)
        turn = np.arctan2(x, z) + math.radians(self.camera.turn_deg)
        turn -= math.tau * np.round(turn / math.tau)
        coated = (drop + start >= self.coated[0]) & (drop + start <= self.coated[1])
        colour = self.textures[index].light_at(turn.astype(float), drop.astype(float))
        found = light.resin(colour, normal, ray)
        if not coated.all():
            found[~coated] = light.steel(normal[~coated], ray[~coated])
        found *= (0.78 + 0.22 * np.clip(y / 14, 0, 1))[:, None]  # darker near the ground
        return found

    def _inside(self, normal: Shares, ray: Shares, y: Shares) -> Shares:
        """Plain steel, darker the deeper it lies."""
        shade = (0.16 + 0.62 * np.exp((y - self.height) / (0.9 * self.opening))).astype(np.float32)
        return light.steel(normal, ray, shade)

    def _shade(self, seen: Shares, rays: _Rays, found: Places, at: tuple[Places, Places]) -> None:
        """Darken the ground: close under the cup, and softly to the right, away from the window."""
        ground = _level(rays, 0.0)
        foot = self.foot
        if not (np.abs(self.camera.distance - ground) < SHADOW_REACH * foot).any():
            return
        depth = ground[at[0], 0]
        x, z = rays.across[at[1]] * depth, self.camera.distance - depth
        near = np.flatnonzero(x * x + z * z < (SHADOW_REACH * foot) ** 2)
        x, z = x[near], z[near]
        close = 0.52 * np.exp(-np.maximum(np.hypot(x, z) - foot, 0) / (0.06 * foot))
        away = np.maximum(np.hypot((x - 0.22 * foot) / 1.12, z + 0.10 * foot) - 0.80 * foot, 0)
        soft = 0.30 * np.exp(-((away / (0.34 * foot)) ** 2))
        seen[found[near], 3] = 1 - (1 - close) * (1 - soft)


def _cones(rings: tuple[tuple[float, float], ...]) -> tuple[_Cone, ...]:
    return tuple(_Cone(low, high, foot, (top - foot) / (high - low)) for (top, high), (foot, low) in pairwise(rings))


def _level(rays: _Rays, height: float) -> Floats:
    """Depth at which rays come down to a height, shape (rows, 1); far away where they do not."""
    return np.asarray((height - rays.camera.eye_height) / np.minimum(rays.up, -1e-6))


def _reaches(wall: _Cone, rays: _Rays) -> bool:
    """Whether any of a strip's rays can meet a wall: whether they pass its heights within its distances."""
    radius = max(wall.foot_radius, wall.foot_radius + wall.growth * (wall.high - wall.low))
    camera = rays.camera
    slopes = [
        (level - camera.eye_height) / (camera.distance + side)
        for level in (wall.low, wall.high)
        for side in (-radius, radius)
    ]
    return bool(rays.up.min() <= max(slopes) and rays.up.max() >= min(slopes))


def _nearer(depth: Floats, kind: Kinds, found: Floats, what: int) -> None:
    """Keep what is nearer."""
    nearer = found < depth
    depth[nearer], kind[nearer] = found[nearer], what


def _unit(x: Shares | Floats, y: Shares | Floats | float, z: Shares | Floats | float) -> Shares:
    """Vectors of length 1, shape (n, 3)."""
    vectors = np.empty((len(x), 3), np.float32)
    vectors[:, 0], vectors[:, 1], vectors[:, 2] = x, y, z
    vectors /= np.sqrt(np.einsum("ij,ij->i", vectors, vectors))[:, None]
    return vectors
