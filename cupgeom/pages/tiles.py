"""A piece over several pages: the grid that needs the fewest, its tiles, their registration marks."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from cupgeom.drawing import Affine, Box, Clipped, Drawing, Item, Shape, Stroke, Text
from cupgeom.errors import CupgeomError, number, require_at_least
from cupgeom.pages.frame import Frame, cross, page_map
from cupgeom.pages.layout import Placed, angles_near, extremes, for_sheet, rooms_of, turned_box
from cupgeom.pages.page import Correction, Page
from cupgeom.pages.paper import Paper

TILE_OVERLAP = 10.0  # mm that neighbouring tiles share
LARGEST_SET = 200  # tiles; more says that a size was mistyped
_MARK = 3.0  # mm, half the width of a registration mark
_LEAST_STEP = 10.0  # mm by which tiles must get on
_TILE_EDGE = Stroke(width=0.12, dashes=(1.0, 1.5))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    angle_deg: float
    turned: bool
    columns: int
    rows: int
    used: tuple[tuple[int, int], ...]
    origin: complex  # bottom left corner of the whole grid, in turned coordinates
    step: complex


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
    words = [leaf.bounds() for leaf in drawing.leaves() if isinstance(leaf, Text)]

    def taken(place: complex) -> bool:
        """Whether a registration mark there would stand on words, or on the cut line or its bleed."""
        mark = Box(place.real, place.imag, place.real, place.imag).grown(_MARK + 1)
        on_words = any(box.grown(_MARK + 1).holds(place) for box in words)
        return on_words or _clipped_bounds(outline, mark.grown(placed.bleed)) is not None

    names = {(row, column): f"{_letters(row)}{column + 1}" for row, column in grid.used}
    pages = []
    for order, (row, column) in enumerate(grid.used, start=1):
        corner = grid.origin + complex(column * grid.step.real, (grid.rows - 1 - row) * grid.step.imag)
        window = Box(corner.real, corner.imag, corner.real + room.width, corner.imag + room.height)
        shift = Affine.move(complex(room.left, room.bottom) - corner)
        items = list(_inside(drawing, window))
        if frame.notes:
            items += _marks(grid, row, column, window, overlap, taken)
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
                correction=for_sheet(correction, grid.turned),
            )
        )
    return tuple(pages)


def _best_grid(placed: Placed, paper: Paper, frame: Frame, overlap: float) -> _Grid:
    points = extremes(placed.drawing)
    candidates = []
    rooms = rooms_of(paper, frame, mapped=frame.notes)
    steps = [(complex(room.width - overlap, room.height - overlap), turned) for room, turned in rooms]
    if all(min(step.real, step.imag) < _LEAST_STEP for step, _ in steps):
        room = rooms[0][0]
        raise CupgeomError(
            "paper", f"{paper.name} leaves {number(room.width)} x {number(room.height)} mm, too little to tile"
        )
    for step, turned in steps:
        if min(step.real, step.imag) < _LEAST_STEP:
            continue
        for rank, angle in enumerate(angles_near(placed.upright_deg)):
            box = turned_box(points, angle)
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


def _marks(
    grid: _Grid, row: int, column: int, window: Box, overlap: float, taken: Callable[[complex], bool]
) -> list[Item]:
    """Registration marks in the middle of each strip shared with a neighbour, at the same places on both pages.

    Two a strip, near its ends, as far in as needed to stand clear of what is drawn.
    """
    marks: list[Item] = []
    half, used = overlap / 2, set(grid.used)
    corners = complex(window.left, window.bottom), complex(window.right, window.top)
    for down, right in ((0, -1), (0, 1), (-1, 0), (1, 0)):
        if (row + down, column + right) not in used:
            continue
        along = 1 + 0j if down else 1j
        start, end = (
            complex(
                window.left + half if right < 0 else window.right - half if right else corner.real,
                window.bottom + half if down > 0 else window.top - half if down else corner.imag,
            )
            for corner in corners
        )
        for origin, way in ((start, along), (end, -along)):
            places = [origin + way * (15 + step) for step in range(0, max(1, int(abs(end - start) / 2) - 20), 4)]
            marks.append(cross(next((place for place in places if not taken(place)), places[0]), _MARK))
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
