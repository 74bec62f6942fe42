"""Pictures of SVG text and of our drawings, all by resvg, and how far two of them agree."""

from __future__ import annotations

import io

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image

from cupgeom.decor.artwork import Artwork, read_svg
from cupgeom.pages import Document, Page
from cupgeom.writers import svg

Pixels = NDArray[np.float64]
NEAR = 32.0  # of 255 beyond the neighbourhood's range, from which a pixel is off
MOST_OFF, LEAST_INK = 0.001, 0.98
FINE = 1600  # pixels; resvg draws lines below one pixel in a way of its own, which is gone at this size


def picture(text: str, zoom: float) -> Pixels:
    """The picture of an SVG, colours multiplied by alpha."""
    data = resvg_py.svg_to_bytes(svg_string=text, dpi=96, zoom=zoom, skip_system_fonts=True, font_size=16)
    pixels = np.asarray(Image.open(io.BytesIO(bytes(data))).convert("RGBA"), np.float64)
    pixels[..., :3] *= pixels[..., 3:] / 255
    return pixels


def written(artwork: Artwork) -> str:
    """Our drawing as SVG text."""
    width, height = artwork.size
    page = Page(width=width, height=height, drawing=artwork.drawing)
    return svg.render(Document(title="", pages=(page,))).decode()


def likeness(ours: Pixels, reference: Pixels) -> tuple[float, float]:
    """Share of pixels that are off, and how much of the ink of either both have (intersection over union of alpha).

    A pixel is off when it lies outside the range of the reference's 3 x 3 neighbourhood by more than `NEAR`.
    """
    assert ours.shape == reference.shape
    padded = np.pad(reference, ((1, 1), (1, 1), (0, 0)), mode="edge")
    rows, columns = reference.shape[:2]
    around = np.stack([padded[i : i + rows, j : j + columns] for i in range(3) for j in range(3)])
    off = ((ours < around.min(axis=0) - NEAR) | (ours > around.max(axis=0) + NEAR)).any(axis=2)
    either = np.maximum(ours[..., 3], reference[..., 3]).sum()
    both = np.minimum(ours[..., 3], reference[..., 3]).sum()
    return float(off.mean()), float(both / either) if either else 1.0


def compared(text: str, pixels: float = 256) -> tuple[Artwork, float, float]:
    """An SVG read by us, and how far the pictures of our drawing and of the SVG itself agree at a size."""
    artwork = read_svg(text.encode(), "art")
    zoom = pixels / (max(artwork.size) / 25.4 * 96)
    return artwork, *likeness(picture(written(artwork), zoom), picture(text, zoom))


def is_alike(text: str) -> bool:
    """Whether both pictures agree; a file with lines finer than a pixel is looked at more finely."""
    return any(
        off < MOST_OFF and ink >= LEAST_INK for _, off, ink in (compared(text, pixels) for pixels in (256, FINE))
    )
