"""Pages as PDF 1.6: true size, page boxes for the print shop, one layer a role that a viewer can switch.

The streams hold mm under one scaling to points. Lines end flat (butt caps), so that a dash is exactly as long as it
says, and meet in points (mitred joins up to 10 line widths); both are PDF's own defaults.
"""

from __future__ import annotations

import hashlib
from array import array
from collections.abc import Iterable, Iterator
from pathlib import Path as FilePath
from typing import Any

import reportlab
from reportlab.pdfbase import pdfdoc
from reportlab.pdfbase.ttfonts import TTFont

from cupgeom.drawing import ROLES, Affine, Arc, Box, Item, Line, Path, Pen, Role, Shape, Text, vera
from cupgeom.errors import require_at_most, within
from cupgeom.pages import Document, Page

POINTS_PER_MM = 72 / 25.4
LARGEST_PAGE = 5080.0  # mm, 14 400 units of 1/72 in: the limit of viewers stated in ISO 32000-1, annex C (from memory)
ARC_TOLERANCE = 0.001  # mm between an arc and its cubics
_OPERATORS = {"M": "{} {} m", "L": "{} {} l", "C": "{} {} {} {} {} {} c", "Z": "h"}


def render(document: Document) -> bytes:
    """A document as the bytes of a PDF file; a character that Vera lacks is written as a question mark.

    Raises
    ------
    CupgeomError
        When a page is larger than viewers open.
    """
    for index, page in enumerate(document.pages):
        with within(f"pages[{index}]"):
            require_at_most("width", page.width, LARGEST_PAGE)
            require_at_most("height", page.height, LARGEST_PAGE)
    file = pdfdoc.PDFDocument(compression=1, invariant=1, pdfVersion=(1, 6))
    layers = _add_layers(file, document)
    ink = _Ink(file)
    streams = []
    for page in document.pages:
        streams.append("\n".join(ink.page(page)))
        _add_page(file, page, streams[-1], layers)
    for font in file.delayedFonts:
        font.addObjects(file)
    title = document.title.encode("utf-16", "replace").decode("utf-16")
    file.info = pdfdoc.PDFDictionary({"Title": pdfdoc.PDFString(title), "Creator": pdfdoc.PDFString("cupgeom")})
    if any(page.name for page in document.pages):
        file.Catalog.PageLabels = pdfdoc.PDFPageLabels()
        for index, page in enumerate(document.pages):
            file.Catalog.PageLabels.addPageLabel(index, pdfdoc.PDFPageLabel(prefix=page.name))
    file.Catalog.Outlines = None
    file.Catalog.ViewerPreferences = pdfdoc.PDFDictionary({"PrintScaling": "/None", "DisplayDocTitle": "true"})
    # reportlab's own identifier speaks for the title and the clock, this one for everything on the pages
    file.signature = hashlib.md5("\n".join([title, *streams]).encode(), usedforsecurity=False)
    data: bytes = file.format()
    return data


def _add_layers(file: Any, document: Document) -> dict[Role, Any]:
    """One optional content group a role that occurs, listed in the catalogue (ISO 32000-1, 8.11)."""
    present = {role for page in document.pages for role in page.drawing.roles()}
    layers = {
        role: file.Reference(pdfdoc.PDFDictionary({"Type": "/OCG", "Name": pdfdoc.PDFString(role)}), f"layer {role}")
        for role in ROLES
        if role in present
    }
    if layers:
        groups = pdfdoc.PDFArray(layers.values())
        shown = pdfdoc.PDFDictionary({"Order": groups, "ON": groups})
        file.Catalog.OCProperties = pdfdoc.PDFDictionary({"OCGs": groups, "D": shown})
        file.Catalog.__NoDefault__ = [*file.Catalog.__NoDefault__, "OCProperties"]  # else it is dropped
    return layers


def _add_page(file: Any, page: Page, stream: str, layers: dict[Role, Any]) -> None:
    sheet = pdfdoc.PDFPage()
    sheet.MediaBox = _box(Box(0.0, 0.0, page.width, page.height))
    sheet.TrimBox = _box(page.trim_box)
    sheet.BleedBox = _box(page.bleed_box)
    sheet.Resources = pdfdoc.PDFResourceDictionary(Properties=layers)
    sheet.Resources.basicFonts()
    sheet.Contents = pdfdoc.PDFStream(content=stream.encode(), filters=[pdfdoc.PDFZCompress])
    file.addPage(sheet)


class _Ink:
    """Turns pages into operators; keeps the fonts that they need."""

    def __init__(self, file: Any) -> None:
        self.file = file
        self.fonts: dict[bool, Any] = {}

    def page(self, page: Page) -> Iterator[str]:
        yield f"{POINTS_PER_MM:.12f} 0 0 {POINTS_PER_MM:.12f} 0 0 cm"
        if not page.correction.is_none:
            yield " ".join(f"{value:.12f}" for value in page.last_transform) + " cm"
        for role in page.drawing.roles():
            yield f"/OC /{role} BDC"
            yield from self.items(page.drawing.only([role]).items)
            yield "EMC"

    def items(self, items: Iterable[Item]) -> Iterator[str]:
        for item in items:
            if isinstance(item, Shape):
                yield from _shape(item)
            elif isinstance(item, Text):
                yield from self.text(item)
            elif item.clip:
                yield f"q {_path(item.clip)} W n"
                yield from self.items(item.items)
                yield "Q"

    def text(self, text: Text) -> Iterator[str]:
        place = Affine.move(text.start) @ Affine.rotation(text.angle_deg)
        yield f"BT {_numbers(text.colour)} rg {_numbers(place)} Tm"
        written = text.text.translate({ord(char): "?" for char in vera.missing_characters(text.text)})
        font = self.font(text.bold)
        for subset, codes in font.splitString(written, self.file):
            name = font.getSubsetInternalName(subset, self.file)
            yield f"{name} {_number(text.size)} Tf <{codes.hex()}> Tj"
        yield "ET"

    def font(self, bold: bool) -> Any:
        if bold not in self.fonts:
            name = "VeraBd" if bold else "Vera"
            file = FilePath(reportlab.__file__).with_name("fonts") / f"{name}.ttf"
            self.fonts[bold] = TTFont(name, str(file), asciiReadable=False)
        return self.fonts[bold]


def _shape(shape: Shape) -> Iterator[str]:
    fill, stroke = shape.fill, shape.stroke
    paint = "B" if fill and stroke else "f" if fill else "S" if stroke else ""
    if not paint or not shape.path:
        return
    if fill:
        yield f"{_numbers(fill)} rg"
    if stroke:
        yield f"{_numbers(stroke.colour)} RG {_number(stroke.width)} w [{_numbers(stroke.dashes)}] 0 d"
    yield _path(shape.path)
    yield paint + "*" * (shape.even_odd and paint != "S")


def _path(path: Path) -> str:
    """Path construction operators, formatted in one go."""
    drawn = _without_arcs(path) if b"A" in path.kinds else path
    template = "\n".join(_OPERATORS[kind] for kind in drawn.kinds.decode())
    return template.format(*map(_number, array("d", drawn.coords)))


def _without_arcs(path: Path) -> Path:
    """The path with cubics for its arcs."""
    pen = Pen()
    for segments, closed in path.outlines():
        if not segments:
            continue
        pen.move(segments[0].start)
        drawn = segments[:-1] if closed and isinstance(segments[-1], Line) else segments  # h draws the last line
        for segment in drawn:
            for piece in segment.cubics(ARC_TOLERANCE) if isinstance(segment, Arc) else [segment]:
                pen.segment(piece)
        if closed:
            pen.close()
    return pen.path()


def _box(box: Box) -> Any:
    return pdfdoc.PDFArray([_number(edge * POINTS_PER_MM) for edge in box])


def _numbers(values: Iterable[float]) -> str:
    return " ".join(map(_number, values))


def _number(value: float) -> str:
    """Six decimals (1 nm, where the value is in mm) without trailing zeros; PDF knows no exponents."""
    return f"{value:z.6f}".rstrip("0").rstrip(".")
