"""Where a decal lies on the wall and how it is bent: the map from the flat design to the sheet.

A design has its own plane, u to the right and v up from the centre of its box, in mm. It goes onto the wall of a cup,
and with the wall onto the sheet::

       design                    wall                                sheet
       v ^                       turn = turn₀ + u/ρ_true             `flatten.to_sheet`
         |   . (u, v)            drop = drop₀ − v                         (level)
         +-----> u               drop = drop₀ − (ρ₀/k) expm1(k v/ρ₀)      (even)

*level*: a straight baseline keeps its drop all along, so that it reads level; widths are true at one height.
*even*: conformal, the scale is the same in all directions at every point, so that circles stay round.
*flat*: no bend. The decal is laid down as it is and touches along the generator through its centre; since the sheet is
the wall unrolled, it is a rigid motion there.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from cupgeom.drawing import Affine
from cupgeom.errors import CupgeomError, number, require_finite, require_positive
from cupgeom.flatten import TINY, sheet_turn_rad, to_sheet, to_wall
from cupgeom.wall import Wall

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.complex128]
    Numbers = NDArray[np.float64]

Bend = Literal["level", "even", "flat"]
BENDS: tuple[Bend, ...] = ("level", "even", "flat")


def moved_round(wall: Wall, turn_rad: float) -> Affine:
    """Map of the sheet that moves everything on the wall round by a turn: a rotation about the apex, or a shift.

    It takes the front point of the top edge, the sheet's origin, to where that edge is at the turn.
    """
    turned = Affine.rotation(math.degrees(sheet_turn_rad(wall, turn_rad)))
    return Affine.move(complex(*to_sheet(wall, turn_rad, 0.0))) @ turned


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A design's place on one wall.

    Parameters
    ----------
    wall
        The wall that it lies on.
    turn_deg, drop
        Of the design's centre; the drop is counted from the wall's own top edge.
    bend
        ``level``, ``even`` or ``flat``.
    rotate_deg
        Turn of the design about its centre before it is bent, anticlockwise as seen from outside.
    true_drop
        Drop at which *level* keeps widths true; the centre's unless said otherwise.
    reference_radius
        Radius of the cup where widths are true, for a piece whose design has its centre on another wall. Turns are then
        counted with it, and *even* keeps its one scale at every point across the ring.

    Raises
    ------
    CupgeomError
        When the centre is not on the wall.
    """

    wall: Wall
    turn_deg: float
    drop: float
    bend: Bend = "level"
    rotate_deg: float = 0.0
    true_drop: float | None = None
    reference_radius: float | None = None

    def __post_init__(self) -> None:
        if self.bend not in BENDS:
            raise CupgeomError("bend", f"must be one of {', '.join(BENDS)}, got {self.bend!r}")
        for where in ("turn_deg", "rotate_deg"):
            require_finite(where, getattr(self, where), "degrees")
        for where, drop in (("drop", self.drop), ("true_drop", self.true_radius_drop)):
            require_finite(where, drop)
            if not self.wall.radius_at(drop) > 0:
                raise CupgeomError(where, f"lies beyond the point of the wall, at drop {number(drop)} mm")
        if self.reference_radius is not None:
            require_positive("reference_radius", self.reference_radius)

    @property
    def true_radius_drop(self) -> float:
        """Drop at which widths are true."""
        return self.drop if self.true_drop is None or self.bend != "level" else self.true_drop

    @property
    def true_radius(self) -> float:
        """Radius of the cup where widths are true."""
        return self.reference_radius or self.wall.radius_at(self.true_radius_drop)

    @property
    def turn_rad(self) -> float:
        """Turn of the centre."""
        return math.radians(self.turn_deg)

    def to_turn_and_drop(self, design: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Turn [rad] and drop of points of the design, for the bends that follow the wall; shape kept."""
        turned = design * cmath.exp(1j * math.radians(self.rotate_deg))
        return self.turn_rad + turned.real / self.true_radius, self.drop + self._drop_below(turned.imag)

    def to_sheet(self, design: Points) -> Points:
        """Points of the design on the sheet, complex in and out, shape kept."""
        import numpy as np

        if self.bend == "flat":
            return self.flat_origin + design * self.flat_direction
        turn, drop = self.to_turn_and_drop(design)
        x, y = to_sheet(self.wall, turn, drop, np)
        return np.asarray(x + 1j * y)

    def from_sheet(self, sheet: Points) -> Points:
        """Points of the sheet in the design, the inverse of `to_sheet`."""
        import numpy as np

        back = cmath.exp(-1j * math.radians(self.rotate_deg))
        if self.bend == "flat":
            return np.asarray((sheet - self.flat_origin) / self.flat_direction)
        turn, drop = to_wall(self.wall, sheet.real, sheet.imag, np)
        k, centre, true = self.wall.cone_constant, self.wall.radius_at(self.drop), self.true_radius
        below = drop - self.drop
        if self.bend == "level":
            up = -below
        else:
            up = -below * (true / centre) if k == 0 else true / k * np.log1p(-k * below / centre)
        return np.asarray(((turn - self.turn_rad) * self.true_radius + 1j * up) * back)

    def traced(self, u: Numbers, v: Numbers, du: Numbers, dv: Numbers) -> tuple[Numbers, Numbers, Numbers, Numbers]:
        """Points (u, v) of the design on the sheet, and what small steps (du, dv) at them become: map and derivative.

        Along the turn the sheet moves by ρ dθ to the right of the local upright, along the drop by dw downward. That
        right is the direction −kθ, whose cosine and sine follow from the tangent t that the map needs anyway:
        2/(1 + t²) − 1 and −2t/(1 + t²). For *level* and *even*; a *flat* design moves as it is.
        """
        import numpy as np

        if self.rotate_deg:
            cos, sin = math.cos(math.radians(self.rotate_deg)), math.sin(math.radians(self.rotate_deg))
            u, v = u * cos - v * sin, u * sin + v * cos
            du, dv = du * cos - dv * sin, du * sin + dv * cos
        k, true = self.wall.cone_constant, self.true_radius
        turn, drop = u / true + self.turn_rad, self._drop_below(v) + self.drop
        radius = self.wall.top_radius - k * drop
        half = turn * (k / 2) + TINY
        t = np.tan(half)
        across = 1 / (t * t + 1)
        x = t / half
        x *= turn
        x *= radius
        x *= across
        y = -drop
        y -= x * t
        cosine, sine = 2 * across - 1, t * across * -2
        stretch = radius / true
        right, up = du * stretch, dv * stretch if self.bend == "even" else dv
        return x, y, right * cosine - up * sine, right * sine + up * cosine

    def _drop_below(self, up: NDArray[np.float64]) -> NDArray[np.float64]:
        """Drop below the centre of points `up` above it in the design.

        *even*: dw/dv = −ρ/ρ_true with ρ = ρ₀ − k w gives w = −(ρ₀/k) expm1(k v/ρ_true); at k = 0 it is −v ρ₀/ρ_true.
        *level*: always −v.
        """
        import numpy as np

        k, centre, true = self.wall.cone_constant, self.wall.radius_at(self.drop), self.true_radius
        if self.bend == "level":
            return -up
        if k == 0:
            return -up * (centre / true)
        return np.asarray(-(centre / k) * np.expm1(k * up / true))

    @property
    def flat_origin(self) -> complex:
        """Where the centre of a *flat* design lies on the sheet."""
        return complex(*to_sheet(self.wall, self.turn_rad, self.drop))

    @property
    def flat_direction(self) -> complex:
        """Direction on the sheet of a *flat* design's right, length 1."""
        return cmath.exp(1j * (sheet_turn_rad(self.wall, self.turn_rad) + math.radians(self.rotate_deg)))
