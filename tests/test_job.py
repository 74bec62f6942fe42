"""The job file: what is read, what is assumed, and everything that is wrong with it at once."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import click
import pytest

from cli.art import art_options
from cupgeom import Cup, CupgeomError
from cupgeom.cost import Rates
from cupgeom.job import Job, lots_of, plan_of, read_job, starter
from cupgeom.plan import Bench, Hours, findings, names, schedule
from cupgeom.records import Faults
from cupgeom.shelf import Level, Shelf, read_shelf

SHOP = """
[cups."tapered 20"]
rim = 88
base = 70
height = 170

[resins."slow clear"]
ratio = [2, 1]
density = [1.12, 1.02]
viscosity = "medium"
pot_life_min = 40
pot_life_mass_g = 100
gel_min = 300
recoat_min = [240, 720]
sandable_from_min = 720
in_service_from_min = 10080

[racks]
slow = 3

[media."my slide"]
process = "laser"
clear = false
"""
LEAST = """
cup = "tapered 20"
quantity = 2
steps = ["flood", "sand", { do = "decal", decals = ["comet"] }, { do = "clear", repeat = 2 }]

[decals.comet]
art = "comet.svg"
medium = "my slide"
width = 60
drop = "60mm"
"""


def shelf() -> Shelf:
    return read_shelf(SHOP)


def job(text: str, **more: object) -> Job:
    return read_job(text, "jobs/comet.toml", shelf(), **more)


def faults(text: str, **more: object) -> list[str]:
    with pytest.raises(Faults) as refusal:
        job(text, **more)
    return str(refusal.value).replace("jobs/comet.toml:", "").splitlines()


def altered(*changes: tuple[str, str]) -> str:
    text = LEAST
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


# What is read ---------------------------------------------------------------------------------------------------------


def test_the_least_that_a_job_says() -> None:
    made = job(LEAST)
    assert (made.name, made.quantity, made.cup.name, made.resin.name) == ("comet", 2, "tapered 20", "slow clear")
    assert names(made.steps) == ("flood 1", "sand 1", "decal 1", "clear 1", "clear 2")
    (decal,) = made.decals
    comet = decal.asked
    assert (comet.art, comet.width, comet.drop, comet.turn_deg, comet.bend) == (
        "comet.svg",
        60.0,
        (60.0, False),
        0,
        "level",
    )
    assert made.steps[2].pieces[0].medium == comet.medium == shelf().medium("my slide")
    assert (made.bench, made.rates, made.notices, made.files) == (Bench(), Rates(), (), ("comet.svg",))
    assert made.decal("comet") is decal


def test_all_that_a_job_may_say() -> None:
    made = job(
        """
name = "comet night"
customer = "the club"
notes = "blue"
approved = "a1b2"
cup = { rim = "3 1/2 in", base = 70, height = 170 }
quantity = 3
start = 2026-03-02
ship = 2026-03-09
resin = "slow clear"
rack = "slow"
places = 4
opens = "07:30"
closes = 18:00:00
days = ["mon", "tue"]
printer = "office"
paper = "a4"
orders = "guests.csv"
steps = [
    { do = "paint", colour = "#102040", wait = "2h 30min", from = "20mm", to = "base", turns = [-90, "right"] },
    { do = "tack", material = "navy", flake = 0.4, brush = false },
    { do = "flood", film = "0.5mm", pull_tape = "3h" },
    { do = "vein", ml = 26, colours = 3, colorant_share = 0.02 },
    { do = "sand", edge = true },
    { do = "decal", decals = ["motto"], seal = false },
    "mask",
]
[decals.motto]
text = "Clear skies"
font = "script.ttf"
axis = { wght = 700 }
medium = "cut vinyl"
cap_height = "8mm"
between = ["left", 30]
drop = "30mm up"
after_coat = 2
align = "left"
leading = 1.5
letter_spacing = 0.2
language = "en"
run = "up"
colour = "#ff0000"
bend = "even"
rotate = -5
true_at = "foot"
repeat = 2
[rates]
postage = "6.90"
[drying]
paint = "1h"
"""
    )
    assert made.cup.cup() == Cup.frustum(88.9, 70, 170, name="cup")
    assert (made.start, made.ship, made.speed_rpm) == (date(2026, 3, 2), date(2026, 3, 9), 3.0)
    assert made.bench == Bench(places=4, hours=Hours(opens_min=450, closes_min=1080, days=("mon", "tue")))
    assert (made.printer, made.paper, made.customer, made.approved) == ("office", "a4", "the club", "a1b2")
    assert made.files == ("guests.csv", "script.ttf")
    assert (made.rates.postage, made.drying.paint_min, made.drying.seal_min) == (Decimal("6.90"), 60, 60)
    paint, tack, flood, vein, sand, decal, mask = made.steps
    assert (paint.wait_min, tack.material, paint.colour) == (150.0, "navy", (16 / 255, 32 / 255, 64 / 255))
    assert paint.zone is not None
    assert (paint.zone.top, paint.zone.bottom, paint.zone.left_deg, paint.zone.right_deg) == (
        Level(drop=20.0),
        Level(ring=-1),
        -90.0,
        90.0,
    )
    assert (tack.flake, tack.brush, flood.pull_min, sand.edge, decal.seal) == (0.4, False, 180.0, True, False)
    assert flood.coat is not None and vein.coat is not None
    assert (flood.coat.film, vein.coat.volume_ml, vein.coat.colours, vein.coat.colorant_share) == (0.5, 26.0, 3, 0.02)
    assert mask.do == "mask"
    motto = made.decals[0].asked
    assert (motto.text, motto.font, motto.cap_height, motto.drop) == ("Clear skies", "script.ttf", 8.0, (30.0, True))
    assert (motto.between_deg, made.decals[0].after_coat, motto.align, motto.leading) == ((-90.0, 30.0), 2, "left", 1.5)
    assert (motto.letter_spacing, motto.language, motto.run, motto.colour) == (0.2, "en", "up", (1.0, 0.0, 0.0))
    assert motto.axes == (("wght", 700.0),)
    assert (motto.bend, motto.rotate_deg, motto.true_at, motto.repeat) == ("even", -5.0, "foot", 2)


def test_what_the_shop_says_holds_unless_the_job_says_otherwise() -> None:
    shop = Bench(places=7, hours=Hours(opens_min=600, closes_min=1000))
    rates = Rates(postage=Decimal(5), hour=Decimal(18))
    made = job('places = 3\nrates = { postage = "9" }\n' + LEAST, bench=shop, rates=rates)
    assert made.bench == replace(shop, places=3)
    assert made.rates == replace(rates, postage=Decimal(9))


@pytest.mark.parametrize(
    ("typed", "minutes"), [('"10h"', 600), ('"1h 30min"', 90), ('"2d"', 2880), ("45", 45), ('"1.5 h"', 90)]
)
def test_waits_are_typed_as_people_say_them(typed: str, minutes: float) -> None:
    assert job(altered(('"flood"', f'{{ do = "flood", wait = {typed} }}'))).steps[0].wait_min == minutes


def test_the_keys_of_a_decal_are_the_options_of_the_command_line() -> None:
    params = art_options(click.Command("decal", params=[])).params
    options = {param.opts[0].removeprefix("--").replace("-", "_") for param in params} | {"art"}
    (hint,) = faults(altered(("width = 60", "width = 60\nqqqqqqqq = 1")))
    keys = set(hint.partition("; use ")[2].split(", "))
    assert keys - options == {"after_coat"}
    assert options - keys == set()


# What the starter says ------------------------------------------------------------------------------------------------


def test_the_starter_is_a_job_of_good_craft() -> None:
    made = read_job(starter(), "comet.toml")
    assert (made.name, made.quantity) == ("comet night", 12)
    assert findings(made.steps, made.resin, made.drying) == ()
    plan = plan_of([made])
    assert sum(lot.cups for lot in plan.lots) == 12
    assert [plan.late_min(lot) for lot in plan.lots] == [0] * len(plan.lots)


def test_what_the_starter_comments_out_can_be_used() -> None:
    lines = [re.sub(r"^# (?=[a-z_]+ = |\[)", "", line) for line in starter().splitlines()]
    keys = [line for line, old in zip(lines, starter().splitlines(), strict=True) if line != old]
    assert len(keys) == 8
    made = read_job("\n".join(lines), "comet.toml", shelf())
    assert (made.resin.name, made.speed_rpm, made.rates.postage) == ("slow clear", 5.0, Decimal("6.90"))


# What is wrong --------------------------------------------------------------------------------------------------------


def test_ten_faults_are_ten_lines() -> None:
    told = faults(
        """
cup = "taperd 20"
quantity = 0
quantitty = 3
steps = ["flod", { do = "sand", flake = 0.4 }, { do = "decal", decals = ["comit"] }]
[decals.comet]
art = "../comet.svg"
medium = "my slied"
width = "6 qq"
"""
    )
    assert told == [
        "2: cup: shop.toml has no cup 'taperd 20'; did you mean \"tapered 20\"?; or give its sizes, "
        "cup = { rim = 88, base = 70, height = 170 }",
        "3: quantity: must be a whole number from 1, got 0",
        "4: quantitty: unknown key; did you mean quantity?",
        "5: steps[0]: no step 'flod'; did you mean flood?",
        "5: steps[1].flake: goes with tack, not with sand",
        "5: steps[2].decals[0]: no decal 'comit'; did you mean comet?",
        '6: decals.comet.drop: is missing; give a place, such as drop = 60 or turn = "front"',
        "7: decals.comet.art: must stay in the job's folder, got '../comet.svg'; copy the file there",
        "8: decals.comet.medium: shop.toml has no medium 'my slied'; did you mean \"my slide\"?",
        "9: decals.comet.width: unknown unit 'qq' in '6 qq'; use mm, cm, in or \"",
    ]
    assert len(told) == 10


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("cup = ,", "1:7: no value; give a number, true, false, a date such as 2026-03-01, or text in straight quotes"),
        (
            'quantity = 2\ncup = "mug" rim\n',
            '2:13: the line should end here; put text in quotes, such as "10 7/8 in", each key on its own line',
        ),
        ("quantity = 2\nquantity = 3\n", "2:13: this key stands there already; remove one of the two"),
    ],
)
def test_what_is_not_toml_is_told_with_line_and_column(text: str, said: str) -> None:
    assert faults(text) == [said]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ([('cup = "tapered 20"', "")], "1: cup: is missing; give text in quotes"),
        ([('cup = "tapered 20"', 'cup = ""')], "2: cup: is empty; give the name of a cup of the shop file"),
        (
            [('cup = "tapered 20"', "cup = { rim = 88 }")],
            "2: cup: readings: not enough to make a cup; measure next: the base",
        ),
        ([("quantity = 2", "quantity = 2.5")], "3: quantity: must be a whole number from 1, got 2.5"),
        ([("quantity = 2", "quantity = 100001")], "3: quantity: must be a whole number from 1 to 100000, got 100001"),
        (
            [("quantity = 2", "quantity = 2\nstart = 2026-03-05\nship = 2026-03-02")],
            "5: ship: must not be before start",
        ),
        ([("quantity = 2", 'quantity = 2\nresin = "slow"')], "4: resin: shop.toml has no resin 'slow'"),
        ([("quantity = 2", 'quantity = 2\nrack = "fast"')], "4: rack: shop.toml has no rack 'fast'; use slow"),
        ([("quantity = 2", "quantity = 2\nrack = 0")], "4: rack: must be greater than 0, got 0"),
        ([("quantity = 2", "quantity = 2\nplaces = 0")], "4: places: must be a whole number from 1, got 0"),
        ([("quantity = 2", 'quantity = 2\ncloses = "07:00"')], "4: closes: must end after they begin"),
        ([("quantity = 2", 'quantity = 2\nopens = "25:00"')], '4: opens: must be a time of the day such as "08:00"'),
        ([("quantity = 2", 'quantity = 2\ndays = ["monday"]')], "4: days[0]: must be one of mon, tue, wed"),
        ([("quantity = 2", 'quantity = 2\norders = "/etc/guests.csv"')], "4: orders: must stay in the job's folder"),
        ([("quantity = 2", "quantity = 2\nrates = { fee = 2 }")], "4: rates.fee: must be below 1"),
        (
            [("quantity = 2", 'quantity = 2\ndrying = { paint = "wet" }')],
            '4: drying.paint: must be a time such as "10h"',
        ),
        ([('"flood", ', '{ do = "flood", wait = 0 }, ')], '4: steps[0].wait: must be a time such as "10h"'),
        ([('"flood", ', '{ do = "flood", film = 99 }, ')], "4: steps[0].film: must be at most 10 mm, got 99 mm"),
        ([('"flood", ', '{ do = "flood", ml = 9, film = 1 }, ')], "4: steps[0].ml: cannot stand beside a film"),
        ([('"flood", ', "7, ")], "4: steps[0]: must be one of mask, paint, tack"),
        (
            [('"flood", ', '{ do = "paint", colour = "blue" }, ')],
            '4: steps[0].colour: must be a colour such as "#1a2b5c"',
        ),
        ([('"flood", ', '{ do = "paint", turns = [30, 30] }, ')], "4: steps[0].turns: must be two different turns"),
        ([("repeat = 2", "repeat = 21")], "4: steps[3].repeat: must be at most 20, got 21"),
        ([("repeat = 2", "repet = 2")], "4: steps[3].repet: unknown key; did you mean repeat?"),
        ([(', decals = ["comet"]', "")], "4: steps: does not say where decal 'comet' goes"),
        ([('art = "comet.svg"', "")], "6: decals.comet: needs art or text, one of the two"),
        ([('art = "comet.svg"', 'art = "comet.svg"\ntext = "a"')], "8: decals.comet.text: cannot stand beside art"),
        ([('art = "comet.svg"', 'text = "a"')], "6: decals.comet.font: is missing; give a font file"),
        ([('art = "comet.svg"', 'text = " "\nfont = "a.ttf"')], "7: decals.comet.text: is empty; give the letters"),
        (
            [('art = "comet.svg"', 'text = "a\\u0007"\nfont = "a.ttf"')],
            "7: decals.comet.text: holds a control character",
        ),
        ([("width = 60", "")], "6: decals.comet: needs one size of width, art_height, cap_height, x_height, got none"),
        ([("width = 60", "width = 60\nart_height = 9")], "6: decals.comet: needs one size of width"),
        ([("width = 60", "cap_height = 9")], "9: decals.comet.cap_height: is for lettering; leave it out"),
        ([("width = 60", "width = 0")], "9: decals.comet.width: must be greater than 0 mm, got 0"),
        ([("width = 60", 'width = "wide"')], "9: decals.comet.width: cannot read 'wide'"),
        ([('drop = "60mm"', "")], "6: decals.comet.drop: is missing; give a place"),
        ([('drop = "60mm"', "turn = 0\nbetween = [0, 9]")], "11: decals.comet.between: cannot stand beside turn"),
        (
            [('drop = "60mm"', 'drop = "60mm"\nbend = "bent"')],
            "11: decals.comet.bend: must be one of level, even, flat",
        ),
        ([('drop = "60mm"', 'drop = "60mm"\nafter_coat = -1')], "11: decals.comet.after_coat: must be a whole number"),
    ],
)
def test_one_thing_wrong_is_told_at_its_place(changes: list[tuple[str, str]], said: str) -> None:
    told = faults(altered(*changes))
    assert told[0].startswith(said)


@pytest.mark.parametrize("steps", ["", "steps = []", "steps = 3", "steps = {}"])
def test_a_job_without_steps_is_told_what_steps_look_like(steps: str) -> None:
    told = faults(f'cup = "tapered 20"\nquantity = 1\n{steps}\n')
    assert re.match(r"\d+: steps: (is missing; give a list|is empty; list the steps)|\d+: steps(\.do)?: ", told[0])


@pytest.mark.parametrize(
    "path",
    ["../a.svg", "a/../../b.svg", "/a.svg", "C:/a.svg", "c:a.svg", "..\\\\a.svg", "\\\\\\\\host\\\\a.svg", "~/a.svg"],
)
def test_paths_stay_in_the_folder_unless_allowed(path: str) -> None:
    text = altered(('"comet.svg"', f'"{path}"'))
    (told,) = faults(text)
    assert told.startswith("7: decals.comet.art: must stay in the job's folder, got ")
    assert job(text, outside=True).decals[0].asked.art == path.replace("\\\\", "\\")


@pytest.mark.parametrize("path", ["a.svg", "art/a.svg", "art/../a.svg", "./a.svg", "..a.svg", "a..b/c.svg"])
def test_paths_in_the_folder_are_left_as_they_are(path: str) -> None:
    assert job(altered(('"comet.svg"', f'"{path}"'))).files == (path,)


def test_without_a_resin_the_invented_one_is_told_of() -> None:
    made = read_job(
        altered(('"tapered 20"', "{ rim = 88, base = 70, height = 170 }"), ("my slide", "cut vinyl")), "a.toml"
    )
    assert [str(notice) for notice in made.notices] == [
        "resin: none is named; an invented example stands in; name one of the shop file"
    ]


def test_a_decal_that_is_not_there_is_told_with_the_nearest_name() -> None:
    with pytest.raises(CupgeomError) as refusal:
        job(LEAST).decal("comit")
    assert str(refusal.value) == "decals: no decal 'comit'; did you mean comet?"


# Work -----------------------------------------------------------------------------------------------------------------


def test_jobs_share_a_bench_and_start_on_their_own_days() -> None:
    first = job("start = 2026-03-02\nship = 2026-03-06\n" + LEAST)
    second = replace(first, name="second", start=date(2026, 3, 4), quantity=7)
    start, lots = lots_of([second, first], Bench(places=4))
    assert start == date(2026, 3, 2)
    assert [(lot.name, lot.cups, lot.release_min, lot.due_min) for lot in lots] == [
        ("second, lot 1", 4, 2880, 4 * 1440 + 1200),  # the sixth at closing time
        ("second, lot 2", 3, 2880, 4 * 1440 + 1200),
        ("comet", 2, 0, 4 * 1440 + 1200),
    ]
    plan = schedule(lots, Bench(places=4), start)
    assert min(one.start_min for one in plan.placed if one.lot != "comet") >= 2880


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"start": None}, "start: of comet is missing; give the first day of work such as 2026-03-02"),
        ({}, "name: 'comet' is there twice; give the jobs different names"),
    ],
)
def test_jobs_that_cannot_be_planned_together(change: dict[str, object], said: str) -> None:
    made = job("start = 2026-03-02\n" + LEAST)
    with pytest.raises(CupgeomError) as refusal:
        plan_of([made, replace(made, **change)])
    assert str(refusal.value) == said
