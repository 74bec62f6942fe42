"""Pages as PDF 1.6: true size, page boxes for the print shop, one layer a role that a viewer can switch."""

from __future__ import annotations

import hashlib
from typing import Any

from reportlab.pdfbase import pdfdoc

from cupgeom.drawing import ROLES, Box, Role
from cupgeom.errors import require_at_most, within
from cupgeom.pages import Document, Page
from cupgeom.writers.pdf_paint import Shared, Stream, numbers

POINTS_PER_MM = 72 / 25.4
LARGEST_PAGE = 5080.0  # mm, 14 400 units of 1/72 in: the limit of viewers stated in ISO 32000-1, annex C (from memory)


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
    shared = Shared(file)
    contents = [_add_page(page, shared, layers) for page in document.pages]
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
    file.signature = hashlib.md5("\n".join([title, *contents]).encode(), usedforsecurity=False)
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


def _add_page(page: Page, shared: Shared, layers: dict[Role, Any]) -> str:
    """Add a page; returns its operators, which name everything they use by what it holds."""
    stream = _stream(page, shared)
    content = "\n".join(stream.lines)
    sheet = pdfdoc.PDFPage()
    sheet.MediaBox = _box(Box(0.0, 0.0, page.width, page.height))
    sheet.TrimBox = _box(page.trim_box)
    sheet.BleedBox = _box(page.bleed_box)
    sheet.Resources = stream.resources(Properties=layers)
    if stream.used:  # what is let through in part is mixed as red, green, blue, whatever the printer's own inks
        sheet.Group = "<< /S /Transparency /CS /DeviceRGB >>"
        sheet.__NoDefault__ = [*sheet.__NoDefault__, "Group"]  # else it is dropped
    sheet.Contents = pdfdoc.PDFStream(content=content.encode(), filters=[pdfdoc.PDFZCompress])
    shared.file.addPage(sheet)
    return content


def _stream(page: Page, shared: Shared) -> Stream:
    stream = Stream(shared)
    stream.add(f"{POINTS_PER_MM:.12f} 0 0 {POINTS_PER_MM:.12f} 0 0 cm")
    if not page.correction.is_none:
        stream.add(" ".join(f"{value:.12f}" for value in page.last_transform) + " cm")
    for role in page.drawing.roles():
        stream.add(f"/OC /{role} BDC")
        stream.items(page.drawing.only([role]).items)
        stream.add("EMC")
    return stream


def _box(box: Box) -> Any:
    return pdfdoc.PDFArray([numbers([edge * POINTS_PER_MM]) for edge in box])
