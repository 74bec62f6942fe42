"""The finished cup as a mesh: each wall with its sheet as picture, steel where it is bare, lip, inside, handle.

A wall's places on the picture are its places on the flat sheet, so that nothing is stretched: its facets and their
images are the same quadrilaterals, but for the flattening of the round into n facets. The sheet of n facets has the
area of the sector times sin(f)/f ≈ 1 − f²/6, f = 2π|k|/n the sector's angle for one facet; n is chosen so that no more
than `_UV_LOSS` is lost.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cupgeom.errors import require_positive
from cupgeom.flatten import to_sheet
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.handle import Tube
from cupgeom.proof.light import STEEL
from cupgeom.proof.mesh import Material, Mesh, Part
from cupgeom.proof.texture import Texture, light_of

Floats = NDArray[np.float64]
FACETS = 128  # round the axis, at least
_UV_LOSS = 2e-5
MOST_PIXELS_A_SIDE = 4096  # of a picture that every graphics processor takes
_TUBE_FACETS = 20
_NO_BAND = 1e-6  # mm; a lower band is none
_STEEL = Material(name="steel", colour=STEEL, metallic=1.0, roughness=0.32)


def model(finished: FinishedCup, dpi: float = 150, *, name: str = "", notes: tuple[tuple[str, str], ...] = ()) -> Mesh:
    """The finished cup as a mesh, its pictures at `dpi` or as fine as `MOST_PIXELS_A_SIDE` allows.

    Raises
    ------
    CupgeomError
        When the resolution is not positive.
    """
    require_positive("dpi", dpi, "dots per inch")
    cup = finished.cup
    longest = max(2 * math.pi * max(wall.top_radius, wall.base_radius) + wall.slant for wall in cup.walls)
    textures = finished.textures(min(dpi, MOST_PIXELS_A_SIDE * 25.4 / (longest + 10)))
    widest = max(wall.sector_angle_rad for wall in cup.walls)
    count = 4 * math.ceil(max(FACETS, widest / math.sqrt(6 * _UV_LOSS)) / 4)
    turns = np.linspace(-math.pi, math.pi, count + 1)
    parts: list[Part] = []
    for index, texture in enumerate(textures):
        parts += _wall_parts(finished, index, texture, turns)
    rim = cup.rings[0].diameter / 2
    if finished.opening > 0:
        parts.append(_lip(rim, finished.opening, cup.height, turns))
        for index, ends in enumerate(pairwise(finished.inside), start=1):
            parts.append(_band(f"inside {index}", _STEEL, turns, ends, outward=False))
        parts += _disc("floor", _STEEL, turns, *finished.inside[-1], up=True)
    else:
        parts += _disc("lid", _STEEL, turns, rim, cup.height, up=True)
    coat = Material(name="base coat", colour=light_of(finished.base), roughness=0.35, resin=True)
    under = coat if cup.base_coated else _STEEL
    parts += _disc("underside", under, turns, cup.rings[-1].diameter / 2, 0.0, up=False)
    if finished.handle is not None:
        parts.append(_tube_part(finished.handle))
    return Mesh(name=name or cup.name or "cup", parts=tuple(parts), notes=notes)


def _wall_parts(finished: FinishedCup, index: int, texture: Texture, turns: Floats) -> list[Part]:
    """A wall as up to three bands: bare above, coated with its picture, bare below."""
    cup, wall = finished.cup, finished.cup.walls[index]
    start, span = cup.wall_tops[index], cup.coated_span
    high, fall = cup.rings[index].height - cup.rings[-1].height, math.cos(wall.half_angle_rad)
    first, last = (min(max(level - start, 0.0), wall.slant) for level in (span.top, span.bottom))
    material = Material(name=f"wrap {index + 1}", roughness=0.35, resin=True, picture=texture.picture)
    parts = []
    for top, bottom, coated in ((0.0, first, False), (first, last, True), (last, wall.slant, False)):
        if bottom - top < _NO_BAND:
            continue
        ends = tuple((max(0.0, wall.radius_at(drop)), max(0.0, high - drop * fall)) for drop in (top, bottom))
        places = None
        if coated:
            sheet = [to_sheet(wall, turns, np.full_like(turns, drop), np) for drop in (top, bottom)]
            places = np.concatenate([np.stack(texture.pixel_places(x, y), axis=1) for x, y in sheet])
            places /= (texture.picture.columns, texture.picture.rows)
        name = f"wall {index + 1}" if coated else f"bare band {index + 1}"
        parts.append(_band(name, material if coated else _STEEL, turns, (ends[0], ends[1]), places=places))
    return parts


def _band(
    name: str,
    material: Material,
    turns: Floats,
    ends: tuple[tuple[float, float], tuple[float, float]],
    *,
    outward: bool = True,
    places: Floats | None = None,
) -> Part:
    """A ring of quadrilaterals between two circles of (radius, height), seen from outside or from inside."""
    (top, high), (bottom, low) = ends
    growth, side = (top - bottom) / (high - low), 1.0 if outward else -1.0
    points = np.concatenate([_circle(turns, top, high), _circle(turns, bottom, low)])
    slope = side * np.array([1.0, -growth]) / math.hypot(1.0, growth)
    normals = np.tile(_circle(turns, slope[0], slope[1]), (2, 1))
    left = np.arange(len(turns) - 1)
    right, under, beyond = left + 1, left + len(turns), left + len(turns) + 1
    faces = []
    if bottom > 0:
        faces.append(np.stack([left, under, beyond], axis=1))
    if top > 0:
        faces.append(np.stack([left, beyond, right], axis=1))
    corners = np.concatenate(faces)
    return _part(name, material, points, normals, corners if outward else corners[:, ::-1], places)


def _lip(outer: float, inner: float, height: float, turns: Floats) -> Part:
    """The top edge, flat."""
    points = np.concatenate([_circle(turns, outer, height), _circle(turns, inner, height)])
    here = np.arange(len(turns) - 1)
    there, within = here + 1, here + len(turns)
    faces = np.concatenate([np.stack([here, there, within + 1], axis=1), np.stack([here, within + 1, within], axis=1)])
    return _part("lip", _STEEL, points, np.tile([0.0, 1.0, 0.0], (len(points), 1)), faces)


def _disc(name: str, material: Material, turns: Floats, radius: float, height: float, *, up: bool) -> list[Part]:
    """A level disc; nothing where the radius is 0."""
    if not radius > 0:
        return []
    points = np.concatenate([_circle(turns, radius, height), [[0.0, height, 0.0]]])
    here = np.arange(len(turns) - 1)
    faces = np.stack([np.full_like(here, len(turns)), here, here + 1], axis=1)
    normals = np.tile([0.0, 1.0 if up else -1.0, 0.0], (len(points), 1))
    return [_part(name, material, points, normals, faces if up else faces[:, ::-1])]


def _tube_part(tube: Tube) -> Part:
    """The handle; its ends lie in the wall and stay open."""
    around = np.linspace(0, math.tau, _TUBE_FACETS + 1)
    across = np.array([1.0, 0.0, 0.0])
    aside = np.cross(across, tube.tangents)[:, None, :]
    cos, sin = np.cos(around)[None, :, None], np.sin(around)[None, :, None]
    points = tube.centres[:, None, :] + tube.radius * cos * aside + tube.half_width * sin * across
    normals = cos / tube.radius * aside + sin / tube.half_width * across
    normals /= np.linalg.norm(normals, axis=2, keepdims=True)
    rows, columns = len(tube.centres), len(around)
    here = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    faces = np.concatenate(
        [
            np.stack([here, here + 1, here + columns + 1], axis=1),
            np.stack([here, here + columns + 1, here + columns], axis=1),
        ]
    )
    return _part("handle", _STEEL, points.reshape(-1, 3), normals.reshape(-1, 3), faces)


def _circle(turns: Floats, radius: float, height: float) -> Floats:
    return np.stack([radius * np.sin(turns), np.full_like(turns, height), radius * np.cos(turns)], axis=1)


def _part(
    name: str,
    material: Material,
    points: Floats,
    normals: Floats,
    faces: NDArray[np.intp],
    places: Floats | None = None,
) -> Part:
    return Part(
        name=name,
        material=material,
        points=(points + 0.0).astype("<f4").tobytes(),
        directions=(normals + 0.0).astype("<f4").tobytes(),
        places=b"" if places is None else places.astype("<f4").tobytes(),
        faces=np.ascontiguousarray(faces).astype("<u4").tobytes(),
    )
