"""The frame of a page: margins, the scale bars along its edges, the caption, the page map. All outside the content."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from cupgeom.drawing import Affine, Box, Drawing, Item, Pen, Shape, Stroke, Text, circle, polyline
from cupgeom.drawing.vera import ASCENT, DESCENT, text_width
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most
from cupgeom.pages.page import BARS_IN, BARS_MM

SIDE_BAND = 8.0  # mm kept free along the left edge for the upright bar
_BAR_ROW = 8.5  # mm that the lying bar and its label take
_SIZE, _LEADING, _BAR_SIZE = 2.4, 3.3, 2.2  # mm, captions and labels of bars
_LEAST_COLUMN = 60.0  # mm; beside the bar a caption is never set narrower
_LEAST, _LEAST_WITH_NOTES = 10.0, 30.0  # mm of width that a given sheet must leave; a legend needs the second
_LARGEST_MARGIN = 1000.0  # mm; more is a slip of the unit
_SAMPLE = 9.0  # mm of line in the legend
_MAP = 12.0  # mm, height of the page map
_BREATH = 1.5  # mm between the content and the caption
_LONGEST_NUMBERS = {
    False: "panel 10 of 10",
    True: "panel 10 of 10, page 100 of 100, tile A10",
}  # by the title, if mapped
_LINE = Stroke(width=0.2)
_THIN = Stroke(width=0.12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Margins and notes of every page of a document.

    Parameters
    ----------
    title
        First line of the caption.
    lines
        The other lines of the caption; long ones are wrapped.
    legend
        Names of the lines that occur in the content, each with its stroke.
    margin
        Edge of the paper that the printer leaves white, on all four sides.
    inches
        Bars of 4, 2 and 1 in instead of 100, 50 and 20 mm.
    notes
        False for a page that holds its content and nothing else.
    """

    title: str
    lines: tuple[str, ...] = ()
    legend: tuple[tuple[str, Stroke], ...] = ()
    margin: float = 5.0
    inches: bool = False
    notes: bool = True
    _bars: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        require_at_least("margin", self.margin, 0)
        require_at_most("margin", self.margin, _LARGEST_MARGIN)
        object.__setattr__(self, "_bars", BARS_IN if self.inches else BARS_MM)

    def content(self, width: float, height: float, *, mapped: bool = False) -> Box:
        """The part of a page of this size that is left for the content.

        Raises
        ------
        CupgeomError
            When margins and notes leave nothing.
        """
        box = self.room(width, height, mapped=mapped)
        if box.width < (_LEAST_WITH_NOTES if self.notes else _LEAST) or box.height < _LEAST:
            raise CupgeomError(
                "paper",
                f"{number(width)} x {number(height)} mm leaves no room inside margins of {number(self.margin)} mm"
                + (" and the notes" if self.notes else "")
                + "; use larger paper or smaller margins",
            )
        return box

    def room(self, width: float, height: float, *, mapped: bool = False) -> Box:
        """What margins and notes leave of a page of this size, be it nothing."""
        side, foot = (SIDE_BAND, self.foot_height(width, mapped=mapped)) if self.notes else (0.0, 0.0)
        return Box(self.margin + side, self.margin + foot, width - self.margin, height - self.margin)

    def page_size(self, width: float, height: float) -> tuple[float, float]:
        """The page that just holds content of this size."""
        wide = width + 2 * self.margin
        if not self.notes:
            return wide, height + 2 * self.margin
        wide = max(wide + SIDE_BAND, _LEAST_COLUMN + 2 * self.margin + SIDE_BAND)
        return wide, height + 2 * self.margin + self.foot_height(wide)

    def foot_height(self, page_width: float, *, mapped: bool = False) -> float:
        """Height of the band along the bottom edge, for its bar and caption."""
        return self._foot(page_width, mapped=mapped).height

    def notes_on(
        self,
        width: float,
        height: float,
        *,
        number_line: str = "",
        page_map: Drawing | None = None,
        turned: bool = False,
    ) -> Drawing:
        """Bars, caption and map, placed on a page of this size; `turned` when the paper's length lies across."""
        if not self.notes:
            return Drawing()
        mapped = page_map is not None
        foot = self._foot(width, mapped=mapped)
        left, base, items = self.margin + SIDE_BAND, self.margin + foot.height, list[Item]()
        across, along = ("length", "width") if turned else ("width", "length")
        items += _bar(complex(left, self.margin + 1), 1 + 0j, 1j, foot.bar, self._bar_label(foot.bar, across))
        upright = self._bar_for(height - self.margin - base)
        items += _bar(complex(self.margin + 1, base), 1j, 1 + 0j, upright, self._bar_label(upright, along))
        at = complex(left + foot.caption_from, base - _BREATH - _LEADING)
        titles = self._titles(number_line, foot.column)
        for index, line in enumerate([*titles, *self._wrapped_lines(foot.column)]):
            items.append(Text(text=line, at=at, size=_SIZE, bold=index < len(titles)))
            at -= 1j * _LEADING
        items += _legend(_legend_rows(self.legend, foot.column), at)
        if page_map is not None:
            box = page_map.bounds()
            corner = complex(width - self.margin - box.width, self.margin + 1)
            items += page_map.transformed(Affine.move(corner - complex(box.left, box.bottom))).items
        return Drawing(tuple(items))

    def _bar_label(self, bar: float, edge: str) -> str:
        size = f"{number(bar / 25.4)} in" if self.inches else f"{number(bar)} mm"
        whole = f"{size} along the paper's {edge}"
        return whole if text_width(whole, _BAR_SIZE) < bar else f"{size}, {edge}"

    def _bar_for(self, room: float) -> float:
        """The longest bar that the room holds, 0 where it holds none."""
        return next((bar for bar in self._bars if bar <= room), 0.0)

    def _foot(self, page_width: float, *, mapped: bool) -> _Foot:
        """The less high of two layouts: the caption beside the bar, or above it."""
        room = page_width - 2 * self.margin - SIDE_BAND - (2 * _MAP + 2 if mapped else 0)
        bar = self._bar_for(room)
        feet = []
        for caption_from in (bar + 6, 0.0):
            column = room - caption_from
            if caption_from and column < _LEAST_COLUMN:
                continue
            rows = len(self._titles(_LONGEST_NUMBERS[mapped], column)) + len(self._wrapped_lines(column))
            height = (rows + len(_legend_rows(self.legend, column))) * _LEADING + _BREATH + 2
            height = max(height, _MAP + 2) if caption_from else _BAR_ROW + height
            feet.append(_Foot(height=height, bar=bar, caption_from=caption_from, column=column))
        return min(feet)

    def _titles(self, number_line: str, column: float) -> list[str]:
        title = f"{self.title} · {number_line}" if number_line else self.title
        return wrapped(title, _SIZE, column, bold=True)

    def _wrapped_lines(self, column: float) -> list[str]:
        return [part for line in self.lines for part in wrapped(line, _SIZE, column)]


class _Foot(NamedTuple):
    """The band along the bottom edge: its height, its bar, where its caption begins and how wide that is."""

    height: float
    bar: float
    caption_from: float
    column: float


def _legend_rows(legend: tuple[tuple[str, Stroke], ...], width: float) -> list[list[tuple[float, str, Stroke]]]:
    """The legend's entries in rows of at most a width, each with its place in the row."""
    rows: list[list[tuple[float, str, Stroke]]] = []
    at = width
    for name, stroke in legend:
        needed = _SAMPLE + 1 + text_width(name, _SIZE)
        if at + needed > width:
            rows.append([])
            at = 0.0
        rows[-1].append((at, name, stroke))
        at += needed + 4
    return rows


def _legend(rows: list[list[tuple[float, str, Stroke]]], start: complex) -> list[Item]:
    """Each line's look and name."""
    items: list[Item] = []
    for index, row in enumerate(rows):
        for along, name, stroke in row:
            at = start + complex(along, -index * _LEADING)
            lifted = at + 0.3j * _SIZE
            sample = polyline([lifted, lifted + _SAMPLE])
            items.append(Shape(path=sample, role="note", stroke=stroke, name=f"legend: {name}"))
            items.append(Text(text=name, at=at + _SAMPLE + 1, size=_SIZE))
    return items


def wrapped(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """A line broken at spaces so that no part is wider than `width`; within words that are wider themselves."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size, bold=bold) <= width:
            lines[-1] += f" {word}"
            continue
        lines.append("")
        for char in word:
            if lines[-1] and text_width(lines[-1] + char, size, bold=bold) > width:
                lines.append("")
            lines[-1] += char
    return lines


def _bar(start: complex, along: complex, ticks: complex, length: float, label: str) -> list[Item]:
    """A bar of true length with a tick at each tenth, and its label on the ticks' side; nothing for no length."""
    if not length:
        return []
    pen = Pen(start).line(start + length * along)
    for tenth in range(11):
        inset = {0: 1, 10: -1}.get(tenth, 0) * _LINE.width / 2  # so that the outer edges are the length apart
        at = start + (length * tenth / 10 + inset) * along
        pen.move(at).line(at + (2.2 if tenth in {0, 5, 10} else 1.2) * ticks)
    shape = Shape(path=pen.path(), role="note", stroke=_LINE, name="scale bar")
    upright = along == 1j
    baseline = start + (2.6 + (ASCENT if upright else DESCENT) * _BAR_SIZE) * ticks + along
    return [shape, Text(text=label, at=baseline, size=_BAR_SIZE, angle_deg=90.0 if upright else 0.0)]


def page_map(columns: int, rows: int, names: dict[tuple[int, int], str], here: tuple[int, int]) -> Drawing:
    """A small plan of the pages, the present one marked; places without a page stay empty."""
    height = (_MAP - 1) / rows
    width = min(2 * _MAP / columns, height * 1.6)
    items: list[Item] = []
    for (row, column), name in sorted(names.items()):
        box = Box(column * width, (rows - 1 - row) * height, (column + 1) * width, (rows - row) * height)
        marked = (row, column) == here
        fill = (0.85, 0.85, 0.85) if marked else None
        items.append(Shape(path=box.outline(), role="note", stroke=_THIN, fill=fill, name=f"page map {name}"))
        size = min(height * 0.5, width * 0.35, 2.6)
        centre = box.centre - 0.36j * size
        items.append(Text(text=name, at=centre, size=size, anchor="middle", bold=marked))
    return Drawing(tuple(items))


def cross(at: complex, size: float = 3.0) -> Shape:
    """A registration mark: a cross in a circle, the same on every page that shows the place."""
    arms = polyline([at - size, at + size]) + polyline([at - 1j * size, at + 1j * size])
    return Shape(path=arms + circle(at, size * 0.5), role="guide", stroke=_THIN, name="registration mark")
