"""A printed film in panels: where it is split, and what each panel has of its own."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError, Foot, Handle, Span, Template
from cupgeom.drawing import Shape, Text
from cupgeom.pages import Document, parse_paper
from cupgeom.template import document
from cupgeom.template.document import front_in_the_middle

from .apex import Apex
from .test_template import MUG, assert_bled, polygon, texts

TUMBLER = Cup.frustum(88, 70, 170, name="tumbler")


def film(cup: Cup, paper: str, **changes: object) -> Document:
    return document(Template(cup=cup, **changes), parse_paper(paper), purpose="film")  # type: ignore[arg-type]


def test_a_film_that_fits_is_not_split():
    assert len(film(TUMBLER, "a3").pages) == 1


def test_a_film_is_split_into_the_fewest_panels_of_which_one_holds_the_front_well():
    pages = film(TUMBLER, "a4").pages
    assert [page.name for page in pages] == ["1", "2"]
    titles = [next(text for text in texts(page) if "wrap template" in text) for page in pages]
    assert titles == ["tumbler: wrap template · panel 1 of 2", "tumbler: wrap template · panel 2 of 2"]
    assert ["front 0°" in texts(page) for page in pages] == [True, False]


@pytest.mark.parametrize("seam", ["blank", "continued", "butt"])
def test_panels_together_cover_the_wrap_each_with_its_own_seam_and_bleed(seam):
    template = Template(cup=TUMBLER, seam=seam, splits_deg=(60.0, -60.0, 180.0))
    pieces = template.pieces
    assert [piece.name for piece in pieces] == ["panel 1 of 3", "panel 2 of 3", "panel 3 of 3"]
    turns = [-math.pi, math.radians(-60), math.radians(60), math.pi]
    assert [piece.seams_rad for piece in pieces] == [pytest.approx(pair) for pair in pairwise(turns)]
    wall = Apex.of(TUMBLER)
    slant, tab = wall.slant, 0.0 if seam == "butt" else 8.0
    # a tab is almost a parallelogram between two arcs: its width × the slant, less two corners of 2 mm²
    whole = math.pi * (44 + 35) * slant + 3 * (tab * slant - 4.0 * bool(tab))
    assert sum(abs(piece.cut.area()) for piece in pieces) == pytest.approx(whole, abs=1.5 * bool(tab) + 1e-6)
    for piece in pieces:
        assert_bled(piece, 3.0)
        assert piece.blank.tab == tab


def test_panels_of_an_open_wrap_have_seams_between_them_and_none_at_the_ends():
    template = Template(cup=TUMBLER, gap=20, splits_deg=(0.0,))
    left, right = template.pieces
    assert left.seams_rad == (None, 0.0)
    assert right.seams_rad == (0.0, None)
    assert (left.blank.tab, right.blank.tab) == (8.0, 0.0)


def test_seam_ticks_of_neighbouring_panels_meet():
    pages = document(Template(cup=TUMBLER, splits_deg=(-60.0, 60.0)), parse_paper("a4")).pages
    template = Template(cup=TUMBLER, splits_deg=(-60.0, 60.0))
    wall, found = Apex.of(TUMBLER), []
    for page, piece in zip(pages, template.pieces, strict=True):
        paths = {leaf.name: [] for leaf in page.drawing.leaves() if isinstance(leaf, Shape)}
        for leaf in page.drawing.leaves():
            if isinstance(leaf, Shape):
                paths[leaf.name].append(leaf.path.points @ [1, 1j])
        on_page, on_sheet = paths["trim"][0], piece.cut.points @ [1, 1j]
        turn = (on_sheet[1] - on_sheet[0]) / (on_page[1] - on_page[0])
        ticks = [wall.rolled(on_sheet[0] + (tick - on_page[0]) * turn) for tick in paths["seam tick"]]
        left = sorted(tick[1][0] for tick in ticks if abs(tick[0][0] - piece.blank.left_rad) < 1e-9)
        right = sorted(tick[1].mean() for tick in ticks if abs(tick[0].mean() - piece.blank.right_rad) < 1e-3)
        found.append((left, right))
    assert [len(drops) for pair in found for drops in pair] == [3] * 6
    for (_, right), (left, _) in zip(found, found[1:] + found[:1], strict=True):
        assert right == pytest.approx(left, abs=0.01)


def test_panels_keep_clear_of_a_handle():
    cup = Cup.frustum(100, 90, 150, handle=MUG)
    template = Template(cup=cup, closed=True, splits_deg=(0.0,))
    for piece, side in zip(template.pieces, (-1, 1), strict=True):
        printable = polygon(piece.printable)
        foot = Apex.of(cup).flat(side * math.radians(178), 22.0)
        assert not printable.contains(polygon_point(foot))
        assert printable.contains(polygon_point(Apex.of(cup).flat(side * math.radians(178), 47.5)))


def polygon_point(point: complex) -> shapely.Point:
    return shapely.Point(complex(point).real, complex(point).imag)


CUPS = st.tuples(st.floats(50, 120), st.floats(50, 120), st.floats(60, 170))
FEET = st.one_of(st.none(), st.just(MUG), st.just(Handle(feet=(Foot(width=40, top=10, bottom=50),))))


@given(CUPS, FEET, st.booleans(), st.sampled_from(["blank", "continued", "butt"]), st.sampled_from(["a4", "letter"]))
@settings(max_examples=25)
def test_a_film_always_finds_panels_that_its_paper_holds(size, handle, closed, seam, paper):
    rim, base, height = size
    assume(height > 85)
    cup = Cup.frustum(rim, base, height, handle=handle)
    template = Template(cup=cup, closed=closed if handle else None, seam=seam, safe=0)
    pages = document(template, parse_paper(paper), purpose="film").pages
    for page in pages:
        for item in page.drawing.items:
            box = item.bounds()
            assert min(box.left, box.bottom, page.width - box.right, page.height - box.top) >= 5 - 0.2
    fronts = [page for page in pages if any(text == "front 0°" for text in texts(page))]
    assert len(fronts) == 1


@given(st.sampled_from([180, 166, 150, 90]), st.integers(20, 180).map(lambda half: 2 * half), st.integers(15, 40))
@settings(max_examples=60)
def test_no_other_split_has_fewer_panels_or_leaves_more_room_round_the_front(end, widest, narrowest):
    """Against a search over all splits at whole degrees; ends and widths are even, so that the best lie on them."""
    narrowest += narrowest % 2
    assume(widest < 2 * end and narrowest < widest / 2)
    splits = front_in_the_middle(-end, end, widest, narrowest)
    widths = np.diff([-end, *splits, end])
    assert widths.min() >= narrowest - 0.01
    assert widths.max() <= widest + 0.01
    count, clear = searched(end, widest, narrowest)
    assert len(widths) == count
    assert min(map(abs, splits)) == pytest.approx(clear, abs=0.01)


def searched(end: int, widest: int, narrowest: int) -> tuple[int, int]:
    """The fewest parts of −end…end, and the farthest from 0 that all splits can then lie, by trying every degree."""
    for count in range(2, 40):
        for clear in range(end, -1, -1):
            reached = np.zeros(2 * end + 1, bool)
            reached[0] = True
            for _ in range(count - 1):
                sums = np.cumsum(np.concatenate([[0], reached]))
                at = np.arange(2 * end + 1)
                first, last = np.maximum(at - widest, 0), np.maximum(at - narrowest + 1, 0)
                reached = (sums[last] - sums[first] > 0) & (np.abs(at - end) >= clear)
            gap = 2 * end - np.flatnonzero(reached)
            if ((gap >= narrowest) & (gap <= widest)).any():
                return count, clear
    raise AssertionError("no split found")


def test_no_split_is_found_where_twelve_panels_are_too_few():
    assert front_in_the_middle(-180, 180, 29, 15) == ()
    assert len(front_in_the_middle(-180, 180, 30, 15)) == 11


@pytest.mark.parametrize(
    ("cup", "changes", "message"),
    [
        (
            Cup.frustum(88, 70, 300),
            {},
            "paper: a4 is too small for panels of this wrap; use larger paper",
        ),
        (
            TUMBLER,
            {"splits_deg": (150.0,)},
            "paper: a4 cannot hold panel 1 of 2, about 267 x 186 mm with its bleed;"
            " use larger paper or split it at more turns",
        ),
    ],
)
def test_panels_that_the_paper_cannot_hold_are_refused(cup, changes, message):
    with pytest.raises(CupgeomError) as caught:
        film(cup, "a4", **changes)
    assert str(caught.value) == message


def test_a_film_has_nothing_inside_its_trim():
    for page in film(TUMBLER, "a4", seam="continued", trim=Span(top=5, bottom=160)).pages:
        leaves = list(page.drawing.leaves())
        (cut,) = (leaf.path for leaf in leaves if leaf.role == "cut")
        inside = polygon(cut)
        for leaf in leaves:
            if leaf.role != "cut":
                path = leaf.outline() if isinstance(leaf, Text) else leaf.path
                for ring in path.flattened(0.1):
                    assert not any(inside.contains(polygon_point(p)) for p in ring)
