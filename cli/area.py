"""`cupgeom area`."""

from __future__ import annotations

from typing import Any

import click

from .options import WORDS, Command, cup_from, cup_options, inches, json_option, unit_option

EXAMPLES = """\b
Examples:
  cupgeom area --rim 88mm --base 70mm --height 170mm
  cupgeom area --rim "3 1/2 in" --base "2 3/4 in" --height "6 3/4 in" --json"""


@click.command(name="area", cls=Command, epilog=f"{WORDS}\n\n{EXAMPLES}")
@cup_options
@unit_option
@json_option
def command(**given: Any) -> None:
    """Area, slant, flat radii and circumferences of a cup."""
    from cupgeom import summary

    cup = cup_from(given)
    if given["as_json"]:
        import json

        click.echo(json.dumps(summary.numbers(cup), indent=2, allow_nan=False))
    else:
        click.echo(summary.table(cup, "in" if inches(given) else "mm"))
