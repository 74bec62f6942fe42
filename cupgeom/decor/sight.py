"""How much of a decal can be seen, how big it can be, and how small its letters may get.

The eye stands `EYE_DISTANCE` from the axis, at the height of the decal's centre. A point of the wall is seen where the
wall's outward normal looks toward the eye. With E the distance, ρ₀ the radius at the eye's height, α the half-angle::

    outward normal (cos α sin θ, cos α cos θ, −sin α)      point (ρ sin θ, ρ cos θ, z)      eye (0, E, z₀)
    seen where   E cos θ > ρ + (z₀ − z) tan α = ρ₀

since ρ = ρ₀ + (z − z₀) tan α. The limit is therefore the same turn at every height: cos θ = ρ₀/E.
"""

from __future__ import annotations

import math

from cupgeom.errors import CupgeomError, number

EYE_DISTANCE = 500.0  # mm from the axis: a cup held to be read
# Height of letters as the angle it fills at the eye: US NRC NUREG-0700 rev. 2, 1.3.1-4
LEAST_LETTER_ARCMIN, GOOD_LETTER_ARCMIN = 16.0, 20.0


def visible_half_angle_rad(radius: float, eye_distance: float = EYE_DISTANCE) -> float:
    """Largest turn from the eye at which a wall is still seen, by its radius at the eye's height.

    Raises
    ------
    CupgeomError
        When the eye would be inside the cup.
    """
    if radius >= eye_distance:
        raise CupgeomError(
            "eye_distance", f"must be more than the cup's radius of {number(radius)} mm, got {number(eye_distance)} mm"
        )
    return math.acos(radius / eye_distance)


def widest_in_sight(radius: float, eye_distance: float = EYE_DISTANCE) -> float:
    """Widest decal that is seen whole from straight before it [mm along the wall], by the radius of the cup there."""
    return 2 * visible_half_angle_rad(radius, eye_distance) * radius


def letter_height(arcmin: float, eye_distance: float = EYE_DISTANCE) -> float:
    """Height of letters that fills an angle at the eye [mm]."""
    return 2 * eye_distance * math.tan(math.radians(arcmin / 60) / 2)


def share_in_sight(left_rad: float, right_rad: float, limit_rad: float) -> float:
    """Share of a range of turns that lies within ±limit of the front."""
    seen = min(right_rad, limit_rad) - max(left_rad, -limit_rad)
    return max(0.0, seen) / (right_rad - left_rad) if right_rad > left_rad else 0.0
