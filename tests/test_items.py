"""What a page can bear: bounds, roles, what moves with a map and what does not, and what is refused."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import CupgeomError
from cupgeom.drawing import (
    ROLES,
    Affine,
    Box,
    Clipped,
    Drawing,
    Path,
    Pen,
    Shape,
    Stroke,
    Text,
    circle,
    polyline,
    vera,
)

SQUARE = Box(0, 0, 10, 10).outline()
COORDINATES = st.floats(min_value=-200, max_value=200)
ANGLES = st.floats(min_value=-360, max_value=360)
TEXTS = st.builds(
    Text,
    text=st.text("abgjÅ Wi.,", min_size=1, max_size=12),
    at=st.builds(complex, COORDINATES, COORDINATES),
    size=st.floats(min_value=0.5, max_value=20),
    anchor=st.sampled_from(["start", "middle", "end"]),
    angle_deg=ANGLES,
    bold=st.booleans(),
)


def close(box: Box, other: Box, tolerance: float = 1e-9) -> bool:
    return all(abs(a - b) <= tolerance for a, b in zip(box, other, strict=True))


def corners(text: Text) -> set[complex]:
    """Corners of the letters' rectangle, rounded so that they compare."""
    return {complex(round(p.start.real, 6) + 0.0, round(p.start.imag, 6) + 0.0) for p in text.outline().segments()}


def test_a_text_lies_between_descent_and_ascent_of_its_letters() -> None:
    text = Text(text="Hag", at=5 + 7j, size=4)
    assert close(text.bounds(), Box(5, 7 - 4 * vera.DESCENT, 5 + vera.text_width("Hag", 4), 7 + 4 * vera.ASCENT))
    assert Text(text="Ég", at=0, size=4).bounds().top == pytest.approx(4 * vera.TALLEST)


@pytest.mark.parametrize(("anchor", "share"), [("start", 0), ("middle", 0.5), ("end", 1)])
def test_an_anchor_shifts_the_text_along_its_line(anchor, share: float) -> None:
    width = vera.text_width("rim band", 3)
    assert Text(text="rim band", at=10 + 0j, size=3, anchor=anchor).start == pytest.approx(10 - share * width)
    upright = Text(text="rim band", at=10 + 0j, size=3, anchor=anchor, angle_deg=90)
    assert upright.start == 10 - 1j * share * width
    assert close(
        upright.bounds(), Box(10 - 3 * vera.ASCENT, -share * width, 10 + 3 * vera.DESCENT, (1 - share) * width)
    )


@given(TEXTS, ANGLES, st.floats(min_value=0.1, max_value=10), st.builds(complex, COORDINATES, COORDINATES))
def test_a_text_moves_with_turn_shift_and_scale(text: Text, angle: float, scale: float, by: complex) -> None:
    affine = Affine.move(by) @ Affine.rotation(angle) @ Affine.scale(scale, scale)
    moved, outline = text.transformed(affine), text.outline().transformed(affine)
    for there, expected in zip(moved.outline().segments(), outline.segments(), strict=True):
        assert abs(there.start - expected.start) <= 1e-9 * (1 + abs(expected.start))


@given(TEXTS, ANGLES, st.floats(min_value=0.1, max_value=10))
def test_a_mirrored_text_fills_its_mirrored_place_and_stays_readable(text: Text, angle: float, scale: float) -> None:
    affine = Affine.rotation(angle) @ Affine.scale(-scale, scale)
    moved, outline = text.transformed(affine), text.outline().transformed(affine)
    assert moved.text == text.text
    for point in (segment.start for segment in outline.segments()):
        assert min(abs(point - segment.start) for segment in moved.outline().segments()) <= 1e-9 * (1 + abs(point))


def test_a_text_on_a_sheet_mirrored_left_to_right_keeps_its_feet_down() -> None:
    mirrored = Text(text="MIRRORED", at=10 + 2j, size=3, anchor="start").transformed(Affine.scale(-1, 1))
    assert (mirrored.at, mirrored.anchor, mirrored.angle_deg) == (-10 + 2j, "end", 0)
    slanting = Text(text="seam", at=0j, angle_deg=30).transformed(Affine.scale(-1, 1))
    assert slanting.angle_deg == pytest.approx(-30)
    upright = Text(text="seam", at=0j, angle_deg=90, anchor="middle").transformed(Affine.scale(-1, 1))
    assert (upright.angle_deg, upright.anchor) == (pytest.approx(-90), "middle")


def test_a_text_mirrored_twice_is_where_it_was() -> None:
    text = Text(text="quarter", at=3 + 4j, angle_deg=25, anchor="end")
    again = text.transformed(Affine.scale(-1, 1)).transformed(Affine.scale(-1, 1))
    assert corners(again) == corners(text)
    assert again.anchor == "end"


def test_a_shape_reaches_half_its_stroke_beyond_its_path() -> None:
    assert Shape(path=SQUARE, role="cut").bounds() == Box(0, 0, 10, 10)
    assert Shape(path=SQUARE, role="cut", stroke=Stroke(width=0.5)).bounds() == Box(-0.25, -0.25, 10.25, 10.25)


def test_a_moved_shape_keeps_its_paint_and_the_width_of_its_stroke() -> None:
    shape = Shape(path=circle(0j, 5), role="cut", stroke=Stroke(width=0.5), fill=(1, 0, 0), even_odd=True, name="hole")
    moved = shape.transformed(Affine.scale(2, 2))
    assert (moved.stroke, moved.fill, moved.even_odd, moved.name, moved.role) == (
        shape.stroke,
        shape.fill,
        True,
        "hole",
        "cut",
    )
    assert close(moved.bounds(), Box(-10.25, -10.25, 10.25, 10.25))


def test_what_is_clipped_reaches_no_farther_than_its_clip() -> None:
    wide = Shape(path=Box(-50, 2, 50, 4).outline(), role="print", fill=(0, 0, 0))
    assert Clipped(clip=SQUARE, items=(wide,)).bounds() == Box(0, 2, 10, 4)
    small = Shape(path=Box(1, 1, 2, 2).outline(), role="print", fill=(0, 0, 0))
    assert Clipped(clip=SQUARE, items=(small,)).bounds() == Box(1, 1, 2, 2)
    nested = Clipped(clip=Box(-5, -5, 5, 3).outline(), items=(Clipped(clip=SQUARE, items=(wide,)),))
    assert nested.bounds() == Box(0, 2, 5, 3)


def test_what_is_clipped_away_has_no_size() -> None:
    far = Shape(path=Box(100, 100, 110, 110).outline(), role="print", fill=(0, 0, 0))
    bounds = Clipped(clip=SQUARE, items=(far,)).bounds()
    assert (bounds.width, bounds.height) == (0, 0)
    assert 0 <= bounds.left <= 10
    assert 0 <= bounds.bottom <= 10


def test_a_clip_moves_with_its_items() -> None:
    item = Shape(path=Box(2, 2, 4, 4).outline(), role="print", fill=(0, 0, 0))
    clipped = Clipped(clip=SQUARE, items=(item,)).transformed(Affine.move(100 + 50j))
    assert clipped.clip.bounds() == Box(100, 50, 110, 60)
    assert clipped.items[0].bounds() == Box(102, 52, 104, 54)


def example() -> Drawing:
    cut = Shape(path=SQUARE, role="cut", stroke=Stroke())
    ink = Shape(path=Box(1, 1, 2, 2).outline(), role="print", fill=(0, 0, 1))
    under = Shape(path=Box(1, 1, 2, 2).outline(), role="white", fill=(1, 1, 1))
    inner = Clipped(clip=Box(0, 0, 5, 5).outline(), items=(under,))
    return Drawing((cut, Clipped(clip=SQUARE, items=(ink, inner)), Text(text="note", at=20 + 0j)))


def test_only_the_asked_roles_are_left_and_their_clips_kept() -> None:
    drawing = example()
    assert drawing.only(["cut"]).items == drawing.items[:1]
    assert drawing.only(["note", "cut"]).items == (drawing.items[0], drawing.items[2])
    (outer,) = drawing.only(["white"]).items
    assert isinstance(outer, Clipped)
    (inner,) = outer.items
    assert isinstance(inner, Clipped)
    assert (outer.clip, inner.clip, inner.items[0].role) == (SQUARE, Box(0, 0, 5, 5).outline(), "white")
    assert not drawing.only(["guide"])
    assert drawing.only(ROLES) == drawing
    assert drawing.only(role for role in ROLES) == drawing  # an iterator too


def test_only_splits_a_drawing_without_loss() -> None:
    drawing = example()
    parts = [leaf for role in ROLES for leaf in drawing.only([role]).leaves()]
    assert sorted(map(repr, parts)) == sorted(map(repr, drawing.leaves()))


def test_roles_come_in_their_order_once() -> None:
    assert example().roles() == ("white", "print", "cut", "note")
    assert (example() + example()).roles() == ("white", "print", "cut", "note")
    assert Drawing().roles() == ()


def test_drawings_add_up_in_order() -> None:
    first, second = Drawing(example().items[:1]), Drawing(example().items[1:])
    assert first + second == example()
    assert not Drawing()


def test_a_drawing_bounds_all_its_items() -> None:
    drawing = Drawing(
        (Shape(path=SQUARE, role="cut"), Shape(path=polyline([-5 + 20j, 3j]), role="guide", stroke=Stroke(width=1)))
    )
    assert drawing.bounds() == Box(-5.5, 0, 10, 20.5)
    assert close(drawing.transformed(Affine.move(1 - 2j)).bounds(), Box(-4.5, -2, 11, 18.5))


def test_an_empty_drawing_has_no_bounds() -> None:
    with pytest.raises(CupgeomError) as caught:
        Drawing().bounds()
    assert str(caught.value) == "drawing: is empty, so it has no bounds"


IN_COLOUR = "must be red, green and blue from 0 to 1, got"
IN_ROLES = "must be one of white, print, cut, guide, note, got"


@pytest.mark.parametrize(
    ("kind", "fields", "message"),
    [
        (Stroke, {"width": 0}, "stroke.width: must be greater than 0 mm, got 0 mm"),
        (Stroke, {"width": -1}, "stroke.width: must be greater than 0 mm, got -1 mm"),
        (Stroke, {"width": math.nan}, "stroke.width: must be a finite number of mm, got nan"),
        (Stroke, {"width": math.inf}, "stroke.width: must be a finite number of mm, got inf"),
        (Stroke, {"dashes": (1.0, -1.0)}, "stroke.dashes[1]: must be at least 0 mm, got -1 mm"),
        (Stroke, {"dashes": (math.nan,)}, "stroke.dashes[0]: must be a finite number of mm, got nan"),
        (Stroke, {"dashes": (0.0, 0.0)}, "stroke.dashes: one of them must be greater than 0 mm"),
        (Stroke, {"colour": (0, 0, 1.5)}, f"stroke.colour: {IN_COLOUR} (0, 0, 1.5)"),
        (Stroke, {"colour": (0, 0)}, f"stroke.colour: {IN_COLOUR} (0, 0)"),
        (Shape, {"fill": (math.nan, 0, 0)}, f"shape.fill: {IN_COLOUR} (nan, 0, 0)"),
        (Shape, {"role": "blade"}, f"shape.role: {IN_ROLES} 'blade'"),
        (Text, {"role": "ink"}, f"text.role: {IN_ROLES} 'ink'"),
        (Text, {"size": 0}, "text.size: must be greater than 0 mm, got 0 mm"),
        (Text, {"size": math.nan}, "text.size: must be a finite number of mm, got nan"),
        (Text, {"at": complex(math.nan, 0)}, "text.at.x: must be a finite number of mm, got nan"),
        (Text, {"at": complex(0, math.inf)}, "text.at.y: must be a finite number of mm, got inf"),
        (Text, {"angle_deg": math.inf}, "text.angle_deg: must be a finite number of degrees, got inf"),
        (Text, {"anchor": "left"}, "text.anchor: must be start, middle or end, got 'left'"),
        (Text, {"colour": (2, 0, 0)}, f"text.colour: {IN_COLOUR} (2, 0, 0)"),
    ],
)
def test_a_bad_value_is_refused_however_it_is_built(kind: type, fields: dict[str, object], message: str) -> None:
    good = {Stroke: Stroke(), Shape: Shape(path=SQUARE, role="cut"), Text: Text(text="a", at=0j)}[kind]
    with pytest.raises(CupgeomError) as caught:
        replace(good, **fields)
    assert str(caught.value) == message


def test_items_are_values() -> None:
    assert example() == example()
    assert len({example(), example()}) == 1
    with pytest.raises(FrozenInstanceError):
        Stroke().width = 3


def test_a_shape_without_paint_or_path_has_no_bounds() -> None:
    with pytest.raises(CupgeomError) as caught:
        Shape(path=Path(), role="guide").bounds()
    assert str(caught.value) == "path: has no segments, so it has no bounds"
    with pytest.raises(CupgeomError, match="has no segments"):
        Shape(path=Pen(3j).path(), role="guide").bounds()
