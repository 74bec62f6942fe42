"""Pieces onto paper: the turn at which a sheet holds one, and the page that shows it."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from dataclasses import dataclass

from cupgeom.drawing import Affine, Box, Clipped, Drawing, Path, Picture, Text
from cupgeom.errors import CupgeomError
from cupgeom.pages.frame import SIDE_BAND, Frame
from cupgeom.pages.page import Correction, Page
from cupgeom.pages.paper import Paper


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Something to put on paper: what is drawn, the line the blade follows, and how far ink reaches beyond it."""

    drawing: Drawing
    cut: Path
    bleed: float = 0.0
    upright_deg: float = 0.0


def single_page(
    placed: Placed,
    paper: Paper,
    frame: Frame,
    correction: Correction = Correction(),
    *,
    name: str = "",
    number_line: str = "",
) -> Page | None:
    """The piece on one page, turned as far as needed, or None when the paper cannot hold it."""
    chosen = _fitting(placed, paper, frame)
    if chosen is None:
        return None
    angle, landscape = chosen
    turn = Affine.rotation(angle)
    drawing = placed.drawing.transformed(turn)
    box = drawing.bounds()
    width, height = _sheet_size(paper.turned if landscape else paper, frame, box)
    shift = Affine.move(frame.room(width, height).centre - box.centre)
    return Page(
        width=width,
        height=height,
        drawing=drawing.transformed(shift) + frame.notes_on(width, height, number_line=number_line, turned=landscape),
        name=name,
        trim=placed.cut.transformed(shift @ turn).bounds(),
        bleed=placed.bleed,
        correction=for_sheet(correction, landscape),
    )


def fits(placed: Placed, paper: Paper, frame: Frame) -> bool:
    """Whether one page of this paper can hold the piece at some turn."""
    return _fitting(placed, paper, frame) is not None


def _fitting(placed: Placed, paper: Paper, frame: Frame) -> tuple[float, bool] | None:
    """The turn nearest to upright at which the paper holds the piece, and whether the paper lies across.

    On a roll it is the turn that uses the least length. Made-to-fit paper holds everything upright.
    """
    if paper.width is None:
        return placed.upright_deg, False
    points = extremes(placed.drawing)
    if paper.length is None:
        across = paper.width - 2 * frame.margin - (SIDE_BAND if frame.notes else 0)
        boxes = ((turned_box(points, angle), angle) for angle in angles_near(placed.upright_deg))
        fitting = [
            (round(box.height, 3), order, angle) for order, (box, angle) in enumerate(boxes) if box.width <= across
        ]
        return (min(fitting)[2], False) if fitting else None
    rooms = rooms_of(paper, frame, mapped=False)
    for angle in angles_near(placed.upright_deg):
        box = turned_box(points, angle)
        for room, landscape in rooms:
            if box.width <= room.width and box.height <= room.height:
                return angle, landscape
    return None


def rooms_of(paper: Paper, frame: Frame, *, mapped: bool) -> list[tuple[Box, bool]]:
    """What a sheet leaves for the content as named, and turned; at least one of the two."""
    rooms: list[tuple[Box, bool]] = []
    refusals = []
    for sheet, turned in ((paper, False), (paper.turned, True)):
        if sheet.width is None or sheet.length is None:
            raise CupgeomError("paper", f"{sheet.name} is no sheet; give one such as a4 or letter")
        try:
            rooms.append((frame.content(sheet.width, sheet.length, mapped=mapped), turned))
        except CupgeomError as error:
            refusals.append(error)
    if not rooms:
        raise refusals[0]
    return rooms


def angles_near(upright_deg: float) -> Iterator[float]:
    """Turns to try: upright, quarter turns, then every half degree, the nearest to upright first."""
    yield from (upright_deg, upright_deg + 90, upright_deg - 90, upright_deg + 180)
    for half in range(1, 360):
        away = (half + 1) // 2 / 2
        yield upright_deg + (away if half % 2 else -away)


def _sheet_size(sheet: Paper, frame: Frame, box: Box) -> tuple[float, float]:
    """The page that holds content of this size: the sheet, as much of the roll as needed, or one made to fit."""
    if sheet.width is None:
        return frame.page_size(box.width, box.height)
    if sheet.length is None:
        foot = frame.foot_height(sheet.width) if frame.notes else 0.0
        return sheet.width, box.height + 2 * frame.margin + foot
    return sheet.width, sheet.length


def for_sheet(correction: Correction, turned: bool) -> Correction:
    """The correction as the page sees it: bars are read along the paper, which lies across on a turned page."""
    return Correction(across=correction.along, along=correction.across) if turned else correction


def extremes(drawing: Drawing) -> list[complex]:
    """Points whose box at any turn is the drawing's box, to 0.02 mm: the hull of its outlines."""
    return _hull(_corners(drawing))


def _corners(drawing: Drawing) -> list[complex]:
    """Corners of all outlines; of a group that reaches beyond its clip those of the clip, which it cannot leave."""
    points: list[complex] = []
    for item in drawing.items:
        if isinstance(item, Clipped):
            if item.clip is not None and _leaves(item.clip.bounds(), Drawing(item.items).bounds()):
                points += [p for ring in item.clip.flattened(0.02) for p in ring]
            else:
                points += _corners(Drawing(item.items))
        elif isinstance(item, Text):
            points += item.outline().flattened(1)[0]
        elif isinstance(item, Picture):
            points += item.corners()
        else:
            points += [p for ring in item.path.flattened(0.02) for p in ring]
    return points


def _leaves(clip: Box, inner: Box) -> bool:
    """Whether what lies in a box reaches beyond a clip on some side."""
    return inner.left < clip.left or inner.bottom < clip.bottom or inner.right > clip.right or inner.top > clip.top


def _hull(points: list[complex]) -> list[complex]:
    """Convex hull, anticlockwise (Andrew's monotone chain)."""
    ordered = sorted(set(points), key=lambda p: (p.real, p.imag))
    if len(ordered) < 3:
        return ordered
    hull: list[complex] = []
    for sweep in (ordered, ordered[::-1]):
        chain: list[complex] = []
        for point in sweep:
            while len(chain) > 1 and ((chain[-1] - chain[-2]).conjugate() * (point - chain[-1])).imag <= 0:
                chain.pop()
            chain.append(point)
        hull += chain[:-1]
    return hull


def turned_box(points: list[complex], angle_deg: float) -> Box:
    """The box round points turned by an angle, a hair larger so that what is flattened between them has room."""
    turn = cmath.exp(1j * math.radians(angle_deg))
    turned = [point * turn for point in points]
    xs, ys = [p.real for p in turned], [p.imag for p in turned]
    return Box(min(xs) - 0.02, min(ys) - 0.02, max(xs) + 0.02, max(ys) + 0.02)
