"""`cupgeom cost` at the edge: prices worked by hand, quantities, the shopping list, what it refuses."""

from __future__ import annotations

import json
import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from .command_line import ask

SHOP = """
[cups."tapered 20"]
rim = 88
base = 70
height = 170

[resins."slow clear"]
ratio = [2, 1]
density = [1.12, 1.02]
viscosity = "medium"
pot_life_min = 60
pot_life_mass_g = 100
gel_min = 300
recoat_min = [240, 720]
sandable_from_min = 720
in_service_from_min = 10080
price_per_ml = "0.04"

[rates]
currency = "EUR"
hour = "18.00"
blank = "7.50"
material = { silver = "0.06", navy = "0.02" }
coat = "0.35"
packing = "1.10"
parcel = "0.80"
postage = "6.90"
spoilage = 0.05
profit = 0.25
fee = 0.065
fixed_fee = "0.30"
"""
COMET = """
cup = "tapered 20"
quantity = 4
places = 4
steps = [
    { do = "paint", material = "navy", from = "20mm", to = "70mm", turns = ["left", "right"] },
    { do = "tack", material = "silver", from = "20mm up", to = "base" },
    "flood",
    { do = "sand", edge = true },
    "clear",
]
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("comet.toml").write_text(COMET)
    return tmp_path


def numbers(line: str) -> dict[str, Any]:
    answer = ask(f"{line} --json")
    assert answer.code == 0, answer.err
    found: dict[str, Any] = json.loads(answer.out)
    return found


def costs(job: dict[str, Any]) -> dict[str, Decimal]:
    return {line["what"]: Decimal(line["cost"]) for line in job["lines"]}


def test_each_line_is_what_the_rates_say() -> None:
    (job,) = numbers("cost comet.toml")["jobs"]
    found = costs(job)
    assert (found["cup"], found["consumables"], found["packing"]) == (Decimal(30), Decimal("4.20"), Decimal("4.40"))
    assert (found["parcel"], found["postage"]) == (Decimal("0.80"), Decimal("6.90"))
    # of a thing that fails as often as 1 in 20, 1/0.95 are begun: 5/95 more of all that goes into a cup
    into_a_cup = sum(found[what] for what in ("cup", "resin slow clear", "consumables", "work", "silver", "navy"))
    assert abs(found["spoilage"] - into_a_cup * 5 / 95) < Decimal("1e-9")
    assert Decimal(job["cost"]) == sum(found.values())


def test_paint_and_glitter_go_by_the_area_of_their_zone() -> None:
    # cone: radius r(d) = 44 − d sin ε with tan ε = 9/170, area of a band = π (r₁ + r₂) · width
    slant = math.hypot(9, 170)
    radius = [44 - drop * 9 / slant for drop in (20, 70, slant - 20, slant)]
    paint = math.pi * (radius[0] + radius[1]) * 50 / 2
    glitter = math.pi * (radius[2] + radius[3]) * 20
    found = costs(numbers("cost comet.toml")["jobs"][0])
    assert float(found["navy"]) == pytest.approx(4 * paint * 1e-6 * 120 * 0.02, rel=1e-9)
    assert float(found["silver"]) == pytest.approx(4 * glitter * 1e-6 * 150 * 0.06, rel=1e-9)


def test_the_price_pays_cost_profit_and_both_fees_to_the_cent() -> None:
    (job,) = numbers("cost comet.toml")["jobs"]
    price, wanted = Decimal(job["price"]), Decimal(job["cost"]) * Decimal("1.25") + Decimal("0.30")
    assert wanted <= price * Decimal("0.935") < wanted + Decimal("0.01")
    assert Decimal(job["price_per_cup"]) * 4 >= price


def test_the_table_shows_the_numbers_to_the_cent() -> None:
    (job,) = numbers("cost comet.toml")["jobs"]
    answer = ask("cost comet.toml")
    lines = answer.out.splitlines()
    assert lines[0] == "4 cups of tapered 20"
    assert lines[1].split() == ["order", "EUR", "a", "cup", "EUR"]
    assert lines[2].split() == ["cup", "4", "30.00", "7.50"]
    assert lines[-1].split() == ["price", job["price"], job["price_per_cup"]]
    assert max(map(len, lines)) <= 80


def test_an_order_like_another_is_that_job_with_other_cups() -> None:
    like = numbers("cost --like comet.toml --quantity 12")["jobs"][0]
    Path("twelve.toml").write_text(COMET.replace("quantity = 4", "quantity = 12"))
    assert like | {"name": ""} == numbers("cost twelve.toml")["jobs"][0] | {"name": ""}
    assert like["quantity"] == 12


def test_several_quantities_side_by_side() -> None:
    job = numbers("cost comet.toml --quantities 1,4,12")["jobs"][0]
    assert [one["quantity"] for one in job["quantities"]] == [1, 4, 12]
    assert job["quantities"][1]["price"] == job["price"]
    each = [Decimal(one["price_per_cup"]) for one in job["quantities"]]
    assert each[0] > each[1] > each[2]  # postage is paid once
    table = ask("cost comet.toml --quantities 1,4,12").out.split("\n\n")[1].splitlines()
    assert [line.split()[0] for line in table] == ["cups", "1", "4", "12"]


def test_the_shopping_list_adds_the_jobs_and_the_cups_that_fail() -> None:
    Path("moon.toml").write_text(COMET.replace("quantity = 4", "quantity = 20"))
    needs = {
        one["what"]: (one["amount"], one["unit"]) for one in numbers("cost comet.toml moon.toml --shopping")["shopping"]
    }
    assert needs["tapered 20"] == (5 + 22, "cups")  # 4/0.95 = 4.2…, 20/0.95 = 21.05…
    alone = {one["what"]: one["amount"] for one in numbers("cost comet.toml --shopping")["shopping"]}
    assert needs["silver"][0] == pytest.approx(alone["silver"] * 6, rel=1e-9)
    listed = ask("cost comet.toml moon.toml --shopping").out.split("to have at hand\n")[1].splitlines()
    assert listed[0].split() == ["tapered", "20", "27", "cups"]
    assert [line.split("  ")[0] for line in listed] == ["tapered 20", "slow clear", "silver", "navy"]


def test_what_has_no_price_is_told_on_stderr() -> None:
    Path("shop.toml").write_text(SHOP.replace(', navy = "0.02"', ""))
    answer = ask("cost comet.toml")
    assert (answer.code, "navy" in answer.out) == (0, False)
    assert answer.err == "note: rates.material: has no price for navy; it is left out; give one\n"


def test_a_job_may_have_rates_of_its_own() -> None:
    Path("own.toml").write_text(COMET + '\n[rates]\npostage = "9.00"\n')
    found = costs(numbers("cost own.toml")["jobs"][0])
    assert (found["postage"], found["parcel"]) == (Decimal(9), Decimal("0.80"))


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("cost", "JOBS: are missing; give a job file, or --like FILE --quantity 12"),
        ("cost none.toml", "none.toml: does not exist; check its name and folder"),
        ("cost --like comet.toml", "--quantity: is missing; give how many cups, such as --quantity 12"),
        ("cost comet.toml --like comet.toml", "--like: cannot stand beside a job; give one of the two"),
        ("cost comet.toml comet.toml --quantity 2", "--quantity: goes with one job; leave it out"),
        ("cost comet.toml --quantity 0", "--quantity: must be a whole number from 1 to 100000, got 0"),
        ("cost comet.toml --quantities 6;12", "--quantities: cannot read '6;12'; give whole numbers such as 6,12,24"),
        ("cost comet.toml --quantities 0,1", "--quantities: cannot read '0,1'; give whole numbers such as 6,12,24"),
    ],
)
def test_bad_input_is_one_line(line: str, message: str) -> None:
    answer = ask(line)
    assert (answer.code, answer.out, answer.err) == (2, "", f"cupgeom: {message}\n")


def test_a_wrong_rate_names_its_file_line_and_key() -> None:
    Path("shop.toml").write_text(SHOP.replace("fee = 0.065", "fee = 1"))
    assert ask("cost comet.toml").err == (
        "cupgeom: shop.toml:30: rates.fee: must be below 1, such as 0.05 for 5 %, got 1\n"
    )
