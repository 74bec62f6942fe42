"""The shop file at the edge: where it lies, and what is taken from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    from pathlib import Path

    from cupgeom.shelf import Shelf, ShelfCup

FILE = "shop.toml"
shop_option = click.option("--shop", type=click.Path(), metavar="FILE", help="The shop file. [shop.toml, here]")


def shop_path(given: Mapping[str, Any]) -> Path:
    """The shop file that is meant."""
    from pathlib import Path

    return Path(given["shop"] or FILE)


def shelf(given: Mapping[str, Any], *, thorough: bool = False) -> Shelf:
    """What stands in the shop file.

    Raises
    ------
    CupgeomError
        When it is not there, or something in it is wrong.
    """
    from cupgeom.shelf import read_shelf

    from . import store

    path = shop_path(given)
    if not path.exists():
        hint = "" if given["shop"] else "; make it with cupgeom measure … --save NAME, or name another with --shop"
        raise CupgeomError("--shop", f"{path} does not exist{hint}")
    return read_shelf(store.text_of(path), str(path), thorough=thorough)


def entry(given: Mapping[str, Any], name: str, option: str = "--cup") -> ShelfCup:
    """A cup of the shop file, as the maker gave it."""
    try:
        return shelf(given).entry(name)
    except CupgeomError as error:
        if error.where != "cup":
            raise
        raise CupgeomError(option, error.what) from None
