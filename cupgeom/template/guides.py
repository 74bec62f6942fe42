"""What is drawn of a piece besides its outline: seam, quarter lines, ticks, hatching, and their labels."""

from __future__ import annotations

import math
from typing import Literal

from cupgeom.cup import Span
from cupgeom.drawing import BLACK, Colour, Drawing, Item, Path, Shape, Stroke, Text, polyline
from cupgeom.errors import number
from cupgeom.flatten import sheet_turn_rad, to_sheet
from cupgeom.template.outline import upright
from cupgeom.template.template import Piece, Template
from cupgeom.zones import Notch, hatching

CUT = Stroke(width=0.3)
BLEED = Stroke(width=0.2, dashes=(0.3, 1.1))
SAFE = Stroke(width=0.15, dashes=(2.2, 1.3))
SEAM = Stroke(width=0.15, dashes=(5.0, 1.5))
QUARTER = Stroke(width=0.15, dashes=(6.0, 1.0, 0.8, 1.0))
TICK = Stroke(width=0.25)
GREY: Colour = (0.55, 0.55, 0.55)
_HATCH = Stroke(width=0.1, colour=GREY)
_SIDES = {0.0: "front", 90.0: "right", -90.0: "left", 180.0: "back", -180.0: "back"}
_LABEL = 3.0  # mm, size of the letters
_TICK = 3.0  # mm
_SPACING = {"advisory": 6.0, "hard": 2.2}  # mm between hatch strokes

LEGEND: tuple[tuple[str, Stroke], ...] = (
    ("trim", CUT),
    ("bleed", BLEED),
    ("safe", SAFE),
    ("seam", SEAM),
    ("quarter", QUARTER),
)


def cut_drawing(piece: Piece) -> Drawing:
    """The cut line and nothing else."""
    return Drawing((Shape(path=piece.cut, role="cut", stroke=CUT, name="trim"),))


def film_drawing(template: Template, piece: Piece) -> Drawing:
    """For a printed film: the cut line, and outside it the bleed's limit and the marks that are cut away."""
    bleed = Shape(path=piece.bleed, role="guide", stroke=BLEED, name="bleed")
    return cut_drawing(piece) + Drawing((bleed, *_quarter_marks(template, piece)))


def pattern_drawing(template: Template, piece: Piece) -> Drawing:
    """For a paper pattern: also the lines inside the trim that help to lay it out and to wrap it."""
    inside: list[Item] = [*_hatches(template, piece)]
    inside.append(Shape(path=piece.safe, role="guide", stroke=SAFE, name="safe margin"))
    inside += _seam(piece)
    for degrees, turn in _quarters(piece):
        if abs(degrees) != 180:
            inside.append(_line(piece, turn, "quarter line" if degrees else "front centre line"))
    return Drawing(tuple(inside)) + film_drawing(template, piece)


def _hatches(template: Template, piece: Piece) -> list[Item]:
    """Advisory band: wide strokes one way; hard keep-outs: close strokes both ways."""
    blank, items = piece.blank, list[Item]()
    if template.rim_span:
        strokes = hatching(
            blank.wall, template.rim_span, blank.left_rad, blank.right_rad, _SPACING["advisory"], rising=True
        )
        items.append(_hatch(strokes, "rim band (advisory)"))
    if template.bare_span:
        for rising in (True, False):
            strokes = hatching(
                blank.wall, template.bare_span, blank.left_rad, blank.right_rad, _SPACING["hard"], rising=rising
            )
            items.append(_hatch(strokes, "bare lip (keep-out)"))
    for side, turn in ((-1, blank.left_rad), (1, blank.right_rad)):
        for notch in blank.notches if math.isclose(abs(turn), math.pi) else ():
            items.append(_hatch(_notch_hatch(piece, notch, side), "handle (keep-out)"))
    return items


def _hatch(path: Path, name: str) -> Shape:
    return Shape(path=path, role="guide", stroke=_HATCH, name=name)


def _notch_hatch(piece: Piece, notch: Notch, side: int) -> Path:
    """Level strokes between the seam's turn and the side of a notch."""
    wall, span = piece.blank.wall, piece.blank.span
    top, bottom = max(notch.top, span.top), min(notch.bottom, span.bottom)
    path = Path()
    count = max(1, int((bottom - top) / _SPACING["hard"]))
    for index in range(count):
        drop = top + (index + 0.5) / count * (bottom - top)
        half = notch.half_angle_rad(wall.radius_at(drop))
        ends = (math.pi, math.pi - half + 0.3 / wall.radius_at(drop))
        path += polyline(complex(*to_sheet(wall, side * turn, drop)) for turn in ends)
    return path


def _quarters(piece: Piece) -> list[tuple[float, float]]:
    """Front, right, left and back where the piece has them, as degrees and radians."""
    blank = piece.blank
    found = []
    for degrees in (-180.0, -90.0, 0.0, 90.0, 180.0):
        turn = math.radians(degrees)
        if blank.left_rad - 1e-9 <= turn <= blank.right_rad + 1e-9:
            found.append((degrees, turn))
    return found


def _line(piece: Piece, turn: float, name: str) -> Shape:
    edge = piece.blank.edge(turn)
    return Shape(path=polyline(edge), role="guide", stroke=QUARTER, name=name)


def _quarter_marks(template: Template, piece: Piece) -> list[Item]:
    """Ticks outside the trim at the quarters and at the piece's ends, their names above the top edge."""
    blank, items = piece.blank, list[Item]()
    ends = {round(math.degrees(turn), 6): turn for turn in (blank.left_rad, blank.right_rad)}
    marks = dict(_quarters(piece)) | ends
    notched = {math.copysign(180.0, turn) for turn in ends.values() if blank.notches}
    for degrees, turn in sorted(marks.items()):
        away = template.bleed + 0.8
        for drop, outward in ((blank.span.top, 1), (blank.span.bottom, -1)):
            if degrees in notched and _in_notch(piece, drop):
                continue
            direction = outward * upright(blank.wall, turn)
            start = complex(*to_sheet(blank.wall, turn, drop)) + away * direction
            tick = polyline([start, start + _TICK * direction])
            items.append(Shape(path=tick, role="guide", stroke=TICK, name=f"tick at {number(degrees)}°"))
        items.append(_label(template, piece, degrees, turn))
    return items


def _in_notch(piece: Piece, drop: float) -> bool:
    return any(notch.top <= drop <= notch.bottom for notch in piece.blank.notches)


def _label(template: Template, piece: Piece, degrees: float, turn: float) -> Text:
    """The name of a quarter, or the turn of an end, above the top edge."""
    blank = piece.blank
    words = f"{_SIDES.get(degrees, '')} {number(round(degrees, 1)).replace('-', '−')}°".strip()
    at = complex(*to_sheet(blank.wall, turn, blank.span.top))
    at += (template.bleed + 0.8 + _TICK + 1.2) * upright(blank.wall, turn)
    anchor: Literal["start", "middle", "end"] = (
        "start" if turn == blank.left_rad else "end" if turn == blank.right_rad else "middle"
    )
    angle = math.degrees(sheet_turn_rad(blank.wall, turn))
    return Text(text=words, at=at, size=_LABEL, role="guide", anchor=anchor, angle_deg=angle, colour=BLACK)


def _seam(piece: Piece) -> list[Item]:
    """The seam line beside the tab, and ticks that meet across the seam when the wrap is closed."""
    blank, items = piece.blank, list[Item]()
    left, right = piece.seams_rad
    tops = [blank.span.top + share * blank.span.length for share in (0.2, 0.5, 0.8)]
    drops = [drop for drop in tops if not _in_notch(piece, drop)]
    if right is not None and blank.tab:
        for part in _free_parts(piece, right):
            ends = [complex(*to_sheet(blank.wall, right, drop)) for drop in (part.top, part.bottom)]
            items.append(Shape(path=polyline(ends), role="guide", stroke=SEAM, name="seam"))
            items.append(_tab_text(piece, right, part))
    for turn, reach in ((left, (0.0, _TICK)), (right, (-_TICK, min(_TICK, blank.tab)))):
        if turn is None:
            continue
        for drop in drops:
            radius = blank.wall.radius_at(drop)
            ends = [complex(*to_sheet(blank.wall, turn + way / radius, drop)) for way in reach]
            items.append(Shape(path=polyline(ends), role="guide", stroke=TICK, name="seam tick"))
    return items


def _free_parts(piece: Piece, turn: float) -> list[Span]:
    """The drops along an edge that no notch takes."""
    blank = piece.blank
    parts, here = [], blank.span.top
    for notch in blank.notches if math.isclose(abs(turn), math.pi) else ():
        if notch.top > here:
            parts.append(Span(top=here, bottom=notch.top))
        here = max(here, notch.bottom)
    if blank.span.bottom > here:
        parts.append(Span(top=here, bottom=blank.span.bottom))
    return parts


def _tab_text(piece: Piece, turn: float, part: Span) -> Text:
    """What the tab is for, along it."""
    blank = piece.blank
    words = "tab, goes under" if part.length > 40 else "tab"
    size = min(2.6, blank.tab * 0.5)
    drop = (part.top + part.bottom) / 2
    inward = blank.tab / 2 - 0.36 * size
    up = upright(blank.wall, turn)
    at = complex(*to_sheet(blank.wall, turn, drop)) - 1j * up * (inward)
    angle = math.degrees(sheet_turn_rad(blank.wall, turn)) - 90
    return Text(text=words, at=at, size=size, role="guide", anchor="middle", angle_deg=angle)
