"""The frame of a page: margins, the scale bars along its edges, the caption, the page map. All outside the content."""

from __future__ import annotations

from dataclasses import dataclass, field

from cupgeom.drawing import Affine, Box, Drawing, Item, Pen, Shape, Stroke, Text, circle, polyline
from cupgeom.drawing.vera import ASCENT, text_width
from cupgeom.errors import CupgeomError, number, require_at_least
from cupgeom.pages.page import BARS_IN, BARS_MM

SIDE_BAND = 8.0  # mm kept free along the left edge for the upright bar
_BAR_ROW = 8.5  # mm that the lying bar and its label take
_SIZE, _LEADING = 2.4, 3.3  # mm, captions
_LEAST_COLUMN = 60.0  # mm; a caption is never set narrower
_SAMPLE = 9.0  # mm of line in the legend
_MAP = 12.0  # mm, height of the page map
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
        object.__setattr__(self, "_bars", BARS_IN if self.inches else BARS_MM)

    def content(self, width: float, height: float, *, mapped: bool = False) -> Box:
        """The part of a page of this size that is left for the content.

        Raises
        ------
        CupgeomError
            When margins and notes leave nothing.
        """
        side, foot = (SIDE_BAND, self.foot_height(width, mapped=mapped)) if self.notes else (0.0, 0.0)
        box = Box(self.margin + side, self.margin + foot, width - self.margin, height - self.margin)
        if box.width < 10 or box.height < 10:
            raise CupgeomError(
                "paper",
                f"{number(width)} x {number(height)} mm leaves no room inside margins of {number(self.margin)} mm"
                + (" and the notes" if self.notes else "")
                + "; use larger paper or smaller margins",
            )
        return box

    def page_size(self, width: float, height: float) -> tuple[float, float]:
        """The page that just holds content of this size."""
        wide = width + 2 * self.margin
        if not self.notes:
            return wide, height + 2 * self.margin
        wide = max(wide + SIDE_BAND, _LEAST_COLUMN + 2 * self.margin + SIDE_BAND)
        return wide, height + 2 * self.margin + self.foot_height(wide)

    def foot_height(self, page_width: float, *, mapped: bool = False) -> float:
        """Height of the band along the bottom edge, for its bar and caption."""
        beside, column, lines = self._caption(page_width, mapped)
        caption = (len(lines) + len(_legend_rows(self.legend, column))) * _LEADING + 2
        return max(_BAR_ROW, caption, _MAP + 2 if mapped else 0) if beside else _BAR_ROW + caption

    def notes_on(
        self, width: float, height: float, *, number_line: str = "", page_map: Drawing | None = None
    ) -> Drawing:
        """Bars, caption and map, placed on a page of this size."""
        if not self.notes:
            return Drawing()
        mapped = page_map is not None
        beside, column, lines = self._caption(width, mapped)
        foot = self.foot_height(width, mapped=mapped)
        left, items = self.margin + SIDE_BAND, list[Item]()
        bar = self._bar_for(width - 2 * self.margin - SIDE_BAND)
        across, along = ("width", "length") if width <= height else ("length", "width")
        items += _bar(complex(left, self.margin + 1), 1 + 0j, 1j, bar, self._bar_label(bar, across))
        upright = self._bar_for(height - 2 * self.margin - foot)
        items += _bar(
            complex(self.margin + 1, self.margin + foot), 1j, 1 + 0j, upright, self._bar_label(upright, along)
        )
        x = left + (bar + 6 if beside else 0)
        y = self.margin + foot - _LEADING
        for index, line in enumerate(lines):
            text = line + (f" · {number_line}" if index == 0 and number_line else "")
            items.append(Text(text=text, at=complex(x, y - index * _LEADING), size=_SIZE, bold=index == 0))
        items += _legend(_legend_rows(self.legend, column), complex(x, y - len(lines) * _LEADING))
        if page_map is not None:
            box = page_map.bounds()
            corner = complex(width - self.margin - box.width, self.margin + 1)
            items += page_map.transformed(Affine.move(corner - complex(box.left, box.bottom))).items
        return Drawing(tuple(items))

    def _bar_label(self, bar: float, edge: str) -> str:
        size = f"{number(bar / 25.4)} in" if self.inches else f"{number(bar)} mm"
        return f"{size} along the paper's {edge}"

    def _bar_for(self, room: float) -> float:
        return next((bar for bar in self._bars if bar <= room), self._bars[-1])

    def _caption(self, page_width: float, mapped: bool) -> tuple[bool, float, list[str]]:
        """Whether the caption stands beside the bar, its column's width, and its wrapped lines."""
        room = page_width - 2 * self.margin - SIDE_BAND
        column = room - self._bar_for(room) - 6 - (2 * _MAP if mapped else 0)
        beside = column >= _LEAST_COLUMN
        if not beside:
            column = room - (2 * _MAP if mapped else 0)
        lines = [self.title, *(part for line in self.lines for part in wrapped(line, _SIZE, max(column, 30)))]
        return beside, column, lines


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


def wrapped(text: str, size: float, width: float) -> list[str]:
    """A line broken at spaces so that no part is wider than `width`, where words allow it."""
    lines: list[str] = []
    for word in text.split(" "):
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _bar(start: complex, along: complex, ticks: complex, length: float, label: str) -> list[Item]:
    """A bar of true length with a tick at each tenth, and its label on the ticks' side."""
    pen = Pen(start).line(start + length * along)
    for tenth in range(11):
        at = start + length * tenth / 10 * along
        pen.move(at).line(at + (2.2 if tenth in {0, 5, 10} else 1.2) * ticks)
    shape = Shape(path=pen.path(), role="note", stroke=_LINE, name="scale bar")
    upright = along == 1j
    baseline = start + (2.8 + (_SIZE * ASCENT if upright else 0)) * ticks + along
    return [shape, Text(text=label, at=baseline, size=_SIZE - 0.2, angle_deg=90.0 if upright else 0.0)]


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
