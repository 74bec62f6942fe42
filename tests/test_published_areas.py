"""Areas, volumes and flat patterns that others published, compared at the digits they printed.

The numbers of each case are the source's, in its own units; nothing here is rounded from our output. A source that
worked with a rounded π is compared after the same rounding, and the case says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given

from cupgeom import Cup, Ring, Wall

from .strategies import frusta

PI_22_7 = 22 / 7
PI_3_1416 = 3.1416


def _wall(top_diameter: float, base_diameter: float, height: float) -> Wall:
    return Wall(top_radius=top_diameter / 2, base_radius=base_diameter / 2, height=height)


def _wall_of_slant(top_radius: float, base_radius: float, slant: float) -> Wall:
    height = math.sqrt(slant**2 - (top_radius - base_radius) ** 2)
    return Wall(top_radius=top_radius, base_radius=base_radius, height=height)


# Flat patterns --------------------------------------------------------------------------------------------------------


def test_net_of_a_frustum() -> None:
    # ceemrr.com, Geometry 2, Drawings & Nets 6, "The Net of a Frustum": diameters 5 and 8 in, height 4 in
    wall = _wall(8, 5, 4)
    assert round(wall.sheet_radius_at(0), 2) == 11.39
    assert round(wall.sheet_radius_at(wall.slant), 2) == 7.12
    assert round(math.degrees(wall.sector_angle_rad), 1) == 126.4


def test_net_of_a_frustum_stood_upside_down_is_the_same() -> None:
    # the source above
    wall = _wall(5, 8, 4)
    assert round(wall.sheet_radius_at(0), 2) == 7.12
    assert round(wall.sheet_radius_at(wall.slant), 2) == 11.39
    assert round(math.degrees(wall.sector_angle_rad), 1) == 126.4


def test_sector_of_a_cone_with_a_right_angle_at_its_tip() -> None:
    # anvilfire.com, 21st Century Bs, cones1: 254.6° for a half-angle of 45°
    assert round(math.degrees(_wall(2, 0, 1).sector_angle_rad), 1) == 254.6


# Lateral areas --------------------------------------------------------------------------------------------------------


def test_lateral_area_of_a_mensuration_book() -> None:
    # posted as mathhelpforum.com thread 180854: diameters 20 and 12 ft, height 30 ft, 1521.3 ft²
    assert round(_wall(20, 12, 30).lateral_area, 1) == 1521.3


def test_lateral_area_from_circumferences() -> None:
    # NCERT class 10 mathematics, exercise 13.4, question 2 (the answer from memory, and (18 + 6)/2 × 4 by Pappus):
    # circumferences 18 and 6 cm, slant 4 cm, 48 cm²
    wall = _wall_of_slant(18 / math.tau, 6 / math.tau, 4)
    assert wall.lateral_area == pytest.approx(48, rel=1e-14)


def test_lateral_area_of_an_old_mensuration_text() -> None:
    # book id 4mlaAAAAcAAJ, p. 76, example 5: diameters 5 ft 4 in and 8 ft 3 in, slant 10 ft 6 in, 224 ft² (whole feet:
    # the same with 22/7)
    area = _wall_of_slant(99 / 2, 64 / 2, 126).lateral_area / 144
    assert round(area) == round(area * PI_22_7 / math.pi) == 224


def test_cone_of_the_machinists_handbook() -> None:
    # Machinery's Handbook, 31st ed. (2020), p. 90: diameter 6 in, height 4 in
    wall = _wall(6, 0, 4)
    assert round(wall.lateral_area, 3) == 47.124
    assert round(wall.volume, 1) == 37.7


def test_cylinder_of_the_machinists_handbook() -> None:
    # Machinery's Handbook, 31st ed. (2020), p. 89: diameter 2.5 in, height 20 in
    wall = _wall(2.5, 2.5, 20)
    assert round(wall.lateral_area, 2) == 157.08
    assert round(wall.volume, 2) == 98.17


# Volumes --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("diameters", "height", "pi", "digits", "expected"),
    [
        # NCERT class 10 mathematics, exercise 13.4, question 1: a drinking glass, 102 2/3 cm³ with π = 22/7
        ((4, 2), 14, PI_22_7, 10, 102.6666666667),
        # philoid.com Q32078: a drinking glass, 418 cm³ with π = 22/7
        ((6, 4), 21, PI_22_7, 10, 418),
        # old mensuration text (book id DPo2AAAAMAAJ), frustum examples 3 and 4, with π = 3.1416 (0.7854 = π/4)
        ((4, 2), 9, PI_3_1416, 4, 65.9736),
        ((16, 9), 38, PI_3_1416, 4, 4785.1804),
    ],
)
def test_volumes_worked_with_a_rounded_pi(
    diameters: tuple[float, float], height: float, pi: float, digits: int, expected: float
) -> None:
    assert round(_wall(*diameters, height).volume * pi / math.pi, digits) == expected


# Surfaces of revolution -----------------------------------------------------------------------------------------------
# OpenStax, Calculus, "Arc Length of a Curve and Surface Area" (Volume 1, section 6.4; bundle module m53644)


def test_straight_taper_of_the_calculus_book() -> None:
    # y = 5x for 1 ≤ x ≤ 5, about the x axis: radii 5 and 25, height 4
    assert _wall(50, 10, 4).lateral_area == pytest.approx(120 * math.pi * math.sqrt(26), rel=1e-14)


def test_cone_of_the_calculus_book() -> None:
    # y = x + 1 for 0 ≤ x ≤ 3, about the y axis: radii 3 and 0, height 3
    assert _wall(6, 0, 3).lateral_area == pytest.approx(9 * math.sqrt(2) * math.pi, rel=1e-14)


def _turned(radius: Callable[[float], float], height: Callable[[float], float], count: int) -> Cup:
    """A cup of many walls inscribed in a curve, its parameter running from 0 to 1."""
    steps = (1 - index / count for index in range(count + 1))
    rings = tuple(Ring(diameter=2 * radius(step), height=height(step)) for step in steps)
    return Cup(rings=rings)


@pytest.mark.parametrize(
    ("radius", "height", "expected"),
    [
        # y = √x, 1 ≤ x ≤ 4, about the x axis
        (lambda t: math.sqrt(1 + 3 * t), lambda t: 3 * t, math.pi / 6 * (17 * math.sqrt(17) - 5 * math.sqrt(5))),
        # y = √(1 − x), 0 ≤ x ≤ ½, about the x axis
        (lambda t: math.sqrt(1 - t / 2), lambda t: t / 2, math.pi / 6 * (5 * math.sqrt(5) - 3 * math.sqrt(3))),
        # x = y³/3, 0 ≤ y ≤ 2, about the y axis
        (lambda t: (2 * t) ** 3 / 3, lambda t: 2 * t, math.pi / 9 * (17**1.5 - 1)),
        # x = √(9 − y²), 0 ≤ y ≤ 2, about the y axis
        (lambda t: math.sqrt(9 - (2 * t) ** 2), lambda t: 2 * t, 12 * math.pi),
        # y = √x, 2 ≤ x ≤ 6, about the x axis
        (lambda t: math.sqrt(2 + 4 * t), lambda t: 4 * t, 49 * math.pi / 3),
        # y = x², 0 ≤ x ≤ 2, about the y axis
        (lambda t: 2 * t, lambda t: (2 * t) ** 2, math.pi / 6 * (17 * math.sqrt(17) - 1)),
    ],
    ids=["root", "falling root", "cube", "sphere", "long root", "parabola"],
)
def test_many_walls_approach_the_curved_surface(
    radius: Callable[[float], float], height: Callable[[float], float], expected: float
) -> None:
    # The area of inscribed walls is off by c/n² + O(n⁻⁴), so that two numbers of walls give the curve's own area.
    few, many = (_turned(radius, height, count).lateral_area for count in (200, 400))
    assert many == pytest.approx(expected, rel=1e-4)
    assert (4 * many - few) / 3 == pytest.approx(expected, rel=1e-8)


# Pappus: area = 2π × radius of the profile's centroid × its length, which needs no formula for a frustum --------------


@given(frusta())
def test_area_of_a_frustum_by_pappus(cup: Cup) -> None:
    assert cup.lateral_area == pytest.approx(_pappus(cup), rel=1e-13)


def test_area_of_a_waisted_cup_by_pappus() -> None:
    profile = ((92, 150), (88, 140), (64, 90), (64, 70), (81, 12), (70, 0))
    cup = Cup(rings=tuple(Ring(diameter=diameter, height=height) for diameter, height in profile))
    assert len(cup.walls) == 5
    assert cup.lateral_area == pytest.approx(_pappus(cup), rel=1e-13)


def _pappus(cup: Cup) -> float:
    from shapely import LineString

    profile = LineString([(ring.diameter / 2, ring.height) for ring in cup.rings])
    return math.tau * profile.centroid.x * profile.length
