"""Lines, true arcs and cubics: measured against closed forms in 50 digits and against svgpathtools."""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

import pytest
import svgpathtools
from hypothesis import assume, given
from hypothesis import strategies as st
from mpmath import mp, mpc, mpf

from cupgeom import CupgeomError
from cupgeom.drawing import Arc, Box, Cubic, Line, Segment

COORDINATES = st.floats(min_value=-200, max_value=200)
POINTS = st.builds(complex, COORDINATES, COORDINATES)
LINES = st.builds(Line, POINTS, POINTS)
CUBICS = st.builds(Cubic, POINTS, POINTS, POINTS, POINTS)
SHARES = [i / 200 for i in range(201)]


def arc_about(centre: complex, radius: float, start_deg: float, sweep_deg: float) -> Arc:
    """An arc from its circle, each point worked out in 50 digits and rounded once."""
    with mp.workdps(50):
        angles = [mpf(start_deg) + mpf(sweep_deg) * share for share in (0, mpf(1) / 2, 1)]
        points = [mpc(centre) + mpf(radius) * mp.expjpi(angle / 180) for angle in angles]
    return Arc(*map(complex, points))


SWEEPS_DEG = st.one_of(
    st.floats(min_value=0.01, max_value=350),
    st.sampled_from([1e-6, 1e-3, 0.1, 5.7, 5.8, 45, 90, 180, 270, 350]),
).flatmap(lambda sweep: st.sampled_from([sweep, -sweep]))


@st.composite
def circles_and_arcs(draw: st.DrawFn) -> tuple[complex, float, float, float, Arc]:
    centre, radius = draw(POINTS), draw(st.floats(min_value=1, max_value=500))
    start_deg, sweep_deg = draw(st.floats(min_value=-180, max_value=180)), draw(SWEEPS_DEG)
    return centre, radius, start_deg, sweep_deg, arc_about(centre, radius, start_deg, sweep_deg)


ARCS = circles_and_arcs().map(lambda given_: given_[-1])
SEGMENTS = st.one_of(LINES, ARCS, CUBICS)


# arcs


@given(circles_and_arcs())
def test_an_arc_knows_its_circle(given_: tuple[complex, float, float, float, Arc]) -> None:
    centre, radius, _, sweep_deg, arc = given_
    sweep = math.radians(sweep_deg)
    rounding = 1e-13 * (abs(centre) + radius)  # how far the rounded points lie off the circle
    chord = abs(arc.end - arc.start)
    assert abs(arc.sweep_rad - sweep) <= 40 * rounding / chord
    assert abs(arc.length() - radius * abs(sweep)) <= 20 * rounding * (1 + radius / chord)
    if abs(sweep_deg) > 1:
        assert arc.radius == pytest.approx(radius, rel=1e-8 if abs(sweep_deg) < 10 else 1e-11)
        assert abs(arc.centre - centre) <= 1e-6


@given(circles_and_arcs())
def test_the_points_of_an_arc_lie_on_its_circle_at_equal_angles(
    given_: tuple[complex, float, float, float, Arc],
) -> None:
    centre, radius, start_deg, sweep_deg, arc = given_
    assume(abs(sweep_deg) > 0.01)
    for t in (-0.1, 0.0, 0.2, 0.5, 0.9, 1.0, 1.1):
        there = centre + radius * cmath.exp(1j * math.radians(start_deg + sweep_deg * t))
        assert abs(arc.point(t) - there) <= 1e-11 * (1 + abs(centre) + radius) / min(
            1, abs(math.sin(arc.sweep_rad / 2))
        )


@given(circles_and_arcs())
def test_the_area_an_arc_sweeps_is_that_of_its_sector(given_: tuple[complex, float, float, float, Arc]) -> None:
    centre, radius, start_deg, sweep_deg, arc = given_
    with mp.workdps(50):
        first, sweep = mp.radians(start_deg), mp.radians(sweep_deg)
        ends = [mpc(centre) + radius * mp.expj(angle) for angle in (first, first + sweep)]
        segment = mpf(radius) ** 2 * (sweep - mp.sin(sweep)) / 2
        expected = float((mp.conj(ends[0]) * ends[1]).imag / 2 + segment)
    scale = (abs(centre) + radius) ** 2
    assert abs(arc.swept_area() - expected) <= 1e-12 * scale


@pytest.mark.parametrize("share", [1e-16, 1e-13, 1e-10, 1e-7, 1e-4, 1e-2, 0.024, 0.026, 0.1])
@pytest.mark.parametrize("side", [1, -1])
def test_a_nearly_straight_arc_is_as_exact_as_a_round_one(share: float, side: int) -> None:
    # start, middle and end are exact floats and the origin is the middle of the chord, so only the formulas can err
    half, sagitta = 64.0, side * share * 128
    arc = Arc(-half + 0j, -1j * sagitta, half + 0j)
    with mp.workdps(60):
        rise = mpf(abs(sagitta))
        sweep, radius = 4 * mp.atan(rise / half), (mpf(half) ** 2 + rise**2) / (2 * rise)
        length, area = radius * sweep, radius**2 * (sweep - mp.sin(sweep)) / 2
        quarter = radius - radius * mp.cos(sweep / 4)
    assert arc.sweep_rad == pytest.approx(side * float(sweep), rel=1e-15)
    assert arc.radius == pytest.approx(float(radius), rel=1e-15)
    assert arc.length() == pytest.approx(float(length), rel=1e-15)
    assert arc.swept_area() == pytest.approx(side * float(area), rel=1e-13)
    assert arc.curvature(0.3) == pytest.approx(side / float(radius), rel=1e-15)
    assert arc.point(0.25).imag == pytest.approx(side * float(quarter - rise), rel=1e-12, abs=1e-14)
    assert arc.bounds() == pytest.approx(Box(-half, min(0.0, -sagitta), half, max(0.0, -sagitta)), abs=1e-13)


def test_a_straight_arc_is_a_line() -> None:
    arc = Arc(0j, 3 + 4j, 6 + 8j)
    assert (arc.sweep_rad, arc.radius, arc.length(), arc.curvature(0.5)) == (0, math.inf, 10, 0)
    assert arc.point(0.25) == Line(0j, 6 + 8j).point(0.25)
    assert arc.bounds() == Box(0, 0, 6, 8)
    assert arc.chords(0.001) == 1
    assert arc.distance(5j) == Line(0j, 6 + 8j).distance(5j)
    (cubic,) = arc.cubics(1e-9)
    assert all(abs(cubic.point(t) - arc.point(t)) < 1e-14 for t in SHARES)
    with pytest.raises(CupgeomError) as caught:
        _ = arc.centre
    assert str(caught.value) == "arc: is straight, so it has no centre"


@pytest.mark.parametrize(
    ("arc", "centre", "sweep_deg", "length"),
    [
        # CHECKS V8, V9: path examples of W3C SVG 1.1 (read), in that figure's own coordinates
        (arc_about(300 + 200j, 150, 180, -270), 300 + 200j, -270, 706.858347),
        (arc_about(275 + 175j, 150, -90, -90), 275 + 175j, -90, 235.619449),
    ],
    ids=["M300,200 h-150 a150,150 0 1,0 150,-150 z", "M275,175 v-150 a150,150 0 0,0 -150,150 z"],
)
def test_the_arcs_of_the_svg_standard(arc: Arc, centre: complex, sweep_deg: float, length: float) -> None:
    assert arc.centre == pytest.approx(centre)
    assert arc.radius == pytest.approx(150)
    assert math.degrees(arc.sweep_rad) == pytest.approx(sweep_deg)
    assert arc.length() == pytest.approx(length, abs=5e-7)


def test_the_ends_of_the_standards_arcs_are_those_of_its_paths() -> None:
    large, small = arc_about(300 + 200j, 150, 180, -270), arc_about(275 + 175j, 150, -90, -90)
    assert (large.start, large.end) == (150 + 200j, pytest.approx(300 + 50j))
    assert (small.start, small.end) == (pytest.approx(275 + 25j), pytest.approx(125 + 175j))


@pytest.mark.parametrize("sweep_deg", [1, 45, 90, 179, 180, 181, 270, 350, -90, -270, -350])
def test_an_arc_measures_like_that_of_svgpathtools(sweep_deg: float) -> None:
    arc = arc_about(3 - 2j, 25, 20, sweep_deg)
    theirs = svgpathtools.Arc(arc.start, 25 + 25j, 0, abs(sweep_deg) > 180, sweep_deg > 0, arc.end)
    left, right, bottom, top = theirs.bbox()
    assert arc.bounds() == pytest.approx(Box(left, bottom, right, top), abs=1e-5)
    assert arc.length() == pytest.approx(theirs.length(), rel=1e-6)
    assert arc.point(0.3) == pytest.approx(theirs.point(0.3), abs=1e-5)


@pytest.mark.parametrize(
    ("sweep_deg", "error"),
    [
        (90, 2.7e-4),  # CHECKS V12: standard result (read), of the radius
        # the same cubic in 40 digits, mpmath, largest of 2001 points
        (45, 4.2455e-6),
        (10, 5.1118e-10),
    ],
)
def test_one_cubic_lies_outside_its_arc_by_the_known_error(sweep_deg: float, error: float) -> None:
    arc = arc_about(0j, 100, 17, sweep_deg)
    (cubic,) = arc.cubics(math.inf)
    off = [abs(cubic.point(t)) / 100 - 1 for t in SHARES]
    assert min(off) >= -1e-14
    assert max(off) == pytest.approx(error, rel=0.01)


@given(circles_and_arcs(), st.sampled_from([1.0, 0.01, 0.001, 1e-6, 1e-8]))
def test_cubics_of_an_arc_keep_the_tolerance_and_are_no_more_than_needed(
    given_: tuple[complex, float, float, float, Arc], tolerance: float
) -> None:
    centre, radius, _, sweep_deg, arc = given_
    cubics = arc.cubics(tolerance)
    assert (cubics[0].start, cubics[-1].end) == (arc.start, arc.end)
    assert all(before.end == after.start for before, after in pairwise(cubics))
    far = [abs(cubic.point(t / 16) - centre) - radius for cubic in cubics[:3] for t in range(17)]
    assert max(far) <= tolerance + 1e-11 * radius
    assert min(far) >= -1e-11 * radius
    if len(cubics) > math.ceil(abs(sweep_deg) / 90) + 1:
        (fewer,) = arc.split(0, 1 / (len(cubics) - 1)).cubics(math.inf)
        assert max(abs(fewer.point(t) - centre) - radius for t in SHARES) > tolerance * 0.99


@pytest.mark.parametrize("tolerance", [0, -1, math.nan])
def test_a_tolerance_must_be_positive(tolerance: float) -> None:
    with pytest.raises(CupgeomError) as caught:
        Arc(0j, 1 - 1j, 2 + 0j).cubics(tolerance)
    assert str(caught.value) == f"tolerance: must be greater than 0 mm, got {tolerance:g} mm"


# cubics


@given(CUBICS)
def test_a_cubic_is_bounded_like_that_of_svgpathtools(cubic: Cubic) -> None:
    left, right, bottom, top = svgpathtools.CubicBezier(*cubic).bbox()
    assert cubic.bounds() == pytest.approx(Box(left, bottom, right, top), abs=1e-9)


@pytest.mark.parametrize(
    ("cubic", "box"),
    [
        (Cubic(0j, 0 + 4j, 4 + 4j, 4 + 0j), Box(0, 0, 4, 3)),
        (Cubic(0j, 1 + 0j, 2 + 0j, 3 + 0j), Box(0, 0, 3, 0)),  # straight
        (
            Cubic(0j, 4 + 4j, -1 + 4j, 3 + 0j),
            Box(0, 0, 3, 3),
        ),  # x turns back at 5/3 and 4/3
        (Cubic(0j, 3 + 0j, 3 + 0j, 0j), Box(0, 0, 2.25, 0)),  # there and back
        (Cubic(1j, 1j, 1j, 1j), Box(0, 1, 0, 1)),  # a point
    ],
)
def test_the_bounds_of_plain_cubics(cubic: Cubic, box: Box) -> None:
    assert cubic.bounds() == pytest.approx(box, abs=1e-15)


@given(CUBICS)
def test_the_length_of_a_cubic_is_its_integral(cubic: Cubic) -> None:
    points = [cubic.point(i / 1000) for i in range(1001)]
    chords = math.fsum(abs(q - p) for p, q in pairwise(points))
    reach = abs(cubic.first - cubic.start) + abs(cubic.second - cubic.first) + abs(cubic.end - cubic.second)
    assert abs(cubic.length() - chords) <= 5e-6 * reach + 1e-9


@pytest.mark.parametrize(
    "cubic",
    [
        Cubic(0j, 10 + 20j, 30 - 5j, 40 + 10j),
        Cubic(0j, 0.1 + 100j, 0.2 - 100j, 0.3 + 0j),
        Cubic(-50 + 3j, -50 + 60j, 50 + 60j, 50 + 3j),
    ],
)
def test_the_length_of_a_cubic_to_ten_decimals(cubic: Cubic) -> None:
    p = [mpc(point) for point in cubic]

    def speed(t: mpf) -> mpf:
        u = 1 - t
        return abs(3 * (u * u * (p[1] - p[0]) + 2 * u * t * (p[2] - p[1]) + t * t * (p[3] - p[2])))

    with mp.workdps(30):
        exact = mp.quad(speed, mp.linspace(0, 1, 33))
    assert abs(cubic.length() - float(exact)) <= 1e-10


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6, 1e9, 1e12])
def test_the_length_of_a_cubic_is_found_soon_at_any_size(scale: float) -> None:
    small = Cubic(0j, 10 + 20j, 30 - 5j, 40 + 10j)
    large = Cubic(*(point * scale for point in small))
    assert large.length() == pytest.approx(scale * small.length(), rel=1e-11, abs=1e-11)


def test_the_length_of_a_cubic_with_a_cusp() -> None:
    # x = 9t(1 − t): to 9/4 and back
    assert Cubic(0j, 3 + 0j, 3 + 0j, 0j).length() == pytest.approx(4.5, abs=1e-10)
    # y = 3t²(1 − t) − 83t³ goes to 4/86² at t = 2/86, then back and on to −83
    assert Cubic(0j, 0j, 1j, -83j).length() == pytest.approx(83 + 2 * 4 / 86**2, abs=1e-10)
    straight = Cubic(0j, 1 + 1j, 2 + 2j, 3 + 3j)
    assert straight.length() == pytest.approx(3 * math.sqrt(2), abs=1e-12)


@given(CUBICS)
def test_the_area_a_cubic_sweeps_is_its_integral(cubic: Cubic) -> None:
    # ½∮(x dy − y dx) of a polynomial of degree 5, by Gauss-Legendre with 3 nodes (exact), nodes in closed form
    nodes = [(0.5, 8 / 18), (0.5 - math.sqrt(15) / 10, 5 / 18), (0.5 + math.sqrt(15) / 10, 5 / 18)]
    exact = sum(weight * (cubic.point(t).conjugate() * cubic.velocity(t)).imag for t, weight in nodes) / 2
    assert cubic.swept_area() == pytest.approx(exact, abs=1e-9)


# laws for all three


@given(SEGMENTS, st.floats(min_value=0, max_value=1))
def test_no_point_leaves_the_bounds(segment: Segment, t: float) -> None:
    point, box = segment.point(t), segment.bounds()
    assert box.grown(1e-9).holds(point)


@given(SEGMENTS)
def test_the_bounds_are_touched_on_all_sides(segment: Segment) -> None:
    points, box = [segment.point(i / 500) for i in range(501)], segment.bounds()
    slack = 3e-4 * (1 + box.width + box.height)
    assert min(p.real for p in points) <= box.left + slack
    assert max(p.real for p in points) >= box.right - slack
    assert min(p.imag for p in points) <= box.bottom + slack
    assert max(p.imag for p in points) >= box.top - slack


@given(SEGMENTS)
def test_a_segment_runs_from_its_start_to_its_end(segment: Segment) -> None:
    assert segment.point(0) == pytest.approx(segment.start, abs=1e-10)
    assert segment.point(1) == pytest.approx(segment.end, abs=1e-9)
    if isinstance(segment, Arc):
        assert segment.point(0.5) == pytest.approx(segment.middle, abs=1e-9)


@given(SEGMENTS, st.floats(min_value=0.1, max_value=0.9))
def test_velocity_and_curvature_are_derivatives(segment: Segment, t: float) -> None:
    step = 1e-4
    before, here, after = (segment.point(t + shift) for shift in (-step, 0, step))
    speed = abs(segment.velocity(t))
    assert abs((after - before) / (2 * step) - segment.velocity(t)) <= 1e-4 * (1000 + speed)
    assume(speed > 50)
    bend = (after - 2 * here + before) / step**2
    slope = segment.velocity(t)
    curvature = (slope.real * bend.imag - slope.imag * bend.real) / speed**3
    assert segment.curvature(t) == pytest.approx(curvature, abs=1e-3)


@given(SEGMENTS, st.floats(min_value=0, max_value=1), st.floats(min_value=0, max_value=1))
def test_a_part_of_a_segment_is_the_segment_there(segment: Segment, t0: float, t1: float) -> None:
    part = segment.split(t0, t1)
    for t in (0, 0.25, 0.5, 1):
        assert abs(part.point(t) - segment.point(t0 + (t1 - t0) * t)) <= 1e-8


@given(SEGMENTS)
def test_lengths_and_areas_of_parts_add_up(segment: Segment) -> None:
    parts = [segment.split(0, 0.3), segment.split(0.3, 1)]
    assert sum(part.length() for part in parts) == pytest.approx(segment.length(), rel=1e-8, abs=1e-8)
    assert sum(part.swept_area() for part in parts) == pytest.approx(segment.swept_area(), rel=1e-8, abs=1e-6)


@given(SEGMENTS, st.sampled_from([0.5, 0.01, 0.001]))
def test_chords_keep_the_tolerance(segment: Segment, tolerance: float) -> None:
    count = segment.chords(tolerance)
    for index in {0, count // 2, count - 1}:
        chord = Line(segment.point(index / count), segment.point((index + 1) / count))
        part = segment.split(index / count, (index + 1) / count)
        assert max(chord.distance(part.point(t)) for t in SHARES[::10]) <= tolerance * (1 + 1e-6) + 1e-10


@given(st.one_of(LINES, ARCS), POINTS)
def test_the_distance_of_a_point_is_that_to_the_nearest_of_many(segment: Line | Arc, point: complex) -> None:
    points = [segment.point(i / 200) for i in range(201)]
    nearest = min(Line(p, q).distance(point) for p, q in pairwise(points))  # chords, off by at most the sagitta
    sagitta = segment.length() / 200 * abs(segment.sweep_rad) / 200 / 8 if isinstance(segment, Arc) else 0
    assert abs(segment.distance(point) - nearest) <= 1.001 * sagitta + 1e-9


@pytest.mark.parametrize(
    ("point", "distance"),
    [
        (0j, 10),
        (3 + 4j, 5),
        (6 + 8j, 0),
        (12 + 16j, 10),
        (0.001 - 0.002j, 10 - math.hypot(0.001, 0.002)),
        (-7 + 34j, 25),  # beside the arc, its upper end is nearest: 7, 24, 25
        (-7 - 34j, 25),
        (-1e-9 + 0j, 10),
    ],
)
def test_distances_to_a_half_circle(point: complex, distance: float) -> None:
    for half in (arc_about(0j, 10, -90, 180), arc_about(0j, 10, 90, -180)):
        assert half.distance(point) == pytest.approx(distance, abs=1e-13)


# boxes


def test_a_box_knows_its_size_and_grows() -> None:
    box = Box(1, 2, 4, 8)
    assert (box.width, box.height, box.centre) == (3, 6, 2.5 + 5j)
    assert box.grown(0.5) == Box(0.5, 1.5, 4.5, 8.5)
    assert box.union(Box(3, 0, 9, 1)) == Box(1, 0, 9, 8)
    assert box.holds(1 + 2j)
    assert box.holds(4 + 8j)
    assert not box.holds(0.999 + 5j)
    assert not box.holds(2 + 8.001j)


def test_the_outline_of_a_box_runs_anticlockwise() -> None:
    outline = Box(1, 2, 4, 8).outline()
    assert outline.kinds == b"MLLLZ"
    assert (outline.area(), outline.length()) == (18, 18)
    assert outline.bounds() == Box(1, 2, 4, 8)
