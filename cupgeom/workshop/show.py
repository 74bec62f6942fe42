"""What the customer of a job sees: the proof as a sheet, as a page to turn, as a mesh, and one view of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cupgeom.drawing import Box

if TYPE_CHECKING:
    from cupgeom.drawing import Picture
    from cupgeom.pages import Document
    from cupgeom.proof.mesh import Mesh
    from cupgeom.proof.page import ProofPage
    from cupgeom.workshop.made import Made

COLUMNS = 1600  # pixels, width of the proof sheet
STILL_COLUMNS = 900  # of the still in the page, for browsers that turn nothing
DPI = 110.0  # of what the mesh wears
VIEW = (700, 900)  # pixels of the view on the job sheet


def sizes(one: Made) -> tuple[tuple[str, str], ...]:
    """Name and value of each size, as the customer reads them."""
    said = [("cup", one.finished.caption())]
    for part in one.decals:
        design, repeat = part.decal.design, part.decal.repeat
        times = f", {repeat} times" if repeat > 1 else ""
        said.append((part.name, f"{design.width:.1f} x {design.height:.1f} mm{times}"))
    return tuple(said)


def lines(one: Made) -> tuple[str, ...]:
    """Short statements: how many, and what they are made of."""
    from cupgeom.cost.report import cups

    media = dict.fromkeys(part.decal.medium.name for part in one.decals)
    cup = f" of {one.cup.name}" if one.cup.name else ""
    return (f"{cups(one.job.quantity)}{cup}", *([f"decals: {', '.join(media)}"] if media else []))


def proof_sheet(one: Made, columns: int | None = None) -> Document:
    """Four views and the unrolled strip on one page, `COLUMNS` wide where nothing else is said."""
    from cupgeom.proof.sheet import ProofSheet, sheet

    asked = ProofSheet(title=one.job.name, mark=one.mark, lines=lines(one), names=one.texts, columns=columns or COLUMNS)
    return sheet(one.finished, asked)


def proof_mesh(one: Made, dpi: float = DPI) -> Mesh:
    """The finished cup as a mesh, with its mark."""
    from cupgeom.proof.model import model

    return model(one.finished, dpi, name=one.job.name, notes=(("proof", one.mark),))


def proof_page(one: Made, dpi: float = DPI, still_columns: int | None = None) -> ProofPage:
    """The page on which the cup turns, each text letter by letter."""
    from cupgeom.proof.page import ProofPage
    from cupgeom.raster import raster

    (page,) = proof_sheet(one, still_columns or STILL_COLUMNS).pages
    still = raster(page.drawing, Box(0.0, 0.0, page.width, page.height), 300.0, background=(1.0, 1.0, 1.0))
    return ProofPage(
        title=one.job.name,
        mesh=proof_mesh(one, dpi),
        mark=one.mark,
        sizes=sizes(one),
        lines=lines(one),
        names=one.texts,
        still=still,
    )


def view(one: Made) -> Picture:
    """The finished cup from the front."""
    from cupgeom.proof.camera import camera
    from cupgeom.proof.picture import picture

    columns, rows = VIEW
    return picture(one.finished, one.finished.textures(DPI), camera(one.finished, 0.0, columns, rows))
