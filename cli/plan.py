"""`cupgeom plan`."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError, Notice, within

from . import store
from .formats import require_ending
from .jobfile import JobFile, job_file, job_options
from .options import Command, tell

if TYPE_CHECKING:
    from cupgeom.plan import Bench, Lot, Schedule

Moments = dict[str, dict[str, datetime]]
FARTHEST = timedelta(days=3660)  # of a moment from the start; beyond that it is a slip
MOST_LOTS = 12  # of which other hours and places are tried too; each try plans all of it again
WORDS = """\b
MOMENT  "2026-03-02 14:20", or 14:20 for today
RECORD  comet.done.toml beside comet.toml: what is done, by --done"""
EXAMPLES = """\b
Examples:
  cupgeom plan comet.toml -o plan.ics --force
  cupgeom plan comet.toml --now --at "2026-03-02 14:20"
  cupgeom plan comet.toml --done "flood 1" --at "2026-03-02 08:20\""""


@click.command(name="plan", cls=Command, epilog=f"{WORDS}\n\n{EXAMPLES}")
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--now", is_flag=True, help="Only what may and must be done now.")
@click.option("--at", metavar="MOMENT", help="What counts as now. [the clock, with --now or --done]")
@click.option("--done", metavar="TASK", help='Record that a task was begun, such as "flood 1", and plan the rest.')
@click.option("--lot", metavar="NAME", help="Whose task is done, where several lots have it.")
@click.option("--start", metavar="DATE", help="First day of work. [that of each job]")
@click.option("--places", type=int, help="Places on the rack. [those of the first job]")
@job_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), metavar="FILE", help="plan.ics: a calendar with alarms."
)
@click.option("--force", is_flag=True, help="Replace a file that exists.")
@click.option("--json", "as_json", is_flag=True, help="Numbers for programs.")
def command(**given: Any) -> None:
    """The work of one or more jobs, hour by hour, and what is due now."""
    from cupgeom.plan import report

    output: Path | None = given["output"]
    if output is not None:
        require_ending(output, [".ics"])
        store.check_free(output, force=given["force"])
    with _in_time():
        start = _day(given["start"])
        files = [job_file(path, given).changed(start=start) for path in given["jobs"]]
        bench, notices = _bench(files, given["places"])
        work = _Work(files, bench)
        finished = work.finished(given)
        now = _now(given, work)
        plan, late = work.plan(now)
        told = [*notices, *_craft(files), *late, *_late(plan)]
        content = None if output is None else _calendar(plan, files)
        if given["now"]:
            from cupgeom.plan import due, minute_of

            minute = minute_of(plan.start, now or work.latest)
            tasks = due(plan, minute)
            shown = report.numbers_of_now if given["as_json"] else report.table_of_now
            said: Any = shown(plan, tasks, minute)
        else:
            changes = _shortenings(plan)
            said = (report.numbers if given["as_json"] else report.table)(plan, changes)
    written = [] if finished is None else [finished.keep()]
    if output is not None and content is not None:
        store.write_all({output: content})
        written.append(output)
    if given["as_json"]:
        import json

        said = json.dumps(said, indent=2, allow_nan=False)
    click.echo(said)
    tell(told)
    for path in written:
        click.echo(f"wrote {path}", err=True)


def record_path(job: Path) -> Path:
    """The record of what is done, beside a job file."""
    return job.with_name(f"{job.stem}.done.toml")


class _Finished:
    """A task that was begun, to be kept in the record of its job."""

    def __init__(self, path: Path, lot: str, task: str, when: datetime) -> None:
        self.path, self.lot, self.task, self.when = path, lot, task, when

    def keep(self) -> Path:
        """Write it down; what others wrote meanwhile stays."""
        from cupgeom.plan import read_done, with_done

        store.update(self.path, lambda text: with_done(read_done(text, str(self.path)), self.lot, self.task, self.when))
        return self.path


class _Work:
    """The lots of all jobs, and what of them is done."""

    def __init__(self, files: Sequence[JobFile], bench: Bench) -> None:
        from cupgeom.job import lots_of

        self.bench = bench
        own = [_lots_of_one(file, bench, several=len(files) > 1) for file in files]
        self.start, self.lots = lots_of([file.job for file in files], bench)
        self.records: dict[str, Path] = {}  # by lot
        self.done: Moments = {}
        for file, lots in zip(files, own, strict=True):
            path = record_path(file.path)
            self.records |= {lot.name: path for lot in lots}
            if path.exists():
                self._read(path, lots)

    @property
    def latest(self) -> datetime:
        """When the last task that is recorded was begun."""
        return max((at for tasks in self.done.values() for at in tasks.values()), default=datetime.min)

    def finished(self, given: Mapping[str, Any]) -> _Finished | None:
        """What --done says, counted among what is done."""
        task, lot = given["done"], given["lot"]
        if task is None:
            if lot is not None:
                raise CupgeomError("--lot", "goes with --done")
            return None
        from cupgeom.records import nearest

        having = [one.name for one in self.lots if task in [part.name for part in one.order.tasks]]
        if not having:
            names = list(dict.fromkeys(part.name for one in self.lots for part in one.order.tasks))
            raise CupgeomError("--done", f"no task {task!r}; {nearest(task, names)}")
        if lot is None and len(having) > 1:
            raise CupgeomError("--lot", f"is missing; {task} is a task of {', '.join(map(repr, having))}")
        if lot is not None and lot not in having:
            raise CupgeomError("--lot", f"no lot {lot!r} with {task!r}; {nearest(lot, having)}")
        name = lot or having[0]
        when = _moment(given["at"])
        self._near(when, "--at")
        self.done.setdefault(name, {})[task] = when
        return _Finished(self.records[name], name, task, when)

    def plan(self, now: datetime | None) -> tuple[Schedule, tuple[Notice, ...]]:
        """All work, or the rest of it from a moment on."""
        from cupgeom.plan import minute_of, replan, schedule

        if now is None:
            return schedule(self.lots, self.bench, self.start), ()
        self._near(now, "--at")
        minutes = {
            lot: {task: minute_of(self.start, at) for task, at in tasks.items()} for lot, tasks in self.done.items()
        }
        try:
            return replan(self.lots, self.bench, self.start, minutes, minute_of(self.start, now))
        except CupgeomError as error:
            if error.where != "done":
                raise
            raise CupgeomError("--at", error.what) from None

    def _read(self, path: Path, lots: Sequence[Lot]) -> None:
        from cupgeom.plan import read_done
        from cupgeom.records import nearest

        for name, tasks in read_done(store.text_of(path), str(path)).items():
            lot = next((one for one in lots if one.name == name), None)
            if lot is None:
                raise CupgeomError(f"{path}: {name}", f"is no lot of its job; {nearest(name, [o.name for o in lots])}")
            known = [task.name for task in lot.order.tasks]
            for task, at in tasks.items():
                if task not in known:
                    raise CupgeomError(f"{path}: {name}.{task}", f"is no task of its job; {nearest(task, known)}")
                self._near(at, f"{path}: {name}.{task}")
            self.done[name] = dict(tasks)

    def _near(self, when: datetime, where: str) -> None:
        from cupgeom.plan import moment

        if abs(when - moment(self.start, 0)) > FARTHEST:
            raise CupgeomError(where, f"must be within ten years of the start ({self.start}), got {when:%Y-%m-%d}")


def _lots_of_one(file: JobFile, bench: Bench, *, several: bool) -> tuple[Lot, ...]:
    """The lots of one job; what is wrong with it names it where there are several."""
    from cupgeom.job import lots_of

    if file.job.start is None:
        raise CupgeomError("--start", f"is missing, and {file.path} has no start; give the first day of work")
    with within(str(file.path)) if several else nullcontext():
        return lots_of([file.job], bench)[1]


def _bench(files: Sequence[JobFile], places: int | None) -> tuple[Bench, tuple[Notice, ...]]:
    """The bench of the first job, with other places where they are given."""
    from dataclasses import replace

    bench = files[0].job.bench
    notices = [
        Notice(str(file.path), f"its places and hours are not used; those of {files[0].path} are")
        for file in files[1:]
        if file.job.bench != bench
    ]
    if places is None:
        return bench, tuple(notices)
    try:
        return replace(bench, places=places), tuple(notices)
    except CupgeomError as error:
        raise CupgeomError("--places", error.what) from None


def _craft(files: Sequence[JobFile]) -> Iterator[Notice]:
    """What is assumed and what the craft finds wrong, with the job's name where there are several."""
    from dataclasses import replace

    from cupgeom.plan import findings

    for file in files:
        job = file.job
        for notice in (*job.notices, *findings(job.steps, job.resin, job.drying)):
            yield replace(notice, where=f"{job.name}, {notice.where}") if len(files) > 1 else notice


def _late(plan: Schedule) -> tuple[Notice, ...]:
    from cupgeom.plan import lateness

    return lateness(plan)


def _shortenings(plan: Schedule) -> tuple[Any, ...]:
    from cupgeom.plan import shortenings

    left = any(not one.done for one in plan.placed)
    return shortenings(plan)[:2] if left and len(plan.lots) <= MOST_LOTS else ()


def _calendar(plan: Schedule, files: Sequence[JobFile]) -> bytes:
    from cupgeom.plan import calendar_of
    from cupgeom.writers import ics

    try:
        return ics.render(calendar_of(plan, ", ".join(file.job.name for file in files)))
    except CupgeomError as error:
        raise CupgeomError("-o" if error.where == "ics" else error.where, error.what) from None


def _now(given: Mapping[str, Any], work: _Work) -> datetime | None:
    """What counts as now: as given, else the clock where it is asked for, else the last thing that was done."""
    if given["done"] is not None:
        return max(_moment(given["at"]), work.latest)
    if given["at"] is not None or given["now"]:
        return _moment(given["at"])
    return work.latest if work.done else None


def _moment(text: str | None) -> datetime:
    """A moment as it is typed, to the minute; the clock's where none is."""
    clock = datetime.now().replace(second=0, microsecond=0)
    if text is None:
        return clock
    match = re.fullmatch(r"\s*(\d{1,2}):(\d{2})\s*", text)
    try:
        if match:
            return clock.replace(hour=int(match[1]), minute=int(match[2]))
        found = datetime.fromisoformat(text.strip())
        if found.tzinfo is None and ":" in text:
            return found.replace(second=0, microsecond=0)
    except ValueError:
        pass
    raise CupgeomError("--at", f"cannot read {text!r}; give a date and time such as 2026-03-02 14:20, or 14:20")


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CupgeomError("--start", f"cannot read {text!r}; give a day such as 2026-03-02") from None


@contextmanager
def _in_time() -> Iterator[None]:
    """Refuse what reaches beyond the end of the calendar."""
    try:
        yield
    except OverflowError:
        raise CupgeomError("--start", "leads beyond the last day of the calendar; begin earlier") from None
