"""The SVG writer, judged by svgpathtools, ElementTree and two renderers."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest
import svgpathtools
from hypothesis import given
from hypothesis import strategies as st
from mpmath import mp, mpc
from reportlab.pdfbase.ttfonts import TTFont

from cupgeom import CupgeomError
from cupgeom.drawing import Arc, Box, Clipped, Shape, Stroke, Text, circle, path_of, polyline
from cupgeom.pages import Correction, Document
from cupgeom.writers import pdf, svg

from .readback import FONT_FILES, SVG, dark, extent, image_pixels, pdf_pixels, svg_paths, svg_pixels, svg_root
from .sample_document import (
    CENTRE,
    COLOURS,
    INNER,
    OUTER,
    arc,
    bars,
    colours,
    corner,
    nearly_straight,
    page_of,
    sample,
    sector,
)

PX_PER_MM = 300 / 25.4  # CHECKS V4
ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=40)  # control characters and lone surrogates too


def drawn(*segments: Arc, height: float = 400.0) -> Document:
    return page_of(Shape(path=path_of(segments), role="cut", stroke=Stroke()), width=400.0, height=height)


def test_page_has_paper_size_in_mm_and_user_units_of_one_mm():
    root = svg_root(svg.render(sample()))  # CHECKS V1: A4 is 210 × 297 mm
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("210mm", "297mm", "0 0 210 297")


def test_one_group_a_role_in_the_order_of_roles_with_id_and_title():
    groups = svg_root(svg.render(sample())).findall(f"{SVG}g")
    assert [group.get("id") for group in groups] == ["white", "print", "cut", "guide", "note"]
    assert [group.findtext(f"{SVG}title") for group in groups] == ["white", "print", "cut", "guide", "note"]


def test_document_and_named_shapes_have_titles():
    root = svg_root(svg.render(sample()))
    assert root[0].tag == f"{SVG}title" and root[0].text == "Comet cup <ø 88>"
    assert [path.findtext(f"{SVG}title") for path in root.iter(f"{SVG}path") if len(path)] == [
        "printed range",
        "trim line",
        "bar",
    ]


def test_ids_are_unique_and_every_reference_stays_inside_the_file():
    root = svg_root(svg.render(sample()))
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids)) == 7  # five roles, two clips
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags == {"svg", "title", "defs", "clipPath", "g", "path", "text"}  # so no script, style, image, link
    for element in root.iter():
        for name, value in element.attrib.items():
            assert "href" not in name and not name.startswith("on")
            assert "url" not in value or value.removeprefix("url(#").removesuffix(")") in ids


@pytest.mark.parametrize(
    ("centre", "start_deg", "sweep_deg", "source", "flags", "length"),
    [  # CHECKS V8, V9: W3C, SVG 1.1, section 8.3.8, the path example; angles here are y up, so the signs turn over
        (300 + 200j, 180, 270, "M300,200 h-150 a150,150 0 1,0 150,-150", (True, False), 706.858347),
        (275 + 225j, 90, 90, "M275,175 v-150 a150,150 0 0,0 -150,150", (False, False), 235.619449),
    ],
)
def test_arcs_of_the_specification_are_written_with_its_own_flags(centre, start_deg, sweep_deg, source, flags, length):
    (path,) = svg_paths(svg.render(drawn(arc(centre, 150, start_deg, sweep_deg))), "cut")
    (read,) = path
    theirs = svgpathtools.parse_path(source)[1]
    assert (read.large_arc, read.sweep) == flags == (theirs.large_arc, theirs.sweep)
    assert read.radius == pytest.approx(150 + 150j, rel=1e-9)
    assert [read.start, read.end, read.center] == pytest.approx([theirs.start, theirs.end, theirs.center], abs=1e-9)
    assert (read.theta % 360, read.delta) == pytest.approx((theirs.theta % 360, theirs.delta), abs=1e-7)
    assert read.delta == pytest.approx(-sweep_deg) and read.length() == pytest.approx(length, abs=1e-6)


def test_sweep_flag_tells_clockwise_from_anticlockwise():
    there, back = arc(200 + 200j, 50, 10, 100), arc(200 + 200j, 50, 110, -100)
    for given_arc, flag in ((there, False), (back, True)):  # SVG 1.1, 8.3.8: sweep-flag 1 is clockwise to the eye
        (read,) = svg_paths(svg.render(drawn(given_arc)), "cut")[0]
        assert read.sweep is flag
        assert read.point(0.5) == pytest.approx(complex(given_arc.middle.real, 400 - given_arc.middle.imag), abs=1e-8)


@given(
    st.floats(min_value=1, max_value=400),
    st.floats(min_value=-1.5, max_value=3).map(lambda power: 10.0**power),
    st.booleans(),
)
def test_radius_is_that_of_the_circle_through_the_three_points(chord: float, slimness: float, left: bool):
    sagitta = chord / slimness / 8 * (1 if left else -1)  # from 330° to a radius of 1000 chords
    given_arc = Arc(10 + 200j, 10 + chord / 2 + (200 + sagitta) * 1j, 10 + chord + 200j)
    (path,) = svg_paths(svg.render(drawn(given_arc)), "cut")
    mp.dps = 50
    a, b, c = mpc(given_arc.start), mpc(given_arc.middle), mpc(given_arc.end)
    exact = abs(b - a) * abs(c - b) * abs(a - c) / (2 * abs(((b - a) * (c - a).conjugate()).imag))  # abc / (4 · area)
    for piece in path:
        assert isinstance(piece, svgpathtools.Arc)
        assert abs(piece.radius.real / exact - 1) < 1e-9 and abs(piece.radius.imag / exact - 1) < 1e-9
    middle = complex(given_arc.middle.real, 400 - given_arc.middle.imag)
    assert min(abs(piece.point(t) - middle) for piece in path for t in (0, 0.5, 1)) < 1e-6


@pytest.mark.parametrize("sweep_deg", [179, 179.99, 180, 180.01, 181, 350, 355, 359.9999])
def test_arcs_near_half_and_whole_turns_stay_on_their_circle(sweep_deg):
    (path,) = svg_paths(svg.render(drawn(arc(200 + 200j, 60, 20, sweep_deg))), "cut")
    points = [piece.point(t / 16) for piece in path for t in range(17)]
    assert max(abs(abs(point - (200 + 200j)) - 60) for point in points) < 1e-6
    assert path.length() == pytest.approx(math.radians(sweep_deg) * 60, abs=1e-6)


def test_a_circle_is_never_one_arc():
    (path,) = svg_paths(svg.render(page_of(Shape(path=circle(50 + 50j, 20), role="cut", stroke=Stroke()))), "cut")
    assert len(path) > 1 and path.length() == pytest.approx(40 * math.pi, abs=1e-9)


def test_y_is_down_in_the_file_and_the_wrap_stands_where_it_was_drawn():
    (path,) = svg_paths(svg.render(page_of(Shape(path=sector(), role="cut", stroke=Stroke()))), "cut")
    radii = [piece.radius.real for piece in path if isinstance(piece, svgpathtools.Arc)]
    assert radii == pytest.approx([OUTER, INNER], rel=1e-9)
    top, centre = path.point(path.ilength(math.pi / 6 * OUTER)), complex(CENTRE.real, 297 - CENTRE.imag)
    assert top == pytest.approx(centre - OUTER * 1j, abs=1e-6)  # the outer edge's middle is above the centre


@given(st.lists(st.complex_numbers(max_magnitude=1e4), min_size=2, max_size=6))
def test_coordinates_keep_a_nanometre_thousandth_and_no_silly_digits(points):
    data = svg.render(page_of(Shape(path=polyline(points), role="cut", stroke=Stroke())))
    text = next(svg_root(data).iter(f"{SVG}path")).get("d")
    numbers = re.findall(r"[^MLZ ]+", text)
    for number in numbers:
        assert re.fullmatch(r"-?(0|[1-9]\d*)(\.\d{0,9}[1-9])?", number) and number != "-0"
    read = [complex(float(x), 297 - float(y)) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    assert max(abs(a - b) for a, b in zip(read, points, strict=True)) < 1e-9


def test_an_arc_of_enormous_radius_is_a_cubic():
    data = svg.render(nearly_straight())
    (path,) = svg_paths(data, "cut")
    assert [type(piece) for piece in path] == [svgpathtools.CubicBezier]
    assert "A" not in next(svg_root(data).iter(f"{SVG}path")).get("d")


def test_an_arc_of_enormous_radius_draws_as_the_straight_edge_it_is():
    width, height = extent(dark(svg_pixels(svg.render(nearly_straight()))))
    assert abs(width - 170 * PX_PER_MM) <= 1 and abs(height - PX_PER_MM) <= 1


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="rsvg-convert is not installed")
def test_librsvg_draws_the_enormous_arc_too():
    command = ["rsvg-convert", "--dpi-x=300", "--dpi-y=300"]
    done = subprocess.run(command, input=svg.render(nearly_straight()), capture_output=True, check=True)
    width, height = extent(dark(image_pixels(done.stdout)))
    assert done.stderr == b"" and abs(width - 170 * PX_PER_MM) <= 1 and abs(height - PX_PER_MM) <= 1


def test_a_bar_of_100_mm_is_100_mm_long_when_rendered():
    black = dark(svg_pixels(svg.render(bars())))
    across, along = black[-round(11 * PX_PER_MM) :, round(15 * PX_PER_MM) :], black[: -round(15 * PX_PER_MM), :]
    assert abs(extent(across)[0] - 100 * PX_PER_MM) <= 1
    assert abs(extent(along)[1] - 100 * PX_PER_MM) <= 1


def test_a_printer_correction_stretches_the_page_about_its_centre():
    correction = Correction(across=100 / 99.2, along=100 / 100.4)
    data = svg.render(bars(correction=correction))
    black = dark(svg_pixels(data))
    across, along = black[-round(13 * PX_PER_MM) :, round(15 * PX_PER_MM) :], black[: -round(15 * PX_PER_MM), :]
    assert abs(extent(across)[0] * 99.2 / 100 - 100 * PX_PER_MM) <= 1  # the printer gives 99.2 for 100
    assert abs(extent(along)[1] * 100.4 / 100 - 100 * PX_PER_MM) <= 1
    columns = np.flatnonzero(across.any(axis=0)) + round(15 * PX_PER_MM)
    assert abs(columns[0] - (76.2 - 56.2 * 100 / 99.2) * PX_PER_MM) <= 1  # from the page's centre
    outer = svg_root(data).findall(f"{SVG}g")
    assert len(outer) == 1 and [group.get("id") for group in outer[0]] == ["note"]


def test_the_correction_leaves_arcs_true():
    document = page_of(Shape(path=sector(), role="cut", stroke=Stroke()), correction=Correction(across=1.01))
    (path,) = svg_paths(svg.render(document), "cut")
    assert [piece.radius for piece in path if isinstance(piece, svgpathtools.Arc)] == pytest.approx(
        [OUTER * (1 + 1j), INNER * (1 + 1j)], rel=1e-9
    )


def test_no_correction_needs_no_transform():
    assert all("transform" not in group.attrib for group in svg_root(svg.render(bars())).iter(f"{SVG}g"))


def test_dashes_are_as_long_as_they_say():
    line = Shape(path=polyline([10 + 10j, 50 + 10j]), role="guide", stroke=Stroke(width=2, dashes=(6, 4)))
    black = dark(svg_pixels(svg.render(page_of(line, width=60.0, height=20.0))))
    row = black[round(10 * PX_PER_MM)]
    edges = np.flatnonzero(np.diff(row.astype(int))) + 1
    assert edges / PX_PER_MM == pytest.approx([10, 16, 20, 26, 30, 36, 40, 46], abs=1 / PX_PER_MM)


def test_a_corner_of_20_degrees_ends_in_a_point():
    columns = np.flatnonzero(dark(svg_pixels(svg.render(corner()))).any(axis=0))
    tip = 30 + 1 / math.sin(math.radians(10))  # SVG 1.1, 11.4, stroke-miterlimit: half the width over sin(angle/2)
    assert columns[-1] / PX_PER_MM == pytest.approx(tip, abs=0.3)


def clipped_square() -> Clipped:
    """A square and a word, cut by a band and by a nested disc of radius 10 at (30, 30)."""
    fill = Shape(path=Box(0, 0, 60, 60).outline(), role="print", fill=(0.0, 0.0, 0.0))
    inner = Clipped(clip=circle(30 + 30j, 10), items=(fill, Text(text="word", at=30 + 30j)))
    return Clipped(clip=Box(25, 0, 60, 60).outline(), items=(inner,))


def test_nested_clips_show_only_what_both_leave():
    data = svg.render(page_of(clipped_square().items[0], clipped_square(), width=60.0, height=60.0))
    only_nested = svg.render(page_of(clipped_square(), width=60.0, height=60.0))
    assert abs(extent(dark(svg_pixels(data)))[0] - 20 * PX_PER_MM) <= 2
    assert abs(extent(dark(svg_pixels(only_nested)))[0] - 15 * PX_PER_MM) <= 2


def test_a_clip_is_defined_once_and_used_in_each_role_for_its_own_items():
    root = svg_root(svg.render(page_of(clipped_square(), width=60.0, height=60.0)))
    assert [clip.get("id") for clip in root.iter(f"{SVG}clipPath")] == ["clip-1", "clip-2"]
    for role, inside, outside in (("print", "path", "text"), ("note", "text", "path")):
        group = root.find(f"{SVG}g[@id='{role}']")
        assert [g.get("clip-path") for g in group.iter(f"{SVG}g")] == [None, "url(#clip-1)", "url(#clip-2)"]
        assert len(list(group.iter(SVG + inside))) == 1 and not list(group.iter(SVG + outside))


def test_fill_stroke_and_text_have_their_colours():
    pixels = svg_pixels(svg.render(colours()))
    for (x, y), colour in COLOURS.items():
        assert tuple(pixels[round((40 - y) * PX_PER_MM), round(x * PX_PER_MM)]) == colour


def test_even_odd_fill_leaves_the_hole_and_non_zero_fills_it():
    ring = Shape(path=circle(20 + 20j, 10) + circle(20 + 20j, 5), role="white", fill=(0.0, 0.0, 0.0))
    for even_odd in (True, False):
        black = dark(svg_pixels(svg.render(page_of(replace(ring, even_odd=even_odd), width=40.0, height=40.0))))
        assert bool(black[black.shape[0] // 2, black.shape[1] // 2]) is not even_odd


@pytest.mark.parametrize("bold", [False, True])
def test_text_is_as_long_as_the_font_file_says(bold):
    line = Text(text="Rim 88 mm, größe ½", at=20 + 20j, size=5, bold=bold)
    element = next(svg_root(svg.render(page_of(line))).iter(f"{SVG}text"))
    font = TTFont("judge", FONT_FILES[bold])
    assert float(element.get("textLength")) == pytest.approx(font.stringWidth(line.text, 5), rel=1e-4)
    assert element.get("font-family") == "Bitstream Vera Sans, Verdana, DejaVu Sans, sans-serif"
    assert (element.get("font-size"), element.get("lengthAdjust")) == ("5", "spacingAndGlyphs")
    assert element.get("font-weight") == ("bold" if bold else None)


@pytest.mark.parametrize(
    ("angle_deg", "anchor", "left", "right", "below", "above"),
    [  # how far the ink of a line 20 mm long and 4 mm high may reach from its anchor
        (0, "start", 0, 20, 1, 4),
        (0, "middle", 10, 10, 1, 4),
        (0, "end", 20, 0, 1, 4),
        (90, "start", 4, 1, 0, 20),
        (90, "end", 4, 1, 20, 0),
        (180, "start", 20, 0, 4, 1),
        (-90, "start", 1, 4, 20, 0),
    ],
)
def test_text_runs_from_its_anchor_in_its_direction(angle_deg, anchor, left, right, below, above):
    line = Text(text="HHHHHHHH", at=30 + 30j, size=5, anchor=anchor, angle_deg=angle_deg)
    line = replace(line, size=5 * 20 / line.width)
    rows, columns = np.nonzero(dark(svg_pixels(svg.render(page_of(line, width=60.0, height=60.0)))))
    x, y = columns / PX_PER_MM - 30, 30 - rows / PX_PER_MM
    assert -left - 0.2 <= x.min() and x.max() <= right + 0.2 and -below - 0.2 <= y.min() and y.max() <= above + 0.2
    assert max(np.ptp(x), np.ptp(y)) > 18


def test_runs_of_spaces_keep_their_width():
    plain, spaced = Text(text="a b", at=5 + 5j), Text(text="a  b", at=5 + 5j)
    elements = [next(svg_root(svg.render(page_of(line))).iter(f"{SVG}text")) for line in (plain, spaced)]
    space = "{http://www.w3.org/XML/1998/namespace}space"
    assert [element.get(space) for element in elements] == [None, "preserve"]


@given(ANY_TEXT, ANY_TEXT, ANY_TEXT)
def test_any_text_makes_well_formed_xml_that_says_the_same(title: str, name: str, words: str):
    items = (Shape(path=circle(5 + 5j, 1), role="cut", stroke=Stroke(), name=name), Text(text=words, at=1 + 1j))
    root = svg_root(svg.render(replace(page_of(*items), title=title)))
    read = root.findtext(f"{SVG}title"), root.findtext(f".//{SVG}path/{SVG}title"), root.findtext(f".//{SVG}text")
    assert read == (as_xml(title), as_xml(name) if name else None, as_xml(words))


def as_xml(text: str) -> str:
    """What XML 1.0 (fifth edition) can say: production 2 for characters, section 2.11 for line ends."""

    def allowed(code: int) -> bool:
        return code in (0x9, 0xA, 0xD) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000

    kept = "".join(char if allowed(ord(char)) else "\N{REPLACEMENT CHARACTER}" for char in text)
    return kept.replace("\r\n", "\n").replace("\r", "\n")


def test_more_pages_than_one_are_refused():
    document = replace(sample(), pages=sample().pages * 3)
    with pytest.raises(CupgeomError) as caught:
        svg.render(document)
    assert str(caught.value) == "pages: are 3, but one SVG holds one page; write a PDF, or one SVG for each page"


def test_same_document_same_bytes():
    assert svg.render(sample()) == svg.render(sample())


def test_resvg_and_pdfium_draw_the_same_page():
    ours, theirs = dark(svg_pixels(svg.render(sample()), 150)), dark(pdf_pixels(pdf.render(sample()), 150))
    for black, other in ((ours, theirs), (theirs, ours)):
        rows, columns = np.nonzero(black)
        near = [(row, column) for row in (-2, -1, 0, 1, 2) for column in (-2, -1, 0, 1, 2)]
        found = np.any([other[rows + row, columns + column] for row, column in near], axis=0)
        assert np.count_nonzero(black) > 10_000 and np.mean(found) > 0.999
