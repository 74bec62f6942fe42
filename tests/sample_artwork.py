"""Artwork with everything a writer must know besides outlines: gradients, pictures, opacity, groups; and its colours.

The colours come from the definitions of SVG 1.1 (13.2 gradients, 14.5 opacity), written out again here.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from cupgeom.drawing import (
    Affine,
    Box,
    Clipped,
    Drawing,
    Gradient,
    Item,
    Picture,
    Shape,
    Stop,
    Stroke,
    Text,
    circle,
    polyline,
)
from cupgeom.pages import Document, Page
from cupgeom.writers import pdf, svg

from .readback import pdf_pixels, svg_pixels

SIDE = 50.8  # mm, 144 points; at 144 dpi 288 pixels
DPI = 144
PX_PER_MM = DPI / 25.4
RED, GREEN, BLUE, YELLOW = (1.0, 0.0, 0.0), (0.0, 0.6, 0.0), (0.0, 0.0, 1.0), (1.0, 0.8, 0.0)
WHITE, BLACK = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
PAPER = Box(0, 0, SIDE, SIDE)


def square(*items: Item) -> Document:
    """A page of `SIDE` by `SIDE`."""
    return Document(title="artwork", pages=(Page(width=SIDE, height=SIDE, drawing=Drawing(items)),))


def filled(paint: object, box: Box = PAPER, **settings: object) -> Shape:
    return Shape(**{"path": box.outline(), "role": "print", "fill": paint, **settings})  # type: ignore[arg-type]


def stops(*given: tuple[float, tuple[float, float, float]] | tuple[float, tuple[float, float, float], float]) -> tuple:
    return tuple(Stop(offset=stop[0], colour=stop[1], opacity=stop[2] if len(stop) > 2 else 1.0) for stop in given)


def pictures(document: Document) -> Iterator[tuple[str, NDArray[np.uint8]]]:
    """The page as resvg draws our SVG and as pdfium draws our PDF."""
    yield "svg", svg_pixels(svg.render(document), DPI)
    yield "pdf", pdf_pixels(pdf.render(document), DPI)


def pixel(pixels: NDArray[np.uint8], point: complex) -> NDArray[np.float64]:
    """Colour at a point of the page, from 0 to 1."""
    return pixels[int((SIDE - point.imag) * PX_PER_MM), int(point.real * PX_PER_MM)] / 255


def mixed(over: tuple[float, ...], opacity: float, under: tuple[float, ...]) -> NDArray[np.float64]:
    """Simple alpha compositing (SVG 1.1, 14.2.1)."""
    return opacity * np.array(over) + (1 - opacity) * np.array(under)


def along(gradient: Gradient, points: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Where points lie along a gradient before its spread, 0 at the start and 1 at the end."""
    a, b, c, d, e, f = gradient.place
    xy = np.linalg.inv([[a, c], [b, d]]) @ np.array([(points.real - e).ravel(), (points.imag - f).ravel()])
    own = (xy[0] + 1j * xy[1]).reshape(points.shape)
    if gradient.kind == "linear":
        return own.real
    # from the focus through the point to the circle: |focus + (own - focus) / t| = 1
    away, focus = own - gradient.focus, gradient.focus
    half, square_away = (away * np.conj(focus)).real, np.abs(away) ** 2
    room = 1 - abs(focus) ** 2
    return (half + np.sqrt(half**2 + room * square_away)) / room


def colours(gradient: Gradient, points: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Red, green, blue and opacity of a gradient at points (SVG 1.1, 13.2.4)."""
    t = along(gradient, points)
    if gradient.spread == "repeat":
        t = t % 1
    elif gradient.spread == "reflect":
        t = 1 - np.abs(t % 2 - 1)
    ramp = gradient.stops
    values = np.array([(*stop.colour, stop.opacity) for stop in ramp])
    result = np.broadcast_to(values[-1], (*points.shape, 4)).copy()
    for (before, after), (low, high) in reversed(list(zip(pairwise(ramp), pairwise(values), strict=True))):
        here = t < after.offset
        share = (t[here] - before.offset) / ((after.offset - before.offset) or 1)
        result[here] = low + np.clip(share, 0, 1)[:, None] * (high - low)
    result[t < ramp[0].offset] = values[0]
    return result


BLOCKS = {  # colours of the corner blocks, by their place in the unit square
    0.125 + 0.125j: (0, 0, 255),
    0.875 + 0.125j: (255, 255, 0),
    0.875 + 0.875j: (0, 255, 0),
    0.125 + 0.875j: (255, 0, 0),
}


def blocks(place: Affine, **settings: object) -> Picture:
    """A picture with a colour in each corner, black edges, and a middle that is clear on its left half."""
    pixels = np.zeros((4, 4, 4), np.uint8)
    pixels[:, :, 3] = 255
    for point, colour in BLOCKS.items():
        pixels[3 - int(4 * point.imag), int(4 * point.real), :3] = colour
    pixels[1:3, 1] = 0
    pixels[1:3, 2] = (255, 255, 255, 128)
    large = pixels.repeat(40, axis=0).repeat(40, axis=1)
    return Picture(pixels=large.tobytes(), columns=160, rows=160, place=place, **settings)  # type: ignore[arg-type]


def jpeg(mode: str = "RGB", **settings: object) -> bytes:
    """A JPEG of 48 x 32 pixels, its left half dark and its right half light."""
    image = Image.new(mode, (48, 32), 30 if mode == "L" else (160, 30, 30) if mode == "RGB" else (0, 0, 0, 200))
    image.paste(220 if mode == "L" else (230, 200, 160) if mode == "RGB" else (0, 0, 0, 20), (24, 0, 48, 32))
    file = io.BytesIO()
    image.save(file, "JPEG", quality=95, **settings)  # type: ignore[arg-type]
    return file.getvalue()


def photograph(place: Affine, data: bytes | None = None) -> Picture:
    data = data or jpeg()
    image = Image.open(io.BytesIO(data)).convert("RGBA")
    return Picture(pixels=image.tobytes(), columns=48, rows=32, place=place, jpeg=data)


def artwork() -> Document:
    """Everything at once, each kind more than once."""
    warm = stops((0, RED), (0.5, YELLOW), (0.5, GREEN), (1, BLUE))
    fading = stops((0, BLUE, 1), (1, RED, 0.2))
    across = Gradient(kind="linear", stops=warm, place=Affine(20, 6, -6, 20, 3, 3))
    round_ = Gradient(kind="radial", stops=warm, place=Affine(8, 0, 2, 5, 36, 12), focus=0.4 + 0.3j, spread="reflect")
    faint = Gradient(kind="linear", stops=fading, place=Affine(9, 0, 0, 9, 2, 0), spread="repeat")
    star = polyline([12 + 20j, 16 + 30j, 7 + 24j, 17 + 24j, 8 + 30j], closed=True)
    square_in = Affine(10, 0, 0, 10, 0, 0)
    items = (
        Shape(path=Box(1, 1, 24, 18).outline(), role="print", fill=across, name="dawn & dusk"),
        Shape(path=Box(26, 1, 49, 18).outline(), role="print", fill=round_, stroke=Stroke(width=0.5, opacity=0.5)),
        Shape(path=star, role="print", fill=faint, fill_opacity=0.8, even_odd=True),
        Shape(path=star.transformed(Affine.move(12)), role="print", fill=faint, stroke=Stroke(width=0.3)),
        Shape(path=circle(40 + 26j, 5), role="print", fill=GREEN, fill_opacity=0.5, stroke=Stroke(opacity=0.5)),
        Shape(path=circle(44 + 26j, 5), role="white", fill=(0.9, 0.9, 0.9), fill_opacity=0.5),
        blocks(Affine.move(2 + 36j) @ square_in, name="corners"),
        blocks(Affine.move(24 + 36j) @ Affine.scale(-1, 1) @ square_in),
        blocks(Affine.move(30 + 35j) @ Affine.rotation(30) @ square_in, opacity=0.5, role="guide"),
        photograph(Affine(9, 0, 0, 6, 38, 34)),
        photograph(Affine(9, 2, 0, 6, 38, 42)),
        Clipped(
            clip=circle(20 + 24j, 6) + circle(20 + 24j, 3),
            even_odd=True,
            opacity=0.6,
            items=(
                filled(across, Box(10, 16, 30, 32)),
                Clipped(opacity=0.5, items=(filled(faint, Box(18, 16, 30, 32)), Text(text="comet", at=17 + 24j))),
            ),
        ),
    )
    page = square(*items).pages[0]
    return Document(title="artwork", pages=(page,))
