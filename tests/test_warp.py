"""Pictures through the bend, against scipy, closed forms and an inverse map from the apex of the cone."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from cupgeom import CupgeomError, Wall
from cupgeom.decor.place import Placement
from cupgeom.decor.warp import warped
from cupgeom.drawing import Affine, Picture

from .apex import Apex

Floats = NDArray[np.float64]
TAPERED = Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120)
UPSIDE_DOWN = Wall(top_radius=30, base_radius=30 + 110 * math.tan(math.radians(12)), height=110)
SLIGHT = Wall(top_radius=44, base_radius=44 - 170 * math.tan(math.radians(3)), height=170)
PLACES = {
    "level": Placement(wall=TAPERED, turn_deg=20, drop=55),
    "level, true at the foot": Placement(wall=SLIGHT, turn_deg=-170, drop=55, true_drop=75),
    "even": Placement(wall=TAPERED, turn_deg=-40, drop=50, bend="even"),
    "turned, upside down": Placement(wall=UPSIDE_DOWN, turn_deg=10, drop=60, rotate_deg=30),
}
every_place = pytest.mark.parametrize("placement", PLACES.values(), ids=PLACES)


def picture_of(pixels: NDArray[np.uint8], width: float, **more) -> Picture:
    """A picture centred on the design's origin, its pixels square."""
    rows, columns, _ = pixels.shape
    height = width * rows / columns
    place = Affine(width, 0.0, 0.0, height, -width / 2, -height / 2)
    return Picture(pixels=pixels.tobytes(), columns=columns, rows=rows, place=place, **more)


def pixels_of(picture: Picture) -> NDArray[np.uint8]:
    return np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)


def design_points(picture: Picture, placement: Placement, finer: int = 1) -> NDArray[np.complex128]:
    """Where pixels (or parts of them) of a warped picture lie in the design, their middles: from the apex."""
    rows, columns = picture.rows * finer, picture.columns * finer
    x = picture.place.e + (np.arange(columns) + 0.5) / columns * picture.place.a
    y = picture.place.f + (rows - 0.5 - np.arange(rows)) / rows * picture.place.d
    wall = placement.wall
    turn, drop = Apex(2 * wall.top_radius, 2 * wall.base_radius, wall.height).rolled(x[None, :] + 1j * y[:, None])
    slope = (wall.top_radius - wall.base_radius) / math.hypot(wall.height, wall.top_radius - wall.base_radius)
    radius = wall.top_radius - slope * placement.drop
    if placement.bend == "even":
        true, up = radius, radius / slope * np.log((wall.top_radius - slope * drop) / radius)
    else:
        true, up = wall.top_radius - slope * (placement.true_drop or placement.drop), placement.drop - drop
    turned = (turn - math.radians(placement.turn_deg)) * true + 1j * up
    return turned * np.exp(-1j * math.radians(placement.rotate_deg))


def source_places(found: Picture, source: Picture, placement: Placement) -> tuple[Floats, Floats]:
    """The same in columns and rows of the source, 0 at the middle of the first."""
    design = design_points(found, placement)
    across, down = design.real - source.place.e, source.place.f + source.place.d - design.imag
    return across / source.place.a * source.columns - 0.5, down / source.place.d * source.rows - 0.5


def smooth(design: NDArray[np.complex128]) -> Floats:
    """Colours from 27 to 228 that change over 2 to 7 mm, and more and more of them let through."""
    u, v = design.real, design.imag
    waves = (np.sin(2 * np.pi * (u / 3 + v / 7)), np.cos(2 * np.pi * v / 2), np.sin(u * v / 20))
    return np.stack([*(127.5 + 100 * wave for wave in waves), np.full(u.shape, 255.0)], axis=-1)


def smooth_picture(width: float, dpi: float) -> Picture:
    columns, rows = round(width * dpi / 25.4), round(width * dpi / 38.1)
    pixel = width / columns
    u, v = (np.arange(columns) + 0.5) * pixel - width / 2, rows * pixel / 2 - (np.arange(rows) + 0.5) * pixel
    return picture_of(np.rint(smooth(u[None, :] + 1j * v[:, None])).astype(np.uint8), width)


def well_inside(x: Floats, y: Floats, source: Picture, by: float = 4) -> NDArray[np.bool_]:
    return (x > by) & (x < source.columns - 1 - by) & (y > by) & (y < source.rows - 1 - by)


@every_place
def test_no_greater_error_than_splines_of_order_three(placement: Placement) -> None:
    source = smooth_picture(36, 300)
    found = warped(source, placement, 300)
    x, y = source_places(found, source, placement)
    inside = well_inside(x, y, source)
    exact = smooth(design_points(found, placement))[inside]
    spline = [ndimage.map_coordinates(pixels_of(source)[..., k].astype(float), [y, x], order=3) for k in range(3)]
    theirs = np.rint(np.stack(spline, axis=-1)[inside]).clip(0, 255) - exact[:, :3]
    ours = pixels_of(found)[inside] - exact
    assert inside.sum() > 80_000
    assert np.sqrt((ours[:, :3] ** 2).mean()) <= np.sqrt((theirs**2).mean())
    assert np.abs(ours).max() <= 1.6  # half a step lost to rounding before and after each, and a little between pixels
    assert abs(ours.mean()) <= 0.01


@every_place
def test_weights_are_those_of_keys(placement: Placement) -> None:
    # R. G. Keys (1981), equation 15 with a = -1/2, for noise, in which each neighbour counts by itself
    source = picture_of(np.random.default_rng(3).integers(0, 256, (120, 180, 4), dtype=np.uint8), 15)
    opaque = pixels_of(source).copy()
    opaque[..., 3] = 255
    source = replace(source, pixels=opaque.tobytes())
    found = warped(source, placement, 300)
    x, y = source_places(found, source, placement)
    inside = well_inside(x, y, source)
    expected = np.zeros((inside.sum(), 3))
    left, top = np.floor(x[inside]).astype(int), np.floor(y[inside]).astype(int)
    for row in range(-1, 3):
        for column in range(-1, 3):
            weight = keys(x[inside] - left - column) * keys(y[inside] - top - row)
            expected += weight[:, None] * opaque[top + row, left + column, :3]
    # places between the lattice's nodes may be 0.02 pixels off, where noise changes by up to 500 a pixel
    assert np.abs(pixels_of(found)[inside][:, :3] - expected.clip(0, 255)).max() <= 10
    assert np.abs(pixels_of(found)[inside][:, :3] - expected.clip(0, 255)).mean() <= 0.6


def keys(s: Floats) -> Floats:
    s = np.abs(s)
    near, far = 1.5 * s**3 - 2.5 * s**2 + 1, -0.5 * s**3 + 2.5 * s**2 - 4 * s + 2
    return np.where(s <= 1, near, np.where(s < 2, far, 0))


def test_small_radii_are_as_exact_as_large_ones() -> None:
    wall = Wall(top_radius=24, base_radius=4, height=20)  # 45 degrees: the sheet's own radii are 6 to 34 mm
    placement = Placement(wall=wall, turn_deg=0, drop=14)
    source = smooth_picture(18, 300)
    found = warped(source, placement, 100)  # shrunk, so that the nodes of the lattice lie far apart
    x, y = source_places(found, source, placement)
    inside = well_inside(x, y, source, by=8)
    areas = area_averages(found, placement)
    assert inside.sum() > 1500
    assert np.abs(pixels_of(found)[inside] - areas[inside]).max() <= 2.5


def area_averages(found: Picture, placement: Placement, finer: int = 8) -> Floats:
    """The smooth picture averaged over each pixel, from 8 × 8 exact values in it."""
    values = smooth(design_points(found, placement, finer))
    return values.reshape(found.rows, finer, found.columns, finer, 4).mean(axis=(1, 3))


@every_place
@pytest.mark.parametrize(("dpi", "shown"), [(600, 150), (300, 200), (600, 90)])
def test_shrinking_averages_the_area(placement: Placement, dpi: float, shown: float) -> None:
    source = smooth_picture(20, dpi)
    found = warped(source, placement, shown)
    x, y = source_places(found, source, placement)
    inside = well_inside(x, y, source, by=2 * dpi / shown)
    error = pixels_of(found)[inside] - area_averages(found, placement)[inside]
    # linear weights blur the finest wave a little more than the area alone
    assert np.sqrt((error**2).mean()) <= (1 if dpi / shown < 5 else 4)
    assert np.abs(error).max() <= (3 if dpi / shown < 5 else 12)


@pytest.mark.parametrize("ratio", [1.5, 1.9, 2, 2.7, 3.9, 4, 7.3, 16])
def test_every_source_pixel_counts_when_shrinking(ratio: float) -> None:
    # one lighter pixel in 5 x 5 is a 25th of the light wherever the output's pixels lie
    board = np.full((500, 600, 4), (100, 100, 100, 255), np.uint8)
    board[::5, ::5, :3] = 200
    source = picture_of(board, 600 / 300 / ratio * 25.4)
    found = pixels_of(warped(source, PLACES["level"], 300))
    whole = ndimage.binary_erosion(found[..., 3] == 255, iterations=2)
    values = found[whole][:, 0].astype(float)
    assert values.mean() == pytest.approx(100 + 100 / 25, abs=0.25)


def test_shrinking_alike_across_and_down() -> None:
    # 8 pixels across for each output pixel, 1 down
    rng = np.random.default_rng(5)
    source = picture_of(rng.integers(0, 256, (200, 1600, 4), dtype=np.uint8) | np.array([0, 0, 0, 255], np.uint8), 17)
    source = replace(source, place=Affine(17.0, 0.0, 0.0, 17.0, -8.5, -8.5))
    found = pixels_of(warped(source, PLACES["level"], 300))
    inside = ndimage.binary_erosion(found[..., 3] == 255, iterations=2)
    shades = found[inside][:, :3].astype(float)
    # the mean of 8 independent shades of variance (256² - 1)/12 has an eighth of it, less what lies between rows takes
    assert shades.mean() == pytest.approx(127.5, abs=2)
    assert 0.3 < shades.var() / ((256**2 - 1) / 12 / 8) < 1.1


@every_place
@pytest.mark.parametrize("shown", [300, 70])
def test_colours_of_transparent_pixels_never_show(placement: Placement, shown: float) -> None:
    pixels = np.full((150, 200, 4), (255, 0, 0, 0), np.uint8)  # red, but nothing of it is let through
    y, x = np.mgrid[:150, :200]
    pixels[(x // 7 + y // 9) % 2 == 0] = (20, 60, 200, 255)
    found = pixels_of(warped(picture_of(pixels, 17), placement, shown))
    seen = found[..., 3] > 0
    assert 0.3 < (found[..., 3] / 255.0).mean() / (found[..., 3] > 0).mean() < 0.9
    # where little is let through, the weights' rounding counts for more
    assert np.abs(found[found[..., 3] > 8][:, :3] - np.array([20.0, 60.0, 200.0])).max() <= 1
    assert (found[~seen] == 0).all()


def test_half_transparent_pixels_stay_so() -> None:
    pixels = np.full((50, 60, 4), (200, 100, 40, 128), np.uint8)
    found = pixels_of(warped(picture_of(pixels, 20, opacity=0.5), PLACES["even"], 300))
    inside = ndimage.binary_erosion(found[..., 3] > 0, iterations=2)
    assert (found[inside] == (200, 100, 40, 128)).all()


@every_place
@pytest.mark.parametrize("dpi", [60, 150])
def test_the_edge_is_as_sharp_as_the_output(placement: Placement, dpi: float) -> None:
    # a blank picture of 10 x 8 pixels: opaque for the share of each output pixel that lies in it
    source = picture_of(np.full((8, 10, 4), (10, 20, 30, 255), np.uint8), 20)
    found = warped(source, placement, dpi)
    design = design_points(found, placement, 16)
    within = ((np.abs(design.real) <= 10) & (np.abs(design.imag) <= 8)).astype(float)
    share = within.reshape(found.rows, 16, found.columns, 16).mean(axis=(1, 3))
    alpha = pixels_of(found)[..., 3] / 255
    assert np.abs(alpha - share).max() <= 0.13  # a slanting edge is taken as upright in the pixel that it crosses
    assert np.abs(alpha.sum() - share.sum()) <= 5e-4 * share.sum()
    assert (pixels_of(found)[alpha > 0.05][:, :3] == (10, 20, 30)).all()


@pytest.mark.parametrize("turn_deg", [0, 35])
@pytest.mark.parametrize("wall", [TAPERED, Wall(top_radius=49, base_radius=9, height=40)], ids=["12", "45 degrees"])
def test_a_picture_all_round_lies_in_its_sector_alone(wall: Wall, turn_deg: float) -> None:
    # the sheet of the steep wall has its cut, where turns jump, and its apex within the picture's own box
    placement = Placement(wall=wall, turn_deg=turn_deg, drop=28)
    width = 2 * math.pi * wall.radius_at(28)
    place = Affine(width, 0.0, 0.0, 50.0, -width / 2, -25.0)
    source = Picture(pixels=bytes([10, 20, 30, 255]) * 12, columns=4, rows=3, place=place)
    found = warped(source, placement, 60)
    design = design_points(found, placement)
    depth = np.minimum(width / 2 - np.abs(design.real), 25 - np.abs(design.imag))  # within the edge
    alpha = pixels_of(found)[..., 3]
    assert (depth > 1).sum() > 10_000
    assert (alpha[depth > 1] == 255).all()
    assert (alpha[depth < -4] == 0).all()  # a pixel of 0.4 mm near the apex is wide in the design


def test_a_line_thinner_than_a_pixel_keeps_its_weight() -> None:
    source = Picture(pixels=b"\0\0\0\xff", columns=1, rows=1, place=Affine(0.01, 0.0, 0.0, 20.0, 3.0, -10.0))
    found = warped(source, replace(PLACES["level"], turn_deg=0), 300)
    area = pixels_of(found)[..., 3].sum() / 255 * (25.4 / 300) ** 2
    # its width shrinks with the radius of the wall, evenly above and below the centre
    assert area == pytest.approx(0.01 * 20, rel=0.02)


@every_place
def test_the_result_covers_the_picture_and_little_more(placement: Placement) -> None:
    source = picture_of(np.full((40, 60, 4), 255, np.uint8), 30)
    found = warped(source, placement, 254)
    x, y = np.linspace(-15, 15, 601), np.linspace(-10, 10, 401)
    edge = np.concatenate([x - 10j, x + 10j, -15 + 1j * y, 15 + 1j * y])
    image, box = placement.to_sheet(edge), found.bounds()
    spare = [
        image.real.min() - box.left,
        image.imag.min() - box.bottom,
        box.right - image.real.max(),
        box.top - image.imag.max(),
    ]
    assert min(spare) >= 0
    assert max(spare) <= 0.15  # a pixel of 0.1 mm and what a side may bulge
    assert (box.width, box.height) == pytest.approx((found.columns * 0.1, found.rows * 0.1))


def test_pixels_are_the_same_whatever_tile_they_lie_in() -> None:
    source = smooth_picture(36, 300)
    placement = PLACES["level"]
    whole = warped(source, placement, 300)
    # the left half by itself: its pixels lie elsewhere, so compare with the exact colours along the joint of tiles
    x, y = source_places(whole, source, placement)
    exact = smooth(design_points(whole, placement))
    for start in (254, 255, 256, 257):
        column = well_inside(x, y, source)[:, start]
        assert np.abs(pixels_of(whole)[:, start][column] - exact[:, start][column]).max() <= 1.6


def test_rigid_places_keep_the_pixels() -> None:
    source = picture_of(np.random.default_rng(1).integers(0, 256, (6, 8, 4), dtype=np.uint8), 20, role="white")
    cylinder = Wall(top_radius=40, base_radius=40, height=120)
    for placement in (
        Placement(wall=TAPERED, turn_deg=30, drop=50, bend="flat", rotate_deg=20),
        Placement(wall=cylinder, turn_deg=30, drop=50, rotate_deg=20),
        Placement(wall=cylinder, turn_deg=30, drop=50, bend="even"),
        Placement(wall=cylinder, turn_deg=30, drop=50, bend="even", reference_radius=44, rotate_deg=20),
        Placement(wall=cylinder, turn_deg=30, drop=50, reference_radius=44, rotate_deg=20),
    ):
        found = warped(source, placement, 300)
        assert found == replace(source, place=found.place)
        image = placement.to_sheet(np.array(source.corners()))
        assert np.abs(np.array(found.corners()) - image).max() <= 1e-12


def test_what_a_picture_is_goes_along() -> None:
    source = picture_of(np.full((9, 9, 4), 255, np.uint8), 20, role="guide", opacity=0.25, name="moon")
    found = warped(source, PLACES["level"], 100)
    assert (found.role, found.opacity, found.name, found.jpeg) == ("guide", 0.25, "moon", b"")


@pytest.mark.parametrize("affine", [Affine.scale(-1, 1), Affine(0.8, 0.6, -0.7, 0.9, 2.0, -1.0)])
def test_mirrored_and_slanting_pictures(affine: Affine) -> None:
    source = picture_of(np.rint(np.asarray(Image.effect_noise((90, 60), 80).convert("RGBA"))).astype(np.uint8), 15)
    moved, placement = source.transformed(affine), PLACES["level"]
    found = warped(moved, placement, 150)
    design = design_points(found, placement)
    a, b, c, d, e, f = moved.place
    matrix = np.linalg.inv([[a, c, e], [b, d, f], [0, 0, 1]])
    unit = np.einsum("ij,jrc->irc", matrix, np.stack([design.real, design.imag, np.ones(design.shape)]))
    x, y = unit[0] * 90 - 0.5, (1 - unit[1]) * 60 - 0.5
    inside = well_inside(x, y, source)
    grey = ndimage.map_coordinates(pixels_of(source)[..., 0].astype(float), [y, x], order=3)[inside]
    assert inside.sum() > 500
    assert np.corrcoef(grey, pixels_of(found)[inside][:, 0])[0, 1] > 0.98


@pytest.mark.parametrize(
    ("change", "dpi", "message"),
    [
        ({}, 0, "dpi: must be greater than 0 dots per inch, got 0 dots per inch"),
        ({}, math.nan, "dpi: must be a finite number of dots per inch, got nan"),
        (
            {"wall": Wall(top_radius=40, base_radius=0, height=30), "drop": 45},
            300,
            "picture: reaches beyond the point of the wall, at drop 55 mm; place it elsewhere",
        ),
        (
            # k = 4/5 (a 3, 4, 5 triangle), radius 10 at the centre: 20 mm are 114.59 degrees; the sheet ends at 225
            {"wall": Wall(top_radius=50, base_radius=10, height=30), "drop": 50, "turn_deg": 170},
            300,
            "picture: reaches to turn 284.59 degrees, where the flat sheet overlaps itself; "
            "place it nearer to the front",
        ),
    ],
)
def test_what_cannot_be_done_is_said(change: dict, dpi: float, message: str) -> None:
    source = picture_of(np.full((20, 40, 4), 255, np.uint8), 40)
    with pytest.raises(CupgeomError) as caught:
        warped(source, replace(PLACES["level"], **change), dpi)
    assert str(caught.value) == message


def test_too_many_pixels_are_refused() -> None:
    source = picture_of(np.full((20, 40, 4), 255, np.uint8), 40)
    with pytest.raises(CupgeomError) as caught:
        warped(source, PLACES["level"], 1e5)
    pattern = r"dpi: asks for 1\d{5} x \d{5} pixels, more than 100 million; a lower one would do"
    assert re.fullmatch(pattern, str(caught.value))


MEMORY = """
import json, resource, sys
from cupgeom import Wall
from cupgeom.decor.place import Placement
from cupgeom.decor.warp import warped
from cupgeom.drawing import Affine, Picture
columns, rows, width, height, dpi = json.loads(sys.argv[1])
place = Affine(width, 0.0, 0.0, height, -width / 2, -height / 2)
source = Picture(pixels=bytes([20, 60, 200, 255]) * (columns * rows), columns=columns, rows=rows, place=place)
placement = Placement(wall=Wall(top_radius=49, base_radius=24, height=120), turn_deg=0, drop=60)
found = warped(source, placement, dpi)
print(json.dumps([resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024, len(source.pixels), len(found.pixels)]))
"""


@pytest.mark.parametrize(
    ("columns", "rows", "width", "height", "dpi"),
    [(2835, 1417, 120.0, 60.0, 600), (6000, 4000, 90.0, 60.0, 75)],
    ids=["at 600 dpi", "shrunk 22 times"],
)
def test_memory_is_that_of_source_and_output(columns: int, rows: int, width: float, height: float, dpi: float) -> None:
    sizes = json.dumps([columns, rows, width, height, dpi])
    # a process starts with its parent's peak as its own, so a small one stands between
    between = [sys.executable, "-c", "import subprocess, sys; sys.exit(subprocess.call(sys.argv[1:]))"]
    command = [*between, sys.executable, "-c", MEMORY, sizes]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    peak, source, output = json.loads(done.stdout)
    # the whole process with Python and numpy in it
    assert peak <= source + output + 100e6
