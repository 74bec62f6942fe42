"""The picture of a finished cup: everything where a pinhole would show it, in the colours that the media give."""

from __future__ import annotations

import base64
import functools
import hashlib
import io
import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from cupgeom import Cup, CupgeomError, Foot, Handle, Ring
from cupgeom.decor.decal import Decal
from cupgeom.decor.design import Design
from cupgeom.decor.medium import Medium
from cupgeom.drawing import Box, Colour, Drawing, Role, Shape, Text, circle
from cupgeom.proof.camera import Camera, camera
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.handle import tube
from cupgeom.proof.layer import Laid
from cupgeom.proof.layer import laid as laid_decal
from cupgeom.proof.mark import DIGITS, canonical, proof_mark, same_mark, spelled
from cupgeom.proof.picture import picture
from cupgeom.proof.sheet import ProofSheet, sheet
from cupgeom.proof.strip import strip
from cupgeom.proof.texture import Texture, encoded, textured
from cupgeom.writers import png

from .apex import Apex

Pixels = NDArray[np.uint8]
GREEN: Colour = (0.0, 0.55, 0.1)
WHITE: Colour = (1.0, 1.0, 1.0)
EYE = 500.0  # mm from the axis: the house's distance at which a cup is read
TUMBLER = Cup.frustum(88, 70, 170, bare_lip=6)
UPSIDE_DOWN = Cup.frustum(64, 90, 110)
SHOULDERED = Cup(rings=(Ring(diameter=76, height=140), Ring(diameter=76, height=60), Ring(diameter=60, height=0)))
MUG = Cup.frustum(
    84, 84, 95, bare_lip=4, handle=Handle(feet=(Foot(width=14, top=14, bottom=26), Foot(width=14, top=66, bottom=78)))
)


def apex(cup: Cup, index: int = 0) -> Apex:
    above, below = cup.rings[index], cup.rings[index + 1]
    return Apex(above.diameter, below.diameter, above.height - below.height)


def disc(cup: Cup, turn_deg: float, drop: float, radius: float, colour: Colour = GREEN, *, wall: int = 0) -> Shape:
    """A disc on the sheet of a wall, its drop counted from that wall's top."""
    centre = complex(apex(cup, wall).flat(math.radians(turn_deg), drop))
    return Shape(path=circle(centre, radius), role="print", fill=colour)


def laid(shapes: Iterable[Shape], *, wall: int = 0, clear: bool = False) -> Laid:
    return Laid(wall_index=wall, drawing=Drawing(tuple(shapes)), clear=clear)


def pixels(found: Any) -> Pixels:
    return np.frombuffer(found.pixels, np.uint8).reshape(found.rows, found.columns, 4)


# Where things are seen ------------------------------------------------------------------------------------------------


def pinhole(eye: Camera, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Columns and rows of points (x right, y up, z to the front), by a camera matrix K [R | −R e].

    Written for this test from the textbook form (R. Hartley & A. Zisserman, *Multiple View Geometry*, 2nd ed., 6.1,
    from memory): camera axes right, down, ahead; the eye at 500 mm from the axis, looking level at it.
    """
    turn = math.radians(eye.turn_deg)
    at = np.array([EYE * math.sin(turn), eye.eye_height, EYE * math.cos(turn)])
    ahead = np.array([-math.sin(turn), 0.0, -math.cos(turn)])
    down = np.array([0.0, -1.0, 0.0])
    rotation = np.stack([np.cross(down, ahead), down, ahead])
    lens = np.array([[eye.focal, 0, eye.centre[0]], [0, eye.focal, eye.centre[1]], [0, 0, 1]])
    matrix = lens @ np.hstack([rotation, -(rotation @ at)[:, None]])
    seen = np.hstack([points, np.ones((len(points), 1))]) @ matrix.T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def on_cup(cup: Cup, wall: int, turn_deg: Any, drop: Any) -> NDArray[np.float64]:
    """Points of a wall in space, by similar triangles."""
    above, below = cup.rings[wall], cup.rings[wall + 1]
    turn, share = np.radians(np.asarray(turn_deg, float)), np.asarray(drop, float) / apex(cup, wall).slant
    radius = (above.diameter + (below.diameter - above.diameter) * share) / 2
    height = above.height + (below.height - above.height) * share - cup.rings[-1].height
    return np.stack(np.broadcast_arrays(radius * np.sin(turn), height, radius * np.cos(turn)), axis=1)


def dotted(cup: Cup) -> tuple[FinishedCup, NDArray[np.float64]]:
    """A white cup with 200 green dots, and their walls, turns and drops; two columns lie across the back."""
    rows = 10 // len(cup.walls)
    places = [
        (index, turn, 12 + (wall.slant - 24) * (row + 0.5) / rows)
        for index, wall in enumerate(cup.walls)
        for row in range(rows)
        for turn in range(-180, 180, 18)
    ]
    layers = tuple(
        laid((disc(cup, turn, drop, 1.5, wall=index) for index, turn, drop in places if index == wall), wall=wall)
        for wall in range(len(cup.walls))
    )
    return FinishedCup(cup=cup, base=WHITE, layers=layers), np.array(places)


def green_spots(found: Any) -> NDArray[np.float64]:
    """Centres of the green spots of a picture, columns and rows counted from its corner."""
    colours = pixels(found).astype(float)
    weight = np.clip(colours[:, :, 0].max() - colours[:, :, 0], 0, None)
    spots, count = ndimage.label(colours[:, :, 1] - colours[:, :, 0] > 30)
    wide = ndimage.grey_dilation(spots, size=3) * (colours[:, :, 1] - colours[:, :, 0] > 3)
    centres = ndimage.center_of_mass(np.where(wide > 0, weight, 0), wide, range(1, count + 1))
    return np.array([(column + 0.5, row + 0.5) for row, column in centres])


@pytest.mark.parametrize("cup", [TUMBLER, UPSIDE_DOWN, SHOULDERED], ids=["tumbler", "upside down", "two walls"])
def test_200_points_of_the_wall_are_seen_where_a_pinhole_sees_them(cup: Cup) -> None:
    finished, places = dotted(cup)
    assert len(places) == 200
    textures = finished.textures(120)
    seen, worst = set(), 0.0
    for turn in (0.0, -90.0, 90.0, 180.0):
        eye = camera(finished, turn, 420, 600)
        spots = green_spots(picture(finished, textures, eye))
        aside = np.abs((places[:, 1] - turn + 180) % 360 - 180)
        for index in np.nonzero(aside <= 58)[0]:
            wall, at, drop = places[index]
            (place,) = pinhole(eye, on_cup(cup, int(wall), [at], [drop]))
            worst = max(worst, float(np.hypot(*(spots - place).T).min()))
            seen.add(index)
    assert len(seen) == 200
    assert worst < 1.0


def test_the_comparison_with_the_pinhole_can_fail() -> None:
    finished, places = dotted(TUMBLER)
    eye = camera(finished, 0.0, 420, 600)
    spots = green_spots(picture(finished, finished.textures(120), eye))
    front = places[np.abs(places[:, 1]) <= 58]
    moved = pinhole(eye, on_cup(TUMBLER, 0, front[:, 1] + 2.5, front[:, 2]))  # 2.5° are 1.9 mm at the rim
    assert min(float(np.hypot(*(spots - place).T).min()) for place in moved) > 1.0


def test_the_projection_of_the_camera_is_the_pinhole() -> None:
    eye = camera(FinishedCup(cup=MUG), 37.0, 300, 200)
    rng = np.random.default_rng(5)
    points = rng.uniform((-40, 0, -40), (40, 95, 40), (50, 3))
    assert eye.distance == EYE
    assert eye.project(points) == pytest.approx(pinhole(eye, points), abs=1e-9)


def test_the_whole_cup_is_in_each_view() -> None:
    for cup in (TUMBLER, MUG, Cup.frustum(200, 40, 15), Cup.frustum(20, 20, 300), Cup.frustum(2000, 1500, 2500)):
        finished = FinishedCup(cup=cup, base=(0.2, 0.3, 0.8))
        for turn in (0.0, 90.0):
            alpha = pixels(picture(finished, finished.textures(3), camera(finished, turn, 60, 80)))[:, :, 3]
            edge = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
            assert alpha.max() == 255
            assert edge.max() < 40  # at most the end of the shadow


def test_a_steel_band_lies_where_the_lip_is_bare() -> None:
    finished = FinishedCup(cup=TUMBLER, base=(0.1, 0.2, 0.8))
    eye = camera(finished, 0.0, 420, 600)
    colours = pixels(picture(finished, finished.textures(60), eye)).astype(int)
    for drop, blue in ((2.0, False), (5.0, False), (7.5, True), (90.0, True), (165.0, True)):
        places = pinhole(eye, on_cup(TUMBLER, 0, [-60.0, 10.0, 45.0], drop))
        for column, row in places.astype(int):
            red, _, strong, alpha = colours[row, column]
            assert alpha == 255
            assert (strong - red > 60) == blue
            assert blue or abs(strong - red) < 20


def test_the_inside_is_seen_through_the_opening_and_takes_no_colour() -> None:
    finished = FinishedCup(cup=TUMBLER, base=(0.8, 0.1, 0.1))
    eye = camera(finished, 0.0, 420, 600)
    colours = pixels(picture(finished, finished.textures(60), eye)).astype(int)
    back = on_cup(TUMBLER, 0, [180.0], [8.0]) * [0.93, 1, 0.93]
    (place,) = pinhole(eye, back)
    red, green, blue, alpha = colours[int(place[1]), int(place[0])]
    assert alpha == 255
    assert abs(red - green) < 20 and abs(red - blue) < 20


def test_a_handle_is_in_front_of_what_lies_behind_it() -> None:
    finished = FinishedCup(cup=MUG, base=(0.9, 0.5, 0.1))
    found = tube(MUG)
    assert found is not None
    outermost = found.centres[np.argmin(found.centres[:, 2])]
    assert -outermost[2] > 42 + 15
    for turn, on_wall in ((180.0, True), (90.0, False), (-90.0, False), (0.0, True)):
        eye = camera(finished, turn, 400, 300)
        (place,) = pinhole(eye, outermost[None, :])
        red, _, blue, alpha = pixels(picture(finished, finished.textures(40), eye))[
            int(place[1]), int(place[0])
        ].astype(int)
        assert alpha == 255
        assert (red - blue > 80) == (turn == 0.0)  # the cup hides its handle from the front only
        assert on_wall or abs(place[0] - 200) > 42 * eye.focal / EYE


def test_a_handle_meets_the_wall_at_its_feet() -> None:
    for cup in (MUG, replace(MUG, handle=Handle(feet=(Foot(width=10, top=20, bottom=80),)))):
        found = tube(cup)
        assert found is not None and cup.handle is not None
        heights = cup.height - np.array([found.centres[0, 1], found.centres[-1, 1]])
        first, last = cup.handle.feet[0], cup.handle.feet[-1]
        assert first.top <= heights[0] <= first.bottom
        assert last.top <= heights[1] <= last.bottom
        assert 2 * found.half_width <= first.width
        assert (np.hypot(found.centres[[0, -1], 0], found.centres[[0, -1], 2]) < 42).all()
    assert tube(TUMBLER) is None


def test_what_is_plain_looks_the_same_from_everywhere() -> None:
    finished = FinishedCup(cup=TUMBLER, base=(0.3, 0.5, 0.4))
    textures = finished.textures(40)
    views = [pixels(picture(finished, textures, camera(finished, turn, 100, 140))) for turn in (0.0, 77.0, 180.0)]
    for view in views[1:]:
        assert np.abs(view.astype(int) - views[0]).max() <= 1


# What a wall shows ----------------------------------------------------------------------------------------------------


@functools.lru_cache(maxsize=1)
def textures_of(finished: FinishedCup) -> tuple[Texture, ...]:
    return finished.textures(70)


def colour_at(finished: FinishedCup, turn_deg: float, drop: float, wall: int = 0) -> tuple[int, ...]:
    light = textures_of(finished)[wall].light_at(np.array([math.radians(turn_deg)]), np.array([drop]))
    return tuple(int(part) for part in encoded(light)[0])


def on_base(base: Colour, *layers: tuple[Role, Colour, bool]) -> tuple[int, ...]:
    """The colour in the middle of discs laid over each other at the front."""
    shapes = [
        laid([replace(disc(TUMBLER, 0, 80, 10, colour), role=role)], clear=clear) for role, colour, clear in layers
    ]
    return colour_at(FinishedCup(cup=TUMBLER, base=base, layers=tuple(shapes)), 0, 80)


def test_clear_media_multiply_and_opaque_ones_cover() -> None:
    base, ink, other = (1.0, 0.8, 0.4), (0.6, 0.2, 1.0), (0.2, 1.0, 0.6)
    product = tuple(round(255 * a * b) for a, b in zip(base, ink, strict=True))
    assert on_base(base, ("print", ink, True)) == pytest.approx(product, abs=1)
    assert on_base(base, ("print", ink, False)) == pytest.approx([153, 51, 255], abs=1)
    assert on_base(base, ("white", WHITE, False)) == (255, 255, 255)
    # white under clear print: the print on white
    assert on_base(base, ("white", WHITE, True), ("print", ink, True)) == pytest.approx([153, 51, 255], abs=1)
    # order: what is laid later lies above
    twice = tuple(round(255 * a * b) for a, b in zip(ink, other, strict=True))
    assert on_base(base, ("print", ink, False), ("print", other, True)) == pytest.approx(twice, abs=1)
    assert on_base(base, ("print", other, True), ("print", ink, False)) == pytest.approx([153, 51, 255], abs=1)
    # other roles are not on the cup
    assert on_base(base, ("note", ink, False), ("cut", ink, False)) == (255, 204, 102)


def test_a_white_underlay_in_the_same_film_lies_under_its_print() -> None:
    ink = (0.6, 0.2, 1.0)
    shapes = [disc(TUMBLER, 0, 80, 10, ink), replace(disc(TUMBLER, 0, 80, 10, WHITE), role="white")]
    finished = FinishedCup(cup=TUMBLER, base=(0.1, 0.1, 0.1), layers=(laid(shapes, clear=True),))
    assert colour_at(finished, 0, 80) == pytest.approx([153, 51, 255], abs=1)


@pytest.mark.parametrize("cup", [TUMBLER, UPSIDE_DOWN, MUG, Cup.frustum(120, 30, 40)])
@pytest.mark.parametrize("turn_deg", [180.0, -180.0, 178.0, -176.0])
def test_what_crosses_the_back_is_whole(cup: Cup, turn_deg: float) -> None:
    drop = apex(cup).slant / 2
    radius = float(apex(cup).radius(drop))
    finished = FinishedCup(cup=cup, base=WHITE, layers=(laid([disc(cup, turn_deg, drop, 8)]),))
    for aside in (-7.0, -3.0, 0.0, 3.0, 7.0):
        turn = turn_deg + math.degrees(aside / radius)
        at = (turn + 180) % 360 - 180
        assert colour_at(finished, at, drop) == pytest.approx([0, 140, 26], abs=2)
    for aside in (-10.0, 10.0):
        at = (turn_deg + math.degrees(aside / radius) + 180) % 360 - 180
        assert colour_at(finished, at, drop) == (255, 255, 255)


@settings(max_examples=12)
@given(
    turn_deg=st.floats(-190, 190),
    share=st.floats(0.3, 0.7),
    base=st.sampled_from([10.0, 30.0, 80.0, 118.0, 120.0, 150.0]),
)
def test_a_drawing_covers_its_own_area_of_the_wall_and_no_more(turn_deg: float, share: float, base: float) -> None:
    cup = Cup.frustum(120, base, 60)
    wall = apex(cup)
    finished = FinishedCup(cup=cup, base=WHITE, layers=(laid([disc(cup, turn_deg, share * wall.slant, 9)]),))
    turns = (np.arange(720) + 0.5) * math.tau / 720 - math.pi
    drops = (np.arange(200) + 0.5) * wall.slant / 200
    texture = textured(cup.walls[0], WHITE, finished.layers, 60)
    turn, drop = np.meshgrid(turns, drops)
    light = texture.light_at(turn.ravel(), drop.ravel())[:, 0].reshape(turn.shape)
    dark = (1 - light) * wall.radius(drop) * (math.tau / 720) * (wall.slant / 200)
    covered = float(dark.sum())
    assert covered == pytest.approx(math.pi * 81, rel=0.05)  # a disc of radius 9, kept by flattening


@pytest.mark.parametrize("cup", [TUMBLER, MUG, UPSIDE_DOWN], ids=["tumbler", "mug", "upside down"])
@pytest.mark.parametrize("turn_deg", [-178.0, 30.0, 150.0, 179.0])
def test_what_was_laid_before_the_last_coats_keeps_its_turn_and_share_of_the_drop(cup: Cup, turn_deg: float) -> None:
    coated = cup.grown(1.5)
    drop = 0.4 * cup.slant
    below = laid([disc(cup, turn_deg, drop, 6, (0.0, 0.0, 1.0))])
    early = replace(laid([disc(cup, turn_deg, drop, 4)]), wall=cup.walls[0])
    late = laid([disc(coated, turn_deg, 0.4 * coated.slant, 1.5, (1.0, 0.0, 0.0))])
    below = replace(below, wall=cup.walls[0], clear=True)
    finished = FinishedCup(cup=coated, base=(1.0, 1.0, 0.5), layers=(below, early, late))
    for aside, expected in (
        (0.0, (255, 0, 0)), (2.7, (0, 140, 26)), (-2.7, (0, 140, 26)), (5.0, (0, 0, 128)), (-5.0, (0, 0, 128)),
        (8.0, (255, 255, 128)), (-8.0, (255, 255, 128)),
    ):  # fmt: skip
        turn = turn_deg + math.degrees(aside / float(apex(cup).radius(drop)))
        found = colour_at(finished, (turn + 180) % 360 - 180, 0.4 * coated.slant)
        assert found == pytest.approx(expected, abs=2)


def test_a_decal_lies_where_its_copies_lie_across_ring_and_seam() -> None:
    shape = Shape(path=Box(-15, -20, 15, 20).outline(), role="print", fill=(0.0, 0.5, 1.0))
    design = Design(name="block", drawing=Drawing((shape,)), width=30, height=40)
    paper = Medium(name="white film", process="laser", clear=False, cut_margin=2.0)
    decal = Decal(cup=SHOULDERED, design=design, turn_deg=60, drop=85, repeat=2, medium=paper)
    layers = laid_decal(decal)
    assert sorted(layer.wall_index for layer in layers) == [0, 0, 1, 1]
    finished = FinishedCup(cup=SHOULDERED.grown(0.8), base=(0.2, 0.2, 0.2), layers=layers)
    top = finished.cup.walls[0].slant
    blue, white, base = (0, 128, 255), (255, 255, 255), (51, 51, 51)
    # 15 mm at a radius of 38 mm are 22.6°, 17 mm out to the cut line 25.6°
    for turn, colour in ((60, blue), (-120, blue), (60 + 24, white), (60 + 30, base)):
        assert colour_at(finished, turn, top - 3) == pytest.approx(colour, abs=2)
    for turn, colour in ((60, blue), (-120, blue), (0, base)):
        assert colour_at(finished, turn, 15, wall=1) == pytest.approx(colour, abs=2)
    (clear,) = {layer.clear for layer in laid_decal(replace(decal, medium=replace(paper, clear=True)))}
    assert clear


def test_the_strip_shows_turn_and_drop_at_their_places() -> None:
    cup = Cup.frustum(80, 80, 100, bare_lip=10)
    finished = FinishedCup(cup=cup, base=WHITE, layers=(laid([disc(cup, 90, 60, 5)]),))
    band = strip(finished, finished.textures(100), 600)
    colours = pixels(band).astype(int)
    assert band.rows == round(100 / (math.pi * 80) * 600)
    rows, columns = np.nonzero(colours[:, :, 1] - colours[:, :, 0] > 60)
    assert (columns.mean() + 0.5) / 600 == pytest.approx(0.75, abs=0.002)
    assert (rows.mean() + 0.5) / band.rows == pytest.approx(0.6, abs=0.004)
    steel = colours[: int(0.09 * band.rows), :, :3]
    assert steel.max() < 230
    assert (colours[int(0.11 * band.rows), 0] == 255).all()


def test_a_layer_on_a_wall_that_is_not_there_is_refused() -> None:
    with pytest.raises(CupgeomError) as caught:
        FinishedCup(cup=TUMBLER, layers=(laid([disc(TUMBLER, 0, 50, 5)], wall=1),))
    assert str(caught.value) == "layers[0].wall_index: must be less than the cup's 1 walls, got 1"
    with pytest.raises(CupgeomError) as caught:
        Laid(wall_index=-1, drawing=Drawing(), clear=True)
    assert str(caught.value) == "wall_index: must be a whole number from 0, got -1"


@pytest.mark.parametrize("dpi", [0.0, -1.0, math.nan, math.inf, 1e6])
def test_a_resolution_that_is_none_or_too_fine_is_refused(dpi: float) -> None:
    with pytest.raises(CupgeomError, match=r"^dpi: "):
        FinishedCup(cup=TUMBLER).textures(dpi)


# The page -------------------------------------------------------------------------------------------------------------


def comet_night() -> FinishedCup:
    return FinishedCup(cup=MUG, base=(0.1, 0.14, 0.3), layers=(laid([disc(MUG, 0, 40, 9, (1.0, 0.9, 0.5))]),))


def test_the_page_is_as_wide_as_asked() -> None:
    for columns, dpi in ((480, 96.0), (1001, 300.0)):
        data = png.render(sheet(comet_night(), ProofSheet(mark="7K2M-QX04", columns=columns, dpi=dpi)), dpi)
        assert Image.open(io.BytesIO(data)).size[0] == columns
    assert data == png.render(sheet(comet_night(), ProofSheet(mark="7K2M-QX04", columns=columns, dpi=dpi)), dpi)


@pytest.mark.parametrize("cup", [MUG, TUMBLER, Cup.frustum(200, 60, 20, name="A very flat dish " * 8)])
def test_long_names_and_many_of_them_stay_on_the_page_and_apart(cup: Cup) -> None:
    names = (*(f"Wilhelmina-Theodora of the Far Observatory {n}" for n in range(12)), "W" * 90)
    asked = ProofSheet(
        title="Comet night, " * 9, mark="7K2M-QX04", lines=("one line " * 30,), names=names, columns=480, dpi=96
    )
    (page,) = sheet(FinishedCup(cup=cup, base=GREEN), asked).pages
    texts = [item for item in page.drawing.items if isinstance(item, Text)]
    written = "".join(text.text.replace(" ", "") for text in texts)
    assert all(name.replace(" ", "") in written for name in names)
    boxes = [item.bounds() for item in page.drawing.items if not isinstance(item, Shape)]
    paper = Box(0, 0, page.width, page.height)
    for index, box in enumerate(boxes):
        assert box.left >= 0 and box.bottom >= 0 and box.right <= paper.right + 1e-9 and box.top <= paper.top + 1e-9
        for other in boxes[:index]:
            across = min(box.right, other.right) - max(box.left, other.left)
            along = min(box.top, other.top) - max(box.bottom, other.bottom)
            assert across < 0.01 or along < 0.01


@pytest.mark.parametrize("columns", [479, 480.0, True])
def test_a_width_that_is_none_is_refused(columns: Any) -> None:
    with pytest.raises(CupgeomError, match=r"^columns: must be"):
        ProofSheet(columns=columns)


# The proof mark -------------------------------------------------------------------------------------------------------


def mark(**changed: Any) -> str:
    usual: dict[str, Any] = {"art": (comet_night().layers[0],), "text": ("Ada", "Io"), "cup": MUG, "medium": ("film",)}
    return proof_mark(**usual | changed)


def test_the_mark_is_the_first_40_bits_in_base_32() -> None:
    # RFC 4648 base 32 by Python's base64, its 32 letters put in Crockford's order
    crockford = str.maketrans("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567", DIGITS)
    for message in (b"", b"abc", b"comet"):
        digest = hashlib.sha256(message).digest()
        plain = base64.b32encode(digest[:5]).decode().translate(crockford)
        assert spelled(digest) == f"{plain[:4]}-{plain[4:]}"
    assert not set("ILOU") & set(DIGITS) and len(set(DIGITS)) == 32


@pytest.mark.parametrize(
    "changed",
    [
        {"text": ("Ada", "Jo")},
        {"text": ("AdaIo",)},
        {"text": ("Io", "Ada")},
        {"cup": replace(MUG, bare_lip=4.5)},
        {"medium": ("film", "film")},
        {"art": (laid([disc(MUG, 0, 40.001, 9, (1.0, 0.9, 0.5))]),)},
        {"art": (replace(comet_night().layers[0], clear=True),)},
        {"art": ()},
    ],
)
def test_any_change_changes_the_mark(changed: dict[str, Any]) -> None:
    assert mark(**changed) != mark()


def test_what_is_equal_has_the_same_mark() -> None:
    assert mark() == mark()
    assert mark(cup=Cup.frustum(84.0, 84, 95.0, bare_lip=4.0, handle=MUG.handle)) == mark()
    assert canonical((1, -0.0, [2])) == canonical([1.0, 0, (2.0,)])
    assert canonical({"a": 1, "b": 2}) == canonical({"b": 2, "a": 1})


PLAIN = st.one_of(st.text(max_size=3), st.binary(max_size=3), st.booleans(), st.none())
VALUES = st.recursive(PLAIN, lambda inner: st.lists(inner, max_size=3))


@given(VALUES, VALUES)
def test_different_values_have_different_bytes(one: object, other: object) -> None:
    same = repr(one) == repr(other)
    assert (canonical(one) == canonical(other)) == same


def test_a_mark_is_read_as_people_write_it() -> None:
    assert same_mark("7K2M-QX04", "7k2m qxo4")
    assert same_mark("1111-0000", "Il1L0oO0")
    assert not same_mark("7K2M-QX04", "7K2M-QX05")


def test_what_has_no_bytes_is_refused() -> None:
    with pytest.raises(CupgeomError) as caught:
        canonical({1, 2})
    assert str(caught.value) == "proof mark: cannot be made from a set"
