"""The proof on one page: four views, the walls unrolled, what the customer is asked to read, and the proof mark."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cupgeom.drawing import Affine, Box, Colour, Drawing, Item, Picture, Shape, Stroke, Text, polyline
from cupgeom.errors import CupgeomError, require_at_least, require_positive
from cupgeom.pages import Document, Page
from cupgeom.pages.frame import wrapped
from cupgeom.proof.camera import camera, natural_rows
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.picture import picture
from cupgeom.proof.strip import strip

VIEWS = (("front", 0.0), ("left", -90.0), ("right", 90.0), ("back", 180.0))
_INK: Colour = (0.16, 0.17, 0.20)
_FAINT: Colour = (0.45, 0.47, 0.52)
_HAIR = Stroke(width=0.15, colour=(0.75, 0.77, 0.80))
_LEAST_COLUMNS = 480


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofSheet:
    """What stands on the page besides the cup.

    Parameters
    ----------
    title
        At the top; the cup's name when empty.
    mark
        The proof mark.
    lines
        Short statements below the sizes, such as quantity and media; long ones are broken.
    names
        What is written on the cups, for the customer to read.
    columns
        Width of the page in pixels.
    dpi
        Pixels to the inch, hence the width in mm: 2400 at 300 are 203.2 mm.
    """

    title: str = ""
    mark: str = ""
    lines: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    columns: int = 2400
    dpi: float = 300.0

    def __post_init__(self) -> None:
        if type(self.columns) is not int:
            raise CupgeomError("columns", f"must be a whole number of pixels, got {self.columns!r}")
        require_at_least("columns", self.columns, _LEAST_COLUMNS, "pixels")
        require_positive("dpi", self.dpi, "dots per inch")


def sheet(finished: FinishedCup, asked: ProofSheet) -> Document:
    """The proof as a page as wide as asked, and as high as it takes; every picture lies on whole pixels.

    Raises
    ------
    CupgeomError
        When a picture asks for more than 100 million pixels.
    """
    return _Layout(finished, asked).document()


class _Layout:
    """The page from the top down, in pixels until the end."""

    def __init__(self, finished: FinishedCup, asked: ProofSheet) -> None:
        self.finished, self.asked = finished, asked
        self.unit = asked.columns / 100  # a hundredth of the width
        self.margin = round(3 * self.unit)
        self.items: list[tuple[float, Item]] = []  # with the distance of their origin from the top of the page
        self.down = float(self.margin)

    def document(self) -> Document:
        """The page."""
        title = self.asked.title or self.finished.cup.name or "Proof"
        self._head(title)
        self._views()
        self._below()
        rows = math.ceil(self.down + self.margin)
        pixel = 25.4 / self.asked.dpi
        items = [item.transformed(Affine.move(complex(0, rows - top))) for top, item in self.items]
        drawing = Drawing(tuple(items)).transformed(Affine.scale(pixel, pixel))
        page = Page(width=self.asked.columns * pixel, height=rows * pixel, drawing=_thin(drawing, pixel))
        return Document(title=title, pages=(page,))

    def _head(self, title: str) -> None:
        size, right = 2.6 * self.unit, self.asked.columns - self.margin
        mark = f"proof {self.asked.mark}" if self.asked.mark else ""
        beside = Text(text=mark or " ", at=complex(right, 0), size=1.7 * self.unit, anchor="end", colour=_FAINT)
        width = right - self.margin - beside.width - 2 * self.unit
        for index, line in enumerate(wrapped(title, size, width, bold=True)):
            self.down += 1.25 * size if index else size
            self._add(self.down, Text(text=line, at=complex(self.margin, 0), size=size, bold=True, colour=_INK))
        if mark:
            self._add(self.margin + size, beside)
        self.down += 1.0 * self.unit

    def _views(self) -> None:
        gap = round(1 * self.unit)
        columns = (self.asked.columns - 2 * self.margin - 3 * gap) // 4
        rows = natural_rows(self.finished, columns)
        eye = camera(self.finished, 0.0, columns, rows)
        nearest = eye.distance - max(ring.diameter for ring in self.finished.cup.rings) / 2
        self.textures = self.finished.textures(min(600.0, 1.5 * 25.4 * eye.focal / nearest))
        top = round(self.down)
        for index, (name, turn) in enumerate(VIEWS):
            left = self.margin + index * (columns + gap)
            seen = picture(self.finished, self.textures, replace(eye, turn_deg=turn))
            self._picture(seen, left, top, f"view: {name}")
            at = complex(left + columns / 2, 0)
            words = Text(text=name, at=at, size=1.5 * self.unit, anchor="middle", colour=_INK)
            self._add(top + rows + 1.8 * self.unit, words)
        self.down = top + rows + 3.6 * self.unit

    def _below(self) -> None:
        """The strip at the left, words at its right."""
        inner = self.asked.columns - 2 * self.margin
        widest = max(ring.diameter for ring in self.finished.cup.rings)
        steep = self.finished.cup.slant / (math.pi * widest)
        columns = round(min(0.62 * inner, 0.36 * inner / steep))
        columns = max(columns, round(0.3 * inner))
        band = strip(self.finished, self.textures, columns)
        top = round(self.down + 2.4 * self.unit)
        self._ticks(columns, top, band.rows)
        self._picture(band, self.margin, top, "unrolled")
        outline = Box(self.margin, -band.rows, self.margin + columns, 0).outline()
        self._add(top, Shape(path=outline, role="note", stroke=_HAIR))
        bottom = top + band.rows
        self._words(self.margin + columns + 3 * self.unit, top)
        self.down = max(self.down, bottom)

    def _ticks(self, columns: int, top: float, rows: int) -> None:
        size = 1.2 * self.unit
        names = (("back", 0.0, "start"), ("left", 0.25, "middle"), ("front", 0.5, "middle"), ("right", 0.75, "middle"),
                 ("back", 1.0, "end"))  # fmt: skip
        for name, share, anchor in names:
            x = self.margin + share * columns
            words = Text(text=name, at=complex(x, 0), size=size, anchor=anchor, colour=_FAINT)  # type: ignore[arg-type]
            self._add(top - 1.0 * self.unit, words)
            ends = (complex(x, 0.2 * self.unit), complex(x, 0.8 * self.unit))
            self._add(top, Shape(path=polyline(ends), role="note", stroke=_HAIR))

    def _words(self, left: float, top: float) -> None:
        """Sizes, lines, names."""
        width = self.asked.columns - self.margin - left
        self.down = top
        size = 1.5 * self.unit
        paragraphs = [(line, False) for line in (self.finished.caption(), *self.asked.lines)]
        if self.asked.names:
            paragraphs += [("Please read every letter:", True), *((name, False) for name in self.asked.names)]
        for text, bold in paragraphs:
            for line in wrapped(text, size, width, bold=bold):
                self.down += 1.45 * size
                self._add(self.down, Text(text=line, at=complex(left, 0), size=size, bold=bold, colour=_INK))
            self.down += 0.35 * size

    def _picture(self, found: Picture, left: float, top: float, name: str) -> None:
        place = Affine(found.columns, 0.0, 0.0, found.rows, left, -found.rows)
        self._add(top, replace(found, place=place, name=name))

    def _add(self, top: float, item: Item) -> None:
        self.items.append((top, item))


def _thin(drawing: Drawing, pixel: float) -> Drawing:
    """The drawing with hairlines at least one pixel wide."""
    width = max(_HAIR.width, pixel)
    thin = replace(_HAIR, width=width)
    return Drawing(tuple(replace(item, stroke=thin) if isinstance(item, Shape) else item for item in drawing.items))
