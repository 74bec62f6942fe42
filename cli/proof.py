"""`cupgeom proof`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import Notice

from . import store
from .formats import require_ending
from .jobfile import job_file, job_options
from .options import Command, json_option, naming, tell

if TYPE_CHECKING:
    from cupgeom.workshop import Made

EXAMPLES = """\b
Examples:
  cupgeom proof comet.toml -o proof.png --size 800
  cupgeom proof comet.toml -o proof.html -o proof.glb --size 600 --force"""


@click.command(name="proof", cls=Command, epilog=EXAMPLES)
@click.argument("job", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    "outputs",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=Path),
    help="proof.png: four views; proof.html: a page to turn the cup on; proof.glb: a model. May be given again.",
)
@click.option("--size", type=int, default=1600, help="Width of the four views in pixels. [1600]")
@click.option("--dpi", type=float, default=110.0, help="Of what the model wears. [110]")
@click.option("--force", is_flag=True, help="Replace files that exist.")
@job_options
@json_option
def command(**given: Any) -> None:
    """What the customer sees and approves: views, a turning cup, the mark."""
    from cupgeom.workshop import made

    for path in given["outputs"]:
        require_ending(path, list(_WRITERS))
        store.check_free(path, force=given["force"])
    file = job_file(given["job"], given)
    one = made(file.job, file.read)
    with naming({"columns": "--size", "dpi": "--dpi"}):
        files = {path: _WRITERS[path.suffix.lower()](one, given) for path in given["outputs"]}
    store.refuse_inputs(files)
    store.write_all(files)
    if given["as_json"]:
        import json

        click.echo(json.dumps(_numbers(one), indent=2, allow_nan=False))
    else:
        click.echo(_table(one))
    tell(_notices(one))
    for path in files:
        click.echo(f"wrote {path}", err=True)


def _table(one: Made) -> str:
    """The mark, sizes, and each line as the customer is asked to read it."""
    from cupgeom.workshop.show import sizes

    rows = [("proof", one.mark), *sizes(one), *(("reads", line) for line in one.texts)]
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"{name:<{width}}  {value}" for name, value in rows)


def _numbers(one: Made) -> dict[str, object]:
    return {
        "job": one.job.name,
        "mark": one.mark,
        "approved": one.job.approved or None,
        "decals": [
            {"name": part.name, "width": part.decal.design.width, "height": part.decal.design.height}
            for part in one.decals
        ],
        "texts": list(one.texts),
    }


def _notices(one: Made) -> tuple[Notice, ...]:
    """What concerns the customer; an order of work that cannot be is no reason to show nothing."""
    from cupgeom.proof.mark import same_mark

    found = list(one.job.notices)
    for name, report in one.reports.items():
        found += [replace(notice, where=f"decals.{name}, {notice.where}") for notice in report.notices]
    approved = one.job.approved
    if approved and not same_mark(approved, one.mark):
        what = f"was {approved}; now the mark is {one.mark}: art, text, cup or medium has changed"
        found.append(Notice("approved", what, "show the customer the new proof"))
    return tuple(dict.fromkeys(found))


def _png(one: Made, given: Mapping[str, Any]) -> bytes:
    from cupgeom.workshop.show import proof_sheet
    from cupgeom.writers import png

    return png.render(proof_sheet(one, given["size"]))


def _html(one: Made, given: Mapping[str, Any]) -> bytes:
    from cupgeom.workshop.show import STILL_COLUMNS, proof_page
    from cupgeom.writers import html

    return html.render(proof_page(one, given["dpi"], min(given["size"], STILL_COLUMNS)))


def _glb(one: Made, given: Mapping[str, Any]) -> bytes:
    from cupgeom.workshop.show import proof_mesh
    from cupgeom.writers import glb

    return glb.render(proof_mesh(one, given["dpi"]))


_WRITERS: Mapping[str, Callable[[Made, Mapping[str, Any]], bytes]] = {".png": _png, ".html": _html, ".glb": _glb}
