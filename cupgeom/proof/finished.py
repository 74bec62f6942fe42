"""The finished cup: what stands before the customer."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cupgeom.cup import Cup
from cupgeom.drawing import Colour
from cupgeom.drawing.paint import require_colour
from cupgeom.errors import CupgeomError, number, require_positive
from cupgeom.proof.handle import Tube, tube
from cupgeom.proof.layer import Laid
from cupgeom.proof.texture import Texture, textured

LIP = 1.6  # mm, thickness of the lip of a steel cup; assumed, and only looks depend on it


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedCup:
    """A cup with everything that lies on it.

    Parameters
    ----------
    cup
        As its outside is in the end, coats included.
    base
        Colour of the coated wall under all layers.
    layers
        From the inside out.
    lip
        Thickness of the top edge [mm]; the inside is the outside moved inward by it.

    Raises
    ------
    CupgeomError
        When a layer names a wall that the cup does not have.
    """

    cup: Cup
    base: Colour = (1.0, 1.0, 1.0)
    layers: tuple[Laid, ...] = ()
    lip: float = LIP

    def __post_init__(self) -> None:
        require_colour("base", self.base)
        require_positive("lip", self.lip)
        for index, laid in enumerate(self.layers):
            if laid.wall_index >= len(self.cup.walls):
                what = f"must be less than the cup's {len(self.cup.walls)} walls, got {laid.wall_index}"
                raise CupgeomError(f"layers[{index}].wall_index", what)

    def textures(self, dpi: float) -> tuple[Texture, ...]:
        """What each wall shows, from the top down.

        Raises
        ------
        CupgeomError
            When the resolution is not positive or asks for more than 100 million pixels.
        """
        return tuple(
            textured(wall, self.base, tuple(laid for laid in self.layers if laid.wall_index == index), dpi)
            for index, wall in enumerate(self.cup.walls)
        )

    @property
    def handle(self) -> Tube | None:
        """The handle as a tube, None for a cup without one."""
        return tube(self.cup)

    @property
    def opening(self) -> float:
        """Radius of the opening, 0 for a cup that is closed at the top."""
        return max(0.0, self.cup.rings[0].diameter / 2 - self.lip)

    @property
    def inside(self) -> tuple[tuple[float, float], ...]:
        """Radius and height of the inside from the top edge to its floor, above the base ring."""
        base = self.cup.rings[-1].height
        rings = [(max(0.0, ring.diameter / 2 - self.lip), ring.height - base) for ring in self.cup.rings]
        floor = min(2 * self.lip, self.cup.height / 2)
        kept = [ring for ring in rings if ring[1] > floor]
        above, below = kept[-1], rings[len(kept)]
        share = (above[1] - floor) / (above[1] - below[1])
        return (*kept, (above[0] + (below[0] - above[0]) * share, floor))

    def extent(self) -> tuple[float, float]:
        """Largest distance of any part from the axis, and the height."""
        reach = max(ring.diameter for ring in self.cup.rings) / 2
        handle = self.handle
        if handle is not None:
            reach = max(reach, float(np.abs(handle.centres[:, 2]).max()) + handle.radius)
        return reach, self.cup.height

    def eye_distance(self, least: float) -> float:
        """Distance of an eye from the axis that sees the cup whole: `least`, farther for a very large cup."""
        return max(least, 2.5 * math.hypot(*self.extent()))

    def caption(self) -> str:
        """Sizes in one line."""
        rim, base = (number(round(ring.diameter, 1)) for ring in (self.cup.rings[0], self.cup.rings[-1]))
        return f"finished: rim {rim} mm · base {base} mm · height {number(round(self.cup.height, 1))} mm"
