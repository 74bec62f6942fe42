"""A template on paper: single pages, taped tiles for a paper pattern, panels for a printed film."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from cupgeom.cup import Cup
from cupgeom.drawing.vera import missing_characters
from cupgeom.errors import CupgeomError, Notice, number
from cupgeom.flatten import sheet_turn_rad
from cupgeom.pages import Correction, Document, Frame, Page, Paper, Placed, fits, single_page, tiled
from cupgeom.template import guides
from cupgeom.template.template import Piece, Template
from cupgeom.units import format_length

Purpose = Literal["pattern", "film", "cut"]
PURPOSES: tuple[Purpose, ...] = ("pattern", "film", "cut")
_MOST_PANELS = 12


def document(
    template: Template,
    paper: Paper,
    *,
    purpose: Purpose = "pattern",
    margin: float = 5.0,
    inches: bool = False,
    notes: bool = True,
    correction: Correction = Correction(),
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

    Raises
    ------
    CupgeomError
        When the paper cannot hold the wrap in this way.
    """
    if purpose == "film" and not template.splits_deg:
        template = replace(template, splits_deg=_splits(template, paper, margin, inches, notes))
    frame = _frame(template, purpose, margin, inches, notes, correction)
    pieces = template.pieces
    pages: list[Page] = []
    for order, piece in enumerate(pieces, start=1):
        placed = _placed(template, piece, purpose, notes)
        line = f"{piece.name}" if len(pieces) > 1 else ""
        page = single_page(
            placed, paper, frame, correction, name=str(order) if len(pieces) > 1 else "", number_line=line
        )
        if page is not None:
            pages.append(page)
        elif purpose == "film" or paper.length is None:
            box = piece.bleed.bounds()
            raise CupgeomError(
                "paper",
                f"{paper.name} cannot hold {piece.name}, about {box.width:.0f} x {box.height:.0f} mm with its bleed;"
                " use larger paper or split it at more turns",
            )
        elif len(pieces) > 1:
            pages += [replace(tile, name=f"{order}-{tile.name}") for tile in tiled(placed, paper, frame, correction)]
        else:
            pages += tiled(placed, paper, frame, correction)
    return Document(title=_title(template.cup), pages=tuple(pages))


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


def _frame(
    template: Template, purpose: Purpose, margin: float, inches: bool, notes: bool, correction: Correction
) -> Frame:
    return Frame(
        title=_title(template.cup),
        lines=_caption(template, inches, correction),
        legend=tuple(
            (name, stroke) for name, stroke in guides.LEGEND if purpose == "pattern" or name in {"trim", "bleed"}
        ),
        margin=margin,
        inches=inches,
        notes=notes and purpose != "cut",
    )


def _title(cup: Cup) -> str:
    return f"{cup.name}: wrap template" if cup.name else "Wrap template"


def _caption(template: Template, inches: bool, correction: Correction) -> tuple[str, ...]:
    cup, wall, unit = template.cup, template.wall, "in" if inches else "mm"

    def size(value: float) -> str:
        return format_length(value, unit)

    span = template.trim_span
    top = wall.sheet_radius_at(span.top - template.wall_span.top)
    bottom = wall.sheet_radius_at(span.bottom - template.wall_span.top)
    flat = "flat form straight"
    if top is not None and bottom is not None:
        flat = f"flat radii {size(top)} and {size(bottom)}, angle {math.degrees(wall.sector_angle_rad):.3f}°"
    seam = "butt seam" if template.seam == "butt" else f"{template.seam} tab {size(template.overlap)}"
    kind = f"closed wrap, {seam}" if template.is_closed else "open wrap"
    area = cup.area_between(span.top, span.bottom)
    shown = f"{area / 645.16:.2f} in²" if inches else f"{area / 100:.2f} cm²"
    lines = [
        f"rim {size(cup.rings[0].diameter)} · base {size(cup.rings[-1].diameter)} · height {size(cup.height)}"
        f" · slant {size(cup.slant)}",
        f"{kind} · drop {size(span.top)} to {size(span.bottom)} · area {shown} · {flat}",
        f"bleed {size(template.bleed)} · safe {size(template.safe)}",
        "Print at 100 %, do not fit to page; then measure the bars.",
    ]
    if not correction.is_none:
        lines.append(
            f"Printer correction: {number(round(correction.across * 100, 3))} % along the paper's width,"
            f" {number(round(correction.along * 100, 3))} % along its length."
        )
    return tuple(lines)


def _splits(template: Template, paper: Paper, margin: float, inches: bool, notes: bool) -> tuple[float, ...]:
    """Turns that split a film into the fewest panels, the front as far from a split as it can be."""
    frame = _frame(template, "film", margin, inches, notes, Correction())

    def one_fits(span_deg: float) -> bool:
        half = math.radians(span_deg) / 2
        return fits(_placed(template, template.piece("panel", -half, half), "film", notes), paper, frame)

    first, last = (math.degrees(turn) for turn in template.ends_rad)
    if fits(_placed(template, template.pieces[0], "film", notes), paper, frame):
        return ()
    low, high = 360 / _MOST_PANELS, last - first
    if not one_fits(low):
        raise CupgeomError("paper", f"{paper.name} is too small for panels of this wrap; use larger paper")
    while high - low > 0.25:
        middle = (low + high) / 2
        low, high = (middle, high) if one_fits(middle) else (low, middle)
    return _front_in_the_middle(first, last, math.floor(low * 2) / 2)


def _front_in_the_middle(first: float, last: float, widest: float) -> tuple[float, ...]:
    """Splits of first…last into the fewest parts of at most `widest`, turn 0 as far from a split as it can be."""
    count = math.ceil((last - first) / widest - 1e-9)
    best: tuple[float, int, float, float] | None = None
    for before in range(count):  # panels to the left of the one that holds the front
        left = min(max(widest / 2, -first - before * widest), -first)
        right = min(widest - left, last)
        short = last - (count - 1 - before) * widest - right  # what the panels to the right could not take
        if short > 0:
            left, right = left - short, right + short
        if left <= 0 or right <= 0 or -first - left > before * widest + 1e-9:
            continue
        clear = min(left if before else 180.0, right if before < count - 1 else 180.0)
        if best is None or clear > best[0] + 1e-9:
            best = (clear, before, left, right)
    assert best is not None, "one panel holds the front"
    _, before, left, right = best
    after = count - 1 - before
    splits = [first + (-left - first) * i / before for i in range(1, before + 1)]
    splits += [right + (last - right) * i / after for i in range(after)]
    return tuple(round(split, 3) for split in splits)
