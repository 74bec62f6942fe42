"""One cup of the shop file: its shape as the maker gave it, its handle, its ranges, and the cup that they make."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from cupgeom.cup import Cup, Foot, Handle, Ring, Span
from cupgeom.errors import CupgeomError, Notice, require_at_least, within
from cupgeom.records import DATE, FLAG, LENGTH, TEXT, Kind, Table, from_zero
from cupgeom.shelf import outline
from cupgeom.shelf.level import LEVEL, Level
from cupgeom.shelf.outline import Outline, parse_outline
from cupgeom.shelf.reading import PAIR, ring_fields, rings_of
from cupgeom.shelf.readings import KEYS, Readings, parse_readings
from cupgeom.units import format_length, is_inches

if TYPE_CHECKING:
    from cupgeom.measure import Measured

SHAPES = "rim, base and height, or rings, or profile, or readings such as rim_around, base_around and slant"
_FLAT_PERCENT = 0.01  # a run that asks less of a sheet is as good as straight
FOOT_FORM = "feet = [{ width = 14, from = 15, to = 30 }]"
_FIELDS = {  # of a cup, and the keys that they come from
    **outline.FIELDS,
    **ring_fields("rings"),
    "rim_diameter": "rim",
    "base_diameter": "base",
    "walls[]": "rings[]",
    "handle": "feet",
    "handle.feet[]": "feet[]",
    "handle.feet[].top": "feet[].from",
    "handle.feet[].bottom": "feet[].to",
    "handle.clearance": "clearance",
    "coated": "coated_to",
    "coated.top": "coated_from",
    "coated.bottom": "coated_to",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rings:
    """Rings from the top edge to the base, exactly as stated."""

    rings: tuple[Ring, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfCup:
    """A cup as the maker keeps it.

    Parameters
    ----------
    name
        Its key in the shop file; stands in captions.
    shape
        Rings as stated, a profile of pieces, or readings: fitted, unless they are a plain rim, base and height.
    handle
        None for a cup without one.
    bare_lip
        Drop down to which the lip stays bare; None leaves it to the shape: 0, or the lip of a profile.
    coated_from, coated_to
        Where resin begins and ends; None for the bare lip and the base edge.
    base_coated
        Whether the underside gets resin too.
    notes, made
        The maker's own words, and the date of the entry.
    uncertainty
        Standard uncertainty (k = 1) of the stated sizes or of the readings that have none of their own [mm].
    inches
        Whether the sizes were typed in inches, so that answers may be given in inches too.
    """

    name: str
    shape: Rings | Outline | Readings
    handle: Handle | None = None
    bare_lip: float | None = None
    coated_from: Level | None = None
    coated_to: Level | None = None
    base_coated: bool = False
    notes: str = ""
    made: date | None = None
    uncertainty: float | None = None
    inches: bool = False
    _table: Table | None = field(default=None, repr=False, compare=False)

    def cup(self) -> Cup:
        """The cup: stated, cut from its profile, or fitted.

        Raises
        ------
        Faults
            At the key that is to blame, when the entry makes no cup.
        """
        with self._located():
            return self.build()

    def measured(self) -> Measured | None:
        """What the readings say of the cup, with uncertainties; None for a cup whose sizes are stated.

        Raises
        ------
        Faults
            When the readings make no cup.
        """
        if not isinstance(self.shape, Readings) or self.shape.sizes is not None:
            return None
        with self._located():
            return self.shape.fitted()

    def readings(self) -> Readings:
        """What was read off the cup, to go on from; stated rim, base and height are readings too.

        Raises
        ------
        CupgeomError
            Naming ``cup``, when it is given by rings or a profile.
        """
        if isinstance(self.shape, Readings):
            return self.shape
        raise CupgeomError("cup", f"{self.name!r} is given by its rings, not by readings that others could be added to")

    @property
    def summary(self) -> str:
        """The cup in one line: name, sizes, date and the first line of the notes."""
        cup = self.cup()
        unit = "in" if self.inches else "mm"
        sizes = (("rim", cup.rings[0].diameter), ("base", cup.rings[-1].diameter), ("height", cup.height))
        parts = [f"{name} {format_length(size, unit, 1)}" for name, size in sizes]
        parts += [f"{len(cup.rings)} rings"] if len(cup.rings) > 2 else []
        parts += ["handle"] if self.handle else []
        parts += [str(self.made)] if self.made else []
        return f"{self.name}: {', '.join([*parts, *self.notes.splitlines()[:1]])}"

    @property
    def besides(self) -> dict[str, object]:
        """What the entry says besides its sizes, as it stands in the file: feet, ranges, notes."""
        sizes = {*KEYS, "rings", "profile", "uncertainty"}
        values = {} if self._table is None else self._table.values
        return {key: value for key, value in values.items() if key not in sizes}

    def build(self) -> Cup:
        """The cup; an error names the field of the cup rather than the key of the file."""
        if isinstance(self.shape, Outline):
            return self._from_outline(self.shape)
        plain = self._plain(self.shape)
        bare_lip = self.bare_lip or 0.0
        return replace(
            plain,
            name=self.name,
            handle=self.handle,
            bare_lip=bare_lip,
            coated=self._coated(plain.slant, bare_lip),
            base_coated=self.base_coated,
        )

    @staticmethod
    def _plain(shape: Rings | Readings) -> Cup:
        if isinstance(shape, Rings):
            return Cup(rings=shape.rings)
        return shape.fitted().cup if shape.sizes is None else Cup.frustum(*shape.sizes)

    def _from_outline(self, shape: Outline) -> Cup:
        profile = shape.profile()
        lip = profile.edges[sum(piece.role == "lip" for piece in profile.pieces)]
        cup = profile.cup(
            name=self.name,
            handle=self.handle,
            coated=self._coated(profile.length, lip if self.bare_lip is None else self.bare_lip),
            base_coated=self.base_coated,
        )
        return cup if self.bare_lip is None else replace(cup, bare_lip=profile.drop_on(cup, self.bare_lip))

    def sheet(self) -> tuple[Cup, tuple[Notice, ...]]:
        """The cup that a flat wrap is made for, and what to know of it.

        A cup of straight walls is its own. On a profile it is the cone through the edges of the longest run, below the
        lip and above the foot, that one flat sheet can follow within its limit.
        """
        if not isinstance(self.shape, Outline):
            return self.cup(), ()
        with self._located():
            profile = self.shape.profile()
            fit = profile.sheet_fit()
            run = fit.run
            rings = tuple(
                Ring(diameter=2 * profile.radius_at(drop), height=profile.height_at(drop))
                for drop in (run.top, run.bottom)
            )
            cone = Cup(rings=rings, name=self.name)
            feet = tuple(
                replace(foot, top=part.top - run.top, bottom=min(part.bottom - run.top, cone.slant))
                for foot in (self.handle.feet if self.handle else ())
                if (part := foot.span.common(run))
            )
            handle = replace(self.handle, feet=feet) if self.handle and feet else None
            covers = f"covers the cup from drop {run.top:.1f} mm to {run.bottom:.1f} mm"
            worst = 100 * profile.strain(run).worst
            bends = f"; the paper gives {worst:.2g} % there" if worst > _FLAT_PERCENT else ""
            return replace(cone, handle=handle), (Notice("wrap", covers + bends, ""), *fit.notices)

    def _coated(self, length: float, bare_lip: float) -> Span | None:
        """The stated range of drops on a wall of this length, None when none is stated."""
        if self.coated_from is None and self.coated_to is None:
            return None
        with within("coated_from"):
            top = bare_lip if self.coated_from is None else self.coated_from.drop_on(length)
        with within("coated_to"):
            bottom = length if self.coated_to is None else self.coated_to.drop_on(length)
        with within("coated"):
            return Span(top=top, bottom=bottom)

    @contextmanager
    def _located(self) -> Iterator[None]:
        try:
            yield
        except CupgeomError as error:
            if self._table is None:
                raise
            raise self._table.locate(error, _FIELDS) from None


def parse_cup(name: str, table: Table, *, thorough: bool) -> ShelfCup | None:
    """A cup from the keys of its table; None when something is wrong, which is noted.

    Rings are made into a cup at once, so that what is wrong with them is noted too; readings and profiles, which take
    longer, only where `thorough`.
    """
    readings = parse_readings(table)
    shape, inches = _shape(table, readings)
    handle = _handle(table)
    bare_lip = table.maybe("bare_lip", from_zero(LENGTH))
    coated_from, coated_to = table.maybe("coated_from", LEVEL), table.maybe("coated_to", LEVEL)
    base_coated = table.take("base_coated", FLAG, False)
    notes, made = table.take("notes", TEXT, ""), table.maybe("date", DATE)

    def build() -> ShelfCup:
        if shape is None:
            raise CupgeomError("", f"has no sizes; give {SHAPES}")
        require_at_least("ring_count", readings.ring_count, 2, "rings")
        entry = ShelfCup(
            name=name,
            shape=shape,
            handle=handle,
            bare_lip=bare_lip,
            coated_from=coated_from,
            coated_to=coated_to,
            base_coated=base_coated,
            notes=notes,
            made=made,
            uncertainty=readings.uncertainty,
            inches=inches,
            _table=table,
        )
        stated = isinstance(shape, Rings) or (isinstance(shape, Readings) and shape.sizes is not None)
        if thorough or stated:
            entry.build()
        return entry

    return table.make(build, _FIELDS)


def _shape(table: Table, readings: Readings) -> tuple[Rings | Outline | Readings | None, bool]:
    """The shape that the keys give, and whether they were typed in inches."""
    given = [key for key in ("rings", "profile") if key in table]
    read = [key for key in KEYS if key in table]
    for key in [*given[1:], *(read if given else [])]:
        table.fault(key, f"cannot stand beside {given[0]}; keep one of the two")
    if "rings" in table:
        pairs, inches = table.items("rings", PAIR), table.take("rings", Kind(_said_in_inches, "", False))
        rings = table.make(lambda: rings_of(pairs, "rings"), ring_fields("rings"))
        return None if rings is None else Rings(rings=rings), inches
    if "profile" in table:
        return parse_outline(table), False
    return (readings, readings.inches) if read else (None, False)


def _said_in_inches(value: object) -> bool:
    """Whether a length in a list, or in a list of lists, is in inches."""
    if isinstance(value, list):
        return any(_said_in_inches(item) for item in value)
    return isinstance(value, str) and is_inches(value)


def _handle(table: Table) -> Handle | None:
    feet = [_foot(part) for part in table.tables("feet")]
    clearance, removable = table.maybe("clearance", from_zero(LENGTH)), table.take("handle_comes_off", FLAG, False)

    def build() -> Handle | None:
        for key, said in (("clearance", clearance is not None), ("handle_comes_off", removable)):
            if said and not feet:
                raise CupgeomError(key, f"needs the feet of the handle; give {FOOT_FORM}")
        if not feet:
            return None
        handle = Handle(feet=tuple(foot for foot in feet if foot is not None), removable=removable)
        return handle if clearance is None else replace(handle, clearance=clearance)

    return table.make(build)


def _foot(table: Table) -> Foot | None:
    width, top, bottom = (table.take(key, LENGTH) for key in ("width", "from", "to"))
    return table.make(lambda: Foot(width=width, top=top, bottom=bottom), {"top": "from", "bottom": "to"})
