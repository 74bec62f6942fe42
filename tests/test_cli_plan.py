"""`cupgeom plan` at the edge: what it says of jobs in a folder, what is due, what is recorded, what it refuses."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import icalendar
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
pot_life_min = 40
pot_life_mass_g = 100
gel_min = 300
recoat_min = [240, 720]
sandable_from_min = 720
in_service_from_min = 10080
"""
STARS = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><path d="M5 10 20 3 35 10 20 17z"/></svg>'
COMET = """
name = "comet night"
cup = "tapered 20"
quantity = 2
places = 2
start = 2026-03-02
steps = ["flood", { do = "sand", edge = true }, { do = "decal", decals = ["stars"] }, { do = "clear", repeat = 2 }]

[decals.stars]
art = "stars.svg"
medium = "white water-slide"
width = 40
drop = 60
"""
DONE = 'cupgeom plan comet.toml --done "flood 1" --at "2026-03-02 14:20"'.removeprefix("cupgeom ")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("stars.svg").write_text(STARS)
    Path("comet.toml").write_text(COMET)
    return tmp_path


def numbers(line: str) -> dict:
    answer = ask(f"{line} --json")
    assert answer.code == 0, answer.err
    return json.loads(answer.out)


def starts(plan: dict, lot: str = "comet night") -> dict[str, datetime]:
    return {one["task"]: datetime.fromisoformat(one["start"]) for one in plan["tasks"] if one["lot"] == lot}


def other(text: str, **changes: str) -> None:
    """Write a job file beside comet.toml, with some of its text changed."""
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    Path("moon.toml").write_text(text)


# The plan -------------------------------------------------------------------------------------------------------------


def test_the_waits_of_the_resin_stand_in_the_plan() -> None:
    at = starts(numbers("plan comet.toml"))
    # the second cup is coated 5 min + 2 × 6 min after mixing; hard through 720 min after that, by the shop file
    assert at["sand 1"] - at["flood 1"] >= timedelta(minutes=720 + 17)
    assert timedelta(minutes=240) <= at["clear 2"] - at["clear 1"] <= timedelta(minutes=720)
    assert all(8 <= one.hour < 20 for one in at.values())


def test_the_table_says_what_the_numbers_say() -> None:
    plan, answer = numbers("plan comet.toml"), ask("plan comet.toml")
    assert answer.out.startswith("Monday 2026-03-02\n  08:00 ")  # that day was a Monday
    assert [line.split("  ")[-1].strip() for line in answer.out.splitlines() if line.startswith("  ")] == [
        one["task"] for one in plan["tasks"]
    ]
    ready = datetime.fromisoformat(plan["ready"])
    assert f"ready       {ready:%A %Y-%m-%d, %H:%M}; " in answer.out
    assert max(len(line) for line in answer.out.splitlines()) <= 80


def test_two_jobs_share_the_rack_and_one_pair_of_hands() -> None:
    other(COMET, name=("comet night", "new moon"))
    plan = numbers("plan comet.toml moon.toml")
    assert [lot["name"] for lot in plan["lots"]] == ["comet night", "new moon"]
    spans = sorted((datetime.fromisoformat(one["start"]), one["minutes"]) for one in plan["tasks"])
    ends = [start + timedelta(minutes=minutes) for start, minutes in spans]
    assert all(end <= start for end, (start, _) in zip(ends, spans[1:], strict=False))
    first, second = (starts(plan, name)["flood 1"] for name in ("comet night", "new moon"))
    assert abs(first - second) >= timedelta(minutes=240)  # both need both places till the earliest recoat
    roomy = numbers("plan comet.toml moon.toml --places 4")
    assert abs(starts(roomy)["flood 1"] - starts(roomy, "new moon")["flood 1"]) < timedelta(minutes=240)


def test_another_first_day_moves_all_by_as_much() -> None:
    before, after = (starts(numbers(f"plan comet.toml {more}")) for more in ("", "--start 2026-03-09"))
    assert {name: at - before[name] for name, at in after.items()} == dict.fromkeys(before, timedelta(days=7))


def test_the_calendar_holds_every_task_and_rings_for_the_attended_ones() -> None:
    plan, answer = numbers("plan comet.toml"), ask("plan comet.toml -o plan.ics")
    assert answer.err.endswith("wrote plan.ics\n")
    calendar = icalendar.Calendar.from_ical(Path("plan.ics").read_bytes())
    events = {str(event["SUMMARY"]): event for event in calendar.walk("VEVENT")}
    assert {name: event["DTSTART"].dt for name, event in events.items() if name != "in service"} == starts(plan)
    ringing = {name for name, event in events.items() if event.walk("VALARM")}
    assert ringing == {one["task"] for one in plan["tasks"] if one["attended"]}
    first = Path("plan.ics").read_bytes()
    ask("plan comet.toml -o plan.ics --force")
    assert Path("plan.ics").read_bytes() == first


def test_doubts_go_to_stderr_and_the_plan_is_made_all_the_same() -> None:
    other(COMET, sand=(", edge = true", ""), ship=("places = 2", "places = 2\nship = 2026-03-02"))
    answer = ask("plan moon.toml")
    assert answer.code == 0
    assert "note: clear 2: is the last coat, and the top edge of the wall was not sanded to metal" in answer.err
    assert "note: comet night.ship: cannot be met, by " in answer.err
    assert "note" not in answer.out


# What is done and what is due -----------------------------------------------------------------------------------------


def test_what_is_done_is_recorded_beside_the_job_and_the_rest_is_planned_again() -> None:
    answer = ask(DONE)
    assert (answer.code, answer.err) == (0, "wrote comet.done.toml\n")
    assert Path("comet.done.toml").read_text() == '["comet night"]\n"flood 1" = 2026-03-02T14:20:00\n'
    plan = numbers("plan comet.toml")
    at, done = starts(plan), {one["task"] for one in plan["tasks"] if one["done"]}
    assert done == {"flood 1: mask lip and base", "flood 1: wipe", "flood 1"}
    assert at["flood 1"] == datetime(2026, 3, 2, 14, 20)
    assert at["sand 1"] >= at["flood 1"] + timedelta(minutes=737)


def test_a_second_record_keeps_the_first() -> None:
    ask(DONE)
    answer = ask('plan comet.toml --done "flood 1: pop bubbles (5 min)" --at "2026-03-02 14:41"')
    assert answer.code == 0
    assert Path("comet.done.toml").read_text().splitlines() == [
        '["comet night"]',
        '"flood 1" = 2026-03-02T14:20:00',
        '"flood 1: pop bubbles (5 min)" = 2026-03-02T14:41:00',
    ]


def test_what_was_forgotten_may_be_recorded_later() -> None:
    ask(DONE)
    ask('plan comet.toml --done "flood 1: pop bubbles (5 min)" --at "2026-03-02 14:41"')
    answer = ask('plan comet.toml --done "flood 1: wipe" --at "2026-03-02 14:10"')
    assert (answer.code, answer.err) == (0, "wrote comet.done.toml\n")
    assert "  14:10 x 4 min   flood 1: wipe\n" in answer.out


def test_a_job_that_is_packed_is_done() -> None:
    answer = ask('plan comet.toml --done pack --at "2026-03-06 09:00"')
    assert answer.code == 0
    assert all(" x " in line for line in answer.out.splitlines() if line.startswith("  "))
    assert ask('plan comet.toml --now --at "2026-03-06 10:00"').out == "Friday 2026-03-06, 10:00\n  all is done\n"


def test_an_order_of_work_that_cannot_be_says_why_and_whose_it_is() -> None:
    other(COMET, sand=('"flood", { do = "sand", edge = true }', '"flood"'), name=("comet night", "new moon"))
    for line, whose in (("plan moon.toml", ""), ("plan comet.toml moon.toml", "moon.toml.")):
        answer = ask(line)
        assert (answer.code, answer.out) == (2, "")
        assert answer.err.startswith(f"cupgeom: {whose}steps: cannot all be kept, they are ")
        assert answer.err.endswith("; sand before clear 1, then it has time\n")


def test_now_says_what_must_and_what_may_be_done() -> None:
    ask(DONE)
    due = numbers('plan comet.toml --now --at "2026-03-02 14:42"')["due"]
    # on for 17 min from 14:20, so the first bubbles are due 5 min after 14:37, 2 min early to 5 min late
    assert {one["task"]: (one["may"], one["must"]) for one in due}["flood 1: pop bubbles (5 min)"] == (True, True)
    answer = ask('plan comet.toml --now --at "2026-03-02 14:42"')
    assert answer.out.startswith("Monday 2026-03-02, 14:42\n  must  flood 1: pop bubbles (5 min) until 14:47 (")
    late = ask('plan comet.toml --now --at "2026-03-02 15:30"')
    assert "note: flood 1: pop bubbles (5 min): " in late.err
    assert "ago; do it at once" in late.err


def test_before_the_first_day_nothing_waits() -> None:
    answer = ask('plan comet.toml --now --at "2026-02-27 12:00" --start 2026-03-02')
    assert answer.code == 0
    assert "flood 1" in answer.out


def test_a_bare_time_is_today() -> None:
    today = datetime.now().date()
    due = numbers(f"plan comet.toml --start {today} --now --at 14:20")
    assert due["now"][10:] == "T14:20"


def test_several_lots_need_the_name_of_one() -> None:
    other(COMET, places=("places = 2", "places = 1"))
    answer = ask('plan moon.toml --done "flood 1" --at "2026-03-02 14:20"')
    assert (answer.code, answer.err) == (
        2,
        "cupgeom: --lot: is missing; flood 1 is a task of 'comet night, lot 1', 'comet night, lot 2'\n",
    )
    answer = ask('plan moon.toml --done "flood 1" --lot "comet night, lot 2" --at "2026-03-02 14:20"')
    assert answer.code == 0
    assert Path("moon.done.toml").read_text().startswith('["comet night, lot 2"]\n')


# What it refuses ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("plan", "jobs: is missing; see cupgeom plan --help"),
        ("plan none.toml", "none.toml: does not exist; check its name and folder"),
        ("plan comet.toml --shop none.toml", "--shop: none.toml does not exist"),
        ("plan comet.toml comet.toml", "name: 'comet night' is there twice; give the jobs different names"),
        ("plan comet.toml -o plan.pdf", "-o: unknown ending of 'plan.pdf'; give a name that ends in .ics"),
        ("plan comet.toml --lot x", "--lot: goes with --done"),
        ("plan comet.toml --places 0", "--places: must be at least 1 places, got 0 places"),
        ("plan comet.toml --start soon", "--start: cannot read 'soon'; give a day such as 2026-03-02"),
        (
            "plan comet.toml --start 9999-12-31",
            "--start: leads beyond the last day of the calendar; begin earlier",
        ),
        ("plan comet.toml --now --at 25:00", "--at: cannot read '25:00'; give a date and time such as 2026-03-02 14:20,"
         " or 14:20"),
        (
            'plan comet.toml --now --at "2206-03-02 10:00"',
            "--at: must be within ten years of the start (2026-03-02), got 2206-03-02",
        ),
        ('plan comet.toml --done "flod 1"', "--done: no task 'flod 1'; did you mean \"flood 1\"?"),
    ],
)  # fmt: skip
def test_bad_input_is_one_line_and_changes_nothing(line: str, message: str) -> None:
    before = sorted(Path().iterdir())
    answer = ask(line)
    assert (answer.code, answer.out, answer.err) == (2, "", f"cupgeom: {message}\n")
    assert sorted(Path().iterdir()) == before


def test_a_job_without_a_first_day_asks_for_one() -> None:
    other(COMET, start=("start = 2026-03-02\n", ""))
    assert ask("plan moon.toml").err == (
        "cupgeom: --start: is missing, and moon.toml has no start; give the first day of work\n"
    )
    assert ask("plan moon.toml --start 2026-03-02").code == 0


def test_a_record_that_fits_the_job_no_more_is_told_by_its_name() -> None:
    Path("comet.done.toml").write_text('["comet nigth"]\n"flood 1" = 2026-03-02T14:20:00\n')
    assert ask("plan comet.toml").err == (
        'cupgeom: comet.done.toml: comet nigth: is no lot of its job; did you mean "comet night"?\n'
    )
    Path("comet.done.toml").write_text('["comet night"]\n"flood 9" = 2026-03-02T14:20:00\n')
    assert 'comet.done.toml: comet night.flood 9: is no task of its job; did you mean "flood 1"?' in (
        ask("plan comet.toml").err
    )


def test_all_faults_of_a_job_file_are_told_at_once() -> None:
    other(COMET, cup=("tapered 20", "taperd 20"), quantity=("quantity = 2", "quantity = 0"), do=('"sand"', '"snad"'))
    answer = ask("plan moon.toml")
    assert answer.code == 2
    assert [line.split(": ")[1] for line in answer.err.splitlines()] == ["moon.toml:3", "moon.toml:4", "moon.toml:7"]
