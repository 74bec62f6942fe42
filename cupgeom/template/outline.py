"""The outline of a piece of wrap on the flat sheet: edge arcs, seam edges, tab, handle notches."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from cupgeom.cup import Span, Wall
from cupgeom.drawing import Arc, Cubic, Line, Path, Segment, path_of
from cupgeom.errors import CupgeomError, number
from cupgeom.flatten import sheet_turn_rad, to_sheet, to_wall
from cupgeom.zones import ASIDE, Notch, level_line, notch_side

_SAME = 1e-9  # mm; points this near to each other need no line between them
_WIDEST_DEG = 330.0  # of the whole disc that a flat wrap may take, so that it does not meet itself
CHAMFER = 2.0  # mm cut off both sides of a tab's outer corners


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """What one piece covers: a wall between two drops and two turns, less the notches at the back.

    ::

            left_rad               right_rad
               |                       |_____ tab: between the right-hand edge and its parallel,
             span.top _ _ _ _ _ _ _ _ _|    \\   cut by the edge arcs, outer corners off
               |                       |     |
               |__                   __|     |   a notch takes its share from both seam edges,
               __|                  |__ _ _ _|   tab included
               |                       |     |
             span.bottom _ _ _ _ _ _ _ |____/
    """

    wall: Wall
    span: Span
    left_rad: float
    right_rad: float
    notches: tuple[Notch, ...] = ()
    tab: float = 0.0

    def __post_init__(self) -> None:
        narrowest = min(self.wall.radius_at(self.span.top), self.wall.radius_at(self.span.bottom))
        lean = abs(self.wall.cone_constant) * self.tab / max(narrowest, 1e-9)
        if lean >= 0.9:
            raise CupgeomError("overlap", f"{number(self.tab)} mm is wider than the end of the wrap; give less")
        opening = self.wall.sector_angle_rad * (self.right_rad - self.left_rad) / math.tau + math.asin(lean)
        if opening > math.radians(_WIDEST_DEG):
            raise CupgeomError(
                "cup", f"the wall is so flat that its wrap covers {number(round(math.degrees(opening)))}° of a disc"
            )

    def outline(self) -> Path:
        """The closed outline, clockwise from the left-hand end of the top edge."""
        right = self._side(at_left=False)
        left = [_mirrored(segment) for segment in self._side(at_left=True)]
        top = self._level(self.span.top, left[0].start, right[0].start)
        bottom = self._level(self.span.bottom, right[-1].end, left[-1].end)
        rising = [type(segment)(*reversed(segment)) for segment in reversed(left)]
        return path_of([top, *right, bottom, *rising], closed=True)

    def edge(self, turn_rad: float) -> Line:
        """The straight seam edge at a turn, from top to bottom."""
        return Line(self._at(turn_rad, self.span.top), self._at(turn_rad, self.span.bottom))

    def _side(self, *, at_left: bool) -> list[Segment]:
        """The right-hand side from top to bottom; for the left, that of the piece mirrored in x."""
        turn = -self.left_rad if at_left else self.right_rad
        tab = 0.0 if at_left else self.tab
        chain: list[Segment] = []
        for notch, top, bottom in self._parts(turn):
            part = self._edge(turn, top, bottom, tab) if notch is None else notch_side(self.wall, notch, top, bottom)
            if chain and abs(part[0].start - chain[-1].end) > _SAME:
                chain.append(self._level(top, chain[-1].end, part[0].start))
            chain.extend(part)
        return chain

    def _parts(self, turn: float) -> list[tuple[Notch | None, float, float]]:
        """What lies along a side from the top down: seam edge (None) or notch, each with its drops.

        A notch is kept a hair larger than it is, so that its outline stays outside the true keep-out.
        """
        levels: list[tuple[float, Notch | None]] = []
        here = self.span.top
        for notch in self.notches if math.isclose(turn, math.pi) else ():
            if notch.top - ASIDE > here:
                levels.append((here, None))
            wider = not levels or levels[-1][1] is None or levels[-1][1].half_width < notch.half_width
            levels.append((max(notch.top - ASIDE if wider else notch.top + ASIDE, self.span.top), notch))
            here = notch.bottom + ASIDE
        if here < self.span.bottom:
            levels.append((here, None))
        ends = [level for level, _ in levels[1:]] + [self.span.bottom]
        return [(notch, top, bottom) for (top, notch), bottom in zip(levels, ends, strict=True) if bottom > top]

    def _edge(self, turn: float, top: float, bottom: float, tab: float) -> list[Segment]:
        """The seam edge between two drops, or the tab beyond it."""
        if tab == 0:
            return [Line(self._at(turn, top), self._at(turn, bottom))]
        cut = min(CHAMFER, tab / 2, (bottom - top) / 3)
        upper, lower = (self._at(self._tab_turn(turn, tab - cut, drop), drop) for drop in (top, bottom))
        corner, foot = (self._at(self._tab_turn(turn, tab, drop), drop) for drop in (top, bottom))
        down = (foot - corner) / abs(foot - corner)
        return [
            Line(upper, corner + cut * down),
            Line(corner + cut * down, foot - cut * down),
            Line(foot - cut * down, lower),
        ]

    def _tab_turn(self, turn: float, width: float, drop: float) -> float:
        """Turn at which the parallel to the edge at `turn` meets a level line: sin(k·Δθ) = k·width/ρ."""
        ratio = width / self.wall.radius_at(drop)
        lean = self.wall.cone_constant * ratio
        return turn + (ratio * math.asin(lean) / lean if lean else ratio)

    def _level(self, drop: float, start: complex, end: complex) -> Segment:
        """The level line at a drop between two points that lie on it."""
        first, last = (to_wall(self.wall, point.real, point.imag)[0] for point in (start, end))
        return level_line(self.wall, drop, first, last)._replace(start=start, end=end)

    def _at(self, turn_rad: float, drop: float) -> complex:
        return complex(*to_sheet(self.wall, turn_rad, drop))


def upright(wall: Wall, turn_rad: float) -> complex:
    """Direction on the sheet that is up the wall at a turn."""
    return 1j * cmath.exp(1j * sheet_turn_rad(wall, turn_rad))


def _mirrored(segment: Segment) -> Segment:
    points = [complex(-point.real, point.imag) for point in segment]
    if isinstance(segment, Line):
        return Line(*points)
    return Arc(*points) if isinstance(segment, Arc) else Cubic(*points)
