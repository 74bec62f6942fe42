"""One page as SVG 1.1: millimetres, true arcs, gradients and pictures inside the file, one group a role."""

from __future__ import annotations

import io

import svgwrite

from cupgeom.errors import CupgeomError
from cupgeom.markup import add_drawing, decimal, legal
from cupgeom.pages import Document


def render(document: Document) -> bytes:
    """A document of one page as the bytes of an SVG file.

    Raises
    ------
    CupgeomError
        When the document has more pages than one.
    """
    if len(document.pages) != 1:
        what = f"are {len(document.pages)}, but one SVG holds one page; write a PDF, or one SVG for each page"
        raise CupgeomError("pages", what)
    page = document.pages[0]
    width, height = decimal(page.width), decimal(page.height)
    shell = svgwrite.Drawing(size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False)
    shell.set_desc(title=legal(document.title))
    add_drawing(page.drawing, shell, page.height, page.last_transform)
    file = io.StringIO()
    shell.write(file)
    return file.getvalue().encode()
