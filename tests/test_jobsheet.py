"""The job sheet: nothing collides, everything handed in can be read, and what is long goes on on another page."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from itertools import combinations
from typing import Any

import pypdfium2
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cupgeom import CupgeomError
from cupgeom.drawing import Affine, Box, Clipped, Drawing, Picture, Shape, Stroke, Text, circle
from cupgeom.jobsheet import DecalFact, PotFact, SheetFacts, StepFact, job_sheet, notices
from cupgeom.pages import Document, Page, parse_paper
from cupgeom.writers import pdf

MARGIN = 14.0
BLADE = Shape(path=Box(0, 0, 240, 160).outline(), role="cut", stroke=Stroke(width=0.5), name="trim")
PICTURE = Picture(pixels=bytes([40, 40, 90, 255] * 6), columns=2, rows=3, place=Affine.scale(2, 3))
DAY = (
    StepFact(day="Mon 2 Nov", time="09:00", what="Mask lip and base", until="11:00", hands="15 min"),
    StepFact(day="Mon 2 Nov", time="13:30", what="Flood 1", until="15:10", hands="25 min"),
    StepFact(day="Mon 2 Nov", time="13:35", what="pop bubbles", until="13:38", hands="2 min", is_act=True),
    StepFact(day="Tue 3 Nov", time="09:40", what="Slide on the decals", until="Wed 4 Nov 10:00", hands="40 min"),
)
USUAL = SheetFacts(
    title="Comet night",
    customer="Astronomy club",
    quantity=4,
    mark="7F3A-19C2",
    dates=(("start", "Mon 2 Nov 2026"), ("ship", "Fri 6 Nov 2026")),
    picture=PICTURE,
    sizes=(("rim", "88.0 mm"), ("base", "73.0 mm"), ("height", "172.0 mm"), ("coated", "412.6 cm²")),
    plan=Drawing((BLADE,)),
    plan_caption="The flat wrap, front in the middle",
    decals=(
        DecalFact(
            what="Comet",
            medium="water-slide film",
            size="62.0 x 38.5 mm",
            turn="front",
            drop="60.3 mm",
            after="flood 2",
            at=120 + 100j,
        ),
        DecalFact(
            what="Ada",
            medium="vinyl",
            size="40.0 x 12.5 mm",
            turn="90° right",
            drop="110.7 mm",
            after="flood 1",
            at=180 + 50j,
        ),
    ),
    pots=(
        PotFact(coat="flood 1", cups="4 cups", a_ml="15.5 mL", a_g="17.4 g", b_ml="15.6 mL", b_g="15.1 g"),
        PotFact(
            coat="clear", cups="2 cups", a_ml="8.5 mL", a_g="9.5 g", b_ml="8.6 mL", b_g="8.3 g", pots=2, weigh=True
        ),
    ),
    steps=DAY * 4,
    doubts=("The art has changed since it was approved.",),
    cautions=("Gloves and fresh air.", "Wash by hand; no microwave."),
    in_service="Fri 13 Nov 2026",
)
MANY_WORDS = "Comet night of a little town's astronomy club, second order of the year, in matt black with a silver rim"
ONE_LONG_WORD = "Comet-night-order-of-the-astronomy-club-" * 5


def crowded(name: str, count: int = 12) -> SheetFacts:
    """Twelve decals, nine coats, sixty steps, and long words wherever words can stand."""
    decals = [replace(USUAL.decals[0], what=f"{name} {index}", medium=name, after=name) for index in range(count)]
    pots = [replace(USUAL.pots[index % 2], coat=f"{name} {index}", cups=name, pots=1 + index) for index in range(9)]
    steps = [replace(DAY[index % 4], what=f"{name} {index}", hands=name[:30]) for index in range(60)]
    return replace(
        USUAL, title=name, customer=name, mark=name, dates=((name, name), *USUAL.dates), sizes=((name, name),) * 3,
        plan_caption=name, decals=tuple(decals), pots=tuple(pots), steps=tuple(steps), doubts=(name,) * 3,
        cautions=(name,) * 9, in_service=name,
    )  # fmt: skip


def sheet(facts: SheetFacts, paper: str = "a4") -> Document:
    return job_sheet(facts, parse_paper(paper))


def texts(page: Page) -> list[Text]:
    return [leaf for leaf in page.drawing.leaves() if isinstance(leaf, Text)]


def shapes(page: Page, name: str) -> list[Shape]:
    return [leaf for leaf in page.drawing.leaves() if isinstance(leaf, Shape) and leaf.name == name]


def meet(one: Box, other: Box) -> bool:
    across = min(one.right, other.right) - max(one.left, other.left)
    return across > 1e-6 and min(one.top, other.top) - max(one.bottom, other.bottom) > 1e-6


def collisions(page: Page, margin: float = MARGIN) -> list[str]:
    """Texts that run into each other, into a rule or a box to tick, or over the margin."""
    boxes = [(text.text, text.bounds()) for text in texts(page)]
    lines = [
        (f"line {leaf.name}", leaf.bounds())
        for leaf in page.drawing.leaves()
        if isinstance(leaf, Shape) and leaf.name in ("", "box to tick")
    ]
    tree = shapely.STRtree([shapely.box(box.left, box.bottom, box.right, box.top) for _, box in boxes + lines])
    near = zip(*tree.query(tree.geometries[: len(boxes)], predicate="intersects"), strict=True)
    pairs = [((boxes + lines)[one], (boxes + lines)[other]) for one, other in sorted(near) if one < other]
    found = [f"{a} | {b}" for (a, one), (b, other) in pairs if meet(one, other)]
    inside = Box(margin, margin, page.width - margin, page.height - margin).grown(1e-6)
    for name, box in boxes:
        if not (inside.holds(complex(box.left, box.bottom)) and inside.holds(complex(box.right, box.top))):
            found.append(f"{name} | margin")
    return found


def read(document: Document) -> list[str]:
    """The text of each page, without any white space, as another library reads it from the PDF file."""
    with pypdfium2.PdfDocument(pdf.render(document)) as file:
        return ["".join(page.get_textpage().get_text_range().split()) for page in file]


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
@pytest.mark.parametrize(
    "facts",
    [
        USUAL,
        SheetFacts(title="Plain", quantity=1),
        replace(USUAL, picture=None),
        replace(USUAL, plan=Drawing()),
        crowded(MANY_WORDS),
        crowded(ONE_LONG_WORD),
        crowded("Å" * 12),
        crowded("a b", 60),
    ],
    ids=["usual", "empty", "no picture", "no map", "many words", "one long word", "tall letters", "sixty decals"],
)
def test_no_text_runs_into_another_a_line_or_the_margin(facts: SheetFacts, paper: str) -> None:
    for page in sheet(facts, paper).pages:
        assert collisions(page) == []


@settings(max_examples=10)
@given(st.text(min_size=1, max_size=300).filter(str.strip), st.integers(1, 90), st.sampled_from(["a4", "letter"]))
def test_no_text_collides_whatever_it_says(name: str, count: int, paper: str) -> None:
    for page in sheet(crowded(name, count), paper).pages:
        assert collisions(page) == []


def test_a_planted_collision_is_found() -> None:
    (page, *_) = sheet(USUAL).pages
    title = next(text for text in texts(page) if text.text == "Comet night" and text.size > 5)
    near = replace(page, drawing=page.drawing + Drawing((replace(title, text="near", at=title.at + 1),)))
    assert collisions(near) == ["Comet night | near"]
    out = replace(page, drawing=page.drawing + Drawing((Text(text="out", at=complex(page.width - 15, 200)),)))
    assert collisions(out) == ["out | margin"]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_usual_job_takes_two_pages(paper: str) -> None:
    document = sheet(USUAL, paper)
    assert [page.name for page in document.pages] == ["1", "2"]
    assert document.title == "Comet night: job sheet"
    ends = [text.text for page in document.pages for text in texts(page) if text.text.startswith("page ")]
    assert ends == ["page 1 of 2", "page 2 of 2"]


def test_everything_handed_in_is_read_back_from_the_pdf() -> None:
    whole = "".join(read(sheet(USUAL)))
    for where, text in USUAL.texts():
        assert "".join(text.split()) in whole, where
    assert "4cups" in whole


def test_every_step_of_sixty_stands_once_and_in_order() -> None:
    steps = tuple(replace(DAY[index % 4], what=f"act number {index:02d}") for index in range(60))
    document = sheet(replace(USUAL, steps=steps))
    said = [text.text for page in document.pages for text in texts(page) if text.text.startswith("act number")]
    assert said == [step.what for step in steps]
    ticked = sum(len(shapes(page, "box to tick")) for page in document.pages)
    assert ticked == 60 + len(USUAL.doubts) + sum(pot.pots for pot in USUAL.pots)


def test_a_page_that_begins_within_a_day_names_section_columns_and_day_again() -> None:
    steps = tuple(replace(DAY[0], what=f"act number {index:02d}") for index in range(60))
    later = [[text.text for text in texts(page)] for page in sheet(replace(USUAL, steps=steps)).pages[2:]]
    assert later
    for said in later:
        assert said[:6] == ["Steps, continued", "from", "at the latest", "step", "hands", "Mon 2 Nov"]


def test_a_heading_never_ends_a_page() -> None:
    """Whatever comes above the steps, the last words above the foot are a row's."""
    heads = {"Sizes", "Decals", "Pots to mix", "Steps", "Care", "hands", "B by mass", "after", "Mon 2 Nov", "Tue 3 Nov"}
    for count in range(0, 24, 2):
        facts = replace(USUAL, steps=DAY * 20, decals=USUAL.decals[:1] * count)
        for page in sheet(facts).pages:
            last = min((text for text in texts(page) if text.at.imag > MARGIN + 8), key=lambda text: text.at.imag)
            assert last.text not in heads


def test_long_steps_do_not_begin_low_on_a_page() -> None:
    """The top of their heading stands at least a fifth of the room above the foot."""
    for count in range(0, 24, 2):
        document = sheet(replace(USUAL, steps=DAY * 20, decals=USUAL.decals[:1] * count))
        (head,) = [text for page in document.pages for text in texts(page) if text.text == "Steps"]
        low, high = MARGIN + 8, 297 - MARGIN
        assert head.bounds().top - low > 0.2 * (high - low) - 3


def test_a_short_table_is_not_broken() -> None:
    for count in range(24):
        document = sheet(replace(USUAL, pots=USUAL.pots[:1] * 9, decals=USUAL.decals[:1] * count))
        assert "Pots to mix, continued" not in [text.text for page in document.pages for text in texts(page)]


def test_the_same_facts_give_the_same_bytes() -> None:
    first, second = (hashlib.sha256(pdf.render(sheet(crowded(MANY_WORDS)))).hexdigest() for _ in range(2))
    assert first == second


def test_characters_that_the_font_lacks_print_as_question_marks_with_a_notice() -> None:
    steps = (
        replace(DAY[0], what="Zoe\u0308 星"),
        DAY[1],
    )  # e and its dots in two characters, which the font has in one
    facts = replace(USUAL, customer="Night\n星空", steps=steps)
    assert [str(notice) for notice in notices(facts)] == [
        "customer: the sheet's font has no 星 空; it prints as ?; the job keeps its text",
        "steps[0].what: the sheet's font has no 星; it prints as ?; the job keeps its text",
    ]
    whole = "".join(read(sheet(facts)))
    assert "Night??" in whole
    assert "Zoë?" in whole
    assert notices(USUAL) == ()


def test_the_part_to_measure_is_bold_and_the_other_is_not() -> None:
    found = {text.text: text.bold for text in texts(sheet(USUAL).pages[0])}
    assert [found[text] for text in ("15.5 mL", "17.4 g", "15.6 mL", "15.1 g")] == [True, False, True, False]
    assert [found[text] for text in ("8.5 mL", "9.5 g", "8.6 mL", "8.3 g")] == [False, True, False, True]


def test_more_pots_than_five_share_a_box() -> None:
    facts = SheetFacts(title="Many", quantity=40, pots=(replace(USUAL.pots[0], pots=6), replace(USUAL.pots[0], pots=5)))
    (page,) = sheet(facts).pages
    assert len(shapes(page, "box to tick")) == 1 + 5
    assert "6 pots, each for 4 cups" in [text.text for text in texts(page)]


def test_the_picture_keeps_its_proportions() -> None:
    (found,) = [leaf for leaf in sheet(USUAL).pages[0].drawing.leaves() if isinstance(leaf, Picture)]
    box = found.bounds()
    assert box.height / box.width == pytest.approx(3 / 2)
    assert found.pixels == PICTURE.pixels


@pytest.mark.parametrize(("columns", "rows"), [(1, 40), (2, 3), (40, 1)])
@pytest.mark.parametrize(("width", "height"), [(240, 160), (10, 900), (900, 10)])
def test_picture_and_map_stand_clear_of_each_other_and_of_all_words(
    columns: int, rows: int, width: float, height: float
) -> None:
    seen = replace(PICTURE, columns=columns, rows=rows, pixels=bytes(4 * columns * rows))
    outline = replace(BLADE, path=Box(0, 0, width, height).outline())
    facts = replace(USUAL, picture=seen, plan=Drawing((outline,)), decals=())
    (page, *_) = sheet(facts).pages
    (drawn,) = (leaf.bounds() for leaf in page.drawing.leaves() if isinstance(leaf, Picture))
    (trim,) = (shape.bounds() for shape in shapes(page, "trim"))
    assert not meet(drawn, trim)
    words = [text for text in texts(page) if meet(text.bounds(), drawn) or meet(text.bounds(), trim)]
    assert words == []
    room = Box(MARGIN, MARGIN, page.width - MARGIN, page.height - MARGIN).grown(0.5)
    for box in (drawn, trim):
        assert room.holds(complex(box.left, box.bottom))
        assert room.holds(complex(box.right, box.top))


def test_numbers_stand_where_the_decals_lie_on_the_map() -> None:
    """The map is the plan at one scale, so that every place on it follows from the corners of the trim."""
    (page, *_) = sheet(USUAL).pages
    (trim,) = (shape.path.bounds() for shape in shapes(page, "trim"))
    assert trim.height / trim.width == pytest.approx(160 / 240)
    for number, decal in enumerate(USUAL.decals, start=1):
        (disc,) = shapes(page, f"decal {number}")
        assert decal.at is not None
        at = complex(trim.left, trim.bottom) + decal.at * trim.width / 240
        assert disc.bounds().centre == pytest.approx(at, abs=1e-9)


def test_decals_at_one_place_get_numbers_beside_each_other_with_lines_to_it() -> None:
    facts = replace(USUAL, decals=USUAL.decals[:1] * 12)
    (page, *_) = sheet(facts).pages
    discs = [shapes(page, f"decal {number}")[0].bounds() for number in range(1, 13)]
    apart = min(abs(one.centre - other.centre) for one, other in combinations(discs, 2))
    assert apart > discs[0].width
    for number, disc in enumerate(discs[1:], start=2):
        (line,) = shapes(page, f"to decal {number}")
        start, *_, end = line.path.flattened(0.1)[0]
        assert start == pytest.approx(discs[0].centre)
        assert end == pytest.approx(disc.centre)


def test_the_map_shows_neither_words_nor_white_and_nothing_to_cut() -> None:
    spot = Shape(path=circle(120 + 100j, 20), role="print", fill=(0.9, 0.2, 0.1), name="spot")
    white = replace(spot, role="white", name="under the spot")
    group = Clipped(clip=circle(120 + 100j, 15), items=(white, spot, Text(text="tiny", at=100 + 100j, role="guide")))
    document = sheet(replace(USUAL, plan=Drawing((BLADE, group))))
    (page, *_) = document.pages
    assert shapes(page, "under the spot") == []
    assert "tiny" not in [text.text for text in texts(page)]
    assert {role for page in document.pages for role in page.drawing.roles()} == {"note"}
    (trim,) = shapes(page, "trim")
    assert trim.stroke is not None
    assert trim.stroke.width == pytest.approx(0.5 * trim.path.bounds().width / 240)


@pytest.mark.parametrize(
    ("paper", "said"),
    [
        ("roll 610mm", "paper: must be a sheet such as a4 for the bench, not a roll or made to fit"),
        ("fit", "paper: must be a sheet such as a4 for the bench, not a roll or made to fit"),
        ("a5", "paper: a5 leaves less than 165 x 200 mm between its margins; use a4 or letter"),
    ],
)
def test_paper_that_will_not_do_is_refused(paper: str, said: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        sheet(USUAL, paper)
    assert str(caught.value) == said


@pytest.mark.parametrize(
    ("margin", "said"),
    [
        (-1.0, "margin: must be at least 0 mm, got -1 mm"),
        (float("nan"), "margin: must be a finite number of mm, got nan"),
        (500.0, "margin: must be at most 100 mm, got 500 mm"),
        (40.0, "paper: a4 leaves less than 165 x 200 mm between its margins; use a4 or letter"),
    ],
)
def test_margins_that_will_not_do_are_refused(margin: float, said: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        job_sheet(USUAL, parse_paper("a4"), margin=margin)
    assert str(caught.value) == said


@pytest.mark.parametrize(
    ("value", "change", "said"),
    [
        (USUAL, {"title": " "}, "title: must not be empty"),
        (USUAL, {"quantity": 0}, "quantity: must be at least 1 cups, got 0 cups"),
        (USUAL, {"quantity": 2.5}, "quantity: must be a whole number of cups, got 2.5"),
        (USUAL, {"quantity": True}, "quantity: must be a whole number of cups, got True"),
        (USUAL.pots[0], {"pots": 0}, "pots: must be at least 1 pots, got 0 pots"),
        (USUAL.pots[0], {"pots": 1.0}, "pots: must be a whole number, got 1.0"),
        (USUAL.decals[0], {"at": complex("nan")}, "at.x: must be a finite number of mm, got nan"),
        (USUAL.decals[0], {"at": complex(0, float("inf"))}, "at.y: must be a finite number of mm, got inf"),
    ],
)
def test_facts_that_cannot_be_are_refused(value: Any, change: dict[str, Any], said: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        replace(value, **change)
    assert str(caught.value) == said
