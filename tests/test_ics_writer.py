"""The calendar, read back by icalendar and held against RFC 5545."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cupgeom import CupgeomError
from cupgeom.coating.coats import Coat
from cupgeom.coating.resin import EXAMPLE
from cupgeom.plan import Bench, Calendar, Event, Lot, Step, calendar_of, order_of, schedule
from cupgeom.writers import ics

START = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 30)
ONE = Event(start=AT, minutes=25, title="flood 1", note="25 min of work", alarm_min=2)


def calendar(*events: Event, name: str = "comet night") -> Calendar:
    return Calendar(name=name, start=START, events=events)


def entries(data: bytes) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(data).walk("VEVENT"))


def plan() -> Calendar:
    steps = (Step(do="flood", coat=Coat(kind="flood")), Step(do="clear", coat=Coat(kind="clear")))
    return calendar_of(schedule([Lot(name="a", order=order_of(steps, EXAMPLE))], Bench(), START), "comet night")


def test_an_entry_is_read_back_as_it_was_meant() -> None:
    (entry,) = entries(ics.render(calendar(ONE)))
    assert (entry["summary"], entry["description"]) == ("flood 1", "25 min of work")
    assert entry.decoded("dtstart") == AT  # no zone: the clock on the wall
    assert entry.decoded("duration") == timedelta(minutes=25)
    (alarm,) = entry.walk("VALARM")
    assert (alarm["action"], alarm.decoded("trigger")) == ("DISPLAY", timedelta(minutes=-2))


def test_the_calendar_says_what_it_is() -> None:
    whole = icalendar.Calendar.from_ical(ics.render(calendar(ONE)))
    assert (whole["version"], whole["name"]) == ("2.0", "comet night")
    assert whole["prodid"] == "-//cupgeom//order of work//EN"


def test_a_long_duration_is_written_as_the_standard_spells_it() -> None:
    # RFC 5545 section 3.3.6: P15DT5H0M20S is 15 days, 5 hours and 20 seconds, 1 314 020 s
    assert icalendar.vDuration.from_ical("P15DT5H0M20S").total_seconds() == 1_314_020
    data = ics.render(calendar(replace(ONE, minutes=(1_314_020 - 20) // 60)))
    assert b"\r\nDURATION:P15DT5H\r\n" in data
    (entry,) = entries(data)
    assert entry.decoded("duration").total_seconds() == 1_314_000


LETTERS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=120).filter(str.strip)


@given(title=LETTERS | st.just("é" * 70) | st.just("🌠" * 40), note=LETTERS)
@settings(max_examples=40)
def test_lines_are_folded_at_75_octets_and_never_inside_a_letter(title: str, note: str) -> None:
    # RFC 5545 section 3.1: lines end in CRLF and are at most 75 octets long without it
    data = ics.render(calendar(replace(ONE, title=title, note=note)))
    lines = data.split(b"\r\n")
    assert lines[-1] == b""
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    assert max(map(len, lines)) <= 75
    assert [line.decode() for line in lines]  # each line alone is UTF-8
    (entry,) = entries(data)
    assert (str(entry["summary"]), str(entry["description"])) == (title, note)


def test_control_characters_are_left_out() -> None:
    (entry,) = entries(ics.render(calendar(replace(ONE, title="flood\x07 1\r", note="a\nb"))))
    assert (str(entry["summary"]), str(entry["description"])) == ("flood  1 ", "a\nb")


def test_same_plan_same_bytes() -> None:
    assert ics.render(plan()) == ics.render(plan())


def test_the_stamp_is_the_day_of_the_start() -> None:
    stamps = {entry.decoded("dtstamp") for entry in entries(ics.render(plan()))}
    assert stamps == {datetime(2026, 3, 2, tzinfo=UTC)}


def test_names_are_unique_and_come_from_the_content() -> None:
    def uids(made: Calendar) -> list[str]:
        return [str(entry["uid"]) for entry in entries(ics.render(made))]

    twice = uids(calendar(ONE, ONE, replace(ONE, title="flood 2")))
    assert len(set(twice)) == 3
    assert uids(calendar(replace(ONE, start=AT + timedelta(hours=1)))) == twice[:1]  # moved: the same entry
    assert uids(calendar(ONE, name="other night")) != twice[:1]
    assert uids(replace(calendar(ONE), start=date(2026, 4, 2))) != twice[:1]


def test_attended_acts_have_an_alarm_and_nothing_else_has() -> None:
    rung = {str(entry["summary"]) for entry in entries(ics.render(plan())) if entry.walk("VALARM")}
    acts = ("pop bubbles (5 min)", "pop bubbles (15 min)", "wipe drips", "pull the tape")
    assert rung == {f"{coat} 1: {act}" for coat in ("flood", "clear") for act in acts}


def test_every_task_stands_in_the_calendar_at_its_time_and_so_does_first_use() -> None:
    steps = (Step(do="flood", coat=Coat(kind="flood")),)
    one = Lot(name="a", order=order_of(steps, EXAMPLE))
    made = schedule([one], Bench(), START)
    read = {str(entry["summary"]): entry.decoded("dtstart") for entry in entries(ics.render(calendar_of(made, "x")))}
    midnight = datetime(2026, 3, 2)
    expected = {placed.task.name: midnight + timedelta(minutes=placed.start_min) for placed in made.placed}
    expected["in service"] = expected["flood 1"] + timedelta(minutes=EXAMPLE.in_service_from_min)
    assert read == expected


def test_what_is_done_is_left_out_and_several_lots_are_named() -> None:
    steps = (Step(do="sand"),)
    lots = [Lot(name=name, order=order_of(steps, EXAMPLE)) for name in "ab"]
    made = schedule([replace(lots[0], done={"sand 1": 480}), lots[1]], Bench(), START)
    titles = [event.title for event in calendar_of(made, "x").events]
    assert "b, sand 1" in titles
    assert "a, sand 1" not in titles


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"start": datetime(2026, 3, 2, tzinfo=UTC)}, "start: must be without a time zone"),
        ({"minutes": -1}, "minutes: must be at least 0 min, got -1 min"),
        ({"title": " "}, "title: is empty"),
    ],
)
def test_entries_that_cannot_be(change: dict[str, object], said: str) -> None:
    with pytest.raises(CupgeomError) as refusal:
        replace(ONE, **change)
    assert str(refusal.value) == said
