"""Money and material: the price that holds its fees, spoilage, quantities, zones, the shopping list."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError
from cupgeom.coating.coats import Coat
from cupgeom.coating.resin import EXAMPLE
from cupgeom.cost import (
    Amounts,
    Rates,
    amount_for,
    labour,
    materials,
    price,
    quantity_table,
    quote,
    shopping,
    zone_area,
)
from cupgeom.cup import Span
from cupgeom.plan import Bench, Lot, Step, Zone, order_of, schedule
from cupgeom.records import Table, read
from cupgeom.shelf import Level
from cupgeom.shelf.rates import ALL, parse_rates

MONEY = st.decimals(0, 10_000, places=2)
SHARES = st.decimals(0, Decimal("0.95"), places=3)
RATES = Rates(
    currency="EUR",
    hour=Decimal(18),
    rack_hour=Decimal("0.05"),
    blank={"mug": Decimal("7.50")},
    sheet={"vinyl": Decimal("1.20")},
    material={"silver": Decimal("0.06"), "navy": Decimal("0.02")},
    coat=Decimal("0.35"),
    packing=Decimal("1.10"),
    parcel=Decimal("0.80"),
    postage=Decimal("6.90"),
    profit=Decimal("0.25"),
    fee=Decimal("0.065"),
    fixed_fee=Decimal("0.30"),
)
ORDER = Amounts(
    quantity=12,
    blank="mug",
    resin_ml={"slow": 900.0},
    resin_prices={"slow": Decimal("0.04")},
    coats=4,
    sheets={"vinyl": 2.5},
    glitter_g={"silver": 60.0},
    paint_ml={"navy": 48.0},
    hands_min=600,
    rack_min=12 * 960,
)


# The price ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cost", "profit", "fee", "fixed", "expected"),
    [  # worked by hand from price = (cost + profit + fixed fee)/(1 − fee)
        ("100", "25", "0", "0", "125"),
        ("100", "25", "0.065", "0.30", "134.02"),  # 125.30/0.935 = 134.0106…
        ("90", "0", "0.1", "0", "100"),
        ("10", "0", "0.5", "0.005", "20.01"),
        ("0", "0", "0.2", "0", "0"),
    ],
)
def test_the_price_holds_its_fees(cost: str, profit: str, fee: str, fixed: str, expected: str) -> None:
    assert price(*map(Decimal, (cost, profit, fee, fixed))) == Decimal(expected)


@given(cost=MONEY, profit=MONEY, fee=SHARES, fixed=MONEY)
def test_what_is_left_of_the_price_pays_for_all_and_a_cent_less_does_not(
    cost: Decimal, profit: Decimal, fee: Decimal, fixed: Decimal
) -> None:
    found = price(cost, profit, fee, fixed)
    assert found == found.quantize(Decimal("0.01"))
    assert found * (1 - fee) - fixed >= cost + profit
    assert (found - Decimal("0.01")) * (1 - fee) - fixed < cost + profit


def test_a_fee_that_takes_all_has_no_price() -> None:
    with pytest.raises(CupgeomError) as refusal:
        price(Decimal(1), Decimal(0), Decimal(1), Decimal(0))
    assert str(refusal.value) == "fee: must be from 0 to below 1, got 1"


# A quote --------------------------------------------------------------------------------------------------------------


def test_each_line_of_a_quote_by_hand() -> None:
    made = quote(ORDER, RATES)
    assert {line.what: line.cost for line in made.lines} == {
        "cup": Decimal(90),  # 12 × 7.50
        "resin slow": Decimal(36),  # 900 × 0.04
        "vinyl": Decimal(3),  # 2.5 × 1.20
        "silver": Decimal("3.6"),  # 60 × 0.06
        "navy": Decimal("0.96"),  # 48 × 0.02
        "consumables": Decimal("16.8"),  # 4 × 12 × 0.35
        "work": Decimal(180),  # 10 h × 18
        "rack": Decimal("9.6"),  # 192 h × 0.05
        "packing": Decimal("13.2"),
        "parcel": Decimal("0.8"),
        "postage": Decimal("6.9"),
    }
    assert made.cost == Decimal("360.86")
    assert made.profit == Decimal("90.215")
    assert made.price == Decimal("482.76")  # (360.86 + 90.215 + 0.30)/0.935 = 482.7540…
    assert (made.cost_per_cup, made.price_per_cup) == (Decimal("30.07"), Decimal("40.23"))
    assert made.price - made.fees >= made.cost + made.profit
    assert made.notices == ()


def test_cups_that_fail_cost_what_was_put_into_them_but_no_postage() -> None:
    plain, failing = quote(ORDER, RATES), quote(ORDER, replace(RATES, spoilage=Decimal("0.2")))
    put_in = Decimal("339.96")  # all but packing, parcel and postage
    assert failing.cost - plain.cost == put_in * Decimal("0.25")  # one in five: a quarter more is begun


def test_what_has_no_price_is_told_and_left_out() -> None:
    made = quote(replace(ORDER, blank="bowl", resin_prices={}), RATES)
    assert [str(notice) for notice in made.notices] == [
        "rates.blank: has no price for bowl; it is left out; give one",
        "rates.resin_ml: has no price for slow; it is left out; give one",
    ]
    assert not {"cup", "resin slow"} & {line.what for line in made.lines}


def test_a_price_for_all_names_serves_those_that_have_none() -> None:
    rates = replace(RATES, blank={ALL: Decimal(4), "mug": Decimal(7)})
    assert (rates.price("blank", "mug"), rates.price("blank", "bowl")) == (Decimal(7), Decimal(4))


def test_a_larger_order_shares_what_is_paid_once() -> None:
    def amounts(quantity: int) -> Amounts:
        return Amounts(quantity=quantity, blank="mug")

    first, second = quantity_table(amounts, RATES, (1, 10))
    assert (first.cost, second.cost) == (Decimal("16.3"), Decimal("93.7"))  # 7.5 + 1.1 a cup, 7.7 an order
    assert second.price_per_cup < first.price_per_cup


def test_work_and_rack_come_from_the_plan() -> None:
    one = Lot(name="a", order=order_of((Step(do="flood", coat=Coat(kind="flood")),), EXAMPLE, cups=3), cups=3)
    plan = schedule([one], Bench(places=3), date(2026, 3, 2))
    hands, rack = labour(plan)
    assert hands == plan.hands_min
    assert rack == 3 * EXAMPLE.gel_min  # three places until it no longer flows


# Zones ----------------------------------------------------------------------------------------------------------------

CYLINDER = Cup.frustum(80, 80, 100)
TAPER = Cup.frustum(88, 70, 170)


def test_a_zone_on_a_cylinder_is_a_rectangle() -> None:
    zone = Zone(top=Level(drop=20.0), bottom=Level(up=30.0), left_deg=-45.0, right_deg=45.0)
    assert zone_area(CYLINDER, zone) == pytest.approx(math.pi * 80 / 4 * 50, rel=1e-12)


def test_a_zone_over_the_back_goes_to_the_right_from_its_left_turn() -> None:
    zone = Zone(left_deg=150.0, right_deg=-150.0)
    assert zone_area(CYLINDER, zone) == pytest.approx(math.pi * 80 * 100 / 6, rel=1e-12)


def test_a_band_of_a_taper_by_the_rule_of_pappus() -> None:
    slant = math.hypot(170, 9)
    middle = 44 - 9 * (30 + 40) / slant  # radius at drop 70, half-way between 30 and 110
    band = Zone(top=Level(drop=30.0), bottom=Level(drop=110.0))
    assert zone_area(TAPER, band) == pytest.approx(math.tau * middle * 80, rel=1e-12)


def test_without_a_zone_it_is_the_coated_range() -> None:
    cup = replace(CYLINDER, coated=Span(top=10.0, bottom=100.0), base_coated=True)
    assert zone_area(cup, None) == zone_area(cup, Zone()) == pytest.approx(math.pi * 80 * 90, rel=1e-12)


def test_glitter_and_paint_at_a_rate_a_square_metre() -> None:
    assert amount_for(250_000, 150) == 37.5
    half = Zone(top=Level(drop=50.0))
    steps = (
        Step(do="paint", material="navy"),
        Step(do="tack", coat=Coat(kind="tack"), material="silver", zone=half),
        Step(do="tack", coat=Coat(kind="tack")),  # no glitter
    )
    glitter, paint = materials(steps, CYLINDER, RATES)
    wall = math.pi * 80 * 100 / 1e6
    assert glitter == {"silver": pytest.approx(wall / 2 * 150, rel=1e-12)}
    assert paint == {"navy": pytest.approx(wall * 120, rel=1e-12)}


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        (
            Zone(top=Level(drop=60.0), bottom=Level(drop=50.0)),
            "to: leaves nothing between drop 60.00 mm and drop 50.00 mm",
        ),
        (Zone(bottom=Level(drop=120.0)), "to: must be on the wall (drop 0 to 100.00 mm), got 120.00 mm"),
    ],
)
def test_zones_that_are_not_on_the_cup(zone: Zone, said: str) -> None:
    with pytest.raises(CupgeomError) as refusal:
        zone_area(CYLINDER, zone)
    assert str(refusal.value) == said


def test_one_turn_is_not_a_zone() -> None:
    with pytest.raises(CupgeomError, match=r"^turns: must be two different turns$"):
        Zone(left_deg=30.0, right_deg=30.0)


# Shopping -------------------------------------------------------------------------------------------------------------


def test_a_shopping_list_adds_up_all_orders_and_what_will_fail() -> None:
    rates = replace(RATES, spoilage=Decimal("0.2"))
    needs = {need.what: (need.amount, need.unit) for need in shopping([ORDER, ORDER], rates)}
    assert needs == {
        "mug": (30, "cups"),  # 12/0.8 = 15 in each order
        "slow": (2250.0, "mL"),
        "vinyl": (7, "sheets"),  # 5/0.8 = 6.25
        "silver": (150.0, "g"),
        "navy": (120.0, "mL"),
    }


def test_what_is_at_hand_is_not_bought() -> None:
    needs = shopping([ORDER], RATES, at_hand={"mug": 12, "slow": 400.0})
    assert [str(need) for need in needs] == ["slow: 500 mL", "vinyl: 3 sheets", "silver: 60.0 g", "navy: 48 mL"]


# Rates in the shop file -----------------------------------------------------------------------------------------------


def rates_of(text: str, base: Rates | None = None) -> Rates:
    def build(root: Table) -> Rates | None:
        table = root.table("rates")
        return None if table is None else parse_rates(table, base)

    made = read(text, "shop.toml", build)
    assert made is not None
    return made


def test_rates_are_read_exactly() -> None:
    made = rates_of(
        '[rates]\ncurrency = "EUR"\nhour = "18.10"\nfee = 0.065\nblank = "7.50"\nsheet = { vinyl = 1.2 }\n'
        "glitter_g_per_m2 = 80\n"
    )
    assert (made.currency, made.hour, made.fee) == ("EUR", Decimal("18.10"), Decimal("0.065"))
    assert (made.price("blank", "any"), made.price("sheet", "vinyl")) == (Decimal("7.50"), Decimal("1.2"))
    assert (made.glitter_g_per_m2, made.paint_ml_per_m2, made.postage) == (80.0, 120.0, Decimal(0))


def test_a_job_says_otherwise_key_by_key() -> None:
    made = rates_of('[rates]\npostage = "9"\n', RATES)
    assert made == replace(RATES, postage=Decimal(9))


def test_rates_that_cannot_be_are_told_all_at_once() -> None:
    text = '[rates]\nhour = "a lot"\nfee = 1\nprofit = -0.1\nsheet = { vinyl = "dear" }\nblank = {}\nhuor = 3\n'
    with pytest.raises(CupgeomError) as refusal:
        rates_of(text)
    amount = 'an amount of 0 or more such as "0.031"'
    assert str(refusal.value).splitlines() == [
        f"shop.toml:2: rates.hour: must be {amount}, got 'a lot'",
        "shop.toml:4: rates.profit: must be a share of 0 or more such as 0.05, got -0.1",
        f"shop.toml:5: rates.sheet: vinyl: must be {amount}, got 'dear'",
        'shop.toml:6: rates.blank: must be an amount such as "7.50", or amounts by name such as { mug = "4.00" }, '
        "got a table",
        "shop.toml:7: rates.huor: unknown key; did you mean hour?",
    ]
    with pytest.raises(CupgeomError) as refusal:
        rates_of("[rates]\nfee = 1\n")
    assert str(refusal.value) == "shop.toml:2: rates.fee: must be below 1, such as 0.05 for 5 %, got 1"


@pytest.mark.parametrize("field", ["hour", "coat", "spoilage", "fixed_fee", "glitter_g_per_m2"])
@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("Infinity"), Decimal(-1)])
def test_rates_check_themselves(field: str, value: Decimal) -> None:
    with pytest.raises(CupgeomError, match=f"^{field}: must be"):
        replace(RATES, **{field: float(value) if field.endswith("m2") else value})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"quantity": 0}, "quantity: must be a whole number from 1, got 0"),
        ({"coats": -1}, "coats: must be a whole number from 0, got -1"),
        ({"hands_min": math.nan}, "hands_min: must be a finite number of min, got nan"),
        ({"resin_ml": {"slow": -1.0}}, "resin_ml.slow: must be at least 0 mL, got -1 mL"),
    ],
)
def test_amounts_check_themselves(change: dict[str, object], said: str) -> None:
    with pytest.raises(CupgeomError) as refusal:
        replace(ORDER, **change)
    assert str(refusal.value) == said


@given(st.floats(0, 1e6), MONEY)
def test_money_for_an_amount_is_exact_to_ten_places_of_a_cent(much: float, each: Decimal) -> None:
    made = quote(Amounts(quantity=1, resin_ml={"slow": much}, resin_prices={"slow": each}), Rates())
    exact = Fraction(each) * Fraction(much)
    assert abs(Fraction(made.cost) - exact) <= Fraction(1, 10**12)
