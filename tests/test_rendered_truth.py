"""Pictures of bent files are the bent pictures of the files.

The reference: resvg's picture of a file as it came, resampled by scipy at places that an inverse map from the apex of
the cone gives. Against it: resvg's picture of our bent SVG, and pdfium's of our bent PDF, at 300 dpi, 20 mm wide.
"""

from __future__ import annotations

import io
import math
from base64 import b64encode

import numpy as np
import pytest
import resvg_py
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from cupgeom import Wall
from cupgeom.decor.artwork import Artwork, read_svg
from cupgeom.decor.onto import on_sheet
from cupgeom.decor.place import Placement
from cupgeom.drawing import Affine, Box
from cupgeom.pages import Document, Page
from cupgeom.writers import pdf, svg

from .apex import Apex
from .artwork_pictures import LEAST_INK, MOST_OFF, likeness, picture
from .readback import pdf_pixels
from .test_artwork_real_files import outlined_icons, solid_icons

Pixels = NDArray[np.float64]
DPI = 300
PIXEL = 25.4 / DPI
HAIR = PIXEL / 100  # by which a page is smaller, so that rounding never makes it a pixel larger
WIDTH = 20.0
FINER = 2  # readings to an output pixel, each way, of a picture as much finer
FILES = 30  # of each package, the first by name
WALLS = {
    "3 degrees": Wall(top_radius=44, base_radius=44 - 170 * math.tan(math.radians(3)), height=170),
    "12 degrees": Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120),
    "upside down": Wall(top_radius=30, base_radius=30 + 110 * math.tan(math.radians(12)), height=110),
}
PLACEMENTS = (
    Placement(wall=WALLS["3 degrees"], turn_deg=-20, drop=60),
    Placement(wall=WALLS["12 degrees"], turn_deg=25, drop=45, bend="even"),
    Placement(wall=WALLS["upside down"], turn_deg=10, drop=50, rotate_deg=30),
)
ALL_SORTS = """<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 100 80">
<defs>
<linearGradient id="sky" x2="1" y2="0.4"><stop stop-color="#023"/><stop offset=".6" stop-color="#27c"/>
<stop offset="1" stop-color="#fd8"/></linearGradient>
<radialGradient id="sun" fx=".35" fy=".4"><stop stop-color="#fff"/><stop offset=".4" stop-color="#fc3"/>
<stop offset="1" stop-color="#c20" stop-opacity="0"/></radialGradient>
<linearGradient id="sea" x2="0" y2=".25" spreadMethod="reflect"><stop stop-color="#046"/>
<stop offset="1" stop-color="#0bd"/></linearGradient>
<clipPath id="bay"><path d="M5 60q22-14 45 0t45 0v18h-90z"/></clipPath>
</defs>
<rect x="2" y="2" width="96" height="76" rx="6" fill="url(#sky)"/>
<circle cx="68" cy="26" r="20" fill="url(#sun)"/>
<g clip-path="url(#bay)"><rect y="40" width="100" height="40" fill="url(#sea)" opacity=".8"/>
<path d="M-5 70h110" stroke="#fff" stroke-width="1.5" stroke-dasharray="6 3"/></g>
<g opacity=".6" fill="#fff"><ellipse cx="28" cy="22" rx="14" ry="6"/><ellipse cx="36" cy="27" rx="14" ry="6"/></g>
<path d="M20 64l5-16 5 16z M25 52l-2 8h4z" fill="#321" fill-rule="evenodd"/>
<image x="44" y="36" width="20" height="20" transform="rotate(12 54 46)" href="PICTURE"/>
</svg>"""


def placed(artwork: Artwork) -> Affine:
    """From the page of a file to a design of the stated width about its own centre."""
    width, height = artwork.size
    return Affine.scale(WIDTH / width, WIDTH / width) @ Affine.move(-complex(width, height) / 2)


def page_round(artwork: Artwork, placement: Placement) -> tuple[Document, Box]:
    """Our page, of whole pixels, with the bent art a little within it; and the part of the sheet that it shows."""
    drawing = on_sheet(artwork.drawing.transformed(placed(artwork)), placement, dpi=DPI)
    around = drawing.bounds().grown(4 * PIXEL)
    columns, rows = math.ceil(around.width / PIXEL), math.ceil(around.height / PIXEL)
    box = Box(around.left, around.bottom, around.left + columns * PIXEL, around.bottom + rows * PIXEL)
    shown = drawing.transformed(Affine.move(-complex(box.left, box.bottom)))
    page = Page(width=box.width - HAIR, height=box.height - HAIR, drawing=shown)
    return Document(title="", pages=(page,)), box


def reference(text: str, artwork: Artwork, placement: Placement, box: Box) -> Pixels:
    """The file's own picture, read at the place of each pixel of the sheet, colours multiplied by alpha."""
    width, height = artwork.size
    source = picture(text, FINER * DPI * WIDTH / width / 96)
    rows, columns = (round(side / PIXEL) * FINER for side in (box.height, box.width))
    x = box.left + (np.arange(columns) + 0.5) * PIXEL / FINER
    y = box.bottom + (rows - 0.5 - np.arange(rows)) * PIXEL / FINER
    page = (from_sheet(placement, x[None, :] + 1j * y[:, None]) / WIDTH) * width + complex(width, height) / 2
    down, across = source.shape[0] * (1 - page.imag / height) - 0.5, source.shape[1] * page.real / width - 0.5
    blank = np.zeros(down.shape)
    planes = [
        ndimage.map_coordinates(plane, [down, across], order=1) if plane.any() else blank
        for plane in source.transpose(2, 0, 1)
    ]
    fine = np.stack(planes, axis=-1)
    return fine.reshape(rows // FINER, FINER, columns // FINER, FINER, 4).mean(axis=(1, 3))


def from_sheet(placement: Placement, sheet: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """The design's points at places of the sheet: the map backwards, from the apex of the cone."""
    wall = placement.wall
    turn, drop = Apex(2 * wall.top_radius, 2 * wall.base_radius, wall.height).rolled(sheet)
    slope = (wall.top_radius - wall.base_radius) / math.hypot(wall.height, wall.top_radius - wall.base_radius)
    radius = wall.top_radius - slope * placement.drop
    up = placement.drop - drop
    if placement.bend == "even":
        up = radius / slope * np.log((wall.top_radius - slope * drop) / radius)
    turned = (turn - math.radians(placement.turn_deg)) * radius + 1j * up
    return turned * np.exp(-1j * math.radians(placement.rotate_deg))


def by_resvg(document: Document) -> Pixels:
    """The page as resvg draws our SVG, colours multiplied by alpha."""
    data = resvg_py.svg_to_bytes(svg_string=svg.render(document).decode(), dpi=DPI, skip_system_fonts=True)
    pixels = np.asarray(Image.open(io.BytesIO(bytes(data))).convert("RGBA"), np.float64)
    pixels[..., :3] *= pixels[..., 3:] / 255
    return pixels


def by_pdfium(document: Document) -> Pixels:
    """The page as pdfium draws our PDF, on white."""
    return on_white(pdf_pixels(pdf.render(document), DPI).astype(float))


def on_white(pixels: Pixels) -> Pixels:
    """Pictures on paper; they have no alpha, or colours multiplied by it."""
    colours = pixels[..., :3] + 255 - pixels[..., 3:] if pixels.shape[2] == 4 else pixels
    return np.concatenate([colours, np.full((*colours.shape[:2], 1), 255.0)], axis=2)


def faults(name: str, text: str, placement: Placement) -> list[str]:
    """What of a file is not as it should be, in both pictures."""
    artwork = read_svg(text.encode(), name)
    assert not artwork.notices
    document, box = page_round(artwork, placement)
    expected = reference(text, artwork, placement, box)
    off, ink = likeness(by_resvg(document), expected)
    off_on_paper, _ = likeness(by_pdfium(document), on_white(expected))
    found = {"off in SVG": off >= MOST_OFF, "ink in SVG": ink < LEAST_INK, "off in PDF": off_on_paper >= MOST_OFF}
    numbers = f"{100 * off:.3f} %, {ink:.4f}, {100 * off_on_paper:.3f} %"
    return [f"{name}: {what} ({numbers})" for what, fault in found.items() if fault]


@pytest.mark.parametrize("at", range(len(PLACEMENTS)), ids=[*WALLS])
@pytest.mark.parametrize("icons", [solid_icons, outlined_icons])
def test_files_of_packages(icons, at: int) -> None:
    first = list(icons().items())[:FILES][at :: len(PLACEMENTS)]
    assert len(first) == FILES // len(PLACEMENTS)
    found = [fault for name, data in first for fault in faults(name, data.decode(), PLACEMENTS[at])]
    assert found == []


@pytest.mark.parametrize("placement", PLACEMENTS, ids=[*WALLS])
def test_paint_of_all_sorts(placement: Placement) -> None:
    assert faults("coast.svg", coast(), placement) == []


@pytest.mark.parametrize("shift", [0.25, 0.4])
def test_the_comparison_sees_a_shift(shift: float) -> None:
    text, placement = coast(), PLACEMENTS[1]
    artwork = read_svg(text.encode())
    document, box = page_round(artwork, placement)
    moved = Box(box.left + shift, box.bottom, box.right + shift, box.top)
    off, _ = likeness(by_resvg(document), reference(text, artwork, placement, moved))
    assert off > 10 * MOST_OFF


def coast() -> str:
    """The drawing with a picture of pixels in it, smooth and half let through at one side."""
    y, x = np.mgrid[:118, :118] / 118
    waves = np.stack([np.sin(9 * x + 4 * y), np.cos(7 * y), np.sin(11 * x * y)], axis=-1)
    shades = np.rint(np.concatenate([127 + 100 * waves, 255 - 120 * x[..., None]], axis=-1)).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(shades).save(file, "PNG")
    return ALL_SORTS.replace("PICTURE", f"data:image/png;base64,{b64encode(file.getvalue()).decode()}")
