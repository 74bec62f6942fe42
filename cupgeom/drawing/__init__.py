"""Drawings: paths, text, paint, roles. They know no cup and no file format."""

from cupgeom.drawing.affine import Affine
from cupgeom.drawing.items import BLACK, ROLES, Clipped, Colour, Drawing, Item, Role, Shape, Stroke, Text
from cupgeom.drawing.offset import offset
from cupgeom.drawing.path import Arc, Box, Cubic, Line, Path, Pen, Segment, circle, path_of, polyline

__all__ = [
    "BLACK",
    "ROLES",
    "Affine",
    "Arc",
    "Box",
    "Clipped",
    "Colour",
    "Cubic",
    "Drawing",
    "Item",
    "Line",
    "Path",
    "Pen",
    "Role",
    "Segment",
    "Shape",
    "Stroke",
    "Text",
    "circle",
    "offset",
    "path_of",
    "polyline",
]
