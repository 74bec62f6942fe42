"""Parts of the wall where ink must not go, or had better not: in turn and drop, and on the flat sheet.

A *hard* keep-out takes printing away: handle feet with their clearance, the bare lip. An *advisory* one, the rim band,
is shown and noted and takes nothing away.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from itertools import pairwise

from cupgeom.cup import Cup, Span, Wall
from cupgeom.drawing import Arc, Cubic, Line, Path, Segment, polyline
from cupgeom.errors import CupgeomError, Notice, number, require_at_least
from cupgeom.flatten import sheet_turn_rad, to_sheet, to_wall

RIM_BAND = 20.0  # mm along the wall; the band singled out for drinking vessels in Canada SOR/2016-175, Schedule item 2
RIM_BAND_SOURCE = "a convention after Canada SOR/2016-175, Schedule item 2"
ASIDE = 0.004  # mm; how far outside the true keep-out its outline is drawn
_INNERMOST, _OUTERMOST = 0.0005, 0.009  # mm; how far outside it must lie at the probes, to be 0 to 0.01 everywhere
_TEST_AT = tuple(i / 12 for i in range(13))


@dataclass(frozen=True, slots=True, kw_only=True)
class Notch:
    """The keep-out of a handle foot on one wall: cos δ > 0, |ρ sin δ| ≤ half_width, top ≤ drop ≤ bottom.

    ::

             seen from above              δ = turn − 180°, 0 at the back
                 back                     ρ  radius of the wall at the drop
              ___|x|___                   half_width = foot width/2 + clearance
            .'   |x|   '.
           /     |x|     \\               the set lies behind the axis between two planes;
          |      axis     |               where ρ < half_width it is the whole back half
           \\             /
            '._       _.'
                front
    """

    half_width: float
    top: float
    bottom: float

    def half_angle_rad(self, radius: float) -> float:
        """Largest |δ| that the keep-out covers where the wall has this radius."""
        return math.asin(min(1.0, self.half_width / radius)) if radius > 0 else math.pi / 2

    def covers(self, wall: Wall, turn_rad: float, drop: float) -> bool:
        """Whether a point of the wall lies in the keep-out."""
        delta = turn_rad - math.pi
        inside = abs(wall.radius_at(drop) * math.sin(delta)) <= self.half_width
        return self.top <= drop <= self.bottom and math.cos(delta) > 0 and inside


def notches(cup: Cup, wall_index: int, span: Span) -> tuple[Notch, ...]:
    """The keep-outs of the handle's feet on one wall, from the top down, where they reach into a span of its drops.

    Feet whose clearances overlap become notches that follow each other; the wider one rules. A removable handle has
    none.
    """
    if cup.handle is None or cup.handle.removable:
        return ()
    start = cup.wall_tops[wall_index]
    clear = cup.handle.clearance
    sets = [
        Notch(half_width=foot.width / 2 + clear, top=foot.top - clear - start, bottom=foot.bottom + clear - start)
        for foot in cup.handle.feet
    ]
    levels = sorted({level for one in sets for level in (one.top, one.bottom)})
    steps: list[Notch] = []
    for top, bottom in pairwise(levels):
        widths = [one.half_width for one in sets if one.top <= top and bottom <= one.bottom]
        if not widths or bottom <= span.top or top >= span.bottom:
            continue
        if steps and steps[-1].bottom == top and steps[-1].half_width == max(widths):
            top = steps.pop().top  # noqa: PLW2901
        steps.append(Notch(half_width=max(widths), top=top, bottom=bottom))
    return tuple(steps)


def largest_half_angle_rad(wall: Wall, steps: tuple[Notch, ...], span: Span) -> float:
    """Half-angle round the back that keeps clear of every notch over the drops it covers within a span."""
    angles = [0.0]
    for step in steps:
        for drop in (max(step.top, span.top), min(step.bottom, span.bottom)):
            angles.append(step.half_angle_rad(wall.radius_at(drop)))
    return max(angles)


def notch_side(wall: Wall, notch: Notch, top: float, bottom: float) -> list[Segment]:
    """The right-hand side of a notch on the sheet, from one drop to another, both ends exactly at their drops.

    Lines and cubics that never lie inside the true keep-out and nowhere more than 0.01 mm outside it. The left-hand
    side is its mirror image in x.

    Raises
    ------
    CupgeomError
        When the wall comes to a point within the notch.
    """
    if min(wall.radius_at(top), wall.radius_at(bottom)) <= 0:
        raise CupgeomError("handle", "a foot reaches the point of the cup, where there is no wall; move it up")
    side = _Side(wall, notch)
    k, width = wall.cone_constant, notch.half_width
    turning = (wall.top_radius - width) / k if k else math.inf  # drop at which the cup is just as wide as the notch
    if top < turning < bottom:
        if k > 0:
            return _linked([*side.fitted(side.start(top), turning), side.half(turning - ASIDE, bottom)])
        return _linked([side.half(top, turning + ASIDE), *side.fitted(turning, side.start(bottom))])
    if min(wall.radius_at(top), wall.radius_at(bottom)) >= width:
        return side.bevelled(top, bottom)
    return [side.half(top, bottom)]


class _Side:
    """The curve ρ sin δ = half_width at positive turns, moved outward by a hair."""

    def __init__(self, wall: Wall, notch: Notch) -> None:
        self.wall, self.notch = wall, notch

    def start(self, drop: float) -> float:
        """The drop on the curve whose point, moved outward, comes to lie at this drop."""
        at = drop
        for _ in range(60):
            point = self._ends(at)[0]
            miss = drop - to_wall(self.wall, point.real, point.imag)[1]
            at += miss
            if abs(miss) < 1e-13:
                break
        return at

    def half(self, top: float, bottom: float) -> Line:
        """The generator at turn 90°, where the keep-out is the whole back half."""
        ends = []
        for drop in (top, bottom):
            ends.append(_on_sheet(self.wall, math.pi / 2 - ASIDE / self.wall.radius_at(drop), drop))
        return Line(*ends)

    def bevelled(self, top: float, bottom: float) -> list[Segment]:
        """The curve between two drops; a sharp corner of the keep-out loses its tip, which would stick far out."""
        ends, tips = [], []
        for drop, corner in ((top, max(top, self.notch.top)), (bottom, min(bottom, self.notch.bottom))):
            above = _on_sheet(self.wall, math.pi - self._delta(corner), drop)
            at = self.start(drop)
            sharp = corner != drop and abs(self._ends(at)[0] - above) > 2 * ASIDE
            ends.append(corner if sharp else at)
            tips.append([above] if sharp else [])
        curve = self.fitted(*ends)
        before = [Line(tip, curve[0].start) for tip in tips[0]]
        after = [Line(curve[-1].end, tip) for tip in tips[1]]
        return [*before, *curve, *after]

    def fitted(self, top: float, bottom: float) -> list[Segment]:
        """Lines or cubics along the curve between two drops, halved until they keep the tolerance."""
        piece = self._hermite(top, bottom)
        if abs(bottom - top) < 1e-6 or all(_INNERMOST <= self._outside(piece.point(t)) <= _OUTERMOST for t in _TEST_AT):
            return [piece if not self.wall.straight else Line(piece.start, piece.end)]
        middle = self._middle(top, bottom)
        return [*self.fitted(top, middle), *self.fitted(middle, bottom)]

    def _middle(self, top: float, bottom: float) -> float:
        """A drop between two: at the middle angle where the angle changes, so that the steep end is met."""
        first, last = self._delta(top), self._delta(bottom)
        if abs(last - first) < 1e-6:
            return (top + bottom) / 2
        radius = self.notch.half_width / math.sin((first + last) / 2)
        return (self.wall.top_radius - radius) / self.wall.cone_constant

    def _delta(self, drop: float) -> float:
        return self.notch.half_angle_rad(self.wall.radius_at(drop))

    def _ends(self, drop: float) -> tuple[complex, complex]:
        """Point on the sheet and direction of the curve, downward, at a drop.

        From ρ sin δ = w with dδ = −dθ: along (−k sin δ, cos δ) in (turn, drop), outward along (−cos δ, −k sin δ).
        """
        delta, k = self._delta(drop), self.wall.cone_constant
        turn = math.pi - delta
        right = cmath.exp(1j * sheet_turn_rad(self.wall, turn))
        down = -1j * right
        along = -k * math.sin(delta) * right + math.cos(delta) * down
        outward = -math.cos(delta) * right - k * math.sin(delta) * down
        return _on_sheet(self.wall, turn, drop) + ASIDE * outward / abs(outward), along / abs(along)

    def _hermite(self, top: float, bottom: float) -> Cubic:
        (start, leaving), (end, arriving) = self._ends(top), self._ends(bottom)
        handle = abs(end - start) / 3
        return Cubic(start, start + handle * leaving, end - handle * arriving, end)

    def _outside(self, point: complex) -> float:
        """How far a point of the sheet lies outside the keep-out, from its distances along and across the drop."""
        turn, drop = to_wall(self.wall, point.real, point.imag)
        radius, delta, k = self.wall.radius_at(drop), math.pi - turn, self.wall.cone_constant
        if delta >= math.pi / 2 and radius <= self.notch.half_width:
            return radius * (delta - math.pi / 2)
        across = radius * (delta - self.notch.half_angle_rad(radius))
        along = (radius - self.notch.half_width / math.sin(delta)) / k if k else math.inf
        if math.isinf(along) or across == 0:
            return across
        return math.copysign(abs(across * along) / math.hypot(across, along), across)


def band_notice(rim_band: float) -> Notice:
    """The one notice that the rim band gives."""
    return Notice(
        "rim band",
        f"the top {number(rim_band)} mm are where lips touch ({RIM_BAND_SOURCE})",
        "keep decoration below it, or set another width or 0",
    )


def level_line(wall: Wall, drop: float, first_rad: float, last_rad: float) -> Segment:
    """The level line of a wall between two turns: a true arc on the sheet, a straight line for a cylinder."""
    start, end = _on_sheet(wall, first_rad, drop), _on_sheet(wall, last_rad, drop)
    if wall.straight:
        return Line(start, end)
    return Arc(start, _on_sheet(wall, (first_rad + last_rad) / 2, drop), end)


def hatching(wall: Wall, span: Span, first_rad: float, last_rad: float, spacing: float, *, rising: bool) -> Path:
    """Strokes across a band of the wall between two turns, as one path of many short lines, within the band throughout.

    They lie at 45° where the band is widest, less steep elsewhere: a straight stroke whose ends are a turn of less than
    length/(largest radius) apart cannot dip below the arc of the band's narrow edge.
    """
    require_at_least("spacing", spacing, 0.1)
    radius = max(wall.radius_at(span.top), wall.radius_at(span.bottom))
    lean = span.length / radius
    step = spacing * math.sqrt(2) / radius
    low, high = (span.bottom, span.top) if rising else (span.top, span.bottom)
    path = Path()
    for index in range(math.ceil((first_rad - lean) / step), math.ceil(last_rad / step)):
        turn = index * step
        begin = max(0.0, (first_rad - turn) / lean)
        finish = min(1.0, (last_rad - turn) / lean)
        if finish > begin:
            ends = (_on_sheet(wall, turn + lean * t, low + (high - low) * t) for t in (begin, finish))
            path += polyline(ends)
    return path


def _on_sheet(wall: Wall, turn_rad: float, drop: float) -> complex:
    return complex(*to_sheet(wall, turn_rad, drop))


def _linked(segments: list[Segment]) -> list[Segment]:
    """The segments with a short line wherever one ends a hair away from the next."""
    linked: list[Segment] = segments[:1]
    for segment in segments[1:]:
        if segment.start != linked[-1].end:
            linked.append(Line(linked[-1].end, segment.start))
        linked.append(segment)
    return linked
