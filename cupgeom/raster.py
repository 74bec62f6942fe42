"""Drawings as pixels. The only module that knows the pixel engine, resvg."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from pathlib import Path as FilePath

from cupgeom.drawing import Affine, Box, Clipped, Colour, Drawing, Item, Picture, Role, Shape, Text, vera
from cupgeom.errors import CupgeomError, require_positive
from cupgeom.markup import add_drawing, hex_colour

MOST_PIXELS = 100_000_000  # 400 MB
_STRIP_PIXELS = 16_000_000  # drawn at a time
_DEEPEST = 64  # groups within groups; the engine's stack ends at about 225
_SLACK = 1e-6  # of a pixel, by which rounding may make a side longer
_AS_IT_IS = Affine()


def raster(
    drawing: Drawing,
    box: Box,
    dpi: float,
    *,
    background: Colour | None = None,
    last: Affine = _AS_IT_IS,
    role: Role = "print",
) -> Picture:
    """What lies in a box of a drawing, as pixels.

    The pixels are square, 25.4/dpi mm wide, counted from the top left corner of the box, as many as it takes to cover
    it; they are painted role by role, as in files. A character that Vera lacks is a question mark.

    Parameters
    ----------
    drawing, box
        What to draw, and which part of it [mm].
    dpi
        Pixels per inch.
    background
        What lies under everything; nothing unless said otherwise.
    last
        A map of the whole drawing before it is cut to the box, such as a printer's correction.
    role
        Of the picture that comes out.

    Returns
    -------
    Picture
        Lying where the pixels were taken, so that it covers the box and up to one pixel more to the right and below.

    Raises
    ------
    CupgeomError
        When that asks for more than 100 million pixels, or groups lie more than 64 deep.
    """
    require_positive("dpi", dpi, "dots per inch")
    columns, rows = (_pixels(where, side, dpi) for where, side in (("width", box.width), ("height", box.height)))
    if columns * rows > MOST_PIXELS:
        raise CupgeomError("dpi", f"asks for {columns} x {rows} pixels, more than 100 million; a lower one would do")
    import svgwrite

    side = 25.4 / dpi
    shell = svgwrite.Drawing(debug=False, preserveAspectRatio="none")
    add_drawing(Drawing(tuple(_ready(item, dpi) for item in drawing.items)), shell, box.top, last)
    pixels = io.BytesIO()
    step = max(1, _STRIP_PIXELS // columns)
    for first in range(0, rows, step):
        count = min(step, rows - first)
        shell["width"], shell["height"] = columns, count
        shell["viewBox"] = f"{box.left!r} {first * side!r} {columns * side!r} {count * side!r}"
        pixels.write(_drawn(shell.tostring(), background))
    place = Affine(columns * side, 0.0, 0.0, rows * side, box.left, box.top - rows * side)
    return Picture(pixels=pixels.getvalue(), columns=columns, rows=rows, place=place, role=role)


def _pixels(where: str, side: float, dpi: float) -> int:
    require_positive(f"box.{where}", side)
    return max(1, math.ceil(side * dpi / 25.4 - _SLACK))


def _drawn(markup: str, background: Colour | None) -> bytes:
    import reportlab
    import resvg_py
    from PIL import Image

    fonts = FilePath(reportlab.__file__).with_name("fonts")
    data = resvg_py.svg_to_bytes(
        svg_string=markup,
        dpi=96,  # only pixels and mm of the view box are used, but 0 is refused
        background=hex_colour(background) if background else None,
        skip_system_fonts=True,
        font_files=[str(fonts / "Vera.ttf"), str(fonts / "VeraBd.ttf")],
    )
    return Image.open(io.BytesIO(bytes(data))).convert("RGBA").tobytes()


def _ready(item: Item, dpi: float, depth: int = 0) -> Item:
    """The item as the engine draws it well."""
    if isinstance(item, Clipped):
        if depth == _DEEPEST:
            raise CupgeomError("drawing", f"has groups that lie more than {_DEEPEST} deep; a flatter one would do")
        return replace(item, items=tuple(_ready(inner, dpi, depth + 1) for inner in item.items))
    if isinstance(item, Text):
        return replace(item, text=vera.written(item.text))
    return item if isinstance(item, Shape) else _thinned(item, dpi)


def _thinned(picture: Picture, dpi: float) -> Picture:
    """A picture with more than twice the pixels that can be drawn, averaged down; else the engine would skip some."""
    place = picture.place
    wanted = [math.hypot(*side) * dpi / 25.4 for side in ((place.a, place.b), (place.c, place.d))]
    given = (picture.columns, picture.rows)
    if all(have <= 2 * want for have, want in zip(given, wanted, strict=True)):
        return picture
    from PIL import Image

    columns, rows = (min(have, max(1, math.ceil(want))) for have, want in zip(given, wanted, strict=True))
    image = Image.frombuffer("RGBA", given, picture.pixels, "raw", "RGBA", 0, 1)
    small = image.resize((columns, rows), Image.Resampling.BOX)
    return replace(picture, pixels=small.tobytes(), columns=columns, rows=rows, jpeg=b"")
