"""The work of one or more jobs as lots, and its plan on one bench."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from cupgeom.errors import CupgeomError
from cupgeom.job.job import Job
from cupgeom.plan import Bench, Lot, Schedule, lot_sizes, order_of, schedule
from cupgeom.plan.hours import DAY


def lots_of(jobs: Sequence[Job], bench: Bench) -> tuple[date, tuple[Lot, ...]]:
    """The first day of all jobs, and their cups in lots that the rack and one pot of resin allow.

    Raises
    ------
    CupgeomError
        When a job has no start, two have one name, or a job's waits contradict each other.
    """
    starts = []
    for index, job in enumerate(jobs):
        if job.start is None:
            raise CupgeomError("start", f"of {job.name} is missing; give the first day of work such as 2026-03-02")
        if job.name in [other.name for other in jobs[:index]]:
            raise CupgeomError("name", f"{job.name!r} is there twice; give the jobs different names")
        starts.append(job.start)
    if not starts:
        raise CupgeomError("jobs", "are missing; give at least one")
    first = min(starts)
    lots = []
    for job, start in zip(jobs, starts, strict=True):
        sizes = lot_sizes(job.quantity, bench.places, job.resin)
        days = None if job.ship is None else (job.ship - first).days
        for index, cups in enumerate(sizes):
            lots.append(
                Lot(
                    name=job.name if len(sizes) == 1 else f"{job.name}, lot {index + 1}",
                    order=order_of(job.steps, job.resin, cups=cups, drying=job.drying),
                    cups=cups,
                    due_min=None if days is None else days * DAY + bench.hours.closes_min,
                    release_min=(start - first).days * DAY,
                )
            )
    return first, tuple(lots)


def plan_of(jobs: Sequence[Job], bench: Bench | None = None) -> Schedule:
    """The plan of one or more jobs, on the bench of the first where none is given."""
    if not jobs:
        raise CupgeomError("jobs", "are missing; give at least one")
    place = bench or jobs[0].bench
    first, lots = lots_of(jobs, place)
    return schedule(lots, place, first)
