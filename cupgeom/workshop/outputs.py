"""The files of a job: what each is called, what it depends on, and how it is made.

A key is a hash of all that an output depends on, and of nothing else; while it stays the same, the file need not be
made again.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Literal

import cupgeom
from cupgeom.pages import Correction

if TYPE_CHECKING:
    from cupgeom.job import JobDecal
    from cupgeom.pages import Document, Paper
    from cupgeom.workshop.made import Made, MadeDecal

Kind = Literal["pdf", "svg", "png", "html", "glb", "ics", "text", "json"]
_LONGEST = 60  # letters of a decal's name in that of a file
_AMERICAN = ("letter", "legal", "tabloid")


@dataclass(frozen=True, slots=True, kw_only=True)
class File:
    """A file before it is written.

    Parameters
    ----------
    name
        With its ending, without a folder.
    kind
        Which writer makes bytes of it.
    value
        A document for pdf, svg and png; a page for html; a mesh for glb; a calendar for ics; words; a mapping for json.
    """

    name: str
    kind: Kind
    value: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One or more files that are made together.

    Parameters
    ----------
    name
        What it is called.
    key
        Hash of what it depends on.
    make
        Makes its files.
    """

    name: str
    key: str
    make: Callable[[], tuple[File, ...]]


def outputs(one: Made, correction: Correction = Correction()) -> Iterator[Output]:
    """All outputs of a job, in the order in which they are used; those of the plan only where the job has a start.

    Parameters
    ----------
    one
        The job, worked out.
    correction
        What its printer gets wrong on its paper; it goes into all that is printed to scale.

    Raises
    ------
    CupgeomError
        When something that they depend on cannot be worked out.
    """
    job, small, scale = one.job, _bench_paper(one), (one.paper, correction)
    seen = [_decal_key(one, decal) for decal in job.decals]
    worn = [step for step in job.steps if step.colour or step.pieces]
    colours = [(step.do, step.colour, step.zone, [piece.name for piece in step.pieces]) for step in worn]
    proof = (one.cup, one.finished_cup, colours, seen, job.name, job.quantity, [decal.name for decal in job.decals])
    resin = (one.cup, one.coats, job.resin, job.speed_rpm, one.lot_sizes, [step.flake for step in job.steps])
    plan = (job.name, str(job.start), one.lots[1], job.bench) if job.start else None
    cost = (one.amounts, job.rates)
    said = (
        job.customer,
        job.approved,
        str(job.start),
        str(job.ship),
        job.steps,
        job.drying,
        [str(note) for note in job.notices],
    )

    yield _output("template.pdf", (job.cup.sheet()[0], scale), lambda: _pdf("template.pdf", _template(one, correction)))
    if job.decals:
        yield _output("sleeve.pdf", (seen, scale), lambda: _pdf("sleeve.pdf", _sleeve(one, correction)))
    for decal, stem, key in zip(job.decals, _stems(one), seen, strict=True):
        yield _decal_output(one, decal.name, stem, key, correction)
    if one.coats:
        yield _output("mix.pdf", (resin, small), lambda: _pdf("mix.pdf", _mix(one)))
    if plan:
        yield _output("plan.txt", plan, lambda: (File(name="plan.txt", kind="text", value=_plan(one)),))
        yield _output("plan.ics", plan, lambda: (File(name="plan.ics", kind="ics", value=_calendar(one)),))
    yield _output("cost.txt", cost, lambda: (File(name="cost.txt", kind="text", value=_cost(one)),))
    yield from _proofs(one, proof)
    bench = (proof, resin, plan, said, small)
    yield _output("job-sheet.pdf", (bench, one.quote.notices), lambda: _pdf("job-sheet.pdf", _job_sheet(one)))
    yield _output("job.json", (bench, cost, job.notes), lambda: (File(name="job.json", kind="json", value=_all(one)),))


def _output(name: str, inputs: object, make: Callable[[], tuple[File, ...]]) -> Output:
    from cupgeom.proof.mark import canonical

    key = hashlib.sha256(canonical((name, cupgeom.__version__, inputs))).hexdigest()
    return Output(name=name, key=key, make=make)


def _pdf(name: str, pages: Document) -> tuple[File, ...]:
    return (File(name=name, kind="pdf", value=pages),)


def _decal_key(one: Made, decal: JobDecal) -> object:
    """What a decal depends on: all that is asked, its files as they are, and the cup that it goes on."""
    asked = decal.asked
    said = {part.name: getattr(asked, part.name) for part in fields(asked) if part.name not in ("art", "font")}
    files = [None if name is None else one.read(name) for name in (asked.art, asked.font)]
    names = [None if name is None else name.rpartition("/")[2] for name in (asked.art, asked.font)]
    return said, files, names, one.grown(one.under(decal)[0])


def _stems(one: Made) -> list[str]:
    """Names of files for the decals: safe everywhere, no two alike even where letter case does not count."""
    found: list[str] = []
    for decal in one.job.decals:
        plain = re.sub(r"[^A-Za-z0-9]+", "-", decal.name).strip("-")[:_LONGEST] or "decal"
        stem, count = f"decal-{plain}", 1
        while stem.lower() in [other.lower() for other in found]:
            count += 1
            stem = f"decal-{plain}-{count}"
        found.append(stem)
    return found


def _decal_output(one: Made, name: str, stem: str, key: object, correction: Correction) -> Output:
    return _output(f"{stem}.pdf", (key, one.paper, correction), lambda: _decal_files(one, name, stem, correction))


def _decal_files(one: Made, name: str, stem: str, correction: Correction) -> tuple[File, ...]:
    from cupgeom.decor.printout import printout
    from cupgeom.pages import parse_paper

    part = _named(one, name)
    report = one.reports[name]
    files = [
        *_pdf(f"{stem}.pdf", printout(part.decal, one.paper, correction=correction, fine=report.strokes + report.gaps))
    ]
    if part.decal.medium.process != "ready-made":
        cut = printout(part.decal, parse_paper("fit"), cut_only=True)
        for page in cut.split():
            number = f"-{page.pages[0].name}" if page.pages[0].name else ""
            files.append(File(name=f"{stem}-cut{number}.svg", kind="svg", value=page))
    return tuple(files)


def _named(one: Made, name: str) -> MadeDecal:
    return next(part for part in one.decals if part.name == name)


def _bench_paper(one: Made) -> Paper:
    """What is read at the bench is on letter where the job's paper is of that kind, else on a4."""
    from cupgeom.pages import parse_paper

    return parse_paper("letter" if one.paper.name in _AMERICAN else "a4")


def _template(one: Made, correction: Correction) -> Document:
    from cupgeom.template import Template, document, joined

    cup, _ = one.job.cup.sheet()
    wraps = [Template(cup=cup, wall_index=index) for index in range(len(cup.walls))]
    return joined([document(wrap, one.paper, correction=correction) for wrap in wraps])


def _sleeve(one: Made, correction: Correction) -> Document:
    """A sleeve for each film under decals, its openings where they go."""
    from cupgeom.template import Template, document, joined
    from cupgeom.template.art import Art

    parts = []
    for count in sorted({part.after_coat for part in one.decals}):
        decals = tuple(part.decal for part in one.decals if part.after_coat == count)
        cup = decals[0].cup
        for index in range(len(cup.walls)):
            wrap = Template(cup=cup, wall_index=index)
            parts.append(document(wrap, one.paper, correction=correction, art=Art(decals=decals, sleeve=True)))
    return joined(parts)


def _mix(one: Made) -> Document:
    from cupgeom.coating.mix_page import mix_page

    if one.resin is None:
        raise AssertionError("a job without a coat has no mixing page")
    return mix_page(one.resin, _bench_paper(one))


def _plan(one: Made) -> str:
    from cupgeom.plan import shortenings
    from cupgeom.plan.report import table

    if one.plan is None:
        raise AssertionError("a job without a start has no plan")
    return table(one.plan, shortenings(one.plan)[:2])


def _calendar(one: Made) -> object:
    from cupgeom.plan import calendar_of

    if one.plan is None:
        raise AssertionError("a job without a start has no calendar")
    return calendar_of(one.plan, one.job.name)


def _cost(one: Made) -> str:
    from cupgeom.cost import report, shopping

    needs = shopping([one.amounts], one.job.rates)
    return f"{report.table(one.quote, one.cup.name)}\n\n{report.needs(needs)}"


def _proofs(one: Made, inputs: object) -> Iterator[Output]:
    from cupgeom.workshop import show

    made: dict[str, Callable[[Made], object]] = {
        "png": show.proof_sheet,
        "html": show.proof_page,
        "glb": show.proof_mesh,
    }
    kinds: tuple[Kind, ...] = ("png", "html", "glb")
    for kind in kinds:
        yield _output(f"proof.{kind}", inputs, _proof(one, kind, made[kind]))


def _proof(one: Made, kind: Kind, make: Callable[[Made], object]) -> Callable[[], tuple[File, ...]]:
    return lambda: (File(name=f"proof.{kind}", kind=kind, value=make(one)),)


def _job_sheet(one: Made) -> Document:
    from cupgeom.jobsheet import job_sheet
    from cupgeom.workshop.bench import facts

    return job_sheet(facts(one), _bench_paper(one))


def _all(one: Made) -> object:
    from cupgeom.workshop.numbers import numbers

    return numbers(one)
