"""Artwork from files: SVG and pictures of pixels, as drawings in mm."""

from __future__ import annotations

from cupgeom.decor.artwork.artwork import Artwork, effective_dpi, resolution_notices
from cupgeom.decor.artwork.border import art_without_white, without_white
from cupgeom.decor.artwork.raster_art import read_picture
from cupgeom.decor.artwork.read import read_artwork
from cupgeom.decor.artwork.svg import read_svg

__all__ = [
    "Artwork",
    "art_without_white",
    "effective_dpi",
    "read_artwork",
    "read_picture",
    "read_svg",
    "resolution_notices",
    "without_white",
]
