"""Places of a decal on the wall, against the map written again in 50 digits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mpmath import mp, mpf

from cupgeom import CupgeomError, Wall
from cupgeom.decor.place import BENDS, Placement
from cupgeom.flatten import to_wall

WALLS = {
    "3 degrees": Wall(top_radius=44, base_radius=44 - 170 * math.tan(math.radians(3)), height=170),
    "12 degrees": Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120),
    "upside down": Wall(top_radius=30, base_radius=30 + 110 * math.tan(math.radians(12)), height=110),
    "cylinder": Wall(top_radius=40, base_radius=40, height=120),
}
every_wall = pytest.mark.parametrize("wall", WALLS.values(), ids=WALLS)
OFFSETS = st.floats(min_value=-28, max_value=28)


def exact(placement: Placement, u: float, v: float) -> complex:
    """The same map from the apex, in 50 digits."""
    mp.dps = 50
    wall = placement.wall
    top, base = mpf(wall.top_radius), mpf(wall.base_radius)
    slant = mp.hypot(wall.height, top - base)
    k = (top - base) / slant
    turned = mp.mpc(u, v) * mp.expjpi(mpf(placement.rotate_deg) / 180)
    drop0, turn0 = mpf(placement.drop), mpf(placement.turn_deg) * mp.pi / 180
    radius0 = top - k * drop0
    theta = turn0 + turned.real / radius0
    if placement.bend == "level" or k == 0:
        drop = drop0 - turned.imag
    else:  # scale ρ/ρ₀ all round: ρ = ρ₀ exp(k v/ρ₀)
        drop = (top - radius0 * mp.exp(k * turned.imag / radius0)) / k
    if k == 0:
        return complex(top * theta, -drop)
    radius = (top - k * drop) / k
    return complex(radius * mp.sin(k * theta), radius * mp.cos(k * theta) - top / k)


@every_wall
@pytest.mark.parametrize("bend", ["level", "even"])
@settings(max_examples=125)  # a thousand points over the walls and bends
@given(OFFSETS, OFFSETS, st.floats(min_value=-170, max_value=170), st.sampled_from([0.0, 30.0]))
def test_points_lie_where_the_map_says(
    wall: Wall, bend: str, u: float, v: float, turn_deg: float, rotate_deg: float
) -> None:
    placement = Placement(wall=wall, turn_deg=turn_deg, drop=55, bend=bend, rotate_deg=rotate_deg)
    (found,) = placement.to_sheet(np.array([complex(u, v)]))
    assert abs(found - exact(placement, u, v)) <= 1e-11
    (back,) = placement.from_sheet(np.array([found]))
    assert abs(back - complex(u, v)) <= 1e-10


@every_wall
def test_a_level_baseline_keeps_its_drop(wall: Wall) -> None:
    placement = Placement(wall=wall, turn_deg=20, drop=55)
    sheet = placement.to_sheet(np.linspace(-30, 30, 61) + 7j)
    _, drop = to_wall(wall, sheet.real, sheet.imag, np)
    assert np.abs(drop - 48).max() <= 1e-9


@every_wall
@pytest.mark.parametrize("true_drop", [None, 40.0, 70.0])
def test_the_asked_width_is_the_arc_along_the_wall(wall: Wall, true_drop: float | None) -> None:
    placement = Placement(wall=wall, turn_deg=0, drop=55, true_drop=true_drop)
    turn, _ = placement.to_turn_and_drop(np.array([-30 + 0j, 30 + 0j]))
    assert (turn[1] - turn[0]) * wall.radius_at(true_drop or 55) == pytest.approx(60, abs=1e-9)


def distortion(placement: Placement) -> float:
    """Largest departure from a right angle and from equal lengths of the two derivatives, on a 5 × 5 grid."""
    grid = np.array([complex(u, v) for u in (-24, -12, 0, 12, 24) for v in (-24, -12, 0, 12, 24)])
    one, none = np.ones(25), np.zeros(25)
    _, _, east_x, east_y = placement.traced(grid.real, grid.imag, one, none)
    _, _, north_x, north_y = placement.traced(grid.real, grid.imag, none, one)
    length = np.hypot(east_x, east_y)
    skew = np.abs(east_x * north_x + east_y * north_y) / length**2
    return float(max(skew.max(), np.abs(np.hypot(north_x, north_y) / length - 1).max()))


@pytest.mark.parametrize("name", ["3 degrees", "12 degrees", "upside down"])
def test_even_is_conformal_and_level_is_not(name: str) -> None:
    assert distortion(Placement(wall=WALLS[name], turn_deg=10, drop=55, bend="even")) <= 1e-9
    assert distortion(Placement(wall=WALLS[name], turn_deg=10, drop=55, bend="level")) > 1e-3


@every_wall
@pytest.mark.parametrize("bend", BENDS)
def test_the_derivative_is_that_of_the_map(wall: Wall, bend: str) -> None:
    if bend == "flat":
        return
    placement = Placement(wall=wall, turn_deg=-40, drop=50, bend=bend, rotate_deg=25)
    at, step = np.array([12 + 9j]), 1e-5
    for along in (1, 1j):
        two = placement.to_sheet(at + step * along) - placement.to_sheet(at - step * along)
        _, _, vx, vy = placement.traced(
            at.real, at.imag, np.array([complex(along).real]), np.array([complex(along).imag])
        )
        assert abs(complex(vx[0], vy[0]) - two[0] / (2 * step)) <= 1e-8


def test_what_cannot_be_placed_is_said_in_one_line() -> None:
    pointed = Wall(top_radius=40, base_radius=0, height=100)
    with pytest.raises(CupgeomError) as unknown:
        Placement(wall=pointed, turn_deg=0, drop=20, bend="round")
    assert str(unknown.value) == "bend: must be one of level, even, flat, got 'round'"
