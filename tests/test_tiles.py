"""Paper patterns over several pages, put together again as a maker does: by their registration marks."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import product

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import affinity

from cupgeom import Cup, CupgeomError, Foot, Handle, Template
from cupgeom.drawing import Clipped, Drawing, Path, Shape, Text
from cupgeom.pages import FIT, Document, Frame, Page, Placed, fits, parse_paper, tiled
from cupgeom.template import document
from cupgeom.writers import pdf

from .readback import pdf_outlines

MUG = Handle(feet=(Foot(width=14, top=15, bottom=30), Foot(width=14, top=65, bottom=80)))
CUPS = {
    "tumbler": Cup.frustum(88, 70, 170, name="tumbler"),
    "bowl": Cup.frustum(150, 60, 120),
    "upside down": Cup.frustum(60, 110, 150),
    "cylinder": Cup.frustum(90, 90, 240),
    "mug": Cup.frustum(90, 80, 95, handle=MUG),
}
SETS = [
    ("tumbler", "a4"),
    ("tumbler", "a5"),
    ("bowl", "letter"),
    ("upside down", "a5"),
    ("cylinder", "a4"),
    ("mug", "a5"),
]


@dataclass(frozen=True)
class Tile:
    """A page taken apart: what shows through its window, and where its marks are."""

    page: Page
    window: tuple[float, float, float, float]
    cut: Path
    marks: NDArray[np.complex128]

    @classmethod
    def of(cls, page: Page) -> Tile:
        clipped = page.drawing.items[0]
        assert isinstance(clipped, Clipped)
        inside = [leaf for leaf in clipped.items if isinstance(leaf, Shape)]
        (cut,) = (shape.path for shape in inside if shape.role == "cut")
        marks = [shape.path.bounds().centre for shape in inside if shape.name == "registration mark"]
        return cls(page, tuple(clipped.clip.bounds()), cut, np.array(marks, complex))

    @property
    def place(self) -> tuple[int, int]:
        """Row and column from the name, A1 at the top left."""
        letter, column = re.fullmatch(r"(?:\d+-)?([A-Z])(\d+)", self.page.name).groups()
        return ord(letter) - ord("A"), int(column) - 1


def pattern(name: str, paper: str, **changes: object) -> Document:
    template = Template(cup=CUPS[name], closed=True, **changes)  # type: ignore[arg-type]
    return document(template, parse_paper(paper))


def joined(pages: Document) -> dict[tuple[int, int], tuple[Tile, complex]]:
    """Each tile with the shift that lays its marks on those of its neighbours; found from mark to mark."""
    tiles = {tile.place: tile for tile in map(Tile.of, pages.pages)}
    shifts = {next(iter(tiles)): 0j}
    while len(shifts) < len(tiles):
        before = len(shifts)
        for here, there in [(a, b) for a in shifts for b in tiles if b not in shifts and is_next(a, b)]:
            if there not in shifts:
                shifts[there] = shifts[here] + step_by_marks(tiles[here], tiles[there])
        assert len(shifts) > before, "every tile touches another"
    return {place: (tiles[place], shifts[place]) for place in tiles}


def is_next(a: tuple[int, int], b: tuple[int, int]) -> bool:
    return abs(a[0] - b[0]) + abs(a[1] - b[1]) == 1


def step_by_marks(here: Tile, there: Tile) -> complex:
    """The shift that lays a neighbour's marks on this tile's; both pairs of marks must agree on it."""
    down, right = there.place[0] - here.place[0], there.place[1] - here.place[1]
    outward = complex(right, -down)
    pairs = []
    for tile, way in ((here, outward), (there, -outward)):
        reach = (tile.marks * way.conjugate()).real
        pairs.append(sorted(tile.marks[reach > reach.max() - 1e-6], key=lambda mark: (mark.real, mark.imag)))
    assert len(pairs[0]) == len(pairs[1]) == 2
    (first, second), (one, other) = pairs
    assert abs((first - one) - (second - other)) < 1e-9
    return first - one


@pytest.mark.parametrize(("name", "paper"), SETS)
def test_tiles_joined_at_their_marks_give_the_outline_of_the_single_page(name, paper):
    (single,) = document(Template(cup=CUPS[name], closed=True), FIT).pages
    (whole,) = (leaf.path for leaf in single.drawing.leaves() if leaf.role == "cut")
    expected = whole.points @ [1, 1j]
    tiles = joined(pattern(name, paper))
    assert len(tiles) > 1
    outlines = [tile.cut.points @ [1, 1j] + shift for tile, shift in tiles.values()]
    turn = (outlines[0][1] - outlines[0][0]) / (expected[1] - expected[0])
    assert abs(turn) == pytest.approx(1, abs=1e-9)
    for outline in outlines:
        away = outline - (outlines[0][0] + (expected - expected[0]) * turn)
        assert np.abs(away).max() < 1e-6


@pytest.mark.parametrize(("name", "paper"), SETS)
def test_every_part_of_the_cut_line_and_of_the_bleed_shows_on_a_page(name, paper):
    tiles = joined(pattern(name, paper))
    windows = [shapely.box(*tile.window) for tile, _ in tiles.values()]
    moved = [affinity.translate(w, s.real, s.imag) for w, (_, s) in zip(windows, tiles.values(), strict=True)]
    tile, shift = next(iter(tiles.values()))
    ring = [(p.real, p.imag) for p in tile.cut.flattened(0.001)[0]]
    piece = affinity.translate(shapely.Polygon(ring), shift.real, shift.imag)
    assert shapely.union_all(moved).buffer(1e-6).covers(piece.buffer(2.9))


@pytest.mark.parametrize(("name", "paper"), SETS)
def test_neighbours_share_strips_of_10_mm_and_are_named_row_by_row_from_the_top_left(name, paper):
    tiles = joined(pattern(name, paper))
    names = [tile.page.name for tile, _ in tiles.values()]
    assert names == sorted(names)
    left = {place: tile.window[0] + shift.real for place, (tile, shift) in tiles.items()}
    top = {place: tile.window[3] + shift.imag for place, (tile, shift) in tiles.items()}
    for a, b in [(a, b) for a in tiles for b in tiles if is_next(a, b) and a < b]:
        window = tiles[a][0].window
        if a[0] == b[0]:
            assert left[a] + (window[2] - window[0]) - left[b] == pytest.approx(10, abs=1e-9)
            assert top[a] == pytest.approx(top[b], abs=1e-9)
        else:
            assert top[b] - (top[a] - (window[3] - window[1])) == pytest.approx(10, abs=1e-9)
            assert left[a] == pytest.approx(left[b], abs=1e-9)


@pytest.mark.parametrize(("name", "paper"), SETS)
def test_each_page_has_its_number_and_a_map_with_itself_marked(name, paper):
    pages = pattern(name, paper).pages
    names = {f"page map {page.name}" for page in pages}
    for order, page in enumerate(pages, start=1):
        leaves = list(page.drawing.leaves())
        title = " ".join(leaf.text for leaf in leaves if isinstance(leaf, Text) and leaf.bold)
        assert f"page {order} of {len(pages)}, tile {page.name}" in title
        maps = {leaf.name: leaf for leaf in leaves if isinstance(leaf, Shape) and leaf.name.startswith("page map")}
        assert set(maps) == names
        assert [name for name, shape in maps.items() if shape.fill] == [f"page map {page.name}"]
        places = {Tile.of(p).place: maps[f"page map {p.name}"].path.bounds().centre for p in pages}
        for a, b in [(a, b) for a in places for b in places if is_next(a, b) and a < b]:
            step = places[b] - places[a]
            assert (step.real > 0.5 and abs(step.imag) < 1e-9) if a[0] == b[0] else (step.imag < -0.5)


@pytest.mark.parametrize(("name", "paper"), SETS)
def test_trim_box_is_that_of_the_cut_line_on_its_page_and_bleed_box_goes_3_mm_beyond(name, paper):
    for tile in map(Tile.of, pattern(name, paper).pages):
        ring = tile.cut.flattened(1e-4)[0]
        line = shapely.LinearRing([(p.real, p.imag) for p in ring])
        shown = shapely.intersection(line, shapely.box(*tile.window))
        assert tuple(tile.page.trim_box) == pytest.approx(shown.bounds, abs=0.0035)  # 0.01 pt
        assert tuple(tile.page.bleed_box) == pytest.approx(shapely.box(*shown.bounds).buffer(3).bounds, abs=0.0035)


def test_a_tile_inside_the_wrap_has_no_trim_of_its_own():
    cup = Cup.frustum(260, 240, 900)
    pages = document(Template(cup=cup), parse_paper("a4")).pages
    inner = [page for page in pages if not shapely.intersects(window_of(page), ring_of(page))]
    assert inner
    for page in inner:
        assert tuple(page.trim_box) == tuple(page.bleed_box) == (0, 0, page.width, page.height)


def window_of(page: Page) -> shapely.Polygon:
    return shapely.box(*Tile.of(page).window)


def ring_of(page: Page) -> shapely.LinearRing:
    return shapely.LinearRing([(p.real, p.imag) for p in Tile.of(page).cut.flattened(0.01)[0]])


def test_the_pdf_clips_each_tile_to_its_window_and_holds_the_same_marks():
    pages = pattern("tumbler", "a5")
    data = pdf.render(pages)
    for index, tile in enumerate(map(Tile.of, pages.pages)):
        lines = pdf_outlines(data, index)
        window = next(line for line in lines if line.paint == "W")
        xs, ys = ({round(value, 4) for p in window.points(1) for value in [part(p)]} for part in (real, imag))
        assert (min(xs), min(ys), max(xs), max(ys)) == pytest.approx(tile.window, abs=1e-4)
        circles = [line for line in lines if line.width == 0.12 and line.segments and len(line.segments[0]) == 4]
        centres = [np.mean([segment[0] for segment in circle.segments]) for circle in circles]
        assert sorted(centres, key=key) == pytest.approx(sorted(tile.marks, key=key), abs=1e-5)


def real(point: complex) -> float:
    return point.real


def imag(point: complex) -> float:
    return point.imag


def key(point: complex) -> tuple[float, float]:
    return round(point.real, 3), round(point.imag, 3)


SIZES = st.tuples(st.floats(50, 150), st.floats(50, 150), st.floats(60, 260))


@given(SIZES, st.sampled_from(["a4", "a5", "letter"]))
@settings(max_examples=15)
def test_no_turn_of_the_pattern_needs_fewer_pages(size, paper):
    template, sheet = Template(cup=Cup.frustum(*size), safe=0), parse_paper(paper)
    cut = template.pieces[0].cut
    shape = shapely.Polygon([(p.real, p.imag) for p in cut.flattened(0.5)[0]])
    placed = Placed(drawing=Drawing((Shape(path=cut, role="cut"),)), cut=cut)
    frame = Frame(title="", notes=False)
    assume(not fits(placed, sheet, frame))
    pages = tiled(placed, sheet, frame)
    room = sheet.width - 10, sheet.length - 10  # margins of 5 mm
    for angle in range(0, 180, 5):
        turned = affinity.rotate(shape, angle, origin=(0, 0))
        assert len(pages) <= min(pages_at(turned, turned.bounds, way) for way in (room, room[::-1]))


def pages_at(shape: shapely.Polygon, bounds: tuple[float, ...], room: tuple[float, float]) -> int:
    """How many tiles of a grid in the middle of the bounds hold part of the shape that no neighbour shows."""
    spans = []
    for low, high, size in zip(bounds[:2], bounds[2:], room, strict=True):
        step, count = size - 10, max(1, math.ceil((high - low - 10) / (size - 10)))
        start = (low + high - count * step - 10) / 2
        spans.append(
            [(start + i * step + 10 * (i > 0), start + (i + 1) * step + 10 * (i == count - 1)) for i in range(count)]
        )
    return sum(shapely.box(x, y, x_end, y_end).intersects(shape) for (x, x_end), (y, y_end) in product(*spans))


@given(SIZES, st.sampled_from(["a4", "a5", "letter", "13x19in"]), st.floats(3, 15))
@settings(max_examples=12)
def test_content_stays_within_the_margins(size, paper, margin):
    pages = document(Template(cup=Cup.frustum(*size), safe=0), parse_paper(paper), margin=margin).pages
    for page in pages:
        for item in page.drawing.items:
            box = item.bounds()
            assert box.left >= margin - 0.2  # half the width of a line
            assert box.bottom >= margin - 0.2
            assert box.right <= page.width - margin + 0.2
            assert box.top <= page.height - margin + 0.2


def test_panels_of_a_pattern_that_need_tiles_say_which_panel_they_are():
    pages = pattern("tumbler", "a5", splits_deg=(-60.0, 60.0)).pages
    assert [page.name for page in pages][:2] == ["1-A1", "1-B1"]
    titles = [
        [t.text for t in p.drawing.leaves() if isinstance(t, Text) and t.bold and t.role == "note"] for p in pages
    ]
    assert titles[0][0] == "tumbler: wrap template · panel 1 of 3, page 1 of 2, tile A1"


@pytest.mark.parametrize(
    ("paper", "margin", "message"),
    [
        ("60 x 60mm", 5.0, "paper: 60 x 60 mm leaves no room inside margins of 5 mm and the notes; use larger paper"),
        ("a4", 150.0, "paper: 210 x 297 mm leaves no room inside margins of 150 mm and the notes; use larger paper"),
        (
            "roll 100mm",
            5.0,
            "paper: roll 100mm cannot hold the wrap, about 289 x 187 mm with its bleed; use larger paper",
        ),
    ],
)
def test_paper_too_small_is_refused(paper, margin, message):
    with pytest.raises(CupgeomError) as caught:
        document(Template(cup=CUPS["tumbler"]), parse_paper(paper), margin=margin)
    assert str(caught.value).startswith(message)


def test_a_mistyped_size_that_would_need_hundreds_of_pages_is_refused():
    with pytest.raises(CupgeomError) as caught:
        document(Template(cup=Cup.frustum(8800, 7000, 9000)), parse_paper("a4"))
    assert re.fullmatch(r"paper: a4 would need \d{4} pages; use larger paper", str(caught.value))


@pytest.mark.parametrize(
    ("overlap", "message"),
    [
        (-1.0, r"tile_overlap: must be at least 0 mm, got -1 mm"),
        (math.nan, r"tile_overlap: must be a finite number of mm, got nan"),
        (190.0, r"paper: a4 leaves 192 x 2[\d.]+ mm, too little to tile"),  # 210 mm less two margins and 8 mm
    ],
)
def test_an_overlap_that_is_none_or_leaves_no_tile_is_refused(overlap, message):
    piece = Template(cup=CUPS["tumbler"]).pieces[0]
    shape = Shape(path=piece.cut, role="cut")
    with pytest.raises(CupgeomError) as caught:
        tiled(Placed(drawing=Drawing((shape,)), cut=piece.cut), parse_paper("a4"), Frame(title=""), overlap=overlap)
    assert re.fullmatch(message, str(caught.value))
