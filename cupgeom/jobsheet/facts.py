"""What stands on a job sheet, ready to be read: words and numbers as they are to be printed, a picture, a map."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cupgeom.drawing import Drawing, Picture
from cupgeom.drawing.vera import missing_characters
from cupgeom.errors import CupgeomError, Notice, require_at_least, require_finite
from cupgeom.jobsheet.words import plain

_NO_PLAN = Drawing()


@dataclass(frozen=True, slots=True, kw_only=True)
class DecalFact:
    """A row of the table of decals.

    Parameters
    ----------
    what
        Name or text.
    medium, size
        Such as ``water-slide film`` and ``62.0 x 38.5 mm``.
    turn, drop
        Its place, such as ``front`` or ``90° right`` and ``48.0 mm``.
    after
        The coat it lies on, such as ``flood 2``.
    at
        Where its number stands on the map, in the map's own coordinates; None leaves it off the map.
    """

    what: str
    medium: str = ""
    size: str = ""
    turn: str = ""
    drop: str = ""
    after: str = ""
    at: complex | None = None

    def __post_init__(self) -> None:
        if self.at is not None:
            require_finite("at.x", self.at.real)
            require_finite("at.y", self.at.imag)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepFact:
    """A step with a box to tick.

    Parameters
    ----------
    day, time
        Such as ``Mon 2 Nov`` and ``09:15``; a day that differs from the one before gets a line of its own.
    what
        Step or act in words.
    until, hands
        The latest time it may begin, and its minutes of work, such as ``11:40`` and ``15 min``.
    is_act
        True for an act within the step before it, such as popping bubbles; it stands indented.
    """

    day: str
    time: str
    what: str
    until: str = ""
    hands: str = ""
    is_act: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PotFact:
    """What goes into a pot: both parts by volume and by mass, such as ``12.5 mL`` and ``13.9 g``.

    Parameters
    ----------
    coat
        Its name.
    cups
        What one pot is for, such as ``4 cups``.
    pots
        How many such pots are mixed, each with a box to tick.
    weigh
        Whether the mass is what to measure; it is printed bold, else the volume is.
    """

    coat: str
    a_ml: str
    a_g: str
    b_ml: str
    b_g: str
    cups: str = ""
    pots: int = 1
    weigh: bool = False

    def __post_init__(self) -> None:
        if type(self.pots) is not int:
            raise CupgeomError("pots", f"must be a whole number, got {self.pots!r}")
        require_at_least("pots", self.pots, 1, "pots")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFacts:
    """A whole job sheet; whatever is empty is left out.

    Parameters
    ----------
    title
        Of the job, at the top.
    quantity
        Cups.
    customer, mark
        For whom, and the proof mark.
    dates
        Names and dates, such as ``("start", "Mon 2 Nov 2026")``; the one of service has its own field.
    picture
        The finished cup; only its pixels count, its place on the page is chosen.
    sizes
        Names and values of the cup's sizes, such as ``("rim", "88.0 mm")``.
    plan
        The flat wrap and the decals on it at any scale, upright; text and white underlays in it are not shown.
    plan_caption
        A line or two below it; more is not shown.
    decals, pots, steps
        Rows of their tables, in order.
    doubts
        What is to be looked at before work begins.
    cautions
        Lines for bench and care.
    in_service
        From when the cup may be used, such as ``Sun 15 Nov 2026``.
    """

    title: str
    quantity: int
    customer: str = ""
    mark: str = ""
    dates: tuple[tuple[str, str], ...] = ()
    picture: Picture | None = None
    sizes: tuple[tuple[str, str], ...] = ()
    plan: Drawing = _NO_PLAN
    plan_caption: str = ""
    decals: tuple[DecalFact, ...] = ()
    pots: tuple[PotFact, ...] = ()
    steps: tuple[StepFact, ...] = ()
    doubts: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    in_service: str = ""

    def __post_init__(self) -> None:
        if not self.title.strip():
            raise CupgeomError("title", "must not be empty")
        if type(self.quantity) is not int:
            raise CupgeomError("quantity", f"must be a whole number of cups, got {self.quantity!r}")
        require_at_least("quantity", self.quantity, 1, "cups")

    def texts(self) -> Iterator[tuple[str, str]]:
        """Every text with the field it is in, in the order of the fields."""
        single = ("title", "customer", "mark", "plan_caption", "in_service")
        yield from ((name, getattr(self, name)) for name in single)
        for name in ("dates", "sizes"):
            for index, pair in enumerate(getattr(self, name)):
                yield from ((f"{name}[{index}]", part) for part in pair)
        for name in ("doubts", "cautions"):
            yield from ((f"{name}[{index}]", line) for index, line in enumerate(getattr(self, name)))
        for name, fields in _FIELDS.items():
            for index, row in enumerate(getattr(self, name)):
                yield from ((f"{name}[{index}].{field}", getattr(row, field)) for field in fields)


_FIELDS = {
    "decals": ("what", "medium", "size", "turn", "drop", "after"),
    "pots": ("coat", "a_ml", "a_g", "b_ml", "b_g", "cups"),
    "steps": ("day", "time", "what", "until", "hands"),
}


def notices(facts: SheetFacts) -> tuple[Notice, ...]:
    """What the sheet's font cannot write, a notice for each field."""
    found = []
    for where, text in facts.texts():
        lacking = missing_characters(plain(text))
        if lacking:
            what = f"the sheet's font has no {' '.join(lacking)}"
            found.append(Notice(where, what, "it prints as ?; the job keeps its text"))
    return tuple(found)
