"""When things can be done, from waits and windows between them: a simple temporal network.

Each limit says that one start follows another by at least and at most so many minutes. The earliest times are longest
paths from the start, the latest times longest paths back to it; a cycle of positive length is a contradiction, and its
length is by how much (R. Dechter, I. Meiri & J. Pearl, "Temporal constraint networks", Artificial Intelligence 49,
1991, 61–95; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from cupgeom.errors import CupgeomError

START = ""  # the moment from which minutes are counted
Arrow = tuple[int, int, int, "Limit"]  # from, to, minutes, the limit it comes from


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """How long after the start of one task another starts [min].

    Parameters
    ----------
    before, after
        Names of the two tasks.
    least, most
        Minutes between their starts; None for no upper bound.
    why
        The reason in words.
    mend
        What to do when the upper bound was missed.
    """

    before: str
    after: str
    least: int = 0
    most: int | None = None
    why: str = ""
    mend: str = ""

    def __post_init__(self) -> None:
        if self.most is not None and self.most < self.least:
            raise CupgeomError("most", f"must be at least {self.least} min, got {self.most} min")


@dataclass(frozen=True, slots=True)
class Window:
    """Earliest and latest start of a task [min after the start]; no latest when it may wait for ever."""

    earliest: int
    latest: int | None


class Clash(CupgeomError):  # noqa: N818  it is the word that the plan uses
    """Limits that cannot all be kept, and by how many minutes."""

    def __init__(self, limits: Sequence[Limit], short_min: int) -> None:
        self.limits, self.short_min = tuple(limits), short_min
        reasons = list(dict.fromkeys(limit.why for limit in limits if limit.why))
        mends = list(dict.fromkeys(limit.mend for limit in limits if limit.mend))
        said = f"cannot all be kept, they are {spell(short_min)} short: {', '.join(reasons)}"
        super().__init__("steps", "; ".join([said, *mends]))
        self.args = (self.limits, short_min)


def windows(names: Sequence[str], limits: Iterable[Limit]) -> dict[str, Window]:
    """The earliest and latest start of each task that keep all limits; nothing is earlier than minute 0.

    Raises
    ------
    Clash
        When no times keep them.
    """
    index = {name: place for place, name in enumerate([START, *names])}
    arrows: list[Arrow] = []
    for limit in limits:
        before, after = index[limit.before], index[limit.after]
        arrows.append((before, after, limit.least, limit))
        if limit.most is not None:
            arrows.append((after, before, -limit.most, limit))
    not_before = Limit(before=START, after=START)
    arrows += [(0, place, 0, not_before) for place in range(1, len(index))]
    earliest = _longest(len(index), arrows)
    back = _longest(len(index), [(to, start, minutes, limit) for start, to, minutes, limit in arrows])
    return {
        name: Window(_known(earliest[place]), None if back[place] is None else -_known(back[place]))
        for name, place in index.items()
        if name != START
    }


def spell(minutes: int) -> str:
    """Minutes for people: ``25 min``, ``4 h``, ``10 h 30 min``, ``2 d 3 h``."""
    days, rest = divmod(abs(minutes), 1440)
    hours, left = divmod(rest, 60)
    parts = [f"{count} {unit}" for count, unit in ((days, "d"), (hours, "h"), (left, "min")) if count]
    return ("-" if minutes < 0 else "") + (" ".join(parts) or "0 min")


def _longest(count: int, arrows: Sequence[Arrow]) -> list[int | None]:
    """Lengths of the longest paths from the first place, None where none leads (Bellman–Ford)."""
    lengths: list[int | None] = [0, *[None] * (count - 1)]
    came: dict[int, Arrow] = {}
    for _ in range(count + 1):
        changed = False
        for arrow in arrows:
            start, to, minutes, _limit = arrow
            here, there = lengths[start], lengths[to]
            if here is not None and (there is None or here + minutes > there):
                lengths[to] = here + minutes
                came[to] = arrow
                changed = True
        if not changed:
            return lengths
    raise _clash(came)


def _clash(came: Mapping[int, Arrow]) -> Clash:
    """The cycle that the last arrows into each place close."""
    for first in came:
        trail: list[int] = []
        place = first
        while place in came and place not in trail:
            trail.append(place)
            arrow = came[place]
            # an arrow of a reversed network leads the other way, but the trail follows what was relaxed
            place = arrow[0]
        if place in trail:
            cycle = [came[step] for step in trail[trail.index(place) :]]
            return Clash([arrow[3] for arrow in reversed(cycle)], sum(arrow[2] for arrow in cycle))
    raise AssertionError("a path longer than there are places passes one of them twice")


def _known(length: int | None) -> int:
    if length is None:
        raise AssertionError("every task is reached from the start")
    return length
