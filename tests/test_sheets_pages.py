"""Sheets as documents: marks that fall on each other, cut files with cut lines only, mirrored films, labels."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
import shapely

from cupgeom.drawing import Box, Drawing, Pen, Shape, Stroke, Text, circle
from cupgeom.errors import CupgeomError
from cupgeom.pages import Correction, Page
from cupgeom.sheets.layout import Layout
from cupgeom.sheets.packing import pack
from cupgeom.sheets.piece import Part, SheetSize
from cupgeom.sheets.sheet import Notes, cut_document, document, unlabelled, with_room_for
from cupgeom.writers import pdf

from .readback import Outline, pdf_outlines

NOTES = Notes(title="Comet night", lines=("water-slide, clear",))
A5 = with_room_for(NOTES, SheetSize(width=148, length=210, margin=5, gap=4))
FLAG = Pen(0j).line(60 + 0j).arc(66 + 20j, 60 + 40j).line(40j).close().path()


def part(name: str, count: int = 1) -> Part:
    """Unlike its mirror picture: a dot near one corner, on white."""
    items = (
        Shape(path=FLAG, role="white", fill=(0.9, 0.9, 0.9)),
        Shape(path=circle(10 + 10j, 4), role="print", fill=(1.0, 0.0, 0.0), name="dot"),
        Shape(path=FLAG, role="cut", stroke=Stroke()),
    )
    return Part(name=name, cut=FLAG, drawing=Drawing(items), count=count)


PARTS = (part("Lyra", 3), part("Mira", 3))


@pytest.fixture(scope="module")
def layout() -> Layout:
    return pack(PARTS, A5, effort="quick")


def texts(page: Page, role: str = "note") -> list[Text]:
    return [leaf for leaf in page.drawing.leaves() if isinstance(leaf, Text) and leaf.role == role]


def shapes(page: Page, role: str) -> list[Shape]:
    return [leaf for leaf in page.drawing.leaves() if isinstance(leaf, Shape) and leaf.role == role]


def centres(outlines: list[Outline]) -> list[complex]:
    """Middles of the boxes of outlines as printed."""
    middles = []
    for outline in outlines:
        points = outline.points(8)
        xs, ys = [p.real for p in points], [p.imag for p in points]
        middles.append(complex(min(xs) + max(xs), min(ys) + max(ys)) / 2)
    return middles


def crosses(data: bytes, page: int) -> list[complex]:
    """Where the registration marks of a PDF's page are: what is drawn there 6 mm wide or 3 mm in radius."""
    found = []
    for outline in pdf_outlines(data, page):
        points = outline.points(8)
        wide = max(p.real for p in points) - min(p.real for p in points)
        high = max(p.imag for p in points) - min(p.imag for p in points)
        if outline.role == "guide" and abs(wide - 3) < 0.01 and abs(high - 3) < 0.01:
            found += centres([outline])
    return found


def test_marks_of_a_sheet_and_its_cut_file_coincide(layout):
    printed, cut = pdf.render(document(layout, NOTES)), pdf.render(cut_document(layout, NOTES, marks=True))
    assert layout.sheets > 1
    for sheet in range(layout.sheets):
        there, here = crosses(printed, sheet), crosses(cut, sheet)
        assert len(there) == len(here) == 5
        assert all(abs(a - b) < 0.005 for a, b in zip(there, here, strict=True))
        lines = [[outline for outline in pdf_outlines(data, sheet) if outline.role == "cut"] for data in (printed, cut)]
        assert len(lines[0]) == len(lines[1]) == len(layout.on(sheet))
        for a, b in zip(*lines, strict=True):
            assert all(abs(p - q) < 0.005 for p, q in zip(a.points(), b.points(), strict=True))


def test_four_marks_stand_at_the_corners_and_a_fifth_tells_which_way_round(layout):
    marks = crosses(pdf.render(document(layout, NOTES)), 0)
    room = A5.room
    below, above = sorted({round(mark.imag, 3) for mark in marks})
    assert below < room.bottom < room.top < above
    counts = [sum(abs(mark.imag - height) < 0.01 for mark in marks) for height in (below, above)]
    assert counts == [3, 2]


def test_a_cut_file_holds_cut_lines_and_nothing_else(layout):
    for page in cut_document(layout, NOTES).pages:
        assert page.drawing.roles() == ("cut",)
        assert (page.width, page.height) == (148, 210)
    assert {page.drawing.roles() for page in cut_document(layout, NOTES, marks=True).pages} == {("cut", "guide")}


def test_print_white_and_cut_may_have_pages_of_their_own(layout):
    pages = document(layout, NOTES, contents=("white", "print", "cut")).pages
    assert [page.name for page in pages[:4]] == ["1-white", "1-print", "1-cut", "2-white"]
    assert [page.drawing.roles() for page in pages[:3]] == [
        (role, "guide", "note") for role in ("white", "print", "cut")
    ]
    marks = [[mark.path for mark in shapes(page, "guide")] for page in pages[:3]]
    assert marks[0] == marks[1] == marks[2]
    assert any("sheet 1 of" in text.text and "white" in text.text for text in texts(pages[0]))


def test_sheets_are_numbered_and_carry_bars(layout):
    pages = document(layout, NOTES).pages
    for index, page in enumerate(pages, start=1):
        said = [text.text for text in texts(page)]
        assert f"Comet night · sheet {index} of {layout.sheets}" in said
        assert "100 mm along the paper's width" in said
        assert "water-slide, clear" in said


def test_everything_lies_inside_the_margins(layout):
    for page in document(layout, NOTES).pages:
        box = page.drawing.bounds()
        assert min(box.left, box.bottom, page.width - box.right, page.height - box.top) >= 5 - 0.2


def dots(page: Page) -> list[complex]:
    return [shape.path.bounds().centre for shape in shapes(page, "print")]


def test_mirrored_sheets_are_reflected_as_a_whole_and_notes_stay_readable(layout):
    mirrored = replace(NOTES, mirrored=True)
    size = with_room_for(mirrored, SheetSize(width=148, length=210, margin=5, gap=4))
    packed = pack(PARTS, size, effort="quick")
    plain, turned = (document(packed, notes).pages[0] for notes in (NOTES, mirrored))
    middle = (size.room.left + size.room.right) / 2
    for role in ("white", "print", "cut"):
        for a, b in zip(shapes(plain, role), shapes(turned, role), strict=True):
            box, there = a.path.bounds(), b.path.bounds()
            assert (there.left, there.right) == pytest.approx((2 * middle - box.right, 2 * middle - box.left))
            assert (there.bottom, there.top) == pytest.approx((box.bottom, box.top))
            assert b.path.area() == pytest.approx(-a.path.area())  # a reflection runs outlines the other way
    assert any(text.text.startswith("MIRRORED") for text in texts(turned))
    assert not any("MIRRORED" in text.text for text in texts(plain))
    title = next(text for text in texts(turned) if text.text.startswith("Comet night"))
    assert (title.angle_deg, title.anchor) == (0, "start")
    assert turned.trim is not None
    assert turned.trim.left == pytest.approx(min(shape.path.bounds().left for shape in shapes(turned, "cut")))
    there, here = (
        crosses(pdf.render(made), 0)
        for made in (document(packed, mirrored), cut_document(packed, mirrored, marks=True))
    )
    assert all(abs(a - b) < 0.005 for a, b in zip(there, here, strict=True))
    assert dots(plain) != dots(turned)


def test_text_that_is_printed_is_not_mirrored_but_refused():
    item = Text(text="Lyra", at=10 + 10j, role="print")
    size = with_room_for(replace(NOTES, mirrored=True), SheetSize(width=148, length=210))
    packed = pack([Part(name="Lyra", cut=FLAG, drawing=Drawing((item,)))], size, effort="quick")
    document(packed, NOTES)
    with pytest.raises(CupgeomError) as caught:
        document(packed, replace(NOTES, mirrored=True))
    assert str(caught.value) == "drawing: holds the text 'Lyra' to be mirrored; make it outlines first"


def test_labels_stand_beside_their_own_piece_and_on_none(layout):
    for sheet, page in enumerate(document(layout, NOTES).pages):
        outlines = layout.outlines(sheet)
        names = [layout.parts[place.part].name for place in layout.on(sheet)]
        labels = [text for text in texts(page) if text.text in names]
        assert len(labels) == len(names)
        areas = [shapely.box(*label.bounds()) for label in labels]
        for label, area in zip(labels, areas, strict=True):
            away = [outline.distance(area) for outline in outlines]
            nearest = min(range(len(away)), key=away.__getitem__)
            assert names[nearest] == label.text
            assert away[nearest] > 0
        assert all(not a.intersects(b) for a, b in pairwise(areas))
    assert unlabelled(layout) == ()


def test_pieces_without_room_for_a_label_are_told():
    tiles = Part(name="tile", cut=Box(0, 0, 30, 30).outline(), count=16)
    size = replace(A5, width=148, left=9.0, right=9.0, gap=0.0)
    packed = pack([tiles], size, effort="quick")
    (notice,) = unlabelled(packed)
    assert str(notice) == "sheet 1: no room beside tile for a label; a wider gap makes some"


def test_a_roll_is_as_long_as_its_pieces_and_notes_need():
    size = with_room_for(NOTES, SheetSize(width=300, length=None))
    packed = pack(PARTS, size, effort="quick")
    (page,) = document(packed, NOTES).pages
    (cut,) = cut_document(packed, NOTES).pages
    assert page.height == cut.height == pytest.approx(size.room.bottom + packed.used_length(0) + 8 + 5)
    assert page.drawing.bounds().top <= page.height - 5 + 0.1


def test_the_trim_box_is_the_box_of_the_cut_lines_and_bleed_lies_round_it():
    packed = pack([replace(PARTS[0], bleed=2.0)], A5, effort="quick")
    (page,) = (document(packed, NOTES).pages)[:1]
    boxes = [shape.path.bounds() for shape in shapes(page, "cut")]
    assert page.trim == (
        min(box.left for box in boxes),
        min(box.bottom for box in boxes),
        max(box.right for box in boxes),
        max(box.top for box in boxes),
    )
    assert page.bleed_box == page.trim.grown(2)
    crop = [shape for shape in shapes(page, "guide") if shape.name == "crop mark"]
    assert len(crop) == 4
    for shape in crop:  # outside the bleed, in line with the trim
        box = shape.path.bounds()
        assert not page.bleed_box.holds(box.centre)


def test_a_part_without_a_cut_line_in_its_drawing_gets_its_own():
    packed = pack([Part(name="plain", cut=FLAG)], A5, effort="quick")
    (page,) = cut_document(packed).pages
    (line,) = shapes(page, "cut")
    assert line.path == FLAG.transformed(packed.placements[0].affine)


def test_sheets_without_notes_hold_pieces_and_nothing_else():
    packed = pack(PARTS, SheetSize(width=148, length=210), effort="quick")
    for page in document(packed).pages:
        assert page.drawing.roles() == ("white", "print", "cut")


def test_the_printers_correction_is_in_the_sheet_and_not_in_the_cut_file(layout):
    correction = Correction(across=1.01)
    assert all(page.correction == correction for page in document(layout, NOTES, correction=correction).pages)
    assert all(page.correction.is_none for page in cut_document(layout, NOTES).pages)


def test_a_layout_without_room_for_notes_is_refused():
    packed = pack(PARTS, SheetSize(width=148, length=210), effort="quick")
    with pytest.raises(CupgeomError) as caught:
        document(packed, NOTES)
    assert str(caught.value) == "size: keeps no room for notes; pack on the size that with_room_for gives"
    with pytest.raises(CupgeomError) as caught:
        document(packed, contents=("print", "glow"))  # type: ignore[arg-type]
    assert str(caught.value) == "contents: must be of all, print, white, cut, got 'glow'"


def test_media_too_small_for_notes_are_refused():
    with pytest.raises(CupgeomError, match=r"^margin: of 5 mm leaves nothing of a sheet of 40 x 40 mm$"):
        with_room_for(NOTES, SheetSize(width=40, length=40))
