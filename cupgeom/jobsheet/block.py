"""Blocks of a page that stand below each other: rows of columns, headings, and how they flow over pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from cupgeom.drawing import Affine, Box, Colour, Item, Shape, Stroke, Text, polyline
from cupgeom.drawing.items import Anchor
from cupgeom.jobsheet.words import plain
from cupgeom.pages.frame import wrapped

INK: Colour = (0.13, 0.14, 0.17)
FAINT: Colour = (0.43, 0.45, 0.50)
RULE = Stroke(width=0.3, colour=(0.35, 0.37, 0.42))
HAIR = Stroke(width=0.12, colour=(0.74, 0.76, 0.79))
SIZE = 2.7  # mm, of what is read at the bench
LEADING = 1.36  # times the size, from line to line
TICK, TICK_GAP = 3.1, 1.1  # mm, a box to tick and the room between two
_ABOVE, _BELOW = 1.25, 1.05  # mm of air in a row
_TALLEST_LINES = 20  # lines of a row that stay together; a longer row goes on in another
_BETWEEN = 6.0  # mm from section to section
_SHARE_KEPT = 0.35  # of a page; a section no higher than that is not broken
_SHARE_BEGUN = 0.2  # of a page; a section that is broken does not begin where less is left


@dataclass(frozen=True, slots=True)
class Cell:
    """Words in a column."""

    text: str = ""
    size: float = SIZE
    bold: bool = False
    colour: Colour = INK


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Where cells stand: from the left edge of the room, how wide, and to which side they are set."""

    left: float
    width: float
    head: str = ""
    right: bool = False


@dataclass(frozen=True, slots=True)
class Block:
    """Items below the point 0, to the right of it.

    It keeps the next block with it where it must not end a page; where it begins one, the blocks `again` go before it.
    """

    height: float
    items: tuple[Item, ...]
    keeps_next: bool = False
    again: tuple[Block, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Rows below what stands at their head, and what stands there where they go on on another page."""

    head: tuple[Block, ...] = ()
    again: tuple[Block, ...] = ()
    rows: tuple[Block, ...]


def columns(width: float, *asked: tuple[str, float, bool], gap: float = 3.0) -> tuple[Column, ...]:
    """Columns from heads, widths (0 for what is left; several share it) and whether they are set to the right."""
    free = width - sum(each for _, each, _ in asked) - gap * (len(asked) - 1)
    share = free / max(1, sum(each == 0 for _, each, _ in asked))
    found, left = [], 0.0
    for head, each, right in asked:
        found.append(Column(left=left, width=each or share, head=head, right=right))
        left += (each or share) + gap
    return tuple(found)


def row(places: Sequence[Column], cells: Sequence[Cell], *, rule: bool = True, ticks: int = 0) -> list[Block]:
    """A row of cells, long ones broken, above a hairline; in parts where it is very high.

    Boxes to tick stand at the left edge, in a column of their own, and only in the first part.
    """
    lines = [wrapped(plain(cell.text), cell.size, place.width, bold=cell.bold) for place, cell in _pairs(places, cells)]
    most = max(map(len, lines), default=0)
    step = LEADING * max(cell.size for cell in cells)
    blocks = []
    for first in range(0, max(most, 1), _TALLEST_LINES):
        count = min(max(most, 1) - first, _TALLEST_LINES)
        last = first + count >= most
        height = _ABOVE + count * step + _BELOW
        items = list(_tick_boxes(ticks)) if first == 0 else []
        for (place, cell), texts in zip(_pairs(places, cells), lines, strict=True):
            for index, text in enumerate(texts[first : first + count]):
                items.append(_set(text, cell, place, _ABOVE + (index + 0.8) * step))
        if rule and last:
            items.append(line(-height, places[0].left, places[-1].left + places[-1].width, HAIR))
        blocks.append(Block(height, tuple(items)))
    return blocks


def section(name: str, width: float, rows: Sequence[Block], places: Sequence[Column] = ()) -> Section:
    """Rows below their name and the names of their columns, both said again where they go on on another page."""
    below = (_heads(places),) if places else ()
    head, again = ((_heading(text, width), *below) for text in (name, f"{name}, continued"))
    return Section(head=head, again=again, rows=tuple(rows))


def _heading(text: str, width: float) -> Block:
    """The name of a section above a rule."""
    at = complex(0, -4.2)
    name = Text(text=text, at=at, size=3.6, bold=True, colour=INK)
    return Block(6.0, (name, line(-5.7, 0, width, RULE)), keeps_next=True)


def _heads(places: Sequence[Column]) -> Block:
    """The names of columns."""
    small = [Cell(place.head, 2.1, colour=FAINT) for place in places]
    [block] = row(places, small)
    return replace(block, keeps_next=True)


def _tick_boxes(count: int) -> Iterator[Item]:
    """Boxes to tick beside the first line of a row."""
    for index in range(count):
        left, top = index * (TICK + TICK_GAP), -_ABOVE - 0.4
        box = Box(left, top - TICK, left + TICK, top)
        yield Shape(path=box.outline(), role="note", stroke=replace(RULE, width=0.22), name="box to tick")


def line(height: float, left: float, right: float, stroke: Stroke) -> Shape:
    """A level rule."""
    return Shape(path=polyline([complex(left, height), complex(right, height)]), role="note", stroke=stroke)


def flowed(sections: Sequence[Section], room: Box) -> list[list[Item]]:
    """The items of each page: sections from the top down, a new page where the room ends."""
    return _Flow(room).over(sections)


class _Flow:
    """Where the next block stands."""

    def __init__(self, room: Box) -> None:
        self.room = room
        self.pages: list[list[Item]] = [[]]
        self.top = room.top

    def over(self, sections: Sequence[Section]) -> list[list[Item]]:
        """All sections."""
        for part in sections:
            self._begin(part)
            self._put(part.head)
            for index, block in enumerate(part.rows):
                if _least(part.rows, index) > self.top - self.room.bottom + 1e-9:
                    self._turn()
                    self._put((*part.again, *block.again))
                self._put((block,))
        return self.pages

    def _begin(self, part: Section) -> None:
        """Some air, or a new page where the section would begin too low."""
        if self.top < self.room.top:
            self.top -= _BETWEEN
        needed = _height(part.head) + _height(part.rows)
        if needed > _SHARE_KEPT * self.room.height:
            needed = max(_height(part.head) + _least(part.rows, 0), _SHARE_BEGUN * self.room.height)
        if needed > self.top - self.room.bottom:
            self._turn()

    def _turn(self) -> None:
        if self.top < self.room.top:
            self.pages.append([])
            self.top = self.room.top

    def _put(self, blocks: Sequence[Block]) -> None:
        for block in blocks:
            shift = Affine.move(complex(self.room.left, self.top))
            self.pages[-1] += [item.transformed(shift) for item in block.items]
            self.top -= block.height


def _height(blocks: Sequence[Block]) -> float:
    return sum(block.height for block in blocks)


def _least(blocks: Sequence[Block], index: int) -> float:
    """Height of a block and of those it must not part from."""
    end = index
    while end < len(blocks) - 1 and blocks[end].keeps_next:
        end += 1
    return _height(blocks[index : end + 1])


def _pairs(places: Sequence[Column], cells: Sequence[Cell]) -> list[tuple[Column, Cell]]:
    return list(zip(places, cells, strict=True))


def _set(text: str, cell: Cell, place: Column, down: float) -> Text:
    at = complex(place.left + place.width * place.right, -down)
    anchor: Anchor = "end" if place.right else "start"
    return Text(text=text, at=at, size=cell.size, anchor=anchor, bold=cell.bold, colour=cell.colour)
