"""What there is to work with, and what of it is taken when."""

from __future__ import annotations

from bisect import bisect_right, insort
from dataclasses import dataclass, field
from datetime import date

from cupgeom.errors import CupgeomError, require_at_least, require_at_most
from cupgeom.plan.hours import Hours
from cupgeom.plan.order import Task

MOST_PLACES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """What there is to work with: places on the rack, and working hours of one pair of hands."""

    places: int = 1
    hours: Hours = field(default_factory=Hours)

    def __post_init__(self) -> None:
        if type(self.places) is not int:
            raise CupgeomError("places", f"must be a whole number, got {self.places!r}")
        require_at_least("places", self.places, 1, "places")
        require_at_most("places", self.places, MOST_PLACES, "places")


class Taken:
    """What hands and rack are taken by."""

    def __init__(self, bench: Bench, start: date) -> None:
        self.bench, self.start = bench, start
        self.hands: list[tuple[int, int]] = []  # from, until; in order, apart from one another
        self.rack: list[tuple[int, int, int]] = []  # from, until, places
        self.end = 0

    def fit(self, earliest: int, task: Task, cups: int) -> int:
        """The first moment from `earliest` on at which a task can be done."""
        at = earliest
        while True:
            moved = self.bench.hours.fit(self.start, at, task.minutes)
            for begin, end in self.hands[bisect_right(self.hands, moved, key=_end) :]:
                if begin >= moved + task.minutes:
                    break
                moved = end
            if moved == at and not self._full(at, at + task.rack_min, cups):
                return at
            at = moved if moved > at else min(end for _, end, _ in self.rack if end > at)

    def take(self, at: int, task: Task, cups: int) -> None:
        """Take hands and rack for a task; work that others noted at the same time is one stretch with it."""
        begin, end = at, at + task.minutes
        for other in [one for one in self.hands if one[0] < end and begin < one[1]]:
            self.hands.remove(other)
            begin, end = min(begin, other[0]), max(end, other[1])
        if task.minutes:
            insort(self.hands, (begin, end))
        if task.rack_min:
            self.rack.append((at, at + task.rack_min, cups))
        self.end = max(self.end, at + max(task.minutes, task.rack_min))

    def _full(self, begin: int, end: int, cups: int) -> bool:
        """Whether at some moment in between too few places are free."""
        if end <= begin:
            return False
        there = [one for one in self.rack if one[0] < end and begin < one[1]]
        moments = [begin, *(one[0] for one in there if one[0] > begin)]
        taken = (sum(places for first, last, places in there if first <= at < last) for at in moments)
        return max(taken) + cups > self.bench.places


def _end(interval: tuple[int, int]) -> int:
    return interval[1]
