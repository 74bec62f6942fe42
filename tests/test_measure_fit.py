"""The fit: against another least-squares solver, in closed form, and over ten thousand cups at a time."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from cupgeom import Cup, CupgeomError, Ring
from cupgeom.measure import (
    BASE,
    COVERAGE_FACTOR_95,
    Calliper,
    EdgeGap,
    Height,
    Measured,
    PaperGap,
    Place,
    Reading,
    SeamStep,
    Slant,
    Tape,
    fit,
    labels,
)
from cupgeom.measure.adjust import Adjustment, adjust
from cupgeom.measure.fitting import predictor

DRAWS = 10_000
PRINTED = Cup.frustum(87.4, 70.3, 169)


def exact(readings: Sequence[Reading], unknowns: Sequence[float], rings: int = 2) -> list[Reading]:
    """The readings as they would be without any error on a cup of these diameters and slants."""
    values = predictor(readings, rings)(np.array([unknowns]))[0]
    return [replace(reading, value=float(value)) for reading, value in zip(readings, values, strict=True)]


def drawn(readings: Sequence[Reading], unknowns: Sequence[float], seed: int) -> Adjustment:
    """Ten thousand fits, each to readings with fresh errors, all starting from a rough cup."""
    perfect = exact(readings, unknowns)
    truth = np.array([reading.value for reading in perfect])
    uncertainties = np.array([reading.uncertainty for reading in perfect])
    values = truth + np.random.default_rng(seed).normal(size=(DRAWS, len(truth))) * uncertainties
    rough = np.add(unknowns, [3, -2, 5])
    return adjust(predictor(perfect, 2), values, uncertainties, rough)


def measured_unknowns(measured: Measured) -> list[float]:
    return [unknown.value for unknown in measured.unknowns]


SETS = {
    "three of each": (
        [*[Tape(value=200)] * 3, *[Tape(value=200, at=BASE)] * 3, *[Slant(value=100)] * 3],
        [88, 70, 170.2],
    ),
    "tape, calliper and height on a tapered tumbler": (
        [Tape(value=200), Calliper(value=80), Calliper(value=70, at=BASE), Height(value=100), Slant(value=100)],
        [88, 70, 170.2],
    ),
    "a wide bowl by its height alone": (
        [Tape(value=200), Tape(value=200), Tape(value=200, at=BASE), Height(value=60), Height(value=60)],
        [140, 60, 75.0],
    ),
    "tapes on the way down, none at the base": (
        [
            Tape(value=200),
            Tape(value=200, at=Place(drop=50)),
            Tape(value=200, at=Place(drop=120)),
            Calliper(value=80, at=Place(up=20)),
            Slant(value=150),
            Height(value=150),
        ],
        [90, 64, 160.0],
    ),
    "a straight mug": (
        [Calliper(value=80), Calliper(value=80, at=BASE), Tape(value=250, at=Place(up=40)), Height(value=95)],
        [82, 82, 95.0],
    ),
    "wider at the base, with a paper fit": (
        [
            Calliper(value=60),
            Tape(value=240, at=BASE),
            Slant(value=100),
            EdgeGap(value=0, printed=Cup.frustum(61, 77, 99)),
            EdgeGap(value=0, printed=Cup.frustum(61, 77, 99), at=BASE),
            SeamStep(value=0, printed=Cup.frustum(61, 77, 99)),
        ],
        [60, 78, 100.0],
    ),
}


@pytest.mark.parametrize(("readings", "unknowns"), SETS.values(), ids=SETS)
def test_the_true_cup_lies_in_the_95_percent_range_in_95_percent_of_ten_thousand_fits(
    readings: list[Reading], unknowns: list[float]
) -> None:
    fits = drawn(readings, unknowns, seed=41)
    assert fits.settled.all()
    half_ranges = COVERAGE_FACTOR_95 * np.sqrt(np.diagonal(fits.covariance, axis1=1, axis2=2))
    for index, name in enumerate(("rim", "base", "slant")):
        hit = (np.abs(fits.unknowns[:, index] - unknowns[index]) <= half_ranges[:, index]).mean()
        assert 0.94 <= hit <= 0.96, (name, hit)


@pytest.mark.parametrize(("readings", "unknowns"), SETS.values(), ids=SETS)
def test_good_readings_are_called_bad_in_about_one_percent_of_cases(
    readings: list[Reading], unknowns: list[float]
) -> None:
    fits = drawn(readings, unknowns, seed=42)
    limit = stats.chi2.isf(0.01, fits.degrees)
    assert 0.006 <= (fits.chi_square > limit).mean() <= 0.015


@pytest.mark.parametrize(("readings", "unknowns"), SETS.values(), ids=SETS)
def test_one_fit_is_one_of_the_ten_thousand(readings: list[Reading], unknowns: list[float]) -> None:
    perfect = exact(readings, unknowns)
    random = np.random.default_rng(43)
    noisy = [replace(reading, value=random.normal(reading.value, reading.uncertainty)) for reading in perfect]
    measured = fit(noisy)
    values = np.array([[reading.value for reading in noisy]])
    uncertainties = np.array([reading.uncertainty for reading in noisy])
    batch = adjust(predictor(noisy, 2), values, uncertainties, np.array(unknowns))
    assert measured_unknowns(measured) == pytest.approx(batch.unknowns[0], abs=1e-7)
    assert np.array(measured.covariance) == pytest.approx(batch.covariance[0], rel=1e-6, abs=1e-9)
    assert measured.verdict.agrees == (stats.chi2.sf(batch.chi_square[0], batch.degrees) >= 0.01)


FIVE_RINGS = [92.0, 88.0, 86.0, 74.0, 70.0, 5.0, 40.0, 90.0, 12.0]
PRINTED_FIVE = Cup(
    rings=(
        Ring(diameter=92, height=150),
        Ring(diameter=88, height=145),
        Ring(diameter=86, height=105),
        Ring(diameter=74, height=15),
        Ring(diameter=70.5, height=0),
    )
)
ELEVEN: list[Reading] = [
    Calliper(value=90),
    Tape(value=270, at=Place(ring=1)),
    Calliper(value=85, at=Place(ring=2)),
    Tape(value=250, at=Place(drop=100)),
    Tape(value=230, at=Place(ring=3)),
    Calliper(value=70, at=BASE),
    Height(value=140),
    Slant(value=5, bottom=Place(ring=1)),
    Slant(value=40, top=Place(ring=1), bottom=Place(ring=2)),
    Slant(value=90, top=Place(ring=2), bottom=Place(ring=3)),
    *PaperGap(printed=PRINTED_FIVE, base=0).readings,
]


def by_hand(unknowns: Sequence[float]) -> np.ndarray:
    """The eleven readings, written out for this one cup without the library."""
    diameters, slants = np.array(unknowns[:5]), np.array(unknowns[5:])
    levels = np.concatenate([[0], np.cumsum(slants)])
    heights = np.sqrt(slants**2 - (np.diff(diameters) / 2) ** 2)
    at_100 = np.interp(100, levels, diameters)
    rim, first, second, third, base = diameters
    tapes = math.pi * np.array([first, at_100, third])
    gap = math.pi * (base - 70.5)
    return np.array([rim, tapes[0], second, tapes[1], tapes[2], base, heights.sum(), *slants[:3], gap])


def test_eleven_mixed_readings_of_a_five_ring_cup_are_one_fit_and_another_solver_finds_the_same() -> None:
    random = np.random.default_rng(44)
    uncertainties = np.array([reading.uncertainty for reading in ELEVEN])
    values = by_hand(FIVE_RINGS) + random.normal(size=11) * uncertainties
    noisy = [replace(reading, value=float(value)) for reading, value in zip(ELEVEN, values, strict=True)]
    measured = fit(noisy, rings=5)
    reference = optimize.least_squares(
        lambda unknowns: (by_hand(unknowns) - values) / uncertainties,
        FIVE_RINGS,
        jac="3-point",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    assert measured.verdict.degrees == 2
    assert measured_unknowns(measured) == pytest.approx(reference.x, abs=2e-6)
    assert np.array(measured.covariance) == pytest.approx(
        np.linalg.inv(reference.jac.T @ reference.jac), rel=1e-5, abs=1e-8
    )
    assert measured.verdict.chi_square == pytest.approx(2 * reference.cost, rel=1e-9)
    assert [ring.diameter for ring in measured.cup.rings] == pytest.approx(reference.x[:5], abs=2e-6)
    assert [wall.slant for wall in measured.cup.walls] == pytest.approx(reference.x[5:], abs=2e-6)
    assert measured.estimate("slant").value == pytest.approx(reference.x[5:].sum(), abs=1e-5)


@pytest.mark.parametrize("row", range(11))
def test_changing_one_uncertainty_changes_the_ranges_as_the_covariance_says(row: int) -> None:
    perfect = exact(ELEVEN, FIVE_RINGS, rings=5)
    before = fit(perfect, rings=5)
    wider = replace(perfect[row], uncertainty=3 * perfect[row].uncertainty)
    after = fit([*perfect[:row], wider, *perfect[row + 1 :]], rings=5)
    # closed form: the weight of one row a changes by δ, so C' = C − δ C a aᵀ C / (1 + δ aᵀ C a) (Sherman–Morrison)
    slopes = optimize.approx_fprime(np.array(FIVE_RINGS), lambda x: by_hand(x)[row], 1e-6)
    spread = np.array(before.covariance)
    change = (1 / 9 - 1) / perfect[row].uncertainty ** 2
    moved = spread @ slopes
    expected = spread - change * np.outer(moved, moved) / (1 + change * slopes @ moved)
    assert np.array(after.covariance) == pytest.approx(expected, rel=1e-4, abs=1e-6)
    assert np.diag(after.covariance).sum() > np.diag(before.covariance).sum()


@st.composite
def cups_and_readings(draw: st.DrawFn) -> tuple[list[float], list[Reading], int]:
    """A cup of two to five rings with enough readings of mixed kinds, none of them in error."""
    rings = draw(st.integers(min_value=2, max_value=5))
    slants = [draw(st.floats(min_value=15, max_value=120)) for _ in range(rings - 1)]
    diameters = [draw(st.floats(min_value=50, max_value=110))]
    for slant in slants:
        diameters.append(max(20.0, diameters[-1] + slant * draw(st.floats(min_value=-1.2, max_value=1.2))))
    total = sum(slants)
    places = [Place(ring=index) for index in range(rings)]
    readings: list[Reading] = [
        draw(
            st.sampled_from(
                [Calliper(value=80, at=place), Tape(value=80, at=place), Tape(value=80, at=place, thickness=0.3)]
            )
        )
        for place in places
    ]
    readings += [
        draw(st.sampled_from([Slant, Height]))(value=50, top=above, bottom=below) for above, below in pairwise(places)
    ]
    shares = draw(st.lists(st.floats(min_value=0, max_value=1), max_size=3))
    readings += [Calliper(value=80, at=Place(drop=share * total)) for share in shares]
    readings += [Tape(value=80, at=Place(up=share * total)) for share in shares]
    if draw(st.booleans()):
        readings += [Height(value=80), SeamStep(value=0, printed=PRINTED)]
    return [*diameters, *slants], draw(st.permutations(readings)), rings


@given(case=cups_and_readings())
@settings(max_examples=80)
def test_readings_without_error_give_back_the_cup(case: tuple[list[float], list[Reading], int]) -> None:
    unknowns, readings, rings = case
    diameters, slants = unknowns[:rings], unknowns[rings:]
    assume(all(abs(a - b) / 2 < 0.95 * s for a, b, s in zip(diameters, diameters[1:], slants, strict=False)))
    measured = fit(exact(readings, unknowns, rings), rings=rings)
    assert measured_unknowns(measured) == pytest.approx(unknowns, abs=1e-5)
    assert measured.verdict.agrees
    assert measured.cup.slant == pytest.approx(sum(slants), abs=1e-5)
    assert measured.cup.height == pytest.approx(measured.estimate("height").value, abs=1e-6)
    assert measured.cup.lateral_area == pytest.approx(measured.estimate("area").value, rel=1e-9)


RIM_TO_MEASURE = "the rim (across with a calliper, or round it with a tape)"
BASE_TO_MEASURE = "the base (across with a calliper, or round it with a tape)"
SLANT_TO_MEASURE = "the slant (along the wall)"


@pytest.mark.parametrize(
    ("readings", "rings", "words"),
    [
        ([], 2, f"{RIM_TO_MEASURE}, {BASE_TO_MEASURE} and {SLANT_TO_MEASURE}"),
        ([Tape(value=270)], 2, f"{BASE_TO_MEASURE} and {SLANT_TO_MEASURE}"),
        ([Tape(value=270), Tape(value=270), Slant(value=170)], 2, BASE_TO_MEASURE),
        ([Tape(value=270, at=BASE), Slant(value=170), Height(value=160)], 2, RIM_TO_MEASURE),
        ([Calliper(value=88), Calliper(value=70, at=BASE)], 2, SLANT_TO_MEASURE),
        # on a straight wall a tape half-way down says nothing of the length
        ([Calliper(value=80), Calliper(value=80, at=BASE), Calliper(value=80, at=Place(drop=75))], 2, SLANT_TO_MEASURE),
        (
            [Calliper(value=88), Calliper(value=70, at=BASE), Calliper(value=80, at=Place(ring=1)), Slant(value=170)],
            3,
            "the slant from the rim to ring 1 (along the wall)",
        ),
        (
            [Tape(value=270, coated=True), Tape(value=220, at=BASE, coated=True), Slant(value=170)],
            2,
            RIM_TO_MEASURE,
        ),
        (
            [Calliper(value=88), Calliper(value=70, at=BASE), Slant(value=170), Slant(value=171, coated=True)],
            2,
            "the rim of the coated cup (round it with a tape)",
        ),
    ],
)
def test_too_few_readings_say_what_to_measure_next(readings: list[Reading], rings: int, words: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        fit(readings, rings=rings)
    assert str(caught.value) == f"readings: not enough to make a cup; measure next: {words}"


def test_what_is_measured_next_is_enough() -> None:
    readings: list[Reading] = [Calliper(value=88), Calliper(value=70, at=BASE), Calliper(value=80, at=Place(ring=1))]
    with pytest.raises(
        CupgeomError, match=re.escape("the slant from the rim to ring 1 (along the wall) and the slant")
    ):
        fit(readings, rings=3)
    lengths = [Slant(value=60, bottom=Place(ring=1)), Slant(value=110, top=Place(ring=1))]
    assert fit([*readings, *lengths], rings=3).cup.slant == pytest.approx(170)


@pytest.mark.parametrize(
    ("readings", "rings", "message"),
    [
        (
            [Calliper(value=100), Calliper(value=60, at=BASE), Slant(value=15)],
            2,
            "slant: makes the wall 15 mm long, but its radii differ by 20 mm; measure again",
        ),
        (
            [
                Calliper(value=100),
                Calliper(value=98, at=Place(ring=1)),
                Calliper(value=60, at=BASE),
                Slant(value=150),
                Slant(value=135, bottom=Place(ring=1)),
            ],
            3,
            "slant: makes the wall 15 mm long, but its radii differ by 19 mm; measure again",
        ),
        (
            [Calliper(value=88), Calliper(value=70, at=Place(ring=4)), Slant(value=170)],
            3,
            "ring 4 calliper: must be at a ring of the cup (0 to 2), got ring 4",
        ),
        ([Calliper(value=88)], 1, "rings: must be a whole number of at least 2, got 1"),
        ([Calliper(value=88)], 2.0, "rings: must be a whole number of at least 2, got 2.0"),
    ],
)
def test_readings_that_make_no_cup_are_refused_by_name(readings: list[Reading], rings: int, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        fit(readings, rings=rings)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("place", "name"),
    [(Place(drop=300), "calliper at drop 300 mm"), (Place(up=190), "calliper 190 mm up from the base")],
)
def test_a_reading_off_the_wall_is_refused_by_name(place: Place, name: str) -> None:
    on_wall: list[Reading] = [Calliper(value=88), Calliper(value=70, at=BASE), Slant(value=170), Height(value=169.7)]
    with pytest.raises(CupgeomError, match=f"^{name}: must be on the wall, which is 17[0-9.]* mm long, got "):
        fit([*on_wall, Calliper(value=80, at=place)])


def test_a_drop_at_the_very_edge_may_exceed_the_wall_by_its_uncertainty() -> None:
    # a ruler of ±0.5 mm may well find the edge at 170.4 mm on a wall that was read as 170 mm
    measured = fit([Calliper(value=88), Calliper(value=70, at=Place(drop=170.4)), Slant(value=170)])
    assert measured.cup.rings[-1].diameter == pytest.approx(88 - 18 * 170 / 170.4, abs=1e-6)


def test_a_height_that_contradicts_everything_does_not_break_the_fit() -> None:
    measured = fit([Calliper(value=88), Calliper(value=30, at=BASE), Slant(value=15), Height(value=1)])
    assert not measured.verdict.agrees
    assert "slant" in measured.verdict.disputed


LENGTHS = st.one_of(st.floats(min_value=5, max_value=300), st.floats(min_value=1e-3, max_value=1e4))
UNCERTAINTIES = st.sampled_from([1e-4, 0.1, 0.5, 20, 1000])
LEVELS = st.one_of(
    st.sampled_from([Place(ring=0), Place(ring=1), BASE]),
    st.builds(Place, drop=LENGTHS),
    st.builds(Place, up=LENGTHS),
)


@st.composite
def wild_readings(draw: st.DrawFn) -> list[Reading]:
    """Rim, base and slant, and readings that need not fit any cup."""
    wild: list[Reading] = [Calliper(value=draw(LENGTHS)), Calliper(value=draw(LENGTHS), at=BASE)]
    wild += [Slant(value=draw(LENGTHS)), Slant(value=draw(LENGTHS), bottom=Place(ring=1))]
    for _ in range(draw(st.integers(min_value=0, max_value=5))):
        value, uncertainty, coated = draw(LENGTHS), draw(UNCERTAINTIES), draw(st.booleans())
        common = {"value": value, "uncertainty": uncertainty, "coated": coated}
        kind = draw(st.sampled_from([Calliper, Tape, Height, Slant, EdgeGap, SeamStep]))
        try:
            if kind in (EdgeGap, SeamStep):
                wild.append(kind(printed=PRINTED, **common))
            elif kind in (Height, Slant):
                wild.append(kind(top=draw(LEVELS), bottom=draw(LEVELS), **common))
            else:
                wild.append(kind(at=draw(LEVELS), **common))
        except CupgeomError as error:
            assert error.where
    return wild


@given(readings=wild_readings(), rings=st.sampled_from([2, 3]))
@settings(max_examples=80)
def test_whatever_was_read_there_is_a_cup_or_one_clear_line(readings: list[Reading], rings: int) -> None:
    try:
        measured = fit(readings, rings=rings)
    except CupgeomError as error:
        assert error.where in {"readings", *labels(readings)}
        assert "nan" not in str(error)
    else:
        assert all(math.isfinite(estimate.value + estimate.uncertainty) for estimate in measured.estimates)
        assert measured.cup.lateral_area > 0
        assert measured.verdict.agrees == (measured.verdict.chance >= 0.01)
