"""Outlines through the bend, against the exact image of their points (which test_place.py holds against 50 digits).

Both outlines are sampled eight times finer than the bend looks at a curve, and compared both ways.
"""

from __future__ import annotations

import cmath
import gzip
import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cupgeom import CupgeomError, Wall
from cupgeom.decor.artwork import read_svg
from cupgeom.decor.bend import TOLERANCE, bent
from cupgeom.decor.font import Font
from cupgeom.decor.lettering import lettering
from cupgeom.decor.place import BENDS, Placement
from cupgeom.drawing import Affine, Arc, Cubic, Line, Path, Pen, Shape, circle, path_of, polyline
from cupgeom.flatten import to_wall

from .sample_font import CORPUS as FONTS
from .sample_font import real
from .test_artwork_real_files import CORPUS, MOST_LEAVERS, SETS, outlined_icons, solid_icons

Points = NDArray[np.complex128]

WALLS = {
    "3 degrees": Wall(top_radius=44, base_radius=44 - 170 * math.tan(math.radians(3)), height=170),
    "12 degrees": Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120),
    "upside down": Wall(top_radius=30, base_radius=30 + 110 * math.tan(math.radians(12)), height=110),
    "cylinder": Wall(top_radius=40, base_radius=40, height=120),
}
TAPERS = [Placement(wall=WALLS[name], turn_deg=20, drop=60) for name in ("3 degrees", "12 degrees")]
AROUND = Placement(wall=WALLS["upside down"], turn_deg=170, drop=50, rotate_deg=30)
PLACEMENTS = (*TAPERS, AROUND)
every_wall = pytest.mark.parametrize("wall", WALLS.values(), ids=WALLS)

WIDTH, TALLEST = 60.0, 120.0  # mm of real art
MOST_GROWTH = 3.0  # output segments to source segments
PHRASES = ["Per aspera ad astra", "السلام عليكم", "彗星の夜・コメット", "ĀāĂăĄą", "بسم الله"]
WORDS = {
    "Great Vibes": "Per aspera ad astra",
    "Dancing Script": "Constellation",
    "Hind": "नक्षत्र क्लब",
    "Amiri": "السلام عليكم",
}
SAMPLES = 128  # stretches of each segment; the bend looks at 16 at most

# how outlines are compared


class Trail(NamedTuple):
    """Points along the outlines of a path, the outline of each by number, and how many segments and lines it has."""

    points: Points
    outline: NDArray[np.intp]
    segments: int
    lines: int

    def ends(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Where the points of each outline begin and end."""
        after = np.cumsum(np.bincount(self.outline))
        return np.concatenate([[0], after[:-1]]), after - 1

    def shares(self) -> NDArray[np.float64]:
        """How far along its outline each point lies, from 0 to 1, plus twice the outline's number."""
        first, last = self.ends()
        grown = np.cumsum(np.abs(np.diff(self.points, prepend=self.points[0])))
        begun, whole = grown[first], np.maximum(grown[last] - grown[first], 1e-300)
        return 2 * self.outline + (grown - begun[self.outline]) / whole[self.outline]


def trail(path: Path, finer: int = 1) -> Trail:
    """A path's points, read from its packed form."""
    kinds, points = np.frombuffer(path.kinds, np.uint8), np.frombuffer(path.coords, complex)
    counts = np.array([{"M": 1, "A": 2, "C": 3, "Z": 0}.get(chr(kind), 1) for kind in range(256)])[kinds]
    after = np.cumsum(counts)
    moves, closes = kinds == ord("M"), kinds == ord("Z")
    outline = np.cumsum(moves) - 1
    end = np.where(closes, points[after[moves] - 1][outline], points[after - 1])
    start = np.roll(end, 1)
    drawn = ~moves & ~(closes & (start == end))
    corners = np.stack([start, points[after - np.clip(counts, 1, 3)], points[after - np.clip(counts, 1, 2)], end])
    count = SAMPLES * finer + 1
    samples = np.where(drawn, count, 0)
    place = np.cumsum(samples) - samples
    found = np.empty(samples.sum(), complex)
    for letters, curve in (("LZ", on_lines), ("A", on_arcs), ("C", on_cubics)):
        chosen = np.flatnonzero(drawn & np.isin(kinds, list(letters.encode())))
        found[place[chosen, None] + np.arange(count)] = curve(corners[:, chosen, None], np.linspace(0, 1, count))
    lines = drawn & np.isin(kinds, list(b"LZ"))
    return Trail(found, np.repeat(outline, samples), int(drawn.sum()), int(lines.sum()))


def on_sheet(source: Trail, placement: Placement) -> Trail:
    return source._replace(points=placement.to_sheet(source.points))


def on_lines(corners: Points, t: NDArray[np.float64]) -> Points:
    start, _, _, end = corners
    return start + (end - start) * t


def on_arcs(corners: Points, t: NDArray[np.float64]) -> Points:
    """The direction turns by half the arc's angle from one half chord to the next."""
    start, _, middle, end = corners
    angle = 2 * np.angle((end - middle) * (middle - start).conj())
    angle = np.where(np.abs(angle) < 1e-12, 1e-12, angle)
    return start + (end - start) * np.expm1(1j * angle * t) / np.expm1(1j * angle)


def on_cubics(corners: Points, t: NDArray[np.float64]) -> Points:
    start, first, second, end = corners
    return (1 - t) ** 3 * start + 3 * t * (1 - t) ** 2 * first + 3 * t * t * (1 - t) * second + t**3 * end


def strays(path: Path, image: Path, placement: Placement, tolerance: float = TOLERANCE, finer: int = 1) -> float:
    """Largest distance, either way, between an image and the exact image of a path, outline by outline.

    It may be said too large, but not by so much that it passes the tolerance.
    """
    return apart(trail(image, finer), on_sheet(trail(path, finer), placement), tolerance)


def apart(found: Trail, exact: Trail, tolerance: float = 0.0) -> float:
    for mine, theirs in zip(found.ends(), exact.ends(), strict=True):
        assert np.abs(found.points[mine] - exact.points[theirs]).max() <= 1e-9
    shares = found.shares(), exact.shares()
    there = one_way(found, exact, np.searchsorted(shares[1], shares[0]), tolerance)
    return max(there, one_way(exact, found, np.searchsorted(shares[0], shares[1]), tolerance))


def one_way(trail: Trail, other: Trail, place: NDArray[np.intp], tolerance: float) -> float:
    """Largest distance of points from the other outline: at the same share of its length, a bound, or nearest."""
    first, last = (ends[trail.outline] for ends in other.ends())
    bound = np.full(len(trail.points), np.inf)
    unsure = np.arange(len(bound))
    for shift in (-1, 0, -2):
        at = np.clip(place[unsure] + shift, first[unsure], last[unsure] - 1)
        near = from_lines(trail.points[unsure], other.points[at], other.points[at + 1])
        bound[unsure] = np.minimum(bound[unsure], near)
        unsure = unsure[bound[unsure] > tolerance]
    for outline in np.unique(trail.outline[unsure]):
        line, asked = other.points[other.outline == outline], unsure[trail.outline[unsure] == outline]
        corners = np.stack([line.real, line.imag], axis=1)
        tree = shapely.STRtree(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)))
        points = shapely.points(trail.points[asked].real, trail.points[asked].imag)
        (which, _), bound[asked] = tree.query_nearest(points, all_matches=False, return_distance=True)
        assert which.tolist() == list(range(len(asked)))
    return float(bound.max())


def from_lines(points: Points, start: Points, end: Points) -> NDArray[np.float64]:
    run, gap = end - start, points - start
    share = (gap * run.conj()).real / np.maximum(np.abs(run) ** 2, 1e-300)
    return np.abs(gap - np.clip(share, 0, 1) * run)


def test_the_comparison_finds_what_strays() -> None:
    """Mapping the points of a cubic alone is wrong by far more than the tolerance."""
    path = path_of([Cubic(-30 - 20j, -10 + 30j, 10 - 30j, 30 + 20j)])
    for placement in (TAPERS[1], AROUND):
        mapped = Path(path.kinds, placement.to_sheet(np.frombuffer(path.coords, complex)).tobytes())
        assert strays(path, mapped, placement) > 10 * TOLERANCE
    # a quarter circle and its chord, and a spike that only one of two lines has (closed forms)
    quarter = trail(Pen(20 + 0j).arc(20 * cmath.exp(0.25j * math.pi), 20j).path())
    assert apart(quarter, trail(polyline([20 + 0j, 20j]))) == pytest.approx(20 - math.sqrt(200), abs=1e-3)
    spike, plain = trail(polyline([0j, 5 + 0j, 5 + 0.5j, 5 + 0j, 9 + 0j])), trail(polyline([0j, 9 + 0j]))
    assert apart(spike, plain) == apart(plain, spike) == pytest.approx(0.5)


# any curve

OFFSETS = st.one_of(
    st.floats(min_value=-28, max_value=28), st.integers(min_value=-4, max_value=4).map(lambda value: 7.0 * value)
)
SPOTS = st.builds(complex, OFFSETS, OFFSETS)


@st.composite
def wild_cubics(draw: st.DrawFn) -> Path:
    """One cubic: any, with a cusp, folded onto a line, or with handles of no length."""
    start, first, second, end = (draw(SPOTS) for _ in range(4))
    shape = draw(st.sampled_from(["any", "cusp", "folded", "no first handle", "no second handle"]))
    if shape == "cusp":  # the derivative s²a + 2st b + t²c is 0 at one parameter t = 1 − s
        t = draw(st.floats(min_value=0.05, max_value=0.95))
        a, c, s = first - start, end - second, 1 - t
        second = first - (s * s * a + t * t * c) / (2 * s * t)
        end = second + c
    elif shape == "folded":
        run = first - start
        second, end = (start + draw(st.floats(min_value=-1, max_value=1)) * run for _ in range(2))
    elif shape == "no first handle":
        first = start
    elif shape == "no second handle":
        second = end
    size = max(1.0, max(map(abs, (start, first, second, end))) / 40)
    return Pen(start / size).cubic(first / size, second / size, end / size).path()


@every_wall
@settings(max_examples=40)
@given(wild_cubics(), st.sampled_from(["level", "even"]))
def test_any_cubic_keeps_to_its_exact_image(wall: Wall, path: Path, bend: str) -> None:
    for turn_deg, rotate_deg in ((0, 0), (170, 30)):
        placement = Placement(wall=wall, turn_deg=turn_deg, drop=50, bend=bend, rotate_deg=rotate_deg)
        assert strays(path, bent(path, placement), placement) <= TOLERANCE


@pytest.mark.parametrize("bend", ["level", "even"])
@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.001, 1e-5])
def test_the_tolerance_is_the_caller_s(tolerance: float, bend: str) -> None:
    placement = Placement(wall=WALLS["12 degrees"], turn_deg=-60, drop=60, bend=bend, rotate_deg=10)
    path = circle(0j, 30) + path_of([Cubic(-30 - 20j, 40 + 30j, -40 + 30j, 30 - 20j)])
    image = bent(path, placement, tolerance)
    assert strays(path, image, placement, tolerance, 16) <= tolerance + 5e-6  # of the chords between samples
    assert len(image.kinds) < 20 * tolerance**-0.25  # the error falls with the fourth power of the length


@every_wall
@given(st.lists(SPOTS, min_size=3, max_size=5), st.booleans(), st.sampled_from([0.0, 30.0]))
@settings(max_examples=20)
def test_polygons_keep_their_corners_and_their_order(
    wall: Wall, corners: list[complex], closed: bool, rotate_deg: float
) -> None:
    path = polyline(corners, closed=closed) + polyline(corners[::-1])
    placement = Placement(wall=wall, turn_deg=40, drop=50, rotate_deg=rotate_deg)
    image = bent(path, placement)
    assert len(list(image.segments())) == len(list(path.segments()))
    assert strays(path, image, placement) <= TOLERANCE


def test_pieces_follow_each_other_among_segments_that_stay_whole() -> None:
    """Between short cubics that need no look lies a long one that is cut up."""
    pen = Pen(-25 + 0j)
    for step in range(40):
        here = complex(-25 + step, step % 3)
        pen.cubic(here + 1j, here + 1 + 1j, here + 1)
    path = pen.cubic(60 + 50j, -90 - 40j, -25 + 30j).line(-25 + 5j).close().move(3j).cubic(1j, 2j, 5 + 0j).path()
    placement = TAPERS[1]
    image = bent(path, placement)
    outlines = list(image.outlines())
    assert [closed for _, closed in outlines] == [True, False]
    assert len(outlines[0][0]) > len(path.kinds)
    assert strays(path, image, placement) <= TOLERANCE


# lines


@pytest.mark.parametrize("bend", ["level", "even"])
def test_lines_up_the_wall_stay_lines_and_level_ones_become_arcs(bend: str) -> None:
    wall = WALLS["12 degrees"]
    square = polyline([-10 - 10j, 10 - 10j, 10 + 10j, -10 + 10j], closed=True)
    image = bent(square, Placement(wall=wall, turn_deg=30, drop=55, bend=bend))
    level, up, back, down = image.segments()
    assert isinstance(level, Arc)
    assert isinstance(back, Arc)
    assert isinstance(up, Line)
    assert isinstance(down, Line)
    # on the sheet a level line is an arc about the apex, of radius ρ/k
    _, drop = to_wall(wall, level.start.real, level.start.imag)
    assert level.radius == pytest.approx(wall.radius_at(drop) / wall.cone_constant, rel=1e-9)
    assert abs(level.centre - complex(0, -wall.top_radius / wall.cone_constant)) <= 1e-8
    straight = bent(square, Placement(wall=WALLS["cylinder"], turn_deg=30, drop=55, bend=bend))
    assert [type(side) for side in straight.segments()] == [Line] * 4


def test_level_lines_that_no_arc_can_draw_are_cubics() -> None:
    line = polyline([-30 + 0j, 30 + 0j])
    almost = Wall(top_radius=40, base_radius=40 - 1e-4, height=100)  # 4e7 mm from the apex
    assert bent(line, Placement(wall=almost, turn_deg=0, drop=50)).kinds == b"MC"
    assert bent(line, Placement(wall=WALLS["3 degrees"], turn_deg=0, drop=50, rotate_deg=1)).kinds == b"MC"
    disc = Wall(top_radius=50, base_radius=20, height=1)  # nearly flat: once round is nearly a full turn of the sheet
    placement = Placement(wall=disc, turn_deg=0, drop=10)
    twice = polyline([-250 + 0j, 250 + 0j])
    image = bent(twice, placement)
    assert set(image.kinds) == set(b"MC")
    assert strays(twice, image, placement, finer=16) <= TOLERANCE


def test_a_flat_decal_keeps_its_shape() -> None:
    placement = Placement(wall=WALLS["12 degrees"], turn_deg=30, drop=55, bend="flat", rotate_deg=20)
    path = polyline([0j, 20 + 0j, 20 + 10j], closed=True) + circle(3j, 4)
    image = bent(path, placement)
    assert image.kinds == path.kinds
    assert image.length() == pytest.approx(path.length(), rel=1e-12)
    assert image.area() == pytest.approx(path.area(), rel=1e-12)
    assert strays(path, image, placement) <= 1e-9


# real files


def shapes_of(data: bytes, name: str) -> tuple[list[Path], list[str]]:
    """The outlines of a file's shapes, as wide as a decal, and what was said of the rest."""
    try:
        artwork = read_svg(gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data, name)
    except CupgeomError as error:
        return [], [str(error)]
    paths = [leaf.path for leaf in artwork.drawing.leaves() if isinstance(leaf, Shape)]
    return [sized(joined(paths))] if paths else [], [str(notice) for notice in artwork.notices]


def sized(path: Path) -> Path:
    box = path.bounds()
    scale = min(WIDTH / max(box.width, 1e-9), TALLEST / max(box.height, 1e-9))
    return path.transformed(Affine.scale(scale, scale) @ Affine.move(-box.centre))


def joined(paths: Iterable[Path]) -> Path:
    kinds, coords = zip(*((path.kinds, path.coords) for path in paths), strict=True)
    return Path(b"".join(kinds), b"".join(coords))


def judged(paths: dict[str, Path]) -> float:
    """Output segments to source segments, straight ones apart; raises where an outline strays."""
    source, before, after = trail(joined(paths.values())), 0, 0
    for placement in PLACEMENTS:
        found = trail(joined(bent(path, placement) for path in paths.values()))
        if not apart(found, on_sheet(source, placement), TOLERANCE) <= TOLERANCE:
            far = {name: strays(path, bent(path, placement), placement) for name, path in paths.items()}
            raise AssertionError({name: distance for name, distance in far.items() if distance > TOLERANCE})
        if placement is not AROUND:
            before += source.segments - source.lines
            after += found.segments - source.lines
    return after / before


def check_files(files: dict[str, bytes]) -> None:
    read = {name: shapes_of(data, name) for name, data in files.items()}
    leavers = {name: said for name, (paths, said) in read.items() if not paths}
    assert all(leavers.values()), f"left without a word: {leavers}"
    assert len(leavers) <= MOST_LEAVERS * len(files), leavers
    assert judged({name: path for name, (paths, _) in read.items() for path in paths}) <= MOST_GROWTH


@pytest.mark.parametrize("icons", [solid_icons, outlined_icons])
def test_icons_of_packages_keep_to_their_exact_image(icons) -> None:
    files = icons()
    assert len(files) == 100
    check_files(files)


@pytest.mark.parametrize("name", SETS)
def test_files_of_the_corpus_keep_to_their_exact_image(name: str) -> None:
    if not CORPUS.is_dir():
        pytest.skip("the shared corpus is not beside this repository")
    found = sorted(file for file in (CORPUS / name).rglob("*") if file.suffix in (".svg", ".svgz"))[: SETS[name]]
    assert len(found) == SETS[name]
    check_files({str(file.relative_to(CORPUS)): file.read_bytes() for file in found})


def letters(text: str, font: Font) -> Path:
    return lettering(text, font, width=WIDTH).centred().outlines


@pytest.mark.parametrize("name", WORDS)
def test_lettering_gets_no_more_segments_and_keeps_to_its_exact_image(name: str) -> None:
    path = letters(WORDS[name], real(name))
    assert judged({name: path}) == 1
    for placement in PLACEMENTS:
        assert len(list(bent(path, placement).segments())) == len(list(path.segments()))


def test_every_font_of_the_corpus_keeps_to_its_exact_image() -> None:
    if not FONTS.is_dir():
        pytest.skip("the shared corpus is not beside this repository")
    files = sorted(file for file in FONTS.rglob("*") if file.suffix in (".ttf", ".otf", ".woff2"))
    assert len(files) >= 20
    paths = {}
    for file in files:
        font = Font(data=file.read_bytes(), name=file.name)
        text = next(text for text in PHRASES if all(c == " " or font.glyph_of(c) for c in text))
        paths[file.name] = letters(text, font)
    assert judged(paths) <= 1.005  # 1.00 to two places


# what is refused, and what long paths are held to


def test_what_cannot_be_bent_is_said_in_one_line() -> None:
    pointed = Wall(top_radius=40, base_radius=0, height=100)
    for refused, path, tolerance, drop in [
        (
            "design: reaches beyond the point of the cup, drop 140 mm; place it elsewhere",
            polyline([0j, -60j]),
            0.01,
            80,
        ),
        ("design: must be at most 10000 mm, got 20000 mm", polyline([0j, 20000 + 0j]), 0.01, 20),
        ("design: is bent too sharply to be drawn within 0.01 mm; make it smaller", SPIRAL, 0.01, 107),
        ("tolerance: must be at least 1e-08 mm, got 0 mm", SPIRAL, 0, 20),
        ("tolerance: must be at least 1e-08 mm, got -1 mm", SPIRAL, -1, 20),
        ("tolerance: must be a finite number of mm, got nan", SPIRAL, math.nan, 20),
    ]:
        with pytest.raises(CupgeomError) as caught:
            bent(path, Placement(wall=pointed, turn_deg=0, drop=drop), tolerance)
        assert str(caught.value) == refused
    with pytest.raises(CupgeomError) as huge:
        bent(polyline([0j, 9000j]), Placement(wall=pointed, turn_deg=0, drop=107, bend="even"))
    assert str(huge.value) == "design: reaches where the wall would be inf mm in radius; place it elsewhere"


DEEP, SPIRAL = polyline([0j, -60j]), polyline([0j, 8000 + 1j])  # the second goes thousands of times round the tip


@pytest.mark.parametrize("bend", BENDS)
def test_nothing_bends_to_nothing(bend: str) -> None:
    placement = Placement(wall=WALLS["12 degrees"], turn_deg=30, drop=55, bend=bend)
    assert bent(Path(), placement) == Path()
    assert bent(Pen(1j).path(), placement).kinds == b"M"
    assert bent(Pen(1j).close().path(), placement).kinds == b"MZ"


LONG = 500  # segments; more than fit below the size from where arrays are used


def long_path() -> Path:
    path = Pen(-0.0 + 1j)
    for _ in range(LONG):
        path.line(2 + 0j).arc(3 - 1j, 4 + 0j).cubic(5 + 1j, 6 + 2j, -7 + 3j)
    return path.close().path()


def test_a_long_path_is_held_to_the_same_rules_as_a_short_one() -> None:
    path, short = long_path(), Pen(-0.0 + 1j).line(2 + 0j).arc(3 - 1j, 4 + 0j).cubic(5 + 1j, 6 + 2j, -7 + 3j).path()
    affine = Affine(-0.6, 0.8, -0.8, -0.6, 0.8, -0.3)
    moved, brief = path.transformed(affine), short.transformed(affine)
    assert moved.coords == brief.coords[:16] + brief.coords[16:] * LONG
    assert path.transformed(Affine()).coords[:8] == bytes(8)  # −0 made plain
    with pytest.raises(CupgeomError) as beyond:
        path.transformed(Affine.scale(1e308, 1e308))
    assert str(beyond.value) == "path: every coordinate must be a finite number of mm"
    for at, value, what in [
        (-1, math.inf, "every coordinate must be a finite number of mm"),
        (-1, math.nan, "every coordinate must be a finite number of mm"),
        (5, -1.001, "the middle of an arc must lie equally far from its start and its end"),
    ]:
        for given_path in (path, short):
            points = given_path.points.copy().ravel()
            points[at if at < 0 else at - 1] = value if at < 0 else 3 + 1e-5
            with pytest.raises(CupgeomError) as caught:
                Path(given_path.kinds, points.tobytes())
            assert str(caught.value) == f"path: {what}"
