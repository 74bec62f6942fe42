"""What is done, what that changes, and what may and must be done at a moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from cupgeom.errors import CupgeomError, Notice
from cupgeom.plan.hours import DAY, moment
from cupgeom.plan.network import Limit, spell
from cupgeom.plan.order import Order, Task
from cupgeom.plan.schedule import Lot, Never, Schedule, schedule
from cupgeom.plan.taken import Bench
from cupgeom.records import nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A task whose turn has come.

    Parameters
    ----------
    lot, task
        Whose, and what.
    from_min, until_min
        Its window [min]; None where it may wait for ever.
    planned_min
        When the plan does it [min].
    may, must
        Whether it can be done at the moment asked about; whether it can't wait for the next working day.
    """

    lot: str
    task: Task
    from_min: int
    until_min: int | None
    planned_min: int
    may: bool
    must: bool


def replan(
    lots: Sequence[Lot], bench: Bench, start: date, done: Mapping[str, Mapping[str, int]], now_min: int
) -> tuple[Schedule, tuple[Notice, ...]]:
    """The rest of the work, after what is done, from a moment on.

    A window that was missed is let go and told of, with its mend.

    Parameters
    ----------
    lots, bench, start
        As they were planned.
    done
        By the name of the lot and of the task, when it was begun [min]. What comes before a done task is done too.
    now_min
        Before which nothing more is done [min].

    Raises
    ------
    CupgeomError
        Naming ``done``, when there is no such lot or task, or one is done in the future.
    """
    for name in done:
        if name not in [lot.name for lot in lots]:
            raise CupgeomError("done", f"no lot {name!r}; {nearest(name, [lot.name for lot in lots])}")
    notices: list[Notice] = []
    rest = []
    for lot in lots:
        known = _known(lot.order, done.get(lot.name, {}), now_min)
        told, order = _loosened(lot.order, known, now_min, start)
        notices += told
        rest.append(replace(lot, order=order, done=known, release_min=max(now_min, lot.release_min)))
    while True:
        try:
            return schedule(rest, bench, start), tuple(notices)
        except Never as missed:
            index = next(place for place, lot in enumerate(rest) if lot.name == missed.lot)
            limit = missed.limit
            if limit.before not in rest[index].done:
                raise
            notices.append(
                Notice(limit.after, f"{limit.why}: cannot be kept any more in the working hours", limit.mend)
            )
            limits = tuple(replace(one, most=None) if one == limit else one for one in rest[index].order.limits)
            rest[index] = replace(rest[index], order=replace(rest[index].order, limits=limits))


def due(plan: Schedule, now_min: int) -> tuple[Due, ...]:
    """The tasks whose turn has come, or whose window ends before the next working day; the most pressing first."""
    tomorrow = plan.bench.hours.fit(plan.start, (now_min // DAY + 1) * DAY, 0)
    found = []
    for lot in plan.lots:
        starts = plan.starts(lot.name)
        for task in lot.order.tasks:
            limits = [limit for limit in lot.order.limits if limit.after == task.name]
            if task.name in lot.done or not all(limit.before in lot.done for limit in limits):
                continue
            begins = max((lot.done[limit.before] + limit.least for limit in limits), default=0)
            ends = [lot.done[limit.before] + limit.most for limit in limits if limit.most is not None]
            until = min(ends) if ends else None
            must = until is not None and until < tomorrow
            if begins <= now_min or must:
                found.append(
                    Due(
                        lot=lot.name,
                        task=task,
                        from_min=begins,
                        until_min=until,
                        planned_min=starts[task.name],
                        may=begins <= now_min,
                        must=must,
                    )
                )
    return tuple(sorted(found, key=lambda one: (not one.must, one.until_min or one.planned_min, one.lot)))


def _known(order: Order, done: Mapping[str, int], now_min: int) -> dict[str, int]:
    """The starts of all that is done; what must have come before it is given the latest time that it can have had."""
    names = [task.name for task in order.tasks]
    for name, at in done.items():
        if name not in names:
            raise CupgeomError("done", f"no step {name!r}; {nearest(name, names)}")
        if at > now_min:
            raise CupgeomError("done", f"{name} is {spell(at - now_min)} in the future; give when it was begun")
    known = dict(done)
    for name in reversed(names):
        after = [
            known[limit.after] - limit.least for limit in order.limits if limit.before == name and limit.after in known
        ]
        if name not in known and after:
            known[name] = min(after)
    return known


def _loosened(order: Order, known: Mapping[str, int], now_min: int, start: date) -> tuple[list[Notice], Order]:
    """What was done outside its window or is too late by now, and the order without those windows."""
    notices, limits = [], []
    for limit in order.limits:
        if limit.before not in known:
            limits.append(limit)
            continue
        waited = known.get(limit.after, now_min) - known[limit.before]
        if limit.most is not None and waited > limit.most:
            ended = moment(start, known[limit.before] + limit.most)
            what = f"{limit.why}: its window ended {ended:%Y-%m-%d %H:%M}, {spell(waited - limit.most)} ago"
            if limit.after in known:
                what = f"{limit.why}: it was done {spell(waited - limit.most)} too late"
            notices.append(Notice(limit.after, what, limit.mend))
            limits.append(_without_end(limit))
        elif limit.after in known and waited < limit.least:
            what = f"{limit.why or limit.before}: it was done {spell(limit.least - waited)} too early"
            notices.append(Notice(limit.after, what, "look at it closely before you go on"))
            limits.append(replace(limit, least=waited))
        else:
            limits.append(limit)
    return notices, replace(order, limits=tuple(limits))


def _without_end(limit: Limit) -> Limit:
    return replace(limit, most=None)
