"""The bench log: read from CSV, fitted, its ranges kept in 10,000 draws, its outliers named."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import t

from cupgeom.coating.coats import parse_coats, reference_tumbler
from cupgeom.coating.estimate import Bench, estimate
from cupgeom.coating.film import Rack
from cupgeom.coating.least_squares import fit, student
from cupgeom.coating.log import equations, learn, learn_of
from cupgeom.coating.mixing import Loss
from cupgeom.coating.pots import Entry, parse_log
from cupgeom.coating.resin import EXAMPLE
from cupgeom.cup import Cup
from cupgeom.errors import CupgeomError
from cupgeom.records import Faults

LARGE, SMALL = reference_tumbler(), Cup.frustum(82, 82, 95)
AREAS = {"large": LARGE.coated_area, "small": SMALL.coated_area}
FILMS, STICK = {"first flood": 0.62, "flood": 0.41}, 1.3  # mm and mL that the logs below are made from


def pots(rows: int, *, measured: bool = True) -> list[Entry]:
    """A log without noise: two coats on two cups in turn, left over and dripped as it comes."""
    found = []
    for index in range(rows):
        cup, coat = ("large", "small")[index % 2], ("first flood", "flood")[index // 2 % 2]
        left, dripped = 1.0 + 0.25 * (index % 3), 0.5 * (index % 2)
        on_it = FILMS[coat] * AREAS[cup] / 1000
        found.append(
            Entry(
                line=index + 2,
                cup=cup,
                coat=coat,
                mixed_ml=on_it + STICK + left + dripped,
                left_ml=left,
                dripped_ml=dripped,
                film=FILMS[coat] if measured and index % 3 == 0 else None,
            )
        )
    return found


# The fit --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 30, 199, 200])
@pytest.mark.parametrize("chance", [0.6, 0.975, 0.9995])
def test_students_t_is_that_of_scipy(degrees: int, chance: float) -> None:
    assert student(chance, degrees) == pytest.approx(t.ppf(chance, degrees), rel=1e-11)


def test_students_t_of_many_degrees() -> None:
    assert student(0.975, 1000) == pytest.approx(t.ppf(0.975, 1000), rel=1e-8)
    assert student(0.975, 10**9) == pytest.approx(1.959963985, abs=1e-8)


def test_the_fit_and_its_ranges_are_those_of_scipy() -> None:
    design, uncertainties, readings, _ = equations(pots(14), list(FILMS), AREAS)
    noisy = readings + uncertainties * np.random.default_rng(5).normal(size=len(readings))
    ours = fit(design, uncertainties, noisy[None, :])
    best, covariance = curve_fit(lambda rows, *x: rows @ np.array(x), design, noisy, p0=[1, 1, 1], sigma=uncertainties)
    half = t.ppf(0.975, len(readings) - 3) * np.sqrt(np.diag(covariance))
    assert ours.unknowns[0] == pytest.approx(best, rel=1e-6)
    assert ours.half_ranges[0] == pytest.approx(half, rel=1e-5)


def test_a_deleted_residual_is_a_fit_without_the_row() -> None:
    design, uncertainties, readings, _ = equations(pots(14), list(FILMS), AREAS)
    noisy = readings + uncertainties * np.random.default_rng(6).normal(size=len(readings))
    ours = fit(design, uncertainties, noisy[None, :]).deleted_residuals[0]
    for row in (0, 5, 11):
        kept = np.arange(len(readings)) != row
        rows, aim = design[kept] / uncertainties[kept, None], noisy[kept] / uncertainties[kept]
        best, squares, *_ = np.linalg.lstsq(rows, aim, rcond=None)
        variance = squares[0] / (len(aim) - 3)
        here = design[row] / uncertainties[row]
        spread = variance * (1 + here @ np.linalg.inv(rows.T @ rows) @ here)
        assert ours[row] == pytest.approx((noisy[row] / uncertainties[row] - here @ best) / np.sqrt(spread), rel=1e-9)


@pytest.mark.parametrize(("rows", "scale"), [(8, 1.0), (20, 0.4), (12, 2.5)])
def test_ten_thousand_noisy_logs_keep_their_95_per_cent_ranges(rows: int, scale: float) -> None:
    """Whatever the hand's scatter is, the true films and the true loss lie in their ranges in 94 to 96 % of the draws.

    0.95 ± 0.01 is ± 4.6 standard deviations of a share of 10,000 draws.
    """
    entries = pots(rows)
    design, uncertainties, readings, _ = equations(entries, list(FILMS), AREAS)
    noise = np.random.default_rng(2026).normal(size=(10_000, len(readings)))
    result = fit(design, uncertainties, readings + scale * uncertainties * noise)
    truth = np.array([*FILMS.values(), STICK])
    kept = (np.abs(result.unknowns - truth) <= result.half_ranges).mean(axis=0)
    assert np.all((kept > 0.94) & (kept < 0.96))
    error = result.unknowns.mean(axis=0) - truth
    assert np.all(np.abs(error) < 4.5 * result.unknowns.std(axis=0) / 100)


def test_a_log_without_noise_gives_its_films_and_its_loss_back() -> None:
    entries = pots(12)
    habits = learn(entries, AREAS)
    assert {label: one.value for label, one in habits.films.items()} == pytest.approx(FILMS, rel=1e-9)
    mean_left = sum(entry.left_ml + entry.dripped_ml for entry in entries) / 12
    assert habits.loss.value == pytest.approx(STICK + mean_left, rel=1e-9)
    assert habits.loss.half_range < 1e-6
    assert habits.notices == ()
    assert habits.own_limit is None


def test_what_is_learnt_is_used_by_the_next_estimate() -> None:
    bench = learn(pots(12), AREAS).of(Bench(speed_rpm=5))
    assert bench.loss.total_ml == pytest.approx(learn(pots(12), AREAS).loss.value)
    first, second, clear = estimate(LARGE, parse_coats("flood, flood, clear=0.3mm"), EXAMPLE, bench).rows
    assert (first.film, second.film, clear.film) == pytest.approx((0.62, 0.41, 0.3))
    assert first.needed_ml == pytest.approx(0.62 * AREAS["large"] / 1000 + bench.loss.total_ml)


def test_one_cup_without_a_measured_film_cannot_tell_film_from_loss() -> None:
    entries = [entry for entry in pots(16, measured=False) if entry.cup == "large"]
    habits = learn(entries, AREAS, name="log.csv")
    assert str(habits.notices[0]) == (
        "log.csv: cannot tell the film from what sticks to stick and gloves, taken as 0.5 mL; "
        "measure one film, or log cups of another size"
    )
    # 1.3 mL stick and 0.5 mL are assumed: the film takes the other 0.8 mL
    assert habits.films["flood"].value == pytest.approx(0.41 + 800 / AREAS["large"], rel=1e-9)


def test_an_outlier_is_named_by_row_and_column() -> None:
    rng = np.random.default_rng(11)
    entries = [replace(one, mixed_ml=one.mixed_ml + rng.normal(0, 0.3)) for one in pots(20)]
    assert learn(entries, AREAS, name="log.csv").notices == ()
    entries[6] = replace(entries[6], mixed_ml=entries[6].mixed_ml + 5)
    said = [str(notice) for notice in learn(entries, AREAS, name="log.csv").notices]
    assert said == ["log.csv:8: mixed disagrees with the other rows; mend it, or take the row out"]


def test_the_makers_own_drip_limit_is_what_stays_on_cups_that_ran() -> None:
    limit = Rack(speed_rpm=5, viscosity_pa_s=1, density_kg_m3=1100).drip_limit(35.0)
    stayed = [0.84, 0.86, 0.88]  # of the theory's limit
    mixed = [share * limit * AREAS["large"] / 1000 + 10 + STICK for share in stayed]
    ran = [Entry(line=50, cup="large", coat="first flood", mixed_ml=ml, left_ml=2, dripped_ml=8) for ml in mixed]
    habits = learn_of([*pots(12), *ran], {"large": LARGE, "small": SMALL}, EXAMPLE, Bench(speed_rpm=5))
    assert habits.own_limit is not None
    assert habits.own_limit.value == pytest.approx(0.86, rel=1e-9)
    assert habits.own_limit.half_range == pytest.approx(t.ppf(0.975, 2) * 0.02 / np.sqrt(3), rel=1e-6)
    assert habits.films["first flood"].value == pytest.approx(0.62, rel=1e-9)  # cups that ran say nothing of it
    row = estimate(LARGE, parse_coats("flood"), EXAMPLE, habits.of(Bench(speed_rpm=5))).rows[0]
    assert row.limit == pytest.approx(0.86 * limit)


def test_a_log_that_beats_the_theory_is_doubted() -> None:
    area = AREAS["large"] / 1000
    ran = [Entry(line=50, cup="large", coat="flood", mixed_ml=1.2 * 0.9 * area + 8 + STICK, dripped_ml=8)] * 2
    habits = learn([*pots(12), *ran], AREAS, {"large": 0.9})
    assert str(habits.notices[0]) == (
        "log: puts the drip limit at 120 % of what theory allows; "
        "check viscosity, rack and room against those of the log"
    )


def test_a_cup_that_held_more_than_those_that_ran_is_named() -> None:
    ran = [Entry(line=50 + i, cup="large", coat="flood", mixed_ml=20 + i / 10, dripped_ml=8) for i in range(3)]
    said = " ".join(map(str, learn([*pots(4), *ran], AREAS, {"large": 0.9}, "log.csv").notices))
    assert "log.csv:2: held more film than those that ran" in said


def test_a_loss_less_than_what_was_left_is_no_negative_stick() -> None:
    entries = [Entry(line=2, cup="large", coat="flood", mixed_ml=15, left_ml=2, film=0.5)]
    bench = learn(entries, AREAS).of(Bench(speed_rpm=5))
    assert bench.loss == Loss(pot_ml=2, stick_ml=0, drips_ml=0)


def test_logs_that_teach_nothing() -> None:
    with pytest.raises(CupgeomError, match=r"^log\.csv:2: cup: no cup 'huge'; use large, small$"):
        learn([Entry(line=2, cup="huge", coat="flood", mixed_ml=20)], AREAS, name="log.csv")
    with pytest.raises(CupgeomError, match=r"^log\.csv: has no pot that did not run"):
        learn([Entry(line=2, cup="large", coat="flood", mixed_ml=20, dripped_ml=5)], AREAS, name="log.csv")


# The file -------------------------------------------------------------------------------------------------------------


def test_a_log_is_read() -> None:
    text = (
        "\ufeffcoat, cup, mixed, left, dripped, film, cups\nfirst flood,comet,30,1.5,0.5,0.66,\n\nTack,comet,5,,,,3\n"
    )
    assert parse_log(text) == (
        Entry(line=2, cup="comet", coat="first flood", mixed_ml=30, left_ml=1.5, dripped_ml=0.5, film=0.66),
        Entry(line=4, cup="comet", coat="tack", mixed_ml=5, cups=3),
    )


def test_all_faults_of_a_log_at_once() -> None:
    text = "cup,coat,mixed,left,film,cups\nc,flood,abc,1,,\nc,fload,20,1,,\n,flood,20,-1,,\nc,flood,10,12,,\n"
    text += 'c,flood,20,1,0.5x,1.5\nc,flood,"1,5",,,,7\n'
    with pytest.raises(Faults) as refused:
        parse_log(text, "log.csv")
    assert str(refused.value).splitlines() == [
        "log.csv:2: mixed: must be a number of mL from 0 to 10000, got 'abc'",
        "log.csv:3: coat: no coat 'fload'; did you mean flood?",
        "log.csv:4: left: must be a number of mL from 0 to 10000, got '-1'",
        "log.csv:4: cup: is empty; give the cup's name",
        "log.csv:5: left: and what dripped leave nothing of what was mixed",
        "log.csv:6: film: must be a number of mm from 0 to 10, got '0.5x'",
        "log.csv:6: cups: must be a whole number, got '1.5'",
        "log.csv:7: has 7 values for 6 columns; quote a value that holds a comma",
        "log.csv:7: mixed: must be a number of mL from 0 to 10000, got '1,5'",
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "log.csv:1: is empty; begin with cup,coat,mixed,left,dripped,film"),
        ("cup,coat,mixed\n", "log.csv:1: has a heading and no rows"),
        ("cup,coat,mixed,fillm\n1,2,3\n", "log.csv:1: fillm: unknown column; did you mean film?"),
        ("cup,coat\n1,2\n", "log.csv:1: mixed: this column is missing"),
        ("cup,coat,mixed,mixed\n", "log.csv:1: mixed: this column is there twice"),
        ("cup,coat,mixed\nc,flood,nan\n", "log.csv:2: mixed: must be a number of mL from 0 to 10000, got 'nan'"),
        ("cup,coat,mixed\nc,flood,0\n", "log.csv:2: mixed: must be greater than 0 mL, got 0 mL"),
        ("cup,coat,mixed\nc,,5\n", "log.csv:2: coat: no coat ''; use tack, flood, vein, clear, \"first flood\""),
    ],
)  # fmt: skip
def test_files_that_are_no_log(text: str, message: str) -> None:
    with pytest.raises(Faults) as refused:
        parse_log(text, "log.csv")
    assert str(refused.value) == message
