"""Curved outsides: their measures against closed forms, the walls cut from them, and the strain of a flat sheet."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import mpmath
import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cupgeom.cup import Cup, Foot, Handle, Ring, Span
from cupgeom.errors import CupgeomError
from cupgeom.profile import Curve, Piece, Profile, Round, Smooth, Straight
from cupgeom.profile.smooth import monotone_slopes

PI, SQRT = math.pi, math.sqrt


def ring(diameter: float, height: float) -> Ring:
    return Ring(diameter=diameter, height=height)


def curve(radius: Callable[[float], float], height: Callable[[float], float], start: float, end: float) -> Profile:
    return Profile(pieces=(Curve(radius=radius, height=height, start=start, end=end, role="taper"),))


def line(top: Ring, bottom: Ring) -> Profile:
    return Profile(pieces=(Straight(top=top, bottom=bottom, role="taper"),))


def mug() -> Profile:
    """A rolled lip, a band, a taper, a hollow shoulder, a second band and a torus-shaped foot."""
    return Profile(
        pieces=(
            Round(top=ring(86, 172), bottom=ring(86, 168), arc_radius=2, role="lip"),
            Straight(top=ring(86, 168), bottom=ring(86, 150), role="band"),
            Straight(top=ring(86, 150), bottom=ring(78, 60), role="taper"),
            Round(top=ring(78, 60), bottom=ring(66, 50), arc_radius=15, hollow=True, role="shoulder"),
            Straight(top=ring(66, 50), bottom=ring(66, 8), role="band"),
            Round(top=ring(66, 8), bottom=ring(50, 0), arc_radius=8, role="foot"),
        )
    )


# OpenStax, Calculus, "Arc Length of a Curve and Surface Area" (Volume 1, section 6.4). The radius is the distance to
# the axis that the curve turns about, the height the other coordinate. S3, S7 and S8 turn about the y axis (of S8 the
# value itself tells: about the x axis it would be 15√2 π).
OPENSTAX = {
    "S1": (curve(SQRT, lambda x: x, 4, 1), PI / 6 * (17 * SQRT(17) - 5 * SQRT(5))),
    "S2": (curve(lambda x: SQRT(1 - x), lambda x: x, 0.5, 0), PI / 6 * (5 * SQRT(5) - 3 * SQRT(3))),
    "S3": (curve(lambda y: y**3 / 3, lambda y: y, 2, 0), PI / 9 * (17**1.5 - 1)),
    "S4": (curve(lambda y: SQRT(9 - y * y), lambda y: y, 2, 0), 12 * PI),
    "S5": (curve(SQRT, lambda x: x, 6, 2), 49 * PI / 3),
    "S6": (line(ring(50, 5), ring(10, 1)), 120 * PI * SQRT(26)),
    "S7": (curve(lambda x: x, lambda x: x * x, 2, 0), PI / 6 * (17 * SQRT(17) - 1)),
    "S8": (line(ring(6, 4), ring(0, 1)), 9 * SQRT(2) * PI),
}


@pytest.mark.parametrize("name", OPENSTAX)
def test_area_of_revolution_agrees_with_the_published_values(name: str) -> None:
    profile, area = OPENSTAX[name]
    assert profile.area == pytest.approx(area, rel=1e-10)


def test_pappus_gives_the_same_area_from_centroid_and_length() -> None:
    """Pappus: area = 2π · centroid radius · length, each taken by mpmath from the curve y = 40 + 3 sin(x/9)."""
    profile = curve(lambda x: 40 + 3 * math.sin(x / 9), lambda x: 150 - x, 0, 150)
    stops = [15 * n for n in range(11)]
    with mpmath.workdps(30):
        speed = lambda x: mpmath.sqrt(1 + (mpmath.cos(x / 9) / 3) ** 2)  # noqa: E731
        length = mpmath.quad(speed, stops)
        centroid = mpmath.quad(lambda x: (40 + 3 * mpmath.sin(x / 9)) * speed(x), stops) / length
        area = 2 * mpmath.pi * centroid * length
    assert profile.length == pytest.approx(float(length), rel=1e-12)
    assert profile.area == pytest.approx(float(area), rel=1e-12)


def test_pappus_for_a_half_round_lip_whose_centroid_is_known() -> None:
    """The centroid of a half circle lies 2ρ/π from its centre, of a half disc 4ρ/3π (standard centroids, memory)."""
    lip = Profile(pieces=(Round(top=ring(86, 4), bottom=ring(86, 0), arc_radius=2, role="lip"),))
    assert lip.length == pytest.approx(2 * PI, rel=1e-13)
    assert lip.area == pytest.approx(2 * PI * (43 + 2 * 2 / PI) * 2 * PI, rel=1e-12)
    bead = 2 * PI * (43 + 4 * 2 / (3 * PI)) * PI * 2**2 / 2
    assert lip.volume == pytest.approx(PI * 43**2 * 4 + bead, rel=1e-12)


@given(
    centre=st.floats(min_value=10, max_value=60),
    rho=st.floats(min_value=0.5, max_value=9),
    angles=st.tuples(st.floats(min_value=-90, max_value=90), st.floats(min_value=-90, max_value=90)),
)
def test_a_torus_zone_has_its_closed_form(centre: float, rho: float, angles: tuple[float, float]) -> None:
    """Point (c + ρ cos φ, ρ sin φ): length ρΔφ, area 2πρ(cΔφ + ρΔ sin φ), volume π∫r² dh; all by hand from r, h."""
    high, low = (math.radians(angle) for angle in sorted(angles, reverse=True))
    assume(high - low > 0.05)
    edges = [ring(2 * (centre + rho * math.cos(at)), rho * math.sin(at)) for at in (high, low)]
    zone = Profile(pieces=(Round(top=edges[0], bottom=edges[1], arc_radius=rho, role="foot"),))
    turn, sine = high - low, math.sin(high) - math.sin(low)
    cubed = [math.sin(at) - math.sin(at) ** 3 / 3 for at in (high, low)]
    square = [(at + math.sin(at) * math.cos(at)) / 2 for at in (high, low)]
    volume = PI * rho * (centre**2 * sine + 2 * centre * rho * (square[0] - square[1]) + rho**2 * (cubed[0] - cubed[1]))
    assert zone.length == pytest.approx(rho * turn, rel=1e-7)  # the angles of a level end carry half the digits
    assert zone.area == pytest.approx(2 * PI * rho * (centre * turn + rho * sine), rel=1e-7)
    assert zone.volume == pytest.approx(volume, rel=1e-7)


@given(share=st.floats(min_value=0, max_value=1))
def test_points_of_a_quarter_torus_foot_lie_on_its_circle(share: float) -> None:
    foot = Profile(pieces=(Round(top=ring(66, 8), bottom=ring(50, 0), arc_radius=8, role="foot"),))
    angle = share * PI / 2  # below the level of the arc's centre (25, 8)
    drop = min(8 * angle, foot.length)
    assert foot.length == pytest.approx(4 * PI, rel=1e-12)
    assert foot.area == pytest.approx(2 * PI * 8 * (25 * PI / 2 + 8), rel=1e-12)
    assert foot.radius_at(drop) == pytest.approx(25 + 8 * math.cos(angle), abs=1e-11)
    assert foot.height_at(drop) == pytest.approx(8 - 8 * math.sin(angle), abs=1e-11)
    assert foot.half_angle_rad_at(drop) == pytest.approx(angle, abs=1e-11)
    assert foot.area_between(0, drop) == pytest.approx(2 * PI * 8 * (25 * angle + 8 * math.sin(angle)), abs=1e-9)
    assert foot.height_at(foot.drop_at_height(8 - 8 * math.sin(angle))) == pytest.approx(8 - 8 * math.sin(angle))


def test_a_whole_ball_from_pole_to_pole() -> None:
    ball = Profile(pieces=(Round(top=ring(0, 50), bottom=ring(0, 0), arc_radius=25, role="shoulder"),))
    assert (ball.area, ball.volume) == pytest.approx((4 * PI * 25**2, 4 / 3 * PI * 25**3), rel=1e-13)
    assert ball.strain().along == pytest.approx(PI / 2 - 1, rel=1e-12)
    assert ball.strain().around == math.inf  # both edges are points: no cone comes near


def test_a_nearly_straight_arc_keeps_its_digits() -> None:
    """An arc of radius 1e9 mm over a chord of 50 mm bulges by c²/8ρ = 3e-7 mm and is otherwise the frustum."""
    bent = Profile(pieces=(Round(top=ring(80, 48), bottom=ring(52, 0), arc_radius=1e9, role="taper"),))
    assert bent.length == pytest.approx(50, rel=1e-15)
    assert bent.radius_at(25) == pytest.approx(33 + 0.96 * 2500 / 8e9, abs=2e-14)


def test_a_curve_may_be_given_by_radius_and_drop() -> None:
    """A sphere of radius 3 from 2 above its equator down: radius 3 cos(s/3), so that S4's area and height come out."""
    top = 3 * math.asin(2 / 3)
    zone = Curve.of_drop(
        radius=lambda t: 3 * math.cos((top - t) / 3), drop=lambda t: t, start=0, end=top, top_height=2, role="foot"
    )
    profile = Profile(pieces=(zone,))
    assert profile.area == pytest.approx(12 * PI, rel=1e-10)
    assert profile.length == pytest.approx(top, rel=1e-12)
    assert profile.height_at(top) == pytest.approx(0, abs=1e-11)
    assert profile.height_at(0.7) == pytest.approx(3 * math.sin((top - 0.7) / 3), abs=1e-11)


# Measured points


@st.composite
def measured(draw: st.DrawFn) -> Smooth:
    """Up to nine points with any radii and any falls, belly, waist and near-level runs among them."""
    falls = draw(st.lists(st.floats(min_value=0.01, max_value=40), min_size=1, max_size=8))
    widths = draw(st.lists(st.floats(min_value=20, max_value=120), min_size=len(falls) + 1, max_size=len(falls) + 1))
    heights = [math.fsum(falls[index:]) for index in range(len(falls) + 1)]
    return Smooth(rings=tuple(ring(*point) for point in zip(widths, heights, strict=True)), role="taper")


@given(points=measured())
def test_measured_points_are_met_and_never_overshot(points: Smooth) -> None:
    for (above, below), ends in zip(pairwise(points.rings), pairwise(points.breaks), strict=True):
        course = points.trace(np.linspace(*ends, 201))
        narrow, wide = sorted((above.diameter / 2, below.diameter / 2))
        assert course.radius[[0, -1]] == pytest.approx([above.diameter / 2, below.diameter / 2], abs=1e-12)
        assert course.height[[0, -1]] == pytest.approx([above.height, below.height], abs=1e-12)
        assert narrow - 1e-12 <= course.radius.min()
        assert course.radius.max() <= wide + 1e-12
        assert np.diff(course.height).max() <= 1e-13
        assert np.hypot(course.radius_rate, course.height_rate).min() > 0


def test_the_published_hard_data_stay_monotone() -> None:
    """Data set RPN 14 of Fritsch and Carlson (1980), on which a plain cubic spline swings (read in quotation)."""
    x = [7.99, 8.09, 8.19, 8.7, 9.2, 10, 12, 15, 20]
    y = [0, 2.76429e-5, 4.37498e-2, 0.169183, 0.469428, 0.943740, 0.998636, 0.999919, 0.999994]
    slopes = monotone_slopes(x, y)
    for index, (width, rise) in enumerate(zip(np.diff(x), np.diff(y), strict=True)):
        share = np.linspace(0, 1, 501)
        hermite = [2 * share**3 - 3 * share**2 + 1, share**3 - 2 * share**2 + share, share**3 - share**2]
        cubic = y[index] + rise * (1 - hermite[0])
        cubic += width * (slopes[index] * hermite[1] + slopes[index + 1] * hermite[2])
        assert np.diff(cubic).min() > -1e-16
    assert min(slopes) >= 0


def test_points_on_a_line_give_the_line() -> None:
    points = tuple(ring(88 - 18 * share, 170 - 170 * share) for share in (0, 0.1, 0.35, 0.8, 1))
    straight = Profile(pieces=(Smooth(rings=points, role="taper"),))
    frustum = Cup.frustum(88, 70, 170)
    assert straight.length == pytest.approx(frustum.slant, rel=1e-14)
    assert straight.area == pytest.approx(frustum.lateral_area, rel=1e-14)
    assert straight.volume == pytest.approx(frustum.volume, rel=1e-14)
    assert straight.cup().walls == frustum.walls


def test_more_points_on_a_circle_come_nearer_to_it() -> None:
    """A foot of arc radius 8, measured at 5 … 33 points: its area nears the torus zone's, at second order or better."""
    errors = []
    for count in (5, 9, 17, 33):
        angles = [PI / 2 * index / (count - 1) for index in range(count)]
        points = tuple(ring(2 * (25 + 8 * math.cos(at)), 8 - 8 * math.sin(at)) for at in angles)
        area = Profile(pieces=(Smooth(rings=points, role="foot"),)).area
        errors.append(abs(area / (2 * PI * 8 * (25 * PI / 2 + 8)) - 1))
    assert errors[0] < 2e-3
    assert all(coarse > 4 * fine for coarse, fine in pairwise(errors))


# Walls


@st.composite
def chains(draw: st.DrawFn) -> Profile:
    """One to three pieces of any kind, each starting where the one before it ends."""
    at = ring(draw(st.floats(min_value=60, max_value=100)), 300.0)
    pieces: list[Piece] = []
    for _ in range(draw(st.integers(min_value=1, max_value=3))):
        fall = draw(st.floats(min_value=0.5, max_value=60))
        below = ring(draw(st.floats(min_value=60, max_value=100)), at.height - fall)
        kind = draw(st.sampled_from(["straight", "round", "hollow", "smooth", "wave"]))
        if kind == "straight":
            pieces.append(Straight(top=at, bottom=below, role="taper"))
        elif kind == "smooth":
            middle = ring(draw(st.floats(min_value=60, max_value=100)), at.height - fall * 0.3)
            pieces.append(Smooth(rings=(at, middle, below), role="taper"))
        elif kind == "wave":
            waves, depth = draw(st.integers(min_value=1, max_value=3)), draw(st.floats(min_value=0.01, max_value=3))
            pieces.append(wave(at, below, waves, depth))
            below = pieces[-1].bottom
        else:
            chord = math.hypot((at.diameter - below.diameter) / 2, fall)
            arc = chord**2 / (2 * fall) * draw(st.floats(min_value=1, max_value=5))
            hollow = kind == "hollow" and arc < 25
            pieces.append(Round(top=at, bottom=below, arc_radius=arc, hollow=hollow, role="taper"))
        at = below
    return Profile(pieces=tuple(pieces))


def wave(top: Ring, bottom: Ring, waves: int, depth: float) -> Curve:
    """A straight run with ripples of a given depth on its radius."""
    run, fall = (bottom.diameter - top.diameter) / 2, top.height - bottom.height
    return Curve(
        radius=lambda t: top.diameter / 2 + run * t + depth * math.sin(2 * PI * waves * t),
        height=lambda t: top.height - fall * t,
        start=0,
        end=1,
        role="taper",
    )


@settings(max_examples=15)  # each takes a while
@given(profile=chains(), chord_error=st.floats(min_value=0.02, max_value=2))
def test_the_walls_keep_within_the_chord_error_of_the_curve(profile: Profile, chord_error: float) -> None:
    """Seen by shapely, both ways, from points ten times denser than the library's own."""
    rings = profile.rings(chord_error)
    walls = shapely.LineString([(ring.diameter / 2, ring.height) for ring in rings])
    fine = [
        piece.trace(np.linspace(*ends, 650 * len(rings))) for piece in profile.pieces for ends in pairwise(piece.breaks)
    ]
    points = np.concatenate([np.column_stack([course.radius, course.height]) for course in fine])
    assert shapely.distance(walls, shapely.points(points)).max() <= chord_error
    along = shapely.line_interpolate_point(walls, np.linspace(0, 1, 201), normalized=True)
    thinned = shapely.LineString([*points[::20], points[-1]])
    assert shapely.distance(thinned, along).max() <= chord_error + 1e-3
    assert {piece.bottom for piece in profile.pieces} <= set(rings)
    assert rings[0] == profile.pieces[0].top
    assert all(above.height > below.height for above, below in pairwise(rings))


@given(
    rho=st.floats(min_value=2, max_value=60),
    half=st.floats(min_value=0.1, max_value=PI / 2),
    chord_error=st.floats(min_value=0.002, max_value=1),
)
def test_an_arc_is_cut_into_the_fewest_walls_and_all_alike(rho: float, half: float, chord_error: float) -> None:
    """A chord of half-angle γ deviates by ρ(1 − cos γ), so that an arc of half-angle β needs ⌈β / acos(1 − e/ρ)⌉."""

    def needed(error: float) -> int:
        return math.ceil(half / math.acos(max(1 - error / rho, -1)))

    reach = rho * math.sin(half)
    arc = Round(top=ring(100, 2 * reach), bottom=ring(100, 0), arc_radius=rho, role="foot")
    rings = Profile(pieces=(arc,)).rings(chord_error)
    assert needed(chord_error) <= len(rings) - 1 <= needed(chord_error * 0.999)
    walls = Cup(rings=rings).walls
    assert min(wall.slant for wall in walls) == pytest.approx(max(wall.slant for wall in walls), rel=1e-3)


def test_straight_pieces_become_their_own_rings_exactly() -> None:
    rings = (ring(88, 170), ring(88, 150), ring(71.3, 20), ring(70, 0))
    straight = Profile(pieces=tuple(Straight(top=a, bottom=b, role="taper") for a, b in pairwise(rings)))
    assert straight.rings(chord_error=1e-6) == rings
    cup = Cup(rings=rings)
    assert straight.cup().walls == cup.walls
    assert straight.area == pytest.approx(cup.lateral_area, rel=1e-15)
    assert straight.volume == pytest.approx(cup.volume, rel=1e-15)


def test_the_area_of_the_walls_nears_that_of_the_curve() -> None:
    """A chord e inside an arc of radius ρ is shorter by e/3ρ and narrower by e at most: the area by e(1/3ρ + 1/r)."""
    foot = Profile(pieces=(Round(top=ring(66, 8), bottom=ring(50, 0), arc_radius=8, role="foot"),))
    closed = 2 * PI * 8 * (25 * PI / 2 + 8)
    for chord_error in (0.5, 0.05, 0.005, 0.0005):
        short = 1 - foot.cup(chord_error).lateral_area / closed
        assert 0 < short <= 1.01 * chord_error * (1 / (3 * 8) + 1 / 25)


# The cup and its wrap


def test_a_corner_has_the_angle_of_the_piece_below() -> None:
    """The lip starts level and outward, the taper loses 4 mm over 90 mm, the hollow shoulder starts β off its chord."""
    profile = mug()
    taper, shoulder = math.atan(4 / 90), math.atan(6 / 10) + math.asin(SQRT(136) / 30)
    angles = [profile.half_angle_rad_at(drop) for drop in profile.edges[:4]]
    assert angles == pytest.approx([-PI / 2, 0, taper, shoulder], abs=1e-7)


def test_a_wrap_lies_between_the_lip_and_the_foot() -> None:
    profile = mug()
    lip, foot = 2 * PI, 4 * PI
    span = profile.wrap_span()
    assert span.top == pytest.approx(lip, rel=1e-13)
    assert span.bottom == pytest.approx(profile.length - foot, rel=1e-13)


def test_the_cup_has_a_bare_lip_and_its_ranges_on_its_own_walls() -> None:
    profile = mug()
    handle = Handle(feet=(Foot(width=15, top=40, bottom=55),))
    cup = profile.cup(name="mug", handle=handle, coated=Span(top=profile.edges[1], bottom=profile.length))
    lip = next(index for index, ring in enumerate(cup.rings) if ring.height == 168)
    shorter = 2 * PI - math.fsum(wall.slant for wall in cup.walls[:lip])
    assert 0.01 < shorter < 0.1
    assert cup.bare_lip == pytest.approx(2 * PI - shorter, abs=1e-12)
    assert cup.coated == Span(top=cup.bare_lip, bottom=cup.slant)
    assert cup.handle is not None
    assert cup.handle.feet[0].top == pytest.approx(40 - shorter, abs=1e-12)
    assert cup.handle.feet[0].width == 15
    assert [profile.drop_on(cup, drop) for drop in (0, profile.length)] == [0, cup.slant]


def test_the_coated_base_says_whether_a_holder_takes_it() -> None:
    """The foot's arc has radius 8 round (25, 8): a level z above the base is 25 + √(64 − (8 − z)²) wide."""
    profile = mug()
    assert profile.base_diameter() == pytest.approx(50, abs=1e-6)
    assert profile.base_diameter(film=1.2, depth=8) == pytest.approx(66 + 2 * 1.2, rel=1e-13)
    assert profile.base_diameter(film=1.2, depth=5) == pytest.approx(2 * (25 + SQRT(64 - 9) * (1 + 1.2 / 8)), rel=1e-12)
    assert profile.base_diameter(film=0, depth=172) == pytest.approx(90, rel=1e-13)


@given(
    widths=st.lists(st.floats(min_value=40, max_value=100), min_size=2, max_size=5),
    film=st.floats(min_value=0, max_value=3),
)
def test_the_coated_base_is_that_of_the_grown_cup(widths: list[float], film: float) -> None:
    rings = [ring(width, 40.0 * index) for index, width in enumerate(reversed(widths))][::-1]
    pieces = tuple(Straight(top=above, bottom=below, role="taper") for above, below in pairwise(rings))
    profile, grown = Profile(pieces=pieces), Cup(rings=tuple(rings)).grown(film)
    assert profile.base_diameter(film) == pytest.approx(grown.rings[-1].diameter, rel=1e-12)
    widest = max(ring.diameter for ring in grown.rings)
    bound = widest + 2 * film  # a wall's own normal may reach further than a hollow corner's mitre
    assert widest * (1 - 1e-12) <= profile.base_diameter(film, depth=profile.height) <= bound


# What a flat sheet bears


def test_the_strain_on_a_barrel_has_its_closed_form() -> None:
    """Radius 40 at both edges, arc radius 100, half-angle β = 0.3: bulge ρ(1 − cos β), arc/chord β/sin β."""
    rho, beta = 100, 0.3
    height = 2 * rho * math.sin(beta)
    barrel = Profile(pieces=(Round(top=ring(80, height), bottom=ring(80, 0), arc_radius=rho, role="taper"),))
    strain = barrel.strain()
    assert strain.around == pytest.approx(rho * (1 - math.cos(beta)) / 40, rel=1e-12)
    assert strain.along == pytest.approx(beta / math.sin(beta) - 1, rel=1e-11)
    assert strain.worst == strain.around


def test_a_straight_wall_takes_any_sheet() -> None:
    fit = line(ring(88, 170), ring(70, 0)).sheet_fit(limit_percent=1e-6)
    assert fit.strain.worst < 1e-14
    assert fit.run == fit.span
    assert fit.notices == ()


def test_stop_at_the_shoulder() -> None:
    """A band of radius 40 and a round shoulder of 30 below it, tangent to it; the strain by hand at 2001 places."""

    def worst(stop: float) -> float:
        turned = (stop - 100) / 30
        drop = np.linspace(0, stop, 2001)[1:-1]
        true = 40 - 30 * (1 - np.cos(np.maximum(drop - 100, 0) / 30))
        edge = 40 - 30 * (1 - math.cos(turned))
        chord = math.hypot(40 - edge, 100 + 30 * math.sin(turned))
        return max(float(np.abs(true / (40 + (edge - 40) * drop / stop) - 1).max()), stop / chord - 1)

    profile = Profile(
        pieces=(
            Straight(top=ring(80, 160), bottom=ring(80, 60), role="band"),
            Round(top=ring(80, 60), bottom=ring(50, 60 - SQRT(675)), arc_radius=30, role="shoulder"),
        )
    )
    fit = profile.sheet_fit()
    assert profile.length == pytest.approx(100 + 30 * PI / 3, rel=1e-12)
    assert fit.strain.worst == pytest.approx(worst(profile.length), rel=1e-3)
    assert worst(fit.run.bottom) == pytest.approx(0.01, rel=1e-3)
    assert profile.strain(fit.run).worst <= 0.01
    assert profile.strain(Span(top=0, bottom=fit.run.bottom + 0.01)).worst > 0.01
    stop = math.floor(fit.run.bottom * 10) / 10
    assert [str(notice) for notice in fit.notices] == [
        f"profile.pieces[1]: one flat sheet from drop 0.0 mm to 131.4 mm would have to give "
        f"{100 * worst(profile.length):.3g} %, more than its limit of 1 %; stop at the shoulder, at drop {stop:.1f} mm"
    ]
    assert 100 < stop < 115


@settings(max_examples=20)  # each takes a while
@given(profile=chains(), limit_percent=st.floats(min_value=0.1, max_value=5))
def test_no_longer_run_keeps_within_the_limit(profile: Profile, limit_percent: float) -> None:
    fit = profile.sheet_fit(limit_percent=limit_percent)
    assert profile.strain(fit.run).worst <= limit_percent / 100
    assert bool(fit.notices) == (fit.run != fit.span)
    for share in np.linspace(0.02, 1, 8):
        bottom = fit.run.bottom + share * (fit.span.bottom - fit.run.bottom)
        if fit.notices:
            assert profile.strain(Span(top=fit.run.top, bottom=bottom)).worst > limit_percent / 100


# Bad input

TOP, LOW = ring(80, 100), ring(70, 0)


def smooth(*points: tuple[float, float]) -> Smooth:
    return Smooth(rings=tuple(ring(*point) for point in points), role="taper")


def arc(arc_radius: float, top: Ring = TOP, bottom: Ring = LOW, hollow: bool = False) -> Round:
    return Round(top=top, bottom=bottom, arc_radius=arc_radius, hollow=hollow, role="foot")


def unknown(t: float) -> float:
    raise ValueError("no height was measured here")


def of_drop(radius: Callable[[float], float], drop: Callable[[float], float]) -> Curve:
    return Curve.of_drop(radius=radius, drop=drop, start=0, end=10, top_height=10, role="taper")


BAD: list[tuple[Callable[[], object], str]] = [
    (lambda: Profile(pieces=()), "pieces: a profile needs at least one piece"),
    (
        lambda: Profile(pieces=(Straight(top=TOP, bottom=LOW, role="taper"), arc(9, ring(71, 0), ring(60, -9)))),
        "pieces[1].top: must be where the piece before it ends (diameter 70 mm, height 0 mm), got diameter 71 mm, "
        "height 0 mm",
    ),
    (
        lambda: Profile(pieces=(arc(60), Straight(top=LOW, bottom=ring(60, -9), role="band"))),
        "pieces[1].role: a foot can only be at the base, but this band comes after one",
    ),
    (
        lambda: Profile(
            pieces=(Straight(top=TOP, bottom=LOW, role="band"), Straight(top=LOW, bottom=ring(60, -9), role="lip"))
        ),
        "pieces[1].role: a lip can only be at the top, but a band comes before this one",
    ),
    (
        lambda: Straight(top=TOP, bottom=LOW, role="neck"),  # type: ignore[arg-type]
        "role: must be one of lip, band, taper, shoulder, foot, got 'neck'",
    ),
    (
        lambda: Straight(top=LOW, bottom=TOP, role="taper"),
        "bottom.height: must be below the ring before it (at 0 mm), got 100 mm",
    ),
    (
        lambda: Straight(top=ring(0, 9), bottom=ring(0, 0), role="taper"),
        "bottom.diameter: this ring and the one before it are both 0 mm across; one must be greater than 0 mm",
    ),
    (lambda: arc(0), "arc_radius: must be greater than 0 mm, got 0 mm"),
    (lambda: arc(-1), "arc_radius: must be greater than 0 mm, got -1 mm"),
    (lambda: arc(math.nan), "arc_radius: must be a finite number of mm, got nan"),
    (lambda: arc(math.inf), "arc_radius: must be a finite number of mm, got inf"),
    (
        lambda: arc(9.9, ring(90, 10), ring(70, 0)),
        "arc_radius: must be at least 10 mm, or the arc would rise on its way from the top ring to the bottom ring, "
        "got 9.9 mm",
    ),
    (
        lambda: arc(30, ring(20, 50), ring(20, 0), hollow=True),
        "arc_radius: an arc of 30 mm would cross the cup's axis",
    ),
    (smooth, "rings: a smooth curve needs at least two rings, got 0"),
    (lambda: smooth((80, 100)), "rings: a smooth curve needs at least two rings, got 1"),
    (
        lambda: smooth((80, 100), (75, 40), (70, 60)),
        "rings[2].height: must be below the ring before it (at 40 mm), got 60 mm",
    ),
    (
        lambda: smooth((80, 100), (75, 100)),
        "rings[1].height: must be below the ring before it (at 100 mm), got 100 mm",
    ),
    (lambda: smooth((80, 100), (math.nan, 0)), "diameter: must be a finite number of mm, got nan"),
    (lambda: smooth((80, math.inf), (70, 0)), "height: must be a finite number of mm, got inf"),
    (lambda: smooth((80, 100), (-1, 0)), "diameter: must be at least 0 mm, got -1 mm"),
    (lambda: curve(lambda t: 40, lambda t: -t, 1, 1), "end: must differ from the start, both are 1"),
    (lambda: curve(lambda t: 40, lambda t: -t, math.nan, 1), "start: must be a finite number, got nan"),
    (
        lambda: curve(lambda t: 40, lambda t: t, 0, 1),
        "height: must fall all the way from the top to the bottom, but does not at 0",
    ),
    (lambda: curve(lambda t: 5 - t, lambda t: -t, 0, 8), "radius: must not be negative, but is at 5.125"),
    (
        lambda: curve(lambda t: math.nan, lambda t: -t, -1, 1),
        "radius: must be a finite number of mm, got nan at -0.9957341763",
    ),
    (
        lambda: curve(lambda t: 40, unknown, 0, 1),
        "height: cannot be computed at 0.002132911852: no height was measured here",
    ),
    (
        lambda: curve(lambda t: SQRT(9 - t * t), lambda t: t, 3, 0),
        "height: the curve is not smooth near 3: split it there, or choose another parameter, such as an angle",
    ),
    (
        lambda: of_drop(lambda t: 40 - 2 * t, lambda t: t),
        "drop: must grow at least as fast as the radius changes, but does not at 0.05299532504",
    ),
    (lambda: mug().rings(0), "chord_error: must be at least 1e-06 mm, got 0 mm"),
    (lambda: mug().rings(-0.05), "chord_error: must be at least 1e-06 mm, got -0.05 mm"),
    (lambda: mug().rings(math.nan), "chord_error: must be a finite number of mm, got nan"),
    (lambda: mug().cup(math.inf), "chord_error: must be a finite number of mm, got inf"),
    (lambda: mug().rings(1e-6), "chord_error: would cut a piece into more than 1000 walls, got 1e-06 mm"),
    (lambda: mug().radius_at(-1), "drop: must be at least 0 mm, got -1 mm"),
    (lambda: line(TOP, LOW).height_at(101), "drop: must be at most 100.124922 mm, got 101 mm"),
    (lambda: mug().radius_at(math.nan), "drop: must be a finite number of mm, got nan"),
    (lambda: mug().drop_at_height(200), "height: must be at most 172 mm, got 200 mm"),
    (lambda: mug().base_diameter(-1), "film: must be at least 0 mm, got -1 mm"),
    (lambda: mug().base_diameter(0, 180), "depth: must be at most 172 mm, got 180 mm"),
    (
        lambda: line(TOP, LOW).strain(Span(top=0, bottom=101)),
        "span.bottom: must be on the curve (drop 0 to 100.124922 mm), got 101 mm",
    ),
    (
        lambda: line(TOP, LOW).strain(Span(top=9, bottom=9.0005)),
        "span: must be at least 0.001 mm long, got 0.0005 mm",
    ),
    (lambda: mug().sheet_fit(limit_percent=0), "limit_percent: must be greater than 0 %, got 0 %"),
    (lambda: mug().sheet_fit(limit_percent=math.nan), "limit_percent: must be a finite number of %, got nan"),
    (
        lambda: Profile(pieces=(arc(60),)).wrap_span(),
        "pieces: there is only lip and foot, and nothing between them to wrap",
    ),
]


@pytest.mark.parametrize("make, message", BAD, ids=[message.split(",")[0] for _, message in BAD])
def test_bad_input_is_named_in_one_line(make: Callable[[], object], message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        make()
    assert str(caught.value) == message
