"""Finished files read back by other libraries: what is on the paper, not what was meant to be there."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pikepdf
import pypdfium2
import reportlab
import resvg_py
import svgpathtools
from numpy.typing import NDArray
from PIL import Image

from cupgeom.drawing import Affine

SVG = "{http://www.w3.org/2000/svg}"
MM_PER_POINT = 25.4 / 72  # CHECKS V4: 1 in = 25.4 mm = 72 pt
FONT_FOLDER = Path(reportlab.__file__).with_name("fonts")
FONT_FILES = [str(FONT_FOLDER / name) for name in ("Vera.ttf", "VeraBd.ttf")]


@dataclass
class Outline:
    """An outline of a PDF page as printed: mm, y up, every transform applied."""

    role: str
    clips: int
    start: complex
    segments: list[tuple[complex, ...]] = field(default_factory=list)  # two points a line, four a cubic
    closed: bool = False
    paint: str = ""
    width: float = 1.0
    dashes: tuple[float, ...] = ()

    def points(self, per_segment: int = 32) -> list[complex]:
        """Points along all segments."""
        steps = [i / per_segment for i in range(per_segment + 1)]
        return [bezier(segment, t) for segment in self.segments for t in steps]


def bezier(points: tuple[complex, ...], t: float) -> complex:
    """De Casteljau's construction."""
    while len(points) > 1:
        points = tuple(a + (b - a) * t for a, b in pairwise(points))
    return points[0]


def pdf_outlines(data: bytes, page: int = 0) -> list[Outline]:
    """All painted outlines and clips (paint ``W``) of a page, in order."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        return list(_outlines(pikepdf.parse_content_stream(pdf.pages[page])))


def _outlines(instructions: Any) -> Iterator[Outline]:
    matrix, stack, path = Affine(), [], []
    role, clips, width, dashes = "", 0, 1.0, ()
    for operands, operator in instructions:
        name = str(operator)
        numbers = [float(value) for value in operands] if name in "cm m l c w" else []
        points = [matrix(complex(*pair)) * MM_PER_POINT for pair in zip(numbers[::2], numbers[1::2], strict=False)]
        if name == "cm":
            matrix = matrix @ Affine(*numbers)
        elif name == "q":
            stack.append((matrix, clips, width, dashes))
        elif name == "Q":
            matrix, clips, width, dashes = stack.pop()
        elif name == "BDC":
            role = str(operands[1])[1:]
        elif name == "w":
            width = numbers[0]
        elif name == "d":
            dashes = tuple(float(value) for value in operands[0])
        elif name == "m":
            path.append(Outline(role, clips, points[0]))
        elif name in ("l", "c"):
            here = path[-1].segments[-1][-1] if path[-1].segments else path[-1].start
            path[-1].segments.append((here, *points))
        elif name == "h":
            path[-1].closed = True
        elif name == "W":
            clips += 1
            yield from _painted(path, "W", width, dashes)
        elif name in ("S", "f", "f*", "B", "B*", "n"):
            yield from _painted(path, name, width, dashes) if name != "n" else ()
            path = []
        elif name not in ("RG", "rg", "EMC", "BT", "ET", "Tm", "Tf", "Tj"):
            raise AssertionError(f"unexpected operator {name}")


def _painted(path: list[Outline], paint: str, width: float, dashes: tuple[float, ...]) -> Iterator[Outline]:
    for outline in path:
        outline.paint, outline.width, outline.dashes = paint, width, dashes
        yield outline


def svg_root(data: bytes) -> ElementTree.Element:
    """The parsed SVG."""
    return ElementTree.fromstring(data)


def svg_paths(data: bytes, role: str) -> list[svgpathtools.Path]:
    """The paths of one role's group, in the SVG's own mm, y down."""
    group = svg_root(data).find(f".//{SVG}g[@id='{role}']")
    assert group is not None
    return [svgpathtools.parse_path(path.get("d", "")) for path in group.iter(f"{SVG}path")]


def pdf_pixels(data: bytes, dpi: float = 300, page: int = 0) -> NDArray[np.uint8]:
    """A page as pdfium draws it, shape (height, width, 3)."""
    document = pypdfium2.PdfDocument(data)
    pixels = document[page].render(scale=dpi / 72, rev_byteorder=True).to_numpy()[:, :, :3].copy()
    document.close()
    return pixels


def svg_pixels(data: bytes, dpi: float = 300) -> NDArray[np.uint8]:
    """The page as resvg draws it, shape (height, width, 3)."""
    png = resvg_py.svg_to_bytes(svg_string=data.decode(), dpi=dpi, font_files=FONT_FILES, background="white")
    return image_pixels(bytes(png))


def image_pixels(png: bytes) -> NDArray[np.uint8]:
    """A PNG's pixels on white, shape (height, width, 3)."""
    image = Image.open(io.BytesIO(png)).convert("RGBA")
    white = Image.new("RGBA", image.size, "white")
    return np.asarray(Image.alpha_composite(white, image).convert("RGB"))


def dark(pixels: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where a pixel is nearer to black than to white."""
    return pixels.mean(axis=2) < 128


def extent(mask: NDArray[np.bool_]) -> tuple[int, int]:
    """Width and height in pixels of what is marked."""
    columns, rows = np.flatnonzero(mask.any(axis=0)), np.flatnonzero(mask.any(axis=1))
    return int(columns[-1] - columns[0] + 1), int(rows[-1] - rows[0] + 1)
