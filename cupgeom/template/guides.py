"""What is drawn of a piece besides its outline: seam, quarter lines, ticks, hatching, and their labels."""

from __future__ import annotations

import math
from typing import Literal

from cupgeom.cup import Span, Wall
from cupgeom.drawing import BLACK, Affine, Clipped, Colour, Drawing, Item, Path, Shape, Stroke, Text, path_of, polyline
from cupgeom.drawing.vera import CAP_HEIGHT, text_width
from cupgeom.errors import number
from cupgeom.flatten import sheet_turn_rad, to_sheet
from cupgeom.template.outline import upright
from cupgeom.template.template import Piece, Template
from cupgeom.zones import Notch, hatching, level_line

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
_GAP = 0.8  # mm between the bleed and the ticks
_ROOM = 0.8  # mm kept free between labels
_SPACING = {"advisory": 6.0, "hard": 2.2}  # mm between hatch strokes

LEGEND: dict[str, Stroke] = {"trim": CUT, "bleed": BLEED, "safe margin": SAFE, "seam": SEAM, "quarter line": QUARTER}


def cut_drawing(piece: Piece) -> Drawing:
    """The cut line and nothing else."""
    return Drawing((Shape(path=piece.cut, role="cut", stroke=CUT, name="trim"),))


def film_drawing(template: Template, piece: Piece) -> Drawing:
    """For a printed film: the cut line, and outside it the bleed's limit and the marks that are cut away."""
    bleed = [Shape(path=piece.bleed, role="guide", stroke=BLEED, name="bleed")] if template.bleed else []
    return cut_drawing(piece) + Drawing((*bleed, *_quarter_marks(template, piece)))


def pattern_drawing(template: Template, piece: Piece) -> Drawing:
    """For a paper pattern: also the lines inside the trim that help to lay it out and to wrap it."""
    inside: list[Item] = [*_bands(template, piece)]
    for degrees, turn in _quarters(piece):
        if abs(degrees) != 180:
            edge = polyline(piece.blank.edge(turn))
            inside.append(Shape(path=edge, role="guide", stroke=QUARTER, name="quarter line"))
    items: list[Item] = [Clipped(clip=piece.cut, items=tuple(inside))] if inside else []
    items += _notch_hatches(piece)
    if template.safe and piece.safe:
        items.append(Shape(path=piece.safe, role="guide", stroke=SAFE, name="safe margin"))
    return Drawing((*items, *_seam(template, piece))) + film_drawing(template, piece)


def _bands(template: Template, piece: Piece) -> list[Item]:
    """Hatching across the piece, tab included: wide for the advisory band, close and both ways for the bare lip."""
    blank, items = piece.blank, list[Item]()
    for span, kind, risings, name in (
        (template.rim_span, "advisory", (True,), "rim band (advisory)"),
        (template.bare_span, "hard", (True, False), "bare lip (keep-out)"),
    ):
        for rising in risings if span else ():
            assert span is not None
            radius = max(blank.wall.radius_at(span.top), blank.wall.radius_at(span.bottom))
            right = blank.right_rad + blank.tab / radius
            strokes = hatching(blank.wall, span, blank.left_rad, right, _SPACING[kind], rising=rising)
            items.append(_hatch(strokes, name))
    return items


def _notch_hatches(piece: Piece) -> list[Item]:
    """Close level strokes in the notches, which are cut away."""
    blank, items = piece.blank, list[Item]()
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
        first, last = side * math.pi, side * (math.pi - half + 0.3 / wall.radius_at(drop))
        path += path_of([level_line(wall, drop, first, last)])
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


def _quarter_marks(template: Template, piece: Piece) -> list[Item]:
    """Ticks outside the trim at the quarters and at the piece's ends, their names beyond those of one edge."""
    blank, ticks = piece.blank, list[Item]()
    ends = {round(math.degrees(turn), 6): turn for turn in (blank.left_rad, blank.right_rad)}
    marks = dict(_quarters(piece)) | ends
    away = template.bleed + _GAP
    labelled = []
    for degrees, turn in sorted(marks.items()):
        for drop, outward in ((blank.span.top, 1), (blank.span.bottom, -1)):
            if abs(degrees) == 180 and _in_notch(piece, drop):
                continue
            direction = outward * upright(blank.wall, turn)
            start = complex(*to_sheet(blank.wall, turn, drop)) + away * direction
            tick = polyline([start, start + _TICK * direction])
            ticks.append(Shape(path=tick, role="guide", stroke=TICK, name=f"tick at {number(degrees)}°"))
            if (outward > 0) == _labels_above(blank.wall):
                labelled.append((degrees, turn))
    labels = _labels(piece, labelled, away + _TICK + 1.2)
    return [*ticks, *labels, *_joins(template, piece, away + _TICK + 1.2, labels)]


def _joins(template: Template, piece: Piece, away: float, labels: list[Text]) -> list[Text]:
    """Which wall an edge meets, where that leaves room; the ticks of both edges come to lie on each other."""
    blank, turn = piece.blank, math.pi / 4
    texts: list[Text] = []
    for drop, other, above in (
        (0.0, template.wall_index - 1, True),
        (blank.wall.slant, template.wall_index + 1, False),
    ):
        at_edge = drop in (blank.span.top, blank.span.bottom)
        if at_edge and 0 <= other < len(template.cup.walls) and blank.left_rad < turn < blank.right_rad:
            text = _beyond(piece, f"joins wall {other + 1}", turn, away, "middle", above=above)
            if text and all(_apart(text, label) for label in labels):
                texts.append(text)
    return texts


def _beyond(
    piece: Piece, words: str, turn: float, away: float, anchor: Literal["start", "middle", "end"], *, above: bool
) -> Text | None:
    """Words along an edge, all of them at least so far away from it; None where a hollow edge is too narrow for them.

    On the hollow side of the edge's arc, of radius P about the apex, the words' ends come nearest to it: a line at the
    distance q from the apex keeps `away` over half its width w/2 when q² + (w/2)² = (P − away)².
    """
    wall, span = piece.blank.wall, piece.blank.span
    edge = span.top if above else span.bottom
    if above == (wall.cone_constant < 0) and not wall.straight:
        radius = abs(wall.radius_at(edge) / wall.cone_constant)
        square = (radius - away) ** 2 - (text_width(words, _LABEL) / 2) ** 2
        if radius <= away or square <= (2 * _LABEL) ** 2:
            return None
        away = radius - math.sqrt(square)
    baseline = away if above else -away - CAP_HEIGHT * _LABEL
    at = complex(*to_sheet(wall, turn, edge)) + baseline * upright(wall, turn)
    angle = math.degrees(sheet_turn_rad(wall, turn))
    return Text(text=words, at=at, size=_LABEL, role="guide", anchor=anchor, angle_deg=angle, colour=BLACK)


def _in_notch(piece: Piece, drop: float) -> bool:
    return any(notch.top <= drop <= notch.bottom for notch in piece.blank.notches)


def _labels_above(wall: Wall) -> bool:
    """Whether labels stand beyond the top edge; where the base is much wider, its edge has more room for them."""
    return wall.cone_constant > -0.05


def _labels(piece: Piece, marks: list[tuple[float, float]], away: float) -> list[Text]:
    """The names of quarters and the turns of ends; one that would touch its neighbour stands a row farther out."""
    blank, above = piece.blank, _labels_above(piece.blank.wall)
    texts: list[Text] = []
    for degrees, turn in marks:
        words = f"{_SIDES.get(degrees, '')} {number(round(degrees, 1)).replace('-', '−')}°".strip()
        anchor: Literal["start", "middle", "end"] = (
            "start" if turn == blank.left_rad else "end" if turn == blank.right_rad else "middle"
        )
        rows = (
            _beyond(piece, words, turn, away + row * 1.6 * _LABEL, anchor, above=above) for row in range(len(marks))
        )
        free = (text for text in rows if text and all(_apart(text, other) for other in texts))
        texts += [text for text in (next(free, None),) if text]
    return texts


def _apart(text: Text, other: Text) -> bool:
    """Whether two texts leave room between them, looked at along and across each of them."""
    corners = [[segment.start for segment in each.outline().segments()] for each in (text, other)]
    for angle_deg in (text.angle_deg, text.angle_deg + 90, other.angle_deg, other.angle_deg + 90):
        way = Affine.rotation(-angle_deg)
        (low, high), (its_low, its_high) = (
            (min(reach), max(reach)) for reach in ([way(p).real for p in c] for c in corners)
        )
        if its_low - high >= _ROOM or low - its_high >= _ROOM:
            return True
    return False


def _seam(template: Template, piece: Piece) -> list[Item]:
    """The seam line beside the tab, and ticks that meet across the seam when the wrap is closed."""
    blank, items = piece.blank, list[Item]()
    left, right = piece.seams_rad
    if right is not None and blank.tab:
        for part in _free_parts(piece, right):
            ends = [complex(*to_sheet(blank.wall, right, drop)) for drop in (part.top, part.bottom)]
            items.append(Shape(path=polyline(ends), role="guide", stroke=SEAM, name="seam"))
            items += _tab_text(template, piece, right, part)
    for turn, first, last in ((left, 0.0, _TICK), (right, -_TICK, min(_TICK, blank.tab))):
        if turn is None:
            continue
        across = -1j * upright(blank.wall, turn)
        for part in _free_parts(piece, turn):
            for share in _tick_shares(part):
                at = complex(*to_sheet(blank.wall, turn, part.top + share * part.length))
                tick = polyline([at + first * across, at + last * across])
                items.append(Shape(path=tick, role="guide", stroke=TICK, name="seam tick"))
    return items


def _tick_shares(part: Span) -> tuple[float, ...]:
    """Where along a free part of the seam its ticks stand."""
    return (0.2, 0.5, 0.8) if part.length >= 40 else (0.5,) if part.length >= 5 else ()


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


def _tab_text(template: Template, piece: Piece, turn: float, part: Span) -> list[Text]:
    """What the tab is for, along it between two ticks; the shorter word or none where there is no room."""
    blank, up = piece.blank, upright(piece.blank.wall, turn)
    free = blank.tab - (template.safe if template.seam == "continued" else 0.0)  # the safe margin runs along it
    size = min(2.6, free * 0.5)
    top, bottom = (0.2, 0.5) if len(_tick_shares(part)) > 1 else (0.0, 0.5)
    room = (bottom - top) * part.length - 4 if size > 1 else 0.0
    for words in ("tab, goes under", "tab"):
        if text_width(words, size) <= room:
            drop = part.top + (top + bottom) / 2 * part.length
            inward = (free - CAP_HEIGHT * size) / 2
            at = complex(*to_sheet(blank.wall, turn, drop)) - 1j * up * inward
            angle = math.degrees(sheet_turn_rad(blank.wall, turn)) - 90
            return [Text(text=words, at=at, size=size, role="guide", anchor="middle", angle_deg=angle)]
    return []
