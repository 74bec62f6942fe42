"""Packing: never an overlap, every piece as often as wanted, the same sheets again, and how much room that takes."""

from __future__ import annotations

import cmath
import itertools
import math
from collections import Counter

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cupgeom.drawing import Box, Path, Pen, circle, polyline
from cupgeom.errors import CupgeomError
from cupgeom.sheets.layout import Layout, Placement
from cupgeom.sheets.packing import EFFORTS, pack
from cupgeom.sheets.piece import Part, SheetSize
from cupgeom.sheets.settling import faults

SHEET = SheetSize(width=210, length=297, margin=5, gap=2)
ROLL = SheetSize(width=400, length=None, margin=5, gap=2)


def rectangle(width: float, height: float) -> Path:
    return Box(0.0, 0.0, width, height).outline()


def sector(outer: float, inner: float, angle_deg: float) -> Path:
    def at(radius: float, share: float) -> complex:
        return radius * cmath.exp(1j * (math.pi / 2 + share * math.radians(angle_deg) / 2))

    pen = Pen(at(outer, 1)).arc(at(outer, 0), at(outer, -1)).line(at(inner, -1))
    return pen.arc(at(inner, 0), at(inner, 1)).close().path()


def star(points: int, outer: float, inner: float) -> Path:
    radii = itertools.cycle((outer, inner))
    turns = [cmath.exp(1j * math.pi * i / points) for i in range(2 * points)]
    return polyline([next(radii) * turn for turn in turns], closed=True)


def ell(width: float, height: float, thick: float) -> Path:
    return polyline(
        [0j, width + 0j, width + 1j * thick, thick + 1j * thick, thick + 1j * height, 1j * height], closed=True
    )


def ring(outer: float, inner: float) -> Path:
    return circle(0j, outer) + circle(0j, inner).reversed()


def check(layout: Layout) -> None:
    """No overlap, the gap kept, all in the room, each piece as often as wanted: by shapely, from the true outlines."""
    counts = Counter(place.part for place in layout.placements)
    assert counts == {index: part.count for index, part in enumerate(layout.parts)}
    size, by_sheet = layout.size, {}
    top = math.inf if size.length is None else size.length - size.margin - size.top
    right = size.width - size.margin - size.right
    for place in layout.placements:
        part = layout.parts[place.part]
        shape = part.cut.transformed(place.affine).to_shapely(0.0005)
        assert shape.area == pytest.approx(part.cut.to_shapely(0.0005).area, rel=1e-6)
        left, bottom, east, north = shape.buffer(part.bleed, join_style="mitre").bounds
        assert left >= size.margin + size.left - 0.01
        assert bottom >= size.margin + size.foot - 0.01
        assert east <= right + 0.01
        assert north <= top + 0.01
        by_sheet.setdefault(place.sheet, []).append((shape, part.bleed))
    for shapes in by_sheet.values():
        for (a, ink_a), (b, ink_b) in itertools.combinations(shapes, 2):
            assert a.distance(b) >= size.gap + ink_a + ink_b - 0.01
            assert a.intersection(b).area <= 1e-6


SIDES = st.floats(4, 60)
CUTS = st.one_of(
    st.builds(rectangle, SIDES, SIDES),
    st.builds(lambda w, h: ell(w, h, min(w, h) / 3), SIDES, SIDES),
    st.builds(lambda n, r, q: star(n, r, q * r), st.integers(3, 9), st.floats(4, 30), st.floats(0.3, 0.8)),
    st.builds(lambda r, q, a: sector(r, q * r, a), st.floats(20, 90), st.floats(0.3, 0.9), st.floats(10, 60)),
    st.builds(lambda r, q: ring(r, q * r), st.floats(5, 30), st.floats(0.3, 0.9)),
)
PARTS = st.builds(
    lambda cut, count, rotate, bleed: Part(name="piece", cut=cut, count=count, may_rotate=rotate, bleed=bleed),
    CUTS,
    st.integers(1, 3),
    st.booleans(),
    st.sampled_from([0.0, 0.0, 1.5]),
)


@given(
    st.lists(PARTS, min_size=1, max_size=5),
    st.sampled_from([0.0, 0.37, 2.0, 5.0]),
    st.sampled_from([None, 120.0, 297.0]),
)
@settings(max_examples=12)
def test_pieces_never_touch_and_none_is_lost(parts, gap, length):
    check(pack(parts, SheetSize(width=148, length=length, margin=5, gap=gap), effort="quick"))


def test_the_check_of_a_layout_can_fail():
    part = Part(name="tile", cut=rectangle(10, 10), count=2)
    places = [Placement(part=0, sheet=0, angle_deg=0, at=complex(x, 20)) for x in (20, 31.5)]
    layout = Layout(size=SHEET, parts=(part,), placements=tuple(places))
    with pytest.raises(AssertionError):
        check(layout)
    assert faults(layout.outlines(0), SHEET.room, 2) == ["pieces 1 and 2 are 1.500 mm apart, 2 mm are asked"]
    assert faults(layout.outlines(0), SHEET.room, 1.5) == []
    assert faults(layout.outlines(0), Box(21, 0, 100, 100), 0) == ["piece 1 lies outside the room"]


def test_the_same_pieces_give_the_same_sheets():
    parts = [Part(name="star", cut=star(5, 20, 9), count=5), Part(name="wrap", cut=sector(150, 110, 40), count=3)]
    assert pack(parts, SHEET) == pack(list(parts), SHEET)


def test_more_effort_is_never_worse():
    parts = [Part(name="ell", cut=ell(50, 70, 15), count=3), Part(name="star", cut=star(5, 16, 7), count=2)]
    layouts = [pack(parts, ROLL, effort=effort) for effort in EFFORTS]
    for layout in layouts:
        check(layout)
    lengths = [layout.length for layout in layouts]
    assert lengths == sorted(lengths, reverse=True)


# Closed forms ---------------------------------------------------------------------------------------------------------


def stacked(outer: float, inner: float, angle_deg: float, count: int, gap: float) -> float:
    """Height of equal sectors one on the other (FINDINGS, Algorithms), the lower one's outer arc a gap larger."""
    x = inner * math.sin(math.radians(angle_deg) / 2)
    pitch = math.sqrt((outer + gap) ** 2 - x * x) - math.sqrt(inner * inner - x * x)
    return outer - inner * math.cos(math.radians(angle_deg) / 2) + (count - 1) * pitch


def test_the_formula_of_the_stack_is_the_least_pitch_at_which_sectors_are_a_gap_apart():
    whole = sector(390, 260, 50).to_shapely(0.0005)
    pitch = stacked(390, 260, 50, 2, 2) - stacked(390, 260, 50, 1, 2)
    assert shapely.affinity.translate(whole, 0, pitch).distance(whole) == pytest.approx(2, abs=0.001)


@pytest.mark.parametrize(("outer", "inner", "angle_deg"), [(390, 260, 50), (600, 480, 33), (320, 150, 63)])
def test_five_equal_wraps_take_no_more_than_the_formulas_stack(outer, inner, angle_deg):
    layout = pack([Part(name="wrap", cut=sector(outer, inner, angle_deg), count=5)], ROLL)
    check(layout)
    assert layout.length <= 1.03 * stacked(outer, inner, angle_deg, 5, 2)


def test_wraps_that_may_not_turn_are_stacked_as_the_formula_says():
    part = Part(name="wrap", cut=sector(390, 260, 50), count=5, may_rotate=False)
    layout = pack([part], ROLL, effort="quick")
    check(layout)
    assert {place.angle_deg for place in layout.placements} == {0.0}
    assert layout.length == pytest.approx(stacked(390, 260, 50, 5, 2), rel=0.002)


def test_tiles_that_fill_a_sheet_to_the_last_tenth_are_all_on_it():
    """3 x 4 tiles of 65.33 x 70.25 mm and gaps of 2 mm are 200 x 287 mm, the whole room."""
    layout = pack([Part(name="tile", cut=rectangle(196 / 3, 281 / 4), count=12)], SHEET)
    check(layout)
    assert layout.sheets == 1
    assert layout.used_length(0) == pytest.approx(287, abs=0.05)
    assert layout.used_share == pytest.approx(12 * 196 / 3 * 281 / 4 / (200 * 287), rel=1e-3)


def test_a_piece_as_large_as_the_room_fits():
    layout = pack([Part(name="whole", cut=rectangle(200, 287))], SHEET)
    check(layout)
    assert (layout.sheets, layout.used_share) == (1, pytest.approx(1))


def test_a_piece_that_fits_only_turned_is_turned():
    layout = pack([Part(name="banner", cut=rectangle(280, 50))], SHEET)
    check(layout)
    assert layout.placements[0].angle_deg in (90, 270)


def test_two_ells_embrace():
    """Boxes would take 40 + 2 + 40 mm of a room 40 mm wide; an ell and the same upside down in it take 52."""
    size = SheetSize(width=50, length=None, margin=0, gap=2)
    layout = pack([Part(name="ell", cut=ell(40, 40, 10), count=2)], size)
    check(layout)
    assert layout.length <= 62


def test_a_hole_holds_what_fits_into_it():
    parts = [Part(name="ring", cut=ring(40, 30)), Part(name="disc", cut=circle(0j, 25))]
    layout = pack(parts, SheetSize(width=90, length=None, margin=5, gap=2))
    check(layout)
    assert layout.length == pytest.approx(80, abs=0.01)


def test_sheets_are_as_few_as_can_be():
    """Two tiles of 100 x 140 mm a row and two rows a sheet: nine tiles need three sheets."""
    layout = pack([Part(name="tile", cut=rectangle(99, 142), count=9)], SHEET, effort="quick")
    check(layout)
    assert layout.sheets == 3
    assert [len(layout.on(sheet)) for sheet in range(3)] == [4, 4, 1]
    assert layout.length == pytest.approx(2 * 287 + 99, abs=0.01)  # the last tile lies down
    assert str(layout) == "9 pieces on 3 sheets, 94 % used"  # 9·99·142 / (200·(2·287 + 99)) = 0.93999


# Progress, stopping, refusals -----------------------------------------------------------------------------------------


def test_progress_is_told_and_a_stop_leaves_the_best_so_far():
    parts = [Part(name="star", cut=star(5, 20, 9), count=6)]
    told: list[tuple[int, int]] = []
    whole = pack(parts, SHEET, progress=lambda done, total: told.append((done, total)))
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert {total for _, total in told} == {len(told)}
    for after in (0, 1, 20):
        asked = iter(range(1000))
        stopped = pack(parts, SHEET, stop=lambda asked=asked, after=after: next(asked) >= after)
        check(stopped)
        assert (stopped.sheets, stopped.length) >= (whole.sheets, whole.length)
        assert next(asked) == after + 1  # it is not asked again after it said so


@pytest.mark.parametrize(
    ("part", "size", "message"),
    [
        (
            Part(name="wrap of the tumbler", cut=rectangle(300, 170)),
            SHEET,
            "media: a sheet of 210 x 297 mm has 200 mm x 287 mm free,"
            " but wrap of the tumbler is 300.0 x 170.0 mm; 310 x 180 mm or a roll 180 mm wide would do",
        ),
        (
            Part(name="banner", cut=rectangle(280, 50), may_rotate=False),
            SHEET,
            "media: a sheet of 210 x 297 mm has 200 mm x 287 mm free,"
            " but banner is 280.0 x 50.0 mm and may not be turned; 290 x 60 mm or a roll 290 mm wide would do",
        ),
        (
            Part(name="wrap", cut=rectangle(500, 395), bleed=3),
            ROLL,
            "media: a roll 400 mm wide has 390 mm free, but wrap is 506.0 x 401.0 mm with its bleed;"
            " 516 x 411 mm or a roll 411 mm wide would do",
        ),
    ],
)
def test_a_medium_that_cannot_hold_a_piece_is_refused(part, size, message):
    with pytest.raises(CupgeomError) as caught:
        pack([Part(name="dot", cut=circle(0j, 5)), part], size)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"name": ""}, "name: must not be empty"),
        ({"count": 0}, "count: must be a whole number from 1 to 100000, got 0"),
        ({"count": -1}, "count: must be a whole number from 1 to 100000, got -1"),
        ({"count": True}, "count: must be a whole number from 1 to 100000, got True"),
        ({"count": 100_001}, "count: must be a whole number from 1 to 100000, got 100001"),
        ({"bleed": -1.0}, "bleed: must be at least 0 mm, got -1 mm"),
        ({"bleed": math.nan}, "bleed: must be a finite number of mm, got nan"),
        ({"cut": polyline([0j, 1 + 0j, 1j])}, "cut: must be a closed outline"),
        ({"cut": polyline([0j, 1 + 0j], closed=True)}, "cut: must enclose an area"),
        ({"cut": Path()}, "cut: must be a closed outline"),
    ],
)
def test_a_part_that_cannot_be_made_is_refused(fields, message):
    with pytest.raises(CupgeomError) as caught:
        Part(**{"name": "piece", "cut": rectangle(5, 5)} | fields)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"width": 0.0}, "width: must be greater than 0 mm, got 0 mm"),
        ({"width": 6000.0}, "width: must be at most 5000 mm, got 6000 mm"),
        ({"length": -1.0}, "length: must be greater than 0 mm, got -1 mm"),
        ({"gap": -0.1}, "gap: must be at least 0 mm, got -0.1 mm"),
        ({"gap": math.inf}, "gap: must be a finite number of mm, got inf"),
        ({"margin": 105.0}, "margin: of 105 mm leaves nothing of a sheet of 210 x 297 mm"),
        ({"foot": -1.0}, "foot: must be at least 0 mm, got -1 mm"),
    ],
)
def test_a_medium_that_cannot_be_is_refused(fields, message):
    with pytest.raises(CupgeomError) as caught:
        SheetSize(**{"width": 210.0, "length": 297.0} | fields)
    assert str(caught.value) == message


def test_nothing_to_place_and_unknown_efforts_are_refused():
    with pytest.raises(CupgeomError, match=r"^parts: must hold at least one piece$"):
        pack([], SHEET)
    with pytest.raises(CupgeomError, match=r"^effort: must be one of quick, usual, dense, got 'most'$"):
        pack([Part(name="dot", cut=circle(0j, 5))], SHEET, effort="most")


def test_a_layout_holds_every_part_as_often_as_it_is_wanted():
    part = Part(name="dot", cut=circle(0j, 5), count=2)
    first = Placement(part=0, sheet=0, angle_deg=0, at=20 + 20j)
    with pytest.raises(CupgeomError, match=r"^placements: must hold every part exactly as often as it is wanted$"):
        Layout(size=SHEET, parts=(part,), placements=(first,))
    with pytest.raises(CupgeomError, match=r"^placements: must leave out no sheet$"):
        Layout(size=SHEET, parts=(part,), placements=(first, Placement(part=0, sheet=2, angle_deg=0, at=40j)))
