"""A mesh: parts of triangles with normals, some with a picture on them. It knows no cup and no file format."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cupgeom.drawing import Colour, Picture
from cupgeom.drawing.paint import require_colour, require_share
from cupgeom.errors import CupgeomError

Floats = NDArray[np.float32]
Corners = NDArray[np.uint32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """How a surface looks: its colour (times the picture's), how much a metal, how rough, whether under clear resin."""

    name: str
    colour: Colour = (1.0, 1.0, 1.0)
    metallic: float = 0.0
    roughness: float = 0.5
    resin: bool = False
    picture: Picture | None = None

    def __post_init__(self) -> None:
        require_colour("material.colour", self.colour)
        require_share("material.metallic", self.metallic)
        require_share("material.roughness", self.roughness)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Triangles of one material, anticlockwise as seen from outside.

    The axis is upright: x to the right of someone who looks at the front, y up from the base, z toward them; mm.

    Attributes
    ----------
    points, directions
        Float32 as bytes, three a corner: places, and normals of length 1.
    places
        Float32 as bytes, two a corner: where on the picture, from its top left corner (0, 0) to its bottom right
        (1, 1); empty where there is no picture.
    faces
        Uint32 as bytes, three a triangle: its corners.
    """

    name: str
    material: Material
    points: bytes = field(repr=False)
    directions: bytes = field(repr=False)
    places: bytes = field(default=b"", repr=False)
    faces: bytes = field(repr=False)

    def __post_init__(self) -> None:
        count = len(self.points) // 12
        if not count or len(self.points) != 12 * count or len(self.directions) != 12 * count:
            raise CupgeomError("part.points", "must be three float32 a corner, with as many directions")
        if len(self.places) != (8 * count if self.material.picture else 0):
            raise CupgeomError("part.places", "must be two float32 a corner with a picture, none without")
        if not self.faces or len(self.faces) % 12 or int(self.triangles.max()) >= count:
            raise CupgeomError("part.faces", f"must be three uint32 a triangle, each less than the {count} corners")
        if not (np.isfinite(self.positions).all() and np.isfinite(self.normals).all() and np.isfinite(self.uvs).all()):
            raise CupgeomError("part.points", "must be finite numbers, and so must directions and places")

    @property
    def positions(self) -> Floats:
        """The points, shape (n, 3) [mm]."""
        return np.frombuffer(self.points, np.float32).reshape(-1, 3)

    @property
    def normals(self) -> Floats:
        """The directions, shape (n, 3)."""
        return np.frombuffer(self.directions, np.float32).reshape(-1, 3)

    @property
    def uvs(self) -> Floats:
        """The places, shape (n, 2) or (0, 2)."""
        return np.frombuffer(self.places, np.float32).reshape(-1, 2)

    @property
    def triangles(self) -> Corners:
        """The faces, shape (m, 3)."""
        return np.frombuffer(self.faces, np.uint32).reshape(-1, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """Parts that make one thing, its name, and what else is to be known of it (keys and short texts)."""

    name: str
    parts: tuple[Part, ...]
    notes: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if not self.parts:
            raise CupgeomError("parts", "a mesh needs at least one part")

    @property
    def bounds(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Least and largest x, y and z [mm]."""
        corners = np.concatenate([part.positions for part in self.parts])
        return tuple(map(float, corners.min(axis=0))), tuple(map(float, corners.max(axis=0)))
