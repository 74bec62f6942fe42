"""Everything that follows from a job, each part worked out when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

from cupgeom.cup import Cup
from cupgeom.errors import Notice, within
from cupgeom.job import Job, JobDecal, lots_of
from cupgeom.plan import HANDS, Lot, Schedule, coats, lot_sizes, names

if TYPE_CHECKING:
    from cupgeom.coating.coats import Coat
    from cupgeom.coating.estimate import Estimate
    from cupgeom.cost import Amounts, Quote
    from cupgeom.decor.artwork import Artwork
    from cupgeom.decor.decal import Decal
    from cupgeom.decor.font import Font
    from cupgeom.decor.report import Report
    from cupgeom.drawing import Colour
    from cupgeom.pages import Paper
    from cupgeom.proof.finished import FinishedCup
    from cupgeom.proof.layer import Laid

ANY_MONDAY = date(2001, 1, 1)  # from which the work of a job without a start is counted
_APART = 2.0  # mm left free round each piece on its sheet
_NOT_SEEN = ("art", "font", "medium", "dpi")  # fields of a decal that its files and its medium stand for in the mark


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeDecal:
    """A decal as it lies on the cups of a job.

    Parameters
    ----------
    name
        Its key in the job.
    after_coat
        How many coats lie under it.
    on
        The coat or step that it lies on, such as ``flood 2``; empty for the bare cup.
    decal
        On the cup as it is then.
    """

    name: str
    after_coat: int
    on: str
    decal: Decal


@dataclass(frozen=True, kw_only=True)
class Made:
    """A job and what follows from it.

    Parameters
    ----------
    job
        As it was read.
    read
        What a file that the job names holds.
    """

    job: Job
    read: Callable[[str], bytes]

    @cached_property
    def cup(self) -> Cup:
        """The bare cup."""
        return self.job.cup.cup()

    @cached_property
    def coats(self) -> tuple[Coat, ...]:
        """The coats of resin, from the inside out."""
        return coats(self.job.steps)

    def grown(self, count: int) -> Cup:
        """The cup after so many coats."""
        from cupgeom.coating.coats import grown_by

        return grown_by(self.cup, self.coats, count)

    @cached_property
    def finished_cup(self) -> Cup:
        """The cup after all its coats."""
        return self.grown(len(self.coats))

    def under(self, decal: JobDecal) -> tuple[int, str]:
        """How many coats lie under a decal, and the name of the last of them; all of them where no step lays it."""
        labels = [name for name, step in zip(names(self.job.steps), self.job.steps, strict=True) if step.coat]
        count = len(labels)
        for index, step in enumerate(self.job.steps):
            if decal.name in [piece.name for piece in step.pieces]:
                count = len(coats(self.job.steps[:index]))
                break
        if decal.after_coat is not None:
            count = min(decal.after_coat, len(labels))
        return count, labels[count - 1] if count else ""

    @cached_property
    def decals(self) -> tuple[MadeDecal, ...]:
        """All decals, in the order of the job, each on the cup as it is when it goes on.

        Raises
        ------
        CupgeomError
            Naming ``decals.NAME`` and the field.
        """
        return tuple(self.decal(one) for one in self.job.decals)

    def decal(self, asked: JobDecal) -> MadeDecal:
        """One decal on the cup as it is when it goes on."""
        from cupgeom.decor.asked import decal_on

        count, label = self.under(asked)
        axes = asked.asked.axes
        with within(f"decals.{asked.name}"):
            decal = decal_on(asked.asked, self.grown(count), self._artwork, lambda name: self._font(name, axes))
        return MadeDecal(name=asked.name, after_coat=count, on=label, decal=decal)

    @cached_property
    def reports(self) -> dict[str, Report]:
        """The numbers of each decal, by its name in the job."""
        from cupgeom.decor.report import report

        return {one.name: report(one.decal) for one in self.decals}

    def estimate(self, cups: int) -> Estimate | None:
        """The resin of a lot of so many cups; None without a coat."""
        from cupgeom.coating.estimate import Bench, estimate
        from cupgeom.coating.glitter import FLAKE, Glitter

        if not self.coats:
            return None
        flakes = [step.flake or FLAKE for step in self.job.steps if step.do == "tack"]
        glitter = Glitter(flake=max(flakes)) if flakes else None
        minutes = float(HANDS["flood"][1])  # as the plan counts them
        bench = Bench(speed_rpm=self.job.speed_rpm, cups=cups, glitter=glitter, minutes_a_cup=minutes)
        return estimate(self.cup, self.coats, self.job.resin, bench)

    @cached_property
    def lot_sizes(self) -> tuple[int, ...]:
        """Cups in each lot, the largest first."""
        return lot_sizes(self.job.quantity, self.job.bench.places, self.job.resin)

    @cached_property
    def resin(self) -> Estimate | None:
        """The resin of the first lot, which is the largest; None without a coat."""
        return self.estimate(self.lot_sizes[0])

    @cached_property
    def resin_ml(self) -> float:
        """Resin mixed for all lots [mL]."""
        sizes = {size: self.estimate(size) for size in dict.fromkeys(self.lot_sizes)}
        made = [sizes[size] for size in self.lot_sizes]
        return sum(sum(one.total_ml) for one in made if one is not None)

    @cached_property
    def lots(self) -> tuple[date, tuple[Lot, ...]]:
        """First day and lots; a job without a start is counted from some Monday."""
        job = self.job if self.job.start else replace(self.job, start=ANY_MONDAY, ship=None)
        return lots_of([job], job.bench)

    @cached_property
    def plan(self) -> Schedule | None:
        """All tasks at their times; None where the job has no start.

        Raises
        ------
        CupgeomError
            When its waits contradict each other.
        """
        from cupgeom.plan import schedule

        if self.job.start is None:
            return None
        first, lots = self.lots
        return schedule(lots, self.job.bench, first)

    @cached_property
    def amounts(self) -> Amounts:
        """What the whole order takes."""
        from cupgeom.cost import Amounts, labour, materials

        job, quantity = self.job, self.job.quantity
        first, lots = self.lots
        hands, rack = labour(Schedule(start=first, lots=lots, bench=job.bench, placed=()))
        glitter, paint = materials(job.steps, self.cup, job.rates)
        price = job.resin.price_per_ml
        return Amounts(
            quantity=quantity,
            blank=self.cup.name,
            resin_ml={job.resin.name: self.resin_ml} if self.coats else {},
            resin_prices={} if price is None else {job.resin.name: price},
            coats=len(self.coats),
            sheets={name: share * quantity for name, share in self.sheets.items()},
            glitter_g={name: grams * quantity for name, grams in glitter.items()},
            paint_ml={name: ml * quantity for name, ml in paint.items()},
            hands_min=hands,
            rack_min=rack,
        )

    @cached_property
    def paper(self) -> Paper:
        """The paper of the job; a4 where it names none."""
        from cupgeom.pages import parse_paper

        return parse_paper(self.job.paper or "a4")

    @cached_property
    def sheets(self) -> dict[str, float]:
        """Share of a sheet that one cup takes, by medium: the boxes of its designs over the sheet, not packed."""
        from cupgeom.pages import parse_paper

        sheet = self.paper if self.paper.width and self.paper.length else parse_paper("a4")
        whole = (sheet.width or 0.0) * (sheet.length or 0.0)
        found: dict[str, float] = {}
        for one in self.decals:
            apart = 2 * one.decal.medium.cut_margin + _APART
            design = one.decal.design
            share = (design.width + apart) * (design.height + apart) * one.decal.repeat / whole
            found[one.decal.medium.name] = found.get(one.decal.medium.name, 0.0) + share
        return found

    @cached_property
    def quote(self) -> Quote:
        """What the order costs and its price."""
        from cupgeom.cost import quote

        return quote(self.amounts, self.job.rates)

    def of(self, quantity: int) -> Made:
        """The same job for another number of cups."""
        return Made(job=replace(self.job, quantity=quantity), read=self.read)

    @cached_property
    def finished(self) -> FinishedCup:
        """The cup as the customer sees it: its colours and decals under all its coats."""
        from cupgeom.proof.finished import FinishedCup
        from cupgeom.proof.layer import laid
        from cupgeom.workshop.zones import colours

        made = {one.name: one.decal for one in self.decals}
        base: Colour = (1.0, 1.0, 1.0)
        layers: list[Laid] = []
        for index, step in enumerate(self.job.steps):
            if step.colour is not None and step.zone is None and not layers:
                base = step.colour
            elif step.colour is not None:
                layers += colours(step, self.grown(len(coats(self.job.steps[:index]))))
            for piece in step.pieces:
                layers += laid(made[piece.name])
        return FinishedCup(cup=self.finished_cup, base=base, layers=tuple(layers))

    @cached_property
    def texts(self) -> tuple[str, ...]:
        """Each line that is written on the cups, in the order of the job."""
        lines = (line for one in self.job.decals for line in (one.asked.text or "").splitlines())
        return tuple(line for line in lines if line.strip())

    @cached_property
    def mark(self) -> str:
        """The proof mark: of art, text, cup, colours and media, whatever the films and the names of files."""
        from cupgeom.proof.mark import proof_mark

        art: list[object] = [(step.do, step.colour, step.zone) for step in self.job.steps if step.colour]
        for one in self.job.decals:
            asked = one.asked
            art += [self.read(name) for name in (asked.art, asked.font) if name is not None]
            art.append({part.name: getattr(asked, part.name) for part in fields(asked) if part.name not in _NOT_SEEN})
        media = [one.asked.medium for one in self.job.decals]
        return proof_mark(art=art, text=self.texts, cup=self.cup, medium=media)

    @cached_property
    def notices(self) -> tuple[Notice, ...]:
        """All that there is to note, each once."""
        return tuple(dict.fromkeys(self._notices()))

    def _notices(self) -> Iterator[Notice]:
        from cupgeom.plan import findings, lateness
        from cupgeom.proof.mark import same_mark

        job = self.job
        yield from job.notices
        yield from findings(job.steps, job.resin, job.drying)
        for name, made in self.reports.items():
            yield from (replace(notice, where=f"decals.{name}, {notice.where}") for notice in made.notices)
        if self.resin is not None:
            yield from self.resin.notices
        if self.plan is not None:
            yield from lateness(self.plan)
        yield from self.quote.notices
        if job.approved and not same_mark(job.approved, self.mark):
            what = f"was {job.approved}; now the mark is {self.mark}: art, text, cup or medium has changed"
            yield Notice("approved", what, "show the customer the new proof")

    def _artwork(self, name: str) -> Artwork:
        from cupgeom.decor.artwork import read_artwork

        return read_artwork(self.read(name), name.rpartition("/")[2])

    def _font(self, name: str, axes: tuple[tuple[str, float], ...]) -> Font:
        from cupgeom.decor.font import Font

        return Font(data=self.read(name), name=name.rpartition("/")[2], axes=axes)


def made(job: Job, read: Callable[[str], bytes]) -> Made:
    """What follows from a job; nothing is worked out, and no file read, before it is asked for.

    Parameters
    ----------
    job
        As it was read.
    read
        What a file that the job names holds.
    """
    kept: dict[str, bytes] = {}

    def once(name: str) -> bytes:
        if name not in kept:
            kept[name] = read(name)
        return kept[name]

    return Made(job=job, read=once)
