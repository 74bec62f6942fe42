"""Several lots of cups on one rack, for one pair of hands, within working hours.

The rule. Tasks of a lot that a window ties together form a block. Of all blocks whose turn has come, one whose window
is running already goes next, else the first by an order. Several orders are tried (`ORDERS`), and the plan kept that is
least late, then ready first, then of the earlier order. A block is put down whole, each task
at the earliest moment at which hands and rack are free and every window in the block is kept; if there is no such
moment, it begins later. What stands is not moved again, so that no window is ever broken.

Within a block the earliest moments are found by raising them until nothing pushes any more; since a later start of one
task never lets another start earlier, this ends at the least times that there are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from types import MappingProxyType

from cupgeom.errors import CupgeomError
from cupgeom.plan.hours import DAY, moment
from cupgeom.plan.network import START, Limit, spell
from cupgeom.plan.order import Order, Task
from cupgeom.plan.taken import Bench, Taken

Rank = Callable[["_Turn"], tuple[float, ...]]  # the lowest goes first
_PATIENCE = 28 * DAY  # minutes beyond all that stands; the week repeats itself long before


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Cups that go through an order of work side by side.

    Parameters
    ----------
    name
        Stands before the tasks where there are several lots.
    order
        The work.
    cups
        How many, each on a place of its own.
    due_min
        When it is to be ready [min]; None for no hurry.
    release_min
        Before which nothing of it is done [min].
    done
        Starts of the tasks that are done [min].
    """

    name: str
    order: Order
    cups: int = 1
    due_min: int | None = None
    release_min: int = 0
    done: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A task of a lot at its time [min]."""

    lot: str
    task: Task
    start_min: int
    done: bool = False

    @property
    def end_min(self) -> int:
        """When the work on it ends [min]."""
        return self.start_min + self.task.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """All tasks of all lots at their times, in that order.

    Parameters
    ----------
    start
        The day from whose midnight minutes are counted.
    lots, bench
        What was planned, and on what.
    placed
        The tasks.
    """

    start: date
    lots: tuple[Lot, ...]
    bench: Bench
    placed: tuple[Placed, ...]

    @property
    def end_min(self) -> int:
        """When the last lot is ready to ship [min]."""
        return max(one.end_min for one in self.placed)

    @property
    def start_to_ship_min(self) -> int:
        """From the first task to the end of the last [min]."""
        return self.end_min - min(one.start_min for one in self.placed)

    @property
    def hands_min(self) -> int:
        """All work by hand [min]."""
        return sum(one.task.minutes for one in self.placed)

    @property
    def idle_min(self) -> int:
        """Working hours between first and last task in which there is nothing to do [min]."""
        first = min(one.start_min for one in self.placed)
        undone = [one for one in self.placed if not one.done]
        open_min = self.bench.hours.open_between(self.start, first, self.end_min)
        return max(open_min - sum(one.task.minutes for one in undone), 0)

    @property
    def ready(self) -> datetime:
        """When the last lot is ready to ship."""
        return moment(self.start, self.end_min)

    def late_min(self, lot: Lot) -> int:
        """By how much a lot is later than due [min]; 0 when it is not."""
        end = max(one.end_min for one in self.placed if one.lot == lot.name)
        return 0 if lot.due_min is None else max(end - lot.due_min, 0)

    def starts(self, lot: str) -> dict[str, int]:
        """The start of each task of a lot [min]."""
        return {one.task.name: one.start_min for one in self.placed if one.lot == lot}

    def in_service(self, lot: Lot) -> datetime | None:
        """When the cups of a lot may be used; None without a coat."""
        last = lot.order.last_coat
        return moment(self.start, self.starts(lot.name)[last] + lot.order.in_service_min) if last else None


def schedule(lots: Sequence[Lot], bench: Bench, start: date) -> Schedule:
    """All lots, by the rule at the top of this module.

    Raises
    ------
    CupgeomError
        When a lot needs more places than there are, two have one name, or a window can never be met in working hours.
    """
    if not lots:
        raise CupgeomError("lots", "are missing; give at least one")
    for index, lot in enumerate(lots):
        if lot.cups > bench.places:
            what = f"must be at most the {bench.places} places of the rack, got {lot.cups}; make more lots"
            raise CupgeomError(f"lots[{index}].cups", what)
        if lot.name in [other.name for other in lots[:index]]:
            raise CupgeomError(f"lots[{index}].name", f"{lot.name!r} is there already")
    plans, missed = [], None
    for order in ORDERS:
        try:
            plans.append(_laid_down(lots, bench, start, order))
        except Never as never:
            missed = missed or never
    if missed is not None and not plans:
        raise missed
    return min(plans, key=lambda plan: (sum(plan.late_min(lot) for lot in lots), plan.end_min))


def _laid_down(lots: Sequence[Lot], bench: Bench, start: date, order: Rank) -> Schedule:
    """All lots, block by block, in one order."""
    table = Taken(bench, start)
    rows = [_Row(lot, table) for lot in lots]
    while any(row.blocks for row in rows):
        turns = [
            _Turn(row=row, index=index, block=block, starts=row.fitted(block))
            for index, row in enumerate(rows)
            for block in row.turn()
        ]
        chosen = min(turns, key=lambda turn: (not turn.row.runs(turn.block), *order(turn), turn.index))
        chosen.row.settle(chosen.block, chosen.starts)
    placed = [
        Placed(lot=row.lot.name, task=task, start_min=row.starts[task.name], done=task.name in row.lot.done)
        for row in rows
        for task in row.lot.order.tasks
    ]
    placed.sort(key=lambda one: one.start_min)
    return Schedule(start=start, lots=tuple(lots), bench=bench, placed=tuple(placed))


class _Row:
    """One lot while it is put down."""

    def __init__(self, lot: Lot, table: Taken) -> None:
        self.lot, self.table = lot, table
        self.tasks = {task.name: task for task in lot.order.tasks}
        self.starts: dict[str, int] = {START: 0}
        for name, at in lot.done.items():
            self.starts[name] = at
            table.take(at, self.tasks[name], lot.cups)
        self.known: dict[tuple[str, ...], dict[str, int]] = {}  # earliest starts when a block was looked at last
        undone = tuple(name for name in self.tasks if name not in lot.done)
        self.blocks = list(_blocks(undone, lot.order.limits))

    def turn(self) -> list[tuple[str, ...]]:
        """The blocks that wait for nothing but what is put down."""
        limits = self.lot.order.limits
        return [
            block
            for block in self.blocks
            if all(limit.before in self.starts or limit.before in block for limit in limits if limit.after in block)
        ]

    def runs(self, block: tuple[str, ...]) -> bool:
        """Whether a window of the block was opened by a task that stands."""
        return any(
            limit.most is not None and limit.after in block and limit.before in self.starts
            for limit in self.lot.order.limits
        )

    def fitted(self, block: tuple[str, ...]) -> dict[str, int]:
        """The earliest starts of the tasks of a block."""
        least = self.known.get(block) or dict.fromkeys(
            block, self.lot.release_min
        )  # what others took only makes it later
        limits = [limit for limit in self.lot.order.limits if limit.after in least]
        end = max(self.table.end, self.lot.release_min, *self.starts.values()) + _PATIENCE
        moved = True
        while moved:
            moved = False
            for name in block:
                at = self.table.fit(least[name], self.tasks[name], self.lot.cups)
                moved |= at > least[name]
                least[name] = at
            for limit in limits:
                before = self.starts.get(limit.before)
                from_here = least[limit.before] if before is None else before
                if least[limit.after] < from_here + limit.least:
                    least[limit.after] = from_here + limit.least
                    moved = True
                if limit.most is not None and least[limit.after] > from_here + limit.most:
                    if before is not None or least[limit.after] > end:
                        raise _never(limit, self.lot, self.table.bench)
                    least[limit.before] = least[limit.after] - limit.most
                    moved = True
        self.known[block] = least
        return least

    def settle(self, block: tuple[str, ...], starts: Mapping[str, int]) -> None:
        """Put a block down."""
        self.blocks.remove(block)
        self.starts |= starts
        for name, at in starts.items():
            self.table.take(at, self.tasks[name], self.lot.cups)


@lru_cache(maxsize=64)  # lots of one size are alike, and several orders are tried
def _blocks(names: tuple[str, ...], limits: tuple[Limit, ...]) -> tuple[tuple[str, ...], ...]:
    """Tasks that windows tie together, in the order of the work; what lies between two of them belongs to them."""
    block = {name: {name} for name in names}
    chain = [name for name in names if any(name in (limit.before, limit.after) for limit in limits)]
    place = {name: index for index, name in enumerate(chain)}
    for limit in limits:
        if limit.most is None or limit.before not in place or limit.after not in place:
            continue
        between = chain[place[limit.before] : place[limit.after] + 1]
        joined = set().union(*(block[name] for name in between if _between(name, limit, limits)))
        for name in joined:
            block[name] = joined
    found = {tuple(name for name in names if name in group): None for group in block.values()}
    return tuple(sorted(found, key=lambda group: names.index(group[0])))


def _between(name: str, limit: Limit, limits: Sequence[Limit]) -> bool:
    """Whether a task comes after the first and before the second task of a limit."""
    return name in (limit.before, limit.after) or (
        _leads(limit.before, name, limits) and _leads(name, limit.after, limits)
    )


def _leads(first: str, last: str, limits: Sequence[Limit]) -> bool:
    reached, todo = {first}, [first]
    while todo:
        here = todo.pop()
        for limit in limits:
            if limit.before == here and limit.after not in reached:
                reached.add(limit.after)
                todo.append(limit.after)
    return last in reached


class Never(CupgeomError):  # noqa: N818  it says what cannot be
    """A window that no working hours meet: its limit, and the name of its lot."""

    def __init__(self, where: str, what: str, limit: Limit, lot: str) -> None:
        super().__init__(where, what)
        self.limit, self.lot = limit, lot
        self.args = (where, what, limit, lot)


def _never(limit: Limit, lot: Lot, bench: Bench) -> Never:
    hours = bench.hours
    opens, closes = (f"{minute // 60:02}:{minute % 60:02}" for minute in (hours.opens_min, hours.closes_min))
    most = "" if limit.most is None else f" (at most {spell(limit.most)})"
    mends = [limit.mend] if limit.mend else []
    what = f"{limit.why}{most} cannot be kept working from {opens} to {closes}"
    said = "; ".join([f"{lot.name}: {what}" if lot.name else what, *mends, "or work other hours"])
    return Never("hours", said, limit, lot.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """A block whose turn has come, at the earliest times that it could have."""

    row: _Row
    index: int
    block: tuple[str, ...]
    starts: dict[str, int]

    @property
    def begins(self) -> int:
        return min(self.starts.values())

    @property
    def due(self) -> float:
        return float("inf") if self.row.lot.due_min is None else self.row.lot.due_min


def _earliest_first(turn: _Turn) -> tuple[float, ...]:
    return (turn.begins, turn.due)


def _longest_of_the_day_first(turn: _Turn) -> tuple[float, ...]:
    return (turn.begins // DAY, min(turn.starts.values()) - max(turn.starts.values()), turn.begins, turn.due)


def _lot_by_lot(turn: _Turn) -> tuple[float, ...]:
    return (turn.due, turn.index, turn.begins)


def _least_done_first(turn: _Turn) -> tuple[float, ...]:
    return (turn.begins // DAY, -len(turn.row.blocks), turn.begins)


def _most_done_first(turn: _Turn) -> tuple[float, ...]:
    return (turn.begins // DAY, len(turn.row.blocks), turn.begins)


ORDERS: tuple[Rank, ...] = (
    _earliest_first,
    _longest_of_the_day_first,
    _lot_by_lot,
    _least_done_first,
    _most_done_first,
)
