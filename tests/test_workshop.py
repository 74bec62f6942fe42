"""A job worked out in memory: every number from one place, and keys that change with what they stand for alone."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from cupgeom import CupgeomError
from cupgeom.flatten import to_sheet
from cupgeom.job import Job, read_job
from cupgeom.plan import Schedule
from cupgeom.shelf import read_shelf
from cupgeom.workshop import Made, made, outputs
from cupgeom.workshop.bench import facts
from cupgeom.workshop.zones import colours

DEMO = Path(__file__).parent.parent / "templates-demo" / "comet-night"
PROOF = {"proof.png", "proof.html", "proof.glb"}
BENCH = {"job-sheet.pdf", "job.json"}
PLAN = {"plan.txt", "plan.ics"}


def read(name: str) -> bytes:
    if name == "GreatVibes-Latin":
        return (DEMO.parent / "fonts" / "GreatVibes-Latin.ttf").read_bytes()
    return (DEMO / name).read_bytes()


def job(*changes: tuple[str, str]) -> Job:
    """The demo's job with some of its text replaced, the old text and the new."""
    text = (DEMO / "comet-night.toml").read_text()
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    shelf = read_shelf((DEMO / "shop.toml").read_text(), "shop.toml")
    return read_job(text, "comet-night.toml", shelf, rates=shelf.rates)


def one(*changes: tuple[str, str]) -> Made:
    return made(job(*changes), read)


def keys(work: Made) -> dict[str, str]:
    return {output.name: output.key for output in outputs(work)}


def changed(*changes: tuple[str, str]) -> set[str]:
    """Names of the outputs whose keys differ from the demo's."""
    before, after = keys(one()), keys(one(*changes))
    return {name for name in before | after if before.get(name) != after.get(name)}


def test_nothing_is_read_before_it_is_asked_for() -> None:
    asked: list[str] = []

    def note(name: str) -> bytes:
        asked.append(name)
        return read(name)

    work = made(job(), note)
    assert work.cup.name == "comet night tumbler"
    assert asked == []
    assert len(work.decals) == 2
    assert sorted(asked) == ["GreatVibes-Latin", "comet.svg"]
    assert work.mark == one().mark
    assert len(asked) == 2  # each file once


def test_a_decal_lies_on_the_film_of_the_coats_before_it() -> None:
    """Film of a coat by volume: V/A; the cup grows by the sum of the films under the decal (tack, flood, flood)."""
    work = one()
    area = work.cup.coated_area
    films = [coat.volume_ml * 1000 / area for coat in work.coats if coat.volume_ml]
    assert films == [pytest.approx(20_000 / area)]
    comet = work.decals[0]
    assert (comet.after_coat, comet.on) == (3, "flood 2")
    more = one(("ml = 20", "ml = 30")).decals[0]
    grown = more.decal.cup.rings[0].diameter - comet.decal.cup.rings[0].diameter
    # a film f on a wall of half-angle a widens its rings by 2 f/cos a
    half = comet.decal.cup.walls[0].half_angle_rad
    assert grown == pytest.approx(2 * 10_000 / area / math.cos(half), rel=0.02)


def test_a_decal_made_for_fewer_coats_is_sized_for_those() -> None:
    early = one(('drop = "62mm"', 'drop = "62mm"\nafter_coat = 0')).decals[0]
    assert (early.after_coat, early.on) == (0, "")
    assert early.decal.cup == one().cup


def test_resin_media_and_work_reach_the_quote() -> None:
    """Prices of the demo's shop: 4 cups at 7.50, resin at 0.031 a mL, hands at 18 an hour."""
    work = one()
    lines = {line.what: line.cost for line in work.quote.lines}
    assert lines["cup"] == Decimal(30)
    assert float(lines["resin slow clear"]) == pytest.approx(0.031 * work.resin_ml)
    assert work.plan is not None
    assert float(lines["work"]) == pytest.approx(18 * work.plan.hands_min / 60)
    comet, motto = (part.decal for part in work.decals)
    edge = 2 * comet.medium.cut_margin + 2
    boxes = sum((part.design.width + edge) * (part.design.height + edge) for part in (comet, motto))
    assert work.amounts.sheets == {"white water-slide": pytest.approx(4 * boxes / (297 * 420))}  # ISO 216, A3


def test_the_resin_of_all_lots_is_that_of_each_lot_in_turn() -> None:
    work = one(("quantity = 4", "quantity = 9"))
    assert sum(work.lot_sizes) == 9
    each = [work.estimate(size) for size in work.lot_sizes]
    assert work.resin_ml == pytest.approx(sum(sum(lot.total_ml) for lot in each if lot))
    assert work.of(4).resin_ml == pytest.approx(one().resin_ml)


def test_a_job_without_a_start_has_a_cost_and_no_plan() -> None:
    work = one(("start = 2026-03-02\n", ""))
    assert work.plan is None
    assert work.quote.price == one().quote.price
    assert set(keys(one())) - set(keys(work)) == PLAN


def test_the_mark_is_of_what_the_customer_sees_not_of_films_dates_or_prices() -> None:
    mark = one().mark
    for change in (("ml = 20", "ml = 30"), ("2026-03-02", "2026-03-03"), ("quantity = 4", "quantity = 5")):
        assert one(change).mark == mark
    for change in (("Per aspera", "Per Aspera"), ('drop = "62mm"', 'drop = "72mm"'), ("#0b1d3a", "#0b1d3b")):
        assert one(change).mark != mark


def test_what_was_approved_and_has_changed_since_is_told() -> None:
    said = [str(notice) for notice in one(("quantity = 4", 'approved = "0000-0000"\nquantity = 4')).notices]
    assert any(note.startswith("approved: was 0000-0000") for note in said)
    mark = one().mark
    same = one(("quantity = 4", f'approved = "{mark.lower()}"\nquantity = 4')).notices
    assert not any(notice.where == "approved" for notice in same)


def test_colour_lies_in_its_zone_all_round() -> None:
    """The demo's silver reaches from drop 135 mm to the base edge."""
    work = one()
    (tack,) = [step for step in work.job.steps if step.do == "tack"]
    (layer,) = colours(tack, work.cup)
    box = layer.drawing.bounds()
    wall = work.cup.walls[0]
    # the front generator runs straight down from the sheet's origin; on a wide rim's sector the ends hang below it
    assert box.top == pytest.approx(-135.0, abs=0.01)
    assert box.bottom < -work.cup.slant
    left, right = (to_sheet(wall, math.radians(turn), 135.0) for turn in (-180.0, 180.0))
    assert box.left == pytest.approx(left[0], abs=1.0)
    assert box.right == pytest.approx(right[0], abs=1.0)
    quarter = replace(tack, zone=replace(tack.zone, left_deg=0.0, right_deg=90.0)) if tack.zone else tack
    assert colours(quarter, work.cup)[0].drawing.bounds().left == pytest.approx(0.0, abs=0.01)
    assert colours(replace(tack, colour=None), work.cup) == ()


def test_a_moved_decal_changes_its_own_print_and_what_shows_it() -> None:
    found = changed(('drop = "62mm"', 'drop = "72mm"'))
    assert found == {"sleeve.pdf", "decal-comet.pdf", *PROOF, *BENCH}


def test_a_thicker_coat_changes_all_that_lies_on_it_but_neither_the_bare_template_nor_the_plan() -> None:
    found = changed(("ml = 20", "ml = 30"))
    assert found == {"sleeve.pdf", "decal-comet.pdf", "decal-motto.pdf", "mix.pdf", "cost.txt", *PROOF, *BENCH}


def test_another_day_changes_the_plan_alone() -> None:
    assert changed(("2026-03-02", "2026-03-03")) == {*PLAN, *BENCH}


def test_other_words_of_the_job_change_no_more_than_they_must() -> None:
    assert changed(('customer = "the astronomy club"', 'customer = "another club"')) == BENCH
    assert changed(("quantity = 4", 'notes = "by hand"\nquantity = 4')) == {"job.json"}


def test_decals_with_names_that_no_disk_takes_get_safe_files_of_their_own() -> None:
    work = one()
    (first, second) = work.job.decals
    names = ("../../etc", "..\\..\\ETC")
    pieces = {"comet": names[0], "motto": names[1]}
    steps = tuple(
        replace(step, pieces=tuple(replace(piece, name=pieces[piece.name]) for piece in step.pieces))
        for step in work.job.steps
    )
    odd = replace(work.job, steps=steps, decals=(replace(first, name=names[0]), replace(second, name=names[1])))
    found = [output.name for output in outputs(made(odd, read)) if output.name.startswith("decal")]
    assert found == ["decal-etc.pdf", "decal-ETC-2.pdf"]


def test_a_decal_that_its_cup_refuses_names_itself() -> None:
    with pytest.raises(CupgeomError, match=r"decals\.comet\.drop"):
        _ = one(('drop = "62mm"', 'drop = "2mm"')).decals


def test_the_plan_goes_with_its_start() -> None:
    first, later = one().plan, one(("2026-03-02", "2026-03-03")).plan
    assert first is not None
    assert later is not None
    assert first.start == date(2026, 3, 2)
    assert later.ready - first.ready == timedelta(days=1)


def test_on_the_job_sheet_an_act_stands_under_its_own_step_only() -> None:
    rows = facts(one()).steps
    above = ""
    for row in rows:
        if row.is_act:
            assert f"{above}: {row.what}" in {task.task.name for task in _plan().placed}
        elif ": " not in row.what or row.what.split(": ")[1] in ("night blue", "fine silver", "comet, motto"):
            above = row.what.split(": ")[0]
    assert {row.what for row in rows} >= {"paint 1: wipe", "pop bubbles (5 min)", "decal 1: comet, motto"}


def _plan() -> Schedule:
    plan = one().plan
    assert plan is not None
    return plan
