"""When there are hands: working hours on the days of the week, and minutes as dates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from cupgeom.errors import CupgeomError

DAY = 1440  # minutes
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Working hours, the same on each working day.

    Parameters
    ----------
    opens_min, closes_min
        Minutes after midnight [min].
    days
        Working days, such as ``mon``.

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    opens_min: int = 8 * 60
    closes_min: int = 20 * 60
    days: tuple[str, ...] = DAYS

    def __post_init__(self) -> None:
        if not 0 <= self.opens_min < self.closes_min <= DAY:
            what = f"must end after they begin, within a day, got {self.opens_min} to {self.closes_min} min"
            raise CupgeomError("hours", what)
        if not self.days or not set(self.days) <= set(DAYS):
            raise CupgeomError("days", f"must be some of {', '.join(DAYS)}, got {', '.join(self.days) or 'none'}")

    @property
    def length_min(self) -> int:
        """Of a working day [min]."""
        return self.closes_min - self.opens_min

    def fit(self, start: date, earliest_min: int, minutes: int) -> int:
        """The first moment from `earliest_min` on at which so many minutes of work fit into one working day.

        Raises
        ------
        CupgeomError
            When they fit into none.
        """
        if minutes > self.length_min:
            raise CupgeomError("hours", f"a working day of {self.length_min} min is shorter than {minutes} min of work")
        day, minute = divmod(earliest_min, DAY)
        moment = max(minute, self.opens_min)
        if moment + minutes > self.closes_min:
            day, moment = day + 1, self.opens_min
        while DAYS[(start + timedelta(days=day)).weekday()] not in self.days:
            day, moment = day + 1, self.opens_min
        return day * DAY + moment

    def open_between(self, start: date, first_min: int, last_min: int) -> int:
        """Working minutes between two moments [min]."""
        total = 0
        for day in range(first_min // DAY, last_min // DAY + 1):
            if DAYS[(start + timedelta(days=day)).weekday()] in self.days:
                opens, closes = day * DAY + self.opens_min, day * DAY + self.closes_min
                total += max(min(closes, last_min) - max(opens, first_min), 0)
        return total


def moment(start: date, minute: int) -> datetime:
    """The date and time of a minute, counted from the first midnight."""
    return datetime.combine(start, time()) + timedelta(minutes=minute)


def minute_of(start: date, when: datetime) -> int:
    """The minute of a date and time, counted from the first midnight."""
    return round((when - datetime.combine(start, time())).total_seconds() / 60)
