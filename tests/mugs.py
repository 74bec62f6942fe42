"""Cups with handles, and the handle's keep-out worked out from its definition alone."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LinearRing

from cupgeom import Cup, Foot, Handle, Span

from .apex import Apex, Floats


@st.composite
def mugs(draw: st.DrawFn, most_feet: int = 3) -> Cup:
    """Cups of any taper with up to three feet anywhere on the wall, narrow ones and ones as wide as the cup."""
    rim, height = draw(st.floats(30, 130)), draw(st.floats(40, 200))
    base = draw(st.one_of(st.just(rim), st.floats(30, 130).filter(lambda base: abs(base - rim) > 0.1)))
    wall = Apex(rim, base, height)
    clearance = draw(st.one_of(st.just(3.0), st.floats(0, 10)))
    feet = []
    for _ in range(draw(st.integers(1, most_feet))):
        top = draw(st.floats(0, wall.slant - 5))
        bottom = draw(st.floats(top + 1, wall.slant))
        narrowest = 2 * min(wall.radius(top), wall.radius(bottom))
        feet.append(Foot(width=draw(st.floats(0.03, 0.99)) * narrowest, top=top, bottom=bottom))
    return Cup.frustum(rim, base, height, handle=Handle(feet=tuple(feet), clearance=clearance))


def kept_out(cup: Cup, turn: Floats, drop: Floats, slack: float = 0.0) -> NDArray[np.bool_]:
    """Issue 2's set: cos δ > 0, |ρ sin δ| ≤ w/2 + c, top − c ≤ drop ≤ bottom + c, δ = turn − 180°; less `slack` mm."""
    assert cup.handle is not None
    radius = Apex.of(cup).radius(drop)
    across, behind = radius * np.sin(turn - math.pi), radius * np.cos(turn - math.pi)
    inside = np.zeros(np.shape(turn), bool)
    for foot in cup.handle.feet:
        clear = cup.handle.clearance
        level = (drop >= foot.top - clear + slack) & (drop <= foot.bottom + clear - slack)
        inside |= level & (behind > slack) & (np.abs(across) <= foot.width / 2 + clear - slack)
    return inside


def free_ring(cup: Cup, span: Span) -> LinearRing:
    """The true edge of what a closed wrap leaves free, on the sheet: a ring of points less than 0.001 mm off it."""
    assert cup.handle is not None
    wall, clear = Apex.of(cup), cup.handle.clearance
    ends = [end for foot in cup.handle.feet for end in (foot.top - clear, foot.bottom + clear)]
    levels = [span.top, *sorted(end for end in ends if span.top < end < span.bottom), span.bottom]
    turns, drops = [np.linspace(-math.pi, math.pi, 1500)], [np.full(1500, span.top)]
    turns[0] *= (math.pi - _half_angle(cup, (levels[0] + levels[1]) / 2, levels[0])) / math.pi
    for top, bottom in pairwise(levels):
        along = np.linspace(top, bottom, 300)
        if wall.slope:
            for foot in cup.handle.feet:
                steep = foot.width / 2 + clear
                bends = (wall.rim / 2 - steep / np.sin(np.linspace(0.3, math.pi / 2, 300))) / wall.slope
                along = np.append(along, bends[(bends > top) & (bends < bottom)])
        along = np.sort(along)
        edge = math.pi - np.array([_half_angle(cup, (top + bottom) / 2, drop) for drop in along])
        turns += [np.linspace(turns[-1][-1], edge[0], 200), edge]
        drops += [np.full(200, top), along]
    right = wall.flat(np.concatenate(turns[1:]), np.concatenate(drops[1:]))
    bottom = wall.flat(np.linspace(turns[-1][-1], -turns[-1][-1], 1500), np.full(1500, span.bottom))
    top = wall.flat(turns[0], drops[0])
    points = np.concatenate([top, right, bottom, -right[::-1].conj()])
    return LinearRing(np.stack([points.real, points.imag], axis=1))


def _half_angle(cup: Cup, level: float, drop: float) -> float:
    """Half-angle of the keep-out at a drop, by the feet that count at a level beside it."""
    assert cup.handle is not None
    clear, radius = cup.handle.clearance, Apex.of(cup).radius(drop)
    widths = [foot.width / 2 + clear for foot in cup.handle.feet if foot.top - clear <= level <= foot.bottom + clear]
    return math.asin(min(1.0, max(widths, default=0.0) / radius))
