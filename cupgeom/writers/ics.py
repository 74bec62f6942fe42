"""A calendar of the work as iCalendar, RFC 5545: one entry a task, alarms for what cannot wait.

Times carry no zone, so that they are the times of the clock on the wall. The stamp is the day of the start and each
name is made from the content, so that the same plan gives the same bytes. Needs the extra `calendar`.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, time, timedelta
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    import icalendar

    from cupgeom.plan.event import Calendar, Event

PRODUCT = "-//cupgeom//order of work//EN"


def render(calendar: Calendar) -> bytes:
    """A calendar as the bytes of an .ics file.

    Raises
    ------
    CupgeomError
        When the library that writes it is not installed.
    """
    try:
        import icalendar
    except ImportError:
        raise CupgeomError("ics", "needs the package icalendar; install cupgeom[calendar]") from None
    whole = icalendar.Calendar()
    whole.add("prodid", PRODUCT)
    whole.add("version", "2.0")
    whole.add("name", _legal(calendar.name))  # RFC 7986
    stamp = datetime.combine(calendar.start, time(), UTC)
    seen: dict[str, int] = {}
    for event in calendar.events:
        seen[event.title] = seen.get(event.title, 0) + 1
        key = f"{calendar.name}\n{calendar.start}\n{event.title}\n{seen[event.title]}"
        entry = icalendar.Event()
        entry.add("uid", f"{hashlib.sha256(key.encode()).hexdigest()[:32]}@cupgeom")
        entry.add("dtstamp", stamp)
        entry.add("dtstart", event.start)
        if event.minutes:
            entry.add("duration", timedelta(minutes=event.minutes))
        entry.add("summary", _legal(event.title))
        if event.note:
            entry.add("description", _legal(event.note))
        if event.alarm_min is not None:
            entry.add_component(_alarm(event))
        whole.add_component(entry)
    return bytes(whole.to_ical())


def _alarm(event: Event) -> icalendar.Alarm:
    import icalendar

    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", _legal(event.title))
    alarm.add("trigger", -timedelta(minutes=event.alarm_min or 0))
    return alarm


def _legal(text: str) -> str:
    """Text without the control characters that the format forbids."""
    return "".join(char if (char >= " " and char != "\x7f") or char in "\n\t" else " " for char in text)
