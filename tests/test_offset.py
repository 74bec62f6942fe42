"""Outlines moved sideways: sectors against closed forms, wraps with tabs and notches against shapely, and refusals."""

from __future__ import annotations

import cmath
import math

import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st
from mpmath import mp, mpc, mpf

from cupgeom import CupgeomError
from cupgeom.drawing import Arc, Box, Cubic, Line, Path, Pen, Segment, circle, offset, path_of, polyline

FIT = 0.002  # mm; the promise for cubics


def sector(outer: float, inner: float, opening_rad: float) -> Path:
    """An annular sector about the origin, upright, clockwise from the left-hand end of its outer arc."""
    half = opening_rad / 2

    def at(radius: float, angle: float) -> complex:
        return 1j * radius * cmath.exp(-1j * angle)

    pen = Pen(at(outer, -half)).arc(at(outer, 0), at(outer, half)).line(at(inner, half))
    return pen.arc(at(inner, 0), at(inner, -half)).close().path()


@st.composite
def sectors(draw: st.DrawFn) -> tuple[float, float, float]:
    """Outer and inner radius and opening of flat wraps, from almost straight ones to wide fans."""
    slant, width = draw(st.floats(min_value=30, max_value=250)), draw(st.floats(min_value=150, max_value=300))
    outer = draw(st.one_of(st.floats(min_value=slant + 40, max_value=2000), st.sampled_from([1e4, 1e6, 1e9])))
    opening = width / outer
    assume(opening < math.radians(300))
    return outer, outer - slant, opening


@given(sectors(), st.floats(min_value=-12, max_value=12).filter(lambda d: abs(d) > 1e-3))
def test_a_moved_sector_has_its_arcs_and_edges_where_the_closed_forms_put_them(
    sector_: tuple[float, float, float], distance: float
) -> None:
    outer, inner, opening = sector_
    assume(distance < inner)
    assume(inner * math.sin(min(opening / 2, math.pi / 2)) > 30)
    top, right, bottom, left = offset(sector(outer, inner, opening), distance).segments()
    assert isinstance(top, Arc)
    assert isinstance(bottom, Arc)
    assert isinstance(right, Line)
    assert isinstance(left, Line)
    with mp.workdps(40):  # corners: on the moved circle, and at `distance` from the straight edge
        half = mpf(opening) / 2
        outward = mpc(0, 1) * mp.expj(-half)
        for arc, radius in ((top, mpf(outer) + distance), (bottom, mpf(inner) - distance)):
            along = mp.sqrt(radius**2 - mpf(distance) ** 2)
            expected = complex(outward * (along - 1j * mpf(distance)))
            there, mirrored = (arc.end, arc.start) if arc is top else (arc.start, arc.end)
            assert abs(there - expected) <= 1e-11 + 4e-16 * outer
            assert abs(mirrored - complex(-expected.real, expected.imag)) <= 1e-11 + 4e-16 * outer
    if outer < 1e5:
        assert top.radius == pytest.approx(outer + distance, rel=1e-10)
        assert bottom.radius == pytest.approx(inner - distance, rel=1e-10)
    assert abs(top.middle - 1j * (outer + distance)) <= 1e-11 + 4e-16 * outer
    assert abs(bottom.middle - 1j * (inner - distance)) <= 1e-11 + 4e-16 * outer


@pytest.mark.parametrize("distance", [3.0, -3.0, 0.001, -20.0, 40.0])
def test_a_moved_rectangle_is_a_rectangle(distance: float) -> None:
    rectangle = Box(-138, -170, 138, 0).outline()
    assert offset(rectangle, distance).bounds() == pytest.approx(Box(-138, -170, 138, 0).grown(distance), abs=1e-12)
    assert offset(rectangle, distance).kinds == b"MLLLLZ"


def test_a_moved_cylinder_wrap_keeps_its_straight_arcs() -> None:
    flat = Pen(-100 + 0j).arc(0j, 100 + 0j).line(100 - 80j).arc(-80j, -100 - 80j).close().path()
    moved = offset(flat, 3)
    assert moved.kinds == b"MALALZ"
    assert moved.bounds() == pytest.approx(Box(-103, -83, 103, 3), abs=1e-12)


@pytest.mark.parametrize("distance", [2.5, -2.5])
def test_a_moved_circle_is_a_circle(distance: float) -> None:
    moved = offset(circle(3 + 4j, 10), distance)
    assert [segment.radius for segment in moved.segments() if isinstance(segment, Arc)] == pytest.approx(
        [10 + distance] * 2, rel=1e-14
    )
    assert moved.area() == pytest.approx(math.pi * (10 + distance) ** 2, rel=1e-13)


# a whole wrap: chamfered tab on the right, a notch with bent sides at both seam edges


def wrap(outer: float | None, *, slant: float, width: float, tab: float, notch: bool, bend: float) -> Path:
    """A wrap of given size along its top edge, straight when there is no outer radius."""

    def at(x: float, drop: float) -> complex:
        if outer is None:
            return complex(x, -drop)
        return 1j * (outer - drop) * cmath.exp(-1j * x / outer) - 1j * outer

    def level(drop: float, first: float, last: float) -> Segment:
        return Arc(at(first, drop), at((first + last) / 2, drop), at(last, drop))

    half, upper, lower = width / 2, slant * 0.3, slant * 0.6
    depth = 12.0
    segments: list[Segment] = [level(0, -half, half + tab - min(2.0, tab))]

    def side(x: float, sign: float) -> list[Segment]:
        """From the top to the bottom along a seam edge, into the notch and out again."""
        if not notch:
            return [Line(at(x, 0), at(x, slant))]
        inside = sign * (half - depth)
        bent = Cubic(
            at(inside, upper),
            at(inside + sign * bend, upper + (lower - upper) / 3),
            at(inside + sign * bend, upper + (lower - upper) * 2 / 3),
            at(inside, lower),
        )
        return [
            Line(at(x, 0), at(x, upper)),
            level(upper, x, inside),
            bent,
            level(lower, inside, x),
            Line(at(x, lower), at(x, slant)),
        ]

    right = side(half + tab, 1)
    if tab:
        cut = min(2.0, tab)
        last = right[-1]
        assert isinstance(last, Line)
        right[0] = Line(at(half + tab, cut), right[0].end) if notch else right[0]
        if notch:
            right[-1] = Line(last.start, at(half + tab, slant - cut))
        else:
            right = [Line(at(half + tab, cut), at(half + tab, slant - cut))]
        right = [
            Line(at(half + tab - cut, 0), at(half + tab, cut)),
            *right,
            Line(at(half + tab, slant - cut), at(half + tab - cut, slant)),
        ]
    left = [type(segment)(*reversed(segment)) for segment in reversed(side(-half, -1))]
    bottom = level(slant, half + tab - min(2.0, tab), -half)
    return path_of([*segments, *right, bottom, *left], closed=True)


WRAPS = st.builds(
    wrap,
    st.one_of(st.none(), st.floats(min_value=250, max_value=3000), st.sampled_from([1e5, 1e7, 1e9])),
    slant=st.floats(min_value=60, max_value=160),
    width=st.floats(min_value=160, max_value=280),
    tab=st.sampled_from([0.0, 5.0, 8.0]),
    notch=st.booleans(),
    bend=st.floats(min_value=-3, max_value=3),
)
DISTANCES = st.sampled_from([-4.0, -3.0, -1.0, -0.1, 0.1, 1.0, 3.0, 6.0])


@given(WRAPS, DISTANCES)
def test_a_moved_wrap_covers_what_shapely_says_away_from_its_corners(path: Path, distance: float) -> None:
    # at a corner an arc runs on as its circle here, as its tangent there, so the corners are left to the tests above
    polygon = path.to_shapely(1e-3)
    expected = polygon.buffer(distance, join_style="mitre", mitre_limit=100)
    moved = offset(path, distance).to_shapely(1e-3)
    assert moved.is_valid
    assert moved.geom_type == "Polygon"
    corners = shapely.MultiPoint([(segment.start.real, segment.start.imag) for segment in path.segments()])
    differing = moved.symmetric_difference(expected).difference(corners.buffer(3 * abs(distance)))
    assert differing.area <= 2 * FIT * path.length()
    assert moved.area == pytest.approx(expected.area, abs=0.01 * path.length())


@given(WRAPS, DISTANCES)
def test_no_point_of_a_moved_wrap_is_nearer_than_the_distance_nor_its_sides_farther(
    path: Path, distance: float
) -> None:
    outline = path.to_shapely(1e-3).boundary
    moved = offset(path, distance)
    points = [segment.point(t / 8) for segment in moved.segments() for t in range(9)]
    away = shapely.distance(outline, shapely.points([(p.real, p.imag) for p in points]))
    assert away.min() >= abs(distance) - FIT - 0.001
    assert away.max() <= abs(distance) * 2 + FIT + 0.001  # a mitre of 60° reaches twice as far, none here is sharper
    assert (moved.area() > 0) == (path.area() > 0)


@given(WRAPS, DISTANCES)
def test_either_way_round_gives_the_same_ground(path: Path, distance: float) -> None:
    there, back = offset(path, distance), offset(path.reversed(), distance)
    assert back.area() == pytest.approx(-there.area(), abs=0.01)
    assert back.bounds() == pytest.approx(there.bounds(), abs=2 * FIT)
    assert (back.area() > 0) == (path.reversed().area() > 0)


@given(WRAPS)
def test_there_and_back_again_is_where_it_began(path: Path) -> None:
    again = offset(offset(path, 2.0), -2.0)
    difference = again.to_shapely(1e-3).symmetric_difference(path.to_shapely(1e-3))
    assert difference.area <= 3 * FIT * path.length()


@given(WRAPS, DISTANCES)
def test_arcs_stay_arcs_about_the_same_centre(path: Path, distance: float) -> None:
    before = [s.radius for s in path.segments() if isinstance(s, Arc)]
    after = [s.radius for s in offset(path, distance).segments() if isinstance(s, Arc)]
    assert after
    for radius in after:
        if radius < 1e4:  # larger ones are known less well from three points
            assert min(abs(abs(radius - other) - abs(distance)) for other in before) <= 1e-7


# cubics


@pytest.mark.parametrize("distance", [0.5, 3.0, -0.5, -3.0])
def test_a_moved_cubic_stays_within_its_tolerance(distance: float) -> None:
    bow = Cubic(40 + 0j, 30 + 25j, -30 + 25j, -40 + 0j)
    moved = offset(path_of([Line(-40 + 0j, 40 + 0j), bow], closed=True), distance)
    cubics = [segment for segment in moved.segments() if isinstance(segment, Cubic)]
    assert cubics
    line = shapely.LineString([(p.real, p.imag) for p in (bow.point(i / 5000) for i in range(5001))])
    points = [cubic.point(i / 100) for cubic in cubics for i in range(101)]
    away = shapely.distance(line, shapely.points([(p.real, p.imag) for p in points]))
    assert abs(away - abs(distance)).max() <= FIT


def test_a_cubic_bent_tighter_than_the_distance_gives_way_to_its_neighbours() -> None:
    # a slot with a round bottom of radius about 2: 3 mm of bleed close it
    slot = [
        Line(-30 + 0j, 30 + 0j),
        Line(30 + 0j, 30 + 30j),
        Line(30 + 30j, 2 + 30j),
        Line(2 + 30j, 2 + 12j),
        Cubic(2 + 12j, 2 + 9.3j, -2 + 9.3j, -2 + 12j),
        Line(-2 + 12j, -2 + 30j),
        Line(-2 + 30j, -30 + 30j),
    ]
    moved = offset(path_of(slot, closed=True), 3)
    assert moved.kinds == b"MLLLLZ"
    assert moved.bounds() == pytest.approx(Box(-33, -3, 33, 33))
    open_slot = offset(path_of(slot, closed=True), 1)
    assert b"C" in open_slot.kinds
    expected = path_of(slot, closed=True).to_shapely(1e-4).buffer(1, join_style="mitre", mitre_limit=10)
    assert open_slot.area() == pytest.approx(expected.area, abs=0.01)


def test_a_cubic_with_a_handle_of_no_length_is_refused() -> None:
    path = path_of([Line(0j, 30 + 0j), Cubic(30 + 0j, 30 + 0j, 10 + 20j, 0j)], closed=True)
    with pytest.raises(CupgeomError) as caught:
        offset(path, 1)
    assert str(caught.value) == "path: has a cubic with a handle of no length, which gives it no direction there"


# sides that are used up


def test_a_small_chamfer_vanishes_inward_and_grows_outward() -> None:
    plate = polyline([0j, 98 + 0j, 100 + 2j, 100 + 60j, 60j], closed=True)
    inward = offset(plate, -6)
    assert inward.kinds == b"MLLLLZ"
    assert inward.bounds() == pytest.approx(Box(6, 6, 94, 54))
    chamfer = [segment.length() for segment in offset(plate, 6).segments()][1]
    assert chamfer == pytest.approx(2 * math.sqrt(2) + 12 * math.tan(math.pi / 8))  # both its corners turn 45°


def test_round_corners_vanish_inward_and_grow_outward() -> None:
    bulge = 1 - math.sqrt(0.5)  # middle of a quarter turn of radius 1
    plate = Pen(2 + 0j).line(38 + 0j).arc(40 - 2 * bulge + 2j * bulge, 40 + 2j).line(40 + 30j).line(30j).line(2j)
    path = plate.arc(2 * bulge + 2j * bulge, 2 + 0j).close().path()
    assert offset(path, -3).kinds == b"MLLLLZ"
    assert offset(path, -3).bounds() == pytest.approx(Box(3, 3, 37, 27))
    radii = [segment.radius for segment in offset(path, 3).segments() if isinstance(segment, Arc)]
    assert radii == pytest.approx([5, 5])


def test_hairs_and_sides_of_no_length_do_no_harm() -> None:
    plain = polyline([0j, 100 + 0j, 100 + 60j, 60j], closed=True)
    hairy = polyline([0j, 0j, 100 + 0j, 100 + 0.004j, 100.004 + 0.004j, 100.004 + 60j, 60j, 60j], closed=True)
    for distance in (3, -3):
        assert offset(hairy, distance).bounds() == pytest.approx(offset(plain, distance).bounds(), abs=0.005)
        assert offset(hairy, distance).area() == pytest.approx(offset(plain, distance).area(), abs=1)


def test_a_cone_that_comes_to_a_point_is_mitred_at_its_tip() -> None:
    point = Pen(-60 + 80j).arc(100j, 60 + 80j).line(0j).arc(0j, 0j).close().path()
    moved = offset(point, 3)
    tip = moved.bounds().bottom
    assert tip == pytest.approx(-3 / 0.6)  # the edge leans by atan(60/80), whose sine is 0.6
    assert moved.bounds().top == pytest.approx(103)


def test_a_narrow_fan_comes_to_a_point_inside() -> None:
    top, right, left = offset(sector(300, 200, 0.05), -7).segments()
    assert isinstance(top, Arc)
    assert top.radius == pytest.approx(293, rel=1e-9)
    assert right.end == pytest.approx(7j / math.sin(0.025))  # 7 mm from both straight edges
    assert left.end == top.start


# refusals

# two ends 20 mm wide and a neck 4 mm wide: 3 mm inside it falls apart
_LEFT, _RIGHT = (
    [20 + 22j, 20 + 40j, 40j, 0j, 20 + 0j, 20 + 18j],
    [60 + 18j, 60 + 0j, 80 + 0j, 80 + 40j, 60 + 40j, 60 + 22j],
)
DUMBBELL = polyline(_LEFT + _RIGHT, closed=True)


@pytest.mark.parametrize(
    ("path", "distance", "shown"),
    [
        (Box(0, 0, 100, 10).outline(), -5, "5"),
        (Box(0, 0, 100, 10).outline(), -50.25, "50.25"),
        (Box(0, 0, 100, 10).outline(), -1e9, "1000000000"),
        (circle(0j, 10), -10, "10"),
        (circle(0j, 10), -11, "11"),
        (sector(300, 290, 1.0), -5.5, "5.5"),
        (sector(300, 200, 0.05), -7.5, "7.5"),
        (polyline([0j, 30 + 0j, 15 + 20j], closed=True), -9, "9"),
        (DUMBBELL, -3, "3"),
        (sector(100, 40, math.radians(350)), 4, "4"),  # the gap between its straight edges is 7 mm at the inner arc
        (polyline([0j, 100 + 0j, 100 + 0.5j], closed=True), 1, "1"),  # a needle, whose mitre would reach 200 mm
    ],
)
def test_a_distance_too_large_for_the_outline_is_refused_by_its_field(path: Path, distance: float, shown: str) -> None:
    for way in (path, path.reversed()):
        with pytest.raises(CupgeomError) as caught:
            offset(way, distance, "safe")
        assert str(caught.value) == f"safe: {shown} mm is too large for the outline; give less"


@pytest.mark.parametrize("distance", [math.nan, math.inf, -math.inf])
def test_the_distance_must_be_finite(distance: float) -> None:
    with pytest.raises(CupgeomError) as caught:
        offset(circle(0j, 10), distance, "bleed")
    assert str(caught.value) == f"bleed: must be a finite number of mm, got {distance}"


@pytest.mark.parametrize(
    ("path", "count"),
    [(Path(), 0), (polyline([0j, 1 + 0j, 1j]), 0), (circle(0j, 10) + circle(0j, 4), 2)],
)
def test_only_one_closed_outline_can_be_moved(path: Path, count: int) -> None:
    with pytest.raises(CupgeomError) as caught:
        offset(path, 1)
    assert str(caught.value) == f"path: must be one closed outline, got {count}"


def test_a_distance_of_nothing_gives_the_path_itself() -> None:
    path = sector(300, 130, 1.0)
    assert offset(path, 0) is path
