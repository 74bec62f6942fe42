"""Whole designs on the sheet: everything that a design holds arrives, bent, in order, with its paint."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cupgeom import CupgeomError, Wall
from cupgeom.decor.bend import bent
from cupgeom.decor.onto import on_sheet
from cupgeom.decor.place import Placement
from cupgeom.drawing import (
    Affine,
    Arc,
    Box,
    Clipped,
    Drawing,
    Gradient,
    Path,
    Pen,
    Picture,
    Shape,
    Stop,
    Stroke,
    Text,
    circle,
)
from cupgeom.raster import raster

from .apex import Apex

TAPERED = Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120)
SLIGHT = Wall(top_radius=44, base_radius=44 - 170 * math.tan(math.radians(3)), height=170)
UPSIDE_DOWN = Wall(top_radius=30, base_radius=30 + 110 * math.tan(math.radians(12)), height=110)
CYLINDER = Wall(top_radius=40, base_radius=40, height=120)
LEVEL = Placement(wall=TAPERED, turn_deg=20, drop=55)
PLACES = {
    "level": LEVEL,
    "slight": Placement(wall=SLIGHT, turn_deg=-60, drop=80),
    "even": Placement(wall=TAPERED, turn_deg=-40, drop=50, bend="even"),
    "turned, upside down": Placement(wall=UPSIDE_DOWN, turn_deg=10, drop=60, rotate_deg=30),
}
every_place = pytest.mark.parametrize("placement", PLACES.values(), ids=PLACES)
RED, BLUE, GOLD = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.8, 0.6, 0.1)
STAR = Pen(4 + 0j).line(-3 + 2j).line(2 - 4j).line(2 + 4j).line(-3 - 2j).close().path()
SQUARE = Box(-5.0, -5.0, 5.0, 5.0).outline()
CHECKS = Picture(pixels=bytes([9, 9, 9, 255, 90, 9, 200, 128] * 8), columns=4, rows=4, place=Affine(6, 0, 0, 6, -3, -3))


def ramp(length: float, angle_deg: float = 0.0, **more) -> Gradient:
    """From red to blue over a length, its middle at the origin."""
    place = Affine.rotation(angle_deg) @ Affine(length, 0.0, 0.0, length, -length / 2, 0.0)
    return Gradient(
        **{"kind": "linear", "stops": (Stop(offset=0, colour=RED), Stop(offset=1, colour=BLUE)), **more}, place=place
    )


def rings(radius: float, **more) -> Gradient:
    stops = (Stop(offset=0, colour=GOLD), Stop(offset=1, colour=BLUE))
    return Gradient(kind="radial", stops=stops, place=Affine.scale(radius, radius), **more)


def test_everything_arrives_in_order() -> None:
    plain = Shape(path=STAR, role="print", fill=GOLD, fill_opacity=0.5, even_odd=True, name="star")
    line = Shape(path=circle(1j, 3), role="cut", stroke=Stroke(width=0.4, dashes=(1.0, 2.0)))
    inner = Clipped(items=(plain, CHECKS), opacity=0.25)
    design = Drawing((plain, Clipped(clip=STAR, even_odd=True, items=(line, inner), opacity=0.75), CHECKS, line))
    found = on_sheet(design, LEVEL, tolerance=0.02)
    star, ring = bent(STAR, LEVEL, 0.02), bent(circle(1j, 3), LEVEL, 0.02)
    first, group, picture, last = found.items
    assert first == replace(plain, path=star)
    assert last == replace(line, path=ring)
    assert isinstance(group, Clipped)
    assert (group.clip, group.even_odd, group.opacity) == (star, True, 0.75)
    line_inside, inside = group.items
    assert line_inside == replace(line, path=ring)
    assert inside == Clipped(items=(first, picture), opacity=0.25)
    assert [leaf.role for leaf in found.leaves()] == [leaf.role for leaf in design.leaves()]


def test_empty_things_stay_empty() -> None:
    nothing, point = Shape(path=Path(), role="print", fill=ramp(60)), Shape(path=Pen(1j).path(), role="print")
    found = on_sheet(Drawing((nothing, Clipped(clip=Path(), items=(point,)), Clipped(items=()))), LEVEL)
    assert found.items[0] == replace(nothing, fill=found.items[0].fill)
    assert found.items[1].clip == Path()
    assert found.items[1].items[0].path.kinds == b"M"
    assert found.items[2] == Clipped(items=())
    assert on_sheet(Drawing(), LEVEL) == Drawing()


@given(st.lists(st.sampled_from([STAR, circle(2j, 1.5), SQUARE, Path(), Pen(1j).line(3 + 0j).path()]), max_size=6))
@settings(max_examples=20)
def test_outlines_bent_together_are_those_bent_alone(paths: list[Path]) -> None:
    found = on_sheet(Drawing(tuple(Shape(path=path, role="print", fill=RED) for path in paths)), LEVEL)
    for shape, path in zip(found.items, paths, strict=True):
        alone = bent(path, LEVEL)
        assert isinstance(shape, Shape)
        assert shape.path.kinds.count(b"M") == alone.kinds.count(b"M")
        if path:
            assert np.abs(ends(shape.path) - ends(alone)).max() <= 1e-12


def ends(path: Path) -> NDArray[np.complex128]:
    return np.array([point for segments, _ in path.outlines() for point in (segments[0].start, segments[-1].end)])


@pytest.mark.parametrize(
    "placement",
    [
        replace(LEVEL, bend="flat", rotate_deg=25),
        Placement(wall=CYLINDER, turn_deg=60, drop=50, rotate_deg=25),
        Placement(wall=CYLINDER, turn_deg=60, drop=50, bend="even", reference_radius=44),
    ],
)
def test_where_shapes_are_kept_all_is_moved(placement: Placement) -> None:
    shape = Shape(path=circle(2 + 1j, 3), role="print", fill=ramp(60, stops=(Stop(offset=0.5, colour=RED),) * 2))
    text = Text(text="north", at=1 + 1j, size=4)
    moved, picture, note = on_sheet(Drawing((shape, CHECKS, text)), placement).items
    assert [type(segment) for segment in moved.path.segments()] == [Arc, Arc]
    assert picture.pixels == CHECKS.pixels
    expected = placement.to_sheet(np.array([5 + 1j, -1 + 1j, *CHECKS.corners(), 1 + 1j, 0j, 30 + 0j]))
    found = [*(moved.path.points[0] @ (1, 1j), moved.path.points[2] @ (1, 1j)), *picture.corners(), note.at]
    found += [moved.fill.place(0.5 + 0j), moved.fill.place(1 + 0j)]
    assert np.abs(np.array(found) - expected).max() <= 1e-12


def test_arcs_on_a_stretched_cylinder_become_cubics() -> None:
    placement = Placement(wall=CYLINDER, turn_deg=60, drop=50, reference_radius=44)
    shape, picture = on_sheet(Drawing((Shape(path=circle(0j, 3), role="print", fill=ramp(9)), CHECKS)), placement).items
    assert shape.fill == ramp(9).transformed(shape.fill.place @ inverse(ramp(9).place))
    assert shape.path.bounds().width == pytest.approx(6 * 40 / 44, abs=0.02)
    assert shape.path.bounds().height == pytest.approx(6, abs=0.02)
    assert picture.pixels == CHECKS.pixels
    assert picture.bounds().width == pytest.approx(6 * 40 / 44)


def inverse(affine: Affine) -> Affine:
    matrix = np.linalg.inv([[affine.a, affine.c, affine.e], [affine.b, affine.d, affine.f], [0, 0, 1]])
    return Affine(*map(float, matrix[:2].T.ravel()))


def test_texts_are_refused_by_name() -> None:
    with pytest.raises(CupgeomError) as caught:
        on_sheet(Drawing((Clipped(items=(Text(text="Perihelion", at=0j),)),)), LEVEL)
    assert (
        str(caught.value)
        == 'text: "Perihelion" is set in Vera, which cannot be bent; set it as outlines, with lettering'
    )


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"dpi": 0}, "dpi: must be greater than 0 dots per inch, got 0 dots per inch"),
        ({"dpi": math.inf}, "dpi: must be a finite number of dots per inch, got inf"),
        ({"tolerance": 0}, "tolerance: must be greater than 0 mm, got 0 mm"),
    ],
)
@pytest.mark.parametrize("placement", [LEVEL, replace(LEVEL, bend="flat")])
def test_bad_settings_are_said(settings: dict, message: str, placement: Placement) -> None:
    with pytest.raises(CupgeomError) as caught:
        on_sheet(Drawing((CHECKS,)), placement, **settings)
    assert str(caught.value) == message


GRADIENTS = {
    "short ramp": (ramp(8, 20), 4),
    "long ramp": (ramp(60), 30),
    "upright ramp": (ramp(40, 90), 25),
    "slanting ramp": (ramp(60, 30), 25),
    "there and back": (ramp(10, 10, spread="reflect"), 20),
    "again and again": (ramp(12, 40, spread="repeat"), 20),
    "small rings": (rings(5), 5),
    "large rings": (rings(25), 25),
    "rings off centre": (rings(20, focus=0.5 + 0.3j), 20),
    "half let through": (ramp(50, stops=(Stop(offset=0, colour=RED), Stop(offset=1, colour=BLUE, opacity=0.1))), 25),
    "hard edge": (ramp(50, stops=(Stop(offset=0.5, colour=RED), Stop(offset=0.5, colour=BLUE))), 25),
}


def design_points(box: Box, dpi: float, placement: Placement) -> NDArray[np.complex128]:
    """Where the middles of the pixels that cover a box of the sheet lie in the design: the map from the apex."""
    side = 25.4 / dpi
    columns, rows = (math.ceil(length / side - 1e-6) for length in (box.width, box.height))
    x, y = box.left + (np.arange(columns) + 0.5) * side, box.top - (np.arange(rows) + 0.5) * side
    wall = placement.wall
    turn, drop = Apex(2 * wall.top_radius, 2 * wall.base_radius, wall.height).rolled(x[None, :] + 1j * y[:, None])
    slope = (wall.top_radius - wall.base_radius) / math.hypot(wall.height, wall.top_radius - wall.base_radius)
    radius = wall.top_radius - slope * placement.drop
    up = placement.drop - drop
    if placement.bend == "even":
        up = radius / slope * np.log((wall.top_radius - slope * drop) / radius)
    turned = (turn - math.radians(placement.turn_deg)) * radius + 1j * up
    return turned * np.exp(-1j * math.radians(placement.rotate_deg))


def colours_at(gradient: Gradient, points: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Red, green, blue and alpha from 0 to 255, as SVG 1.1 (13.2) defines them; circles by the ray from the focus."""
    own = points
    back = inverse(gradient.place)
    own = (
        back.a * points.real
        + back.c * points.imag
        + back.e
        + 1j * (back.b * points.real + back.d * points.imag + back.f)
    )
    if gradient.kind == "linear":
        offset = own.real
    else:  # the ray from the focus through the point meets the circle at s times the point's distance: offset 1/s
        ray, focus = own - gradient.focus, gradient.focus
        a, b, c = np.abs(ray) ** 2, (ray * np.conj(focus)).real, abs(focus) ** 2 - 1
        offset = np.where(a > 0, a / np.maximum(-b + np.sqrt(b * b - a * c), 1e-300), 0)
    if gradient.spread == "repeat":
        offset = offset % 1
    if gradient.spread == "reflect":
        offset = 1 - np.abs(offset % 2 - 1)
    stops = [stop.offset for stop in gradient.stops]
    parts = np.array([(*stop.colour, stop.opacity) for stop in gradient.stops])
    return np.stack([255 * np.interp(offset, stops, parts[:, k]) for k in range(4)], axis=-1)


def pixels_of(picture: Picture) -> NDArray[np.uint8]:
    return np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)


@every_place
@pytest.mark.parametrize("name", GRADIENTS)
def test_gradients_show_the_exact_colours(name: str, placement: Placement) -> None:
    gradient, half = GRADIENTS[name]
    shape = Shape(path=Box(-half, -half / 2, half, half / 2).outline(), role="print", fill=gradient)
    found = on_sheet(Drawing((shape,)), placement, dpi=200)
    box = found.bounds()
    shown = raster(found, box, 200)
    design = design_points(box, 200, placement)
    exact = colours_at(gradient, design)
    inside = (np.abs(design.real) < half - 0.3) & (np.abs(design.imag) < half / 2 - 0.3)
    if name == "hard edge":
        inside &= np.abs(design.real) > 0.3
    if name == "again and again":
        inside &= np.abs((design * np.exp(-1j * math.radians(40))).real % 12 - 6) > 0.3
    off = np.abs(pixels_of(shown)[inside] - exact[inside])
    off[..., :3] *= exact[inside][:, 3:] / 255
    # a step by the bend, up to one and a half in the engine, which paints from tables, and one where it became pixels,
    # in which the rim of a gradient is a little softer
    assert inside.sum() > 1000
    assert off.max() <= 5
    assert off.mean() <= 1


def gradient_stays(gradient: Gradient, half: float, placement: Placement, **settings) -> bool:
    shape = Shape(path=Box(-half, -half / 2, half, half / 2).outline(), role="white", fill=gradient, name="sky")
    (item,) = on_sheet(Drawing((replace(shape, fill_opacity=0.5),)), placement, **settings).items
    if isinstance(item, Shape):
        assert (item.role, item.name, item.fill_opacity) == ("white", "sky", 0.5)
        return True
    (picture,) = item.items
    assert isinstance(picture, Picture)
    assert (picture.role, picture.name, picture.opacity, item.opacity) == ("white", "sky", 0.5, 1)
    return False


def test_small_gradients_stay_gradients_and_large_ones_become_pixels() -> None:
    assert gradient_stays(ramp(8, 20), 4, PLACES["slight"])
    assert gradient_stays(rings(4), 4, PLACES["slight"])
    assert not gradient_stays(ramp(60), 30, LEVEL)
    assert not gradient_stays(rings(25), 25, LEVEL)
    assert gradient_stays(ramp(60, stops=(Stop(offset=0, colour=RED),) * 2), 30, LEVEL)  # one colour all over
    faint = (Stop(offset=0, colour=(0.5, 0.5, 0.5)), Stop(offset=1, colour=(0.51, 0.5, 0.5)))
    assert gradient_stays(ramp(60, stops=faint), 30, LEVEL)  # too little to be seen
    hard = (Stop(offset=0.5, colour=RED), Stop(offset=0.5, colour=BLUE))
    assert not gradient_stays(ramp(10, stops=hard), 20, LEVEL)
    assert gradient_stays(ramp(10, stops=hard), 20, LEVEL, tolerance=5.0)
    assert gradient_stays(ramp(60, 15, spread="reflect"), 30, Placement(wall=CYLINDER, turn_deg=0, drop=40))


HOLE = Box(2.0, 1.0, 6.0, 4.0).outline()


def test_only_what_a_clip_shows_becomes_pixels() -> None:
    for half in (9.0, 40.0):
        path = Box(-half, -half / 2, half, half / 2).outline()
        shape = Shape(path=path, role="print", fill=ramp(4, 15, spread="repeat"))
        (hole,) = on_sheet(Drawing((Clipped(clip=HOLE, items=(shape,)),)), LEVEL).items
        (picture,) = (leaf for leaf in Drawing(hole.items).leaves() if isinstance(leaf, Picture))
        assert picture.columns * picture.rows < 100 * 80
        image = LEVEL.to_sheet(HOLE.points @ np.array([1, 1j]))
        box = picture.bounds()
        assert box.left < image.real.min() and box.right > image.real.max()
        assert box.bottom < image.imag.min() and box.top > image.imag.max()


@pytest.mark.parametrize(
    "turn", [Affine(), Affine.rotation(30), Affine.scale(-1, 1), Affine(0.9, 0.1, 0.6, -0.8, 1, 2)]
)
def test_a_clipped_picture_shows_the_same_as_a_whole_one(turn: Affine) -> None:
    noise = np.random.default_rng(2).integers(0, 256, (90, 160, 4), dtype=np.uint8)
    place = turn @ Affine(40.0, 0.0, 0.0, 30.0, -20.0, -15.0)
    whole = Picture(pixels=noise.tobytes(), columns=160, rows=90, place=place)
    (alone,) = on_sheet(Drawing((whole,)), LEVEL).items
    (hole,) = on_sheet(Drawing((Clipped(clip=HOLE, items=(whole,)),)), LEVEL).items
    (part,) = hole.items
    assert part.columns * part.rows < alone.columns * alone.rows / 10
    # pixels lie elsewhere, so both are looked at by the engine as smooth pictures, finely
    box = hole.clip.bounds()
    one, other = (raster(Drawing((replace(hole, items=(item,)),)), box, 600) for item in (alone, part))
    assert np.abs(pixels_of(one).astype(float) - pixels_of(other)).mean() <= 12
    assert np.corrcoef(pixels_of(one).ravel(), pixels_of(other).ravel())[0, 1] > 0.95


def test_a_picture_hidden_by_its_clip_stays_in_its_place() -> None:
    far = CHECKS.transformed(Affine.move(-20 + 0j))
    (hole,) = on_sheet(Drawing((Clipped(clip=HOLE, items=(far,)),)), LEVEL).items
    (picture,) = hole.items
    assert picture.bounds().right < hole.clip.bounds().left
    (nowhere,) = on_sheet(Drawing((Clipped(clip=Path(), items=(far,)),)), LEVEL).items
    assert len(nowhere.items) == 1


def test_a_gradient_with_a_line_round_it_keeps_the_line_on_top() -> None:
    shape = Shape(path=SQUARE, role="print", fill=ramp(10), even_odd=True, stroke=Stroke(width=0.5))
    wide = replace(shape, path=Box(-30.0, -20.0, 30.0, 20.0).outline(), fill=ramp(60))
    area, line = on_sheet(Drawing((wide,)), LEVEL).items
    assert isinstance(area, Clipped) and area.even_odd
    assert line == replace(wide, path=area.clip, fill=None)


def test_pixels_of_a_gradient_cover_its_outline() -> None:
    path = Box(-30.0, -20.0, 30.0, 20.0).outline()
    (area,) = on_sheet(Drawing((Shape(path=path, role="print", fill=ramp(60)),)), LEVEL, dpi=100).items
    (picture,) = area.items
    design = LEVEL.from_sheet(area.clip.points @ np.array([1, 1j]))
    pixel = 25.4 / 100
    sheet = LEVEL.to_sheet(design)
    column = ((sheet.real - picture.place.e) / pixel).astype(int)
    row = ((picture.place.f + picture.rows * pixel - sheet.imag) / pixel).astype(int)
    assert (pixels_of(picture)[row, column][:, 3] == 255).all()


def test_many_outlines_each_come_to_their_place() -> None:
    places = [complex(x, y) for x in range(-30, 30) for y in range(-20, 20)]
    design = Drawing(tuple(Shape(path=circle(place, 0.4), role="print", fill=RED) for place in places))
    found = on_sheet(design, LEVEL)
    exact = LEVEL.to_sheet(np.array(places) + 0.4)
    assert np.abs(np.array([item.path.points[0] @ (1, 1j) for item in found.items]) - exact).max() <= 1e-12
