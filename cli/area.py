"""`cupgeom area`."""

from __future__ import annotations

import json
from typing import Any

import click

from .options import cup_from, cup_options, inches, json_option, unit_option

EXAMPLE = """\b
Example:
  cupgeom area --rim 88mm --base 70mm --height 170mm"""


@click.command(name="area", epilog=EXAMPLE)
@cup_options
@unit_option
@json_option
def command(**given: Any) -> None:
    """Area, slant, flat radii and circumferences of a cup."""
    from cupgeom import summary

    cup = cup_from(given)
    if given["as_json"]:
        click.echo(json.dumps(summary.numbers(cup), indent=2, allow_nan=False))
    else:
        click.echo(summary.table(cup, "in" if inches(given) else "mm"))
