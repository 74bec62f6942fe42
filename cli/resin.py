"""`cupgeom resin`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError, Notice

from . import shop, store
from .cup import choose, cup_options
from .options import LENGTH, WORDS, Command, json_option, naming, tell

if TYPE_CHECKING:
    from cupgeom.coating.estimate import Bench, Estimate
    from cupgeom.coating.log import Habits
    from cupgeom.coating.resin import Resin
    from cupgeom.cup import Cup

COATS = """COATS   tack, flood, vein and clear with commas between; the film or
        the mL on one cup behind an =: flood=0.6mm, clear=14mL; for a
        vein coat behind a / the small cups, behind an @ the colorant:
        vein=26mL/3@2%"""
EXAMPLES = """\b
Examples:
  cupgeom resin --rim 88mm --base 70mm --height 170mm --bare-lip 6mm \\
    --coats "tack, flood, flood, clear" --rack 5rpm
  cupgeom resin --cup "tapered 20" --cups 4 --coats tack,flood=0.6mm,vein/3 \\
    -o mix.pdf -o film.svg --force"""
_FIELDS = {
    "coats": "--coats",
    "speed_rpm": "--rack",
    "room": "--room",
    "room_c": "--room",
    "cup_c": "--warm-cup",
    "cups": "--cups",
    "minutes_a_cup": "--minutes-a-cup",
    "pot_life_min": "--minutes-a-cup",
    "mark_ml": "--mark",
    "flake": "--flake",
    "voids": "--voids",
    "paper": "--paper",
    "coated": "--coated-to",
}
_ENDINGS = (".pdf", ".svg")


@click.command(name="resin", cls=Command, epilog=f"{WORDS}\n{COATS}\n\n{EXAMPLES}")
@cup_options
@click.option("--coats", required=True, metavar="COATS", help="The coats, in the order in which they are laid.")
@click.option("--resin", metavar="NAME", help="A resin of the shop file. [its only one]")
@click.option("--rack", default="5rpm", metavar="SPEED", help="Turns a minute, or a rack of the shop file. [5rpm]")
@click.option("--cups", type=int, default=1, help="How many are coated alike. [1]")
@click.option("--minutes-a-cup", type=float, default=10.0, help="To lay one coat on one cup. [10]")
@click.option("--room", type=float, default=22.0, help="Temperature of the room in °C. [22]")
@click.option("--warm-cup", type=float, help="Temperature of a warmed cup in °C. [that of the room]")
@click.option("--mark", type=float, default=2.5, help="Step between the marks of the measuring cup in mL. [2.5]")
@click.option("--flake", type=LENGTH, help="Width of a glitter flake, 0 for none. [0.4 mm after a tack coat]")
@click.option("--voids", type=float, default=0.7, help="Share of the glitter's layer that is air. [0.7]")
@click.option("--bottles", metavar="A,B", help="What the two bottles hold in mL, to see what remains: 400,350.")
@click.option("--log", metavar="FILE", help="Your bench log: CSV with cup, coat, mixed, left, dripped, film.")
@click.option("--paper", default="a4", metavar="PAPER", help="Sheet of the mixing page. [a4]")
@click.option(
    "-o",
    "--output",
    "outputs",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=Path),
    help="mix.pdf: a mixing page for the wall; film.svg: a picture of the film. May be given twice.",
)
@click.option("--force", is_flag=True, help="Replace files that exist.")
@json_option
def command(**given: Any) -> None:
    """Millilitres of resin coat by coat, and whether the rack holds them."""
    from cupgeom.coating import report
    from cupgeom.coating.cautions import ADVICE, CAUTIONS
    from cupgeom.coating.coats import parse_coats
    from cupgeom.coating.estimate import estimate

    for path in given["outputs"]:
        _check(path, force=given["force"])
    chosen = choose(given | {"unit": None})
    with naming(_FIELDS):
        coats = parse_coats(given["coats"])
        resin, remarks = _resin(given)
        bench = _bench(given, glitter=any(coat.kind == "tack" for coat in coats))
        found = _learnt(given, chosen.cup, resin, bench) if given["log"] else None
        result = estimate(chosen.cup, coats, resin, found.of(bench) if found else bench)
        bottles = _bottles(given["bottles"])
        files = {path: _file(path, result, given["paper"]) for path in given["outputs"]}
    if len(files) < len(given["outputs"]):
        raise CupgeomError("-o", "names one file twice; give two names")
    store.refuse_inputs(files)
    store.write_all(files)
    if given["as_json"]:
        import json

        click.echo(json.dumps(report.numbers(result, found), indent=2, allow_nan=False))
    else:
        click.echo(report.table(result))
        if bottles:
            click.echo(report.bottles(result, *bottles))
        if found:
            click.echo(report.habits(found))
    tell([*chosen.notices, *remarks, *(found.notices if found else ()), *result.notices])
    for line in (*ADVICE, *CAUTIONS):
        click.echo(f"mind: {line}", err=True)
    for path in files:
        click.echo(f"wrote {path}", err=True)


def _check(path: Path, *, force: bool) -> None:
    if path.suffix.lower() not in _ENDINGS:
        raise CupgeomError("-o", f"unknown ending of {str(path)!r}; give mix.pdf, film.svg, or both")
    store.check_free(path, force=force)


def _resin(given: Mapping[str, Any]) -> tuple[Resin, tuple[Notice, ...]]:
    """The resin that is meant; the invented example where there is none."""
    from cupgeom.coating.resin import EXAMPLE

    known = shop.shelf(given).resins if given["resin"] or shop.shop_path(given).exists() else ()
    if given["resin"]:
        with naming({"resin": "--resin"}):
            return shop.shelf(given).resin(given["resin"]), ()
    if len(known) > 1:
        raise CupgeomError("--resin", f"name one of {', '.join(resin.name for resin in known)}")
    if known:
        return known[0], ()
    what = "the shop file names none; an invented example stands in, whose numbers are nobody's"
    return EXAMPLE, (Notice("resin", what, "put your own under [resins.NAME], from its data sheet"),)


def _bench(given: Mapping[str, Any], *, glitter: bool) -> Bench:
    from cupgeom.coating.estimate import Bench
    from cupgeom.coating.glitter import FLAKE, Glitter

    flake = given["flake"] if given["flake"] is not None else FLAKE if glitter else 0.0
    return Bench(
        speed_rpm=_speed(given),
        room_c=given["room"],
        cup_c=given["warm_cup"],
        cups=given["cups"],
        minutes_a_cup=given["minutes_a_cup"],
        mark_ml=given["mark"],
        glitter=Glitter(flake=flake, voids=given["voids"]) if flake else None,
    )


def _speed(given: Mapping[str, Any]) -> float:
    """Turns a minute: typed, or of a rack of the shop file."""
    match = re.fullmatch(r"(\d{1,6}(?:\.\d*)?)\s*(?:rpm)?", given["rack"].strip())
    if match:
        return float(match[1])
    if not shop.shop_path(given).exists():
        raise CupgeomError("--rack", f"cannot read {given['rack']!r}; give turns a minute such as 5rpm")
    with naming({"rack": "--rack"}):
        return shop.shelf(given).rack(given["rack"])


def _learnt(given: Mapping[str, Any], cup: Cup, resin: Resin, bench: Bench) -> Habits:
    """What the log says, with the cups of the shop file and this one."""
    from cupgeom.coating.log import learn_of
    from cupgeom.coating.pots import parse_log

    path = Path(given["log"])
    entries = parse_log(store.text_of(path), str(path))
    others = {entry.cup for entry in entries} - {cup.name}
    shelf = shop.shelf(given).cups if others and shop.shop_path(given).exists() else ()
    cups = {one.name: one.cup() for one in shelf if one.name in others} | {cup.name: cup}
    return learn_of(entries, cups, resin, bench, str(path))


def _bottles(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    match = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*,\s*(\d+(?:\.\d*)?)\s*", text)
    if match is None:
        raise CupgeomError("--bottles", f"cannot read {text!r}; give the mL of A and of B such as 400,350")
    return float(match[1]), float(match[2])


def _file(path: Path, result: Estimate, paper: str) -> bytes:
    if path.suffix.lower() == ".svg":
        from cupgeom.coating.film_picture import film_picture
        from cupgeom.writers import svg

        return svg.render(film_picture(result))
    from cupgeom.coating.mix_page import mix_page
    from cupgeom.pages import parse_paper
    from cupgeom.writers import pdf

    return pdf.render(mix_page(result, parse_paper(paper)))
