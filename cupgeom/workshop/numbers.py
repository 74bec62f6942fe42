"""All numbers of a job for programs: the same that its tables print."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cupgeom.workshop.made import Made


def numbers(one: Made) -> dict[str, object]:
    """Cup, decals, resin, plan and cost under names that carry their unit."""
    from cupgeom import summary
    from cupgeom.coating import report as resin
    from cupgeom.cost import report as cost
    from cupgeom.cost import shopping
    from cupgeom.decor import report as decor
    from cupgeom.plan import report as plan
    from cupgeom.plan import shortenings

    job = one.job
    decals: list[dict[str, object]] = []
    for part in one.decals:
        place = {
            "key": part.name,
            "medium": part.decal.medium.name,
            "drop_mm": part.decal.drop,
            "after_coat": part.after_coat,
            "repeat": part.decal.repeat,
        }
        decals.append(place | decor.numbers(one.reports[part.name]))
    return {
        "name": job.name,
        "customer": job.customer,
        "notes": job.notes,
        "quantity": job.quantity,
        "start": None if job.start is None else job.start.isoformat(),
        "ship": None if job.ship is None else job.ship.isoformat(),
        "mark": one.mark,
        "cup": summary.numbers(one.cup),
        "decals": decals,
        "lots": list(one.lot_sizes),
        "resin_of_a_lot": None if one.resin is None else resin.numbers(one.resin),
        "resin_ml": one.resin_ml,
        "plan": None if one.plan is None else plan.numbers(one.plan, shortenings(one.plan)[:2]),
        "cost": cost.numbers(one.quote),
        "shopping": cost.numbers_of_needs(shopping([one.amounts], job.rates)),
        "notices": [str(notice) for notice in one.notices],
    }
