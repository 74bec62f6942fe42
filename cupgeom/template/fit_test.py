"""A fit test: two narrow bands of plain paper, for the rim and for the base, that tell how well a cup is known.

Each band has a ruler across its seam. Wrapped round the cup with its top edge (the base band: its bottom edge) on the
cup's, its left end lies somewhere on that ruler: on a + mark the paper is too short by so much (a gap), on a − mark too
long (an overlap).
"""

from __future__ import annotations

import math
from dataclasses import replace

from cupgeom.cup import Cup, Span
from cupgeom.drawing import Affine, Drawing, Item, Path, Shape, Stroke, Text, polyline
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most
from cupgeom.flatten import sheet_turn_rad, to_sheet
from cupgeom.pages import Correction, Document, Frame, Paper, Placed, single_page, tiled
from cupgeom.template import guides
from cupgeom.template.template import Piece, Template

BAND = 14.0  # mm, height of each band
_REACH = 12  # mm of ruler on either side of the seam
_APART = 8.0  # mm between the bands on the paper
_MARK = Stroke(width=0.15)


def fit_test(
    cup: Cup,
    paper: Paper,
    *,
    wall_index: int = 0,
    band: float = BAND,
    margin: float = 5.0,
    inches: bool = False,
    correction: Correction = Correction(),
) -> Document:
    """The two bands as pages ready for a writer.

    Parameters
    ----------
    cup
        As it is believed to be; its name stands on the print, so that the readings find it again.
    paper
        Plain paper; several sheets are taped together where one is too short.
    wall_index
        Which wall of the cup.
    band
        Height of the bands [mm].
    margin, inches, correction
        As for a template.

    Raises
    ------
    CupgeomError
        When the wall is too low for two bands.
    """
    slant = cup.walls[wall_index].slant
    require_at_least("band", band, 10)
    require_at_most("band", band, 60)
    if slant < 2 * band:
        raise CupgeomError("band", f"two bands need a wall of {number(2 * band)} mm, got {number(round(slant, 2))} mm")
    bare = replace(cup, handle=None, bare_lip=0.0)
    start = bare.wall_tops[wall_index]
    spans = {"rim": Span(top=start, bottom=start + band), "base": Span(top=start + slant - band, bottom=start + slant)}
    drawing, cut = Drawing(), Path()
    for edge, span in spans.items():
        plain = Template(
            cup=bare, wall_index=wall_index, trim=span, overlap=_REACH + 2.0, bleed=0.0, safe=0.0, rim_band=0.0
        )
        piece = plain.pieces[0]
        part = guides.cut_drawing(piece) + Drawing(tuple(_ruler(plain, piece, edge)))
        shift = Affine()
        if drawing:
            shift = Affine.move(complex(0, drawing.bounds().bottom - _APART - part.bounds().top))
        drawing, cut = drawing + part.transformed(shift), cut + piece.cut.transformed(shift)
    frame = Frame(title=_title(cup), lines=_lines(cup), margin=margin, inches=inches)
    placed = Placed(drawing=drawing, cut=cut)
    page = single_page(placed, paper, frame, correction)
    return Document(title=frame.title, pages=(page,) if page else tiled(placed, paper, frame, correction))


def _ruler(template: Template, piece: Piece, edge: str) -> list[Item]:
    """Marks each mm along the measured edge on both sides of the seam, the front tick, and the band's name."""
    wall, span = piece.blank.wall, piece.blank.span
    at, inward = (span.top, 1.0) if edge == "rim" else (span.bottom, -1.0)
    radius = wall.radius_at(at)
    items: list[Item] = []
    for mm in range(-_REACH, _REACH + 1):
        turn = math.pi + mm / radius
        reach = 5.0 if mm == 0 else 4.0 if mm % 5 == 0 else 2.5
        ends = [complex(*to_sheet(wall, turn, at + inward * along)) for along in (0.0, reach)]
        items.append(Shape(path=polyline(ends), role="guide", stroke=_MARK, name=f"ruler {mm} mm"))
        if mm % 5 == 0:
            size = 2.2
            drop = at + inward * (reach + 0.6 + (size * 0.73 if edge == "rim" else 0))
            angle = math.degrees(sheet_turn_rad(wall, turn))
            place = complex(*to_sheet(wall, turn, drop))
            words = f"{mm:+d}".replace("-", "−") if mm else "0"
            items.append(Text(text=words, at=place, size=size, role="guide", anchor="middle", angle_deg=angle))
    for along in (0.0, math.pi / 2, -math.pi / 2):
        ends = [complex(*to_sheet(wall, along, at + inward * reach)) for reach in (0.0, 3.0)]
        items.append(Shape(path=polyline(ends), role="guide", stroke=guides.TICK, name="tick"))
    middle = complex(*to_sheet(wall, 0.25, (span.top + span.bottom) / 2 + 1))
    angle = math.degrees(sheet_turn_rad(wall, 0.25))
    items.append(Text(text=f"{edge} edge", at=middle, size=2.8, role="guide", bold=True, angle_deg=angle))
    return items


def _title(cup: Cup) -> str:
    return f"{cup.name}: fit test" if cup.name else "Fit test"


def _lines(cup: Cup) -> tuple[str, ...]:
    rim, base = cup.rings[0].diameter, cup.rings[-1].diameter
    return (
        f"rim {number(round(rim, 3))} mm · base {number(round(base, 3))} mm · slant {number(round(cup.slant, 3))} mm",
        "Cut both bands. Lay each edge on the cup's edge and close it; the left end goes over the ruler.",
        "Read where the left end lies: + is a gap, − an overlap. With the left end level on the rim, read how far the"
        " right end stands above (+) or below (−) it: the step.",
        f'Then: cupgeom measure --cup "{cup.name or "NAME"}" --paper-gap rim=…,base=…,step=…',
        "Print at 100 %, do not fit to page; then measure the bars.",
    )
