"""`cupgeom area`."""

from __future__ import annotations

from typing import Any

import click

from .cup import choose, cup_options
from .options import LENGTH, WORDS, Command, json_option, tell, unit_option

EXAMPLES = """\b
Examples:
  cupgeom area --rim 88mm --base 70mm --height 170mm
  cupgeom area --rim "3 1/2 in" --base "2 3/4 in" --height "6 3/4 in" --json"""


@click.command(name="area", cls=Command, epilog=f"{WORDS}\n\n{EXAMPLES}")
@cup_options
@click.option("--holder", type=LENGTH, help="Say whether the base fits a holder of this diameter.")
@unit_option
@json_option
def command(**given: Any) -> None:
    """Area, slant, flat radii and circumferences of a cup."""
    from cupgeom import summary

    chosen = choose(given)
    cup = chosen.cup
    if given["as_json"]:
        import json

        click.echo(json.dumps(summary.numbers(cup), indent=2, allow_nan=False))
    else:
        click.echo(summary.table(cup, "in" if chosen.inches else "mm"))
        if given["holder"] is not None:
            click.echo(summary.holder(cup, given["holder"], "in" if chosen.inches else "mm"))
    tell(chosen.notices)
