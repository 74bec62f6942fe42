"""One page as PNG: the paper with everything on it, its resolution written down so that it prints at true size."""

from __future__ import annotations

from cupgeom.drawing import Box, Colour
from cupgeom.errors import CupgeomError
from cupgeom.pages import Document
from cupgeom.pixels import png
from cupgeom.raster import raster

WHITE: Colour = (1.0, 1.0, 1.0)


def render(document: Document, dpi: float = 300, background: Colour | None = WHITE) -> bytes:
    """A document of one page as the bytes of a PNG file, on white paper or, with no background, on nothing.

    Raises
    ------
    CupgeomError
        When the document has more pages than one, or the page asks for more than 100 million pixels.
    """
    if len(document.pages) != 1:
        raise CupgeomError("pages", f"are {len(document.pages)}, but one PNG holds one page; write one for each page")
    page = document.pages[0]
    paper = Box(0.0, 0.0, page.width, page.height)
    picture = raster(page.drawing, paper, dpi, background=background, last=page.last_transform)
    return png(picture, dpi)
