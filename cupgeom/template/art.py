"""Decals on a wrap: the print of a full wrap, and the sleeve that shows where decals go."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from cupgeom.cup import Wall
from cupgeom.decor.decal import Copy, Decal, DecalPiece
from cupgeom.decor.place import moved_round
from cupgeom.decor.printout import ticks
from cupgeom.decor.silhouette import choked, contour, path_of_shape, silhouette
from cupgeom.drawing import Box, Clipped, Drawing, Item, Path, Shape, Stroke, Text, polyline
from cupgeom.flatten import sheet_turn_rad, to_sheet
from cupgeom.template.template import Piece, Template

OPENING = 1.0  # mm by which an opening of a sleeve is larger than the decal that goes into it
CHOKE = 0.2  # mm by which a white underlay stays inside the print
_JOINT = 0.5  # mm of print that hides under a joint, more than a coarse screen's pixel
_TICK = Stroke(width=0.25)
_CUT = Stroke(width=0.3)
_LABEL = 2.6  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Art:
    """What a wrap bears.

    Parameters
    ----------
    decals
        On the same cup as the wrap.
    sleeve
        Openings for the decals in place of their print.
    white
        Whether a white underlay lies under the print.
    mirrored
        Whether the wrap is printed mirrored.
    """

    decals: tuple[Decal, ...]
    sleeve: bool = False
    white: bool = False
    mirrored: bool = False


def print_on(art: Art, template: Template, piece: Piece) -> Drawing:
    """The print of the decals that lie on a piece, with bleed, cut to where ink may go."""
    parts = list(_parts(art, template, piece))
    items: list[Item] = []
    for each in art.decals:
        mine = [(copy, part) for decal, copy, part in parts if decal is each]
        if _touches_next(each):
            items += [_under_the_joint(each, copy, part) for copy, part in mine]
        items += [item for _, part in mine for item in part.drawing.items]
    ink = _ink(template, piece)
    items = _within(items, ink.bounds())
    if not items:
        return Drawing()
    drawing = Drawing((Clipped(clip=ink, items=tuple(items)),))
    if art.white:
        under = choked(silhouette(drawing), CHOKE)
        white = Shape(path=under, role="white", fill=(1.0, 1.0, 1.0), even_odd=True, name="white underlay")
        drawing = Drawing((white,)) + drawing
    return drawing


def openings(art: Art, template: Template, piece: Piece) -> Drawing:
    """Openings with ticks and names, for a sleeve; what reaches beyond the piece is cut off at its edge."""
    from shapely import union_all

    holes, items = [], list[Item]()
    blank, blank_turns = piece.cut.to_shapely(0.005), (piece.blank.left_rad, piece.blank.right_rad)
    for decal, copy, part in _parts(art, template, piece):
        margin = decal.medium.cut_margin + OPENING
        hole = contour(decal.piece_silhouette(part), margin).to_shapely(0.005).intersection(blank)
        if hole.is_empty:
            continue
        holes.append(hole)
        items += [
            Shape(path=path, role="guide", stroke=_TICK, name="placement tick")
            for path in ticks(decal, part, margin + 0.8)
        ]
        if blank_turns[0] <= math.radians(copy.turn_deg) < blank_turns[1] - 1e-9:
            items.append(_name(decal, copy, part, margin))
    if not holes:
        return Drawing()
    cut = Shape(path=path_of_shape(union_all(holes)), role="cut", stroke=_CUT, name="opening")
    return Drawing((cut, Clipped(clip=piece.cut, items=tuple(items))))


def _parts(art: Art, template: Template, piece: Piece) -> Iterator[tuple[Decal, Copy, DecalPiece]]:
    """The parts of all decals that may show on a piece; one across the back also a full turn on or back."""
    blank = piece.blank
    spare = (blank.tab + template.bleed + 1) / template.narrowest_radius
    left, right = blank.left_rad - spare, blank.right_rad + spare
    for decal in art.decals:
        for turn_deg in decal.copies_deg:
            for whole in (-360.0, 0.0, 360.0):
                copy = decal.copy(turn_deg + whole)
                if copy.turns_rad[1] < left or copy.turns_rad[0] > right:
                    continue
                for part in copy.pieces:
                    if part.wall_index == template.wall_index:
                        yield decal, copy, part


def _within(items: Iterable[Item], box: Box) -> list[Item]:
    """The items that reach into a box, groups without those that do not."""
    kept: list[Item] = []
    for item in items:
        if isinstance(item, Clipped):
            inner = _within(item.items, box)
            if inner and _meet(item.bounds(), box):
                kept.append(replace(item, items=tuple(inner)))
        elif _meet(item.bounds(), box):
            kept.append(item)
    return kept


def _meet(one: Box, other: Box) -> bool:
    return one.left <= other.right and other.left <= one.right and one.bottom <= other.top and other.bottom <= one.top


def _touches_next(decal: Decal) -> bool:
    """Whether its copies go all round, the end of each on the beginning of the next."""
    left, right = decal.turns_rad
    return math.isclose((right - left) * decal.repeat, math.tau, rel_tol=1e-9)


def _under_the_joint(decal: Decal, copy: Copy, part: DecalPiece) -> Item:
    """A strip of the same print a little to the left, under the joint with the copy before.

    Two edges that meet exactly let a pale hairline show in most renderers, which blend each with the paper by itself.
    """
    wall, drop = part.placement.wall, part.placement.drop
    reach, hidden = decal.reach.height, _JOINT / decal.true_radius
    left = copy.turns_rad[0]
    strip = _sector(wall, drop - reach, min(drop + reach, wall.slant + reach), left - hidden, left + hidden)
    shifted = part.drawing.transformed(moved_round(wall, -hidden)).items
    return Clipped(clip=strip, items=tuple(_within(shifted, strip.bounds())))


def _ink(template: Template, piece: Piece) -> Path:
    """Where ink may go on a piece: inside its bleed, within the printed drops and the seam's own rules.

    The bleed is taken where ink ends at the blade, and at a tab without ink, which comes to lie under the other edge;
    where ink ends inside the trim, at a bare band, it ends there exactly.
    """
    blank, bleed = piece.blank, template.bleed
    start = template.wall_span.top
    trim, printed = template.trim_span, template.printed_span
    top = printed.top - start - (bleed if math.isclose(printed.top, trim.top, abs_tol=1e-6) else 0.0)
    bottom = printed.bottom - start + (bleed if math.isclose(printed.bottom, trim.bottom, abs_tol=1e-6) else 0.0)
    narrow = template.narrowest_radius
    right = blank.right_rad + (bleed + (blank.tab if template.seam == "continued" else 0.0)) / narrow
    band = _sector(blank.wall, top, bottom, blank.left_rad - bleed / narrow, right)
    reach = piece.bleed.to_shapely(0.002).intersection(band.to_shapely(0.002))
    return path_of_shape(reach)


def _sector(wall: Wall, top: float, bottom: float, left: float, right: float) -> Path:
    """The band of the sheet between two drops and two turns, its level edges as chords of at most 2°."""
    count = max(2, math.ceil(math.degrees(right - left) / 2))
    turns = [left + (right - left) * index / count for index in range(count + 1)]
    upper = [complex(*to_sheet(wall, turn, top)) for turn in turns]
    lower = [complex(*to_sheet(wall, turn, bottom)) for turn in reversed(turns)]
    return polyline([*upper, *lower], closed=True)


def _name(decal: Decal, copy: Copy, part: DecalPiece, margin: float) -> Text:
    """The decal's name above its opening, beside the tick."""
    wall, turn = part.placement.wall, math.radians(copy.turn_deg)
    start = decal.cup.wall_tops[part.wall_index]
    drop = max(decal.span.top - start, 0.0) - margin - 1.2
    at = complex(*to_sheet(wall, turn, drop))
    along = sheet_turn_rad(wall, turn)
    shown = decal.design.name if len(decal.design.name) <= 30 else f"{decal.design.name[:29]}…"
    beside = at + (1.2 + 0j) * complex(math.cos(along), math.sin(along))
    return Text(text=shown, at=beside, size=_LABEL, role="guide", angle_deg=math.degrees(along))
