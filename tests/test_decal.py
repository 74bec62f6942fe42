"""Decals on cups: where their edges come to lie on the wall, across rings and the seam, and what a blade gets."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point

from cupgeom import Cup, CupgeomError
from cupgeom.cup import Ring
from cupgeom.decor.decal import Decal
from cupgeom.decor.design import Design, closed_round
from cupgeom.decor.medium import EXAMPLES, Medium, example
from cupgeom.decor.place import Placement, moved_round
from cupgeom.decor.printout import printout
from cupgeom.decor.silhouette import choked, contour, fine_gaps, fine_strokes, silhouette
from cupgeom.drawing import Affine, Box, Clipped, Drawing, Path, Picture, Shape, Text, circle, polyline
from cupgeom.flatten import to_wall
from cupgeom.pages import FIT
from tests.strategies import frusta

TUMBLER = Cup.frustum(88, 70, 170, name="tumbler")
SHOULDERED = Cup(rings=(Ring(diameter=90, height=150), Ring(diameter=84, height=90), Ring(diameter=60, height=0)))
ONTO_CYLINDER = Cup(rings=(Ring(diameter=90, height=150), Ring(diameter=70, height=75), Ring(diameter=70, height=0)))
PLAIN = Medium(name="plain", process="inkjet", cut_margin=0.0)


def block(width: float = 60.0, height: float = 30.0, **more: object) -> Design:
    """A filled rectangle."""
    box = Box(-width / 2, -height / 2, width / 2, height / 2)
    shape = Shape(path=box.outline(), role="print", fill=(0.2, 0.3, 0.6))
    return Design(name="block", drawing=Drawing((shape,)), width=width, height=height, **more)


def on_wall(decal: Decal, piece: int, path: Path) -> np.ndarray:
    """Turns [rad] and drops of the corners of a path on the sheet of a piece, drops counted on the cup."""
    part = decal.pieces[piece]
    points = np.array([segment.start for segment in path.segments()])
    turn, drop = to_wall(part.placement.wall, points.real, points.imag, np)
    return np.stack([turn, drop + decal.cup.wall_tops[part.wall_index]], axis=1)


@given(frusta(), st.floats(min_value=-170, max_value=170), st.sampled_from(["top", "middle", "foot"]))
def test_a_level_decal_is_as_wide_as_asked_where_it_is_said_to_be(cup: Cup, turn_deg: float, true_at: str) -> None:
    decal = Decal(cup=cup, design=block(12, 6), drop=cup.slant / 2, turn_deg=turn_deg, true_at=true_at)
    found = on_wall(decal, 0, decal.pieces[0].box)
    drop = {"top": cup.slant / 2 - 3, "middle": cup.slant / 2, "foot": cup.slant / 2 + 3}[true_at]
    assert (found[:, 0].max() - found[:, 0].min()) * cup.radius_at(drop) == pytest.approx(12, abs=1e-9)
    assert (found[:, 1].min(), found[:, 1].max()) == pytest.approx((cup.slant / 2 - 3, cup.slant / 2 + 3), abs=1e-9)
    assert (found[:, 0].max() + found[:, 0].min()) / 2 == pytest.approx(math.radians(turn_deg), abs=1e-11)


@pytest.mark.parametrize("cup", [SHOULDERED, ONTO_CYLINDER], ids=["two tapers", "onto a cylinder"])
@pytest.mark.parametrize("bend", ["level", "even"])
@pytest.mark.parametrize("above", [True, False], ids=["middle above the ring", "middle below the ring"])
def test_a_decal_across_a_ring_is_cut_there_and_goes_on_without_a_step(cup: Cup, bend: str, above: bool) -> None:
    ring = cup.wall_tops[1]
    decal = Decal(cup=cup, design=block(), drop=ring + (-4 if above else 4), turn_deg=20, bend=bend)
    upper, lower = (on_wall(decal, index, decal.pieces[index].box) for index in (0, 1))
    assert [piece.wall_index for piece in decal.pieces] == [0, 1]
    assert upper[:, 1].max() == pytest.approx(ring, abs=1e-6)
    assert lower[:, 1].min() == pytest.approx(ring, abs=1e-6)
    ends = [part[np.abs(part[:, 1] - ring) < 1e-6, 0] for part in (upper, lower)]
    assert (ends[0].min(), ends[0].max()) == pytest.approx((ends[1].min(), ends[1].max()), abs=1e-9)
    turned = 60 / cup.radius_at(decal.drop)
    assert ends[0].max() - ends[0].min() == pytest.approx(turned, abs=1e-9)
    span = decal.span
    assert (upper[:, 1].min(), lower[:, 1].max()) == pytest.approx((span.top, span.bottom), abs=1e-6)
    if bend == "level":
        assert span.length == pytest.approx(30, abs=1e-9)


def test_even_keeps_its_one_scale_on_both_sides_of_a_ring() -> None:
    """Conformal on each wall: a step along and a step up grow alike, by ρ/ρ_true."""
    decal = Decal(cup=SHOULDERED, design=block(), drop=SHOULDERED.wall_tops[1] - 4, bend="even")
    for piece in decal.pieces:
        at, step = np.array([8.0 - 9j if piece.wall_index else 8 + 9j]), 1e-5
        along, up = (
            (piece.placement.to_sheet(at + step * way) - piece.placement.to_sheet(at - step * way))[0] / (2 * step)
            for way in (1, 1j)
        )
        drop = to_wall(
            piece.placement.wall, *(getattr(piece.placement.to_sheet(at)[0], axis) for axis in ("real", "imag"))
        )[1]
        scale = piece.placement.wall.radius_at(drop) / SHOULDERED.radius_at(decal.drop)
        assert abs(along) == pytest.approx(scale, rel=1e-7)
        assert up / along == pytest.approx(1j, rel=1e-7)


def test_flat_refuses_to_lie_across_a_ring() -> None:
    with pytest.raises(CupgeomError) as caught:
        Decal(cup=SHOULDERED, design=block(), drop=SHOULDERED.wall_tops[1], bend="flat")
    assert str(caught.value) == "bend: flat cannot lie across a ring; use level, or move the decal onto one wall"


@given(frusta(), st.floats(min_value=-540, max_value=540), st.floats(min_value=0, max_value=20))
def test_moving_round_is_what_the_wall_does(cup: Cup, turn_deg: float, drop: float) -> None:
    wall = cup.walls[0]
    here = Placement(wall=wall, turn_deg=10, drop=drop)
    there = Placement(wall=wall, turn_deg=10 + turn_deg, drop=drop)
    points = np.array([0, 5 + 5j, -7 + 2j])
    moved = [moved_round(wall, math.radians(turn_deg))(complex(point)) for point in here.to_sheet(points)]
    assert np.abs(np.array(moved) - there.to_sheet(points)).max() <= 1e-10


def test_copies_stand_evenly_round_and_are_moved_exactly() -> None:
    decal = Decal(cup=TUMBLER, design=block(20, 10), drop=80, turn_deg=30, repeat=5)
    assert [copy.turn_deg for copy in decal.copies()] == pytest.approx([-114, -42, 30, 102, 174])
    for copy in decal.copies():
        alone = replace(decal, turn_deg=copy.turn_deg, repeat=1).pieces[0]
        assert np.abs(copy.pieces[0].box.points - alone.box.points).max() <= 1e-9
        assert copy.pieces[0].drawing.bounds() == pytest.approx(alone.drawing.bounds(), abs=1e-9)


@given(
    st.floats(min_value=3, max_value=200), st.floats(min_value=0, max_value=5), st.floats(min_value=201, max_value=300)
)
def test_a_tiled_pattern_closes_at_the_seam(width: float, gap: float, around: float) -> None:
    design, count = closed_round(block(width), around, gap=gap)
    step = around / count
    assert count >= 1
    assert design.width + gap * design.width / width == pytest.approx(step, rel=1e-12)
    assert design.height / design.width == pytest.approx(30 / width, rel=1e-12)
    # no other number of repeats is nearer to the size that was asked for
    assert count == 1 or abs(around - count * (width + gap)) <= (width + gap) / 2 * (1 + 1e-9)


def test_repeats_of_a_tiled_pattern_touch_all_round() -> None:
    true = TUMBLER.radius_at(80)
    design, count = closed_round(block(23, 10), math.tau * true)
    decal = Decal(cup=TUMBLER, design=design, drop=80, repeat=count, medium=PLAIN)
    turns = [copy.turns_rad for copy in decal.copies()]
    for (_, right), (left, _) in pairwise(turns):
        assert right == pytest.approx(left, abs=1e-12)
    assert turns[-1][1] - turns[0][0] == pytest.approx(math.tau, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"drop": 5.0}, "drop: 5 mm puts block above the top edge (it reaches from drop -10 to 20 mm of 170.2 mm);"
         " move it or make it smaller"),
        ({"drop": 160.0}, "drop: 160 mm puts block below the base edge"
         " (it reaches from drop 145 to 175 mm of 170.2 mm); move it or make it smaller"),
        ({"drop": 171.0}, "drop: must be on the wall (drop 0 to 170.24 mm), got 171 mm"),
        ({"drop": -1.0}, "drop: must be at least 0 mm, got -1 mm"),
        ({"drop": math.nan}, "drop: must be a finite number of mm, got nan"),
        ({"turn_deg": math.inf}, "turn_deg: must be a finite number of degrees, got inf"),
        ({"rotate_deg": math.nan}, "rotate_deg: must be a finite number of degrees, got nan"),
        ({"repeat": 0}, "repeat: must be a whole number from 1, got 0"),
        ({"repeat": 2.0}, "repeat: must be a whole number from 1, got 2.0"),
        ({"repeat": 5}, "width: 300 mm is more than the way round (248.23 mm); make it narrower"),
        ({"bend": "round"}, "bend: must be one of level, even, flat, got 'round'"),
        ({"true_at": "rim"}, "true_at: must be one of top, middle, foot, got 'rim'"),
        ({"dpi": 0.0}, "dpi: must be greater than 0 dpi, got 0 dpi"),
    ],
)  # fmt: skip
def test_what_cannot_lie_on_the_cup_is_said_in_one_line(change: dict, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        Decal(**{"cup": TUMBLER, "design": block(), "drop": 85.0, **change})
    assert str(caught.value) == message


def test_a_cut_line_runs_so_far_outside_the_print_everywhere_and_has_no_holes() -> None:
    ring = Shape(path=circle(0j, 12) + circle(0j, 6).reversed(), role="print", fill=(0, 0, 0))
    decal = Decal(cup=TUMBLER, design=Design(name="ring", drawing=Drawing((ring,)), width=24, height=24), drop=80)
    piece = decal.pieces[0]
    covered, cut = decal.piece_silhouette(piece), decal.cut(piece)
    assert len(list(cut.outlines())) == 1
    distances = [covered.distance(Point(p.real, p.imag)) for p in cut.flattened(0.01)[0]]
    assert (min(distances), max(distances)) == pytest.approx((1, 1), abs=0.01)


def test_coloured_film_is_cut_along_the_art_itself() -> None:
    ring = circle(0j, 12) + circle(0j, 6).reversed()
    design = Design(
        name="ring", drawing=Drawing((Shape(path=ring, role="print", fill=(0, 0, 0)),)), width=24, height=24
    )
    decal = Decal(cup=TUMBLER, design=design, drop=80, medium=example("cut vinyl"))
    piece = decal.pieces[0]
    assert decal.cut(piece) == piece.drawing.items[0].path
    assert decal.finished(piece).roles() == ("cut",)


def test_a_white_underlay_stays_inside_the_print_by_a_fifth_of_a_millimetre() -> None:
    decal = Decal(cup=TUMBLER, design=block(), drop=80, medium=example("rub-on transfer"))
    finished = decal.finished(decal.pieces[0])
    assert finished.roles() == ("white", "print", "cut")
    white = silhouette(finished.only(("white",)))
    print_ = silhouette(finished.only(("print",)))
    assert print_.covers(white)
    assert white.boundary.distance(print_.boundary) == pytest.approx(0.2, abs=0.005)
    assert white.boundary.hausdorff_distance(print_.boundary) <= 0.2 * math.sqrt(2) + 0.01


def test_a_ready_made_piece_is_neither_printed_nor_cut() -> None:
    decal = Decal(cup=TUMBLER, design=block(), drop=80, medium=example("ready-made transfer"))
    assert not decal.finished(decal.pieces[0])


def test_a_mirrored_medium_reflects_print_white_and_cut_together_and_says_so() -> None:
    corner = Shape(path=polyline([0j, 20 + 0j, 0 + 10j], closed=True), role="print", fill=(0, 0, 0))
    design = Design(name="corner", drawing=Drawing((corner,)), width=40, height=20)
    plain = Medium(name="film", process="inkjet", white=True, cut_margin=2)
    pages = [
        printout(Decal(cup=TUMBLER, design=design, drop=80, medium=medium), FIT).pages[0]
        for medium in (plain, replace(plain, mirrored=True))
    ]
    for role in ("print", "white", "cut"):
        straight, mirrored = (
            silhouette(page.drawing.only((role,)))
            if role != "cut"
            else page.drawing.only((role,)).items[0].path.to_shapely(0.01)
            for page in pages
        )
        (west, _, east, _), (left, _, right, _) = straight.bounds, mirrored.bounds
        assert right - left == pytest.approx(east - west, abs=1e-6)
        assert straight.centroid.x - west == pytest.approx(right - mirrored.centroid.x, abs=0.01)
    said = [[leaf for leaf in page.drawing.leaves() if isinstance(leaf, Text)] for page in pages]
    words = [[text for text in texts if text.text == "MIRRORED"] for texts in said]
    assert [len(found) for found in words] == [0, 1]
    assert words[1][0].bounds().bottom >= pages[1].trim.top
    assert all(abs(text.angle_deg) in (0, 90) for text in said[1])


def test_strokes_and_gaps_finer_than_a_blade_bears_are_found_where_they_are() -> None:
    bars = Path()
    for x, width in ((-10, 0.5), (0, 1.2), (10, 0.9)):
        bars += Box(x - width / 2, -5, x + width / 2, 5).outline()
    shape = silhouette(Drawing((Shape(path=bars, role="print", fill=(0, 0, 0)),)))
    assert [round(fine.at.real) for fine in fine_strokes(shape, 1.0)] in ([-10, 10], [10, -10])
    near = Box(0, 0, 5, 5).outline() + Box(5.3, 0, 9, 5).outline()
    gaps = fine_gaps(silhouette(Drawing((Shape(path=near, role="print", fill=(0, 0, 0)),))), 0.4)
    assert [gap.at.real for gap in gaps] == pytest.approx([5.15], abs=0.15)
    assert fine_gaps(silhouette(Drawing((Shape(path=near, role="print", fill=(0, 0, 0)),))), 0.25) == []


def test_sharp_corners_are_no_fine_strokes() -> None:
    triangle = polyline([0j, 20 + 0j, 10 + 12j], closed=True)
    assert fine_strokes(silhouette(Drawing((Shape(path=triangle, role="print", fill=(0, 0, 0)),))), 0.5) == []


def test_the_silhouette_of_a_picture_is_what_is_opaque_in_it() -> None:
    pixels = np.zeros((40, 60, 4), np.uint8)
    pixels[10:30, 20:50] = (10, 20, 30, 255)
    picture = Picture(pixels=pixels.tobytes(), columns=60, rows=40, place=Affine.scale(60, 40))
    assert silhouette(Drawing((picture,))).bounds == (20, 10, 50, 30)
    half = Clipped(clip=Box(0, 0, 35, 40).outline(), items=(picture,))
    assert silhouette(Drawing((half,))).area == pytest.approx(15 * 20)


def test_outlines_that_run_the_same_way_add_up_in_a_silhouette() -> None:
    squares = Box(0, 0, 10, 10).outline() + Box(2, 2, 8, 8).outline()
    for even_odd, area in ((False, 100), (True, 64)):
        shape = Shape(path=squares, role="print", fill=(0, 0, 0), even_odd=even_odd)
        assert silhouette(Drawing((shape,))).area == pytest.approx(area, abs=0.01)


@settings(max_examples=20)
@given(st.floats(min_value=0.2, max_value=3), st.floats(min_value=0.05, max_value=0.9))
def test_a_contour_holds_the_shape_and_an_underlay_lies_in_it(margin: float, choke: float) -> None:
    star = polyline(
        [(10 if i % 2 else 5) * complex(math.cos(i), math.sin(i)) for i in np.arange(10) * math.pi / 5], closed=True
    )
    shape = silhouette(Drawing((Shape(path=star, role="print", fill=(0, 0, 0)),)))
    outside, inside = contour(shape, margin).to_shapely(0.005), choked(shape, choke).to_shapely(0.005)
    assert outside.buffer(0.01).covers(shape.buffer(margin - 0.01))
    assert shape.covers(inside.buffer(choke - 0.01))


@pytest.mark.parametrize("medium", EXAMPLES, ids=lambda medium: medium.name)
def test_examples_of_media_say_that_they_are_invented(medium: Medium) -> None:
    assert medium.invented
    assert example(medium.name) == medium


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"process": "dye"}, "process: must be one of inkjet, laser, cut, ready-made, got 'dye'"),
        ({"seam": "sewn"}, "seam: must be one of blank, continued, butt, got 'sewn'"),
        ({"thickness": -0.1}, "thickness: must be at least 0 mm, got -0.1 mm"),
        ({"cut_margin": math.nan}, "cut_margin: must be a finite number of mm, got nan"),
        ({"largest": (0.0, 10.0)}, "largest: must be greater than 0 mm, got 0 mm"),
        ({"spares": -1}, "spares: must be a whole number from 0, got -1"),
        ({"spares": 1.5}, "spares: must be a whole number from 0, got 1.5"),
    ],
)
def test_a_medium_checks_itself(change: dict, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        Medium(**{"name": "film", "process": "inkjet", **change})
    assert str(caught.value) == message
