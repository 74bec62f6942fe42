"""A job: this cup, this many, these steps and decals, this date; read from its file, with what the shop file adds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, Notice
from cupgeom.job.decal import JobDecal, parse_decal
from cupgeom.job.kinds import CLOCK, WAIT, relative, whole_from
from cupgeom.job.steps import parse_steps
from cupgeom.plan import DAYS, Bench, Drying, Hours, Step
from cupgeom.records import DATE, NUMBER, TEXT, Table, above_zero, choice, read
from cupgeom.shelf import Shelf
from cupgeom.shelf.entry import ShelfCup, parse_cup
from cupgeom.shelf.rates import Rates, parse_rates

if TYPE_CHECKING:
    from cupgeom.coating.resin import Resin

SPEED_RPM = 5.0  # of a rack that nothing is said of: assumed
MOST_CUPS = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A maker's order.

    Parameters
    ----------
    name
        Of the job; the file's own name where it has none.
    cup
        From the shop file, or with its sizes in the job file.
    quantity
        How many.
    steps
        From the inside out, each as often as it is done.
    decals
        In the order of the file.
    resin
        The one named, else the only one of the shop file, else an invented example, of which a notice tells.
    customer, notes, approved
        In the maker's words; the proof mark that was approved.
    start, ship
        First day of work, and the day on which it must be ready to ship.
    speed_rpm
        Of the rack [1/min].
    bench, drying
        Places and working hours; what dries how fast.
    rates
        What things cost.
    printer, paper
        For what is printed; None where nothing is said.
    orders
        File with one order a row, seen from the job file.
    notices
        What was assumed.
    """

    name: str
    cup: ShelfCup
    quantity: int
    steps: tuple[Step, ...]
    decals: tuple[JobDecal, ...]
    resin: Resin
    customer: str = ""
    notes: str = ""
    approved: str = ""
    start: date | None = None
    ship: date | None = None
    speed_rpm: float = SPEED_RPM
    bench: Bench = field(default_factory=Bench)
    drying: Drying = field(default_factory=Drying)
    rates: Rates = field(default_factory=Rates)
    printer: str | None = None
    paper: str | None = None
    orders: str | None = None
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        if type(self.quantity) is not int or not 1 <= self.quantity <= MOST_CUPS:
            raise CupgeomError("quantity", f"must be a whole number from 1 to {MOST_CUPS}, got {self.quantity!r}")
        if not self.steps:
            raise CupgeomError("steps", "are missing; list them from the inside out")
        if self.start is not None and self.ship is not None and self.ship < self.start:
            raise CupgeomError("ship", f"must not be before start ({self.start}), got {self.ship}")

    def decal(self, name: str) -> JobDecal:
        """The decal of this name.

        Raises
        ------
        CupgeomError
            Naming ``decals``, when there is none.
        """
        from cupgeom.records import nearest

        for decal in self.decals:
            if decal.name == name:
                return decal
        raise CupgeomError("decals", f"no decal {name!r}; {nearest(name, [decal.name for decal in self.decals])}")

    @property
    def files(self) -> tuple[str, ...]:
        """Files that the job names, each once."""
        named = [self.orders, *(file for decal in self.decals for file in (decal.asked.art, decal.asked.font))]
        return tuple(dict.fromkeys(file for file in named if file is not None))


def read_job(
    text: str,
    name: str,
    shelf: Shelf | None = None,
    *,
    rates: Rates | None = None,
    bench: Bench | None = None,
    outside: bool = False,
) -> Job:
    """The job in the text of a job file.

    Parameters
    ----------
    text
        TOML.
    name
        Name of the file, for messages; its stem is the job's name where it says none.
    shelf
        The shop file; None for an empty one.
    rates, bench
        Of the shop, where the job says nothing else.
    outside
        Let files lie outside the job's folder.

    Raises
    ------
    Faults
        With all that is wrong, each with its line and key.
    """
    shop = shelf or Shelf(source="the shop file")

    def build(root: Table) -> Job | None:
        return _job(root, name, shop, rates or Rates(), bench or Bench(), outside=outside)

    job = read(text, name, build)
    if job is None:
        raise AssertionError("what is wrong with a job has been noted")
    return job


def _job(root: Table, file: str, shelf: Shelf, rates: Rates, bench: Bench, *, outside: bool) -> Job | None:
    cup, quantity = _cup(root, shelf), root.take("quantity", whole_from(1))
    tables = root.table("decals")
    named = {} if tables is None else tables.named()
    decals = {key: parse_decal(key, table, shelf, outside=outside) for key, table in named.items()}
    steps = parse_steps(root, decals)
    resin, notices = _resin(root, shelf)
    words = {key: root.take(key, TEXT, "") for key in ("customer", "notes", "approved")}
    title = root.take("name", TEXT, file.rpartition("/")[2].removesuffix(".toml"))
    start, ship = root.maybe("start", DATE), root.maybe("ship", DATE)
    speed_rpm = _speed(root, shelf)
    printer, paper = root.maybe("printer", TEXT), root.maybe("paper", TEXT)
    orders = root.maybe("orders", relative(outside))
    own_bench, drying = _bench(root, bench), _drying(root)
    table = root.table("rates")
    own_rates = rates if table is None else parse_rates(table, rates)

    def build() -> Job | None:
        if cup is None or resin is None or own_bench is None or drying is None or own_rates is None:
            return None
        return Job(
            name=title,
            cup=cup,
            quantity=quantity,
            steps=steps,
            decals=tuple(decal for decal in decals.values() if decal is not None),
            resin=resin,
            customer=words["customer"],
            notes=words["notes"],
            approved=words["approved"],
            start=start,
            ship=ship,
            speed_rpm=speed_rpm,
            bench=own_bench,
            drying=drying,
            rates=own_rates,
            printer=printer,
            paper=paper,
            orders=orders,
            notices=notices,
        )

    return root.make(build)


def _cup(root: Table, shelf: Shelf) -> ShelfCup | None:
    """A cup by its name in the shop file, or by a table with its sizes."""
    if "cup" in root and isinstance(root.values["cup"], dict):
        table = root.table("cup")
        return None if table is None else parse_cup("cup", table, thorough=True)
    name = root.take("cup", TEXT)
    if not name:
        if "cup" in root and root.values["cup"] == "":
            root.fault("cup", "is empty; give the name of a cup of the shop file")
        return None
    try:
        return shelf.entry(name)
    except CupgeomError as error:
        root.fault("cup", f"{error.what}; or give its sizes, cup = {{ rim = 88, base = 70, height = 170 }}")
        return None


def _resin(root: Table, shelf: Shelf) -> tuple[Resin | None, tuple[Notice, ...]]:
    from cupgeom.coating.resin import EXAMPLE

    name = root.maybe("resin", TEXT)
    if name is None and len(shelf.resins) == 1:
        return shelf.resins[0], ()
    if name is None:
        told = Notice("resin", "none is named; an invented example stands in", "name one of the shop file")
        return EXAMPLE, (told,)
    try:
        return shelf.resin(name), ()
    except CupgeomError as error:
        root.fault("resin", error.what)
        return None, ()


def _speed(root: Table, shelf: Shelf) -> float:
    """Turns a minute: typed, or of a rack by its name."""
    if "rack" in root and isinstance(root.values["rack"], str):
        try:
            return shelf.rack(root.take("rack", TEXT))
        except CupgeomError as error:
            root.fault("rack", error.what)
            return SPEED_RPM
    return root.take("rack", above_zero(NUMBER), SPEED_RPM)


def _bench(root: Table, shop: Bench) -> Bench | None:
    places = root.take("places", whole_from(1), shop.places)
    opens = root.take("opens", CLOCK, shop.hours.opens_min)
    closes = root.take("closes", CLOCK, shop.hours.closes_min)
    days: Sequence[str] = root.items("days", choice(*DAYS)) if "days" in root else shop.hours.days
    return root.make(
        lambda: Bench(places=places, hours=Hours(opens_min=opens, closes_min=closes, days=tuple(days))),
        {"hours": "closes"},
    )


def _drying(root: Table) -> Drying | None:
    plain = Drying()
    table = root.table("drying")
    if table is None:
        return plain
    given = {key: table.take(key, WAIT, float(getattr(plain, f"{key}_min"))) for key in _DRIES}
    return table.make(lambda: Drying(**{f"{key}_min": round(minutes) for key, minutes in given.items()}))


_DRIES = ("paint", "seal", "decal", "rinse", "wipe")
