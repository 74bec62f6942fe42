"""From a conical wall to the flat sheet that covers it, and back: one formula for every taper.

The flat form of a frustum is an annular sector; of a cylinder, a rectangle. Written with the apex as the centre, the
sector fails where the taper goes to 0. Written from the front point of the top edge, with one tangent, it does not::

      on the wall, seen from outside                 on the sheet, face up (k > 0)

           turn θ = 0 (front)                                   y
        _____---+---_____      top edge                         |
       |        |        |     radius R             _ . - - - - + - - - - . _ ---> x
       |        | drop   |                       .'             | drop        '.
        \\       o ρ      /                        \\             o             /
         \\      |       /                          \\  _ - - - -+- - - - _   /
          \\_____|______/     base edge              \\'                    ' /
                                                              |
       ρ = R − k·drop   radius at the drop                    |  R/k from the apex to the top edge
       k = (R − r)/s    cone constant                         |  φ = kθ  angle at the apex
                                                            apex

The point lies at distance ρ/k from the apex (0, −R/k), at the angle φ = kθ from the front line::

    x = (ρ/k) sin φ            y = (ρ/k) cos φ − R/k = −drop − (ρ/k)(1 − cos φ)

With the half angle h = kθ/2 and t = tan h, sin φ = 2t/(1 + t²) and 1 − cos φ = t sin φ, so that k leaves the
denominators::

    x = ρθ (t/h)/(1 + t²)      y = −drop − x t                     (t/h → 1 as h → 0)

Back, with q the distance from the apex times k, and tan(φ/2) = sin φ/(1 + cos φ)::

    q = hypot(kx, R + ky)      t = kx/(q + R + ky)
    θ = 2x/(q + R + ky) · atan(t)/t      drop = (R − q)/k = −(k(x² + y²) + 2Ry)/(R + q)

Both hold for k > 0 (wider at the top), k = 0 (a cylinder, x = Rθ and y = −drop) and k < 0 (wider at the base).
The formulas are our own derivation; the tests compare them with 50-digit arithmetic and with the equidistant conic
projection of map makers, which is the same map (J. P. Snyder, *Map Projections: A Working Manual*, USGS Professional
Paper 1395, 1987).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from cupgeom.cup import Wall

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Number = TypeVar("Number", float, "Floats")
BLOCK = 65_536  # points worked on at a time, so that a block's arrays stay in the processor's cache
TINY = 1e-200  # keeps from 0 an angle, where t/h and atan(t)/t are 1, and a length at the apex


class Namespace(Protocol):
    """The three functions that the maps need: the `math` module, or numpy."""

    def tan(self, x: Any, /) -> Any: ...  # noqa: D102
    def atan(self, x: Any, /) -> Any: ...  # noqa: D102
    def hypot(self, x: Any, y: Any, /) -> Any: ...  # noqa: D102


def to_sheet(wall: Wall, turn_rad: Number, drop: Number, xp: Namespace = math) -> tuple[Number, Number]:
    """Where a point of the wall comes to lie on the flat sheet.

    Parameters
    ----------
    wall
        The wall to flatten.
    turn_rad
        Angle round the axis [rad], 0 at the front, positive to the right. Beyond ±π the sheet goes on, as a tab does.
    drop
        Distance along the wall from its top edge down [mm].
    xp
        `math` for floats, numpy for arrays (which broadcast).

    Returns
    -------
    x, y
        [mm], x to the right and y up from the front point of the wall's top edge.
    """
    k = wall.cone_constant
    return _to_sheet(wall.top_radius, k, turn_rad, drop, xp)


def to_wall(wall: Wall, x: Number, y: Number, xp: Namespace = math) -> tuple[Number, Number]:
    """Where a point of the flat sheet lies on the wall: turn [rad] and drop [mm], the inverse of `to_sheet`."""
    return _to_wall(wall.top_radius, wall.cone_constant, x, y, xp)


def sheet_points(wall: Wall, turn_rad: Floats, drop: Floats) -> Floats:
    """`to_sheet` for many points: arrays of shape (n,) in, a new array (n, 2) out, in blocks that fit the cache."""
    return _blocked(_to_sheet, wall, turn_rad, drop)


def wall_points(wall: Wall, x: Floats, y: Floats) -> Floats:
    """`to_wall` for many points: arrays of shape (n,) in, a new array (n, 2) of turn [rad] and drop out."""
    return _blocked(_to_wall, wall, x, y)


def sheet_turn_rad(wall: Wall, turn_rad: float) -> float:
    """Angle by which the wall's upright direction leans on the sheet at a turn, anticlockwise positive."""
    return -wall.cone_constant * turn_rad


def _to_sheet(radius: float, k: float, turn: Any, drop: Any, xp: Namespace) -> tuple[Any, Any]:
    h = turn * (k / 2) + TINY
    t = xp.tan(h)
    x = (radius - k * drop) * turn * (t / h) / (1 + t * t)
    return x, -drop - x * t


def _to_wall(radius: float, k: float, x: Any, y: Any, xp: Namespace) -> tuple[Any, Any]:
    ahead = radius + k * y
    q = xp.hypot(k * x, ahead)
    reach = q + ahead + TINY
    t = k * x / reach + TINY
    return 2 * x / reach * (xp.atan(t) / t), -(k * (x * x + y * y) + 2 * radius * y) / (radius + q + TINY)


def _blocked(point_map: Any, wall: Wall, first: Floats, second: Floats) -> Floats:
    import numpy as np

    radius, k = wall.top_radius, wall.cone_constant
    result = np.empty((len(first), 2))
    for start in range(0, len(first), BLOCK):
        block = slice(start, start + BLOCK)
        result[block, 0], result[block, 1] = point_map(radius, k, first[block], second[block], np)
    return result
