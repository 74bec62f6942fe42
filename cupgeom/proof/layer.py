"""Drawings laid on the walls of a cup, in the order of the work."""

from __future__ import annotations

from dataclasses import dataclass

from cupgeom.decor.decal import Decal
from cupgeom.drawing import Drawing, Shape
from cupgeom.errors import CupgeomError
from cupgeom.wall import Wall


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A drawing on one wall, in the coordinates of that wall's flat sheet.

    Parameters
    ----------
    wall_index
        Which wall of the cup, 0 at the top.
    drawing
        What is seen: its `print` and `white` items; other roles are not on the cup. What reaches beyond a turn of 180°
        goes on at the other side of the back.
    clear
        Whether the film is clear: its print then works as a filter before what lies below (white areas still cover),
        else print and white cover it.
    wall
        The wall as it was then, where coats have fattened it since; its sheet is the one that the drawing lies on. None
        when that is the wall of the finished cup.
    """

    wall_index: int
    drawing: Drawing
    clear: bool
    wall: Wall | None = None

    def __post_init__(self) -> None:
        if type(self.wall_index) is not int or self.wall_index < 0:
            raise CupgeomError("wall_index", f"must be a whole number from 0, got {self.wall_index!r}")


def laid(decal: Decal) -> tuple[Laid, ...]:
    """A decal with all its copies as it lies on the cup that it was made for, a layer for each piece.

    Film that is not clear is white where nothing is printed on it, out to its cut line.
    """
    layers = []
    for copy in decal.copies():
        for piece in copy.pieces:
            drawing = piece.drawing
            if decal.medium.printed:
                drawing = decal.finished(piece).only(["white", "print"])
                if not decal.medium.clear:
                    film = Shape(path=decal.cut(piece), role="white", fill=(1.0, 1.0, 1.0), name="white film")
                    drawing = Drawing((film,)) + drawing
            wall = decal.cup.walls[piece.wall_index]
            layers.append(Laid(wall_index=piece.wall_index, drawing=drawing, clear=decal.medium.clear, wall=wall))
    return tuple(layers)
