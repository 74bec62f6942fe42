"""Paper, page boxes, scale bars and the printer correction."""

from __future__ import annotations

import io
import math
import shutil
import subprocess

import numpy as np
import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cupgeom import Cup, CupgeomError, Template
from cupgeom.drawing import Box, Drawing, Shape, Stroke, Text, polyline
from cupgeom.pages import (
    FIT,
    Correction,
    Document,
    Frame,
    Page,
    Paper,
    Placed,
    fits,
    parse_paper,
    read_bars,
    single_page,
)
from cupgeom.template import document
from cupgeom.writers import pdf, svg

from .readback import dark, image_pixels, pdf_pixels, svg_pixels

PX_PER_MM = 300 / 25.4  # CHECKS V4
TUMBLER = Cup.frustum(88, 70, 170, name="tumbler")
STRAIGHT = Cup.frustum(60, 60, 70)


def page_of(cup: Cup, paper: str, **settings_: object) -> Page:
    (page,) = document(Template(cup=cup), parse_paper(paper), **settings_).pages  # type: ignore[arg-type]
    return page


def shapes(page: Page, name: str) -> list[Shape]:
    return [leaf for leaf in page.drawing.leaves() if isinstance(leaf, Shape) and leaf.name == name]


@pytest.mark.parametrize(
    ("text", "width", "length"),
    [
        ("a3", 297, 420),  # CHECKS V1: ISO 216
        ("A4", 210, 297),
        ("a5", 148, 210),
        ("letter", 8.5 * 25.4, 11 * 25.4),  # CHECKS V3: ANSI/ASME Y14.1 A and B
        ("tabloid", 11 * 25.4, 17 * 25.4),
        ("legal", 8.5 * 25.4, 14 * 25.4),  # common practice, no source
        ("13x19in", 13 * 25.4, 19 * 25.4),
        ("300 x 500", 300, 500),
        ("roll 24in", 24 * 25.4, None),
        ("fit", None, None),
    ],
)
def test_papers_have_their_sizes(text, width, length):
    paper = parse_paper(text)
    assert (paper.width, paper.length) == (pytest.approx(width), pytest.approx(length))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "b4",
            "--paper: unknown paper 'b4'; use a5, a4, a3, letter, legal, tabloid, a size such as 13x19in,"
            " roll 610mm, or fit",
        ),
        (
            "",
            "--paper: unknown paper ''; use a5, a4, a3, letter, legal, tabloid, a size such as 13x19in,"
            " roll 610mm, or fit",
        ),
        ("roll 24qq", "--paper: unknown unit 'qq' in '24qq'; use mm, cm, in or \""),
        ("13x19 in x 2", "--paper: cannot read '13x19 in x 2'; give two lengths such as 99.2mm x 100.4mm"),
        ("300x0", "--paper: must be greater than 0 mm, got 0 mm"),
        ("300x6000", "--paper: must be at most 5000 mm, got 6000 mm"),
        ("roll 1e9mm", "--paper: must be at most 5000 mm, got 1000000000 mm"),
    ],
)
def test_no_paper_is_refused_with_one_clear_line(text, message):
    with pytest.raises(CupgeomError) as caught:
        parse_paper(text, "--paper")
    assert str(caught.value) == message


@pytest.mark.parametrize("field", ["width", "length"])
def test_paper_refuses_what_is_no_size(field):
    for value in (math.nan, math.inf, -1.0):
        with pytest.raises(CupgeomError) as caught:
            Paper(**{"name": "own", "width": 100.0, "length": 100.0, field: value})
        assert caught.value.where == field


@pytest.mark.parametrize(
    ("margin", "what"),
    [
        (-1.0, "must be at least 0 mm, got -1 mm"),
        (math.nan, "must be a finite number of mm, got nan"),
        (1e9, "must be at most 1000 mm, got 1000000000 mm"),
    ],
)
def test_margins_refuse_what_is_no_margin(margin, what):
    with pytest.raises(CupgeomError) as caught:
        document(Template(cup=TUMBLER), FIT, margin=margin)
    assert str(caught.value) == f"margin: {what}"


def boxes(page: Page) -> dict[str, list[float]]:
    """Media, trim and bleed box of a page as pikepdf reads them, in mm."""
    with pikepdf.open(io.BytesIO(pdf.render(Document(title="", pages=(page,))))) as file:
        entry = file.pages[0].obj
        return {name: [float(edge) * 25.4 / 72 for edge in entry[f"/{name}Box"]] for name in ("Media", "Trim", "Bleed")}


HUNDREDTH_OF_A_POINT = 0.01 * 25.4 / 72


@pytest.mark.parametrize("size", [(88, 70, 170), (60, 95, 130), (73, 73, 150)])
def test_trim_box_holds_the_cut_line_and_bleed_box_goes_beyond_it_by_the_bleed(size):
    page = page_of(Cup.frustum(*size), "fit")
    read = boxes(page)
    assert read["Media"] == pytest.approx([0, 0, page.width, page.height], abs=HUNDREDTH_OF_A_POINT)
    (cut,) = shapes(page, "trim")
    points = np.array([p for ring in cut.path.flattened(1e-4) for p in ring])
    drawn = [points.real.min(), points.imag.min(), points.real.max(), points.imag.max()]
    assert read["Trim"] == pytest.approx(drawn, abs=HUNDREDTH_OF_A_POINT)
    grown = [edge + 3 * way for edge, way in zip(drawn, (-1, -1, 1, 1), strict=True)]
    assert read["Bleed"] == pytest.approx(grown, abs=HUNDREDTH_OF_A_POINT)
    if size[0] == size[1]:  # a rectangle: once round and the tab, by the height
        assert read["Trim"][2] - read["Trim"][0] == pytest.approx(73 * math.pi + 8, abs=HUNDREDTH_OF_A_POINT)
        assert read["Trim"][3] - read["Trim"][1] == pytest.approx(150, abs=HUNDREDTH_OF_A_POINT)


def test_bleed_box_ends_at_the_paper():
    page = page_of(STRAIGHT, "fit", margin=1.0, purpose="cut")
    assert boxes(page)["Bleed"] == boxes(page)["Trim"]  # a cut-only page has no ink
    near = Page(width=100, height=80, drawing=Drawing(), trim=Box(1, 2, 98, 79), bleed=3.0)
    assert boxes(near)["Bleed"] == pytest.approx([0, 0, 100, 80], abs=1e-4)


def test_a_page_without_a_cut_line_is_its_own_trim():
    read = boxes(Page(width=100, height=80, drawing=Drawing(), bleed=3.0))
    assert read["Trim"] == read["Bleed"] == read["Media"]


def test_boxes_follow_the_printer_correction():
    plain, corrected = (
        boxes(Page(width=100, height=80, drawing=Drawing(), trim=Box(20, 10, 80, 70), bleed=3.0, correction=correction))
        for correction in (Correction(), Correction(across=1.01, along=0.98))
    )
    assert plain["Trim"] == pytest.approx([20, 10, 80, 70], abs=1e-4)
    assert corrected["Trim"] == pytest.approx([19.7, 10.6, 80.3, 69.4], abs=1e-4)  # about the middle, 50 and 40
    assert corrected["Bleed"] == pytest.approx([16.67, 7.66, 83.33, 72.34], abs=1e-4)


def bars(page: Page) -> list[tuple[float, bool]]:
    """The bars of a page: length, and whether it stands upright."""
    found = []
    for bar in shapes(page, "scale bar"):
        box = bar.path.bounds()
        found.append((max(box.width, box.height), box.height > box.width))
    return found


@pytest.mark.parametrize(
    ("paper", "inches", "expected"),
    [
        ("a4", False, [(100, False), (100, True)]),
        ("a4", True, [(101.6, False), (101.6, True)]),
        ("80 x 160mm", False, [(50, False), (100, True)]),
        ("80 x 160mm", True, [(50.8, False), (101.6, True)]),
        ("66 x 90mm", False, [(20, False), (50, True)]),
        ("66 x 90mm", True, [(25.4, False), (50.8, True)]),
    ],
)
def test_each_page_has_the_longest_bar_that_fits_along_each_edge(paper, inches, expected):
    """CHECKS and DESIGN: 100, 50, 20 mm or 4, 2, 1 in; 18 mm of width go to the margins and the upright bar's band."""
    dot = Shape(path=polyline([0j, 5 + 5j]), role="cut", stroke=Stroke())
    frame = Frame(title="dot", inches=inches)
    page = single_page(Placed(drawing=Drawing((dot,)), cut=dot.path), parse_paper(paper), frame)
    assert page is not None
    assert bars(page) == [(pytest.approx(length), upright) for length, upright in expected]
    words = [leaf.text for leaf in page.drawing.leaves() if isinstance(leaf, Text)]
    unit = "in" if inches else "mm"
    shown = [f"{length / 25.4 if inches else length:g} {unit}" for length, _ in expected]
    assert [text.split(" along")[0].split(",")[0] for text in words if "width" in text or "length" in text] == shown


def test_a_page_too_small_for_any_bar_has_none():
    dot = Shape(path=polyline([0j, 5 + 5j]), role="cut", stroke=Stroke())
    page = single_page(Placed(drawing=Drawing((dot,)), cut=dot.path), parse_paper("60 x 40mm"), Frame(title="dot"))
    assert page is not None
    assert bars(page) == [(20, False)]  # upright, 40 − 2·5 mm less the notes are too little for 20 mm


@given(st.floats(40, 130), st.floats(40, 130), st.floats(30, 200), st.sampled_from(["fit", "a3", "a4", "tabloid"]))
@settings(max_examples=15)
def test_bars_and_captions_lie_outside_trim_bleed_and_tile(rim, base, height, paper):
    for page in document(Template(cup=Cup.frustum(rim, base, height), safe=0), parse_paper(paper)).pages:
        content = [item for item in page.drawing.items if getattr(item, "role", "content") != "note"]
        notes = [item for item in page.drawing.items if getattr(item, "role", "content") == "note"]
        low, left = min(i.bounds().bottom for i in content), min(i.bounds().left for i in content)
        assert len(notes) > 5
        assert all(item.bounds().top <= low or item.bounds().right <= left for item in notes)


def bar_on_paper(pixels: NDArray[np.uint8], *, upright: bool) -> float:
    """Length in pixels of the bar along the lower or the left edge, between the outer edges of its end ticks.

    The bar is the longest dark run; the share of ink in the pixels at its ends, a little beside it, tells its ends.
    """
    ink = 1 - pixels.mean(axis=2) / 255
    lines = ink[:, : int(12 * PX_PER_MM)].T if upright else ink[-int(12 * PX_PER_MM) :][::-1]
    runs = []
    for row, line in enumerate(lines > 0.5):
        ends = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
        runs += [(last - first, row, first, last - 1) for first, last in zip(ends[::2], ends[1::2], strict=True)]
    _, row, first, last = max(runs)
    ticks = lines[row + 5]
    return (last - 1 + ticks[last - 1 : last + 2].sum()) - (first + 2 - ticks[first - 1 : first + 2].sum())


@pytest.mark.parametrize("renderer", ["pdfium", "resvg"])
@pytest.mark.parametrize(
    ("paper", "cup", "printed", "lying", "upright"),
    [
        ("150 x 170mm", Cup.frustum(32, 32, 20), "", 100, 100),
        ("150 x 170mm", TUMBLER, "", 100, 100),  # the first tile
        # upright: the bar along the paper's width lies; it left the printer 99.2 mm long, so 100/99.2 as much is sent
        ("150 x 170mm", Cup.frustum(32, 32, 20), "99.2mm x 100.4mm", 100 / 0.992, 100 / 1.004),
        # too wide for 150 mm, so the paper lies across: the bar along its width stands upright
        ("150 x 170mm", Cup.frustum(40, 40, 20), "99.2mm x 100.4mm", 100 / 1.004, 100 / 0.992),
        ("fit", Cup.frustum(40, 40, 110), "99.2mm x 100.4mm", 100 / 0.992, 100 / 1.004),
    ],
)
def test_rendered_at_300_dpi_the_bars_are_true_to_a_pixel(renderer, paper, cup, printed, lying, upright):
    pages = document(Template(cup=cup), parse_paper(paper), correction=read_bars(printed) if printed else Correction())
    pixels = pdf_pixels(pdf.render(pages)) if renderer == "pdfium" else svg_pixels(svg.render(pages.split()[0]))
    assert bar_on_paper(pixels, upright=False) == pytest.approx(lying * PX_PER_MM, abs=1)
    assert bar_on_paper(pixels, upright=True) == pytest.approx(upright * PX_PER_MM, abs=1)


def test_labels_say_which_edge_of_the_paper_a_bar_is_along():
    lying, standing = page_of(Cup.frustum(80, 80, 100), "a4"), page_of(Cup.frustum(50, 50, 180), "a4")
    assert (lying.width, standing.width) == (297, 210)
    for page, edges in ((lying, ("length", "width")), (standing, ("width", "length"))):
        words = [leaf.text for leaf in page.drawing.leaves() if isinstance(leaf, Text) and "paper's" in leaf.text]
        assert words[:2] == [f"100 mm along the paper's {edge}" for edge in edges]


def test_the_correction_is_stated_on_the_page():
    page = page_of(STRAIGHT, "a4", correction=read_bars("99.2mm x 100.4mm"))
    words = [leaf.text for leaf in page.drawing.leaves() if isinstance(leaf, Text)]
    # 100/99.2 = 1.0080645, 100/100.4 = 0.9960159
    assert "Printer correction: 100.806 % along the paper's width, 99.602 % along its length." in words


@pytest.mark.parametrize(
    ("text", "inches", "across", "along"),
    [
        ("99.2mm x 100.4mm", False, 100 / 99.2, 100 / 100.4),
        ("49.5 x 20.1", False, 50 / 49.5, 20 / 20.1),
        ("4.02in x 1.98in", True, 4 / 4.02, 2 / 1.98),
    ],
)
def test_printed_bars_are_compared_with_the_nearest_bar(text, inches, across, along):
    correction = read_bars(text, inches=inches)
    assert (correction.across, correction.along) == (pytest.approx(across), pytest.approx(along))


def test_corrections_multiply_into_the_one_in_force():
    both = Correction(across=1.01, along=0.99) * Correction(across=1.002, along=1.001)
    assert (both.across, both.along) == (pytest.approx(1.01202), pytest.approx(0.99099))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("99.2mm", "across: cannot read '99.2mm'; give two lengths such as 99.2mm x 100.4mm"),
        ("0 x 100", "across: must be greater than 0 mm, got 0 mm"),
        ("70 x 100", "across: asks for 0.7143 times the size; a printer is off by less: measure the bar again"),
        ("100 x 140", "along: asks for 0.7143 times the size; a printer is off by less: measure the bar again"),
        ("nan x 100", "across: must be a finite length, got 'nan'"),
        ("1e9 x 100", "across: asks for 1e-07 times the size; a printer is off by less: measure the bar again"),
    ],
)
def test_bars_that_cannot_be_are_refused(text, message):
    with pytest.raises(CupgeomError) as caught:
        read_bars(text)
    assert str(caught.value) == message


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize("field", ["width", "height", "bleed"])
def test_pages_refuse_what_is_no_size(field, value):
    if (field, value) != ("bleed", 0.0):
        with pytest.raises(CupgeomError) as caught:
            Page(**{"width": 100.0, "height": 100.0, "drawing": Drawing(), field: value})
        assert caught.value.where == field


def test_a_document_needs_a_page():
    with pytest.raises(CupgeomError) as caught:
        Document(title="none", pages=())
    assert str(caught.value) == "pages: a document needs at least one page"


def test_a_roll_is_cut_to_the_length_that_the_piece_needs_at_its_best_turn():
    wide, narrow = page_of(TUMBLER, "roll 610mm"), page_of(TUMBLER, "roll 220mm")
    assert (wide.width, narrow.width) == (610, 220)
    assert wide.height < 260
    assert narrow.height > 290


@pytest.mark.parametrize("purpose", ["cut", "pattern"])
def test_made_to_fit_paper_holds_a_narrow_strip_and_nothing_beyond(purpose):
    (page,) = document(
        Template(cup=Cup.frustum(60, 60, 4), overlap=2, bleed=1, safe=1),
        FIT,
        purpose=purpose,
        notes=purpose == "pattern",
    ).pages
    (cut,) = shapes(page, "trim")
    assert cut.path.bounds().height == pytest.approx(4)
    if purpose == "cut":
        assert page.height == pytest.approx(4 + 2 * 5, abs=0.31)


def test_a_piece_turned_by_any_angle_that_fits_needs_one_page():
    """A strip of 300 × 20 mm fits a4 (200 × 287 mm inside the margins) only across: 20·sin + 300·cos ≤ 200 at 50°."""
    strip = Shape(path=Box(0, 0, 300, 20).outline(), role="cut")
    placed = Placed(drawing=Drawing((strip,)), cut=strip.path)
    assert fits(placed, parse_paper("a4"), Frame(title="", notes=False))
    longer = Shape(path=Box(0, 0, 340, 20).outline(), role="cut")  # the diagonal of 200 × 287 is 350 mm
    assert not fits(
        Placed(drawing=Drawing((longer,)), cut=longer.path), parse_paper("a4"), Frame(title="", notes=False)
    )


RSVG = pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="rsvg-convert is not installed")


def by_pdfium(cup: Cup) -> NDArray[np.uint8]:
    return pdf_pixels(pdf.render(document(Template(cup=cup), FIT)), 150)


def by_resvg(cup: Cup) -> NDArray[np.uint8]:
    return svg_pixels(svg.render(document(Template(cup=cup), FIT)), 150)


def by_librsvg(cup: Cup) -> NDArray[np.uint8]:
    command = ["rsvg-convert", "--dpi-x=150", "--dpi-y=150", "--background-color=white"]
    data = svg.render(document(Template(cup=cup), FIT))
    return image_pixels(subprocess.run(command, input=data, capture_output=True, check=True).stdout)


@pytest.mark.parametrize("draw", [by_pdfium, by_resvg, pytest.param(by_librsvg, marks=RSVG)])
@pytest.mark.parametrize("taper", [1e-12, -1e-12])
def test_a_wall_of_almost_no_taper_draws_as_a_cylinder_does(draw, taper):
    slight, straight = draw(Cup.frustum(80, 80 - taper, 100)), draw(Cup.frustum(80, 80, 100))
    assert slight.shape == straight.shape
    assert dark(straight).sum() > 5000
    assert (dark(slight) != dark(straight)).sum() <= 20
