"""Drawings: paths, text, pictures, paint, roles. They know no cup and no file format."""

from cupgeom.drawing.affine import Affine
from cupgeom.drawing.items import Clipped, Drawing, Item, Shape, Stroke, Text
from cupgeom.drawing.offset import offset
from cupgeom.drawing.paint import BLACK, Colour, Gradient, Paint, Picture, Stop
from cupgeom.drawing.path import Arc, Box, Cubic, Line, Path, Pen, Segment, circle, path_of, polyline
from cupgeom.drawing.role import ROLES, Role

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
    "Gradient",
    "Item",
    "Line",
    "Paint",
    "Path",
    "Pen",
    "Picture",
    "Role",
    "Segment",
    "Shape",
    "Stop",
    "Stroke",
    "Text",
    "circle",
    "offset",
    "path_of",
    "polyline",
]
