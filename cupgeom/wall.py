"""One straight-sided wall of a cup, the rings it hangs between, and ranges of drop along it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most, require_finite, require_positive

LARGEST_SIZE = 10_000.0  # mm; far beyond any drink cup, so that a slipped unit is noticed


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """One level circle of the outside: its diameter and its height above the base."""

    diameter: float
    height: float

    def __post_init__(self) -> None:
        require_at_least("diameter", self.diameter, 0)
        require_at_most("diameter", self.diameter, LARGEST_SIZE)
        require_at_least("height", self.height, -LARGEST_SIZE)
        require_at_most("height", self.height, LARGEST_SIZE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A range of the wall between two drops, top < bottom."""

    top: float
    bottom: float

    def __post_init__(self) -> None:
        require_at_least("top", self.top, 0)
        require_finite("bottom", self.bottom)
        if self.bottom <= self.top:
            raise CupgeomError(
                "bottom", f"must lie below the top (drop {number(self.top)} mm), got drop {number(self.bottom)} mm"
            )

    @property
    def length(self) -> float:
        """Length along the wall."""
        return self.bottom - self.top

    def common(self, other: Span) -> Span | None:
        """The part that both ranges cover, None where there is none."""
        top, bottom = max(self.top, other.top), min(self.bottom, other.bottom)
        return Span(top=top, bottom=bottom) if bottom > top else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """One straight-sided wall of a cup: a conical frustum seen from outside.

    ::

            |<-- R -->|            R  top_radius        s  slant
            +---------+ ---        r  base_radius       h  height
            |        /   |         α  half-angle, from the axis to the wall: positive when wider at the top
            |       / s  | h
            |      /     |         cone constant k = (R − r)/s = sin α
            +-----+ -----
            |<-r->|

    Notes
    -----
    Lateral area π(R + r)s and volume πh(R² + Rr + r²)/3: Machinery's Handbook, 31st ed. (2020), p. 90.
    """

    top_radius: float
    base_radius: float
    height: float

    def __post_init__(self) -> None:
        require_at_least("top_radius", self.top_radius, 0)
        require_at_least("base_radius", self.base_radius, 0)
        require_positive("height", self.height)
        if self.top_radius == self.base_radius == 0:
            raise CupgeomError("top_radius", "both radii are 0 mm; one of them must be greater than 0 mm")

    @property
    def slant(self) -> float:
        """Length of the wall along its surface from the top edge to the base edge."""
        return math.hypot(self.height, self.top_radius - self.base_radius)

    @property
    def cone_constant(self) -> float:
        """Loss of radius per mm of drop, (R − r)/s: positive wider at the top, 0 a cylinder."""
        return (self.top_radius - self.base_radius) / self.slant

    @property
    def half_angle_rad(self) -> float:
        """Angle between the axis and the wall, positive when wider at the top."""
        return math.atan2(self.top_radius - self.base_radius, self.height)

    @property
    def straight(self) -> bool:
        """Whether the wall is a cylinder, whose flat form is a rectangle."""
        return self.top_radius == self.base_radius

    @property
    def lateral_area(self) -> float:
        """Area of the whole wall [mm²]."""
        return math.pi * (self.top_radius + self.base_radius) * self.slant

    @property
    def volume(self) -> float:
        """Volume inside the outer surface [mm³]; the cup holds less."""
        outer, inner = self.top_radius, self.base_radius
        return math.pi * self.height * (outer * outer + outer * inner + inner * inner) / 3

    @property
    def sector_angle_rad(self) -> float:
        """Angle at the apex of the flattened wall, 2π|k|; 0 for a cylinder."""
        return math.tau * abs(self.cone_constant)

    def radius_at(self, drop: float) -> float:
        """Radius of the wall at a drop counted from its own top edge."""
        return self.top_radius - self.cone_constant * drop

    def sheet_radius_at(self, drop: float) -> float | None:
        """Distance of a level line from the apex of the flattened wall, None for a cylinder (a straight line)."""
        return None if self.straight else abs(self.radius_at(drop) / self.cone_constant)

    def area_between(self, top: float, bottom: float) -> float:
        """Area between two drops of this wall [mm²]."""
        return math.pi * (self.radius_at(top) + self.radius_at(bottom)) * (bottom - top)
