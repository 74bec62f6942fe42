"""The cup itself: rings from the top edge to the base, the walls between them, the handle, what is coated.

Every length is in mm, every area in mm². A *drop* is counted along the wall from the top edge down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import pairwise

from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most, require_positive, within
from cupgeom.wall import LARGEST_SIZE, Ring, Span, Wall

__all__ = ["LARGEST_SIZE", "Cup", "Foot", "Handle", "Ring", "Span", "Wall"]


_STRAIGHT = 1e-9  # mm; an inner ring this near the line between its neighbours is no corner


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """Where a handle meets the wall: a width centred on the back, between two drops."""

    width: float
    top: float
    bottom: float

    def __post_init__(self) -> None:
        require_positive("width", self.width)
        Span(top=self.top, bottom=self.bottom)

    @property
    def span(self) -> Span:
        """The drops that the foot covers."""
        return Span(top=self.top, bottom=self.bottom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A handle at the back: one foot or several (the wall under its arch is free), or removable (all is free)."""

    feet: tuple[Foot, ...]
    clearance: float = 3.0
    removable: bool = False

    def __post_init__(self) -> None:
        if not self.feet:
            raise CupgeomError("feet", "a handle needs at least one foot")
        require_at_least("clearance", self.clearance, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cup:
    """A cup as seen from outside: rings from the top edge to the base.

    Parameters
    ----------
    rings
        At least two, each below the one before it. A ring that lies on the straight line between its neighbours is no
        corner of the wall and is left out.
    name
        What the maker calls it; stands in captions.
    handle
        None for a cup without one. It sits at the back, turn 180°.
    bare_lip
        Drop down to which the lip stays bare: nothing is coated or printed there.
    coated
        Where resin goes. Default: from the bare lip to the base edge.
    base_coated
        Whether the underside gets resin too.

    Raises
    ------
    CupgeomError
        Naming the field, such as ``rings[1].height``, when the rings do not make a cup.
    """

    rings: tuple[Ring, ...]
    name: str = ""
    handle: Handle | None = None
    bare_lip: float = 0.0
    coated: Span | None = None
    base_coated: bool = False
    walls: tuple[Wall, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if len(self.rings) < 2:
            raise CupgeomError("rings", f"a cup needs at least two rings, got {len(self.rings)}")
        for index in range(1, len(self.rings)):
            above, ring = self.rings[index - 1], self.rings[index]
            if not ring.height < above.height:
                raise CupgeomError(
                    f"rings[{index}].height",
                    f"must be below the ring before it (at {number(above.height)} mm), got {number(ring.height)} mm",
                )
        for index, ring in enumerate(self.rings[1:-1], start=1):
            if ring.diameter == 0:
                raise CupgeomError(f"rings[{index}].diameter", "must be greater than 0 mm between two walls, got 0 mm")
        rings = _corners(self.rings)
        object.__setattr__(self, "rings", rings)
        walls = []
        for index in range(1, len(rings)):
            with within(f"walls[{index - 1}]"):
                walls.append(_wall(rings[index - 1], rings[index]))
        object.__setattr__(self, "walls", tuple(walls))
        self._check_ranges()

    @classmethod
    def frustum(
        cls,
        rim_diameter: float,
        base_diameter: float,
        height: float,
        *,
        name: str = "",
        handle: Handle | None = None,
        bare_lip: float = 0.0,
        coated: Span | None = None,
        base_coated: bool = False,
    ) -> Cup:
        """A cup of one straight wall from its rim diameter, base diameter and vertical height.

        Raises
        ------
        CupgeomError
            Naming ``rim_diameter``, ``base_diameter`` or ``height``.
        """
        for where, value in (("rim_diameter", rim_diameter), ("base_diameter", base_diameter)):
            require_at_least(where, value, 0)
            require_at_most(where, value, LARGEST_SIZE)
        require_positive("height", height)
        require_at_most("height", height, LARGEST_SIZE)
        if rim_diameter == base_diameter == 0:
            raise CupgeomError("rim_diameter", "rim and base are both 0 mm; one of them must be greater than 0 mm")
        rings = (Ring(diameter=rim_diameter, height=height), Ring(diameter=base_diameter, height=0.0))
        return cls(rings=rings, name=name, handle=handle, bare_lip=bare_lip, coated=coated, base_coated=base_coated)

    @property
    def slant(self) -> float:
        """Length along the wall from the top edge to the base edge, through all walls."""
        return math.fsum(wall.slant for wall in self.walls)

    @property
    def height(self) -> float:
        """Vertical distance from the base ring to the top ring."""
        return self.rings[0].height - self.rings[-1].height

    @property
    def lateral_area(self) -> float:
        """Area of all walls [mm²], the underside not counted."""
        return math.fsum(wall.lateral_area for wall in self.walls)

    @property
    def volume(self) -> float:
        """Volume inside the outer surface [mm³]; not the capacity, which is less by the wall's thickness."""
        return math.fsum(wall.volume for wall in self.walls)

    @property
    def coated_span(self) -> Span:
        """Where resin goes: the stated range, else from the bare lip to the base edge."""
        return self.coated or Span(top=self.bare_lip, bottom=self.slant)

    @property
    def coated_area(self) -> float:
        """Area that resin covers [mm²]: the coated range of the walls, and the underside when it is coated."""
        underside = math.pi * (self.rings[-1].diameter / 2) ** 2 if self.base_coated else 0.0
        span = self.coated_span
        return self.area_between(span.top, span.bottom) + underside

    def area_between(self, top: float, bottom: float) -> float:
        """Area of the walls between two drops [mm²]."""
        parts = []
        for start, wall in zip(self.wall_tops, self.walls, strict=True):
            upper, lower = max(top - start, 0.0), min(bottom - start, wall.slant)
            if lower > upper:
                parts.append(wall.area_between(upper, lower))
        return math.fsum(parts)

    @property
    def wall_tops(self) -> tuple[float, ...]:
        """Drop at which each wall begins."""
        tops = [0.0]
        for wall in self.walls[:-1]:
            tops.append(tops[-1] + wall.slant)
        return tuple(tops)

    def radius_at(self, drop: float) -> float:
        """Radius of the outside at a drop.

        Raises
        ------
        CupgeomError
            When the drop is not on the wall.
        """
        require_at_least("drop", drop, 0)
        require_at_most("drop", drop, self.slant * (1 + 1e-12))
        for start, wall in zip(reversed(self.wall_tops), reversed(self.walls), strict=True):
            if drop >= start:
                return wall.radius_at(min(drop - start, wall.slant))
        raise AssertionError("the first wall starts at drop 0")

    def grown(self, film: float) -> Cup:
        """The cup under a coat of even thickness `film`, as the next decal meets it.

        An end ring moves along its wall's normal, an inner ring along the mitre of its two walls, so that every wall
        keeps its taper and moves outward by the film::

            α₁ wall above, α₂ wall below, m = (α₁ + α₂)/2, stretch = film / cos((α₁ − α₂)/2)
            radius + stretch·cos m      height − stretch·sin m

        Raises
        ------
        CupgeomError
            When a wall between two hollow corners would be used up by the film.
        """
        require_at_least("film", film, 0)
        angles = [wall.half_angle_rad for wall in self.walls]
        grown = []
        for ring, above, below in zip(self.rings, [angles[0], *angles], [*angles, angles[-1]], strict=True):
            stretch, mitre = film / math.cos((above - below) / 2), (above + below) / 2
            grown.append(
                Ring(
                    diameter=ring.diameter + 2 * stretch * math.cos(mitre),
                    height=ring.height - stretch * math.sin(mitre),
                )
            )
        for index in range(1, len(grown)):
            if grown[index].height >= grown[index - 1].height:
                raise CupgeomError(
                    "film", f"a film of {number(film)} mm fills the hollow at walls[{index - 1}]; it must be thinner"
                )
        try:
            return replace(self, rings=tuple(grown), coated=self._coated_on(grown))
        except CupgeomError as error:
            raise CupgeomError("film", f"{number(film)} mm leaves no place for {error}") from None

    def _coated_on(self, rings: list[Ring]) -> Span | None:
        """The coated range on moved rings: an end at the base edge stays there."""
        if self.coated is None:
            return None
        slant = math.fsum(_wall(*pair).slant for pair in pairwise(rings))
        bottom = slant if self.coated.bottom >= self.slant * (1 - 1e-12) else min(self.coated.bottom, slant)
        return Span(top=self.coated.top, bottom=bottom)

    def _check_ranges(self) -> None:
        slant = self.slant
        require_at_least("bare_lip", self.bare_lip, 0)
        if self.bare_lip >= slant:
            raise CupgeomError(
                "bare_lip", f"must be less than the wall's {number(slant)} mm, got {number(self.bare_lip)} mm"
            )
        if self.coated is not None and self.coated.bottom > slant * (1 + 1e-12):
            raise CupgeomError(
                "coated.bottom",
                f"must be on the wall (drop 0 to {number(slant)} mm), got {number(self.coated.bottom)} mm",
            )
        for index, foot in enumerate(self.handle.feet if self.handle else ()):
            with within(f"handle.feet[{index}]"):
                self._check_foot(foot)

    def _check_foot(self, foot: Foot) -> None:
        slant = self.slant
        if foot.bottom > slant * (1 + 1e-12):
            raise CupgeomError(
                "bottom", f"must be on the wall (drop 0 to {number(slant)} mm), got {number(foot.bottom)} mm"
            )
        ends = [foot.top, min(foot.bottom, slant), *(top for top in self.wall_tops if foot.top < top < foot.bottom)]
        narrowest = 2 * min(self.radius_at(drop) for drop in ends)
        if foot.width >= narrowest:
            raise CupgeomError(
                "width", f"must be less than the cup there ({number(narrowest)} mm across), got {number(foot.width)} mm"
            )


def _wall(above: Ring, below: Ring) -> Wall:
    return Wall(top_radius=above.diameter / 2, base_radius=below.diameter / 2, height=above.height - below.height)


def _corners(rings: tuple[Ring, ...]) -> tuple[Ring, ...]:
    """The rings without those that lie on the straight line between their neighbours."""
    kept = [rings[0]]
    for index in range(1, len(rings) - 1):
        above, ring, below = kept[-1], rings[index], rings[index + 1]
        run, fall = (below.diameter - above.diameter) / 2, above.height - below.height
        aside = (ring.diameter - above.diameter) / 2 * fall - run * (above.height - ring.height)
        if abs(aside) > _STRAIGHT * math.hypot(run, fall):
            kept.append(ring)
    return (*kept, rings[-1])
