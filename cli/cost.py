"""`cupgeom cost`."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError, Notice

from .jobfile import JobFile, job_file, job_options
from .options import Command, tell

if TYPE_CHECKING:
    from cupgeom.cost import Need
    from cupgeom.workshop import Made

MOST_QUANTITIES = 20
EXAMPLES = """\b
Examples:
  cupgeom cost comet.toml --shopping
  cupgeom cost --like comet.toml --quantity 12 --quantities 6,12,24"""


@click.command(name="cost", cls=Command, epilog=EXAMPLES)
@click.argument("jobs", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--like", type=click.Path(path_type=Path), metavar="FILE", help="An order like that of this job, for a first quote."
)
@click.option("--quantity", type=int, help="How many cups, in place of the job's own.")
@click.option("--quantities", metavar="LIST", help="Also the price of so many cups, such as 6,12,24.")
@click.option("--shopping", is_flag=True, help="What to have at hand, for all jobs together.")
@job_options
@click.option("--json", "as_json", is_flag=True, help="Numbers for programs.")
def command(**given: Any) -> None:
    """What an order costs, its price, and what to buy for it."""
    from cupgeom.cost import report
    from cupgeom.workshop import made

    files = _files(given)
    counts = _quantities(given["quantities"])
    orders = [made(file.job, file.read) for file in files]
    tables = [tuple(one.of(count).quote for count in counts) for one in orders]
    needs, told = _needs(orders) if given["shopping"] else ((), ())
    if given["as_json"]:
        import json

        said: dict[str, Any] = {
            "jobs": [
                {"name": one.job.name}
                | report.numbers(one.quote)
                | ({"quantities": [report.numbers(other) for other in table]} if table else {})
                for one, table in zip(orders, tables, strict=True)
            ]
        }
        if given["shopping"]:
            said["shopping"] = report.numbers_of_needs(needs)
        click.echo(json.dumps(said, indent=2, allow_nan=False))
    else:
        parts = []
        for one, table in zip(orders, tables, strict=True):
            parts.append(report.table(one.quote, _what(one, several=len(orders) > 1)))
            if table:
                parts.append(report.quantities(table))
        if given["shopping"]:
            parts.append(report.needs(needs))
        click.echo("\n\n".join(parts))
    notices = [notice for one in orders for notice in (*one.job.notices, *one.quote.notices)]
    tell(list(dict.fromkeys([*notices, *told])))


def _files(given: Mapping[str, Any]) -> list[JobFile]:
    """The jobs that are asked about, with the number of cups that is asked about."""
    paths: tuple[Path, ...] = given["jobs"]
    if given["like"] is not None:
        if paths:
            raise CupgeomError("--like", "cannot stand beside a job; give one of the two")
        if given["quantity"] is None:
            raise CupgeomError("--quantity", "is missing; give how many cups, such as --quantity 12")
        paths = (given["like"],)
    if not paths:
        raise CupgeomError("JOBS", "are missing; give a job file, or --like FILE --quantity 12")
    if given["quantity"] is not None and len(paths) > 1:
        raise CupgeomError("--quantity", "goes with one job; leave it out")
    try:
        return [job_file(path, given).changed(quantity=given["quantity"]) for path in paths]
    except CupgeomError as error:
        if error.where != "quantity":
            raise
        raise CupgeomError("--quantity", error.what) from None


def _needs(orders: Sequence[Made]) -> tuple[tuple[Need, ...], tuple[Notice, ...]]:
    """The shopping list of all orders, and what of it is not quite each job's own."""
    from cupgeom.cost import shopping

    first = orders[0].job
    others = [one.job.name for one in orders if one.job.rates.spoilage != first.rates.spoilage]
    notices = [
        Notice(name, f"its spoilage is taken to be that of {first.name} in the shopping list") for name in others
    ]
    return shopping([one.amounts for one in orders], first.rates), tuple(notices)


def _what(one: Made, *, several: bool) -> str:
    cup = one.job.cup.name
    return f"{cup} ({one.job.name})" if several and cup else cup


def _quantities(text: str | None) -> tuple[int, ...]:
    if text is None:
        return ()
    if not re.fullmatch(r"\s*[1-9]\d{0,5}(\s*,\s*[1-9]\d{0,5})*\s*", text):
        raise CupgeomError("--quantities", f"cannot read {text!r}; give whole numbers such as 6,12,24")
    counts = tuple(dict.fromkeys(int(part) for part in text.split(",")))
    if len(counts) > MOST_QUANTITIES:
        raise CupgeomError("--quantities", f"must be at most {MOST_QUANTITIES}, got {len(counts)}")
    return counts
