"""Keep-outs: their true shape on the sheet, judged by the definition of the set and the apex form of the wall."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError, Foot, Handle, Ring, Span
from cupgeom.drawing import Cubic, Path
from cupgeom.template.outline import Blank
from cupgeom.zones import RIM_BAND, Notch, band_notice, hatching, largest_half_angle_rad, notch_side, notches

from .apex import Apex
from .mugs import free_ring, kept_out, mugs


def mug(rim: float, base: float, height: float, *feet: tuple[float, float, float], clearance: float = 3.0) -> Cup:
    made = tuple(Foot(width=width, top=top, bottom=bottom) for width, top, bottom in feet)
    return Cup.frustum(rim, base, height, handle=Handle(feet=made, clearance=clearance))


def outline_of(cup: Cup, span: Span | None = None) -> Path:
    span = span or Span(top=0.0, bottom=cup.slant)
    steps = notches(cup, 0, span)
    return Blank(wall=cup.walls[0], span=span, left_rad=-math.pi, right_rad=math.pi, notches=steps).outline()


def points_along(path: Path, per_segment: int = 40) -> np.ndarray:
    steps = [i / per_segment for i in range(per_segment + 1)]
    return np.array([segment.point(t) for segment in path.segments() for t in steps])


def assert_true_shape(cup: Cup, span: Span) -> None:
    """The outline is never inside the keep-out and at most 0.01 mm outside what is truly free of it."""
    points = points_along(outline_of(cup, span))
    turn, drop = Apex.of(cup).rolled(points)
    assert not kept_out(cup, turn, drop, slack=1e-9).any()
    away = shapely.distance(free_ring(cup, span), shapely.points(points.real, points.imag))
    assert away.max() <= 0.01 + 0.001  # the ring of points is itself off by less than 0.001 mm


HARD_CASES = {
    "wide taper": mug(110, 60, 120, (14, 20, 90)),
    "taper the other way": mug(60, 110, 120, (14, 20, 90)),
    "cylinder": mug(82, 82, 95, (14, 15, 30), (14, 65, 80)),
    "taper of 1e-12 mm": mug(82, 82 - 1e-12, 95, (14, 15, 30), (20, 65, 80)),
    "upside-down taper of 1e-12 mm": mug(82, 82 + 1e-12, 95, (14, 15, 30)),
    "whole back half below": mug(90, 40, 60, (45, 10, 40)),
    "whole back half above": mug(40, 90, 60, (45, 20, 50)),
    "whole back half all along": mug(50, 48, 60, (46, 10, 50)),
    "half begins at a hair's breadth": mug(100, 50, 100, (49.99, 10, 97), clearance=0.0051),
    "three feet, clearances overlap": mug(80, 70, 100, (10, 10, 30), (24, 33, 50), (12, 54, 60)),
    "feet at both edges": mug(80, 60, 100, (12, 0, 15), (12, 80, 100.4)),
    "feet 0.005 mm apart": mug(80, 60, 100, (12, 20, 30), (20, 36.005, 50)),
    "no clearance": mug(80, 60, 100, (12, 20, 30), clearance=0.0),
    "steep saucer": mug(120, 50, 30, (20, 10, 40)),
}


@pytest.mark.parametrize("name", HARD_CASES)
def test_notch_is_never_inside_the_true_keep_out_and_at_most_a_hundredth_outside(name):
    cup = HARD_CASES[name]
    assert_true_shape(cup, Span(top=0.0, bottom=cup.slant))


@given(mugs(), st.floats(0, 0.4), st.floats(0.6, 1))
@settings(max_examples=60)
def test_notch_keeps_its_true_shape_on_any_cup_with_any_feet(cup, first, last):
    assert_true_shape(cup, Span(top=first * cup.slant, bottom=last * cup.slant))


def test_notch_of_a_tapered_wall_is_cubics_and_of_a_cylinder_lines():
    def kinds(cup: Cup) -> set[type]:
        (notch,) = notches(cup, 0, Span(top=0, bottom=cup.slant))
        return {type(segment) for segment in notch_side(cup.walls[0], notch, 20.0, 80.0)}

    assert kinds(mug(90, 70, 100, (14, 20, 80))) == {Cubic}
    assert Cubic not in kinds(mug(90, 90, 100, (14, 20, 80)))


@given(mugs(), st.floats(0, 1))
@settings(max_examples=200)
def test_front_is_free_at_every_drop(cup, share):
    wall, drop = cup.walls[0], share * cup.slant
    steps = notches(cup, 0, Span(top=0, bottom=cup.slant))
    assert not any(step.covers(wall, 0.0, drop) for step in steps)
    front = Apex.of(cup).flat(0.0, np.linspace(0, cup.slant, 50)[1:-1])
    free = shapely.Polygon([(p.real, p.imag) for p in points_along(outline_of(cup), 20)])
    assert shapely.contains_xy(free, front.real, front.imag).all()


@given(mugs(), st.floats(-math.pi, math.pi), st.floats(0, 1))
@settings(max_examples=200)
def test_notches_cover_what_the_definition_covers(cup, turn, share):
    drop = share * cup.slant
    steps = notches(cup, 0, Span(top=0, bottom=cup.slant))
    covered = any(step.covers(cup.walls[0], turn, drop) for step in steps)
    surely, perhaps = (bool(kept_out(cup, turn, drop, slack)) for slack in (1e-9, -1e-9))
    assert surely <= covered <= perhaps


@given(mugs(), st.floats(0, 0.4), st.floats(0.6, 1))
def test_half_angle_is_that_of_the_narrowest_place_within_reach_of_a_foot(cup, first, last):
    span, wall, clear = Span(top=first * cup.slant, bottom=last * cup.slant), Apex.of(cup), cup.handle.clearance
    angles = [0.0]
    for foot in cup.handle.feet:
        top, bottom = max(foot.top - clear, span.top), min(foot.bottom + clear, span.bottom)
        if bottom > top:
            shares = (foot.width / 2 + clear) / wall.radius(np.linspace(top, bottom, 30))
            angles.append(np.arcsin(np.minimum(shares, 1)).max())
    found = largest_half_angle_rad(cup.walls[0], notches(cup, 0, span), span)
    assert math.sin(found) == pytest.approx(math.sin(max(angles)), abs=1e-12)


def test_wall_under_the_arch_of_a_handle_is_free():
    cup = mug(82, 78, 95, (14, 15, 30), (14, 65, 80))
    upper, lower = notches(cup, 0, Span(top=0, bottom=cup.slant))
    assert (upper.top, upper.bottom, lower.top, lower.bottom) == (12.0, 33.0, 62.0, 83.0)
    assert not any(step.covers(cup.walls[0], math.pi, 47.5) for step in (upper, lower))


def test_feet_of_one_width_whose_clearances_meet_make_one_notch():
    cup = mug(80, 80, 100, (10, 10, 30), (10, 35, 50))
    assert notches(cup, 0, Span(top=0, bottom=100)) == (Notch(half_width=8.0, top=7.0, bottom=53.0),)


def test_where_feet_overlap_the_wider_one_rules():
    cup = mug(80, 80, 100, (10, 10, 40), (20, 30, 50), clearance=0.0)
    assert [(step.half_width, step.top, step.bottom) for step in notches(cup, 0, Span(top=0, bottom=100))] == [
        (5.0, 10.0, 30.0),
        (10.0, 30.0, 50.0),
    ]


def test_removable_handle_keeps_nothing_out():
    feet = (Foot(width=14, top=15, bottom=30),)
    cup = Cup.frustum(82, 78, 95, handle=Handle(feet=feet, removable=True))
    assert notches(cup, 0, Span(top=0, bottom=cup.slant)) == ()


def test_notches_count_drops_from_the_top_edge_of_their_own_wall():
    rings = (Ring(diameter=90, height=150), Ring(diameter=84, height=80), Ring(diameter=60, height=0))
    cup = Cup(rings=rings, handle=Handle(feet=(Foot(width=14, top=60, bottom=100),), clearance=2.0))
    start = math.hypot(70, 3)
    (above,) = notches(cup, 0, Span(top=0, bottom=start))
    (below,) = notches(cup, 1, Span(top=0, bottom=cup.slant - start))
    assert (above.top, above.bottom) == (58.0, 102.0)
    assert (below.top, below.bottom) == pytest.approx((58.0 - start, 102.0 - start))


def test_notch_at_the_point_of_a_cone_is_refused():
    wall = Cup.frustum(80, 0, 100).walls[0]
    with pytest.raises(CupgeomError) as caught:
        notch_side(wall, Notch(half_width=5, top=10, bottom=wall.slant), 10, wall.slant)
    assert str(caught.value) == "handle: a foot reaches the point of the cup, where there is no wall; move it up"


@given(
    st.sampled_from([(88, 70, 170), (80, 80, 60), (20, 110, 60), (120, 8, 40), (88, 88 - 1e-12, 90)]),
    st.floats(0, 0.8),
    st.floats(0.05, 1),
    st.booleans(),
)
@settings(max_examples=60)
def test_hatching_stays_within_its_band_and_its_turns(size, first, share, rising):
    cup = Cup.frustum(*size)
    span = Span(top=first * cup.slant, bottom=(first + share * (1 - first)) * cup.slant)
    strokes = hatching(cup.walls[0], span, -2.5, 3.0, 6.0, rising=rising)
    turn, drop = Apex.of(cup).rolled(points_along(strokes, 10))
    assert drop.min() >= span.top - 1e-9
    assert drop.max() <= span.bottom + 1e-9
    assert turn.min() >= -2.5 - 1e-9
    assert turn.max() <= 3.0 + 1e-9


def test_hatching_leaves_no_gap_wider_than_its_spacing():
    cup = Cup.frustum(80, 80, 60)
    strokes = hatching(cup.walls[0], Span(top=10, bottom=40), -2.5, 3.0, 6.0, rising=True)
    ends = sorted(segment.start.real for segment in strokes.segments() if segment.start.imag == pytest.approx(-40))
    gaps = np.diff(ends) / math.sqrt(2)  # at 45° on a cylinder
    assert gaps == pytest.approx(np.full(len(gaps), 6.0))
    assert len(ends) == pytest.approx(5.5 * 40 / (6 * math.sqrt(2)), abs=1)


def test_rim_band_is_20_mm_wide_and_says_where_that_comes_from():
    assert RIM_BAND == 20.0  # CHECKS section 5: Canada SOR/2016-175, Schedule item 2
    assert str(band_notice(RIM_BAND)) == (
        "rim band: the top 20 mm are where lips touch (a convention after Canada SOR/2016-175, Schedule item 2);"
        " keep decoration below it, or set another width or 0"
    )
