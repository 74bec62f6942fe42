"""The PNG writer: the page as resvg draws our SVG, at a resolution that other software reads back."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from cupgeom import CupgeomError
from cupgeom.drawing import Affine, Drawing, Picture
from cupgeom.pages import Correction, Page
from cupgeom.pixels import fingerprint, png
from cupgeom.writers import png as writer
from cupgeom.writers import svg

from .readback import dark, extent, image_pixels, svg_pixels
from .sample_artwork import DPI, RED, artwork, filled, square
from .sample_document import bars, sample

PX_PER_MM = 300 / 25.4  # CHECKS V4


def chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """The chunks of a PNG, their check sums compared (PNG, third edition, 5.3)."""
    assert data[:8] == bytes([137, 80, 78, 71, 13, 10, 26, 10])
    at = 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        assert struct.unpack(">I", data[at + 8 + length : at + 12 + length])[0] == zlib.crc32(kind + body)
        yield kind, body
        at += 12 + length


@pytest.mark.parametrize(("dpi", "per_metre"), [(300, 11811), (150, 5906), (72, 2835), (600, 23622), (25.4, 1000)])
def test_the_resolution_is_written_in_pixels_per_metre(dpi: float, per_metre: int) -> None:
    data = writer.render(square(filled(RED)), dpi)
    found = dict(chunks(data))
    assert [kind for kind, _ in chunks(data)] == [b"IHDR", b"pHYs", b"IDAT", b"IEND"]
    assert found[b"pHYs"] == struct.pack(">IIB", per_metre, per_metre, 1)  # PNG, third edition, 11.3.4.3
    assert Image.open(io.BytesIO(data)).info["dpi"] == pytest.approx((dpi, dpi), abs=0.02)


def test_a_page_has_the_pixels_of_its_paper() -> None:
    image = Image.open(io.BytesIO(writer.render(sample(), 100)))
    assert (image.size, image.mode) == ((827, 1170), "RGB")  # 210 and 297 mm at 100 dpi: 826.77 and 1169.29


def test_a_bar_of_100_mm_is_100_mm_long_corrected_or_not() -> None:
    for correction in (Correction(), Correction(across=100 / 99.2, along=100 / 100.4)):
        black = dark(image_pixels(writer.render(bars(correction=correction))))
        across, along = black[-round(13 * PX_PER_MM) :, round(15 * PX_PER_MM) :], black[: -round(15 * PX_PER_MM), :]
        printed = (1.0, 1.0) if correction.is_none else (0.992, 1.004)  # what the printer makes of 1
        assert abs(extent(across)[0] * printed[0] - 100 * PX_PER_MM) <= 1
        assert abs(extent(along)[1] * printed[1] - 100 * PX_PER_MM) <= 1


def test_the_page_is_the_picture_that_resvg_makes_of_our_svg() -> None:
    document = square(*(item for item in artwork().pages[0].drawing.items if item.bounds().top < 34))
    ours, theirs = image_pixels(writer.render(document, DPI)), svg_pixels(svg.render(document), DPI)
    assert ours.shape == theirs.shape == (288, 288, 3)  # all but the pictures, which are averaged first
    assert np.abs(ours.astype(int) - theirs).max() <= 1 and dark(ours).any()


def test_without_paper_what_is_bare_stays_clear() -> None:
    half = square(filled(RED, fill_opacity=0.5, box=artwork().pages[0].drawing.bounds()))
    image = Image.open(io.BytesIO(writer.render(half, DPI, background=None)))
    assert image.mode == "RGBA"
    assert image.getpixel((0, 0)) == (0, 0, 0, 0)
    assert image.getpixel((144, 144)) == pytest.approx((255, 0, 0, 128), abs=1)


def test_one_page_at_a_time_and_not_too_large() -> None:
    two = replace(sample(), pages=sample().pages * 2)
    with pytest.raises(CupgeomError) as caught:
        writer.render(two)
    assert str(caught.value) == "pages: are 2, but one PNG holds one page; write one for each page"
    with pytest.raises(CupgeomError) as caught:
        writer.render(replace(sample(), pages=(Page(width=5000, height=900, drawing=Drawing()),)))
    assert str(caught.value) == "dpi: asks for 59056 x 10630 pixels, more than 100 million; a lower one would do"


@given(st.integers(1, 600), st.integers(1, 9), st.booleans(), st.integers(0, 2**32 - 1))
@settings(max_examples=30)
def test_any_picture_is_read_back_pixel_by_pixel(rows: int, columns: int, opaque: bool, seed: int) -> None:
    found = np.random.default_rng(seed).integers(0, 256, (rows, columns, 4), np.uint8)
    found[:, :, 3] |= 255 * opaque
    picture = Picture(pixels=found.tobytes(), columns=columns, rows=rows, place=Affine())
    image = Image.open(io.BytesIO(png(picture)))
    assert image.mode == ("RGB" if found[:, :, 3].min() == 255 else "RGBA") and "dpi" not in image.info
    assert image.convert("RGBA").tobytes() == picture.pixels


def test_a_fingerprint_is_of_the_pixels_and_their_order() -> None:
    picture = Picture(pixels=bytes(range(24)), columns=3, rows=2, place=Affine())
    others = [
        replace(picture, columns=2, rows=3),
        replace(picture, pixels=bytes(range(1, 25))),
    ]
    assert fingerprint(replace(picture, place=Affine.move(1 + 0j), opacity=0.5)) == fingerprint(picture)
    assert len({fingerprint(picture), *map(fingerprint, others)}) == 3
