"""The wrap template: laws that hold for any cup, and what the pieces of a wrap are."""

from __future__ import annotations

import math
import os
import subprocess
import sys

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cupgeom import Cup, Foot, Handle, Ring, Span, Template
from cupgeom.drawing import Arc, Line, Path, Shape, Text
from cupgeom.pages import FIT, Page, parse_paper
from cupgeom.template import SEAMS, Piece, caption_notices, document
from cupgeom.writers import pdf, svg

from .apex import Apex
from .mugs import kept_out, mugs
from .strategies import frusta

MUG = Handle(feet=(Foot(width=14, top=15, bottom=30), Foot(width=14, top=65, bottom=80)))


def tumbler(**changes: object) -> Template:
    """The reference tumbler of CHECKS section 8: rim 88, base 70, height 170 mm."""
    return Template(cup=Cup.frustum(88, 70, 170, name="tumbler"), **changes)  # type: ignore[arg-type]


def polygon(path: Path) -> shapely.Geometry:
    rings = [[(p.real, p.imag) for p in ring] for ring in path.flattened(1e-4)]
    return shapely.Polygon(rings[0], rings[1:])


def only_piece(template: Template) -> Piece:
    (piece,) = template.pieces
    return piece


def texts(page: Page) -> list[str]:
    return [leaf.text for leaf in page.drawing.leaves() if isinstance(leaf, Text)]


def points_inside(shape: shapely.Geometry, count: int, seed: int) -> NDArray[np.complex128]:
    left, bottom, right, top = shape.bounds
    random = np.random.default_rng(seed)
    points = random.uniform(left, right, count) + 1j * random.uniform(bottom, top, count)
    return points[shapely.contains_xy(shape, points.real, points.imag)]


@given(mugs(), st.sampled_from(SEAMS), st.booleans(), st.floats(0, 12), st.integers(0, 10))
@settings(max_examples=60)
def test_nothing_printable_lies_in_a_hard_keep_out(cup, seam, closed, lip, seed):
    cup = Cup(rings=cup.rings, handle=cup.handle, bare_lip=lip)
    assume(closed or kept_out(cup, *np.meshgrid(math.pi, np.linspace(lip, cup.slant, 200))).any())
    template = Template(cup=cup, trim=Span(top=0, bottom=cup.slant), seam=seam, closed=closed, bleed=0, safe=0)
    printable = polygon(only_piece(template).printable)
    edge = np.array([p for ring in only_piece(template).printable.flattened(0.001) for p in ring])
    turn, drop = Apex.of(cup).rolled(np.concatenate([points_inside(printable, 400, seed), edge]))
    assert not kept_out(cup, turn, drop, slack=1e-9).any()
    assert drop.min() >= lip - 1e-9
    assert drop.max() <= cup.slant + 1e-9


@given(mugs())
@settings(max_examples=40)
def test_printable_area_is_all_that_the_keep_outs_leave(cup):
    """Area of a closed wrap without a tab: 2·∫ρ(π − δ) over the drops, less at most 0.01 mm along the notches."""
    template = Template(cup=cup, closed=True, seam="butt", bleed=0, safe=0)
    drops = np.linspace(0, cup.slant, 40_001)
    radius, half = Apex.of(cup).radius(drops), np.zeros_like(drops)
    clear = cup.handle.clearance
    for foot in cup.handle.feet:
        level = (drops >= foot.top - clear) & (drops <= foot.bottom + clear)
        half = np.maximum(half, level * np.arcsin(np.minimum(1, (foot.width / 2 + clear) / radius)))
    free = np.trapezoid(2 * radius * (math.pi - half), drops)
    step = 2 * len(cup.handle.feet) * 2 * math.pi * radius.max() * cup.slant / 40_000  # edges between two drops
    around = 2 * cup.slant + 4 * len(cup.handle.feet) * math.pi * radius.max()
    assert abs(abs(only_piece(template).printable.area()) - free) <= 0.01 * around + step


@given(frusta(), st.sampled_from(SEAMS), st.floats(0.1, 6))
@settings(max_examples=80)
def test_bleed_is_the_same_distance_outside_the_trim_everywhere_with_mitred_corners(cup, seam, bleed):
    assume(flat_enough(cup))
    piece = only_piece(Template(cup=cup, seam=seam, overlap=5.0, bleed=bleed, safe=0))
    assert_bled(piece, bleed)
    assert piece.bleed.kinds == piece.cut.kinds  # side for side, so no corner is rounded or cut off


@given(mugs(), st.sampled_from(SEAMS), st.floats(0.1, 5))
@settings(max_examples=40)
def test_bleed_keeps_its_distance_round_a_handle_too(cup, seam, bleed):
    assert_bled(only_piece(Template(cup=cup, closed=True, seam=seam, overlap=5.0, bleed=bleed, safe=0)), bleed)


def assert_bled(piece: Piece, bleed: float) -> None:
    """The cut line never touched, nothing nearer than the bleed, and beside every side just that far away.

    A point beside a side that comes nearer to another side is no part of the bleed's edge. A dent that the bleed nearly
    closes, as in the slot of a handle, may be closed altogether.
    """
    cut, bled = polygon(piece.cut), polygon(piece.bleed)
    assert shapely.contains_properly(bled, cut)
    edge = np.array([p for ring in piece.bleed.flattened(0.01) for p in ring])
    assert shapely.distance(cut.exterior, shapely.points(edge.real, edge.imag)).min() >= bleed - 0.006
    near = 0.006 + (0.01 * bleed if piece.blank.notches else 0)  # GEOS, called where slots close, is that coarse
    free = missed = 0.0
    for segment in piece.cut.segments():
        for t in (0.1, 0.3, 0.5, 0.7, 0.9):  # the outline runs clockwise, so outside is on its left
            outside = segment.point(t) + 1j * bleed * segment.velocity(t) / abs(segment.velocity(t))
            point = shapely.Point(outside.real, outside.imag)
            if shapely.distance(cut, point) >= bleed - 1e-3:
                free += segment.length()
                missed += segment.length() * (shapely.distance(bled.boundary, point) > near)
    assert free > 3 * piece.cut.length()  # of 5
    assert missed <= (0.06 * free if piece.blank.notches else 0)


def flat_enough(cup: Cup) -> bool:
    """Whether the wrap leaves 35° of its disc free, and its bleed the apex."""
    k = abs(Apex.of(cup).slope)
    smaller = min(cup.rings[0].diameter, cup.rings[-1].diameter) / 2
    return 360 * k < 325 and (k == 0 or smaller / k > 40)


def test_bleed_of_a_sector_has_its_arcs_and_edges_moved():
    piece = only_piece(tumbler(seam="butt"))
    k = 9 / math.hypot(170, 9)
    radii = sorted(segment.radius for segment in piece.bleed.segments() if isinstance(segment, Arc))
    assert radii == pytest.approx([35 / k - 3, 44 / k + 3], rel=1e-12)  # DESIGN: arcs P₁ − b and P₂ + b
    for line in (segment for segment in piece.bleed.segments() if isinstance(segment, Line)):
        towards = (line.end - line.start) / abs(line.end - line.start)
        apex = -1j * 44 / k
        assert abs(((apex - line.start) * towards.conjugate()).imag) == pytest.approx(3, abs=1e-9)


@given(mugs(), st.floats(0.5, 4))
@settings(max_examples=30)
def test_safe_margin_keeps_its_distance_inside_the_printable_outline(cup, safe):
    piece = only_piece(Template(cup=cup, closed=True, seam="continued", bleed=0, safe=safe))
    printable = polygon(piece.printable)
    inside = np.array([p for ring in piece.safe.flattened(0.01) for p in ring])
    points = shapely.points(inside.real, inside.imag)
    assert shapely.covers(printable.buffer(1e-6), points).all()
    assert shapely.distance(printable.exterior, points).min() >= safe - 0.006


@given(frusta())
@settings(max_examples=60)
def test_a_butt_wrap_covers_the_lateral_area(cup):
    assume(flat_enough(cup))
    top, base = (ring.diameter / 2 for ring in cup.rings)
    area = math.pi * (top + base) * math.hypot(cup.height, top - base)  # Machinery's Handbook, 31st ed., p. 90
    assert abs(only_piece(Template(cup=cup, seam="butt", bleed=0, safe=0)).cut.area()) == pytest.approx(area, rel=1e-11)


@given(mugs())
@settings(max_examples=40)
def test_the_two_seam_edges_are_equally_long(cup):
    piece = only_piece(Template(cup=cup, closed=True, seam="butt", bleed=0, safe=0))
    seams = Apex.of(cup).flat(np.array([-math.pi, math.pi]), 0.0)
    lengths = []
    for top in seams:
        down = np.conj(Apex.of(cup).flat(math.pi if top.real > 0 else -math.pi, cup.slant) - top)
        on_it = [s for s in piece.cut.segments() if all(abs(((p - top) * down).imag) < 1e-6 for p in s)]
        lengths.append(sum(segment.length() for segment in on_it))
    assert lengths[0] == pytest.approx(lengths[1], abs=1e-9)
    free = ~kept_out(cup, np.full(20_001, math.pi), np.linspace(0, cup.slant, 20_001))
    assert lengths[0] == pytest.approx(free.mean() * cup.slant, abs=0.1)


@given(frusta(), st.floats(4, 12), st.sampled_from(["blank", "continued"]))
@settings(max_examples=60)
def test_the_tab_is_as_wide_at_top_and_base_and_its_corners_are_cut_45_degrees_by_2_mm(cup, overlap, seam):
    assume(flat_enough(cup))
    assume(overlap < 0.8 * min(cup.rings[0].diameter, cup.rings[-1].diameter) / 2 / max(abs(Apex.of(cup).slope), 0.1))
    cut = only_piece(Template(cup=cup, overlap=overlap, seam=seam, bleed=0, safe=0)).cut
    wall = Apex.of(cup)
    foot, top = wall.flat(math.pi, np.array([cup.slant, 0.0]))
    up = (top - foot) / abs(top - foot)
    corners = [(segment.end - top) / up for segment in cut.segments()]  # up is real, to the right of the seam is −imag
    tab = sorted((z.real, -z.imag) for z in corners if z.imag < -1e-3 and abs(z.imag) < 20)

    def level(drop: float, aside: float) -> float:
        """How far up the edge line a level line is at a distance beside the edge."""
        away = wall.radius(drop) / wall.slope if wall.slope else math.inf  # from the apex, signed
        sunk = aside**2 / (away + math.copysign(math.sqrt(away**2 - aside**2), away)) if wall.slope else 0.0
        return -drop - sunk

    expected = [
        (level(cup.slant, overlap - 2), overlap - 2),
        (level(cup.slant, overlap) + 2, overlap),
        (level(0.0, overlap) - 2, overlap),
        (level(0.0, overlap - 2), overlap - 2),
    ]
    assert np.array(tab) == pytest.approx(np.array(sorted(expected)), abs=1e-8)


def test_trim_printed_and_coated_are_three_ranges():
    cup = Cup.frustum(88, 70, 170, coated=Span(top=5, bottom=165))
    template = Template(cup=cup, trim=Span(top=10, bottom=160), printed=Span(top=30, bottom=120), seam="butt")
    piece, wall = only_piece(template), Apex.of(cup)
    for path, span in ((piece.cut, (10, 160)), (piece.printable, (30, 120))):
        drops = wall.rolled([p for ring in path.flattened(0.001) for p in ring])[1]
        assert (drops.min(), drops.max()) == pytest.approx(span, abs=1e-3)
    bare = Template(cup=Cup.frustum(88, 70, 170), trim=template.trim, printed=template.printed, seam="butt")
    assert only_piece(bare).cut == piece.cut  # where resin goes moves neither blade nor ink


def test_printed_range_ends_at_the_trim_and_at_the_bare_lip():
    cup = Cup.frustum(80, 80, 100, bare_lip=12)
    template = Template(cup=cup, trim=Span(top=5, bottom=90), printed=Span(top=0, bottom=100))
    assert (template.printed_span.top, template.printed_span.bottom) == (12, 90)


def test_default_trim_goes_from_the_bare_lip_to_the_base_clearance():
    template = Template(cup=Cup.frustum(80, 80, 100, bare_lip=12), base_clearance=4)
    assert (template.trim_span.top, template.trim_span.bottom) == (12, 96)


@pytest.mark.parametrize("size", [(88, 70, 170), (70, 88, 170), (80, 80, 100)])
def test_the_gap_of_an_open_wrap_is_measured_where_the_wall_is_narrowest(size):
    cup = Cup.frustum(*size)
    piece = only_piece(Template(cup=cup, gap=20))
    turn, _ = Apex.of(cup).rolled([p for ring in piece.cut.flattened(0.01) for p in ring])
    narrowest = min(size[:2]) / 2
    assert (2 * math.pi - (turn.max() - turn.min())) * narrowest == pytest.approx(20, abs=1e-9)
    assert piece.seams_rad == (None, None)


def test_a_gap_never_uncovers_a_handle():
    cup = Cup.frustum(82, 82, 95, handle=MUG)
    narrow, wide = (only_piece(Template(cup=cup, gap=gap)).blank.right_rad for gap in (1, 60))
    assert narrow == pytest.approx(math.pi - math.asin(10 / 41), abs=1e-12)
    assert wide == pytest.approx(math.pi - 30 / 41, abs=1e-12)


def test_a_handle_opens_the_wrap_unless_it_comes_off_or_stands_outside_the_trim():
    cup = Cup.frustum(82, 82, 95, handle=MUG)
    off = Handle(feet=MUG.feet, removable=True)
    assert not Template(cup=cup).is_closed
    assert Template(cup=cup, trim=Span(top=34, bottom=61)).is_closed
    loose, plain = (Template(cup=Cup.frustum(82, 82, 95, handle=handle)) for handle in (off, None))
    assert loose.is_closed
    assert loose.pieces == plain.pieces


def test_the_wall_under_the_arch_of_a_handle_is_printable():
    cup = Cup.frustum(82, 78, 95, handle=MUG)
    printable = polygon(only_piece(Template(cup=cup, closed=True)).printable)
    places = Apex.of(cup).flat(np.radians([-179.9, 179.9, -175, 175]), 47.5)
    assert shapely.contains_xy(printable, places.real, places.imag).all()
    feet = Apex.of(cup).flat(np.radians([-179.9, 179.9]), np.array([[22.0], [72.0]])).ravel()
    assert not shapely.contains_xy(printable, feet.real, feet.imag).any()


def test_the_rim_band_clips_nothing_and_gives_one_notice():
    with_band, without = tumbler(), tumbler(rim_band=0)
    assert with_band.pieces == without.pieces
    assert len(with_band.notices) == 1
    assert without.notices == ()
    assert tumbler(trim=Span(top=20, bottom=160)).notices == ()
    assert [notice.what.split(" mm")[0] for notice in tumbler(rim_band=12.5).notices] == ["the top 12.5"]


def test_rim_band_is_counted_from_the_top_edge_of_the_cup_on_every_wall():
    rings = (Ring(diameter=90, height=50), Ring(diameter=88, height=40), Ring(diameter=70, height=0))
    cup = Cup(rings=rings)
    lower = Template(cup=cup, wall_index=1)
    assert lower.rim_span is not None
    assert lower.rim_span.length == pytest.approx(20 - math.hypot(10, 1))
    assert "wall 2 of 2 · closed wrap" in " ".join(texts(document(lower, FIT).pages[0]))


def test_a_cut_only_output_holds_the_cut_line_and_nothing_else():
    for settings_ in ({"purpose": "cut"}, {"purpose": "pattern", "notes": False}, {"purpose": "film", "notes": False}):
        (page,) = document(tumbler(), FIT, **settings_).pages
        assert [(item.role, item.name) for item in page.drawing.leaves()] == [("cut", "trim")]
        box = page.drawing.items[0].path.bounds()
        assert (page.width - box.width, page.height - box.height) == pytest.approx((10.3, 10.3), abs=0.01)


def test_caption_says_what_the_wrap_is():
    """CHECKS F1: diameters 8 and 5 in, height 4 in → flat radii 11.39 and 7.12 in, angle 126.4°."""
    cup = Cup.frustum(8 * 25.4, 5 * 25.4, 4 * 25.4, name="Net of a frustum")
    (page,) = document(Template(cup=cup), FIT, inches=True).pages
    words = " ".join(texts(page))
    assert "Net of a frustum: wrap template rim 8 in" in words
    assert "rim 8 in · base 5 in · height 4 in · slant 4.272 in" in words  # slant √(4² + 1.5²)
    assert "flat radii 11.392 in and 7.12 in, angle 126.4" in words
    assert "area 87.24 in²" in words  # π·(4 + 2.5)·4.272
    assert "closed wrap, blank tab 0.315 in" in words
    assert "bleed 0.118 in · safe 0.118 in" in words
    assert "Print at 100 %, do not fit to page; then measure the bars." in words


def test_caption_of_a_cylinder_calls_it_straight_and_of_a_mug_names_its_clearance():
    words = {}
    for name, template in {
        "cylinder": Template(cup=Cup.frustum(80, 80, 100), seam="butt", base_clearance=2),
        "mug": Template(cup=Cup.frustum(82, 78, 95, handle=MUG), closed=True),
    }.items():
        (page,) = document(template, parse_paper("a3")).pages
        words[name] = " ".join(texts(page))
    assert "closed wrap, butt seam" in words["cylinder"]
    assert "flat form straight" in words["cylinder"]
    assert "base clearance 2 mm" in words["cylinder"]
    assert "handle clearance 3 mm" in words["mug"]
    assert "Close hatching: no ink here." in words["mug"]
    assert "Close hatching" not in words["cylinder"]


def test_legend_lists_the_lines_that_occur_and_no_others():
    def legend(template: Template, **settings_: object) -> set[str]:
        pages = document(template, parse_paper("a3"), **settings_).pages
        names = [leaf.name for leaf in pages[0].drawing.leaves() if isinstance(leaf, Shape)]
        return {name.removeprefix("legend: ") for name in names if name.startswith("legend: ")}

    assert legend(tumbler()) == {"trim", "bleed", "safe margin", "seam", "quarter line"}
    assert legend(tumbler(seam="butt", bleed=0)) == {"trim", "safe margin", "quarter line"}
    assert legend(tumbler(), purpose="film") == {"trim", "bleed"}


def test_names_that_the_font_lacks_give_a_notice():
    template = Template(cup=Cup.frustum(80, 80, 100, name="Kométa 彗星"))
    assert [str(notice) for notice in caption_notices(template)] == [
        "name: the caption's font has no 彗 星; it prints as ?; the cup keeps its name"
    ]
    assert caption_notices(tumbler()) == ()


SAME_BYTES = """
import hashlib
from cupgeom import Cup, Foot, Handle, Template
from cupgeom.pages import parse_paper
from cupgeom.template import document
from cupgeom.writers import pdf, svg
feet = (Foot(width=14, top=15, bottom=30), Foot(width=20, top=65, bottom=80))
cup = Cup.frustum(82, 78, 95, name="mug", handle=Handle(feet=feet))
pages = document(Template(cup=cup, closed=True, seam="continued"), parse_paper("a5"))
files = [pdf.render(pages), *(svg.render(page) for page in pages.split())]
print(len(files), hashlib.sha256(b"".join(files)).hexdigest())
"""


def test_same_input_gives_the_same_bytes_in_other_processes_too():
    results = {
        subprocess.run(
            [sys.executable, "-c", SAME_BYTES],
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(results) == 1
    assert results.pop().startswith("3 ")  # two tiles on a5, each as SVG, and the PDF


@given(frusta(), st.sampled_from(["a3", "fit", "roll 610mm"]))
@settings(max_examples=10)
def test_same_template_gives_the_same_bytes(cup, paper):
    assume(flat_enough(cup))

    def made() -> list[bytes]:
        pages = document(Template(cup=cup, safe=0), parse_paper(paper))
        return [pdf.render(pages), *map(svg.render, pages.split())]

    assert made() == made()


def test_a_plain_wrap_loads_neither_numpy_nor_shapely():
    script = """
import sys
from cupgeom import Cup, Template
from cupgeom.pages import parse_paper
from cupgeom.template import document
from cupgeom.writers import pdf
pdf.render(document(Template(cup=Cup.frustum(88, 70, 170, name="tumbler")), parse_paper("a4")))
print(sorted({name.split(".")[0] for name in sys.modules} & {"numpy", "shapely"}))
"""
    result = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True, text=True)
    assert result.stdout == "[]\n"
