"""Options that several commands share, and the cup that they describe."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from cupgeom import units
from cupgeom.errors import CupgeomError, require_at_most

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cupgeom.cup import Cup, Span

WORDS = """\b
LENGTH  88 or 88mm, 8.8cm, 3.5in, "3 1/2 in"
DROP    a length along the wall, counted from the top edge down;
        "20mm up" counts from the base edge up"""


class Command(click.Command):
    """A command that says what to do about words it cannot place, such as those of 3 1/2 in without quotes."""

    allow_extra_args = True

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Refuse what no option takes."""
        extra = super().parse_args(ctx, args)
        if extra:
            what = f"cannot place {' '.join(extra)!r}"
            raise click.UsageError(f'{what}; write a value that has spaces in quotes, such as "3 1/2 in"', ctx)
        return extra


class Length(click.ParamType[float]):
    """A length in mm from any of the forms that `units.parse_length` reads; the value knows if inches were typed."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Text to mm."""
        if not isinstance(value, str):
            return float(value)
        length = read_length(value, option_name(param))
        return Inches(length) if units.is_inches(value) else length


class Inches(float):
    """A length in mm that was typed in inches."""


def read_length(text: str, option: str) -> float:
    """Text to mm; a length beyond any cup or its paper is a slip."""
    from cupgeom.cup import LARGEST_SIZE

    length = units.parse_length(text, option)
    require_at_most(option, length, LARGEST_SIZE)
    return length


class Drop(click.ParamType[tuple[float, bool]]):
    """A place on the wall: mm down from the top edge, or with ``up`` behind it mm up from the base."""

    name = "drop"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, bool]:
        """Text to mm and whether they count from the base."""
        if not isinstance(value, str):
            return float(value), False
        text = value.strip()
        from_base = text.lower().endswith("up")
        return read_length(text[:-2] if from_base else text, option_name(param)), from_base


class Turn(click.ParamType[float]):
    """A turn in degrees, or the name of a side."""

    name = "turn"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Text to degrees."""
        return float(value) if not isinstance(value, str) else units.parse_turn(value, option_name(param))


LENGTH, DROP, TURN = Length(), Drop(), Turn()


def option_name(param: click.Parameter | None) -> str:
    """The option as the user typed it."""
    return max(param.opts, key=len) if param is not None else "value"


@contextmanager
def naming(options: Mapping[str, str]) -> Iterator[None]:
    """Let a library error name the option that its field came from, by the longest field that matches."""
    try:
        yield
    except CupgeomError as error:
        matching = [
            where for where in options if error.where == where or error.where.startswith((f"{where}.", f"{where}["))
        ]
        if not matching:
            raise
        raise CupgeomError(options[max(matching, key=len)], error.what) from None


def span_from(
    cup: Cup,
    first: tuple[float, bool] | None,
    last: tuple[float, bool] | None,
    options: tuple[str, str],
    default_top: float = 0.0,
    default_bottom: float | None = None,
) -> Span | None:
    """A range of drops from two options that may count from the base, None when neither is given."""
    from cupgeom.cup import Span

    if first is None and last is None:
        return None
    slant = cup.slant
    drops = []
    for option, place, default in zip(options, (first, last), (default_top, default_bottom), strict=True):
        drop = (slant if default is None else default) if place is None else slant - place[0] if place[1] else place[0]
        if not -1e-9 <= drop <= slant + 1e-9:
            raise CupgeomError(option, f"must be on the wall (drop 0 to {slant:.2f} mm), got drop {drop:.2f} mm")
        drops.append(min(max(drop, 0.0), slant))
    if drops[1] <= drops[0]:
        names = " and ".join(options)
        raise CupgeomError(names, f"leave nothing between drop {drops[0]:.2f} mm and drop {drops[1]:.2f} mm")
    return Span(top=drops[0], bottom=drops[1])


unit_option = click.option(
    "--unit", type=click.Choice(["mm", "in"]), help="Unit shown. [in when the cup is typed in inches]"
)
json_option = click.option("--json", "as_json", is_flag=True, help="Numbers for programs, mm and mm².")


def tell(notices: Sequence[object]) -> None:
    """Print doubts to stderr, a line each."""
    for notice in notices:
        click.echo(f"note: {notice}", err=True)
