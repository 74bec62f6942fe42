"""What stands on the job sheet, in words, from the numbers of a job."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from cupgeom.drawing import Drawing, Item, Shape, Stroke
from cupgeom.errors import number
from cupgeom.flatten import to_sheet
from cupgeom.units import describe_turn

if TYPE_CHECKING:
    from cupgeom.jobsheet import DecalFact, PotFact, SheetFacts, StepFact
    from cupgeom.workshop.made import Made, MadeDecal

_LINE = Stroke(width=0.3)


def facts(one: Made) -> SheetFacts:
    """The job sheet of a job, before it is laid out."""
    from cupgeom.coating.cautions import ADVICE, CAUTIONS
    from cupgeom.jobsheet import SheetFacts
    from cupgeom.plan.report import dated
    from cupgeom.workshop.show import view

    job, plan = one.job, one.plan
    dates = [(name, str(day)) for name, day in (("start", job.start), ("ship", job.ship)) if day]
    in_service = ""
    if plan is not None:
        dates.append(("ready", f"{plan.ready:%Y-%m-%d %H:%M}"))
        days = [day for day in map(plan.in_service, plan.lots) if day]
        in_service = dated(max(days)) if days else ""
    return SheetFacts(
        title=job.name,
        quantity=job.quantity,
        customer=job.customer,
        mark=one.mark,
        dates=tuple(dates),
        picture=view(one),
        sizes=tuple(_sizes(one)),
        plan=_map(one),
        plan_caption="The flat wrap, front in the middle",
        decals=tuple(_decal(one, part) for part in one.decals),
        pots=tuple(_pots(one)),
        steps=tuple(_steps(one)),
        doubts=tuple(map(str, one.notices)),
        cautions=(*ADVICE, *CAUTIONS),
        in_service=in_service,
    )


def _sizes(one: Made) -> Iterator[tuple[str, str]]:
    cup = one.cup
    if cup.name:
        yield "cup", cup.name
    sizes = (cup.rings[0].diameter, cup.rings[-1].diameter, cup.height, cup.slant)
    for name, size in zip(("rim", "base", "height", "slant"), sizes, strict=True):
        yield name, f"{size:.1f} mm"
    yield "coated area", f"{cup.coated_area / 100:.2f} cm²"
    if one.coats:
        yield "resin mixed", f"{one.resin_ml:.1f} mL of {one.job.resin.name}"


def _wall(one: Made) -> int:
    """The longest wall, which the map shows."""
    return max(range(len(one.cup.walls)), key=lambda index: one.cup.walls[index].slant)


def _map(one: Made) -> Drawing:
    """The trim of the flat wrap, and the decals on it."""
    from cupgeom.template import Template

    wall = _wall(one)
    items: list[Item] = []
    for piece in Template(cup=one.cup, wall_index=wall).pieces:
        items.append(Shape(path=piece.cut, role="cut", stroke=_LINE, name="trim"))
    for part in one.decals:
        for copy in part.decal.copies():
            for lying in copy.pieces:
                if lying.wall_index == wall:
                    items += [*lying.drawing.items, Shape(path=lying.box, role="guide", stroke=_LINE, name=part.name)]
    return Drawing(tuple(items))


def _decal(one: Made, part: MadeDecal) -> DecalFact:
    from cupgeom.jobsheet import DecalFact

    decal = part.decal
    at = None
    if decal.wall_index == _wall(one):
        turn, drop = math.radians(decal.copies_deg[0]), decal.drop - decal.cup.wall_tops[decal.wall_index]
        at = complex(*to_sheet(decal.cup.walls[decal.wall_index], turn, drop))
    times = f", {decal.repeat} times" if decal.repeat > 1 else ""
    return DecalFact(
        what=part.name,
        medium=decal.medium.name,
        size=f"{decal.design.width:.1f} x {decal.design.height:.1f} mm{times}",
        turn=describe_turn(decal.turn_deg).removeprefix("turn "),
        drop=f"{decal.drop:.1f} mm",
        after=part.on or "bare cup",
        at=at,
    )


def _pots(one: Made) -> Iterator[PotFact]:
    from cupgeom.jobsheet import PotFact

    for row in () if one.resin is None else one.resin.rows:
        for batch in row.batches:
            mix = batch.mix
            yield PotFact(
                coat=row.label,
                cups=f"{number(round(batch.cups, 2))} cup{'s' if batch.cups > 1 else ''}",
                pots=batch.times,
                a_ml=f"{number(round(mix.a_ml, 2))} mL",
                a_g=f"{mix.a_g:.1f} g",
                b_ml=f"{number(round(mix.b_ml, 2))} mL",
                b_g=f"{mix.b_g:.1f} g",
                weigh=mix.weigh,
            )


def _steps(one: Made) -> Iterator[StepFact]:
    from cupgeom.jobsheet import StepFact
    from cupgeom.plan import moment, names, spell

    plan = one.plan
    steps = dict(zip(names(one.job.steps), one.job.steps, strict=True))
    if plan is None:
        return
    last = None  # lot and step whose acts may follow
    for task in plan.placed:
        at = moment(plan.start, task.start_min)
        step, _, act = task.task.name.partition(": ")
        within = bool(act) and last == (task.lot, step)
        what = act if within else task.task.name
        if not act:
            known = steps.get(step)
            details = [] if known is None else [known.material, *(piece.name for piece in known.pieces)]
            what = ": ".join([step, ", ".join(detail for detail in details if detail)]).removesuffix(": ")
        if len(plan.lots) > 1:
            what = f"{task.lot.removeprefix(f'{one.job.name}, ')}, {what}"
        yield StepFact(
            day=f"{at:%Y-%m-%d}",
            time=f"{at:%H:%M}",
            what=what,
            hands=spell(task.task.minutes),
            is_act=within,
        )
        last = (task.lot, step) if within or not act else None
