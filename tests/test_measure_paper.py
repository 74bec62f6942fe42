"""The paper fit: what gaps and a step say of a cup, and what one round with paper mends."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from cupgeom import Cup
from cupgeom.measure import (
    BASE,
    RIM,
    Calliper,
    EdgeGap,
    PaperGap,
    Place,
    Reading,
    SeamStep,
    Slant,
    Tape,
    fit,
    seam_step,
)
from cupgeom.measure.adjust import adjust
from cupgeom.measure.fitting import predictor

TRUE = Cup.frustum(88, 70, 170)


def traced_step(printed: Cup, true: Cup) -> float:
    """Height of the loose end of a printed top edge above the rim, by walking along it over the true cone.

    The edge keeps its length and its bend k'/R' in the surface. On a cone of radius ρ = R − k·drop a path with heading
    ψ below the level has drop' = sin ψ, and a geodesic keeps ρ cos ψ (Clairaut), that is ψ' = −k cos ψ/ρ; bent by κ in
    the surface, ψ' = κ − k cos ψ/ρ. It starts on the rim, level.
    """
    paper, wall = printed.walls[0], true.walls[0]
    bend = paper.cone_constant / paper.top_radius

    def slopes(_: float, state: np.ndarray) -> list[float]:
        drop, heading = state
        radius = wall.top_radius - wall.cone_constant * drop
        return [math.sin(heading), bend - wall.cone_constant * math.cos(heading) / radius]

    walk = solve_ivp(slopes, (0, math.tau * paper.top_radius), [0.0, 0.0], method="DOP853", rtol=1e-12, atol=1e-12)
    return -float(walk.y[0, -1])


def seam_gaps(printed: Cup, true: Cup) -> tuple[float, float]:
    """Gaps at both edges of a wrap made for one cup and laid on another by its top edge: true less printed length."""
    paper, wall = printed.walls[0], true.walls[0]
    at_its_end = wall.top_radius - wall.cone_constant * paper.slant
    return math.tau * (wall.top_radius - paper.top_radius), math.tau * (at_its_end - paper.base_radius)


@pytest.mark.parametrize(
    ("printed", "true"),
    [
        (Cup.frustum(88, 70, 170), Cup.frustum(88, 69, 170)),
        (Cup.frustum(88, 70, 170), Cup.frustum(87, 70.5, 168)),
        (Cup.frustum(82, 82, 95), Cup.frustum(82, 80, 95)),
        (Cup.frustum(82, 80, 95), Cup.frustum(82, 82, 95)),
        (Cup.frustum(60, 78, 100), Cup.frustum(60.4, 77, 101)),
        (Cup.frustum(140, 60, 63), Cup.frustum(139, 62, 60)),
        (Cup.frustum(150, 20, 20), Cup.frustum(150, 24, 20)),
    ],
)
def test_the_step_is_where_the_printed_edge_ends_when_it_is_walked_over_the_true_cone(printed: Cup, true: Cup) -> None:
    paper, wall = printed.walls[0], true.walls[0]
    step = seam_step(paper.top_radius, paper.cone_constant, wall.top_radius, wall.cone_constant)
    assert step == pytest.approx(traced_step(printed, true), abs=1e-7)
    assert abs(step) > 0.005


def test_a_slight_taper_steps_by_two_pi_squared_times_the_radius_times_the_difference_of_cone_constants() -> None:
    for difference in (1e-3, -1e-3):
        assert seam_step(44, 0.02, 44, 0.02 + difference) == pytest.approx(2 * math.pi**2 * 44 * difference, rel=0.02)
    assert seam_step(44, 0.02, 44, 0.021) > 0  # the cup has more taper than the paper: the loose end stands up


@given(
    rim=st.floats(min_value=30, max_value=150),
    base=st.floats(min_value=30, max_value=150),
    height=st.floats(min_value=60, max_value=250),
)
def test_the_right_paper_shows_no_step_and_no_gap(rim: float, base: float, height: float) -> None:
    cup = Cup.frustum(rim, base, height)
    wall = cup.walls[0]
    unknowns = np.array([[rim, base, wall.slant]])
    readings: list[Reading] = [
        SeamStep(value=0, printed=cup),
        EdgeGap(value=0, printed=cup),
        EdgeGap(value=0, printed=cup, at=BASE),
        EdgeGap(value=0, printed=cup, at=Place(drop=wall.slant / 3)),
    ]
    assert predictor(readings, 2)(unknowns)[0] == pytest.approx([0] * 4, abs=1e-10)


def read_off(printed: Cup, step: bool = True) -> PaperGap:
    """What the maker reads off the paper made for one cup on the true one, without any error."""
    gaps = (math.pi * (true.diameter - paper.diameter) for true, paper in zip(TRUE.rings, printed.rings, strict=True))
    rim, base = gaps
    return PaperGap(printed=printed, rim=rim, base=base, step=traced_step(printed, TRUE) if step else None)


def first_readings(off: float) -> list[Reading]:
    """The tape slipped at the rim; the rest is right."""
    return [Tape(value=math.pi * 88 + off), Tape(value=math.pi * 70, at=BASE), Slant(value=TRUE.slant)]


@pytest.mark.parametrize("off", [3.0, -3.0])
def test_one_round_with_paper_mends_a_rim_that_is_wrong_by_three_millimetres(off: float) -> None:
    readings = first_readings(off)
    printed = fit(readings).cup
    assert seam_gaps(printed, TRUE)[0] == pytest.approx(-off, abs=1e-6)
    paper = read_off(printed)
    measured = fit([*readings, paper])
    # the gap and the step both speak against the tape
    assert measured.verdict.wrong == ("rim tape",)
    assert measured.verdict.findings[0].sentence.startswith("the rim tape disagrees by 3.0 mm: measure it again")
    assert "paper gap at the rim" in measured.verdict.findings[0].against
    mended = fit([*readings, paper], without=["rim tape"])
    assert mended.verdict.agrees
    assert seam_gaps(mended.cup, TRUE) == pytest.approx((0, 0), abs=0.1)
    assert seam_gaps(mended.cup, TRUE) == pytest.approx((0, 0), abs=1e-5)
    assert traced_step(mended.cup, TRUE) == pytest.approx(0, abs=1e-5)


def test_without_the_step_paper_and_tape_are_both_named() -> None:
    readings = first_readings(3)
    measured = fit([*readings, read_off(fit(readings).cup, step=False)])
    assert measured.verdict.wrong == ()
    assert measured.verdict.disputed == ("rim tape", "paper gap at the rim")
    assert str(measured.notices[0]) == (
        "rim tape and paper gap at the rim: can't be told apart: one of them is wrong, by 3.0 mm or 3.0 mm; "
        "measure the rim (across with a calliper, or round it with a tape) to settle it"
    )
    for name in ("rim tape", "paper gap at the rim"):
        mended = fit([*readings, read_off(fit(readings).cup, step=False)], without=[name])
        assert mended.verdict.agrees


def test_two_earlier_readings_that_agree_outvote_a_paper_gap_that_was_misread() -> None:
    readings = [*first_readings(0), Calliper(value=88)]
    paper = PaperGap(printed=TRUE, rim=2.0, base=0.0)
    verdict = fit([*readings, paper]).verdict
    assert verdict.wrong == ("paper gap at the rim",)
    assert verdict.findings[0].against == ("rim tape", "rim calliper")


@pytest.mark.parametrize("off", [3.0, -3.0])
def test_kept_the_wrong_reading_is_part_of_a_weighted_compromise(off: float) -> None:
    readings = first_readings(off)
    printed = fit(readings).cup
    measured = fit([*readings, read_off(printed, step=False)])
    # closed form: tape (σ 0.5) and printed edge + gap (σ 0.2) say two lengths of the same edge, weights 1/σ²
    tape, paper = math.pi * 88 + off, math.pi * 88
    edge = (tape / 0.5**2 + paper / 0.2**2) / (1 / 0.5**2 + 1 / 0.2**2)
    arc = measured.estimate("rim arc length")
    assert arc.value == pytest.approx(edge, abs=1e-6)
    assert arc.uncertainty == pytest.approx(1 / math.sqrt(1 / 0.5**2 + 1 / 0.2**2), rel=1e-6)


def test_with_noise_the_seam_gap_lies_within_its_stated_range_in_95_percent_of_cases() -> None:
    printed = Cup.frustum(88 + 3 / math.pi, 70, 170)
    readings = [*first_readings(0)[1:], *PaperGap(printed=printed, rim=0, base=0, step=0).readings]
    predict = predictor(readings, 2)
    uncertainties = np.array([reading.uncertainty for reading in readings])
    truth = predict(np.array([[88, 70, TRUE.slant]]))
    values = truth + np.random.default_rng(61).normal(size=(10_000, len(readings))) * uncertainties
    fits = adjust(predict, values, uncertainties, np.array([89, 70, 170]))
    rim, base, slant = fits.unknowns.T
    # a wrap made for each fitted cup, on the true cup, laid on by its top edge
    gap_at_rim = math.pi * (88 - rim)
    gap_at_base = math.pi * (88 - 18 * slant / TRUE.slant - base)
    measured = fit([replace(reading, value=float(value)) for reading, value in zip(readings, truth[0], strict=True)])
    for name, gap in (("seam gap at the rim", gap_at_rim), ("seam gap at the base", gap_at_base)):
        stated = measured.estimate(name)
        assert 0.94 <= (np.abs(gap) <= stated.half_range).mean() <= 0.96, name
        assert stated.uncertainty == pytest.approx(gap.std(), rel=0.03), name


def test_gaps_of_one_wall_of_many_lie_on_its_rings() -> None:
    paper = PaperGap(printed=TRUE, rim=1.0, base=-0.5, top=RIM, bottom=Place(ring=1), coated=True)
    assert [reading.places for reading in paper.readings] == [(RIM,), (Place(ring=1),)]
    assert all(reading.coated for reading in paper.readings)


@settings(max_examples=20)
@given(gap=st.floats(min_value=-5, max_value=5))
def test_a_gap_is_true_edge_less_printed_edge(gap: float) -> None:
    readings = [Calliper(value=70, at=BASE), Slant(value=170), *PaperGap(printed=TRUE, rim=gap).readings]
    assert math.pi * fit(readings).cup.rings[0].diameter == pytest.approx(math.pi * 88 + gap, abs=1e-7)
