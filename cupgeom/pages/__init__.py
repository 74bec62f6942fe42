"""Paper, pages, tiles, marks, bars and the printer correction. They know drawings, no cups."""

from cupgeom.pages.frame import Frame
from cupgeom.pages.layout import Placed, fits, single_page
from cupgeom.pages.page import Correction, Document, Page, read_bars
from cupgeom.pages.paper import FIT, Paper, parse_paper
from cupgeom.pages.tiles import TILE_OVERLAP, tiled

__all__ = [
    "FIT",
    "TILE_OVERLAP",
    "Correction",
    "Document",
    "Frame",
    "Page",
    "Paper",
    "Placed",
    "fits",
    "parse_paper",
    "read_bars",
    "single_page",
    "tiled",
]
