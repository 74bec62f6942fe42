"""Which reading disagrees: named in a maker's words, or the group that can't be told apart and what would settle it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from cupgeom import CupgeomError
from cupgeom.measure import BASE, Calliper, Film, Height, Place, Reading, Slant, Tape, fit, labels
from cupgeom.measure.verdict import SEPARATION, chance

RIM, FOOT, LENGTH = math.pi * 88, math.pi * 70, 170.0  # of a true cup
TRIALS = 300


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 5, 6, 7, 10, 11, 30, 45])
@pytest.mark.parametrize("share", [1e-6, 0.01, 0.3, 1, 2, 5, 30, 200])
def test_the_chance_of_a_chi_square_is_scipys(degrees: int, share: float) -> None:
    assert chance(share * degrees, degrees) == pytest.approx(
        stats.chi2.sf(share * degrees, degrees), rel=1e-9, abs=1e-300
    )


def test_the_chance_has_its_ends_and_refuses_what_is_none() -> None:
    assert chance(0, 5) == chance(3, 0) == 1
    with pytest.raises(CupgeomError, match="chi_square: must be at least 0"):
        chance(-1, 2)
    with pytest.raises(CupgeomError, match="degrees: must be at least 0, got -1"):
        chance(1, -1)
    assert stats.chi2.isf(0.01, 1) == pytest.approx(SEPARATION)


def test_a_base_tape_that_slipped_is_named_as_the_issue_words_it() -> None:
    measured = fit(
        [
            Calliper(value=88),
            Tape(value=FOOT + 3.1, at=BASE),
            Calliper(value=70, at=BASE),
            Calliper(value=70, at=BASE),
            Slant(value=LENGTH),
        ]
    )
    assert measured.verdict.wrong == ("base tape",)
    assert measured.verdict.disputed == ()
    (finding,) = measured.verdict.findings
    assert finding.sentence == (
        "the base tape disagrees by 3.1 mm: measure it again "
        "(it stands against the base calliper 1 and base calliper 2)"
    )
    assert str(measured.notices[0]) == (
        "base tape: disagrees by 3.1 mm: it reads 223.01 mm, but 219.91 mm follows from the base calliper 1 and "
        "base calliper 2; measure it again or leave it out"
    )
    assert str(measured.notices[1]) == (
        "rim calliper and slant: not checkable: no other reading bears on them; "
        "read them a second time, best in another way"
    )
    error = next(residual.error for residual in measured.residuals if residual.name == "base tape")
    assert error == pytest.approx(3.1, abs=1e-6)


def test_left_out_it_no_longer_pulls_the_cup() -> None:
    readings = [
        Calliper(value=88),
        Tape(value=FOOT + 3.1, at=BASE),
        Calliper(value=70, at=BASE),
        Calliper(value=70, at=BASE),
        Slant(value=LENGTH),
    ]
    measured = fit(readings, without=["base tape"])
    assert measured.left_out == ("base tape",)
    assert [residual.name for residual in measured.residuals] == [
        "rim calliper",
        "base calliper 1",
        "base calliper 2",
        "slant",
    ]
    assert measured.verdict.agrees
    assert measured.estimate("base diameter").value == pytest.approx(70, abs=1e-9)


def test_without_takes_the_name_of_one_or_of_all_that_share_it() -> None:
    readings = [
        Tape(value=RIM),
        Tape(value=RIM + 1),
        Calliper(value=88),
        Calliper(value=70, at=BASE),
        Slant(value=LENGTH),
    ]
    assert fit(readings, without=["rim tape 2"]).left_out == ("rim tape 2",)
    assert fit(readings, without=["rim tape"]).left_out == ("rim tape 1", "rim tape 2")
    with pytest.raises(CupgeomError) as caught:
        fit(readings, without=["rim"])
    assert str(caught.value) == (
        "without: no reading is called 'rim'; there are rim tape 1, rim tape 2, rim calliper, base calliper and slant"
    )
    with pytest.raises(CupgeomError, match="readings: not enough to make a cup; measure next: the base"):
        fit(readings, without=["base calliper"])


@pytest.mark.parametrize("tools", [(Tape, Tape, Tape), (Tape, Tape, Calliper)], ids=["tapes", "tapes and a calliper"])
def test_a_blunder_of_ten_uncertainties_is_named_in_more_than_95_percent_of_cases(
    tools: tuple[type[Tape], ...],
) -> None:
    round_truth = {Tape: (RIM, FOOT), Calliper: (88.0, 70.0)}
    perfect: list[Reading] = [tool(value=round_truth[tool][0]) for tool in tools]
    perfect += [tool(value=round_truth[tool][1], at=BASE) for tool in tools]
    perfect += [Slant(value=LENGTH)] * 3
    random, named, misnamed = np.random.default_rng(51), 0, 0
    for trial in range(TRIALS):
        readings = [replace(reading, value=random.normal(reading.value, reading.uncertainty)) for reading in perfect]
        row = trial % len(readings)
        blunder = 10 * readings[row].uncertainty * random.choice([-1, 1])
        readings[row] = replace(readings[row], value=readings[row].value + blunder)
        measured = fit(readings)
        name = measured.residuals[row].name
        named += measured.verdict.wrong[:1] == (name,)
        misnamed += bool(measured.verdict.wrong) and measured.verdict.wrong[0] != name
    assert named > 0.95 * TRIALS
    assert misnamed < 0.01 * TRIALS


def test_two_readings_of_one_thing_are_not_told_apart_and_a_third_would_settle_it() -> None:
    readings = [
        Tape(value=RIM + 3),
        Calliper(value=88),
        Tape(value=FOOT, at=BASE),
        Calliper(value=70, at=BASE),
        Slant(value=LENGTH),
    ]
    measured = fit(readings)
    # two degrees of freedom are left over, but only one of them looks at the rim
    assert measured.verdict.degrees == 2
    assert measured.verdict.wrong == ()
    assert measured.verdict.disputed == ("rim tape", "rim calliper")
    (finding,) = measured.verdict.findings
    assert finding.sentence == (
        "one of these is wrong, the rim tape by 3.0 mm or the rim calliper by 1.0 mm; they can't be told apart: "
        "measure the rim (across with a calliper, or round it with a tape) once more to settle it"
    )
    # as told: a third reading of the rim does settle it, whichever of the two was wrong
    assert fit([*readings, Calliper(value=88)]).verdict.wrong == ("rim tape",)
    assert fit([*readings, Calliper(value=88 + 3 / math.pi)]).verdict.wrong == ("rim calliper 1",)


def test_a_slant_against_a_height_is_settled_by_the_slant_once_more() -> None:
    height = math.sqrt(LENGTH**2 - 81)
    readings = [Calliper(value=88), Calliper(value=70, at=BASE), Slant(value=LENGTH + 5), Height(value=height)]
    measured = fit(readings)
    assert measured.verdict.disputed == ("slant", "height")
    assert measured.verdict.findings[0].settle == "the slant (along the wall) once more"
    assert measured.verdict.unchecked == ("rim calliper", "base calliper")
    assert fit([*readings, Slant(value=LENGTH)]).verdict.wrong == ("slant 1",)


@pytest.mark.parametrize(("fine", "coarse", "off"), [(0.001, 2, 20), (0.0001, 50, 400)])
def test_a_reading_checked_by_a_far_finer_one_alone_is_still_not_pinned(fine: float, coarse: float, off: float) -> None:
    readings = [
        Calliper(value=88, uncertainty=fine),
        Tape(value=RIM + off, uncertainty=coarse),
        Calliper(value=70, at=BASE),
        Slant(value=LENGTH),
    ]
    measured = fit(readings)
    assert measured.verdict.degrees == 1
    assert measured.verdict.wrong == ()
    assert "rim tape" in measured.verdict.disputed
    assert len(measured.verdict.disputed) == 2


def test_two_very_sure_readings_that_are_far_apart_are_not_told_apart_by_rounding() -> None:
    sure = [Calliper(value=60, uncertainty=1e-4), Tape(value=math.pi * 300, uncertainty=1e-4)]
    readings = [*sure, Tape(value=FOOT, at=BASE), Calliper(value=70, at=BASE), Slant(value=250), Height(value=234)]
    verdict = fit(readings).verdict
    assert verdict.wrong == ()
    assert verdict.disputed == ("rim calliper", "rim tape")


@pytest.mark.parametrize(("uncertainty", "unchecked"), [(1, False), (5, True)])
def test_a_reading_is_checked_when_a_hundredth_of_its_error_would_show(uncertainty: float, unchecked: bool) -> None:
    # closed form, two readings of one diameter: redundancy of the finer one u²/(u² + U²), with U = uncertainty/π
    share = 0.1**2 / (0.1**2 + (uncertainty / math.pi) ** 2)
    readings = [Calliper(value=88), Tape(value=RIM, uncertainty=uncertainty), Calliper(value=70, at=BASE)]
    measured = fit([*readings, Slant(value=LENGTH)])
    assert measured.residuals[0].redundancy == pytest.approx(share, rel=1e-6)
    assert ("rim calliper" in measured.verdict.unchecked) == unchecked


def test_two_blunders_are_both_named() -> None:
    readings = [
        *[Tape(value=RIM)] * 3,
        Tape(value=RIM + 8),
        *[Slant(value=LENGTH)] * 3,
        Slant(value=LENGTH - 6),
        Calliper(value=70, at=BASE),
    ]
    verdict = fit(readings).verdict
    assert verdict.wrong == ("rim tape 4", "slant 4")
    assert [finding.errors[0] for finding in verdict.findings] == pytest.approx([8, -6], abs=1e-6)


def test_a_drop_tape_on_a_taper_is_told_from_the_ends_by_the_straight_wall_between() -> None:
    middle = [Tape(value=math.pi * (88 - 18 * drop / LENGTH), at=Place(drop=drop)) for drop in (40, 80, 120)]
    middle[1] = replace(middle[1], value=middle[1].value - 5)
    readings = [Tape(value=RIM), Tape(value=FOOT, at=BASE), *middle, Slant(value=LENGTH)]
    assert fit(readings).verdict.wrong == ("tape at drop 80 mm",)


def test_a_lone_slant_is_not_checkable() -> None:
    measured = fit(
        [
            Calliper(value=88),
            Tape(value=RIM),
            Calliper(value=70, at=BASE),
            Tape(value=FOOT, at=BASE),
            Slant(value=LENGTH),
        ]
    )
    assert measured.verdict.agrees
    assert measured.verdict.unchecked == ("slant",)
    assert [str(notice) for notice in measured.notices] == [
        "slant: not checkable: no other reading bears on it; read it a second time, best in another way"
    ]
    lone = measured.residuals[-1]
    assert (lone.redundancy, lone.standardized, lone.error) == (pytest.approx(0, abs=1e-9), 0, None)
    assert lone.residual == pytest.approx(0, abs=1e-9)


def test_readings_that_agree_and_check_each_other_give_no_notice() -> None:
    readings = [*[Tape(value=RIM)] * 2, *[Tape(value=FOOT, at=BASE)] * 2, *[Slant(value=LENGTH)] * 2]
    measured = fit(readings)
    assert measured.notices == ()
    assert measured.verdict.chance == pytest.approx(1, abs=1e-6)
    assert [residual.redundancy for residual in measured.residuals] == pytest.approx([0.5] * 6, abs=1e-6)


def test_the_film_on_the_walls_comes_from_a_tape_read_now() -> None:
    # closed form, one wall: at equal drop the circumference grows by 2π t cos α (half-angle α)
    cosine = math.sqrt(1 - (9 / LENGTH) ** 2)
    around = math.pi * (88 - 18 * 75 / LENGTH) + math.tau * 0.8 * cosine
    bare = [Calliper(value=88), Calliper(value=70, at=BASE), Slant(value=LENGTH)]
    now = Tape(value=around, at=Place(drop=75), coated=True)
    measured = fit([*bare, now])
    assert measured.film == pytest.approx(0.8, abs=1e-6)
    # σ² of the film: tape, and both callipers by their leverage at that drop (closed form, α and slant hardly matter)
    share = 75 / LENGTH
    spread = math.hypot(0.5 / math.tau, 0.05 * (1 - share), 0.05 * share) / cosine
    assert measured.estimate("film").uncertainty == pytest.approx(spread, rel=0.01)
    assert measured.cup.rings[0].diameter == pytest.approx(88, abs=1e-6)
    assert measured.coated_cup.radius_at(75) == pytest.approx(around / math.tau, abs=1e-6)
    grown = measured.uncertainty_of(lambda cup: math.tau * cup.radius_at(75), coated=True)
    assert grown.value == pytest.approx(around, abs=1e-5)
    assert grown.uncertainty == pytest.approx(0.5, rel=0.01)  # the tape itself, since nothing else knows the film


def test_a_tape_read_now_outweighs_the_predicted_film_and_their_difference_is_shown() -> None:
    cosine = math.sqrt(1 - (9 / LENGTH) ** 2)
    around = math.pi * (88 - 18 * 75 / LENGTH) + math.tau * 0.8 * cosine
    bare = [Calliper(value=88), Calliper(value=70, at=BASE), Slant(value=LENGTH)]
    measured = fit([*bare, Film(value=1.2), Tape(value=around, at=Place(drop=75), coated=True)])
    assert abs(measured.film - 0.8) < 0.05
    predicted = next(residual for residual in measured.residuals if residual.name == "predicted film")
    assert predicted.error == pytest.approx(0.4, abs=1e-3)
    alone = fit([*bare, Film(value=1.2)])
    assert alone.film == pytest.approx(1.2)
    assert alone.estimate("film").uncertainty == pytest.approx(0.3, rel=1e-6)
    assert fit(bare).film == 0
    assert fit(bare).coated_cup == fit(bare).cup


def test_the_wrong_one_of_two_is_pinned_in_less_than_one_percent_of_cases_whatever_the_blunder() -> None:
    # two standardized residuals of correlation ρ, a blunder that moves the first by d and the second by ρ d
    random = np.random.default_rng(52)
    for correlation in (0, 0.5, 0.9, 0.99, 0.999):
        for blunder in (0.5, 1, 2, 4, 8, 16, 32, 64):
            first, second = random.normal(size=(2, 40_000))
            guilty = blunder + first
            innocent = correlation * (blunder + first) + math.sqrt(1 - correlation**2) * second
            assert (innocent**2 - guilty**2 > SEPARATION).mean() < 0.01, (correlation, blunder)


@pytest.mark.parametrize("factor", [25.4, 1 / 25.4, 10, 0.1, 2])
@pytest.mark.parametrize("row", range(9))
def test_inches_taken_for_millimetres_and_slipped_digits_are_named(factor: float, row: int) -> None:
    readings: list[Reading] = [
        *[Tape(value=RIM), Calliper(value=88), Calliper(value=88.05)],
        *[Tape(value=FOOT, at=BASE), Calliper(value=70, at=BASE), Calliper(value=70.02, at=BASE)],
        *[Slant(value=170.24), Slant(value=170.0), Height(value=170)],
    ]
    name = labels(readings)[row]
    readings[row] = replace(readings[row], value=readings[row].value * factor)
    try:
        wrong = fit(readings).verdict.wrong
    except CupgeomError as error:  # so far off that there is no cup: refused, by the same name
        wrong = (error.where,)
    assert wrong == (name,)
