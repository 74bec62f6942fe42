"""Paths: what they hold and refuse, what they measure, how they move, turn round and become polygons."""

from __future__ import annotations

import cmath
import math
import subprocess
import sys
from array import array
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cupgeom import CupgeomError
from cupgeom.drawing import Affine, Arc, Box, Cubic, Line, Path, Pen, Segment, circle, path_of, polyline

# to 1e-6 mm: points that differ at all still differ after a move, so that a closing line is not lost in rounding
COORDINATES = st.floats(min_value=-200, max_value=200).map(lambda value: round(value, 6))
POINTS = st.builds(complex, COORDINATES, COORDINATES)
HALF = settings(max_examples=settings.default.max_examples // 2)  # paths take long to draw


@st.composite
def paths(draw: st.DrawFn, *, closed: bool | None = None, kinds: str = "LAC") -> Path:
    """One or two outlines of up to four segments; arcs of up to 337°."""
    pen = Pen()
    for _ in range(draw(st.integers(min_value=1, max_value=2))):
        here = draw(POINTS)
        pen.move(here)
        for kind in draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=4)):
            end = draw(POINTS)
            if kind == "A" and abs(end - here) > 0.01:
                bulge = draw(st.floats(min_value=-10, max_value=10))
                pen.arc((here + end) / 2 - 0.5j * bulge * (end - here), end)
            elif kind == "C":
                pen.cubic(draw(POINTS), draw(POINTS), end)
            else:
                pen.line(end)
            here = end
        if draw(st.booleans()) if closed is None else closed:
            pen.close()
    return pen.path()


def sector(outer: float, inner: float, opening_deg: float) -> Path:
    """An annular sector about the origin, upright, anticlockwise."""
    half = math.radians(opening_deg) / 2

    def at(radius: float, angle: float) -> complex:
        return radius * cmath.exp(1j * (math.pi / 2 + angle))

    pen = Pen(at(outer, -half)).arc(at(outer, 0), at(outer, half)).line(at(inner, half))
    return pen.arc(at(inner, 0), at(inner, -half)).close().path()


# what a path holds


def test_a_pen_writes_kinds_and_points() -> None:
    path = Pen(1j).line(2 + 0j).arc(3 - 1j, 4 + 0j).cubic(5 + 1j, 6 + 2j, 7 + 3j).close().move(9 + 9j).line(8j).path()
    assert path.kinds == b"MLACZML"
    assert array("d", path.coords).tolist() == [0, 1, 2, 0, 3, -1, 4, 0, 5, 1, 6, 2, 7, 3, 9, 9, 0, 8]
    outlines = list(path.outlines())
    assert outlines == [
        (
            [
                Line(1j, 2 + 0j),
                Arc(2 + 0j, 3 - 1j, 4 + 0j),
                Cubic(4 + 0j, 5 + 1j, 6 + 2j, 7 + 3j),
                Line(7 + 3j, 1j),
            ],
            True,
        ),
        ([Line(9 + 9j, 8j)], False),
    ]
    assert list(path.segments()) == outlines[0][0] + outlines[1][0]


def test_a_closed_outline_that_ends_at_its_start_gets_no_closing_line() -> None:
    ((segments, closed),) = Pen(0j).line(1 + 0j).line(1j).line(0j).close().path().outlines()
    assert (len(segments), closed) == (3, True)


@HALF
@given(paths())
def test_segments_follow_each_other(path: Path) -> None:
    for segments, closed in path.outlines():
        assert all(before.end == after.start for before, after in pairwise(segments))
        assert not closed or segments[-1].end == segments[0].start


@HALF
@given(paths())
def test_a_path_is_made_again_from_its_segments(path: Path) -> None:
    again = Path()
    for segments, closed in path.outlines():
        again += path_of(segments, closed=closed)
    assert list(again.outlines()) == list(path.outlines())


def test_nothing_makes_an_empty_path() -> None:
    assert path_of([], closed=True) == polyline([], closed=True) == Pen().path() == Path()
    assert not Path()
    assert list(Path().outlines()) == []
    assert Path().length() == Path().area() == 0
    assert Path().reversed() == Path().transformed(Affine.scale(2, 2)) == Path()
    assert Path().points.shape == (0, 2)
    assert Path().flattened(0.1) == []


@pytest.mark.parametrize(
    ("kinds", "coords", "what"),
    [
        (b"ML", array("d", [0, 0, 1]).tobytes(), "kinds call for 32 bytes of coords, got 24"),
        (b"ML", array("d", [0, 0, 1, 1, 2, 2]).tobytes(), "kinds call for 32 bytes of coords, got 48"),
        (b"ML", b"\0" * 31, "kinds call for 32 bytes of coords, got 31"),
        (b"", b"\0" * 16, "kinds call for 0 bytes of coords, got 16"),
        (b"MA", b"\0" * 32, "kinds call for 48 bytes of coords, got 32"),
        (b"L", b"\0" * 16, "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"Z", b"", "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"MLZL", b"\0" * 48, "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"MLZZ", b"\0" * 32, "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"MQ", b"\0" * 48, "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"Ml", b"\0" * 32, "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"M\n", b"\0" * 16, "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (b"ML", array("d", [0, 0, math.nan, 1]).tobytes(), "every coordinate must be a finite number of mm"),
        (b"ML", array("d", [0, 0, 1, -math.inf]).tobytes(), "every coordinate must be a finite number of mm"),
        ("ML", b"\0" * 32, "kinds and coords must be bytes"),
        (b"ML", bytearray(32), "kinds and coords must be bytes"),
        (b"ML", array("d", [0, 0, 1, 1]), "kinds and coords must be bytes"),
    ],
)
def test_buffers_that_are_no_path_are_refused(kinds: bytes, coords: bytes, what: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        Path(kinds, coords)
    assert str(caught.value) == f"path: {what}"


@pytest.mark.parametrize(
    ("pen", "what"),
    [
        (Pen(0j).arc(1 - 0.1j, 10 + 0j), "the middle of an arc must lie equally far from its start and its end"),
        (Pen(0j).arc(10 + 0j, 0j), "an arc must end elsewhere than it starts; draw a full circle as two arcs"),
        (
            Pen(0j).line(3 + 0j),
            None,
        ),
        (Pen(0j).arc(0j, 0j), None),  # no length: the small edge of a cone that comes to a point
        (Pen(0j).arc(5 - 1e-15j, 10 + 1e-14j), None),  # rounding does no harm
        (Pen(0j).arc(1e-12 + 3e-12j, 1e-12 + 0j), None),
        (Pen().line(1 + 0j), "every outline must start with M, go on with L, A or C, and end or close with Z"),
        (Pen(complex(math.nan, 0)), "every coordinate must be a finite number of mm"),
    ],
)
def test_an_arc_must_be_given_by_its_true_middle(pen: Pen, what: str | None) -> None:
    if what is None:
        assert pen.path()
        return
    with pytest.raises(CupgeomError) as caught:
        pen.path()
    assert str(caught.value) == f"path: {what}"


def test_numpy_sees_the_points_without_a_copy_and_cannot_change_them() -> None:
    path = polyline([1 + 2j, 3 + 4j, 5 + 6j])
    np.testing.assert_array_equal(path.points, [[1, 2], [3, 4], [5, 6]])
    assert np.shares_memory(path.points, np.frombuffer(path.coords, dtype=np.uint8))
    assert not path.points.flags.writeable
    with pytest.raises(ValueError, match="read-only"):
        path.points[0, 0] = 7
    with pytest.raises(ValueError, match="WRITEABLE"):
        path.points.flags.writeable = True


@HALF
@given(paths())
def test_equal_paths_hash_alike(path: Path) -> None:
    twin = Path(bytes(bytearray(path.kinds)), bytes(bytearray(path.coords)))
    assert path == twin
    assert hash(path) == hash(twin)
    assert path != path + polyline([0j, 1j])


def test_a_negative_zero_makes_no_other_path() -> None:
    assert polyline([complex(-0.0, 0.0), 1j]) == polyline([complex(0.0, -0.0), 1j])
    assert polyline([0j, 1 + 0j]).transformed(Affine.rotation(180)) == polyline([0j, -1 + 0j])


def test_paths_work_without_numpy_and_shapely() -> None:
    code = """if True:
        import sys
        from cupgeom.drawing import Affine, Pen, circle, offset
        path = Pen(0j).arc(5 - 1j, 10 + 0j).cubic(9 + 3j, 8 + 6j, 5 + 8j).close().path()
        path.bounds(), path.length(), path.area(), path.reversed(), path.flattened(0.01), hash(path)
        path.transformed(Affine.rotation(30)), path + circle(0j, 3), offset(path, 0.5), list(path.segments())
        print(sorted({"numpy", "shapely", "reportlab", "svgwrite"} & set(sys.modules)))
    """
    root = FilePath(__file__).parents[1]
    run = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert run.stdout == "[]\n"


# what a path measures


@HALF
@given(paths())
def test_no_point_of_a_path_leaves_its_bounds(path: Path) -> None:
    box = path.bounds().grown(1e-9)
    assert all(box.holds(segment.point(i / 20)) for segment in path.segments() for i in range(21))


@HALF
@given(paths(kinds="LC"))
def test_bounds_length_and_area_are_those_of_svgpathtools(path: Path) -> None:
    theirs = svgpathtools.Path(
        *(svgpathtools.Line(*s) if isinstance(s, Line) else svgpathtools.CubicBezier(*s) for s in path.segments())
    )
    left, right, bottom, top = theirs.bbox()
    assert path.bounds() == pytest.approx(Box(left, bottom, right, top), abs=1e-9)
    for segments, closed in path.outlines():
        one = path_of(segments, closed=closed)
        if closed:
            pieces = [svgpathtools.Line(*s) if isinstance(s, Line) else svgpathtools.CubicBezier(*s) for s in segments]
            assert one.area() == pytest.approx(svgpathtools.Path(*pieces).area(), rel=1e-9, abs=1e-6)
        else:
            assert one.area() == 0


@pytest.mark.parametrize("opening_deg", [1, 30, 90, 180, 218.442721, 300, 350])
def test_a_sector_measures_what_the_closed_forms_say(opening_deg: float) -> None:
    outer, inner, opening = 300.0, 120.0, math.radians(opening_deg)
    path = sector(outer, inner, opening_deg)
    assert path.area() == pytest.approx(opening * (outer**2 - inner**2) / 2, rel=1e-13)
    assert path.length() == pytest.approx(opening * (outer + inner) + 2 * (outer - inner), rel=1e-13)
    half = opening / 2
    reach = outer if half >= math.pi / 2 else outer * math.sin(half)
    low = min(inner * math.cos(half), outer * math.cos(half))
    assert path.bounds() == pytest.approx(Box(-reach, low, reach, outer), abs=1e-10)


def test_circle_and_square_measure_what_school_says() -> None:
    ring = circle(3 + 4j, 10)
    assert ring.area() == pytest.approx(100 * math.pi, rel=1e-15)
    assert ring.length() == pytest.approx(20 * math.pi, rel=1e-15)
    assert ring.bounds() == pytest.approx(Box(-7, -6, 13, 14), abs=1e-14)
    square = polyline([0j, 2 + 0j, 2 + 2j, 2j], closed=True)
    assert (square.area(), square.length(), square.bounds()) == (4, 8, Box(0, 0, 2, 2))
    assert polyline([0j, 2 + 0j, 2 + 2j, 2j]).area() == 0  # not closed
    assert (square + square.reversed()).area() == 0


def test_a_circle_needs_a_radius() -> None:
    with pytest.raises(CupgeomError) as caught:
        circle(0j, -1)
    assert str(caught.value) == "radius: must be greater than 0 mm, got -1 mm"


@pytest.mark.parametrize("path", [Path(), Pen(3j).path(), Pen(3j).close().path()])
def test_a_path_without_segments_has_no_bounds(path: Path) -> None:
    with pytest.raises(CupgeomError) as caught:
        path.bounds()
    assert str(caught.value) == "path: has no segments, so it has no bounds"


# how a path moves and turns round

SIMILARITIES = st.builds(
    lambda by, angle, scale, flip: Affine.move(by) @ Affine.rotation(angle) @ Affine.scale(flip * scale, scale),
    POINTS,
    st.floats(min_value=-360, max_value=360),
    st.floats(min_value=0.1, max_value=10),
    st.sampled_from([1, -1]),
)


@HALF
@given(paths(), SIMILARITIES)
def test_a_similarity_moves_every_point_and_keeps_arcs(path: Path, affine: Affine) -> None:
    moved = path.transformed(affine)
    assert moved.kinds == path.kinds
    for before, after in zip(path.segments(), moved.segments(), strict=True):
        assert type(before) is type(after)
        for t in (0, 0.3, 0.5, 0.8, 1):
            assert abs(after.point(t) - affine(before.point(t))) <= 1e-7
        if isinstance(before, Arc) and isinstance(after, Arc) and before.radius < 1e5:
            assert after.radius == pytest.approx(before.radius * affine.even_scale, rel=1e-6)
            assert after.sweep_rad == pytest.approx(math.copysign(1, affine.determinant) * before.sweep_rad, abs=1e-7)


@HALF
@given(paths(closed=True), SIMILARITIES)
def test_length_and_area_follow_the_scale_of_a_similarity(path: Path, affine: Affine) -> None:
    moved = path.transformed(affine)
    assert moved.length() == pytest.approx(path.length() * affine.even_scale, rel=1e-8, abs=1e-8)
    assert moved.area() == pytest.approx(path.area() * affine.determinant, rel=1e-8, abs=1e-4)


@HALF
@given(paths(kinds="LC"), st.builds(Affine, *([st.floats(min_value=-5, max_value=5)] * 6)))
def test_lines_and_cubics_follow_any_affine_map(path: Path, affine: Affine) -> None:
    assume(abs(affine.determinant) > 1e-6)
    for before, after in zip(path.segments(), path.transformed(affine).segments(), strict=True):
        assert all(abs(after.point(t) - affine(before.point(t))) <= 1e-9 for t in (0, 0.3, 0.7, 1))


@pytest.mark.parametrize("affine", [Affine.scale(1, 1.001), Affine.scale(1, 0), Affine(c=0.1)])
def test_arcs_refuse_to_be_squashed(affine: Affine) -> None:
    with pytest.raises(CupgeomError) as caught:
        circle(0j, 5).transformed(affine)
    assert str(caught.value) == "affine: stretches x and y differently, which true arcs cannot follow"


@HALF
@given(paths())
def test_a_reversed_path_covers_the_same_ground_the_other_way(path: Path) -> None:
    back = path.reversed()
    assert back.area() == pytest.approx(-path.area(), rel=1e-9, abs=1e-8)
    assert back.length() == pytest.approx(path.length(), rel=1e-9)
    assert back.bounds() == pytest.approx(path.bounds(), abs=1e-9)
    for (there, closed), (again, still_closed) in zip(path.outlines(), back.outlines(), strict=True):
        assert closed == still_closed
        assert again == [type(segment)(*reversed(segment)) for segment in reversed(there)]


@HALF
@given(paths())
def test_a_path_reversed_twice_runs_as_before(path: Path) -> None:
    assert list(path.reversed().reversed().outlines()) == list(path.outlines())


def test_a_reversed_closed_outline_starts_where_it_did() -> None:
    path = Pen(0j).line(5 + 0j).line(5 + 5j).close().path()
    assert path.reversed() == Pen(0j).line(5 + 5j).line(5 + 0j).close().path()


@HALF
@given(paths(), st.sampled_from([1.0, 0.01]))
def test_a_path_with_cubics_for_its_arcs_runs_within_the_tolerance(path: Path, tolerance: float) -> None:
    drawn = path.with_cubics(tolerance)
    assert b"A" not in drawn.kinds
    assert [closed for _, closed in drawn.outlines()] == [closed for _, closed in path.outlines()]
    assert abs(drawn.area() - path.area()) <= tolerance * path.length() + 1e-6
    for (before, _), (after, _) in zip(path.outlines(), drawn.outlines(), strict=True):
        rest = iter(after)
        for segment in before:
            pieces = [next(rest) for _ in (segment.cubics(tolerance) if isinstance(segment, Arc) else [segment])]
            assert (pieces[0].start, pieces[-1].end) == (segment.start, segment.end)
            if isinstance(segment, Arc):
                far = [segment.distance(piece.point(t / 8)) for piece in pieces for t in range(9)]
                assert max(far) <= tolerance * (1 + 1e-6) + 1e-8
        assert next(rest, None) is None


# how a path becomes polygons


@HALF
@given(paths(), st.sampled_from([1.0, 0.1, 0.01]))
def test_flattening_keeps_its_tolerance(path: Path, tolerance: float) -> None:
    for (segments, _), ring in zip(path.outlines(), path.flattened(tolerance), strict=True):
        corners = iter(ring)
        here = next(corners)
        assert here == segments[0].start
        for segment in segments:
            count = segment.chords(tolerance)
            for index in range(count):
                end = next(corners)
                chord, far = Line(here, end), tolerance * (1 + 1e-6) + 1e-9
                assert all(chord.distance(segment.point((index + t / 4) / count)) <= far for t in range(5))
                here = end
            assert here == segment.end
        assert next(corners, None) is None


@pytest.mark.parametrize("tolerance", [1.0, 0.01, 1e-4, 1e-8, 1e-13])
def test_an_arc_gets_no_more_chords_than_its_tolerance_asks_for(tolerance: float) -> None:
    radius = 20.0
    count = Arc(radius + 0j, radius * cmath.exp(0.25j * math.pi), radius * 1j).chords(tolerance)
    assert 2 * radius * math.sin(math.pi / 8 / count) ** 2 <= tolerance * (1 + 1e-9)
    assert count == 1 or 2 * radius * math.sin(math.pi / 8 / (count - 1)) ** 2 > tolerance


@pytest.mark.parametrize("tolerance", [100.0, 1.0, 0.01])
def test_a_flattened_circle_keeps_its_corners_on_it_and_at_least_four(tolerance: float) -> None:
    (ring,) = circle(0j, 20).flattened(tolerance)
    assert all(abs(abs(corner) - 20) < 1e-13 for corner in ring)
    assert len(set(ring)) >= 4


@pytest.mark.parametrize("tolerance", [0, -0.1, math.nan])
@pytest.mark.parametrize("flatten", [lambda path, t: path.flattened(t), lambda path, t: path.to_shapely(t)])
def test_polygons_need_a_tolerance(flatten, tolerance: float) -> None:
    with pytest.raises(CupgeomError) as caught:
        flatten(circle(0j, 5), tolerance)
    assert str(caught.value) == f"tolerance: must be greater than 0 mm, got {tolerance:g} mm"


@pytest.mark.parametrize("opening_deg", [1, 90, 218, 350])
def test_shapely_measures_the_sector_within_the_tolerance(opening_deg: float) -> None:
    path = sector(300, 120, opening_deg)
    polygon = path.to_shapely(0.001)
    assert polygon.is_valid
    assert polygon.geom_type == "Polygon"
    assert abs(polygon.area - path.area()) <= 0.001 * path.length()
    assert polygon.length == pytest.approx(path.length(), rel=1e-4)


@pytest.mark.parametrize("turn", [lambda path: path, Path.reversed])
def test_a_circle_within_a_circle_is_a_hole_whichever_way_it_runs(turn) -> None:
    ring = (circle(0j, 10) + turn(circle(1 + 0j, 4))).to_shapely(1e-4)
    assert ring.geom_type == "Polygon"
    assert len(ring.interiors) == 1
    assert ring.area == pytest.approx(math.pi * (100 - 16), abs=0.02)
    three = (circle(0j, 10) + turn(circle(1 + 0j, 4)) + circle(1 + 0j, 2)).to_shapely(1e-4)
    assert three.area == pytest.approx(math.pi * (100 - 16 + 4), abs=0.02)


def test_where_two_circles_overlap_nothing_is_left() -> None:
    lens = 2 * 100 * math.acos(6 / 20) - 3 * math.sqrt(400 - 36)  # two circles of radius 10, 6 apart (closed form)
    shape = (circle(0j, 10) + circle(6 + 0j, 10)).to_shapely(1e-4)
    assert shape.geom_type == "MultiPolygon"
    assert shape.area == pytest.approx(2 * (100 * math.pi - lens), abs=0.05)


def test_the_middle_of_a_star_drawn_in_one_line_is_a_hole() -> None:
    star = polyline([cmath.exp(1j * (math.pi / 2 + math.tau * 2 / 5 * i)) for i in range(5)], closed=True)
    shape = star.to_shapely(0.01)
    assert shape.is_valid
    assert not shape.contains(shapely.Point(0, 0))
    assert shape.contains(shapely.Point(0, 0.8))


@HALF
@given(paths(closed=True, kinds="L"))
def test_a_point_is_inside_where_a_ray_from_it_crosses_an_odd_number_of_lines(path: Path) -> None:
    shape = path.to_shapely(0.1)
    assert shape.is_valid
    for point in (complex(x, y) for x in (-73.1, 1.7, 61.3) for y in (-88.9, 2.3, 47.7)):
        crossings = 0
        for line in path.segments():
            if (line.start.imag > point.imag) != (line.end.imag > point.imag):
                t = (point.imag - line.start.imag) / (line.end.imag - line.start.imag)
                crossings += line.point(t).real > point.real
        if shape.boundary.distance(shapely.Point(point.real, point.imag)) > 1e-6:
            assert shape.contains(shapely.Point(point.real, point.imag)) == (crossings % 2 == 1)


def test_open_outlines_enclose_nothing() -> None:
    assert polyline([0j, 10 + 0j, 10 + 10j, 10j]).to_shapely(0.1).is_empty
    both = polyline([0j, 10 + 0j, 10 + 10j, 10j]) + polyline([0j, 2 + 0j, 2 + 2j, 2j], closed=True)
    assert both.to_shapely(0.1).area == 4


@pytest.mark.parametrize(
    "path",
    [
        Path(),
        polyline([0j, 1 + 0j], closed=True),
        polyline([0j, 1 + 0j, 2 + 0j], closed=True),  # no area
        Pen(0j).close().path(),
        path_of([Cubic(0j, 1 + 0j, 2 + 0j, 3 + 0j)], closed=True),
    ],
)
def test_what_has_no_area_becomes_an_empty_polygon(path: Path) -> None:
    shape = path.to_shapely(0.1)
    assert shape.is_empty
    assert shape.geom_type in {"Polygon", "MultiPolygon"}


def test_lines_that_stick_out_of_a_polygon_are_left_out() -> None:
    flag = polyline([0j, 2 + 0j, 2 + 2j, 2j, 0j, -5j], closed=True)  # a square on a pole
    assert flag.to_shapely(0.1).equals(shapely.box(0, 0, 2, 2))


def test_every_kind_of_segment_can_be_added() -> None:
    segments: list[Segment] = [
        Line(0j, 4 + 0j),
        Arc(4 + 0j, 6 + 2j, 4 + 4j),
        Cubic(4 + 4j, 3 + 5j, 1 + 5j, 4j),
    ]
    path = path_of(segments, closed=True)
    assert path.kinds == b"MLACZ"
    assert list(path.segments()) == [*segments, Line(4j, 0j)]
