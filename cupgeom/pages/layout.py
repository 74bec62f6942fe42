"""Pieces onto paper: the turn that needs the fewest pages, single pages, and tiles to be taped together."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from dataclasses import dataclass

from cupgeom.drawing import Affine, Box, Clipped, Drawing, Item, Path, Shape, Stroke, Text
from cupgeom.errors import CupgeomError, number, require_at_least
from cupgeom.pages.frame import SIDE_BAND, Frame, cross, page_map
from cupgeom.pages.page import Correction, Page
from cupgeom.pages.paper import Paper

TILE_OVERLAP = 10.0  # mm that neighbouring tiles share
LARGEST_SET = 200  # tiles; more says that a size was mistyped
_TILE_EDGE = Stroke(width=0.12, dashes=(1.0, 1.5))


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Something to put on paper: what is drawn, the line the blade follows, and how far ink reaches beyond it."""

    drawing: Drawing
    cut: Path
    bleed: float = 0.0
    upright_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    angle_deg: float
    turned: bool
    columns: int
    rows: int
    used: tuple[tuple[int, int], ...]
    origin: complex  # bottom left corner of the whole grid, in turned coordinates
    step: complex


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
        correction=_for_sheet(correction, landscape),
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
    points = _corners(placed.drawing)
    if paper.length is None:
        across = paper.width - 2 * frame.margin - (SIDE_BAND if frame.notes else 0)
        boxes = ((_turned_box(points, angle), angle) for angle in _angles(placed.upright_deg))
        fitting = [
            (round(box.height, 3), order, angle) for order, (box, angle) in enumerate(boxes) if box.width <= across
        ]
        return (min(fitting)[2], False) if fitting else None
    rooms = [(frame.content(sheet.width or 0, sheet.length or 0), landscape) for sheet, landscape in _ways(paper)]
    for angle in _angles(placed.upright_deg):
        box = _turned_box(points, angle)
        for room, landscape in rooms:
            if box.width <= room.width and box.height <= room.height:
                return angle, landscape
    return None


def tiled(
    placed: Placed,
    paper: Paper,
    frame: Frame,
    correction: Correction = Correction(),
    overlap: float = TILE_OVERLAP,
    *,
    number_line: str = "",
) -> tuple[Page, ...]:
    """The piece over several pages that share strips `overlap` wide, row by row from the top left, A1, A2 … B1 ….

    Raises
    ------
    CupgeomError
        When the paper has no room, or so many pages would be needed that a size must be wrong.
    """
    require_at_least("tile_overlap", overlap, 0)
    grid = _best_grid(placed, paper, frame, overlap)
    sheet = paper.turned if grid.turned else paper
    assert sheet.width is not None
    assert sheet.length is not None
    width, height = sheet.width, sheet.length
    room = frame.content(width, height, mapped=frame.notes)
    turn = Affine.rotation(grid.angle_deg)
    drawing, cut = placed.drawing.transformed(turn), placed.cut.transformed(turn)
    outline = cut.flattened(0.001)
    names = {(row, column): f"{_letters(row)}{column + 1}" for row, column in grid.used}
    pages = []
    for order, (row, column) in enumerate(grid.used, start=1):
        corner = grid.origin + complex(column * grid.step.real, (grid.rows - 1 - row) * grid.step.imag)
        window = Box(corner.real, corner.imag, corner.real + room.width, corner.imag + room.height)
        shift = Affine.move(complex(room.left, room.bottom) - corner)
        items = list(_inside(drawing, window))
        if frame.notes:
            items += _marks(grid, row, column, window, overlap)
        clipped = Clipped(clip=window.outline(), items=tuple(items)).transformed(shift)
        plan = page_map(grid.columns, grid.rows, names, (row, column)) if frame.notes else None
        line = f"page {order} of {len(grid.used)}, tile {names[row, column]}"
        line = f"{number_line}, {line}" if number_line else line
        trim = _clipped_bounds(outline, window)
        pages.append(
            Page(
                width=width,
                height=height,
                drawing=Drawing((clipped, *_edge(frame, room)))
                + frame.notes_on(width, height, number_line=line, page_map=plan, turned=grid.turned),
                name=names[row, column],
                trim=_moved(trim, complex(room.left, room.bottom) - corner) if trim else None,
                bleed=placed.bleed,
                correction=_for_sheet(correction, grid.turned),
            )
        )
    return tuple(pages)


def _ways(paper: Paper) -> list[tuple[Paper, bool]]:
    """The paper as named, and turned; a roll and made-to-fit paper have one way."""
    if paper.width is None or paper.length is None or paper.width == paper.length:
        return [(paper, False)]
    return [(paper, False), (paper.turned, True)]


def _angles(upright_deg: float) -> Iterator[float]:
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


def _for_sheet(correction: Correction, turned: bool) -> Correction:
    """The correction as the page sees it: bars are read along the paper, which lies across on a turned page."""
    return Correction(across=correction.along, along=correction.across) if turned else correction


def _corners(drawing: Drawing) -> list[complex]:
    """Points whose box at any turn is the drawing's box, to 0.02 mm: the hull of its outlines."""
    points: list[complex] = []
    for leaf in drawing.leaves():
        if isinstance(leaf, Text):
            points += leaf.outline().flattened(1)[0]
        else:
            points += [p for ring in leaf.path.flattened(0.02) for p in ring]
    return _hull(points)


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


def _turned_box(points: list[complex], angle_deg: float) -> Box:
    turn = cmath.exp(1j * math.radians(angle_deg))
    turned = [point * turn for point in points]
    xs, ys = [p.real for p in turned], [p.imag for p in turned]
    return Box(min(xs) - 0.02, min(ys) - 0.02, max(xs) + 0.02, max(ys) + 0.02)


def _best_grid(placed: Placed, paper: Paper, frame: Frame, overlap: float) -> _Grid:
    points = _corners(placed.drawing)
    candidates = []
    for sheet, turned in _ways(paper):
        if sheet.width is None or sheet.length is None:
            raise CupgeomError("paper", f"{sheet.name} cannot be tiled; give sheets such as a4 or letter")
        room = frame.content(sheet.width, sheet.length, mapped=frame.notes)
        step = complex(room.width - overlap, room.height - overlap)
        if step.real < 10 or step.imag < 10:
            raise CupgeomError(
                "paper", f"{sheet.name} leaves {number(room.width)} x {number(room.height)} mm, too little to tile"
            )
        for rank, angle in enumerate(_angles(placed.upright_deg)):
            box = _turned_box(points, angle)
            columns = max(1, math.ceil((box.width - overlap) / step.real - 1e-9))
            rows = max(1, math.ceil((box.height - overlap) / step.imag - 1e-9))
            candidates.append((columns * rows, rank + turned, angle, turned, columns, rows, box, step))
    candidates.sort(key=lambda c: c[:2])
    if candidates[0][0] > LARGEST_SET:
        raise CupgeomError("paper", f"{paper.name} would need {candidates[0][0]} pages; use larger paper")
    best: _Grid | None = None
    rings = placed.cut.flattened(0.05)
    area = abs(placed.cut.area())
    for total, _, angle, turned, columns, rows, box, step in candidates:
        least = max(2, math.ceil(area / ((step.real + overlap) * (step.imag + overlap))))
        if best and (total > candidates[0][0] + 1 or len(best.used) <= least):
            break
        size = complex(columns * step.real + overlap, rows * step.imag + overlap)
        origin = box.centre - size / 2
        turn = cmath.exp(1j * math.radians(angle))
        used = _used([[p * turn for p in ring] for ring in rings], placed.bleed, origin, step, columns, rows, overlap)
        if best is None or len(used) < len(best.used):
            best = _Grid(
                angle_deg=angle, turned=turned, columns=columns, rows=rows, used=used, origin=origin, step=step
            )
    assert best is not None
    return best


def _used(
    rings: list[list[complex]], bleed: float, origin: complex, step: complex, columns: int, rows: int, overlap: float
) -> tuple[tuple[int, int], ...]:
    """The tiles that hold part of the piece outside the strips that they share with neighbours."""
    used = []
    for row in range(rows):
        for column in range(columns):
            left, bottom = column * step.real, (rows - 1 - row) * step.imag
            own = Box(
                left + (overlap if column else 0),
                bottom + (overlap if row < rows - 1 else 0),
                left + step.real + (0 if column < columns - 1 else overlap),
                bottom + step.imag + (0 if row else overlap),
            )
            near = _moved(own, origin).grown(bleed)
            if _clipped_bounds(rings, near) or _holds(rings, near.centre):
                used.append((row, column))
    return tuple(used)


def _holds(rings: list[list[complex]], point: complex) -> bool:
    """Whether a point lies inside closed rings (even-odd)."""
    inside = False
    for ring in rings:
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            if (a.imag > point.imag) != (b.imag > point.imag):
                x = a.real + (point.imag - a.imag) / (b.imag - a.imag) * (b.real - a.real)
                inside ^= x > point.real
    return inside


def _clipped_bounds(rings: list[list[complex]], window: Box) -> Box | None:
    """Bounding box of the parts of closed rings inside a window (Liang–Barsky), None where there are none."""
    xs: list[float] = []
    ys: list[float] = []
    for ring in rings:
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            low, high = 0.0, 1.0
            for start, run, least, most in (
                (a.real, b.real - a.real, window.left, window.right),
                (a.imag, b.imag - a.imag, window.bottom, window.top),
            ):
                if run == 0:
                    if not least <= start <= most:
                        low = 2.0
                    continue
                enter, leave = sorted(((least - start) / run, (most - start) / run))
                low, high = max(low, enter), min(high, leave)
            if low <= high:
                for t in (low, high):
                    point = a + (b - a) * t
                    xs.append(point.real)
                    ys.append(point.imag)
    return Box(min(xs), min(ys), max(xs), max(ys)) if xs else None


def _inside(drawing: Drawing, window: Box) -> Iterator[Item]:
    """The items that reach into a window."""
    for item in drawing.items:
        box = item.bounds()
        if (
            box.left <= window.right
            and box.right >= window.left
            and box.bottom <= window.top
            and box.top >= window.bottom
        ):
            yield item


def _marks(grid: _Grid, row: int, column: int, window: Box, overlap: float) -> list[Item]:
    """Registration marks in the middle of each strip shared with a neighbour, at the same places on both pages."""
    marks: list[Item] = []
    used = set(grid.used)
    half = overlap / 2
    for aside, (xs, ys) in {
        (0, -1): ((window.left + half,), (window.bottom + 15, window.top - 15)),
        (0, 1): ((window.right - half,), (window.bottom + 15, window.top - 15)),
        (-1, 0): ((window.left + 15, window.right - 15), (window.top - half,)),
        (1, 0): ((window.left + 15, window.right - 15), (window.bottom + half,)),
    }.items():
        if (row + aside[0], column + aside[1]) in used:
            marks += [cross(complex(x, y)) for x in xs for y in ys]
    return marks


def _edge(frame: Frame, room: Box) -> list[Item]:
    if not frame.notes:
        return []
    return [Shape(path=room.outline(), role="guide", stroke=_TILE_EDGE, name="tile edge")]


def _moved(box: Box, by: complex) -> Box:
    return Box(box.left + by.real, box.bottom + by.imag, box.right + by.real, box.top + by.imag)


def _letters(index: int) -> str:
    """A, B … Z, AA, AB …: the letter of a row."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
