"""Paint and pictures as values: what is refused, and what moves along when a drawing moves."""

from __future__ import annotations

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from cupgeom import CupgeomError
from cupgeom.drawing import Affine, Box, Clipped, Drawing, Gradient, Picture, Shape, Stop, Stroke, Text, circle
from cupgeom.drawing.paint import FARTHEST_FOCUS, jpeg_frame

from .sample_artwork import BLUE, RED, artwork, blocks, colours, filled, jpeg, photograph, stops

LINEAR = Gradient(kind="linear", stops=stops((0, RED), (1, BLUE)))
MIRROR = Affine(a=-1.0, e=100.0)
NUMBERS = st.floats(min_value=-50, max_value=50)
PLACES = st.builds(Affine, *[NUMBERS] * 6).filter(lambda place: abs(place.determinant) > 1)
IN_SHARE = "must be a number from 0 to 1, got"


@pytest.mark.parametrize(
    ("good", "fields", "message"),
    [
        (LINEAR.stops[0], {"offset": -0.1}, f"stop.offset: {IN_SHARE} -0.1"),
        (LINEAR.stops[0], {"offset": math.nan}, f"stop.offset: {IN_SHARE} nan"),
        (LINEAR.stops[0], {"opacity": 1.5}, f"stop.opacity: {IN_SHARE} 1.5"),
        (LINEAR.stops[0], {"opacity": True}, f"stop.opacity: {IN_SHARE} True"),
        (LINEAR.stops[0], {"colour": (0, 0, 2)}, "stop.colour: must be red, green and blue from 0 to 1, got (0, 0, 2)"),
        (LINEAR, {"kind": "conic"}, "gradient.kind: must be linear or radial, got 'conic'"),
        (LINEAR, {"stops": ()}, "gradient.stops: needs at least one colour"),
        (LINEAR, {"stops": LINEAR.stops[::-1]}, "gradient.stops: must be in order of their offsets"),
        (LINEAR, {"focus": 0.6 + 0.8j}, "gradient.focus: must lie within 0.999 of the centre, got 1"),
        (LINEAR, {"focus": complex(math.nan)}, "gradient.focus: must lie within 0.999 of the centre, got nan"),
        (LINEAR, {"spread": "mirror"}, "gradient.spread: must be pad, reflect or repeat, got 'mirror'"),
        (LINEAR, {"place": Affine(2, 1, 4, 2)}, "gradient.place: squeezes everything onto a line"),
        (LINEAR, {"place": Affine(e=math.inf)}, "gradient.place.e: must be a finite number of mm, got inf"),
        (LINEAR, {"place": Affine(a=1e200, d=1e200)}, "gradient.place: squeezes everything onto a line"),
        (
            blocks(Affine()),
            {"rows": 159},
            "picture.pixels: must be 4 bytes for each of 160 x 159 pixels, got 102400 bytes",
        ),
        (
            blocks(Affine()),
            {"columns": 0, "pixels": b""},
            "picture.pixels: must be 4 bytes for each of 0 x 160 pixels, got 0 bytes",
        ),
        (blocks(Affine()), {"place": Affine(a=0.0)}, "picture.place: squeezes everything onto a line"),
        (blocks(Affine()), {"role": "ink"}, "picture.role: must be one of white, print, cut, guide, note, got 'ink'"),
        (blocks(Affine()), {"opacity": -1}, f"picture.opacity: {IN_SHARE} -1"),
        (blocks(Affine()), {"jpeg": jpeg()}, "picture.jpeg: has another size than the pixels"),
        (filled(RED), {"fill": (0, 0)}, "shape.fill: must be red, green and blue from 0 to 1, got (0, 0)"),
        (filled(RED), {"fill_opacity": 2}, f"shape.fill_opacity: {IN_SHARE} 2"),
        (Stroke(), {"opacity": "half"}, f"stroke.opacity: {IN_SHARE} 'half'"),
        (Clipped(items=()), {"opacity": math.inf}, f"clipped.opacity: {IN_SHARE} inf"),
    ],
)
def test_a_bad_value_is_refused_however_it_is_built(good: object, fields: dict[str, object], message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        replace(good, **fields)
    assert str(caught.value) == message


@pytest.mark.parametrize(("mode", "count"), [("L", 1), ("RGB", 3)])
@pytest.mark.parametrize("progressive", [False, True])
def test_a_jpeg_tells_its_size_and_colours(mode: str, count: int, progressive: bool) -> None:
    data = jpeg(mode, progressive=progressive, comment=b"\xff\xc0 not a frame")
    assert jpeg_frame(data) == (48, 32, count)
    assert jpeg_frame(data.replace(b"\xff\xdb", b"\xff\xff\xff\xdb", 1)) == (48, 32, count)  # T.81, B.1.1.2: fill bytes


@pytest.mark.parametrize(
    "data",
    [
        jpeg("CMYK"),
        jpeg()[:100],
        jpeg()[:2],
        b"\xff" * 50,
        b"",
        jpeg().replace(b"\xff\xc0\x00\x11\x08", b"\xff\xc0\x00\x11\x0c"),  # 12 bits
        jpeg().replace(b"\xff\xc0\x00\x11", b"\xff\xc9\x00\x11"),  # arithmetic coding
        b"\x89PNG\r\n\x1a\n" + bytes(20),
    ],
)
def test_what_print_shops_cannot_read_as_a_jpeg_is_refused(data: bytes) -> None:
    with pytest.raises(CupgeomError) as caught:
        jpeg_frame(data)
    assert str(caught.value) == "picture.jpeg: must be a JPEG of 8 bits, grey or in three colours"


@given(PLACES, PLACES, st.builds(complex, NUMBERS, NUMBERS))
def test_a_gradient_moves_with_its_shape_and_shows_the_same_colour_there(
    place: Affine, by: Affine, at: complex
) -> None:
    gradient = replace(LINEAR, place=place, spread="reflect")
    moved = filled(gradient).transformed(by).fill
    assert isinstance(moved, Gradient)
    before, after = (colours(paint, np.array([point])) for paint, point in ((gradient, at), (moved, by(at))))
    assert np.abs(before - after).max() < 1e-6


@given(PLACES, PLACES)
def test_a_picture_moves_corner_by_corner_mirrored_too(place: Affine, by: Affine) -> None:
    picture = blocks(place, opacity=0.5, name="corners")
    moved = picture.transformed(by)
    low, right, high, left = picture.corners()
    assert moved.corners() == pytest.approx((by(low), by(right), by(high), by(left)), rel=1e-9, abs=1e-9)
    assert low + high == pytest.approx(right + left, rel=1e-9, abs=1e-9)
    box = moved.bounds()
    assert all(box.grown(1e-9 + 1e-12 * abs(corner)).holds(corner) for corner in moved.corners())
    assert box.width == max(c.real for c in moved.corners()) - min(c.real for c in moved.corners())
    assert (moved.pixels, moved.opacity, moved.name, moved.role) == (picture.pixels, 0.5, "corners", "print")


def test_a_moved_photograph_keeps_its_jpeg() -> None:
    assert photograph(Affine()).transformed(MIRROR).jpeg == jpeg()


def test_a_drawing_counts_its_pictures_wherever_they_lie() -> None:
    picture = blocks(Affine(10, 0, 0, 5, 20, 30))
    under = replace(picture, role="white", place=Affine(4, 0, 0, 4, 60, 0))
    drawing = Drawing((picture, Clipped(items=(Clipped(items=(under,), opacity=0.5),))))
    assert list(drawing.leaves()) == [picture, under]
    assert drawing.roles() == ("white", "print")
    assert drawing.bounds() == Box(20, 0, 64, 35)
    (kept,) = drawing.only(["white"]).items
    assert isinstance(kept, Clipped) and isinstance(kept.items[0], Clipped)
    assert (kept.items[0].items, kept.items[0].opacity) == ((under,), 0.5)
    assert drawing.transformed(MIRROR).bounds() == Box(36, 0, 80, 35)


def test_all_artwork_can_be_mirrored_and_mirrored_back() -> None:
    drawing = artwork().pages[0].drawing
    mirrored = drawing.transformed(MIRROR)
    there, back = drawing.bounds(), mirrored.bounds()
    assert (100 - back.right, 100 - back.left) == pytest.approx((there.left, there.right), abs=1e-9)
    again = mirrored.transformed(MIRROR)
    for leaf, first in zip(again.leaves(), drawing.leaves(), strict=True):
        if isinstance(leaf, Text):
            continue
        assert type(leaf) is type(first) and tuple(leaf.bounds()) == pytest.approx(tuple(first.bounds()), abs=1e-9)
        if isinstance(leaf, Shape) and isinstance(leaf.fill, Gradient):
            assert isinstance(first, Shape) and isinstance(first.fill, Gradient)
            assert tuple(leaf.fill.place) == pytest.approx(tuple(first.fill.place), abs=1e-9)


def test_a_group_without_a_clip_reaches_as_far_as_its_items_and_keeps_its_opacity_when_moved() -> None:
    group = Clipped(
        items=(filled(RED, Box(1, 2, 3, 4)), blocks(Affine(5, 0, 0, 5, 10, 10))), opacity=0.3, even_odd=True
    )
    assert group.bounds() == Box(1, 2, 15, 15)
    moved = group.transformed(Affine.move(1j))
    assert (moved.clip, moved.opacity, moved.even_odd, moved.bounds()) == (None, 0.3, True, Box(1, 3, 15, 16))


@given(st.floats(min_value=0.01, max_value=100), st.floats(min_value=0.05, max_value=3), NUMBERS)
def test_arcs_as_cubics_may_be_squashed(radius: float, squash: float, turn_deg: float) -> None:
    path = circle(3 + 4j, radius).with_cubics(0.001)
    squashed = path.transformed(Affine.rotation(turn_deg) @ Affine.scale(1, squash))
    assert set(path.kinds) == set(b"MCZ")
    points = np.array([s.point(t) for s in squashed.segments() for t in np.linspace(0, 1, 33)])
    back = points * np.exp(-1j * math.radians(turn_deg))
    off = (
        np.abs(back.real + 1j * back.imag / squash - (3 + 4j)) - radius
    )  # on the circle again, if it was on an ellipse
    assert off.min() > -1e-9 * (1 + radius) and off.max() < 0.001
    assert squashed.area() == pytest.approx(math.pi * radius**2 * squash, rel=1e-3, abs=0.01 * squash)


def test_a_path_without_arcs_is_its_own_form_in_cubics() -> None:
    outline = Box(0, 0, 1, 1).outline()
    assert outline.with_cubics(0.001) is outline
    with pytest.raises(CupgeomError, match="tolerance: must be greater than 0 mm"):
        outline.with_cubics(0)


@given(st.floats(min_value=0, max_value=2 * math.pi), st.floats(min_value=1, max_value=1e6))
def test_a_focus_pulled_in_to_the_farthest_place_is_taken(angle: float, far: float) -> None:
    focus = far * complex(math.cos(angle), math.sin(angle))
    gradient = replace(LINEAR, kind="radial", focus=focus * (FARTHEST_FOCUS / abs(focus)))
    assert abs(gradient.focus) == pytest.approx(0.999)


def test_a_gradient_is_opaque_unless_a_stop_lets_something_through() -> None:
    assert LINEAR.is_opaque
    assert not replace(LINEAR, stops=(*LINEAR.stops, Stop(offset=1, colour=RED, opacity=0.99))).is_opaque


def test_a_picture_does_not_spill_its_pixels_into_messages() -> None:
    assert len(repr(photograph(Affine()))) < 200


def test_the_photograph_of_these_tests_is_what_its_jpeg_holds() -> None:
    picture = photograph(Affine())
    assert isinstance(picture, Picture)
    assert Image.open(io.BytesIO(picture.jpeg)).convert("RGBA").tobytes() == picture.pixels
