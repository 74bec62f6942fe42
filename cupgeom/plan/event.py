"""A plan as entries of a calendar."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from cupgeom.errors import CupgeomError, require_at_least
from cupgeom.plan.hours import moment
from cupgeom.plan.network import spell
from cupgeom.plan.schedule import Schedule

ALARM_MIN = 2  # before an attended act


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """An entry of a calendar, in the time of the place where it is read.

    Parameters
    ----------
    start
        When it begins, without a time zone.
    minutes
        How long it takes [min].
    title, note
        What is shown.
    alarm_min
        How long before it an alarm goes off [min]; None for no alarm.
    """

    start: datetime
    minutes: int
    title: str
    note: str = ""
    alarm_min: int | None = None

    def __post_init__(self) -> None:
        if self.start.tzinfo is not None:
            raise CupgeomError("start", "must be without a time zone")
        require_at_least("minutes", self.minutes, 0, "min")
        if not self.title.strip():
            raise CupgeomError("title", "is empty")


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """Entries, and the day by which they are stamped."""

    name: str
    start: date
    events: tuple[Event, ...]


def calendar_of(plan: Schedule, name: str) -> Calendar:
    """All tasks that are not done yet, alarms for the attended acts, and the first use of the cups."""
    several = len(plan.lots) > 1
    events = []
    for one in plan.placed:
        if one.done:
            continue
        title = f"{one.lot}, {one.task.name}" if several else one.task.name
        alarm = ALARM_MIN if one.task.attended else None
        note = f"{spell(one.task.minutes)} of work"
        events.append(
            Event(
                start=moment(plan.start, one.start_min),
                minutes=one.task.minutes,
                title=title,
                note=note,
                alarm_min=alarm,
            )
        )
    for lot in plan.lots:
        in_service = plan.in_service(lot)
        if in_service is not None:
            title = f"{lot.name}, in service" if several else "in service"
            note = "cured; the resin's data sheet rules"
            events.append(Event(start=in_service, minutes=0, title=title, note=note))
    return Calendar(name=name, start=plan.start, events=tuple(events))
