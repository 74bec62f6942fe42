"""Gradients, pictures, opacity and clips as they come out on paper: resvg's picture of our SVG and pdfium's picture of
our PDF, both against the colours that the definitions give.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cupgeom.drawing import Affine, Box, Clipped, Drawing, Gradient, Item, Shape, Stroke, Text, circle, polyline
from cupgeom.pages import Document

from .sample_artwork import (
    BLACK,
    BLOCKS,
    BLUE,
    GREEN,
    PX_PER_MM,
    RED,
    SIDE,
    WHITE,
    YELLOW,
    artwork,
    blocks,
    colours,
    filled,
    mixed,
    photograph,
    pictures,
    pixel,
    square,
    stops,
)

ROUNDING = 6 / 255  # colours of 8 bits, mixed twice, taken from a turned picture
FEW = 0.01  # share of pixels that may differ, where a hard edge runs beside another
SMOOTH = stops((0, RED), (1, BLUE))
HARD = stops((0.1, RED), (0.4, YELLOW), (0.4, GREEN), (0.9, BLUE))
TO_THE_ENDS = stops((0, YELLOW), (0, RED), (1, BLUE), (1, GREEN))
FADING = stops((0, RED, 1), (0.5, YELLOW, 0.3), (1, BLUE, 0))


def outside(
    gradient: Gradient, pixels: NDArray[np.uint8], *, blur: float, slack: float, under: object = WHITE
) -> float:
    """Share of the pixels (one in 25) whose colour the gradient does not take within `blur` pixels and `slack`."""
    rows, columns = np.mgrid[4 : pixels.shape[0] - 4 : 5, 4 : pixels.shape[1] - 4 : 5] + 0.5
    found = pixels[4:-4:5, 4:-4:5] / 255
    least, most = np.full_like(found, np.inf), np.full_like(found, -np.inf)
    for right in (-blur, -blur / 2, 0.0, blur / 2, blur):
        for down in (-blur, -blur / 2, 0.0, blur / 2, blur):
            points = (columns + right) / PX_PER_MM + 1j * (SIDE - (rows + down) / PX_PER_MM)
            shown = colours(gradient, points)
            mix = shown[..., 3:] * shown[..., :3] + (1 - shown[..., 3:]) * np.array(under)
            least, most = np.minimum(least, mix), np.maximum(most, mix)
    return float(np.mean(((found < least - slack) | (found > most + slack)).any(axis=2)))


BLUR = {"svg": 0.5, "pdf": 1.5}  # pixels; pdfium takes the colour at a pixel's corner ...
SLACK = {"svg": 2 / 255, "pdf": 5 / 255}  # ... and each ramp at 256 places


PLACES = pytest.mark.parametrize(
    ("kind", "place", "focus"),
    [
        ("linear", Affine(15, 6, -6, 15, 15, 12), 0j),
        ("linear", Affine(-12, 0, 9, 5, 30, 20), 0j),  # a skewed plane, mirrored
        ("radial", Affine(14, 0, 0, 14, 25, 25), 0j),
        ("radial", Affine(14, 5, -2, 8, 20, 25), 0.5 - 0.4j),
        ("radial", Affine(-14, 5, -2, 12, 30, 20), 0.8j),
    ],
)


@pytest.mark.parametrize("spread", ["pad", "reflect", "repeat"])
@PLACES
def test_a_gradient_has_the_colours_of_its_definition_wherever_it_lies(kind, place, focus, spread) -> None:
    gradient = Gradient(kind=kind, stops=HARD, place=place, focus=focus, spread=spread)
    for name, pixels in pictures(square(filled(gradient))):
        assert outside(gradient, pixels, blur=BLUR[name], slack=SLACK[name]) < FEW, name


@pytest.mark.parametrize("ramp", [SMOOTH, TO_THE_ENDS, FADING, SMOOTH[:1]])
@pytest.mark.parametrize(("kind", "spread"), [("linear", "pad"), ("linear", "reflect"), ("radial", "repeat")])
def test_a_gradient_has_the_colours_of_its_stops(kind, ramp, spread) -> None:
    gradient = Gradient(kind=kind, stops=ramp, place=Affine(15, 6, -6, 15, 15, 12), focus=0.3j, spread=spread)
    for name, pixels in pictures(square(filled(gradient))):
        assert outside(gradient, pixels, blur=BLUR[name], slack=SLACK[name]) < FEW, name


@given(
    st.sampled_from(["linear", "radial"]),
    st.sampled_from(["pad", "reflect", "repeat"]),
    st.floats(min_value=8, max_value=60),
    st.floats(min_value=0.5, max_value=1.5),
    st.floats(min_value=-180, max_value=180),
    st.booleans(),
    st.builds(complex, st.floats(min_value=0, max_value=SIDE), st.floats(min_value=0, max_value=SIDE)),
)
@settings(max_examples=8)
def test_a_gradient_goes_along_with_any_turn_stretch_and_mirror(kind, spread, size, stretch, turn_deg, mirror, at):
    own = Gradient(kind=kind, stops=HARD, focus=0.3 + 0.2j, spread=spread)
    turned = Affine.rotation(turn_deg) @ Affine.scale(-size if mirror else size, size * stretch)
    shape = filled(own, Box(-20, -20, 20, 20)).transformed(Affine.move(at) @ turned)
    assert isinstance(shape.fill, Gradient)
    for name, pixels in pictures(square(shape)):
        assert outside(shape.fill, pixels, blur=BLUR[name], slack=SLACK[name]) < FEW, name


def test_very_fine_stripes_stay_within_their_colours() -> None:
    stripes = Gradient(kind="linear", stops=stops((0, RED), (0.5, RED), (0.5, BLUE), (1, BLUE)), spread="repeat")
    for size in (0.4, 1e-4, 1e-300):
        shape = filled(replace(stripes, place=Affine(size, 0, 0, size, 0, 0) if size > 1e-9 else Affine(a=size)))
        for name, pixels in pictures(square(shape)):
            if name == "pdf" or size == 0.4:  # finer ones are the renderer's own affair in SVG
                mean = pixels[4:-4, 4:-4].mean(axis=(0, 1)) / 255
                assert mean == pytest.approx(mixed(RED, 0.5, BLUE), abs=0.03), (name, size)


def test_a_fading_gradient_lets_shine_through_what_lies_under_it() -> None:
    gradient = Gradient(kind="radial", stops=FADING, place=Affine(20, 0, 0, 12, 25, 25))
    for name, pixels in pictures(square(filled(GREEN, role="white"), filled(gradient))):
        assert outside(gradient, pixels, blur=BLUR[name], slack=SLACK[name], under=GREEN) < 0.002, name


def test_a_gradient_fills_its_shape_and_no_more() -> None:
    gradient = Gradient(kind="linear", stops=SMOOTH, place=Affine(30, 0, 0, 30, 10, 0))
    ring = circle(25 + 25j, 15) + circle(25 + 25j, 7)
    for even_odd, opacity in ((True, 1.0), (False, 1.0), (True, 0.4)):
        shape = Shape(path=ring, role="print", fill=gradient, even_odd=even_odd, fill_opacity=opacity)
        for name, pixels in pictures(square(shape)):
            for point, inside in ((25 + 36j, True), (36 + 25j, True), (25 + 25j, not even_odd), (38 + 38j, False)):
                full = colours(gradient, np.array([point]))[0, :3]
                expected = mixed(full, opacity, WHITE) if inside else WHITE
                assert pixel(pixels, point) == pytest.approx(expected, abs=0.03), (name, even_odd, opacity, point)


def expect(document: Document, expected: dict[complex, object], slack: float = ROUNDING) -> None:
    """Compare the colours at points of the page in all pictures of it."""
    for name, pixels in pictures(document):
        for point, colour in expected.items():
            assert pixel(pixels, point) == pytest.approx(np.array(colour), abs=slack), (name, point)


@pytest.mark.parametrize("paint", [RED, Gradient(kind="linear", stops=stops((0, RED)))])
def test_fill_and_stroke_are_let_through_each_by_its_own_opacity(paint) -> None:
    shape = filled(paint, Box(10, 10, 40, 40), fill_opacity=0.25, stroke=Stroke(width=8, colour=BLUE, opacity=0.5))
    fill = mixed(RED, 0.25, WHITE)
    expect(
        square(shape),
        {
            25 + 25j: fill,
            12 + 25j: mixed(BLUE, 0.5, fill),  # the stroke's inner half lies on the fill (SVG 1.1, 14.5)
            8 + 25j: mixed(BLUE, 0.5, WHITE),
            3 + 25j: WHITE,
        },
    )
    whole = filled(paint, Box(10, 10, 40, 40), stroke=Stroke(width=8, colour=BLUE))
    expect(square(whole), {25 + 25j: RED, 12 + 25j: BLUE, 8 + 25j: BLUE})


def two_squares() -> tuple[Item, ...]:
    return filled(RED, Box(5, 5, 30, 30)), filled(BLUE, Box(20, 20, 45, 45))


def test_a_group_is_let_through_as_a_whole() -> None:
    group = Clipped(items=two_squares(), opacity=0.4)
    expect(
        square(filled(YELLOW, role="white"), group),
        {
            10 + 10j: mixed(RED, 0.4, YELLOW),
            25 + 25j: mixed(BLUE, 0.4, YELLOW),  # no red where blue hides it
            40 + 40j: mixed(BLUE, 0.4, YELLOW),
            40 + 10j: YELLOW,
        },
    )


def test_groups_within_groups_multiply_and_keep_their_clips() -> None:
    inner = Clipped(items=two_squares(), opacity=0.5, clip=Box(0, 0, 40, 40).outline())
    outer = Clipped(items=(filled(GREEN, Box(0, 30, 10, 45)), inner), opacity=0.6, clip=circle(25 + 25j, 20))
    expect(
        square(outer),
        {
            12 + 15j: mixed(RED, 0.3, WHITE),
            25 + 25j: mixed(BLUE, 0.3, WHITE),
            8 + 32j: mixed(GREEN, 0.6, WHITE),
            42.5 + 26j: WHITE,
            3 + 44j: WHITE,
        },
    )


def test_corners_of_strokes_and_letters_in_a_group_are_not_cut() -> None:
    leg = 30 * complex(math.cos(math.radians(170)), math.sin(math.radians(170)))
    line = Shape(
        path=polyline([30 + 10j + leg, 30 + 10j, 30 + 10j + leg.conjugate()]), role="cut", stroke=Stroke(width=2)
    )
    tip = 30 + 1 / math.sin(math.radians(10))  # half the width over sin(angle/2), as for lines outside groups
    word = Text(text="ÅjÅ", at=10 + 30j, size=12)
    for name, (alone, grouped) in zip(
        ("svg", "pdf"),
        zip(pictures(square(line, word)), pictures(square(Clipped(items=(line, word), opacity=0.5))), strict=True),
        strict=True,
    ):
        halved = 255 - (255 - alone[1].astype(float)) / 2
        assert np.abs(grouped[1] - halved).max() < 3, name
        columns = np.flatnonzero((grouped[1][150:] < 200).any(axis=(0, 2)))
        assert columns[-1] / PX_PER_MM == pytest.approx(tip, abs=0.5), name


@pytest.mark.parametrize("opacity", [1.0, 0.5])
def test_a_clip_counts_its_outlines_by_its_own_rule(opacity: float) -> None:
    rings = circle(25 + 25j, 20) + circle(25 + 25j, 10)
    against = circle(25 + 25j, 20) + circle(25 + 25j, 10).reversed()
    shown = mixed(RED, opacity, WHITE)
    for clip, even_odd, middle in ((rings, True, WHITE), (rings, False, shown), (against, False, WHITE)):
        group = Clipped(items=(filled(RED),), clip=clip, even_odd=even_odd, opacity=opacity)
        expect(square(group), {25 + 40j: shown, 25 + 25j: middle, 3 + 3j: WHITE})


def test_nothing_shows_in_a_clip_without_outlines_and_all_shows_without_a_clip() -> None:
    nothing = polyline([])
    for opacity in (1.0, 0.5):
        expect(square(Clipped(items=(filled(RED),), clip=nothing, opacity=opacity)), {25 + 25j: WHITE})
        expect(square(Clipped(items=(filled(RED),), opacity=opacity)), {25 + 25j: mixed(RED, opacity, WHITE)})
    expect(square(Clipped(items=(), opacity=0.5), Shape(path=nothing, role="print", fill=RED)), {25 + 25j: WHITE})


@given(
    st.floats(min_value=-180, max_value=180),
    st.floats(min_value=14, max_value=22),
    st.floats(min_value=14, max_value=22),
    st.floats(min_value=-0.5, max_value=0.5),
    st.booleans(),
)
@settings(max_examples=8)
def test_corners_of_a_picture_come_out_where_its_map_takes_them(turn_deg, width, height, skew, mirror) -> None:
    middle = Affine.move(SIDE / 2 * (1 + 1j))
    place = (
        middle @ Affine.rotation(turn_deg) @ Affine(width, 0, skew * height, height, 0, 0) @ Affine.move(-0.5 - 0.5j)
    )
    place = Affine(a=-1.0, e=SIDE) @ place if mirror else place
    under, ground = (0.2, 0.4, 0.6), filled((0.2, 0.4, 0.6), role="white")
    expected = {place(point): np.array(colour) / 255 for point, colour in BLOCKS.items()}
    expected[place(0.375 + 0.5j)] = np.array(under)  # clear
    expected[place(0.625 + 0.5j)] = mixed(WHITE, 128 / 255, under)
    expected[place(0.5 + 0.125j)] = np.array(BLACK)
    expected[place(-0.1 - 0.1j)] = np.array(under)
    expect(square(ground, blocks(place)), expected)
    halved = {point: mixed(colour, 0.5, under) for point, colour in expected.items()}
    expect(square(ground, blocks(place, opacity=0.5)), halved)


def test_a_drawing_mirrored_as_a_whole_is_the_mirrored_page() -> None:
    document = artwork()
    ink = document.pages[0].drawing.only(["print", "white"])
    mirrored = ink.transformed(Affine(a=-1.0, e=SIDE))
    both = zip(pictures(square(*ink.items)), pictures(square(*mirrored.items)), strict=True)
    for (name, plain), (_, turned) in both:
        off = np.abs(plain[:, ::-1].astype(int) - turned).max(axis=2) > 64
        near = np.abs(np.diff(plain[:, ::-1].astype(int), axis=1, prepend=255)).max(axis=2) > 32
        edge = (
            near | np.roll(near, 1, axis=1) | np.roll(near, -1, axis=1)
        )  # where a pixel to the side changes the colour
        assert np.mean(off & ~edge) < 0.002, name


def test_a_photograph_has_its_colours_and_lies_upright() -> None:
    expect(square(photograph(Affine(30, 0, 0, 20, 10, 15))), {15 + 25j: (160 / 255, 30 / 255, 30 / 255)}, 6 / 255)
    expect(square(photograph(Affine(30, 0, 0, 20, 10, 15))), {35 + 25j: (230 / 255, 200 / 255, 160 / 255)}, 6 / 255)


def test_white_lies_under_the_print_whatever_the_order_of_the_items() -> None:
    ink, white = filled(RED, Box(0, 0, 30, SIDE)), filled((0.9, 0.9, 0.9), role="white")
    for items in ((ink, white), (white, ink), (Clipped(items=(ink, white), opacity=1.0),)):
        expect(square(*items), {15 + 25j: RED, 40 + 25j: (0.9, 0.9, 0.9)})


def test_all_renderers_draw_the_same_artwork() -> None:
    first, *others = (pixels.astype(int) for _, pixels in pictures(artwork()))
    spans = [np.roll(first, (down, right), axis=(0, 1)) for down in (-1, 0, 1) for right in (-1, 0, 1)]
    least, most = np.min(spans, axis=0), np.max(spans, axis=0)
    for other in others:
        off = (other < least - 32) | (other > most + 32)
        assert off.any(axis=2).mean() < 0.002


def test_the_judge_of_gradients_notices_a_wrong_one() -> None:
    gradient = Gradient(kind="linear", stops=SMOOTH, place=Affine(30, 0, 0, 30, 10, 0))
    wrong = Drawing((filled(gradient),)).transformed(Affine.move(2 + 0j))
    for name, pixels in pictures(square(*wrong.items)):
        assert outside(gradient, pixels, blur=BLUR[name], slack=SLACK[name]) > 0.4, name
