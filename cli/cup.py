"""The cup that a command is about: typed sizes, or a name from the shop file, under the coats it has by now."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError, Notice, require_at_least, within

from . import shop
from .options import DROP, LENGTH, Inches, naming, read_length, span_from

if TYPE_CHECKING:
    from cupgeom.cup import Cup, Handle
    from cupgeom.measure import Measured
    from cupgeom.shelf import ShelfCup

SMALLEST_SIZE = 1.0  # mm; far below any drink cup, so that a slipped unit is noticed
_CUP_FIELDS = {
    "rim_diameter": "--rim",
    "base_diameter": "--base",
    "height": "--height",
    "walls": "--height",
    "rings": "--height",
    "bare_lip": "--bare-lip",
    "coated": "--coated-to",
    "coated.top": "--coated-from",
    "coated.bottom": "--coated-to",
    "film": "--film",
}
_SIZES = ("rim", "base", "height")
_EXACT = (
    0.1  # mm, k = 1; what typed sizes are taken to be good for when a reading on the coated cup joins them: assumed
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The cup as it is now, with what the shop file and the readings say besides."""

    cup: Cup
    inches: bool
    remarks: tuple[str, ...] = ()
    notices: tuple[Notice, ...] = ()
    entry: ShelfCup | None = None


def cup_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options that describe a cup; `choose` reads them."""
    for decorate in reversed(
        [
            click.option("--cup", metavar="NAME", help="A cup of the shop file, in place of the sizes."),
            click.option("--rim", type=LENGTH, help="Outside diameter at the top edge. [required without --cup]"),
            click.option("--base", type=LENGTH, help="Outside diameter at the base edge. [required without --cup]"),
            click.option("--height", type=LENGTH, help="Height straight up. [required without --cup]"),
            click.option("--name", default="", help="What you call the cup, for the caption."),
            click.option(
                "--foot",
                "feet",
                metavar="WIDTH,FROM,TO",
                multiple=True,
                help="A foot of the handle: its width, and the drops where it begins and ends. Once for each foot.",
            ),
            click.option("--clearance", type=LENGTH, default=3.0, help="Free space round each foot. [3 mm]"),
            click.option("--handle-comes-off", is_flag=True, help="Take the handle off and wrap all round."),
            click.option("--bare-lip", type=LENGTH, default=0.0, help="Drop down to which the lip stays bare. [0 mm]"),
            click.option("--coated-from", type=DROP, help="Where resin begins. [the bare lip]"),
            click.option("--coated-to", type=DROP, help="Where resin ends. [the base edge]"),
            click.option("--base-coated", is_flag=True, help="The underside gets resin too."),
            click.option("--film", type=LENGTH, default=0.0, help="Coats on the wall by now. [0 mm]"),
            click.option(
                "--around",
                "arounds",
                metavar="READING",
                multiple=True,
                help="Tape round the coated cup, such as 258mm@75mm: the reading, then its drop. It beats --film.",
            ),
            shop.shop_option,
        ]
    ):
        command = decorate(command)
    return command


def coat_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The coats that are on the cup by now, in place of --film; `choose` reads them."""
    for decorate in reversed(
        [
            click.option("--coats", metavar="COATS", help="The coats of the cup, as for cupgeom resin."),
            click.option("--after-coat", type=int, metavar="NUMBER", help="How many of --coats are on by now."),
        ]
    ):
        command = decorate(command)
    return command


def choose(given: Mapping[str, Any], *, sheet: bool = False) -> Chosen:
    """The cup that the options describe, under its coats; `sheet` asks for the part that one flat sheet can follow."""
    entry = shop.entry(given, given["cup"]) if given["cup"] else None
    plain, known = entry.sheet() if entry and sheet else (entry.cup(), ()) if entry else (typed_cup(given), ())
    bare = _named(given, entry, plain) if entry else plain
    inches = given["unit"] == "in" or (
        given["unit"] is None and (entry.inches if entry else isinstance(given["rim"], Inches))
    )
    measured = entry.measured() if entry else None
    remarks: tuple[str, ...] = ()
    notices = (*known, *(measured.notices if measured else ()))
    if measured:
        from cupgeom.measure import ranges

        remarks = (ranges(measured, "in" if inches else "mm"),)
    cup, more, said = _coated(given, bare, entry)
    return Chosen(cup=cup, inches=inches, remarks=remarks + more, notices=notices + said, entry=entry)


def typed_cup(given: Mapping[str, Any]) -> Cup:
    """The cup of the typed sizes."""
    from cupgeom import units
    from cupgeom.cup import Cup

    for option in _SIZES:
        if given[option] is None:
            raise CupgeomError(f"--{option}", f"is missing; give {units.LENGTH_FORMS}")
        require_at_least(f"--{option}", given[option], SMALLEST_SIZE)
    require_at_least("--clearance", given["clearance"], 0)
    feet = {f"handle.feet[{index}]": f"--foot {text}" for index, text in enumerate(given["feet"])}
    with naming(_CUP_FIELDS | feet):
        plain = Cup.frustum(given["rim"], given["base"], given["height"])
        return Cup.frustum(
            float(given["rim"]),
            float(given["base"]),
            float(given["height"]),
            name=given["name"],
            handle=_handle(given),
            bare_lip=given["bare_lip"],
            coated=span_from(
                plain, given["coated_from"], given["coated_to"], ("--coated-from", "--coated-to"), given["bare_lip"]
            ),
            base_coated=given["base_coated"],
        )


def _named(given: Mapping[str, Any], entry: ShelfCup, cup: Cup) -> Cup:
    """The cup of the shop file; its sizes and feet are not typed again."""
    typed = [f"--{option}" for option in _SIZES if given[option] is not None] + ["--foot"] * bool(given["feet"])
    if typed:
        raise CupgeomError(typed[0], f"cannot stand beside --cup {entry.name!r}; leave one of the two out")
    with naming(_CUP_FIELDS):
        if given["bare_lip"]:
            cup = replace(cup, bare_lip=given["bare_lip"])
        coated = span_from(
            cup, given["coated_from"], given["coated_to"], ("--coated-from", "--coated-to"), cup.bare_lip
        )
        cup = replace(cup, coated=coated) if coated else cup
    return replace(cup, name=given["name"] or cup.name, base_coated=given["base_coated"] or cup.base_coated)


def _coated(
    given: Mapping[str, Any], bare: Cup, entry: ShelfCup | None
) -> tuple[Cup, tuple[str, ...], tuple[Notice, ...]]:
    """The cup under its coats, what the caption says of them, and what there is to note."""
    film = _film(given, bare)
    notices: list[Notice] = []
    if given["arounds"]:
        predicted, measured = film, _measured_now(given, film, entry)
        film = max(measured.film, 0.0)
        bare = replace(bare, rings=measured.cup.rings)
        notices += [*measured.notices, *_against_prediction(predicted, measured)]
    if not film:
        return bare, (), tuple(notices)
    from cupgeom.summary import build_up

    with naming(_CUP_FIELDS):
        grown = bare.grown(film)
    notices.append(build_up(bare, film))
    return grown, (f"made for the cup under {film:.2f} mm of coats",), tuple(notices)


def _against_prediction(film: float, measured: Measured) -> list[Notice]:
    """What the tape says of the predicted film."""
    said = [
        residual.error
        for residual in measured.residuals
        if residual.name == "predicted film" and residual.error is not None
    ]
    if not film or not said:
        return []
    return [
        Notice(
            "film", f"predicted {film:.2f} mm, measured {film - said[0]:.2f} mm: {said[0]:+.2f} mm predicted in excess"
        )
    ]


def _film(given: Mapping[str, Any], bare: Cup) -> float:
    """How thick the coats are by now: as stated, or of so many of the coats that are named."""
    film: float = given["film"]
    require_at_least("--film", film, 0)
    coats, count = given.get("coats"), given.get("after_coat")
    if count is None:
        return film
    if film:
        raise CupgeomError("--after-coat", "cannot stand beside --film; leave one of the two out")
    if coats is None:
        raise CupgeomError("--after-coat", "needs the coats; give them with --coats, such as tack,flood,flood")
    from cupgeom.coating.coats import build_up, parse_coats

    with naming({"coats": "--coats", "count": "--after-coat"}):
        return build_up(bare, parse_coats(coats), count)


def _measured_now(given: Mapping[str, Any], film: float, entry: ShelfCup | None) -> Measured:
    """The bare cup and its film from all readings: those of the bare cup, the predicted film, the tape round it now."""
    from cupgeom.shelf import Read, Readings, parse_amount

    if entry:
        start = entry.readings()
    else:
        sizes = (Read(option=option, value=float(given[option]), uncertainty=_EXACT) for option in _SIZES)
        start = Readings(reads=tuple(sizes))
    try:
        predicted = [Read(option="film", value=film)] if film else []
        now = [Read.of("around", parse_amount(text), coated=True) for text in given["arounds"]]
        return start.followed_by(Readings(reads=(*predicted, *now))).fitted()
    except CupgeomError as error:
        raise CupgeomError("--around", error.what) from None


def _handle(given: Mapping[str, Any]) -> Handle | None:
    from cupgeom.cup import Foot, Handle

    if not given["feet"]:
        return None
    feet = []
    for index, text in enumerate(given["feet"]):
        parts = text.split(",")
        if len(parts) != 3:
            raise CupgeomError("--foot", f"cannot read {text!r}; give width,from,to such as 14mm,15mm,30mm")
        width, top, bottom = (read_length(part, f"--foot {text}") for part in parts)
        with within(f"handle.feet[{index}]"):
            feet.append(Foot(width=width, top=top, bottom=bottom))
    return Handle(feet=tuple(feet), clearance=given["clearance"], removable=given["handle_comes_off"])
