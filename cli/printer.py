"""What a printer gets wrong: corrected for, measured on its bars, kept in the shop file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import shop, store

if TYPE_CHECKING:
    from cupgeom.pages import Correction, Paper


def printer_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of a printer; `correction` and `keep` read them."""
    for decorate in reversed(
        [
            click.option(
                "--printed-bar",
                metavar="ACROSS x ALONG",
                help="Both scale bars as measured on a print, along the paper's width and its length, to put the"
                " printer right.",
            ),
            click.option(
                "--printer",
                metavar="NAME",
                help="Correct for this printer of the shop file; with --printed-bar, keep its correction for this"
                " paper there.",
            ),
        ]
    ):
        command = decorate(command)
    return command


def correction(given: Mapping[str, Any], paper: Paper, *, inches: bool) -> Correction:
    """What the printer's bars ask for: the correction in force for the printer, times the one newly measured."""
    from cupgeom.pages import Correction, read_bars

    known = Correction()
    if given["printer"] and (given["printed_bar"] is None or _known(given, paper)):
        known = _of_printer(given, paper)
    if given["printed_bar"] is not None:
        known *= read_bars(given["printed_bar"], inches=inches)
    return known


def _known(given: Mapping[str, Any], paper: Paper) -> bool:
    """Whether the shop file has a correction of the printer for the paper."""
    if not shop.shop_path(given).exists():
        return False
    return shop.shelf(given).has_printer(given["printer"], paper.name)


def _of_printer(given: Mapping[str, Any], paper: Paper) -> Correction:
    try:
        return shop.shelf(given).printer(given["printer"], paper.name)
    except CupgeomError as error:
        if error.where not in {"printer", "paper"}:
            raise
        raise CupgeomError(f"--{error.where}", error.what) from None


def keep(given: Mapping[str, Any], paper: Paper, measured: Correction) -> None:
    """Keep a newly measured correction in the shop file; one that is there has been multiplied into it."""
    if not given["printer"] or given["printed_bar"] is None:
        return
    from cupgeom.shelf import with_printer

    path = shop.shop_path(given)
    store.update(
        path,
        lambda text: with_printer(
            text, given["printer"], paper.name, measured, replace=given["force"], source=str(path)
        ),
    )
    click.echo(f"saved the correction of {given['printer']} for {paper.name} in {path}", err=True)
