"""The wrap template of a cup: its pieces, its guides, and its pages."""

from cupgeom.template.document import PURPOSES, Purpose, caption_notices, document, joined
from cupgeom.template.fit_test import fit_test
from cupgeom.template.template import SEAMS, Piece, Seam, Template

__all__ = [
    "PURPOSES",
    "SEAMS",
    "Piece",
    "Purpose",
    "Seam",
    "Template",
    "caption_notices",
    "document",
    "fit_test",
    "joined",
]
