"""A decal on paper: print, white underlay and cut line at true scale, ready for a writer."""

from __future__ import annotations

import math

from cupgeom.decor.decal import CUT, Decal, DecalPiece
from cupgeom.decor.silhouette import Fine
from cupgeom.drawing import Affine, Box, Drawing, Item, Path, Shape, Stroke, Text, circle, polyline
from cupgeom.drawing.vera import CAP_HEIGHT, missing_characters, text_width
from cupgeom.errors import CupgeomError, Notice, number
from cupgeom.flatten import sheet_turn_rad, to_wall
from cupgeom.pages import Correction, Document, Frame, Page, Paper, Placed, single_page
from cupgeom.units import describe_turn, format_length

MIRROR = Affine.scale(-1, 1)
_TICK, _AWAY = 3.0, 1.0  # mm, length of the centre ticks, and how far outside the cut line they begin
_LABEL = 3.0  # mm, size of the letters
_MARK = Stroke(width=0.2)
_RING = Stroke(width=0.15, dashes=(0.8, 0.5))
_MOST_RINGS = 50


def printout(
    decal: Decal,
    paper: Paper,
    *,
    margin: float = 5.0,
    inches: bool = False,
    notes: bool = True,
    cut_only: bool = False,
    correction: Correction = Correction(),
    remarks: tuple[str, ...] = (),
    fine: tuple[tuple[int, Fine], ...] = (),
) -> Document:
    """The pieces of a decal as pages, a page each.

    Parameters
    ----------
    decal
        What to make.
    paper
        A sheet that holds a piece, a roll, or paper made to fit.
    margin, inches, notes, correction, remarks
        As for a template.
    cut_only
        Cut lines and nothing else.
    fine
        Places finer than the medium bears, each with its wall (see `report`); they are ringed.

    Raises
    ------
    CupgeomError
        When the paper cannot hold a piece.
    """
    _require_made(decal)
    pages: list[Page] = []
    pieces = decal.pieces
    frame = Frame(
        title=_title(decal),
        lines=(*_caption(decal, inches, correction), *remarks),
        legend=_legend(decal, ringed=bool(fine)),
        margin=margin,
        inches=inches,
        notes=notes and not cut_only,
    )
    for order, piece in enumerate(pieces, start=1):
        ringed = [place for wall, place in fine if wall == piece.wall_index]
        placed = _placed(decal, piece, ringed, notes=notes and not cut_only, cut_only=cut_only)
        name, line = (str(order), f"piece {order} of {len(pieces)}") if len(pieces) > 1 else ("", "")
        page = single_page(placed, paper, frame, correction, name=name, number_line=line)
        if page is None:
            box = placed.drawing.bounds()
            raise CupgeomError(
                "paper",
                f"{paper.name} cannot hold {line or 'the decal'}, about {box.width:.0f} x {box.height:.0f} mm;"
                " use larger paper or make it smaller",
            )
        pages.append(page)
    return Document(title=_title(decal), pages=tuple(pages))


def picture_pages(decal: Decal) -> Document:
    """The print alone, each piece on a page of just its size, for a picture of pixels with nothing behind it."""
    _require_made(decal)
    pieces = decal.pieces
    pages = []
    for order, piece in enumerate(pieces, start=1):
        drawing = _upright(decal, piece, piece.drawing)
        box = _upright(decal, piece, Drawing((Shape(path=piece.box, role="guide"),))).bounds()
        shift = Affine.move(-complex(box.left, box.bottom))
        name = str(order) if len(pieces) > 1 else ""
        pages.append(Page(width=box.width, height=box.height, drawing=drawing.transformed(shift), name=name, trim=None))
    return Document(title=_title(decal), pages=tuple(pages))


def _require_made(decal: Decal) -> None:
    """Refuse what comes ready-made."""
    if decal.medium.process == "ready-made":
        raise CupgeomError("medium", f"{decal.medium.name} comes ready-made; there is nothing to print or cut")


def caption_notices(decal: Decal) -> tuple[Notice, ...]:
    """What of the decal's name cannot be written in the caption's font."""
    lacking = missing_characters(_title(decal))
    if not lacking:
        return ()
    return (Notice("name", f"the caption's font has no {' '.join(lacking)}", "it prints as ?; the decal keeps them"),)


def _upright(decal: Decal, piece: DecalPiece, drawing: Drawing) -> Drawing:
    """A drawing of a piece turned so that its middle stands upright, and mirrored where the medium asks for it."""
    placement = piece.placement
    turned = Affine.rotation(-math.degrees(sheet_turn_rad(placement.wall, placement.turn_rad)))
    return drawing.transformed(MIRROR @ turned if decal.medium.mirrored else turned)


def _placed(decal: Decal, piece: DecalPiece, fine: list[Fine], *, notes: bool, cut_only: bool) -> Placed:
    finished = decal.finished(piece)
    if cut_only:
        finished = finished.only(("cut",))
        if not finished:
            raise CupgeomError("medium", f"{decal.medium.name} has no cut line; leave out --cut-only")
    drawing = _upright(decal, piece, finished)
    cuts = [leaf.path for leaf in drawing.leaves() if isinstance(leaf, Shape) and leaf.role == "cut"]
    cut = cuts[0] if cuts else drawing.bounds().outline()
    if notes:
        drawing += Drawing(tuple(_marks(decal, piece, fine, drawing.bounds())))
    return Placed(drawing=drawing, cut=cut, bleed=0.0)


def ticks(decal: Decal, piece: DecalPiece, away: float) -> list[Path]:
    """Short lines outside the design box of a piece, on its sheet: at its middle, and at its baseline left and right.

    `away` is how far outside the box they begin; those that belong to the part on another wall are left out.
    """
    import numpy as np

    design, wall = decal.design, piece.placement.wall
    base = 0.0 if design.baseline is None else design.baseline
    ends = [
        (complex(0, design.height / 2 + away), 1j),
        (complex(0, -design.height / 2 - away), -1j),
        (complex(design.width / 2 + away, base), 1),
        (complex(-design.width / 2 - away, base), -1),
    ]
    found = []
    for start, way in ends:
        points = piece.placement.to_sheet(np.array([start, start + _TICK * way]))
        _, drops = to_wall(wall, points.real, points.imag, np)
        if piece.part is None or 0 <= drops.mean() <= wall.slant:
            found.append(polyline([complex(point) for point in points]))
    return found


def _marks(decal: Decal, piece: DecalPiece, fine: list[Fine], box: Box) -> list[Item]:
    """Ticks outside the cut line, rings round what is too fine, and what a mirrored sheet must say."""
    shapes = [
        Shape(path=circle(place.at, place.reach / 2 + 1), role="guide", stroke=_RING, name="too fine")
        for place in fine[:_MOST_RINGS]
    ]
    shapes += [
        Shape(path=path, role="guide", stroke=_MARK, name="centre tick")
        for path in ticks(decal, piece, decal.medium.cut_margin + _AWAY)
    ]
    items: list[Item] = [*_upright(decal, piece, Drawing(tuple(shapes))).items]
    if decal.medium.mirrored:
        at = complex(box.centre.real, box.top + _AWAY + _TICK + 1.5)
        items.append(Text(text="MIRRORED", at=at, size=_LABEL, role="guide", anchor="middle", bold=True))
    return items


def _legend(decal: Decal, *, ringed: bool) -> tuple[tuple[str, Stroke], ...]:
    cut = () if decal.medium.process == "ready-made" else (("cut line", CUT),)
    return (*cut, ("too fine for the medium", _RING)) if ringed else cut


def _title(decal: Decal) -> str:
    name = decal.design.name
    shown = name if text_width(name, CAP_HEIGHT) <= 60 else f"{name[:40]}…"
    return f"{decal.cup.name}: {shown}" if decal.cup.name else shown


def _caption(decal: Decal, inches: bool, correction: Correction) -> tuple[str, ...]:
    unit = "in" if inches else "mm"

    def size(value: float) -> str:
        return format_length(value, unit)

    span, cup, medium = decal.span, decal.cup, decal.medium
    turns = f"{decal.repeat} round the cup, from {describe_turn(decal.turn_deg)}"
    place = describe_turn(decal.turn_deg) if decal.repeat == 1 else turns
    bend = decal.bend + (f", width true at its {decal.true_at}" if decal.true_at != "middle" else "")
    turned = f" · rotated {number(decal.rotate_deg)}°" if decal.rotate_deg else ""
    ways = [medium.name]
    if medium.mirrored:
        ways.append("MIRRORED")
    if medium.white:
        ways.append("white underlay")
    if medium.cut_margin and medium.process != "ready-made":
        ways.append(f"cut {size(medium.cut_margin)} outside")
    pieces = decal.repeat + medium.spares
    if pieces > 1:
        ways.append(f"make {pieces}" + (f", {medium.spares} of them spare" if medium.spares else ""))
    lines = [
        f"{size(decal.design.width)} wide, {size(decal.design.height)} high · {bend}{turned}",
        f"{place} · drop {size(span.top)} to {size(span.bottom)}, middle {size(decal.drop)}",
        " · ".join(ways),
        f"for rim {size(cup.rings[0].diameter)} · base {size(cup.rings[-1].diameter)} · height {size(cup.height)}",
        "Print at 100 %, do not fit to page; then measure the bars.",
    ]
    if not correction.is_none:
        lines.append(
            f"Printer correction: {number(round(correction.across * 100, 3))} % along the paper's width,"
            f" {number(round(correction.along * 100, 3))} % along its length."
        )
    return tuple(lines)
