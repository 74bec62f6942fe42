"""The film on a turning cup: the theory against other quadratures, root finders and the equation in time."""

from __future__ import annotations

import math
from functools import cache

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from cupgeom.coating.coats import reference_tumbler
from cupgeom.coating.cure import Cure
from cupgeom.coating.film import (
    CRITICAL_FLUX,
    Rack,
    critical_mean,
    flux_of,
    height,
    mean_film,
    mean_height,
    slowest_rpm,
    smallest_radius,
    thinnest_pa_s,
)
from cupgeom.coating.glitter import Glitter
from cupgeom.coating.resin import EXAMPLE
from cupgeom.cup import Cup, Ring, Span
from cupgeom.errors import CupgeomError

RACK = Rack(speed_rpm=5, viscosity_pa_s=1, density_kg_m3=1100)
TUMBLER = reference_tumbler()
SIZES = st.floats(0.05, 50)


def exact_mean(flux: mpmath.mpf) -> mpmath.mpf:
    """Mean height by mpmath's quadrature and its own roots of the cubic, 30 digits."""

    def root(angle: mpmath.mpf) -> mpmath.mpf:
        cosine = mpmath.cos(angle)
        size = mpmath.sqrt(abs(cosine))
        part = 3 * flux * size / 2
        return 2 / size * (mpmath.sin(mpmath.asin(part) / 3) if cosine > 0 else mpmath.sinh(mpmath.asinh(part) / 3))

    with mpmath.workdps(30):
        ends = [0, mpmath.pi / 8, mpmath.pi / 2, 3 * mpmath.pi / 4, mpmath.pi]
        return mpmath.quad(root, ends) / mpmath.pi


@cache
def exact_limit(rpm: float, radius: float) -> float:
    """Drip limit in mm at 1 Pa·s and 1100 kg/m³, worked in metres and seconds."""
    omega = mpmath.mpf(rpm) * 2 * mpmath.pi / 60
    return (
        float(exact_mean(mpmath.mpf(2) / 3) * mpmath.sqrt(omega * radius / 1000 / (1100 * mpmath.mpf("9.80665")))) * 1e3
    )


# The steady film -----------------------------------------------------------------------------------------------------


def test_the_critical_mean_to_ten_digits() -> None:
    assert critical_mean() == pytest.approx(float(exact_mean(mpmath.mpf(2) / 3)), abs=1e-11)


def test_the_critical_load_is_the_published_one() -> None:
    # Leslie, Wilson & Duffy, QJMAM 2012, abstract: 4.44272
    assert round(math.tau * critical_mean(), 5) == 4.44272


def test_the_bound_is_that_of_other_writers() -> None:
    """α = gQ²/(3νU³) ≤ 4/27 (University of Copenhagen fluid-mechanics exam NFYB21003U)."""
    radius = 35.0
    film = RACK.profile(radius, RACK.drip_limit(radius), 361)
    speed = RACK.speed_rad_s * radius / 1000
    flow = speed * film[270] / 1000  # at θ = 90° the wall moves level and gravity drives nothing along it
    alpha = 9.80665 * flow**2 / (3 * (1 / 1100) * speed**3)
    assert alpha == pytest.approx(4 / 27, rel=1e-9)


@pytest.mark.parametrize("flux", [0.1, 0.4, 0.6, 0.66, 2 / 3])
def test_heights_are_the_smallest_roots_of_the_cubic(flux: float) -> None:
    for angle in np.linspace(-3.1, 3.1, 32):
        roots = np.roots([math.cos(angle), 0, -3, 3 * flux])
        real = [root.real for root in roots if abs(root.imag) < 1e-6 and root.real > 0]
        assert float(height(flux, angle)) == pytest.approx(min(real), rel=1e-6)


def test_a_level_wall_carries_the_flux_itself() -> None:
    assert height(0.5, [math.pi / 2, -math.pi / 2]) == pytest.approx([0.5, 0.5], abs=1e-15)
    assert height(0.0, [0.0, 1.0, 3.0]) == pytest.approx([0.0, 0.0, 0.0])


@pytest.mark.parametrize("flux", ["0.05", "0.5", "0.65", "0.6666"])
def test_mean_heights_by_another_quadrature(flux: str) -> None:
    assert mean_height(float(flux)) == pytest.approx(float(exact_mean(mpmath.mpf(flux))), rel=1e-12)


def test_a_mean_gives_its_flux_back() -> None:
    for flux in (0.0, 0.1, 0.5, 0.66, CRITICAL_FLUX):
        assert flux_of(mean_height(flux)) == pytest.approx(flux, abs=1e-9)


@pytest.mark.parametrize("share", [0.2, 0.7, 0.95])
def test_a_profile_has_its_mean_one_flux_and_its_thickest_place_where_the_wall_rises(share: float) -> None:
    film = share * RACK.drip_limit(35.0)
    profile = RACK.profile(35.0, film, 721)
    assert profile[:-1].mean() == pytest.approx(film, rel=1e-9)
    angles, relative = np.linspace(-math.pi, math.pi, 721), profile / RACK.scale(35.0)
    assert np.ptp(relative - relative**3 * np.cos(angles) / 3) < 1e-12
    assert profile.argmax() == 360
    assert RACK.thickest(35.0, film) == pytest.approx(profile.max(), rel=1e-12)


def test_at_the_limit_the_thickest_place_is_the_scale() -> None:
    assert RACK.thickest(35.0, RACK.drip_limit(35.0)) == pytest.approx(RACK.scale(35.0), rel=1e-6)


def test_no_profile_above_the_limit() -> None:
    with pytest.raises(CupgeomError, match=r"^film: must be at most the drip limit of 0\.922 mm, got 1 mm$"):
        RACK.profile(35.0, 1.0)
    with pytest.raises(CupgeomError, match=r"^flux: must be from 0 to 2/3, got 0\.7$"):
        mean_height(0.7)


# The equation in time -------------------------------------------------------------------------------------------------


def in_time(mean: float, turns: float, cells: int = 128) -> tuple[np.ndarray, np.ndarray]:
    """Film after some turns from an even one: ∂H/∂T + ∂(H − H³ cos θ/3)/∂θ = 0 in cells, by scipy.

    The flow through a face is what the cell before it sends, or what the cell behind it takes, whichever is less: the
    exact flow between two even cells of this law. It damps waves as surface tension does.
    """
    faces = -math.pi + math.tau * np.arange(1, cells + 1) / cells
    cosine = np.cos(faces)
    best = np.where(cosine > 1e-9, 1 / np.sqrt(np.maximum(cosine, 1e-9)), np.inf)  # carries most, at each face

    def rate(_: float, film: np.ndarray) -> np.ndarray:
        before, behind = np.minimum(film, best), np.maximum(np.roll(film, -1), best)
        sent = before - before**3 * cosine / 3
        with np.errstate(invalid="ignore"):
            taken = np.where(np.isfinite(best), behind - behind**3 * cosine / 3, np.inf)
        flow = np.minimum(sent, taken)
        return (np.roll(flow, 1) - flow) * cells / math.tau

    solved = solve_ivp(
        rate, (0, math.tau * turns), np.full(cells, mean), method="RK45", rtol=1e-6, t_eval=[math.tau * turns]
    )
    return faces, solved.y[:, -1]


def test_the_equation_in_time_settles_on_the_steady_film() -> None:
    mean = 0.9 * critical_mean()
    faces, film = in_time(mean, 30)
    assert film.mean() == pytest.approx(mean, rel=1e-9)  # nothing is lost
    assert np.abs(film - height(flux_of(mean), faces)).max() < 2e-3


def test_above_the_limit_a_lobe_grows() -> None:
    """The lobe takes what is too much; the rest of the wall carries the film of the limit."""
    lobes = []
    for share in (1.05, 1.1):
        faces, film = in_time(share * critical_mean(), 3)
        steady = height(CRITICAL_FLUX, faces)
        lobes.append(film > steady + 0.1)
        assert film.max() > 1.4  # no smooth film is thicker than 1 anywhere
        assert np.median(np.abs(film - steady)[~lobes[-1]]) < 0.01
    assert 0 < lobes[0].sum() < lobes[1].sum() < 64  # cells of 128


# Cups -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "cup",
    [
        TUMBLER,
        Cup.frustum(70, 88, 120),
        Cup.frustum(80, 80, 100),
        Cup(rings=(Ring(diameter=88, height=170), Ring(diameter=84, height=120), Ring(diameter=60, height=0))),
    ],
    ids=["tapered", "upside down", "straight", "two walls"],
)
def test_the_most_a_wall_carries_by_numerical_integration(cup: Cup) -> None:
    expected = 0.0
    for start, wall in zip(cup.wall_tops, cup.walls, strict=True):
        low = max(cup.coated_span.top - start, 0.0)
        expected += quad(
            lambda s, wall=wall: RACK.drip_limit(wall.radius_at(s)) * math.tau * wall.radius_at(s), low, wall.slant,
            epsabs=0, epsrel=1e-12,
        )[0]  # fmt: skip
    assert RACK.capacity(cup) == pytest.approx(expected, rel=1e-11)


@pytest.mark.parametrize("taper", [1e-12, 1e-9, 1e-6])
def test_a_hair_of_taper_changes_nothing(taper: float) -> None:
    straight, tapered = Cup.frustum(80, 80, 100), Cup.frustum(80 + taper, 80, 100)
    assert RACK.capacity(tapered) == pytest.approx(RACK.capacity(straight), rel=2.5 * taper / 160 + 1e-15)
    assert RACK.capacity(straight) == pytest.approx(RACK.drip_limit(40.0) * straight.lateral_area, rel=1e-13)


def test_the_reference_tumbler_at_5_and_3_rpm() -> None:
    """1 Pa·s, 1100 kg/m³, coated from 6 mm below the top edge: radius 35 mm at the base, where it drips first."""
    assert smallest_radius(TUMBLER) == pytest.approx(35.0, abs=1e-9)
    area = TUMBLER.coated_area
    # π(R + r)s of the part below a drop of 6 mm, by hand
    slant = math.hypot(170, 9)
    assert area == pytest.approx(math.pi * (44 - 9 / slant * 6 + 35) * (slant - 6), rel=1e-12)
    for rpm, limit, carried, first, second in (
        (5, 0.921607653499, 39.728422, 0.694902, 0.427632),
        (3, 0.713874218748, 30.773504, 0.897115, 0.552071),
    ):
        rack = Rack(speed_rpm=rpm, viscosity_pa_s=1, density_kg_m3=1100)
        assert exact_limit(rpm, 35) == pytest.approx(limit, abs=1e-12)  # the digits above are mpmath's
        assert rack.drip_limit(35.0) == pytest.approx(limit, abs=1e-12)
        one = exact_limit(rpm, 1)
        integral = quad(
            lambda s, one=one: one * math.sqrt(44 - 9 / slant * s) * math.tau * (44 - 9 / slant * s), 6, slant
        )
        assert integral[0] / 1000 == pytest.approx(carried, abs=1e-6)
        assert rack.capacity(TUMBLER) / 1000 == pytest.approx(carried, abs=1e-6)
        # 26 and 16 mL end on the cup (CHECKS T-b: 30 and 20 mL mixed, 4 mL lost)
        for volume, share in ((26, first), (16, second)):
            assert volume * 1000 / area / limit == pytest.approx(share, abs=1e-6)
            assert rack.share(TUMBLER, mean_film(TUMBLER, volume * 1000)) == pytest.approx(share, abs=1e-6)


def test_units_that_go_wrong() -> None:
    """Worked by hand: 60 rpm is 2π rad/s, 1000 cP is 1 Pa·s, R is half of D."""
    hand = 1000 * critical_mean() * math.sqrt(0.5 * (2 * math.pi) * 0.030 / (1200 * 9.80665))
    rack = Rack(speed_rpm=60, viscosity_pa_s=500 / 1000, density_kg_m3=1200)
    assert rack.speed_rad_s == pytest.approx(6.283185307, abs=1e-9)
    assert rack.drip_limit(30.0) == pytest.approx(hand, rel=1e-12)
    straight = Cup.frustum(60, 60, 100)
    assert rack.share(straight, hand) == pytest.approx(1.0, rel=1e-12)


@settings(max_examples=50)
@given(SIZES, SIZES, SIZES, SIZES)
def test_the_limit_goes_with_the_root_of_viscosity_speed_and_radius_over_density(
    a: float, b: float, c: float, d: float
) -> None:
    rack = Rack(speed_rpm=5 * a, viscosity_pa_s=b, density_kg_m3=1100 * c)
    expected = RACK.drip_limit(35.0) * math.sqrt(a * b * d / c)
    assert rack.drip_limit(35.0 * d) == pytest.approx(expected, rel=1e-12)


@given(st.floats(0.01, 3), SIZES)
def test_the_slowest_rack_and_the_thinnest_resin_are_at_the_limit(film: float, viscosity: float) -> None:
    rpm = slowest_rpm(TUMBLER, film, viscosity, 1100)
    assert Rack(speed_rpm=rpm, viscosity_pa_s=viscosity, density_kg_m3=1100).share(TUMBLER, film) == pytest.approx(1)
    thinnest = thinnest_pa_s(TUMBLER, film, 5, 1100)
    assert Rack(speed_rpm=5, viscosity_pa_s=thinnest, density_kg_m3=1100).share(TUMBLER, film) == pytest.approx(1)


@pytest.mark.parametrize("field", ["speed_rpm", "viscosity_pa_s", "density_kg_m3"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_rack_refuses_what_is_no_rack(field: str, value: float) -> None:
    with pytest.raises(CupgeomError, match=f"^{field}: must be"):
        Rack(**{"speed_rpm": 5.0, "viscosity_pa_s": 1.0, "density_kg_m3": 1100.0} | {field: value})


def test_a_coat_to_the_point_of_a_cone_is_refused() -> None:
    with pytest.raises(CupgeomError, match=r"^coated: reaches the point of the cup"):
        RACK.share(Cup.frustum(80, 0, 100), 0.1)
    tip = Cup.frustum(80, 0, 100, coated=Span(top=0, bottom=50))
    assert smallest_radius(tip) == pytest.approx(40 * (1 - 50 / math.hypot(40, 100)))


# Curing ---------------------------------------------------------------------------------------------------------------

CURE = Cure(resin=EXAMPLE)


def test_the_viscosity_doubles_with_the_pot_life_up_to_the_gel() -> None:
    assert CURE.viscosity_pa_s(40) == pytest.approx(2 * CURE.viscosity_pa_s(0), rel=1e-12)
    assert CURE.viscosity_pa_s(120) == pytest.approx(8 * CURE.viscosity_pa_s(0), rel=1e-12)
    assert CURE.viscosity_pa_s(1000) == CURE.viscosity_pa_s(240)


def test_the_limit_over_time_has_its_least_value_when_the_resin_is_thinnest() -> None:
    for cure in (CURE, Cure(resin=EXAMPLE, cup_c=45), Cure(resin=EXAMPLE, cup_c=45, warmed_at_min=20)):
        minutes = np.append(np.linspace(0, 240, 481), cure.weakest_min)
        limits = cure.limits(5, 35.0, minutes)
        assert limits.min() == pytest.approx(cure.rack(5, cure.weakest_min).drip_limit(35.0), rel=1e-12)
    assert Cure(resin=EXAMPLE, cup_c=45, warmed_at_min=20).weakest_min == 20
    assert Cure(resin=EXAMPLE, cup_c=23, warmed_at_min=60).weakest_min == 0


@pytest.mark.parametrize("stop", [0.0, 30.0, 200.0, 239.0])
def test_the_sag_by_numerical_integration(stop: float) -> None:
    left = quad(lambda minute: 60 / CURE.viscosity_pa_s(minute), stop, 240, epsrel=1e-12)[0]
    expected = 1100 * 9.80665 * 0.0006**3 / (3 * 0.035) * left * 1000
    assert CURE.sag(35.0, 0.6, stop) == pytest.approx(expected, rel=1e-9)


def test_the_sag_is_the_first_movement_of_the_equation_at_rest() -> None:
    """∂h/∂t = (ρg/(3μR)) ∂(h³ cos θ)/∂θ without turning: for an even film its largest size is ρgh³/(3μR)."""
    angles = np.linspace(0, math.tau, 721)
    slope = np.gradient(0.0006**3 * np.cos(angles), angles)
    fastest = 1100 * 9.80665 / (3 * 1.0 * 0.035) * np.abs(slope).max()  # m/s
    minute = 1e-3
    moved = CURE.sag(35.0, 0.6, 0.0) - CURE.sag(35.0, 0.6, minute)
    assert moved / (60 * minute) / 1000 == pytest.approx(fastest, rel=1e-4)


@settings(max_examples=30)
@given(st.floats(0.05, 2), st.floats(0.01, 0.5))
def test_the_rack_stops_when_the_sag_is_what_is_allowed(film: float, allowed: float) -> None:
    stop = CURE.stop_min(35.0, film, allowed)
    assert 0 <= stop <= 240
    if stop == 0:
        assert CURE.sag(35.0, film, 0) <= allowed
    else:
        assert CURE.sag(35.0, film, stop) == pytest.approx(allowed, rel=1e-6)


def test_a_thin_coat_may_stop_at_once_and_a_warmed_cup_may_not() -> None:
    assert CURE.stop_min(35.0, 0.02) == 0
    assert Cure(resin=EXAMPLE, cup_c=40).stop_min(35.0, 0.02) == 30


def test_a_cup_colder_than_the_room_is_refused() -> None:
    with pytest.raises(CupgeomError, match=r"^cup_c: must be at least the room's 22 °C, got 10 °C$"):
        Cure(resin=EXAMPLE, cup_c=10)


# Glitter --------------------------------------------------------------------------------------------------------------


def test_the_least_film_fills_the_voids() -> None:
    """A layer 1 mm high that is half air takes 0.5 mm of resin; flakes without air take none."""
    assert Glitter(flake=1.0, voids=0.5).cover_film == 0.5
    assert Glitter(flake=1.0, voids=0.0).cover_film == 0.0


def test_glitter_in_per_cent_is_noticed() -> None:
    with pytest.raises(CupgeomError, match=r"^voids: must be at most 1, got 70; 70 % is 0\.7$"):
        Glitter(voids=70)
    with pytest.raises(CupgeomError, match=r"^flake: must be greater than 0 mm, got 0 mm$"):
        Glitter(flake=0)
