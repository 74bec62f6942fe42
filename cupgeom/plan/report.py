"""A plan in words for a maker, and in numbers for programs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from cupgeom.plan.hours import moment
from cupgeom.plan.network import spell
from cupgeom.plan.now import Due
from cupgeom.plan.schedule import Placed, Schedule
from cupgeom.plan.shorten import Change

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def table(plan: Schedule, changes: Sequence[Change] = ()) -> str:
    """The work day by day, each task marked where the resin sets its moment or it is done; then the sums."""
    lines: list[str] = []
    day = None
    width = max(len(spell(one.task.minutes)) for one in plan.placed)
    for one in plan.placed:
        at = moment(plan.start, one.start_min)
        if at.date() != day:
            day = at.date()
            lines += [*([""] if lines else []), dated(at)]
        mark = "x" if one.done else "*" if one.task.attended else " "
        lines.append(f"  {at:%H:%M} {mark} {spell(one.task.minutes):<{width}}  {_title(plan, one)}")
    lines += ["", f"{'marks':<12}* the resin sets its moment: be there; x done", *_sums(plan)]
    lines += [f"{'sooner by':<12}{spell(change.saves_min)}: {change.what}" for change in changes]
    return "\n".join(lines)


def table_of_now(plan: Schedule, tasks: Sequence[Due], now_min: int) -> str:
    """What must and what may be done at a moment; else what comes next."""
    lines = [f"{dated(moment(plan.start, now_min))}, {moment(plan.start, now_min):%H:%M}"]
    for one in tasks:
        word = "must" if one.must else "may"
        name = f"{one.lot}, {one.task.name}" if len(plan.lots) > 1 else one.task.name
        times = "" if one.may else f" from {_clock(plan, one.from_min, now_min)}"
        times += "" if one.until_min is None else f" until {_clock(plan, one.until_min, now_min)}"
        planned = f"planned {_clock(plan, one.planned_min, now_min)}"
        lines.append(f"  {word:<4}  {name}{times} ({spell(one.task.minutes)} of work; {planned})")
    if not tasks:
        left = [one for one in plan.placed if not one.done]
        said = "all is done" if not left else f"nothing yet; next {_title(plan, left[0])}"
        lines.append(f"  {said}" + (f" at {_clock(plan, left[0].start_min, now_min)}" if left else ""))
    return "\n".join(lines)


def numbers(plan: Schedule, changes: Sequence[Change] = ()) -> dict[str, object]:
    """Everything for programs: moments as the clock on the wall shows them, spans in minutes."""
    return {
        "start": plan.start.isoformat(),
        "ready": _iso(plan.ready),
        "start_to_ship_min": plan.start_to_ship_min,
        "hands_min": plan.hands_min,
        "idle_min": plan.idle_min,
        "places": plan.bench.places,
        "lots": [
            {
                "name": lot.name,
                "cups": lot.cups,
                "late_min": plan.late_min(lot),
                "in_service": None if service is None else _iso(service),
            }
            for lot, service in ((lot, plan.in_service(lot)) for lot in plan.lots)
        ],
        "tasks": [
            {
                "lot": one.lot,
                "task": one.task.name,
                "step": one.task.step,
                "start": _iso(moment(plan.start, one.start_min)),
                "minutes": one.task.minutes,
                "attended": one.task.attended,
                "done": one.done,
            }
            for one in plan.placed
        ],
        "sooner": [{"what": change.what, "saves_min": change.saves_min} for change in changes],
    }


def numbers_of_now(plan: Schedule, tasks: Sequence[Due], now_min: int) -> dict[str, object]:
    """What must and may be done at a moment, for programs."""
    return {
        "now": _iso(moment(plan.start, now_min)),
        "due": [
            {
                "lot": one.lot,
                "task": one.task.name,
                "may": one.may,
                "must": one.must,
                "from": _iso(moment(plan.start, one.from_min)),
                "until": None if one.until_min is None else _iso(moment(plan.start, one.until_min)),
                "planned": _iso(moment(plan.start, one.planned_min)),
                "minutes": one.task.minutes,
            }
            for one in tasks
        ],
    }


def dated(at: datetime) -> str:
    """A day as people say it, in English whatever the system speaks."""
    return f"{_DAYS[at.weekday()]} {at:%Y-%m-%d}"


def _sums(plan: Schedule) -> list[str]:
    lines = [
        f"{'ready':<12}{dated(plan.ready)}, {plan.ready:%H:%M}; {spell(plan.start_to_ship_min)} from the first task",
        f"{'work':<12}{spell(plan.hands_min)} by hand, {spell(plan.idle_min)} of working hours free",
    ]
    for lot in plan.lots:
        service = plan.in_service(lot)
        if service is not None:
            whose = f"{lot.name}: " if len(plan.lots) > 1 else ""
            lines.append(f"{'in service':<12}{whose}{dated(service)}, {service:%H:%M}; the resin's data sheet rules")
    return lines


def _title(plan: Schedule, one: Placed) -> str:
    return f"{one.lot}, {one.task.name}" if len(plan.lots) > 1 else one.task.name


def _clock(plan: Schedule, minute: int, now_min: int) -> str:
    """A time of the day; with its date where that is another day."""
    at = moment(plan.start, minute)
    return f"{at:%H:%M}" if at.date() == moment(plan.start, now_min).date() else f"{at:%Y-%m-%d %H:%M}"


def _iso(at: datetime) -> str:
    return at.isoformat(timespec="minutes")
