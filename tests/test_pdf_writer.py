"""The PDF writer, judged by pikepdf, pypdfium2, qpdf and poppler."""

from __future__ import annotations

import io
import math
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from reportlab.pdfbase.ttfonts import TTFont

from cupgeom import CupgeomError
from cupgeom.drawing import Box, Clipped, Drawing, Shape, Stroke, Text, circle, path_of, polyline
from cupgeom.pages import Correction, Page
from cupgeom.writers import pdf, svg

from .readback import FONT_FILES, MM_PER_POINT, dark, extent, image_pixels, pdf_outlines, pdf_pixels
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


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def boxes(page: Page) -> dict[str, list[float]]:
    """The boxes that the first page of a PDF of this page has, in points."""
    with opened(pdf.render(replace(sample(), pages=(page,)))) as file:
        names = ("/MediaBox", "/CropBox", "/BleedBox", "/TrimBox", "/ArtBox")
        return {name: [float(edge) for edge in file.pages[0].obj[name]] for name in names if name in file.pages[0].obj}


@pytest.mark.parametrize(
    ("width", "height", "points"),
    [
        (210.0, 297.0, (595.27559, 841.88976)),  # CHECKS V1, V2: ISO 216 A4, 1 pt = 1/72 in
        (297.0, 420.0, (297 / 25.4 * 72, 420 / 25.4 * 72)),  # V1, V4: A3
        (8.5 * 25.4, 11 * 25.4, (612, 792)),  # V3: ANSI/ASME Y14.1 A
        (11 * 25.4, 17 * 25.4, (792, 1224)),  # V3: ANSI/ASME Y14.1 B
    ],
)
def test_media_box_is_the_paper_and_the_other_boxes_default_to_it(width, height, points):
    found = boxes(Page(width=width, height=height, drawing=Drawing()))
    whole = pytest.approx([0, 0, *points], abs=1e-5)
    assert found == {"/MediaBox": whole, "/BleedBox": whole, "/TrimBox": whole}  # V5, V6: no CropBox, no ArtBox


def test_trim_and_bleed_boxes_are_the_cut_line_and_3_mm_around_it():
    found = boxes(sample().pages[0])
    # a sector of 60° between radii 130 and 200 mm, centre line upright: its chord is 200 mm, its foot at 130·cos 30°
    trim = [5, 20 + 130 * math.cos(math.pi / 6), 205, 220]
    assert found["/TrimBox"] == pytest.approx([edge / 25.4 * 72 for edge in trim], abs=0.01)
    bleed = [trim[0] - 3, trim[1] - 3, trim[2] + 3, trim[3] + 3]  # CHECKS V7
    assert found["/BleedBox"] == pytest.approx([edge / 25.4 * 72 for edge in bleed], abs=0.01)


@given(st.tuples(*[st.floats(min_value=-300, max_value=500)] * 4), st.floats(min_value=0, max_value=30))
@example((220.0, 260.0, -90.0, -50.0), 3.0)  # wholly off the paper
@settings(max_examples=30)
def test_trim_lies_inside_bleed_inside_media(edges: tuple[float, ...], bleed: float):
    (left, right), (bottom, top) = sorted(edges[:2]), sorted(edges[2:])
    found = boxes(Page(width=200, height=200, drawing=Drawing(), trim=Box(left, bottom, right, top), bleed=bleed))
    trim, around, media = found["/TrimBox"], found["/BleedBox"], found["/MediaBox"]  # CHECKS V6
    assert media[0] <= around[0] <= trim[0] and media[1] <= around[1] <= trim[1]
    assert trim[2] <= around[2] <= media[2] and trim[3] <= around[3] <= media[3]
    assert trim[0] <= trim[2] and trim[1] <= trim[3]


def test_boxes_are_those_of_the_corrected_page():
    found = boxes(replace(sample().pages[0], correction=Correction(across=1.01, along=0.99)))
    top = (148.5 + (220 - 148.5) * 0.99) / 25.4 * 72
    assert found["/TrimBox"][3] == pytest.approx(top, abs=0.01)
    assert found["/TrimBox"][0] == pytest.approx((105 - 100 * 1.01) / 25.4 * 72, abs=0.01)


def test_the_wrap_is_read_back_within_5_micrometres_of_its_circles():
    (outline,) = pdf_outlines(pdf.render(page_of(Shape(path=sector(), role="cut", stroke=Stroke()))))
    curved = replace(outline, segments=[segment for segment in outline.segments if len(segment) == 4]).points(64)
    off = [min(abs(abs(point - CENTRE) - radius) for radius in (OUTER, INNER)) for point in curved]
    assert max(off) < 0.005
    assert max(point.imag for point in curved) == pytest.approx(CENTRE.imag + OUTER, abs=0.005)
    (side,) = (segment for segment in outline.segments if len(segment) == 2)  # the other side is the closing one
    third = complex(-1, math.sqrt(3)) / 2  # the direction at 120°
    assert outline.closed and side == pytest.approx((CENTRE + OUTER * third, CENTRE + INNER * third), abs=1e-5)


@given(
    st.floats(min_value=0, max_value=6).map(lambda power: 10.0**power),
    st.floats(min_value=0, max_value=360),
    st.floats(min_value=0.02, max_value=1),
    st.booleans(),
)
def test_every_point_of_an_arc_lies_within_5_micrometres(radius: float, start_deg: float, share: float, left: bool):
    sweep_deg = min(350.0, math.degrees(1500 / radius)) * share * (1 if left else -1)
    centre = 150 + 150j - radius * np.exp(1j * math.radians(start_deg))
    given_arc = arc(complex(centre), radius, start_deg, sweep_deg)
    (outline,) = pdf_outlines(pdf.render(page_of(Shape(path=path_of([given_arc]), role="cut", stroke=Stroke()))))
    points = np.array(outline.points())
    assert np.max(np.abs(np.abs(points - centre) - radius)) < 0.005
    turns = np.diff(np.unwrap(np.angle((points - centre) / radius)))
    assert np.degrees(np.sum(turns)) == pytest.approx(sweep_deg, abs=math.degrees(1e-4 / radius) + 1e-4)
    assert np.all(turns * math.copysign(1, sweep_deg) > -1e-5 / radius)


def test_a_quarter_circle_of_1_mm_is_the_one_cubic_of_the_textbook():
    (outline,) = pdf_outlines(
        pdf.render(page_of(Shape(path=path_of([arc(50 + 50j, 1, 0, 90)]), role="cut", stroke=Stroke())))
    )
    (cubic,) = outline.segments
    handle = 4 / 3 * math.tan(math.pi / 8)  # CHECKS V12
    assert cubic == pytest.approx((51 + 50j, 51 + (50 + handle) * 1j, 50 + handle + 51j, 50 + 51j), abs=2e-6)
    off = [abs(point - (50 + 50j)) - 1 for point in outline.points(200)]
    assert max(off) == pytest.approx(2.7e-4, abs=0.05e-4) and min(off) > -2e-6  # V12: always outward


@given(st.lists(st.complex_numbers(max_magnitude=1e4), min_size=2, max_size=6))
@settings(max_examples=50)
def test_lines_are_read_back_to_the_micrometre(points: list[complex]):
    (outline,) = pdf_outlines(pdf.render(page_of(Shape(path=polyline(points), role="cut", stroke=Stroke()))))
    read = [outline.start, *(segment[-1] for segment in outline.segments)]
    assert max(abs(a - b) for a, b in zip(read, points, strict=True)) < 2e-6


def test_roles_paints_widths_and_dashes_are_read_back():
    read = pdf_outlines(pdf.render(sample()))
    assert [outline.role for outline in read if outline.paint != "W"] == [
        *("white", "white"),
        *("print", "print"),
        "cut",
        *("guide", "guide", "guide"),
    ]
    assert [outline.paint for outline in read if outline.role == "white"] == ["f*", "f*"]
    assert [
        (outline.width, outline.dashes) for outline in read if outline.role == "guide" and outline.paint == "S"
    ] == [
        (1.0, (5.0, 2.0)),
        (0.5, ()),
        (2.0, ()),
    ]
    assert [outline.clips for outline in read if outline.paint != "W"] == [0, 0, 0, 1, 0, 0, 0, 2]


def test_layers_are_the_roles_that_occur():
    with opened(pdf.render(sample())) as file:
        properties = file.Root.OCProperties
        assert [str(group.Name) for group in properties.OCGs] == ["white", "print", "cut", "guide", "note"]
        assert [str(group.Name) for group in properties.D.Order] == ["white", "print", "cut", "guide", "note"]
        assert file.pdf_version >= "1.5"
    with opened(pdf.render(bars())) as file:
        assert [str(group.Name) for group in file.Root.OCProperties.OCGs] == ["note"]


@pytest.mark.parametrize(("role", "column"), [("cut", 5), ("guide", 15)])
def test_a_layer_can_be_switched_off(role, column):
    items = [
        Shape(path=polyline([x + 2j, x + 18j]), role=kind, stroke=Stroke(width=2))
        for kind, x in (("cut", 5), ("guide", 15))
    ]
    data = pdf.render(page_of(*items, width=20.0, height=20.0))
    with opened(data) as file:
        group = next(group for group in file.Root.OCProperties.OCGs if str(group.Name) == role)
        file.Root.OCProperties.D.OFF = pikepdf.Array([group])
        file.Root.OCProperties.D.ON = pikepdf.Array([other for other in file.Root.OCProperties.OCGs if other != group])
        changed = io.BytesIO()
        file.save(changed)
    for pixels, shown in ((pdf_pixels(data), {5, 15}), (pdf_pixels(changed.getvalue()), {5, 15} - {column})):
        row = dark(pixels)[round(10 * PX_PER_MM)]
        assert {x for x in (5, 15) if row[round(x * PX_PER_MM)]} == shown


def test_a_page_without_items_has_no_layers():
    with opened(pdf.render(page_of())) as file:
        assert "/OCProperties" not in file.Root and len(file.pages) == 1


def test_text_can_be_taken_out_again():
    document = pypdfium2.PdfDocument(pdf.render(sample()))
    text = " ".join(document[0].get_textpage().get_text_bounded().split())
    document.close()
    for line in ("Rim 88 mm, größe ½", "turned 30°", "turned 90 & ended", "clipped on both sides"):
        assert line in text


def test_what_vera_lacks_is_a_question_mark():
    document = pypdfium2.PdfDocument(pdf.render(page_of(Text(text="cup 杯 ok", at=20 + 20j))))
    assert document[0].get_textpage().get_text_bounded().strip() == "cup ? ok"
    document.close()


def test_fonts_are_embedded_subsets_of_vera_and_no_other_font_is_named():
    with opened(pdf.render(sample())) as file:
        fonts = file.pages[0].Resources.Font
        names = sorted(str(font.BaseFont) for font in fonts.values())
        assert [name.split("+")[1] for name in names] == ["BitstreamVeraSans-Bold", "BitstreamVeraSans-Roman"]
        for font in fonts.values():
            assert font.FontDescriptor.FontFile2.read_bytes()[:4] == b"\0\1\0\0"  # a TrueType file begins like this
            letters = font.ToUnicode.read_bytes()
            assert b"<0069>" in letters and b"<0051>" not in letters  # the sample has an i and no Q


@pytest.mark.parametrize("bold", [False, True])
def test_text_is_as_long_as_the_font_file_says(bold):
    line = Text(text="Hamburg", at=10 + 10j, size=8, bold=bold)
    document = pypdfium2.PdfDocument(pdf.render(page_of(line)))
    page = document[0].get_textpage()
    first, last = page.get_charbox(0, loose=True), page.get_charbox(6, loose=True)
    document.close()
    assert first[0] * MM_PER_POINT == pytest.approx(10, abs=0.01)
    width = TTFont("judge", FONT_FILES[bold]).stringWidth(line.text, 8)
    assert (last[2] - first[0]) * MM_PER_POINT == pytest.approx(width, abs=7 * 8 / 1000)  # pdfium drops decimals


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
    rows, columns = np.nonzero(dark(pdf_pixels(pdf.render(page_of(line, width=60.0, height=60.0)))))
    x, y = columns / PX_PER_MM - 30, 30 - rows / PX_PER_MM
    assert -left - 0.2 <= x.min() and x.max() <= right + 0.2 and -below - 0.2 <= y.min() and y.max() <= above + 0.2
    assert max(np.ptp(x), np.ptp(y)) > 18


@pytest.mark.parametrize("correction", [Correction(), Correction(across=100 / 99.2, along=100 / 100.4)])
def test_a_bar_of_100_mm_leaves_the_printer_100_mm_long(correction):
    black = dark(pdf_pixels(pdf.render(bars(correction=correction))))
    across, along = black[-round(13 * PX_PER_MM) :, round(15 * PX_PER_MM) :], black[: -round(15 * PX_PER_MM), :]
    printed = (1.0, 1.0) if correction.is_none else (0.992, 1.004)  # what the printer makes of 1
    assert abs(extent(across)[0] * printed[0] - 100 * PX_PER_MM) <= 1
    assert abs(extent(along)[1] * printed[1] - 100 * PX_PER_MM) <= 1
    columns = np.flatnonzero(across.any(axis=0)) + round(15 * PX_PER_MM)
    assert abs(columns[0] - (76.2 - 56.2 / printed[0]) * PX_PER_MM) <= 1  # from the page's centre


def test_dashes_are_as_long_as_they_say():
    line = Shape(path=polyline([10 + 10j, 50 + 10j]), role="guide", stroke=Stroke(width=2, dashes=(6, 4)))
    black = dark(pdf_pixels(pdf.render(page_of(line, width=60.0, height=20.0))))
    edges = np.flatnonzero(np.diff(black[round(10 * PX_PER_MM)].astype(int))) + 1
    assert edges / PX_PER_MM == pytest.approx([10, 16, 20, 26, 30, 36, 40, 46], abs=1 / PX_PER_MM)


def test_a_corner_of_20_degrees_ends_in_a_point():
    columns = np.flatnonzero(dark(pdf_pixels(pdf.render(corner()))).any(axis=0))
    tip = 30 + 1 / math.sin(math.radians(10))  # ISO 32000-1, 8.4.3.5, mitre limit: half the width over sin(angle/2)
    assert columns[-1] / PX_PER_MM == pytest.approx(tip, abs=0.3)


def test_fill_stroke_and_text_have_their_colours():
    pixels = pdf_pixels(pdf.render(colours()))
    for (x, y), colour in COLOURS.items():
        assert tuple(pixels[round((40 - y) * PX_PER_MM), round(x * PX_PER_MM)]) == colour


def test_even_odd_fill_leaves_the_hole_and_non_zero_fills_it():
    ring = Shape(path=circle(20 + 20j, 10) + circle(20 + 20j, 5), role="white", fill=(0.0, 0.0, 0.0))
    for even_odd in (True, False):
        black = dark(pdf_pixels(pdf.render(page_of(replace(ring, even_odd=even_odd), width=40.0, height=40.0))))
        assert bool(black[black.shape[0] // 2, black.shape[1] // 2]) is not even_odd


def test_nested_clips_show_only_what_both_leave_and_end_with_the_group():
    fill = Shape(path=Box(0, 0, 60, 60).outline(), role="print", fill=(0.0, 0.0, 0.0))
    inner = Clipped(clip=circle(30 + 30j, 10), items=(fill,))
    outer = Clipped(clip=Box(25, 0, 60, 60).outline(), items=(inner,))
    bar = Shape(path=polyline([5 + 5j, 55 + 5j]), role="print", stroke=Stroke())
    width, height = extent(dark(pdf_pixels(pdf.render(page_of(outer, width=60.0, height=60.0)))))
    assert abs(width - 15 * PX_PER_MM) <= 2 and abs(height - 20 * PX_PER_MM) <= 2
    width, _ = extent(dark(pdf_pixels(pdf.render(page_of(outer, bar, width=60.0, height=60.0)))))
    assert abs(width - 50 * PX_PER_MM) <= 2


def test_an_arc_of_enormous_radius_draws_as_the_straight_edge_it_is():
    width, height = extent(dark(pdf_pixels(pdf.render(nearly_straight()))))
    assert abs(width - 170 * PX_PER_MM) <= 1 and abs(height - PX_PER_MM) <= 1


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
def test_poppler_draws_the_enormous_arc_too_and_says_nothing():
    command = ["pdftoppm", "-r", "300", "-png", "-"]
    done = subprocess.run(command, input=pdf.render(nearly_straight()), capture_output=True, check=True)
    width, height = extent(dark(image_pixels(done.stdout)))
    assert done.stderr == b"" and abs(width - 170 * PX_PER_MM) <= 1 and abs(height - PX_PER_MM) <= 1


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
def test_poppler_draws_the_sample_without_a_word():
    done = subprocess.run(["pdftoppm", "-r", "50", "-"], input=pdf.render(sample()), capture_output=True, check=True)
    assert done.stderr == b"" and done.stdout.startswith(b"P6")


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
@pytest.mark.parametrize("document", [sample(), page_of(), bars(correction=Correction(across=1.01))])
def test_qpdf_finds_no_fault(document, tmp_path):
    file = tmp_path / "page.pdf"
    file.write_bytes(pdf.render(document))
    done = subprocess.run(["qpdf", "--check", file], capture_output=True, text=True, check=True)
    assert "No syntax or stream encoding errors found" in done.stdout and done.stderr == ""


def test_file_is_free_of_faults_that_pikepdf_can_see():
    with opened(pdf.render(sample())) as file:
        assert file.check_pdf_syntax() == []


def test_pages_keep_their_order_size_and_name():
    names = ("A1", "B1", "A2")
    pages = tuple(replace(sample().pages[0], width=210 + index, name=name) for index, name in enumerate(names))
    with opened(pdf.render(replace(sample(), pages=pages))) as file:
        assert [page.label for page in file.pages] == list(names)
        widths = [float(page.MediaBox[2]) * MM_PER_POINT for page in file.pages]
        assert widths == pytest.approx([210, 211, 212], abs=1e-5)


def test_viewers_are_told_not_to_scale_and_to_show_the_title():
    with opened(pdf.render(sample())) as file:
        assert str(file.Root.ViewerPreferences.PrintScaling) == "/None"
        assert file.Root.ViewerPreferences.DisplayDocTitle is True


@given(ANY_TEXT, ANY_TEXT)
@settings(max_examples=50)
def test_any_title_and_text_make_a_sound_file(title: str, words: str):
    data = pdf.render(replace(page_of(Text(text=words, at=20 + 20j)), title=title))
    with opened(data) as file:
        assert str(file.docinfo.get("/Title", "")) == title.encode("utf-16-le", "replace").decode("utf-16-le")
        assert file.check_pdf_syntax() == []


def test_a_page_beyond_what_viewers_open_is_refused():
    document = replace(sample(), pages=(sample().pages[0], Page(width=6000, height=10, drawing=Drawing())))
    with pytest.raises(CupgeomError) as caught:
        pdf.render(document)
    assert str(caught.value) == "pages[1].width: must be at most 5080 mm, got 6000 mm"


def test_no_date_and_the_same_bytes_in_any_process():
    code = "import sys; from cupgeom.writers import pdf, svg; from tests.sample_document import sample;"
    code += "sys.stdout.buffer.write(pdf.render(sample()) + svg.render(sample()))"
    runs = []
    for seed, epoch in (("1", "0"), ("2", "1700000000")):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "SOURCE_DATE_EPOCH": epoch, "TZ": "Asia/Tokyo"}
        root = Path(__file__).parents[1]
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, cwd=root, env=environment)
        runs.append(done.stdout)

    assert runs[0] == runs[1] == pdf.render(sample()) + svg.render(sample())
    with opened(pdf.render(sample())) as file:
        assert sorted(file.docinfo.keys()) == ["/Creator", "/Title"]


def test_documents_that_differ_have_different_identifiers():
    identifiers = []
    for document in (sample(), replace(sample(), title="another"), replace(bars(), title=sample().title)):
        with opened(pdf.render(document)) as file:
            identifiers.append(bytes(file.trailer.ID[0]))
    assert len(set(identifiers)) == 3


def test_a_path_of_100_000_segments_is_written_whole():
    points = [complex(i % 200, 100 + 50 * math.sin(i)) for i in range(100_001)]
    data = pdf.render(page_of(Shape(path=polyline(points), role="cut", stroke=Stroke())))
    with opened(data) as file:
        lines = file.pages[0].Contents.read_bytes().decode().splitlines()
    read = [complex(float(x), float(y)) for x, y in (line.split()[:2] for line in lines if line.endswith((" m", " l")))]
    assert np.max(np.abs(np.array(read) - np.array(points))) < 1e-6
