"""What would bring the shipping date forward, and by how much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from cupgeom.errors import CupgeomError, Notice
from cupgeom.plan.hours import DAY, DAYS, Hours
from cupgeom.plan.network import spell
from cupgeom.plan.order import Order
from cupgeom.plan.schedule import Lot, Schedule, schedule
from cupgeom.plan.taken import Bench

LONGER_MIN = 120  # what is tried: opening or closing two hours earlier or later
FASTER = 0.75  # what is tried: waits of a resin that takes three quarters of the time


@dataclass(frozen=True, slots=True)
class Change:
    """Something that could be done differently, and how much earlier everything is then ready [min]."""

    what: str
    saves_min: int


def shortenings(plan: Schedule) -> tuple[Change, ...]:
    """What was tried and saves something, the most first."""
    bench, hours = plan.bench, plan.bench.hours
    longer = Hours(opens_min=max(hours.opens_min - LONGER_MIN, 0), closes_min=hours.closes_min, days=hours.days)
    later = replace(hours, closes_min=min(hours.closes_min + LONGER_MIN, DAY))
    room = max(lot.cups for lot in plan.lots)
    tries: list[tuple[str, Sequence[Lot], Bench]] = [
        (f"begin {spell(LONGER_MIN)} earlier each day", plan.lots, replace(bench, hours=longer)),
        (f"work {spell(LONGER_MIN)} longer each day", plan.lots, replace(bench, hours=later)),
        ("work every day of the week", plan.lots, replace(bench, hours=replace(hours, days=DAYS))),
        (f"{room} more places on the rack", plan.lots, replace(bench, places=bench.places + room)),
        ("a resin that is a quarter faster", [_faster(lot) for lot in plan.lots], bench),
    ]
    found = []
    for what, lots, other in tries:
        end = _end(lots, other, plan.start)
        if end is not None and end < plan.end_min:
            found.append(Change(what, plan.end_min - end))
    return tuple(sorted(found, key=lambda change: -change.saves_min))


def lateness(plan: Schedule) -> tuple[Notice, ...]:
    """A notice for each lot that is later than due: by how much, and what would help most."""
    late = [(lot.name, plan.late_min(lot)) for lot in plan.lots if plan.late_min(lot)]
    if not late:
        return ()
    changes = shortenings(plan)
    mend = f"{changes[0].what} saves {spell(changes[0].saves_min)}; or ship later" if changes else "ship later"
    return tuple(
        Notice(f"{name}.ship" if name else "ship", f"cannot be met, by {spell(by)}", mend) for name, by in late
    )


def _end(lots: Sequence[Lot], bench: Bench, start: date) -> int | None:
    """When all would be ready; None where it cannot be done that way."""
    try:
        return schedule(lots, bench, start).end_min
    except CupgeomError:
        return None


def _faster(lot: Lot) -> Lot:
    """The same with shorter waits for the resin: those longer than the work of the task before."""
    minutes = {task.name: task.minutes for task in lot.order.tasks}
    limits = tuple(
        replace(limit, least=max(round(limit.least * FASTER), minutes.get(limit.before, 0)))
        if limit.least > minutes.get(limit.before, 0)
        else limit
        for limit in lot.order.limits
    )
    return replace(lot, order=Order(tasks=lot.order.tasks, limits=limits, in_service_min=lot.order.in_service_min))
