"""The shop file, the maker's own shelf: read from its text, asked for cups and printers by name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError
from cupgeom.records import TEXT, Table, nearest, read
from cupgeom.shelf.entry import ShelfCup, parse_cup
from cupgeom.shelf.media import parse_medium
from cupgeom.shelf.printers import PaperCorrection, correction_for, parse_printer, sized_paper
from cupgeom.shelf.rates import Rates, parse_rates
from cupgeom.shelf.resins import parse_racks, parse_resin

if TYPE_CHECKING:
    from cupgeom.coating.resin import Resin
    from cupgeom.cup import Cup
    from cupgeom.decor.medium import Medium
    from cupgeom.pages import Correction

NAME = "shop.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What stands in a shop file.

    Parameters
    ----------
    source
        Name of the file, for messages.
    cups
        In the order of the file.
    corrections
        Of all printers, one for each paper.
    media
        What decals are made of.
    fonts
        Folder of the fonts, seen from the shop file's own; empty for that folder itself.
    resins
        In the order of the file.
    racks
        Names and turns a minute.
    rates
        What things cost.
    """

    source: str
    cups: tuple[ShelfCup, ...] = ()
    corrections: tuple[PaperCorrection, ...] = ()
    media: tuple[Medium, ...] = ()
    fonts: str = ""
    resins: tuple[Resin, ...] = ()
    racks: tuple[tuple[str, float], ...] = ()
    rates: Rates = field(default_factory=Rates)

    def entry(self, name: str) -> ShelfCup:
        """The cup of this name as the maker gave it.

        Raises
        ------
        CupgeomError
            Naming ``cup``, with the nearest name that there is.
        """
        for cup in self.cups:
            if cup.name == name:
                return cup
        raise CupgeomError("cup", self._missing("cup", name, [cup.name for cup in self.cups]))

    def cup(self, name: str) -> Cup:
        """The cup of this name, ready to be used.

        Raises
        ------
        CupgeomError
            When there is none of this name, or its entry makes no cup.
        """
        return self.entry(name).cup()

    def medium(self, name: str) -> Medium:
        """The medium of this name: the maker's own, else one of the invented examples.

        Raises
        ------
        CupgeomError
            Naming ``medium``, with the nearest name that there is.
        """
        from cupgeom.decor.medium import EXAMPLES

        for medium in (*self.media, *EXAMPLES):
            if medium.name == name:
                return medium
        raise CupgeomError("medium", self._missing("medium", name, [one.name for one in (*self.media, *EXAMPLES)]))

    def resin(self, name: str) -> Resin:
        """The resin of this name.

        Raises
        ------
        CupgeomError
            Naming ``resin``, with the nearest name that there is.
        """
        for resin in self.resins:
            if resin.name == name:
                return resin
        raise CupgeomError("resin", self._missing("resin", name, [resin.name for resin in self.resins]))

    def rack(self, name: str) -> float:
        """Turns a minute of the rack of this name.

        Raises
        ------
        CupgeomError
            Naming ``rack``, with the nearest name that there is.
        """
        racks = dict(self.racks)
        if name not in racks:
            raise CupgeomError("rack", self._missing("rack", name, list(racks)))
        return racks[name]

    def has_printer(self, name: str, paper: str) -> bool:
        """Whether there is a correction of this printer for this paper."""
        return correction_for(self.corrections, name, sized_paper(paper)) is not None

    def printer(self, name: str, paper: str) -> Correction:
        """The correction of a printer for a paper, such as ``a4`` or ``13x19in``.

        Raises
        ------
        CupgeomError
            Naming ``printer`` or ``paper``, when there is none.
        """
        printers = list(dict.fromkeys(one.printer for one in self.corrections))
        if name not in printers:
            raise CupgeomError("printer", self._missing("printer", name, printers))
        found = correction_for(self.corrections, name, sized_paper(paper))
        if found is None:
            papers = ", ".join(one.paper.name for one in self.corrections if one.printer == name)
            raise CupgeomError(
                "paper", f"{self.source} has {name!r} corrected for {papers}, not for {paper}; measure its bars first"
            )
        return found.correction

    def _missing(self, what: str, name: str, names: Sequence[str]) -> str:
        if not names:
            return f"{self.source} has no {what} {name!r}; it has no {what}s at all"
        return f"{self.source} has no {what} {name!r}; {nearest(name, names)}"


def read_shelf(text: str, name: str = NAME, *, thorough: bool = False) -> Shelf:
    """The shelf in the text of a shop file.

    Parameters
    ----------
    text
        TOML; empty for an empty shelf.
    name
        Name of the file, for messages.
    thorough
        Also fit every cup that is given by readings and cut every profile, so that what is wrong with them is found.

    Raises
    ------
    Faults
        With all that is wrong, each with its line and key.
    """

    def build(root: Table) -> Shelf:
        cups, printers, media = root.table("cups"), root.table("printers"), root.table("media")
        fonts = root.take("fonts", TEXT, "")
        resins, racks, rates = root.table("resins"), root.table("racks"), root.table("rates")
        found = [parse_cup(key, part, thorough=thorough) for key, part in _named(cups)]
        films = [parse_medium(key, part) for key, part in _named(media)]
        mixed = [parse_resin(key, part) for key, part in _named(resins)]
        return Shelf(
            source=name,
            cups=tuple(cup for cup in found if cup is not None),
            corrections=tuple(one for key, part in _named(printers) for one in parse_printer(key, part)),
            media=tuple(medium for medium in films if medium is not None),
            fonts=fonts,
            resins=tuple(resin for resin in mixed if resin is not None),
            racks=tuple(parse_racks(racks)) if racks else (),
            rates=(parse_rates(rates) if rates else None) or Rates(),
        )

    return read(text, name, build)


def _named(table: Table | None) -> list[tuple[str, Table]]:
    return [] if table is None else list(table.named().items())
