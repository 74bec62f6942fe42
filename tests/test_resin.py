"""Resins, coats and batches: the trade's figures on the reference tumbler, the laws between them, and refusals."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cupgeom.coating import report
from cupgeom.coating.cautions import BURIED_BY, CAUTIONS, SPRAY_LAYERS, SPRAY_REST_MIN
from cupgeom.coating.coats import (
    VEIN_BASE_SHARE,
    Coat,
    build_up,
    common_film,
    films,
    grown_by,
    labels,
    parse_coats,
    reference_tumbler,
    warm_thinning,
)
from cupgeom.coating.estimate import Bench, Estimate, estimate
from cupgeom.coating.film import Rack
from cupgeom.coating.glitter import Glitter
from cupgeom.coating.mixing import Loss, mix, ratio_error
from cupgeom.coating.resin import EXAMPLE, Resin
from cupgeom.cup import Cup, Span
from cupgeom.errors import CupgeomError
from cupgeom.records import Faults
from cupgeom.shelf import read_shelf

TUMBLER = reference_tumbler()
TWO_TO_ONE = replace(EXAMPLE, ratio=(2.0, 1.0))
BENCH = Bench(speed_rpm=5)
COMMON = "tack, flood, flood, vein, clear"


def coats_of(text: str = COMMON, *, cup: Cup = TUMBLER, resin: Resin = EXAMPLE, bench: Bench = BENCH) -> Estimate:
    return estimate(cup, parse_coats(text), resin, bench)


# The resin ------------------------------------------------------------------------------------------------------------


def test_the_ratio_by_mass_and_the_density_of_the_mixture() -> None:
    """2 mL of 1.15 g/mL and 1 mL of 1.05 g/mL: 2.30 g and 1.05 g, together 3.35 g in 3 mL."""
    assert TWO_TO_ONE.ratio_by_mass == pytest.approx(2.30 / 1.05, rel=1e-12)
    assert TWO_TO_ONE.density_g_per_ml == pytest.approx(3.35 / 3, rel=1e-12)
    assert TWO_TO_ONE.density_kg_m3 == pytest.approx(3350 / 3, rel=1e-12)


def test_andrade_goes_through_both_viscosities_and_is_straight_in_one_over_t() -> None:
    resin = replace(EXAMPLE, viscosity=((20.0, 2.0), (40.0, 0.5)))
    assert resin.viscosity_pa_s(20) == pytest.approx(2.0, rel=1e-12)
    assert resin.viscosity_pa_s(40) == pytest.approx(0.5, rel=1e-12)
    middle = 2 / (1 / 293.15 + 1 / 313.15) - 273.15  # half-way in 1/T the viscosity is the geometric mean
    assert resin.viscosity_pa_s(middle) == pytest.approx(1.0, rel=1e-12)


def test_one_viscosity_is_carried_by_the_named_assumption() -> None:
    resin = replace(EXAMPLE, viscosity=((25.0, 1.0),))
    expected = math.exp(6000 * (1 / 308.15 - 1 / 298.15))
    assert resin.viscosity_pa_s(35) == pytest.approx(expected, rel=1e-12)
    assert "assumed to halve every 10 degrees" in str(resin.notices(22)[0])


@pytest.mark.parametrize(("body", "pa_s"), [("thin", 0.5), ("medium", 1.0), ("thick", 3.0)])
def test_named_viscosities_are_said_to_be_assumed(body: str, pa_s: float) -> None:
    resin = replace(EXAMPLE, viscosity=body)
    assert resin.viscosity_pa_s(22) == pa_s
    assert f"{body} is taken as {pa_s:g} Pa·s at 22 °C" in str(resin.notices(22)[0])


def test_a_room_ten_degrees_warmer_runs_all_clocks_twice_as_fast() -> None:
    warm = EXAMPLE.in_room(32)
    clocks = [field.name for field in fields(Resin) if field.name.endswith("_min")]
    assert len(clocks) == 6
    for name in clocks:
        assert getattr(warm, name) == pytest.approx(getattr(EXAMPLE, name) / 2, rel=1e-12)
    assert [notice.where for notice in EXAMPLE.notices(32)] == ["room", "room"]
    assert EXAMPLE.notices(22) == ()


def test_a_larger_pot_lasts_less_long() -> None:
    assert EXAMPLE.pot_life_of(200) == 20
    assert EXAMPLE.pot_life_of(50) == 40


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"ratio": (0.0, 1.0)}, "ratio[0]: must be greater than 0 parts, got 0 parts"),
        ({"ratio": (1.0, -2.0)}, "ratio[1]: must be greater than 0 parts, got -2 parts"),
        ({"viscosity": ((22.0, 0.0),)}, "viscosity[0][1]: must be at least 0.01 Pa·s, got 0 Pa·s"),
        ({"viscosity": ((22.0, -1.0),)}, "viscosity[0][1]: must be at least 0.01 Pa·s, got -1 Pa·s"),
        ({"viscosity": ((22.0, 1000.0),)}, "viscosity[0][1]: must be at most 100 Pa·s, got 1000 Pa·s"),
        ({"viscosity": ()}, "viscosity: must be one or two pairs, got 0"),
        ({"viscosity": "runny"}, "viscosity: must be one of thin, medium, thick, or numbers, got 'runny'"),
        ({"viscosity": ((22.0, 1.0), (22.0, 0.5))}, "viscosity[1][0]: must be another temperature than 22 °C"),
        ({"viscosity": ((22.0, 1.0), (30.0, 2.0))}, "viscosity: must be less at the higher of the two temperatures"),
        ({"density_a_g_per_ml": 1150.0}, "density_a_g_per_ml: must be at most 3 g/mL, got 1150 g/mL"),
        ({"pot_life_min": 0.0}, "pot_life_min: must be greater than 0 min, got 0 min"),
        ({"gel_min": 30.0}, "gel_min: must not be before pot_life_min (40 min), got 30 min"),
        ({"recoat_until_min": 200.0}, "recoat_until_min: must not be before recoat_from_min (240 min), got 200 min"),
        ({"temperature_c": math.nan}, "temperature_c: must be a finite number of °C, got nan"),
        ({"largest_batch_g": 0.0}, "largest_batch_g: must be greater than 0 g, got 0 g"),
        ({"price_per_ml": Decimal(-1)}, "price_per_ml: must be 0 or more, got -1"),
    ],
)
def test_a_resin_refuses_what_is_no_resin(changes: dict[str, object], message: str) -> None:
    with pytest.raises(CupgeomError) as refused:
        replace(EXAMPLE, **changes)
    assert str(refused.value) == message


# The shop file --------------------------------------------------------------------------------------------------------

SHOP = """
[resins."slow clear"]
ratio = [2, 1]
density = [1.12, 1.02]
viscosity = [[22, 1.1], [35, 0.4]]
pot_life_min = 40
pot_life_mass_g = 150
gel_min = 300
recoat_min = [240, 720]
sandable_from_min = 720
in_service_from_min = 10080
price_per_ml = "0.031"
notes = "ours"

[racks]
slow = 3
"""


def test_resins_and_racks_of_the_shop_file() -> None:
    shelf = read_shelf(SHOP)
    resin = shelf.resin("slow clear")
    assert resin == Resin(
        name="slow clear",
        ratio=(2.0, 1.0),
        density_a_g_per_ml=1.12,
        density_b_g_per_ml=1.02,
        viscosity=((22.0, 1.1), (35.0, 0.4)),
        pot_life_min=40.0,
        pot_life_mass_g=150.0,
        gel_min=300.0,
        recoat_from_min=240.0,
        recoat_until_min=720.0,
        sandable_from_min=720.0,
        in_service_from_min=10080.0,
        price_per_ml=Decimal("0.031"),
    )
    assert resin.largest_batch_g == 100
    assert shelf.rack("slow") == 3
    with pytest.raises(
        CupgeomError, match=r"^resin: shop\.toml has no resin 'slow clera'; did you mean .slow clear.\?$"
    ):
        shelf.resin("slow clera")
    with pytest.raises(CupgeomError, match=r"^rack: shop\.toml has no rack 'slwo'; did you mean slow\?$"):
        shelf.rack("slwo")


def test_all_faults_of_a_resin_at_once() -> None:
    text = SHOP.replace("[2, 1]", "[0, 1]").replace("gel_min = 300", "gell_min = 300").replace("slow = 3", "slow = 0")
    text += '[resins.other]\nviscosity = "thinn"\nratio = 2\n'
    with pytest.raises(Faults) as refused:
        read_shelf(text)
    lines = str(refused.value).splitlines()
    assert lines[0] == 'shop.toml:2: resins."slow clear".gel_min: is missing; give a number'
    assert lines[1] == 'shop.toml:8: resins."slow clear".gell_min: unknown key; did you mean gel_min?'
    assert "shop.toml:16: racks.slow: must be greater than 0, got 0" in lines
    assert "shop.toml:18: resins.other.viscosity: must be one of thin, medium, thick, got 'thinn'" in lines
    assert "shop.toml:19: resins.other.ratio: must be two numbers in brackets, got 2" in lines


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("[2, 1]", "[0, 1]", '3: resins."slow clear".ratio[0]: must be greater than 0 parts, got 0 parts'),
        ("1.1]", "-1]", '5: resins."slow clear".viscosity[0][1]: must be at least 0.01 Pa·s, got -1 Pa·s'),
        ("[22, 1.1]", "[22]", '5: resins."slow clear".viscosity[0]: must be two numbers in brackets, got a list of 1'),
        ("1.02]", "1020]", '4: resins."slow clear".density[1]: must be at most 3 g/mL, got 1020 g/mL'),
        (
            '"0.031"',
            '"dear"',
            '12: resins."slow clear".price_per_ml: '
            'must be an amount of 0 or more such as "0.031", got \'dear\'',
        ),
    ],
)  # fmt: skip
def test_a_fault_of_a_resin_stands_at_its_key(old: str, new: str, fault: str) -> None:
    with pytest.raises(Faults) as refused:
        read_shelf(SHOP.replace(old, new))
    assert str(refused.value) == f"shop.toml:{fault}"


# The trade's figures on the reference tumbler (CHECKS section 8: common practice, no source) --------------------------


def test_a_tack_coat_is_5_ml_mixed_and_less_than_1_ml_on_the_cup() -> None:
    row = coats_of("tack").rows[0]
    assert row.mixed_ml == 5
    assert 0 < row.applied_ml < 1


def test_the_first_flood_is_30_ml_mixed_and_the_second_20_ml() -> None:
    first, second = coats_of("flood, flood").rows
    assert (first.label, second.label) == ("first flood", "flood")
    assert (first.mixed_ml, second.mixed_ml) == (30, 20)
    assert first.applied_ml == pytest.approx(26)  # 30 mL less a loss of 4 mL
    assert second.applied_ml == pytest.approx(16)


def test_a_vein_coat_is_30_ml_mixed_15_ml_laid_and_the_rest_in_small_cups() -> None:
    row = coats_of("vein/4@2%").rows[0]
    assert row.mixed_ml == 30
    assert VEIN_BASE_SHARE * row.applied_ml == pytest.approx(15)
    assert 4 * row.small_cup_ml == pytest.approx(26 - 15)


@pytest.mark.parametrize(
    ("label", "least_h", "most_h"), [("tack", 2, 3), ("first flood", 4, 6), ("flood", 8, 12), ("vein", 8, 12)]
)
def test_waits_before_the_next_coat(label: str, least_h: float, most_h: float) -> None:
    rows = {row.label: row for row in coats_of().rows}
    assert least_h * 60 <= rows[label].next_from_min <= most_h * 60
    assert 8 * 60 <= rows[label].sandable_min <= 12 * 60  # a wait of its own: hard through


def test_what_seals_and_buries_a_decal() -> None:
    assert (SPRAY_LAYERS, SPRAY_REST_MIN, BURIED_BY) == (3, 30, 2)


def test_heavy_sanding_waits_for_the_third_coat_over_glitter() -> None:
    bench = replace(BENCH, glitter=Glitter())
    said = [str(notice) for notice in coats_of("tack, flood, flood", bench=bench).notices]
    assert said == ["sanding: after two coats over glitter it may cut through; heavy sanding waits for the third"]
    assert coats_of("tack, flood, flood, clear", bench=bench).notices == ()


def test_resins_are_commonly_one_to_one_and_the_cautions_defer_to_the_data_sheet() -> None:
    assert EXAMPLE.ratio == (1, 1)
    assert "data sheet" in CAUTIONS[0]
    text = " ".join(CAUTIONS)
    for word in ("H315", "H317", "H319", "H225", "21 CFR 175.300", "1895/2005", "2024/3190", "microwave"):
        assert word in text
    assert "food safe" not in text.lower()


def test_defaults_scale_by_coated_area() -> None:
    mug = Cup.frustum(82, 82, 95)
    for label, row in zip(labels(parse_coats(COMMON)), coats_of(cup=mug).rows, strict=True):
        assert row.film == pytest.approx(common_film(label))
        assert row.applied_ml == pytest.approx(common_film(label) * math.pi * 82 * 95 / 1000)


# Mixing ---------------------------------------------------------------------------------------------------------------


def test_a_two_to_one_batch_of_17_ml_keeps_two_to_one() -> None:
    one = mix(TWO_TO_ONE, 17.0, 1.0)
    assert (one.a_ml, one.b_ml) == (12, 6)
    coarse = mix(TWO_TO_ONE, 17.0, 2.5)
    assert (coarse.a_ml, coarse.b_ml) == (15, 7.5)


@given(
    st.sampled_from([(1.0, 1.0), (2.0, 1.0), (3.0, 1.0), (1.0, 2.0), (3.0, 2.0), (1.25, 1.0), (100.0, 83.0)]),
    st.floats(1, 300),
    st.sampled_from([0.5, 1.0, 2.5, 5.0]),
)
def test_both_parts_lie_on_marks_and_the_ratio_is_exact(ratio: tuple[float, float], needed: float, mark: float) -> None:
    one = mix(replace(EXAMPLE, ratio=ratio), needed, mark)
    least = Fraction(str(ratio[0])) / Fraction(str(ratio[1]))
    short = min(0.02 * needed, float(least.numerator + least.denominator) * mark / 10)  # the rule of `mix`, in words
    assert one.total_ml >= needed - short - 1e-9
    assert one.a_ml * ratio[1] == pytest.approx(one.b_ml * ratio[0], rel=1e-12)
    if one.on_marks:
        assert (one.a_ml / mark).is_integer()
        assert (one.b_ml / mark).is_integer()
        assert one.total_ml <= 2 * needed
        step = sum(Fraction(str(part)) for part in ratio)
        assert one.total_ml - needed <= float(step * 100) * mark  # never more than one step too much
    else:
        assert one.weigh


def test_a_ratio_that_misses_the_marks_is_weighed() -> None:
    one = mix(replace(EXAMPLE, ratio=(100.0, 83.0)), 30.0, 2.5)
    assert not one.on_marks
    assert one.weigh
    # 30·100/183 mL of 1.15 g/mL, 30·83/183 mL of 1.05 g/mL
    assert (one.a_g, one.b_g) == (18.9, 14.3)


def test_the_ratio_that_half_a_mark_misread_makes() -> None:
    """15 + 15 mL read 1.25 mL wrong: 16.25/13.75 = 1.1818; 50 + 50: 51.25/48.75 = 1.0513; 100 + 100 within 5 %."""
    assert ratio_error(15, 15, 1.25) == pytest.approx(16.25 / 13.75 - 1, rel=1e-12)
    assert mix(EXAMPLE, 100.0, 2.5).weigh
    assert not mix(EXAMPLE, 200.0, 2.5).weigh
    assert ratio_error(2.5, 10, 1.25) == pytest.approx((11.25 / 1.25) / (10 / 2.5) - 1)  # A too empty, B too full
    assert math.isinf(ratio_error(1.25, 10, 1.25))


@given(st.floats(2, 50), st.floats(2, 50), st.floats(0.1, 1.9), st.floats(-1, 1), st.floats(-1, 1))
def test_no_reading_within_half_a_mark_is_worse(a: float, b: float, half: float, first: float, second: float) -> None:
    got = (a + first * half) / (b + second * half)
    off = max(got / (a / b), (a / b) / got) - 1
    assert off <= ratio_error(a, b, half) * (1 + 1e-9) + 1e-9


# Batches --------------------------------------------------------------------------------------------------------------


@settings(max_examples=30)
@given(st.floats(60, 120), st.floats(40, 110), st.floats(80, 200), st.floats(0.5, 6))
def test_mixed_less_applied_depends_on_batches_and_not_on_area(
    rim: float, base: float, height: float, loss: float
) -> None:
    resin = replace(EXAMPLE, largest_batch_g=10_000.0, pot_life_mass_g=10_000.0)
    bench = replace(BENCH, loss=Loss(pot_ml=loss, stick_ml=0, drips_ml=0), cups=7)
    for row in coats_of("flood, clear", cup=Cup.frustum(rim, base, height), resin=resin, bench=bench).rows:
        assert row.pots == 2  # 40 min of pot life hold 4 cups of 10 min
        assert row.needed_ml - 7 * row.applied_ml == pytest.approx(2 * loss, rel=1e-9)


def test_cups_are_shared_among_pots_by_pot_life_and_by_mass() -> None:
    large = replace(EXAMPLE, largest_batch_g=1000.0, pot_life_mass_g=1000.0)
    flood = coats_of("flood", resin=large, bench=replace(BENCH, cups=6)).rows[0]
    assert [(batch.times, batch.cups) for batch in flood.batches] == [(2, 3)]  # 4 a pot at most, shared evenly
    # 26 mL a cup and 4 mL lost: 3 cups are 82 mL, 85 on the marks, 93.5 g; 4 would be 110 mL, 121 g
    flood = coats_of("flood", bench=replace(BENCH, cups=7, minutes_a_cup=1)).rows[0]
    assert [(batch.times, batch.cups) for batch in flood.batches] == [(1, 3), (2, 2)]
    assert all(batch.mix.total_g <= 100 for batch in flood.batches)


def test_a_coat_too_large_for_one_pot_takes_several() -> None:
    result = coats_of("flood=120mL")
    assert [(batch.times, batch.cups) for batch in result.rows[0].batches] == [(2, 0.5)]
    assert "two pots a cup" in " ".join(map(str, result.notices))


def test_a_pot_life_shorter_than_a_cup_takes_is_refused() -> None:
    with pytest.raises(CupgeomError) as refused:
        coats_of("flood", bench=replace(BENCH, minutes_a_cup=45))
    assert str(refused.value) == (
        "pot_life_min: a cup takes 45 min, a pot of 33.0 g for the first flood coat lasts 40.0 min; "
        "be faster or take a slower resin"
    )


def test_a_loss_larger_than_the_largest_batch_is_refused() -> None:
    with pytest.raises(CupgeomError, match=r"^largest_batch_g: 4 g is too little for a pot of the tack coat"):
        coats_of("tack", resin=replace(EXAMPLE, largest_batch_g=4.0))


def test_totals_price_and_what_remains() -> None:
    result = coats_of("flood, flood", resin=replace(EXAMPLE, price_per_ml=Decimal("0.031")))
    assert result.total_ml == (25, 25)
    # 15 + 10 mL of 1.15 and of 1.05 g/mL, each to 0.1 g
    assert result.total_g == pytest.approx((17.2 + 11.5, 15.8 + 10.5), abs=0.051)
    assert result.price == Decimal("1.55")
    assert result.left_ml(100, 20) == (75, -5)


# The rack -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("rpm", "word"), [(5, ""), (3.0, ""), (2.9, "near the drip limit"), (2.4, "expect drips")])
def test_warnings_begin_at_90_and_100_per_cent(rpm: float, word: str) -> None:
    """26 mL use 89.7 % at 3 rpm (see the film's own tests), and go with 1/√rpm."""
    result = coats_of("flood", bench=Bench(speed_rpm=rpm))
    share = 0.694902 * math.sqrt(5 / rpm)
    assert result.rows[0].share == pytest.approx(share, abs=1e-5)
    said = [str(notice) for notice in result.notices]
    assert [word in line for line in said] == [True] * bool(word)


def test_a_coat_thicker_than_the_limit_is_reckoned_all_the_same() -> None:
    result = coats_of("flood=1.5mm")
    assert result.rows[0].film == 1.5
    assert "expect drips: 162.8 % of what the wall carries" in str(result.notices[0])
    rpm = result.rows[0].slowest_rpm
    assert coats_of("flood=1.5mm", bench=Bench(speed_rpm=rpm)).rows[0].share == pytest.approx(1)


def test_glitter_too_coarse_for_the_wall_asks_for_thinner_coats() -> None:
    result = coats_of("tack, flood, flood", bench=replace(BENCH, glitter=Glitter(flake=2.0, voids=0.6)))
    assert str(result.notices[0]) == (
        "first flood: burying the glitter takes 1.20 mm, the wall carries 0.92 mm; lay two thinner coats"
    )
    assert [round(row.cover, 2) for row in result.rows] == [0, 1.2, 0.56]  # what the first has buried counts


def test_a_coat_too_thin_for_the_glitter_is_said() -> None:
    result = coats_of("tack, flood=0.2mm", bench=replace(BENCH, glitter=Glitter()))
    assert "0.20 mm does not bury the glitter, which takes 0.28 mm" in str(result.notices[0])


@settings(max_examples=25)
@given(st.floats(22.5, 60), st.floats(22.5, 60))
def test_warming_lowers_both_limit_and_film(first: float, second: float) -> None:
    cooler, warmer = sorted((first, second))
    assume(warmer - cooler > 0.1)
    one, other = (coats_of("flood, clear", bench=replace(BENCH, cup_c=cup_c)) for cup_c in (cooler, warmer))
    for before, after in zip(one.rows, other.rows, strict=True):
        assert after.limit < before.limit
        assert after.film < before.film
        assert after.share == pytest.approx(before.share)  # both go with √μ
    by_volume = [coats_of("flood=26mL", bench=replace(BENCH, cup_c=cup_c)).rows[0] for cup_c in (cooler, warmer)]
    assert by_volume[0].film == by_volume[1].film
    assert by_volume[0].share < by_volume[1].share


def test_thinning_goes_with_the_root_of_the_viscosity() -> None:
    assert warm_thinning(0.25, 1.0) == 0.5


CHANGES = {
    "ratio": ((2.0, 1.0), {"a_ml", "b_ml", "a_g", "b_g", "ratio_error", "limit", "share", "slowest_rpm",
                           "thinnest_pa_s", "turn_min"}),
    "density_a_g_per_ml": (1.25, {"a_g", "limit", "share", "slowest_rpm", "thinnest_pa_s", "turn_min"}),
    "viscosity": (((22.0, 2.0), (35.0, 0.9)), {"limit", "share", "slowest_rpm", "turn_min"}),
    "pot_life_min": (45.0, {"turn_min"}),
    "gel_min": (250.0, {"turn_min"}),
    "recoat_from_min": (230.0, {"next_from_min"}),
    "recoat_until_min": (800.0, {"next_until_min"}),
    "sandable_from_min": (700.0, {"sandable_min"}),
    "in_service_from_min": (9999.0, set()),
    "largest_batch_g": (90.0, set()),
    "price_per_ml": (Decimal("0.02"), set()),
    "name": ("another", set()),
}  # fmt: skip


@pytest.mark.parametrize("field", CHANGES)
def test_one_number_of_the_data_sheet_moves_only_what_depends_on_it(field: str) -> None:
    value, expected = CHANGES[field]

    def results(resin: Resin) -> dict[str, object]:
        row = coats_of("flood", resin=resin).rows[0]
        one = row.batches[0].mix
        names = ("film", "applied_ml", "needed_ml", "mixed_ml", "cover", "limit", "share", "slowest_rpm",
                 "thinnest_pa_s", "turn_min", "next_from_min", "next_until_min", "sandable_min",
                 "small_cup_ml")  # fmt: skip
        mixed = {name: getattr(one, name) for name in ("a_ml", "b_ml", "a_g", "b_g", "on_marks", "ratio_error")}
        return {name: getattr(row, name) for name in names} | mixed

    before, after = results(EXAMPLE), results(replace(EXAMPLE, **{field: value}))
    assert {name for name in before if before[name] != after[name]} == expected


# Coats and build-up ---------------------------------------------------------------------------------------------------


def test_coats_are_read_from_words() -> None:
    assert parse_coats(" Tack, flood=0.6mm,vein=26mL/3@2% ,clear=14 ml") == (
        Coat(kind="tack"),
        Coat(kind="flood", film=0.6),
        Coat(kind="vein", volume_ml=26.0, colours=3, colorant_share=0.02),
        Coat(kind="clear", volume_ml=14.0),
    )
    assert parse_coats("flood=0.02in")[0].film == pytest.approx(0.508, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "coats: is empty; give coats such as tack, flood, flood=0.6mm, vein=26mL/3@2%, clear"),
        ("tack, flod", "coats: no coat 'flod'; did you mean flood?"),
        ("varnish", "coats: no coat 'varnish'; use tack, flood, vein, clear"),
        ("tack,,flood", "coats: cannot read ''; give coats such as tack, flood, flood=0.6mm, vein=26mL/3@2%, clear"),
        ("flood=0mm", "coats: flood=0mm: film: must be greater than 0 mm, got 0 mm"),
        ("flood=0mL", "coats: flood=0mL: volume_ml: must be greater than 0 mL, got 0 mL"),
        ("flood=20mm", "coats: flood=20mm: film: must be at most 10 mm, got 20 mm"),
        ("flood/3", "coats: flood/3: colours: belong to a vein coat, not to flood"),
        ("vein/3@1.2.3%", "coats: cannot read '1.2.3' as per cent; give a number such as 2"),
    ],
)
def test_coats_that_cannot_be_read(text: str, message: str) -> None:
    with pytest.raises(CupgeomError) as refused:
        parse_coats(text)
    assert str(refused.value) == message


def test_too_much_colorant_is_said() -> None:
    assert "8 % colorant may keep the resin from curing" in str(coats_of("vein/2@8%").notices[0])
    assert coats_of("vein/2@5%").notices == ()


@settings(max_examples=40)
@given(st.lists(st.floats(0.05, 1.5), min_size=1, max_size=6), st.integers(0, 6), st.floats(0, 1))
def test_films_add_up_and_sanding_takes_off(thick: list[float], count: int, share: float) -> None:
    count = min(count, len(thick))
    coats = [Coat(kind="flood", film=film) for film in thick]
    total = math.fsum(thick[:count])
    sanded = share * total
    assert build_up(TUMBLER, coats, count, sanded) == pytest.approx(total - sanded, abs=1e-12)
    grown = grown_by(TUMBLER, coats, count, sanded)
    # a wall of half-angle α moves outward by the film: the diameter at a height by 2·film/cos α
    lean = TUMBLER.walls[0].half_angle_rad
    moved = grown.walls[0].top_radius + math.tan(lean) * (TUMBLER.rings[0].height - grown.rings[0].height)
    assert moved - 44 == pytest.approx((total - sanded) / math.cos(lean), abs=1e-9)


def test_volumes_become_films_on_this_cup() -> None:
    cup = Cup.frustum(80, 80, 100, coated=Span(top=20, bottom=70))
    assert films(cup, parse_coats("flood=10mL")) == pytest.approx((10_000 / (math.pi * 80 * 50),))
    assert films(cup, parse_coats("flood, flood"), own={"flood": 0.5}) == pytest.approx(
        (common_film("first flood"), 0.5)
    )


@pytest.mark.parametrize(
    ("count", "sanded", "message"),
    [
        (3, 0.0, "count: must be a whole number from 0 to 2, the coats there are, got 3"),
        (-1, 0.0, "count: must be a whole number from 0 to 2, the coats there are, got -1"),
        (1, 0.6, "sanded: must be at most the 0.500 mm that are on, got 0.6 mm"),
        (1, -0.1, "sanded: must be at least 0 mm, got -0.1 mm"),
    ],
)
def test_a_build_up_that_is_none(count: int, sanded: float, message: str) -> None:
    with pytest.raises(CupgeomError) as refused:
        grown_by(TUMBLER, parse_coats("flood=0.5mm, clear=0.5mm"), count, sanded)
    assert str(refused.value) == message


# Words and numbers ----------------------------------------------------------------------------------------------------


def test_clocks_for_people() -> None:
    assert [report.clock(minutes) for minutes in (45, 60, 250, 10080)] == ["45 min", "1 h", "4 h 10", "7 days"]


def test_the_table_holds_what_was_reckoned() -> None:
    result = coats_of("tack, flood", bench=replace(BENCH, glitter=Glitter(), cups=2))
    text = report.table(result)
    head, tack, flood, *_ = text.splitlines()
    assert head.split()[:3] == ["coat", "film", "on"]
    assert "0.28 ≤ 0.64 ≤ 0.92  69.5 %" in flood
    assert "5 mL" in tack
    assert "thin film, even viscosity, no surface tension, level axis" in text
    assert text.count("level axis") == 1
    assert "sandable from 10 h, in service from 7 days" in text
    assert "the first flood coat holds from 2.4 rpm, or from 0.48 Pa·s" in text  # 5·0.6949² and 1·0.6949²


def test_numbers_are_those_of_the_rows() -> None:
    result = coats_of("flood")
    told = report.numbers(result)
    (coat,) = told["coats"]
    assert coat["share_of_limit"] == result.rows[0].share
    assert told["capacity_ml"] == pytest.approx(
        Rack(speed_rpm=5, viscosity_pa_s=1, density_kg_m3=1100).capacity(TUMBLER) / 1000
    )


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("speed_rpm", 0.0),
        ("cups", 0),
        ("cups", 1.5),
        ("minutes_a_cup", -1.0),
        ("mark_ml", 0.0),
        ("room_c", math.inf),
        ("own_limit", 0.0),
    ],
)
def test_a_bench_refuses_what_is_no_bench(field: str, value: float) -> None:
    with pytest.raises(CupgeomError, match=f"^{field}: must be"):
        replace(BENCH, **{field: value})
