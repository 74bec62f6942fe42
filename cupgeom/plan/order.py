"""The steps of a job as tasks for a pair of hands, with the waits and windows between them.

The attended acts and their offsets are common practice without a source; the minutes of work are assumed, for a maker
to replace by their own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from cupgeom.coating.coats import labels
from cupgeom.errors import CupgeomError, require_at_least
from cupgeom.plan.drying import Drying, recoat_window
from cupgeom.plan.network import Limit, Window, spell, windows
from cupgeom.plan.step import RESIN, Step, coats, names

if TYPE_CHECKING:
    from cupgeom.coating.resin import Resin

# Minutes of work: once for a lot of cups, and again for each cup. Assumed.
HANDS: Mapping[str, tuple[int, int]] = MappingProxyType(
    {
        "mask": (0, 4),
        "wipe": (0, 2),
        "paint": (5, 5),
        "tack": (5, 8),
        "brush": (0, 3),
        "flood": (5, 6),
        "vein": (10, 8),
        "clear": (5, 6),
        "pop": (0, 1),
        "drips": (0, 2),
        "pull": (0, 2),
        "sand": (5, 10),
        "edge": (0, 3),
        "rinse": (0, 3),
        "seal": (10, 1),
        "decal": (5, 6),
        "pack": (0, 5),
    }
)
POPS = (5, 15)  # minutes after the coat is on
POP_EARLY, POP_LATE = 2, 5  # how far from that an act may be
DRIPS = (30, 60)
RINSED_BY = 30  # minutes after sanding
WIPED_FOR = 60  # minutes until a wiped cup must be wiped again


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Something to be done by hand.

    Parameters
    ----------
    name
        ``flood 1``, or ``flood 1: pop bubbles (5 min)`` for what belongs to it.
    step
        Name of its step.
    minutes
        Of work, for the whole lot [min].
    rack_min
        How long the lot needs its places on the rack from its start [min]; 0 for none.
    attended
        Whether its moment is set by the resin rather than by the maker.
    """

    name: str
    step: str
    minutes: int
    rack_min: int = 0
    attended: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """The work on a lot of cups that go through it side by side.

    Parameters
    ----------
    tasks
        In the order in which they are done.
    limits
        Waits and windows between their starts.
    in_service_min
        From the start of the last coat until the cups may be used [min].
    """

    tasks: tuple[Task, ...]
    limits: tuple[Limit, ...]
    in_service_min: int = 0
    _windows: dict[str, Window] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_windows", windows([task.name for task in self.tasks], self.limits))

    @property
    def windows(self) -> Mapping[str, Window]:
        """Earliest and latest start of each task, were there hands at all hours."""
        return MappingProxyType(self._windows)

    @property
    def hands_min(self) -> int:
        """All work by hand [min]."""
        return sum(task.minutes for task in self.tasks)

    @property
    def rack_min(self) -> int:
        """Time on the rack [min]."""
        return sum(task.rack_min for task in self.tasks)

    @property
    def last_coat(self) -> str:
        """Name of the last task that lays resin; empty when none does."""
        return next((task.name for task in reversed(self.tasks) if task.rack_min), "")


def order_of(
    steps: Sequence[Step],
    resin: Resin,
    *,
    cups: int = 1,
    drying: Drying | None = None,
    hands: Mapping[str, tuple[int, int]] = HANDS,
) -> Order:
    """The steps as tasks for a lot of cups.

    Raises
    ------
    CupgeomError
        When there is no step or no cup, or the waits contradict each other (a `Clash`, which says by how much).
    """
    if not steps:
        raise CupgeomError("steps", "are missing; list them from the inside out")
    require_at_least("cups", cups, 1, "cups")
    work = _Work(resin, drying or Drying(), cups, {**HANDS, **hands}, labels(coats(steps)))
    for name, step in zip(names(steps), steps, strict=True):
        work.add(name, step)
    return work.packed()


class _Work:
    """Tasks and limits while they are put together."""

    def __init__(
        self,
        resin: Resin,
        drying: Drying,
        cups: int,
        hands: Mapping[str, tuple[int, int]],
        coat_labels: Sequence[str],
    ) -> None:
        self.resin, self.drying, self.cups, self.hands = resin, drying, cups, hands
        self.labels = iter(coat_labels)
        self.tasks: list[Task] = []
        self.limits: list[Limit] = []
        self.due: list[tuple[str, int, str]] = []  # what the next step must wait for: task, minutes, why
        self.last = ""  # of the tasks that follow one another
        self.coat, self.window, self.hard_min = "", (0, 0), 0  # the coat on top, and its times
        self.waited = 0.0  # by the maker's own wish since that coat
        self.sanded, self.taped, self.to_wipe = False, False, True

    def add(self, name: str, step: Step) -> None:
        """The tasks of one step."""
        if step.do in RESIN:
            self._coat(name, step)
        elif step.do == "sand":
            self._sand(name, step)
        elif step.do == "decal":
            self._decal(name, step)
        elif step.do == "paint":
            self._wipe(name)
            self._main(name, "paint", hard=True)
            self._wait(name, self.drying.paint_min, f"{name} dries")
        else:
            self._main(name, "mask")
            self.taped = True
        if step.wait_min is not None:
            self.waited += step.wait_min
            self.due.append((name, math.ceil(step.wait_min), f"the wait after {name}"))

    def packed(self) -> Order:
        """The order of work, ending with packing."""
        self._main("pack", "pack", hard=True)
        service = math.ceil(self.resin.in_service_from_min) if self.coat else 0
        return Order(tasks=tuple(self.tasks), limits=tuple(self.limits), in_service_min=service)

    def _coat(self, name: str, step: Step) -> None:
        if not self.taped:
            self._put(f"{name}: mask lip and base", name, "mask")
        self._wipe(name)
        window = recoat_window(self.resin, next(self.labels))
        gel = math.floor(self.resin.gel_min)
        self._main(name, step.do, rack_min=min(gel, window[0]))
        if self.coat and not self.sanded:
            least, most = self.window
            self._limit(
                self.coat,
                name,
                least,
                None if self.waited > most else most,
                f"{name} goes on {spell(least)} to {spell(most)} after {self.coat}",
                f"sand before {name}, then it has time",
            )
        on = self._minutes(step.do)
        self.coat, self.waited, self.sanded = name, 0.0, False
        self.window = (min(window[0] + on, window[1]), window[1])  # the last cup of a lot is coated `on` minutes later
        self.hard_min = math.ceil(self.resin.sandable_from_min) + on
        if step.do != "tack":
            for at in POPS:
                pop = f"{name}: pop bubbles ({at} min)"
                self._act(name, pop, "pop", on + at - POP_EARLY, on + at + POP_LATE)
            self._act(name, f"{name}: wipe drips", "drips", on + DRIPS[0], on + DRIPS[1])
        pull = f"{name}: pull the tape"
        last = gel - self._minutes("pull")
        if step.pull_min is None:
            self._act(name, pull, "pull", min(on + DRIPS[1], last), last, f"{pull} before gel at {spell(gel)}")
        else:
            self._act(name, pull, "pull", round(step.pull_min), round(step.pull_min))
        self.taped = False
        if step.do == "tack" and step.brush:
            brush = self._put(f"{name}: brush off loose glitter", name, "brush")
            self._limit(name, brush, self.window[0], None, f"{name} holds its glitter after {spell(self.window[0])}")

    def _sand(self, name: str, step: Step) -> None:
        self._main(name, "sand", hard=True)
        if step.edge:
            self._put(f"{name}: sand the top edge to metal", name, "edge")
        rinse = self._put(f"{name}: rinse", name, "rinse")
        sanding = self._minutes("sand") + (self._minutes("edge") if step.edge else 0)
        self._limit(name, rinse, sanding, sanding + RINSED_BY, f"{rinse} before the dust dries on")
        self._wait(rinse, self.drying.rinse_min, f"the cup dries after {name}")
        self.sanded, self.to_wipe = True, True

    def _decal(self, name: str, step: Step) -> None:
        seal = ""
        if step.seal and any(piece.medium.sealing for piece in step.pieces):
            seal = f"{name}: seal the prints"
            self.tasks.append(Task(name=seal, step=name, minutes=self._minutes("seal", len(step.pieces))))
        self._wipe(name)
        self._main(name, "decal", hard=True, count=len(step.pieces))
        if seal:
            self._limit(seal, name, self._spent(seal) + self.drying.seal_min, None, f"{seal} dries")
        if any(piece.medium.process in ("inkjet", "laser") for piece in step.pieces):
            self._wait(name, self.drying.decal_min, f"{name} rests")

    def _wipe(self, name: str) -> None:
        """A clean surface under `name`, on the bare cup and after sanding."""
        if self.to_wipe:
            wipe = self._put(f"{name}: wipe", name, "wipe")
            on = self._minutes("wipe")
            self._limit(wipe, name, on + self.drying.wipe_min, on + WIPED_FOR, f"{name} soon after {wipe}")
            self.to_wipe = False

    def _main(self, name: str, kind: str, *, rack_min: int = 0, hard: bool = False, count: int = 1) -> None:
        """The task that a step is named after; it minds what is still drying."""
        self._put(name, name, kind, rack_min=rack_min, count=count)
        if hard and self.coat:
            self._limit(
                self.coat, name, self.hard_min, None, f"{self.coat} is hard through after {spell(self.hard_min)}"
            )
        for before, least, why in self.due:
            self._limit(before, name, least, None, why)
        self.due.clear()

    def _act(self, coat: str, name: str, kind: str, least: int, most: int, why: str = "") -> None:
        self._put(name, coat, kind, attended=True)
        said = why or f"{name} {spell(least)} to {spell(most)} after {coat}"
        self._limit(coat, name, least, most, said, "do it at once")

    def _put(
        self, name: str, step: str, kind: str, *, rack_min: int = 0, attended: bool = False, count: int = 1
    ) -> str:
        task = Task(name=name, step=step, minutes=self._minutes(kind, count), rack_min=rack_min, attended=attended)
        if self.last:
            self._limit(self.last, name, self._spent(self.last), None, f"{name} comes after {self.last}")
        self.tasks.append(task)
        self.last = name
        return name

    def _wait(self, name: str, minutes: int, why: str) -> None:
        self.due.append((name, self._spent(name) + minutes, why))

    def _limit(self, before: str, after: str, least: int, most: int | None, why: str, mend: str = "") -> None:
        self.limits.append(Limit(before=before, after=after, least=least, most=most, why=why, mend=mend))

    def _minutes(self, kind: str, count: int = 1) -> int:
        once, each = self.hands[kind]
        return once + each * self.cups * count

    def _spent(self, name: str) -> int:
        """Minutes of work of a task that is there already."""
        return next(task.minutes for task in self.tasks if task.name == name)


def lot_sizes(
    quantity: int, places: int, resin: Resin, hands: Mapping[str, tuple[int, int]] = HANDS
) -> tuple[int, ...]:
    """Cups in each lot: no more than the rack holds and one pot can coat while it lives, and as even as can be.

    Raises
    ------
    CupgeomError
        When there is no cup or no place.
    """
    require_at_least("quantity", quantity, 1, "cups")
    require_at_least("places", places, 1, "places")
    once, each = {**HANDS, **hands}["flood"]
    most = max(1, min(places, math.floor((resin.pot_life_min - once) / max(each, 1))))
    count = math.ceil(quantity / most)
    size, over = divmod(quantity, count)
    return tuple(size + (index < over) for index in range(count))
