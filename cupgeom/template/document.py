"""A template on paper: single pages, taped tiles for a paper pattern, panels for a printed film."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from cupgeom.cup import Cup
from cupgeom.drawing import Affine, Drawing, Item, Stroke, Text
from cupgeom.drawing.vera import missing_characters
from cupgeom.errors import CupgeomError, Notice, number
from cupgeom.flatten import sheet_turn_rad
from cupgeom.pages import Correction, Document, Frame, Page, Paper, Placed, fits, single_page, tiled
from cupgeom.template import guides
from cupgeom.template.template import Piece, Template
from cupgeom.units import describe_turn, format_length

if TYPE_CHECKING:
    from cupgeom.template.art import Art

Purpose = Literal["pattern", "film", "cut"]
PURPOSES: tuple[Purpose, ...] = ("pattern", "film", "cut")
_MOST_PANELS = 12
_STRAIGHT = 1e6  # mm; an arc of this radius or more leaves a chord of 250 mm by less than 0.01 mm


def document(
    template: Template,
    paper: Paper,
    *,
    purpose: Purpose = "pattern",
    margin: float = 5.0,
    inches: bool = False,
    notes: bool = True,
    correction: Correction = Correction(),
    remarks: tuple[str, ...] = (),
    art: Art | None = None,
) -> Document:
    """The template as pages ready for a writer.

    Parameters
    ----------
    template
        What to make.
    paper
        A pattern that needs more than one sheet is tiled; a film is split into the fewest panels, unless the template
        says where to split.
    purpose
        ``pattern`` with all guides, ``film`` with marks outside the trim only, ``cut`` with cut lines and nothing else.
    margin
        White edge of the paper.
    inches
        Bars and caption in inches.
    notes
        False leaves bars, captions and guides out.
    correction
        What the printer's bars say.
    remarks
        Lines for the end of the caption, such as how well the cup is known.
    art
        Decals that it bears, or that a sleeve shows the place of.

    Raises
    ------
    CupgeomError
        When the paper cannot hold the wrap in this way.
    """
    if art is not None:
        remarks = (*_of_art(art), *remarks)
    title = _title(template.cup, "placement sleeve" if art is not None and art.sleeve else "wrap template")
    if purpose == "film" and not template.splits_deg:
        template = replace(template, splits_deg=_splits(template, paper, margin, inches, notes, remarks))
    frame = replace(_frame(template, purpose, margin, inches, notes, correction, remarks), title=title)
    pieces = template.pieces
    pages: list[Page] = []
    for order, piece in enumerate(pieces, start=1):
        placed = _placed(template, piece, purpose, notes)
        placed = placed if art is None else _with_art(placed, art, template, piece, purpose)
        name, line = (str(order), piece.name) if len(pieces) > 1 else ("", "")
        page = single_page(placed, paper, frame, correction, name=name, number_line=line)
        if page is not None:
            pages.append(page)
        elif purpose == "film" or paper.length is None:
            box, what = piece.bleed.bounds(), line or "the wrap"
            raise CupgeomError(
                "paper",
                f"{paper.name} cannot hold {what}, about {box.width:.0f} x {box.height:.0f} mm with its bleed;"
                " use larger paper or split it at more turns",
            )
        else:
            tiles = tiled(placed, paper, frame, correction, number_line=line)
            pages += [replace(tile, name=f"{name}-{tile.name}" if name else tile.name) for tile in tiles]
    return Document(title=frame.title, pages=tuple(pages))


def joined(documents: Sequence[Document]) -> Document:
    """The pages of the walls of one cup in one document, each page named after its wall, counted from the top."""
    if len(documents) == 1:
        return documents[0]
    pages = [
        replace(page, name=f"wall{order}-{page.name}" if page.name else f"wall{order}")
        for order, part in enumerate(documents, start=1)
        for page in part.pages
    ]
    return Document(title=documents[0].title, pages=tuple(pages))


def caption_notices(template: Template) -> tuple[Notice, ...]:
    """What cannot be written in the caption's font."""
    lacking = missing_characters(template.cup.name)
    if not lacking:
        return ()
    return (Notice("name", f"the caption's font has no {' '.join(lacking)}", "it prints as ?; the cup keeps its name"),)


def _placed(template: Template, piece: Piece, purpose: Purpose, notes: bool) -> Placed:
    if purpose == "cut" or not notes:
        drawing = guides.cut_drawing(piece)
    elif purpose == "film":
        drawing = guides.film_drawing(template, piece)
    else:
        drawing = guides.pattern_drawing(template, piece)
    middle = (piece.blank.left_rad + piece.blank.right_rad) / 2
    upright_deg = -math.degrees(sheet_turn_rad(piece.blank.wall, middle))
    bleed = 0.0 if purpose == "cut" else template.bleed
    return Placed(drawing=drawing, cut=piece.cut, bleed=bleed, upright_deg=round(upright_deg, 9) + 0.0)


def _with_art(placed: Placed, art: Art, template: Template, piece: Piece, purpose: Purpose) -> Placed:
    """The piece with the print of its decals under all marks, or with openings for them; mirrored where asked."""
    from cupgeom.template.art import openings, print_on

    if art.sleeve:
        shown = openings(art, template, piece)
        drawing = placed.drawing + (shown.only(("cut",)) if purpose == "cut" else shown)
        return replace(placed, drawing=drawing)
    printed = Drawing() if purpose == "cut" else print_on(art, template, piece)
    placed = replace(placed, drawing=printed + placed.drawing)
    if not art.mirrored:
        return placed
    mirror = Affine.scale(-1, 1)
    drawing, angle = placed.drawing.transformed(mirror), -placed.upright_deg
    if purpose != "cut":
        drawing += Drawing((_mirrored_label(drawing, angle),))
    return replace(placed, drawing=drawing, cut=placed.cut.transformed(mirror), upright_deg=angle)


def _mirrored_label(drawing: Drawing, upright_deg: float) -> Item:
    """The word that keeps a mirrored sheet from being taken for a readable one, above it when it stands upright."""
    box = drawing.transformed(Affine.rotation(upright_deg)).bounds()
    at = Affine.rotation(-upright_deg)(complex(box.centre.real, box.top + 1.5))
    return Text(text="MIRRORED", at=at, size=4.0, role="guide", anchor="middle", angle_deg=-upright_deg, bold=True)


def _of_art(art: Art) -> tuple[str, ...]:
    """What the caption says of the decals."""
    names = ", ".join(
        f"{decal.design.name} ({describe_turn(decal.turn_deg)}, drop {number(round(decal.drop, 2))} mm)"
        + (f" {decal.repeat} times" if decal.repeat > 1 else "")
        for decal in art.decals
    )
    if art.sleeve:
        return (f"Placement sleeve: {names}. Openings are 1 mm larger than the decals.",)
    ways = " · white underlay" * art.white + " · MIRRORED" * art.mirrored
    return (f"Bears {names}{ways}",)


def _frame(
    template: Template,
    purpose: Purpose,
    margin: float,
    inches: bool,
    notes: bool,
    correction: Correction,
    remarks: tuple[str, ...],
) -> Frame:
    return Frame(
        title=_title(template.cup),
        lines=(*_caption(template, purpose, inches, correction), *remarks),
        legend=_legend(template, purpose),
        margin=margin,
        inches=inches,
        notes=notes and purpose != "cut",
    )


def _legend(template: Template, purpose: Purpose) -> tuple[tuple[str, Stroke], ...]:
    """The lines that occur, each with its look."""
    drawn = {
        "trim": True,
        "bleed": template.bleed > 0,
        "safe margin": purpose == "pattern" and template.safe > 0,
        "seam": purpose == "pattern" and template.seam != "butt" and (template.is_closed or bool(template.splits_deg)),
        "quarter line": purpose == "pattern",
    }
    return tuple((name, stroke) for name, stroke in guides.LEGEND.items() if drawn[name])


def _title(cup: Cup, what: str = "wrap template") -> str:
    return f"{cup.name}: {what}" if cup.name else what.capitalize()


def _caption(template: Template, purpose: Purpose, inches: bool, correction: Correction) -> tuple[str, ...]:
    cup, wall, unit = template.cup, template.wall, "in" if inches else "mm"

    def size(value: float) -> str:
        return format_length(value, unit)

    span = template.trim_span
    top = wall.sheet_radius_at(span.top - template.wall_span.top)
    bottom = wall.sheet_radius_at(span.bottom - template.wall_span.top)
    flat = "flat form straight"
    if top is not None and bottom is not None and max(top, bottom) < _STRAIGHT:
        flat = f"flat radii {size(top)} and {size(bottom)}, angle {math.degrees(wall.sector_angle_rad):.3f}°"
    seam = "butt seam" if template.seam == "butt" else f"{template.seam} tab {size(template.overlap)}"
    kind = f"closed wrap, {seam}" if template.is_closed else "open wrap"
    if len(cup.walls) > 1:
        kind = f"wall {template.wall_index + 1} of {len(cup.walls)} · {kind}"
    area = cup.area_between(span.top, span.bottom)
    shown = f"{area / 645.16:.2f} in²" if inches else f"{area / 100:.2f} cm²"
    lines = [
        f"rim {size(cup.rings[0].diameter)} · base {size(cup.rings[-1].diameter)} · height {size(cup.height)}"
        f" · slant {size(cup.slant)}",
        f"{kind} · drop {size(span.top)} to {size(span.bottom)} · area {shown} · {flat}",
        f"bleed {size(template.bleed)} · safe {size(template.safe)}" + _clearances(template, size),
        *(_hatching(template, size) if purpose == "pattern" else ()),
        "Print at 100 %, do not fit to page; then measure the bars.",
    ]
    if not correction.is_none:
        lines.append(
            f"Printer correction: {number(round(correction.across * 100, 3))} % along the paper's width,"
            f" {number(round(correction.along * 100, 3))} % along its length."
        )
    return tuple(lines)


def _clearances(template: Template, size: Callable[[float], str]) -> str:
    """The clearances that count here."""
    words = ""
    if template.notches and template.cup.handle:
        words += f" · handle clearance {size(template.cup.handle.clearance)}"
    if template.trim is None and template.base_clearance:
        words += f" · base clearance {size(template.base_clearance)}"
    return words


def _hatching(template: Template, size: Callable[[float], str]) -> list[str]:
    """What the hatching means, where there is some."""
    lines = []
    if template.rim_span:
        lines.append(f"Wide hatching: rim band of {size(template.rim_band)}, where lips touch; better not decorated.")
    if template.bare_span or (template.notches and template.is_closed):
        lines.append("Close hatching: no ink here.")
    return lines


def _splits(
    template: Template, paper: Paper, margin: float, inches: bool, notes: bool, remarks: tuple[str, ...]
) -> tuple[float, ...]:
    """Turns that split a film into the fewest panels that the paper holds, the front as far from a split as can be."""
    frame = _frame(template, "film", margin, inches, notes, Correction(), remarks)

    def one_fits(piece: Piece) -> bool:
        return fits(_placed(template, piece, "film", notes), paper, frame)

    def width_fits(span_deg: float) -> bool:
        half = math.radians(span_deg) / 2
        return one_fits(template.piece("panel", -half, half))

    if one_fits(template.pieces[0]):
        return ()
    first, last = (math.degrees(turn) for turn in template.ends_rad)
    # a panel must hold twice its tab, bleed or safe margin, and one at an end must reach past the handle
    least = 2 * max(template.overlap, template.bleed, template.safe) / template.narrowest_radius
    narrowest = max(15.0, 1.1 * math.degrees(least), last - math.degrees(template.free_rad) + 0.001)
    low, high = 360 / _MOST_PANELS, last - first
    while high - low > 0.25:
        middle = (low + high) / 2
        low, high = (middle, high) if width_fits(middle) else (low, middle)
    widest, step = math.floor(low * 2) / 2, 0.5
    while widest >= 360 / _MOST_PANELS:  # panels away from the front have other labels, which may need more room
        splits = front_in_the_middle(first, last, widest, narrowest)
        if splits and all(map(one_fits, replace(template, splits_deg=splits).pieces)):
            return splits
        widest, step = widest - step, step * 1.2
    raise CupgeomError("paper", f"{paper.name} is too small for panels of this wrap; use larger paper")


def front_in_the_middle(first: float, last: float, widest: float, narrowest: float) -> tuple[float, ...]:
    """Splits of first…last [degrees] into the fewest parts of `narrowest` to `widest`, turn 0 as far off as can be.

    Nothing when that cannot be done with twelve parts.
    """
    for count in range(2, _MOST_PANELS + 1):
        choices = (
            _part_with_front(first, last, before, count - 1 - before, widest, narrowest) for before in range(count)
        )
        found = [choice for choice in choices if choice]
        if found:
            _, before, left, right = max(found, key=lambda choice: round(choice[0], 6))
            after = count - 1 - before
            splits = [first + (-left - first) * i / before for i in range(1, before + 1)]
            splits += [right + (last - right) * i / after for i in range(after)]
            return tuple(round(split, 3) for split in splits)
    return ()


def _part_with_front(
    first: float, last: float, before: int, after: int, widest: float, narrowest: float
) -> tuple[float, int, float, float] | None:
    """The part that holds turn 0, with so many parts on either side: its clearance, `before`, its reach left and right.

    The others take `narrowest` to `widest` each, so that its reach on their side lies within bounds.
    """
    least_left, most_left = max(-first - before * widest, 0.0), -first - before * narrowest
    least_right, most_right = max(last - after * widest, 0.0), last - after * narrowest
    left = min(max(widest / 2, least_left, widest - most_right), most_left, widest - least_right)
    right = min(widest - left, most_right)
    if left < least_left or right < least_right:
        return None
    return min(left if before else 180.0, right if after else 180.0), before, left, right
