"""Uncertainties of what follows from the readings, against a published example, a Monte Carlo and another package."""

from __future__ import annotations

import math

import numpy as np
import pytest
import uncertainties
from uncertainties import umath

from cupgeom import CupgeomError
from cupgeom.measure import BASE, Calliper, Estimate, Height, Measured, Slant, Tape, fit, propagate

DRAWS = 1_000_000


def test_the_published_volume_example_comes_out() -> None:
    # CHECKS U3: EURACHEM/CITAC guide, example A1: c = 1000 m P / V = 1002.7 ± 0.9 mg/L
    values = [100.28, 0.9999, 100.0]
    deviations = np.array([0.05, 0.000058, 0.07])
    results, spread = propagate(lambda x: 1000 * x[0] * x[1] / x[2], values, np.diag(deviations**2))
    assert round(float(results[0]), 1) == 1002.7
    assert round(math.sqrt(spread[0, 0]), 1) == 0.9
    # and in full, by the rule for products: relative uncertainties add as squares
    relative = math.sqrt(sum((u / x) ** 2 for u, x in zip(deviations, values, strict=True)))
    assert math.sqrt(spread[0, 0]) == pytest.approx(results[0] * relative, rel=1e-6)


def test_correlated_inputs_keep_their_correlation() -> None:
    # x − y and x + y of two inputs with covariance c: variances u² + v² ∓ 2c, covariance u² − v² (closed form)
    results, spread = propagate(lambda x: [x[0] - x[1], x[0] + x[1]], [5, 3], [[0.04, 0.01], [0.01, 0.09]])
    assert results == pytest.approx([2, 8])
    assert spread == pytest.approx(np.array([[0.11, -0.05], [-0.05, 0.15]]), rel=1e-9)


def test_an_exact_input_adds_nothing() -> None:
    _, spread = propagate(lambda x: x[0] * x[1], [5, 3], [[0.04, 0], [0, 0]])
    assert spread[0, 0] == pytest.approx(0.36)


@pytest.mark.parametrize("covariance", [[[1, 0]], [[-1.0]], [[math.nan]], [[math.inf]]])
def test_a_covariance_that_is_none_is_refused(covariance: list[list[float]]) -> None:
    with pytest.raises(CupgeomError, match="covariance: must be"):
        propagate(lambda x: x[0], [1], covariance)


def test_the_95_percent_range_is_1_96_uncertainties() -> None:
    # the 97.5 % point of the normal law, 1.959964 (any table)
    assert Estimate(name="slant", value=1, uncertainty=1).half_range == pytest.approx(1.959964, abs=5e-7)


def once_each() -> Measured:
    """A strong taper, each thing read once, the height and not the slant."""
    return fit([Tape(value=300), Tape(value=200, at=BASE), Height(value=60)])


def test_uncertainties_agree_with_a_million_draws_when_each_thing_is_read_once() -> None:
    measured = once_each()
    draws = np.random.default_rng(31).normal(size=(3, DRAWS)) * 0.5 + np.array([[300], [200], [60]])
    rim, base, height = draws[0] / math.pi, draws[1] / math.pi, draws[2]
    slant = np.hypot(height, (rim - base) / 2)
    made_slant, made_rim, made_base = math.hypot(60, 50 / math.pi), 300 / math.pi, 200 / math.pi
    sizes = {
        "rim diameter": rim,
        "base diameter": base,
        "slant": slant,
        "height": height,
        "area": math.pi / 2 * (rim + base) * slant,
        "rim arc length": math.pi * rim,
        "base arc length": math.pi * base,
        "seam gap at the rim": math.pi * (rim - made_rim),
        # the wrap ends at its own slant, where the true cup is as wide as its taper makes it
        "seam gap at the base": math.pi * (rim - (rim - base) / slant * made_slant - made_base),
    }
    assert {estimate.name for estimate in measured.estimates} == set(sizes)
    for name, drawn in sizes.items():
        assert measured.estimate(name).uncertainty == pytest.approx(drawn.std(), rel=0.02), name
        assert measured.estimate(name).value == pytest.approx(drawn.mean(), abs=0.02 * drawn.std()), name
    # any other number that follows from the cup: its volume, by the formula of CHECKS F12
    volume = measured.uncertainty_of(lambda cup: cup.volume, unit="mm³")
    drawn = math.pi * height / 12 * (rim**2 + rim * base + base**2)
    assert volume.uncertainty == pytest.approx(drawn.std(), rel=0.02)
    assert volume.value == pytest.approx(drawn.mean(), rel=1e-3)


def test_uncertainties_agree_with_a_million_draws_when_things_are_read_twice() -> None:
    readings = [
        Tape(value=276.5),
        Calliper(value=88.0),
        Calliper(value=70.0, at=BASE),
        Calliper(value=70.1, at=BASE, uncertainty=0.2),
        Slant(value=170.2),
        Slant(value=170.6, uncertainty=0.3),
    ]
    measured = fit(readings)
    random = np.random.default_rng(32)
    drawn = [random.normal(reading.value, reading.uncertainty, DRAWS) for reading in readings]
    # closed form of each weighted mean: weights 1/σ²; a tape's σ in diameter is 0.5/π
    rim = np.average([drawn[0] / math.pi, drawn[1]], axis=0, weights=[(math.pi / 0.5) ** 2, 100])
    base = np.average(drawn[2:4], axis=0, weights=[100, 25])
    slant = np.average(drawn[4:6], axis=0, weights=[4, 1 / 0.09])
    area = math.pi / 2 * (rim + base) * slant
    height = np.sqrt(slant**2 - ((rim - base) / 2) ** 2)
    sizes = {"rim diameter": rim, "base diameter": base, "slant": slant, "area": area, "height": height}
    for name, values in sizes.items():
        assert measured.estimate(name).uncertainty == pytest.approx(values.std(), rel=0.02), name
        assert measured.estimate(name).value == pytest.approx(values.mean(), abs=0.02 * values.std()), name


def test_uncertainties_agree_with_the_uncertainties_package() -> None:
    measured = once_each()
    round_rim, round_base, height = (uncertainties.ufloat(value, 0.5) for value in (300, 200, 60))
    rim, base = round_rim / math.pi, round_base / math.pi
    slant = umath.sqrt(height**2 + ((rim - base) / 2) ** 2)
    area = math.pi / 2 * (rim + base) * slant
    gap = math.pi * (rim - (rim - base) / slant * slant.nominal_value - base.nominal_value)
    for name, value in (
        ("rim diameter", rim),
        ("slant", slant),
        ("height", height),
        ("area", area),
        ("rim arc length", round_rim),
        ("base arc length", round_base),
        ("seam gap at the base", gap),
    ):
        estimate = measured.estimate(name)
        assert estimate.value == pytest.approx(value.nominal_value, rel=1e-9, abs=1e-9), name
        assert estimate.uncertainty == pytest.approx(value.std_dev, rel=1e-6), name
    reference = np.array(uncertainties.covariance_matrix([rim, base, slant]))
    assert np.array(measured.covariance) == pytest.approx(reference, rel=1e-6, abs=1e-9)


def test_an_unknown_estimate_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(CupgeomError, match=r"^estimate: there is none called 'rim'; there are rim diameter, base"):
        once_each().estimate("rim")
