"""Drawings as pixels: how many, where they lie, and what they show."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

import cupgeom.raster
from cupgeom import CupgeomError
from cupgeom.drawing import Affine, Box, Clipped, Drawing, Item, Picture, Shape, Stroke, Text, circle, polyline
from cupgeom.raster import raster

from .readback import dark, extent
from .sample_artwork import BLACK, BLUE, GREEN, PAPER, RED, WHITE, artwork, blocks, filled, mixed

SIZES = st.floats(min_value=0.1, max_value=40)


def pixels(picture: Picture) -> NDArray[np.uint8]:
    return np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)


def drawn(*items: Item, box: Box = PAPER, dpi: float = 127, **settings: object) -> NDArray[np.uint8]:
    """Pixels of a drawing, 5 a mm unless said otherwise."""
    return pixels(raster(Drawing(items), box, dpi, **settings))  # type: ignore[arg-type]


@given(SIZES, SIZES, st.floats(min_value=20, max_value=300), st.floats(-100, 100), st.floats(-100, 100))
@settings(max_examples=40)
def test_pixels_are_square_cover_the_box_and_start_at_its_top_left(width, height, dpi, left, bottom) -> None:
    picture = raster(Drawing(), Box(left, bottom, left + width, bottom + height), dpi)
    assert 0 <= picture.columns - width * dpi / 25.4 < 1 + 1e-5
    assert 0 <= picture.rows - height * dpi / 25.4 + 1e-5 < 1 + 2e-5
    a, b, c, d, e, f = picture.place
    assert (a / picture.columns, d / picture.rows) == pytest.approx((25.4 / dpi, 25.4 / dpi))
    assert (b, c, e, f + d) == pytest.approx((0, 0, left, bottom + height))
    assert not any(picture.pixels)


@pytest.mark.parametrize("dpi", [72, 150, 300, 600, 1200])
def test_a_box_of_whole_pixels_has_just_as_many(dpi: int) -> None:
    picture = raster(Drawing(), Box(0.1, 0.2, 0.1 + 50 * 25.4 / dpi, 0.2 + 7 * 25.4 / dpi), dpi)
    assert (picture.columns, picture.rows) == (50, 7)


def test_a_square_lands_on_its_pixels() -> None:
    found = drawn(filled(RED, Box(12, 21, 14, 24)), box=Box(10, 20, 20, 30))
    expected = np.zeros((50, 50, 4), np.uint8)
    expected[30:45, 10:20] = (255, 0, 0, 255)
    assert np.array_equal(found, expected)


def test_alpha_is_coverage_and_the_colour_is_not_mixed_with_it() -> None:
    found = drawn(filled(RED, Box(0, 0, 1.1, 10)), box=Box(0, 0, 2, 10))
    assert tuple(found[25, 5, :3]) == (255, 0, 0) and found[25, 5, 3] == pytest.approx(255 / 2, abs=2)
    half = drawn(filled(BLUE, fill_opacity=0.5))
    assert tuple(half[9, 9, :3]) == (0, 0, 255) and half[9, 9, 3] == pytest.approx(255 / 2, abs=1)


def test_a_background_lies_under_everything() -> None:
    found = drawn(filled(BLUE, Box(0, 0, 5, 10), fill_opacity=0.5), box=Box(0, 0, 10, 10), background=GREEN) / 255
    assert found[25, 10, :3] == pytest.approx(mixed(BLUE, 0.5, GREEN), abs=0.01)
    assert found[25, 40] == pytest.approx([*GREEN, 1])


def test_the_last_map_moves_the_drawing_but_not_the_pixels() -> None:
    arcs = Shape(path=circle(5 + 5j, 4), role="print", fill=BLACK)  # arcs could not follow the stretch by themselves
    stretch = Affine(1.25, 0, 0, 0.75, 0, 0)
    found = drawn(arcs, box=Box(0, 0, 12, 12), last=stretch, background=WHITE)
    assert extent(dark(found[:, :, :3])) == pytest.approx((8 * 1.25 * 5, 8 * 0.75 * 5), abs=1)
    rows, columns = np.nonzero(dark(found[:, :, :3]))
    assert (columns.mean() / 5, 12 - rows.mean() / 5) == pytest.approx((6.25, 3.75), abs=0.15)


def test_strips_meet_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    drawing = artwork().pages[0].drawing
    whole = pixels(raster(drawing, PAPER, 127)).astype(int)
    monkeypatch.setattr(cupgeom.raster, "_STRIP_PIXELS", 254 * 31)  # 254 columns
    strips = pixels(raster(drawing, PAPER, 127)).astype(int)
    assert whole.shape == strips.shape == (254, 254, 4)
    off = np.abs(whole - strips).max(axis=2)
    assert off.max() < 20 and np.mean(off > 1) < 0.005  # rounding where a picture has an edge


@pytest.mark.parametrize(
    ("box", "dpi", "message"),
    [
        (Box(0, 0, 10, 10), 0, "dpi: must be greater than 0 dots per inch, got 0 dots per inch"),
        (Box(0, 0, 10, 10), math.nan, "dpi: must be a finite number of dots per inch, got nan"),
        (Box(0, 0, 0, 10), 100, "box.width: must be greater than 0 mm, got 0 mm"),
        (Box(0, 5, 10, 1), 100, "box.height: must be greater than 0 mm, got -4 mm"),
        (
            Box(0, 0, 254, 254),
            1001,
            "dpi: asks for 10010 x 10010 pixels, more than 100 million; a lower one would do",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(box: Box, dpi: float, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        raster(Drawing(), box, dpi)
    assert str(caught.value) == message


def test_groups_may_nest_deep_but_not_too_deep_for_the_engine() -> None:
    item: Item = filled(RED)
    for _ in range(64):
        item = Clipped(items=(item,), opacity=0.99, clip=PAPER.outline())
    assert drawn(item)[100, 100, 3] == pytest.approx(255 * 0.99**64, abs=40)  # 64 roundings
    with pytest.raises(CupgeomError) as caught:
        drawn(Clipped(items=(item,)))
    assert str(caught.value) == "drawing: has groups that lie more than 64 deep; a flatter one would do"


def test_white_is_painted_under_the_print_as_in_files() -> None:
    found = drawn(filled(RED), filled(WHITE, role="white"))
    assert tuple(found[50, 50]) == (255, 0, 0, 255)


def test_a_picture_with_too_many_pixels_is_averaged_not_sampled() -> None:
    rng = np.random.default_rng(6)
    fine = rng.integers(0, 2, (400, 600, 1), np.uint8) * np.array([255, 255, 255, 255], np.uint8)  # black is clear too
    picture = replace(blocks(Affine(10, 0, 0, 10, 0, 0)), pixels=fine.tobytes(), columns=600, rows=400)
    for place in (picture.place, Affine(0, 10, 10, 0, 0, 0)):  # upright, and turned over its diagonal
        found = drawn(replace(picture, place=place), box=Box(0, 0, 10, 10), dpi=50.8)[2:-2, 2:-2]
        shown = found[:, :, 3] / 255
        # 30 x 20 pixels under each of ours: mean 1/2, standard deviation 1/2/√600 = 0.02
        assert abs(shown.mean() - 0.5) < 0.01 and shown.std() < 0.03
        assert found[:, :, :3].min() >= 250  # the clear ones lend no colour


def test_an_averaged_picture_stays_where_it_was() -> None:
    for dpi in (25.4, 40, 127):
        found = drawn(blocks(Affine(10, 0, 0, 10, 3, 4)), box=Box(0, 0, 16, 16), dpi=dpi, background=WHITE)[:, :, :3]
        for point, colour in {3.8 + 4.8j: (0, 0, 255), 12.2 + 13.2j: (0, 255, 0), 3.8 + 13.2j: (255, 0, 0)}.items():
            row, column = int((16 - point.imag) * dpi / 25.4), int(point.real * dpi / 25.4)
            assert found[row, column] == pytest.approx(np.array(colour), abs=40), (dpi, point)
        left = np.flatnonzero((found < 100).any(axis=(0, 2)))[0] / (dpi / 25.4)
        assert left == pytest.approx(3, abs=1.01 * 25.4 / dpi)


def test_what_vera_lacks_is_a_question_mark_as_in_pdf_files() -> None:
    lacking, given = (drawn(Text(text=text, at=5 + 20j, size=8)) for text in ("cup 杯 ok", "cup ? ok"))
    assert np.array_equal(lacking, given) and given[:, :, 3].any()


def test_letters_are_vera_even_where_no_font_is_installed() -> None:
    word = Text(text="HHHHHHHH", at=5 + 20j, size=5)
    columns = np.flatnonzero(drawn(word)[:, :, 3].any(axis=0)) / 5
    assert columns[0] == pytest.approx(5 + 5 * 201 / 2048, abs=0.25)  # left side bearing of H in Vera.ttf: 201 units
    assert columns[-1] - columns[0] == pytest.approx(word.width - 2 * 5 * 201 / 2048, abs=0.4)


def test_the_picture_that_comes_out_can_be_drawn_again_in_its_place() -> None:
    first = raster(artwork().pages[0].drawing, Box(5, 5, 30, 30), 127, role="guide")
    assert first.role == "guide"
    again = raster(Drawing((first,)), Box(5, 5, 30, 30), 127)
    assert np.mean(np.abs(pixels(first).astype(int) - pixels(again)) > 3) < 0.01


def test_dashes_and_hairlines_are_as_long_and_thin_as_they_say() -> None:
    line = Shape(path=polyline([1 + 5j, 9 + 5j]), role="cut", stroke=Stroke(width=0.2, dashes=(2, 1)))
    found = drawn(line, box=Box(0, 0, 10, 10), dpi=508)[:, :, 3] > 127  # 20 pixels a mm
    assert np.flatnonzero(np.diff(found[99].astype(int))) + 1 == pytest.approx([20, 60, 80, 120, 140, 180], abs=1)
    assert found[:, 40].sum() == 4
