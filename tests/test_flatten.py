"""From the wall to the flat sheet and back: against 50-digit arithmetic, a map projection and flattening's own laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from mpmath import mp, mpf
from pyproj import Proj

from cupgeom import Cup, Wall
from cupgeom.drawing import Path, Pen
from cupgeom.flatten import BLOCK, sheet_points, sheet_turn_rad, to_sheet, to_wall, wall_points

from .strategies import frusta

NEAR = 1e-12  # mm; what a wall of slant and diameter up to 100 mm must keep
TAPERS_DEG = [0.0, 1e-15, 1e-12, 1e-9, 1e-6, 1e-3, 0.1, 1.0, 5.0, 20.0, 45.0, 60.0, 80.0]
LONGEST_TURN = 1.15 * math.pi  # a seam tab runs on beyond half a turn


@st.composite
def walls(draw: st.DrawFn) -> Wall:
    """A wall of slant and diameter up to 100 mm, half-angle 0 to 80° either way, down to a cone's tip."""
    angle = math.radians(draw(st.sampled_from(TAPERS_DEG) | st.floats(min_value=0, max_value=80)))
    slant = draw(st.floats(min_value=1, max_value=min(100, 50 / max(math.sin(angle), 0.5))))
    narrow = draw(st.just(0.0) | st.floats(min_value=0, max_value=1)) * max(0.0, 50 - slant * math.sin(angle))
    wide = narrow + slant * math.sin(angle)
    assume(wide > 0)
    top, base = draw(st.sampled_from([(wide, narrow), (narrow, wide)]))
    return Wall(top_radius=top, base_radius=base, height=slant * math.cos(angle))


TURNS = st.sampled_from([0.0, 1e-200, math.pi, -math.pi]) | st.floats(min_value=-LONGEST_TURN, max_value=LONGEST_TURN)
SHARES = st.sampled_from([0.0, 1.0]) | st.floats(min_value=0, max_value=1)
CASES = {
    "wide at the top": Wall(top_radius=50, base_radius=1, height=30),
    "slight taper": Wall(top_radius=44, base_radius=44 - 1e-12, height=90),
    "no taper": Wall(top_radius=44, base_radius=44, height=90),
    "slight upside-down taper": Wall(top_radius=44, base_radius=44 + 1e-12, height=90),
    "wide at the base": Wall(top_radius=20, base_radius=45, height=60),
    "pointed at the base": Wall(top_radius=50, base_radius=0, height=50),
    "pointed at the top": Wall(top_radius=0, base_radius=50, height=50),
}
every_wall = pytest.mark.parametrize("wall", CASES.values(), ids=CASES.keys())


# Against 50-digit arithmetic ------------------------------------------------------------------------------------------
# The exact map starts from the wall's own floats and goes through the apex, which the code under test never does. 80
# digits, so that at least 50 are left where the apex lies 10¹⁵ walls away. A cylinder is unrolled.


def _cone(wall: Wall) -> tuple[mpf, mpf]:
    """The wall's cone constant and top radius, exact."""
    run = mpf(wall.top_radius) - mpf(wall.base_radius)
    return run / mp.sqrt(mpf(wall.height) ** 2 + run**2), mpf(wall.top_radius)


def _exact_sheet(wall: Wall, turn: float, drop: float) -> tuple[mpf, mpf]:
    k, radius = _cone(wall)
    if k == 0:
        return radius * mpf(turn), -mpf(drop)
    to_apex = radius / k  # downwards, or upwards where it is negative
    reach, angle = to_apex - mpf(drop), k * mpf(turn)
    return reach * mp.sin(angle), reach * mp.cos(angle) - to_apex


def _exact_wall(wall: Wall, x: float, y: float) -> tuple[mpf, mpf]:
    k, radius = _cone(wall)
    if k == 0:
        return mpf(x) / radius, -mpf(y)
    side, to_apex = mp.sign(k), radius / abs(k)
    ahead = to_apex + side * mpf(y)
    return mp.atan2(mpf(x), ahead) / abs(k), side * (to_apex - mp.hypot(mpf(x), ahead))


@settings(max_examples=400)
@given(walls(), TURNS, SHARES)
def test_a_wall_point_falls_where_exact_arithmetic_puts_it(wall: Wall, turn: float, share: float) -> None:
    drop = share * wall.slant
    many = sheet_points(wall, np.array([turn]), np.array([drop]))[0].tolist()
    with mp.workdps(80):
        exact_x, exact_y = _exact_sheet(wall, turn, drop)
        for x, y in (to_sheet(wall, turn, drop), many):
            assert mp.hypot(x - exact_x, y - exact_y) <= NEAR


@settings(max_examples=400)
@given(walls(), TURNS, SHARES)
def test_a_sheet_point_goes_back_where_exact_arithmetic_puts_it(wall: Wall, turn: float, share: float) -> None:
    x, y = to_sheet(wall, turn, share * wall.slant)
    # Past half a turn about the apex a sheet overlaps itself, and at the apex every turn is right.
    assume(abs(wall.cone_constant * turn) < 0.99 * math.pi and wall.radius_at(share * wall.slant) > 1e-9)
    many = wall_points(wall, np.array([x]), np.array([y]))[0].tolist()
    with mp.workdps(80):
        exact_turn, exact_drop = _exact_wall(wall, x, y)
        radius = abs(_cone(wall)[1] - _cone(wall)[0] * exact_drop)
        for back_turn, back_drop in (to_wall(wall, x, y), many):
            assert mp.hypot((back_turn - exact_turn) * radius, back_drop - exact_drop) <= NEAR


def test_the_exact_map_itself_unrolls_a_cone_of_30_degrees() -> None:
    # A cone of half-angle 30° (k = ½) opens to a half disc: the back seam lies level with the apex.
    wall = Wall(top_radius=30.0, base_radius=0.0, height=30 * math.sqrt(3))
    assert [float(value) for value in _exact_sheet(wall, math.pi, 0.0)] == pytest.approx([60, -60], abs=1e-12)
    assert [float(value) for value in _exact_wall(wall, 60.0, -60.0)] == pytest.approx([math.pi, 0], abs=1e-12)


@given(walls(), TURNS, SHARES)
def test_there_and_back_again(wall: Wall, turn: float, share: float) -> None:
    drop = share * wall.slant
    assume(abs(wall.cone_constant * turn) < 0.99 * math.pi and wall.radius_at(drop) > 1e-9)
    back_turn, back_drop = to_wall(wall, *to_sheet(wall, turn, drop))
    assert math.hypot((back_turn - turn) * wall.radius_at(drop), back_drop - drop) <= NEAR


@example(math.pi, 1.0)
@given(TURNS, SHARES)
def test_the_map_is_continuous_through_the_cylinder(turn: float, share: float) -> None:
    # Between k and 0 a point moves by at most |k| (Rθ²/2 + drop·θ) to first order: 600 |k| mm on this wall.
    straight = to_sheet(Wall(top_radius=50, base_radius=50, height=80), turn, share * 80)
    assert straight == pytest.approx((50 * turn, -80 * share), abs=1e-13)
    for exponent in range(-16, -4):
        for taper in (10.0**exponent, -(10.0**exponent)):
            wall = Wall(top_radius=50, base_radius=50 - 80 * taper, height=80)
            moved = math.dist(to_sheet(wall, turn, share * 80), straight)
            assert moved <= 600 * abs(taper) + NEAR


# Against the equidistant conic map projection, which is the same map --------------------------------------------------


def test_flat_pattern_of_a_published_map() -> None:
    # J. P. Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395 (1987), equidistant conic, for a
    # sphere of radius 1: standard parallels 29.5° and 45.5°, origin 23° N; the point 35° N, 21° east of the middle of
    # the map. Read as a cup: its rims are the parallels, its slant the 16° of meridian between them.
    top, base, slant = math.cos(math.radians(29.5)), math.cos(math.radians(45.5)), math.radians(16)
    wall = Wall(top_radius=top, base_radius=base, height=math.sqrt(slant**2 - (top - base) ** 2))
    x, y = to_sheet(wall, math.radians(21), math.radians(35 - 29.5))
    assert round(wall.cone_constant, 7) == 0.6067853
    assert round(wall.sheet_radius_at(math.radians(35 - 29.5)), 7) == 1.3383786
    assert round(-math.degrees(sheet_turn_rad(wall, math.radians(21))), 7) == 12.7424921
    assert round(x, 7) == 0.2952057
    assert round(math.radians(29.5 - 23) - y, 7) == 0.2424021  # the map counts from 23° N, towards the apex
    # the whole pattern, worked from the source's formulas: ρ = cos 29.5°/n, ρ − 16° in radians, 360° n
    assert round(wall.sheet_radius_at(0), 9) == 1.434371669
    assert round(wall.sheet_radius_at(wall.slant), 9) == 1.155118988
    assert round(math.degrees(wall.sector_angle_rad), 6) == 218.442721


def _parallels_deg(wide: float, narrow: float, slant: float) -> tuple[float, float, float]:
    """Standard parallels a < b and the sphere's radius for which the two parallels are the rims of a wall.

    R cos a = wide, R cos b = narrow, R (b − a) = slant; with h = (b − a)/2 and m = (a + b)/2 the first two are
    R cos m cos h = (wide + narrow)/2 and R sin m sin h = (wide − narrow)/2, and h solves one equation.
    """
    with mp.workdps(40):

        def miss(half: mpf) -> mpf:
            across = ((wide + narrow) / mp.cos(half)) ** 2 + ((wide - narrow) / mp.sin(half)) ** 2
            return across - (slant / half) ** 2

        half = mp.findroot(miss, (mpf("1e-6"), mp.pi / 2 - mpf("1e-6")), solver="anderson", tol=1e-30, maxsteps=200)
        radius = slant / (2 * half)
        middle = mp.asin((wide - narrow) / (2 * radius * mp.sin(half)))
        return float(mp.degrees(middle - half)), float(mp.degrees(middle + half)), float(radius)


@pytest.mark.parametrize("upside_down", [False, True], ids=["wider at the top", "wider at the base"])
@pytest.mark.parametrize("taper_deg", [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 45, 60, 70, 80])
def test_the_equidistant_conic_projection_puts_points_in_the_same_place(taper_deg: float, upside_down: bool) -> None:
    # PROJ's eqdc with the rims as standard parallels; longitude is the turn. The wall is made from the parallels after
    # they were rounded to floats, so that both start from the same numbers. Below 0.1° PROJ loses the digits: it
    # measures from the apex, 25 m away at 0.1°, and is 8e-12 mm off exact arithmetic there; the code under test 5e-14.
    wide = 44.0
    slant = min(90.0, (wide - 2) / math.sin(math.radians(taper_deg)))
    a_deg, b_deg, radius = _parallels_deg(wide, wide - slant * math.sin(math.radians(taper_deg)), slant)
    with mp.workdps(40):
        a, b = mp.radians(mpf(a_deg)), mp.radians(mpf(b_deg))
        rims, meridian = (radius * mp.cos(a), radius * mp.cos(b)), radius * (b - a)
        height = float(mp.sqrt(meridian**2 - (rims[0] - rims[1]) ** 2))
        top, base = (float(rim) for rim in (reversed(rims) if upside_down else rims))
    wall = Wall(top_radius=top, base_radius=base, height=height)
    assert math.degrees(abs(wall.half_angle_rad)) == pytest.approx(taper_deg, rel=1e-9)

    rng = np.random.default_rng(2)
    turns_deg, latitudes_deg = rng.uniform(-180, 180, 400), rng.uniform(a_deg, b_deg, 400)
    turns_deg[:2], latitudes_deg[:2] = (-180, 180), (a_deg, b_deg)
    from_deg, southward = (b_deg, 1.0) if upside_down else (a_deg, -1.0)
    conic = Proj(f"+proj=eqdc +lat_1={a_deg!r} +lat_2={b_deg!r} +lat_0={from_deg!r} +lon_0=0 +R={radius!r}")
    x, y = conic(turns_deg, latitudes_deg)
    sheet = sheet_points(wall, np.radians(turns_deg), -southward * radius * np.radians(latitudes_deg - from_deg))
    assert np.hypot(sheet[:, 0] - x, sheet[:, 1] - southward * y).max() <= 1e-11


# Laws -----------------------------------------------------------------------------------------------------------------


def _sector(wall: Wall) -> Path:
    """The whole flat wall, anticlockwise, its edges true arcs."""

    def at(turn: float, drop: float) -> complex:
        return complex(*to_sheet(wall, turn, drop))

    pen = Pen(at(-math.pi, 0)).line(at(-math.pi, wall.slant)).arc(at(0, wall.slant), at(math.pi, wall.slant))
    return pen.line(at(math.pi, 0)).arc(at(0, 0), at(-math.pi, 0)).close().path()


@given(frusta())
def test_flattening_keeps_the_area_and_the_edges(cup: Cup) -> None:
    wall = cup.walls[0]
    sector = _sector(wall)
    assert sector.area() == pytest.approx(cup.lateral_area, rel=1e-12)
    assert sector.length() == pytest.approx(math.tau * (wall.top_radius + wall.base_radius) + 2 * cup.slant, rel=1e-12)


@given(frusta())
def test_the_two_seam_edges_are_equally_long(cup: Cup) -> None:
    wall = cup.walls[0]
    for turn in (-math.pi, math.pi, 1.0):
        edge = math.dist(to_sheet(wall, turn, 0.0), to_sheet(wall, turn, wall.slant))
        assert edge == pytest.approx(wall.slant, abs=1e-12)
    left, right = to_sheet(wall, -math.pi, 30.0), to_sheet(wall, math.pi, 30.0)
    assert (-left[0], left[1]) == pytest.approx(right, abs=1e-12)


@given(frusta(), TURNS, SHARES, st.floats(min_value=0, max_value=math.tau))
def test_a_small_step_is_as_long_on_the_sheet_as_on_the_wall(
    cup: Cup, turn: float, share: float, direction: float
) -> None:
    # A chord of 0.002 mm is short of its arc by (0.002/ρ)²/24, less than 7e-9 of itself where ρ ≥ 5 mm; rounding of the
    # points takes less than 1e-9 of it.
    wall = cup.walls[0]
    drop = 0.001 + share * (wall.slant - 0.002)
    half_turn, half_drop = 0.001 * math.cos(direction) / wall.radius_at(drop), 0.001 * math.sin(direction)
    ends = [(turn - half_turn, drop - half_drop), (turn + half_turn, drop + half_drop)]
    on_wall = math.dist(*(_in_space(wall, *end) for end in ends))
    on_sheet = math.dist(*(to_sheet(wall, *end) for end in ends))
    assert on_sheet == pytest.approx(on_wall, rel=1e-8)


def _in_space(wall: Wall, turn: float, drop: float) -> tuple[float, float, float]:
    radius = wall.top_radius + (wall.base_radius - wall.top_radius) * drop / wall.slant
    return radius * math.sin(turn), -radius * math.cos(turn), -wall.height * drop / wall.slant


@every_wall
def test_the_sheet_is_seen_from_outside_with_the_front_at_the_origin(wall: Wall) -> None:
    assert to_sheet(wall, 0.0, 0.0) == (0.0, 0.0)
    assert to_sheet(wall, 0.0, 20.0) == (0.0, -20.0)
    right, y = to_sheet(wall, 0.1, 10.0)
    assert right == pytest.approx(0.1 * wall.radius_at(10.0), rel=2e-3)
    # a level line sags away from the wider edge's side: up where the base is wider, down where the top is
    assert math.copysign(1, y + 10) == -math.copysign(1, wall.cone_constant) or abs(wall.cone_constant) < 1e-9


@pytest.mark.parametrize("name", ["pointed at the base", "pointed at the top"])
def test_the_apex_of_a_cone_goes_back_to_its_drop_at_the_front(name: str) -> None:
    wall = CASES[name]
    drop = 0.0 if wall.top_radius == 0 else wall.slant
    assert to_wall(wall, *to_sheet(wall, 2.0, drop)) == pytest.approx((0.0, drop), abs=NEAR)
    assert wall_points(wall, np.zeros(2), np.full(2, -drop)).tolist() == [pytest.approx([0.0, drop], abs=NEAR)] * 2


@every_wall
def test_uprights_lean_by_the_stated_angle(wall: Wall) -> None:
    for turn in (-2.0, 0.0, 1.0, math.pi):
        (x0, y0), (x1, y1) = to_sheet(wall, turn, 10.0), to_sheet(wall, turn, 20.0)
        # upwards on the wall, from drop 20 to drop 10; anticlockwise from the sheet's own upright
        lean = math.atan2(x1 - x0, y0 - y1)
        assert math.remainder(sheet_turn_rad(wall, turn) - lean, math.tau) == pytest.approx(0, abs=1e-12)


@every_wall
def test_blocks_of_points_join_without_a_gap(wall: Wall) -> None:
    count = 2 * BLOCK + 7
    turns, drops = np.linspace(-3, 3, count), np.linspace(1, wall.slant - 1, count)
    sheet = sheet_points(wall, turns, drops)
    assert sheet.shape == (count, 2)
    assert np.abs(sheet - np.column_stack(to_sheet(wall, turns, drops, np))).max() <= NEAR
    back = wall_points(wall, sheet[:, 0], sheet[:, 1])
    assert np.abs((back[:, 0] - turns) * wall.radius_at(drops)).max() <= NEAR
    assert np.abs(back[:, 1] - drops).max() <= NEAR


@every_wall
def test_arrays_broadcast_and_agree_with_single_floats(wall: Wall) -> None:
    turns = np.array([[-3.0], [0.0], [0.5], [3.0]])
    drops = np.array([0.5, 10.0, 30.0])
    x, y = to_sheet(wall, turns, drops, np)
    assert x.shape == y.shape == (4, 3)
    back_turn, back_drop = to_wall(wall, x, y, np)
    for row, turn in enumerate(turns[:, 0].tolist()):
        for column, drop in enumerate(drops.tolist()):
            at = (row, column)
            assert (x[at], y[at]) == pytest.approx(to_sheet(wall, turn, drop), abs=NEAR)
            assert (back_turn[at], back_drop[at]) == pytest.approx((turn, drop), abs=NEAR)


# The flat sector in other libraries -----------------------------------------------------------------------------------

SECTORS = {
    "slight taper": Wall(top_radius=44, base_radius=35, height=170),
    "more than half a turn": Wall(top_radius=45, base_radius=15, height=20),
    "wide at the base": Wall(top_radius=20, base_radius=45, height=60),
}
every_sector = pytest.mark.parametrize("wall", SECTORS.values(), ids=SECTORS.keys())


@every_sector
def test_shapely_finds_the_area_and_outline_of_the_flat_wall(wall: Wall) -> None:
    from shapely import Polygon

    turns = np.linspace(-math.pi, math.pi, 40_001)
    top, base = (sheet_points(wall, turns, np.full_like(turns, drop)) for drop in (0.0, wall.slant))
    polygon = Polygon(np.concatenate([base, top[::-1]]))
    assert polygon.is_valid
    assert polygon.exterior.is_ccw
    # closed forms: π(R + r)s, 2π(R + r) + 2s; a chord of 1/40,000 of the edge is short by at most 4e-9 of itself
    assert polygon.area == pytest.approx(math.pi * (wall.top_radius + wall.base_radius) * wall.slant, rel=1e-8)
    outline = math.tau * (wall.top_radius + wall.base_radius) + 2 * wall.slant
    assert polygon.length == pytest.approx(outline, rel=1e-8)


@every_sector
def test_svgpathtools_finds_the_area_and_outline_of_the_flat_wall(wall: Wall) -> None:
    from svgpathtools import Arc, Line
    from svgpathtools import Path as SvgPath

    top_left, base_left, base_right, top_right = (
        complex(*to_sheet(wall, turn, drop))
        for turn, drop in ((-math.pi, 0.0), (-math.pi, wall.slant), (math.pi, wall.slant), (math.pi, 0.0))
    )
    large, rightwards = wall.sector_angle_rad > math.pi, wall.cone_constant < 0

    def edge(start: complex, end: complex, drop: float, sweep: bool) -> Arc:
        radius = wall.sheet_radius_at(drop)
        return Arc(start, complex(radius, radius), 0, large, sweep, end)

    path = SvgPath(
        Line(top_left, base_left),
        edge(base_left, base_right, wall.slant, rightwards),
        Line(base_right, top_right),
        edge(top_right, top_left, 0.0, not rightwards),
    )
    assert path.length() == pytest.approx(math.tau * (wall.top_radius + wall.base_radius) + 2 * wall.slant, rel=1e-9)
    # svgpathtools measures areas along chords, here of 0.5 mm
    area = math.pi * (wall.top_radius + wall.base_radius) * wall.slant
    assert path.area(chord_length=0.5) == pytest.approx(area, rel=1e-6)
