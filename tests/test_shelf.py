"""The shop file: cups and printers read from it, entries written into it, and whole messages for what is wrong."""

from __future__ import annotations

import datetime
import json
import math
import random
import textwrap
import tomllib
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError
from cupgeom import shelf as shelf_package
from cupgeom.cup import Foot, Handle, Ring, Span
from cupgeom.measure import BASE, RIM, Calliper, Film, Height, PaperGap, Place, Slant, Tape
from cupgeom.pages import Correction
from cupgeom.profile import Profile, Round, Smooth, Straight
from cupgeom.records import Faults
from cupgeom.shelf import (
    TAPES,
    Level,
    PaperRead,
    Read,
    Readings,
    cup_record,
    measure_readings,
    parse_amount,
    parse_level,
    parse_paper_gap,
    read_shelf,
    readings_record,
    with_cup,
    with_printer,
)
from cupgeom.shelf.reading import OPTIONS
from tests.strategies import frusta

SHOP = """\
# what we have on the shelf

[cups."tapered 20"]     # bought in spring
rim_around = "10 7/8 in"
base_around = "8 5/8 in"
slant = "6 3/4 in"
feet = [{ width = 14, from = 15, to = 30 }]
bare_lip = "6mm"
coated_to = "10mm up"
date = 2026-03-01
notes = "the blue ones"

[cups.mug]
rim = 82
base = 82
height = 95
feet = [
  { width = 14, from = 15, to = 30 },   # upper
  { width = 14, from = 65, to = 80 },
]
clearance = 4
handle_comes_off = true
base_coated = true

[cups.shouldered]
rings = [[88, 170], ["3 1/2 in", 150], [70, 0]]
uncertainty = 0.3

# --- printers

[printers.office]
notes = "upstairs"
a4 = { printed_bar = "99.2mm x 100.4mm", date = 2026-02-01 }

[printers.office."13x19in"]
across = 1.01

# --- money

[rates]
hour = 30
"""


def cups(body: str, *, thorough: bool = True) -> Cup:
    return read_shelf(f"[cups.x]\n{body}", thorough=thorough).cup("x")


def faults(text: str, *, thorough: bool = True) -> str:
    with pytest.raises(Faults) as caught:
        read_shelf(text, thorough=thorough)
    return str(caught.value)


def fault(body: str) -> str:
    """What is wrong with the entry of a cup, without the name of the file."""
    return faults(f"[cups.x]\n{body}").removeprefix("shop.toml:")


def written_key(name: str) -> str:
    return name if name.isascii() and name.replace("_", "").isalnum() else json.dumps(name, ensure_ascii=False)


def written(value: object) -> str:
    """A value as it may stand in a file."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{written_key(key)} = {written(one)}" for key, one in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return json.dumps(value)


# --- cups


def test_readings_as_typed_become_the_cup_that_fits_them() -> None:
    entry = read_shelf(SHOP).entry("tapered 20")
    cup = entry.cup()
    # 1 in = 25.4 mm; a circumference is π diameters; height² = slant² − (difference of the radii)²
    rim, base, slant = 10.875 * 25.4 / math.pi, 8.625 * 25.4 / math.pi, 6.75 * 25.4
    assert [ring.diameter for ring in cup.rings] == pytest.approx([rim, base], abs=1e-6)
    assert cup.height == pytest.approx(math.sqrt(slant**2 - ((rim - base) / 2) ** 2), abs=1e-6)
    assert cup.name == "tapered 20"
    assert cup.handle == Handle(feet=(Foot(width=14, top=15, bottom=30),))
    assert (cup.bare_lip, cup.coated) == (6, Span(top=6, bottom=cup.slant - 10))
    assert (entry.made, entry.notes, entry.inches) == (datetime.date(2026, 3, 1), "the blue ones", True)
    measured = entry.measured()
    assert measured is not None
    assert measured.estimate("slant").uncertainty == pytest.approx(0.5, rel=1e-6)  # nothing else bears on the ruler


def test_stated_sizes_are_taken_exactly() -> None:
    shelf = read_shelf(SHOP)
    handle = Handle(
        feet=(Foot(width=14, top=15, bottom=30), Foot(width=14, top=65, bottom=80)), clearance=4, removable=True
    )
    assert shelf.cup("mug") == Cup.frustum(82, 82, 95, name="mug", handle=handle, base_coated=True)
    assert shelf.entry("mug").measured() is None
    rings = (Ring(diameter=88, height=170), Ring(diameter=88.9, height=150), Ring(diameter=70, height=0))
    assert shelf.cup("shouldered") == Cup(rings=rings, name="shouldered")
    entry = shelf.entry("shouldered")
    assert (entry.inches, entry.uncertainty) == (True, 0.3)
    assert [cup.name for cup in shelf.cups] == ["tapered 20", "mug", "shouldered"]


def test_a_profile_is_built_from_its_pieces_each_going_on_where_the_one_above_ended() -> None:
    cup = cups("""profile = [
        { role = "lip", rings = [[86, 172], [86, 168]], arc = 2 },
        { role = "band", rings = [[86, 150]] },
        { role = "taper", rings = [[86, 150], [78, 60]] },
        { role = "shoulder", rings = [[66, 50]], arc = 15, hollow = true },
        { role = "foot", rings = [[60, 20], [50, 0]] },
    ]
    coated_from = 10
    coated_to = "10mm up"
    feet = { width = 14, from = 30, to = 45 }
    """)
    points = {"86 172": (86, 172), "86 168": (86, 168), "86 150": (86, 150), "78 60": (78, 60), "66 50": (66, 50)}
    ring = {name: Ring(diameter=diameter, height=height) for name, (diameter, height) in points.items()}
    foot = (ring["66 50"], Ring(diameter=60, height=20), Ring(diameter=50, height=0))
    profile = Profile(
        pieces=(
            Round(top=ring["86 172"], bottom=ring["86 168"], arc_radius=2, role="lip"),
            Straight(top=ring["86 168"], bottom=ring["86 150"], role="band"),
            Straight(top=ring["86 150"], bottom=ring["78 60"], role="taper"),
            Round(top=ring["78 60"], bottom=ring["66 50"], arc_radius=15, hollow=True, role="shoulder"),
            Smooth(rings=foot, role="foot"),
        )
    )
    handle = Handle(feet=(Foot(width=14, top=30, bottom=45),))
    assert cup == profile.cup(name="x", handle=handle, coated=Span(top=10, bottom=profile.length - 10))


def test_the_lip_of_a_profile_stays_bare_unless_another_drop_is_given() -> None:
    outline = (
        'profile = [{ role = "lip", rings = [[86, 172], [86, 168]], arc = 2 }, { role = "band", rings = [[86, 0]] }]'
    )
    lip = math.pi * 2  # half a circle of radius 2
    assert cups(outline).bare_lip == pytest.approx(lip, abs=0.05 * math.pi)  # the walls cut the curve short
    assert cups(f"{outline}\ncoated_to = 50").coated_span.top == pytest.approx(lip, abs=0.05 * math.pi)
    below = cups(f"{outline}\nbare_lip = 20").bare_lip - cups(outline).bare_lip
    assert below == pytest.approx(20 - lip, abs=1e-9)  # the band is straight, so that nothing of it is cut short


def test_every_kind_of_reading_is_handed_to_the_fit_as_it_was_meant() -> None:
    shelf = read_shelf("""[cups.x]
    rim_around = ["276mm", { read = "277mm", uncertainty = 0.3, thickness = 0.2, coated = true }]
    base_around = 220
    around = ["258mm@75mm", { read = 240, at = "20mm up", label = "low" }, "250 ± 0.8 @ ring 1"]
    rim = 88
    base = { read = "70 +- 0.2mm" }
    across = "80mm@base"
    height = [170, { read = 50, from = "rim", to = 50.5 }]
    slant = { read = 20, from = "20mm up", to = "ring 2", coated = true }
    film = "1.2mm"
    paper_gap.printed = [[88, 170], [70, 0]]
    paper_gap.rim = 1.5
    paper_gap.step = "0.4mm"
    paper_gap.to = 90
    paper_gap.thickness = 0.1
    paper_gap.uncertainty = 0.25
    ring_count = 3
    without = ["low"]
    uncertainty = 0.7
    """)
    shape = shelf.entry("x").shape
    assert isinstance(shape, Readings)
    assert (shape.ring_count, shape.without) == (3, ("low",))
    assert measure_readings(shape) == [
        Tape(value=276, uncertainty=0.7),
        Tape(value=277, uncertainty=0.3, thickness=0.2, coated=True),
        Tape(value=220, at=BASE, uncertainty=0.7),
        Tape(value=258, at=Place(drop=75), uncertainty=0.7),
        Tape(value=240, at=Place(up=20), uncertainty=0.7, label="low"),
        Tape(value=250, at=Place(ring=1), uncertainty=0.8),
        Calliper(value=88, uncertainty=0.7),
        Calliper(value=70, at=BASE, uncertainty=0.2),
        Calliper(value=80, at=BASE, uncertainty=0.7),
        Height(value=170, uncertainty=0.7),
        Height(value=50, top=RIM, bottom=Place(drop=50.5), uncertainty=0.7),
        Slant(value=20, top=Place(up=20), bottom=Place(ring=2), coated=True, uncertainty=0.7),
        Film(value=1.2),
        PaperGap(
            printed=Cup.frustum(88, 70, 170), rim=1.5, step=0.4, bottom=Place(drop=90), thickness=0.1, uncertainty=0.25
        ),
    ]


def test_readings_without_words_on_it_have_the_uncertainty_of_their_tool() -> None:
    shape = read_shelf("[cups.x]\nrim = [88, 88.1]\nslant = 170\nbase_around = 220").entry("x").shape
    assert isinstance(shape, Readings)
    assert [reading.uncertainty for reading in measure_readings(shape)] == [0.5, 0.1, 0.1, 0.5]  # as issued, assumed


def test_plain_rim_base_and_height_are_readings_as_soon_as_something_is_said_of_them() -> None:
    plain = "rim = 88\nbase = 70\nheight = 170\n"
    assert read_shelf(f"[cups.x]\n{plain}").entry("x").measured() is None
    measured = read_shelf(f"[cups.x]\n{plain}uncertainty = 0.3").entry("x").measured()
    assert measured is not None
    assert measured.estimate("rim diameter").uncertainty == pytest.approx(0.3, rel=1e-6)


def test_readings_that_leave_something_open_are_found_when_the_cup_is_asked_for() -> None:
    shelf = read_shelf("\n[cups.x]\nrim = 88\nbase = 70\n")
    with pytest.raises(Faults, match=r"^shop\.toml:2: cups\.x: readings: not enough to make a cup; measure next: "):
        shelf.cup("x")
    with pytest.raises(Faults, match=r"^shop\.toml:2: cups\.x: readings: not enough to make a cup; measure next: "):
        read_shelf("\n[cups.x]\nrim = 88\nbase = 70\n", thorough=True)


@st.composite
def some_readings(draw: st.DrawFn) -> Readings:
    """Readings of every kind, in any order, as typed or as numbers."""
    lengths = st.floats(1, 900).map(lambda mm: (mm, "")) | st.sampled_from([(88.9, "3 1/2 in"), (276.0, "27.6cm")])
    spreads = st.none() | st.floats(0.01, 5)
    levels = st.builds(Level, drop=st.floats(0, 200)) | st.builds(Level, up=st.floats(0, 200))
    levels |= st.sampled_from([Level(ring=0), Level(ring=1), Level(ring=-1)])
    reads = []
    for option in draw(st.lists(st.sampled_from(OPTIONS), min_size=1, max_size=6)):
        value, typed = draw(lengths)
        top, bottom = (draw(st.none() | levels) if option in ("height", "slant") else None for _ in range(2))
        reads.append(
            Read(
                option=option,
                value=value,
                typed=typed,
                uncertainty=draw(spreads),
                at=draw(levels) if option in ("around", "across") else None,
                top=top,
                bottom=bottom,
                thickness=draw(st.sampled_from([0.0, 0.2])) if option in TAPES else 0.0,
                coated=option != "film" and draw(st.booleans()),
                label=draw(st.sampled_from(["", "low", "the 'second'\n\"one\""])),
            )
        )
    paper = PaperRead(
        printed=(Ring(diameter=88, height=170), Ring(diameter=draw(st.floats(50, 90)), height=0)),
        rim=draw(st.none() | st.floats(-9, 9)),
        step=draw(st.floats(-9, 9)),
        bottom=draw(st.none() | levels),
        step_uncertainty=draw(spreads),
        thickness=draw(st.sampled_from([0.0, 0.1])),
        coated=draw(st.booleans()),
    )
    return Readings(
        reads=tuple(reads),
        papers=(paper,) * draw(st.integers(0, 2)),
        ring_count=draw(st.integers(2, 4)),
        without=draw(st.sampled_from([(), ("low",), ("rim tape", "step at the seam 2")])),
        uncertainty=draw(spreads),
    )


@given(some_readings())
def test_readings_that_are_saved_read_back_as_the_same_readings(readings: Readings) -> None:
    pairs = (f"{key} = {written(value)}\n" for key, value in readings_record(readings).items())
    assert read_shelf(f"{SHOP}[cups.x]\n{''.join(pairs)}").entry("x").readings() == readings


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"option": "girth"}, "option: must be one of rim_around, base_around, around, rim, base, across, "
         "height, slant, film, got 'girth'"),
        ({"value": 0}, "read: must be greater than 0 mm, got 0 mm"),
        ({"value": math.nan}, "read: must be a finite number of mm, got nan"),
        ({"uncertainty": 0}, "uncertainty: must be greater than 0 mm, got 0 mm"),
        ({"uncertainty": math.inf}, "uncertainty: must be a finite number of mm, got inf"),
        ({"thickness": -1}, "thickness: must be at least 0 mm, got -1 mm"),
        ({"option": "film", "value": -1}, "read: must be at least 0 mm, got -1 mm"),
    ],
)  # fmt: skip
def test_a_reading_checks_itself(change: dict[str, object], message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        replace(Read(option="slant", value=170), **change)
    assert str(caught.value) == message


def test_the_example_in_the_documentation_can_be_read() -> None:
    text = textwrap.dedent(shelf_package.__doc__.split("::\n")[1].split("\nA level")[0])
    shelf = read_shelf(text, thorough=True)
    assert [cup.name for cup in shelf.cups] == ["tapered 20", "mug", "shouldered", "rounded"]
    assert shelf.printer("office", "a4") == Correction(across=100 / 99.2, along=100 / 100.4)


def test_readings_are_saved_as_they_were_typed() -> None:
    readings = Readings(
        reads=(
            Read.of("slant", parse_amount("6 3/4 in")),
            Read.of("around", parse_amount("258mm@75mm")),
            Read.of("rim_around", parse_amount("10 7/8 in ± 1mm"), thickness=0.2),
            Read.of("around", parse_amount("9 in @ base"), coated=True),
        ),
        papers=(parse_paper_gap("rim=1.5mm, base=-0,5mm,step=1/64 in", Cup.frustum(88, 70, 170)),),
        without=("slant",),
    )
    assert readings_record(readings) == {
        "rim_around": {"read": "10 7/8 in", "thickness": 0.2, "uncertainty": 1},
        "around": ["258mm@75mm", {"read": "9 in", "at": "base", "coated": True}],
        "slant": "6 3/4 in",
        "paper_gap": [{"printed": [[88, 170], [70, 0]], "rim": 1.5, "base": -0.5, "step": 25.4 / 64}],
        "without": ["slant"],
    }


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("1.5mm", "paper_gap: cannot read '1.5mm'; give gaps such as rim=1.5mm,base=-0.5mm,step=0.4mm"),
        ("", "paper_gap: cannot read ''; give gaps such as rim=1.5mm,base=-0.5mm,step=0.4mm"),
        ("rin=1", "paper_gap: cannot take 'rin'; did you mean rim?"),
        ("rim=1,rim=2", "paper_gap: cannot take 'rim'; it is there already"),
        ("rim=x", "cannot read 'x'; give a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in"),
    ],
)
def test_a_paper_gap_that_cannot_be_read_is_said(text: str, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        parse_paper_gap(text, Cup.frustum(88, 70, 170))
    assert str(caught.value) == message


def test_later_readings_follow_and_what_was_set_aside_stays_so_under_its_new_name() -> None:
    first = Readings(
        reads=(Read.of("around", parse_amount("270@rim")), Read.of("slant", parse_amount("170"))),
        without=("rim tape",),
        ring_count=3,
        uncertainty=0.7,
    )
    later = Readings(
        reads=(Read.of("rim_around", parse_amount("276")), Read.of("base_around", parse_amount("220"))),
        papers=(parse_paper_gap("rim=1", Cup.frustum(88, 70, 170)),),
        without=("slant",),
    )
    both = first.followed_by(later)
    assert [read.option for read in both.reads] == ["rim_around", "base_around", "around", "slant"]
    assert both.papers == later.papers
    assert both.without == ("rim tape 2", "slant")  # the tape at the rim by --around, which now comes second
    assert (both.ring_count, both.uncertainty) == (3, 0.7)


def test_stated_sizes_can_be_gone_on_from_as_readings_but_rings_cannot() -> None:
    shelf = read_shelf(SHOP)
    assert [read.option for read in shelf.entry("mug").readings().reads] == ["rim", "base", "height"]
    with pytest.raises(CupgeomError) as caught:
        shelf.entry("shouldered").readings()
    assert str(caught.value) == (
        "cup: 'shouldered' is given by its rings, not by readings that others could be added to"
    )


def test_a_cup_is_listed_in_one_line_in_the_unit_it_was_typed_in() -> None:
    mug, glass = read_shelf("""
    [cups.mug]
    rim = 82
    base = 82
    height = 95.26
    feet = { width = 14, from = 15, to = 30 }
    date = 2026-03-01
    [cups.glass]
    rings = [["3 1/2 in", 170], ["3 in", 150], [70, 0]]
    notes = "blue\\nsecond hand"
    """).cups
    assert mug.summary == "mug: rim 82 mm, base 82 mm, height 95.3 mm, handle, 2026-03-01"
    assert glass.summary == "glass: rim 3.5 in, base 2.76 in, height 6.69 in, 3 rings, blue"


@pytest.mark.parametrize(
    ("text", "level"),
    [
        (75, Level(drop=75)),
        ("75mm", Level(drop=75)),
        ("3 in", Level(drop=76.2)),
        ("20mm up", Level(up=20)),
        ("2 IN UP", Level(up=50.8)),
        ("rim", Level(ring=0)),
        (" Base ", Level(ring=-1)),
        ("ring 2", Level(ring=2)),
    ],
)
def test_a_level_is_a_drop_an_up_or_a_ring(text: object, level: Level) -> None:
    assert parse_level(text) == level


def test_a_level_has_a_drop_on_a_wall() -> None:
    assert [parse_level(text).drop_on(170) for text in (75, "20 up", "rim", "base")] == [75, 150, 0, 170]


def test_an_amount_may_carry_its_uncertainty_and_its_place() -> None:
    amount = parse_amount("10 1/2 in +/- 1mm @ 2 in up")
    assert (amount.value, amount.uncertainty, amount.at) == (pytest.approx(266.7), 1, Level(up=50.8))
    assert [parse_amount(one).typed for one in ("10 1/2 in@rim", "88mm", "88", 88)] == ["10 1/2 in", "88mm", "", ""]


LENGTHS = "a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in"
SIZES = "give rim, base and height, or rings, or profile, or readings such as rim_around, base_around and slant"


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ("", f"1: cups.x: has no sizes; {SIZES}"),
        ("notes = 'x'", f"1: cups.x: has no sizes; {SIZES}"),
        ("rim = 0\nbase = 70\nheight = 170", "2: cups.x.rim: must be greater than 0 mm, got 0 mm"),
        ("rim = nan\nbase = 70\nheight = 170", "2: cups.x.rim: must be a finite number, got nan"),
        ("rim = 88\nbase = 70\nheight = 1e9", "4: cups.x.height: must be at most 10000 mm, got 1000000000 mm"),
        ("rim = '88mm@20'", "2: cups.x.rim: says by its key where it was read; use around or across for another place"),
        ("around = 250", "2: cups.x.around: needs the place where it was read, such as 258mm@75mm"),
        ("around = ['250@x']", f"2: cups.x.around[0]: cannot read 'x'; give {LENGTHS}"),
        ("around = ['250@-3']", "2: cups.x.around[0]: must be at least 0 mm, got -3 mm"),
        ("slant = '170 ± 0'", "2: cups.x.slant: must be greater than 0, got '0'"),
        ("slant = { read = 170, at = 3 }\nrim = 88\nbase = 70",
         "2: cups.x.slant.at: unknown key; use read, uncertainty, from, to, coated, label"),
        ("rim_around = { form = 3 }", f"2: cups.x.rim_around.read: is missing; give {LENGTHS}\n"
         "shop.toml:2: cups.x.rim_around.form: unknown key; use read, uncertainty, thickness, coated, label"),
        ("rings = [[88, 170]]", "2: cups.x.rings: a cup needs at least two rings, got 1"),
        ("rings = [[88, 170], [70, 180]]",
         "2: cups.x.rings[1][1]: must be below the ring before it (at 170 mm), got 180 mm"),
        ("rings = [[88, 170],\n [-70, 0]]", "3: cups.x.rings[1][0]: must be at least 0 mm, got -70 mm"),
        ("rings = [[0, 170], [0, 0]]",
         "2: cups.x.rings[0]: both radii are 0 mm; one of them must be greater than 0 mm"),
        ("rings = [[88, 170], [70, 0]]\nslant = 3", "3: cups.x.slant: cannot stand beside rings; keep one of the two"),
        ("rings = [[88, 170], [70, 0]]\nprofile = []",
         "3: cups.x.profile: cannot stand beside rings; keep one of the two"),
        ("profile = []", "2: cups.x.profile: a profile needs at least one piece"),
        ("profile = [{ role = 'band', rings = [[88, 170]] }]",
         "2: cups.x.profile[0].rings: needs two rings or more; only below another piece may the first be left out"),
        ("profile = [{ role = 'rim', rings = [[88, 170], [70, 0]], arc = 0 }]",
         "2: cups.x.profile[0].role: must be one of lip, band, taper, shoulder, foot, got 'rim'\n"
         "shop.toml:2: cups.x.profile[0].arc: must be greater than 0, got 0"),
        ("profile = [{ role = 'taper', rings = [[88, 170], [80, 100], [70, 0]], arc = 3 }]",
         "2: cups.x.profile[0].arc: goes with two rings, the ends of the arc, got 3"),
        ("profile = [\n{ role = 'band', rings = [[88, 170], [88, 100]] },\n{ role = 'foot', rings = [[70, 130]] }]",
         "4: cups.x.profile[1].rings: must be below the ring before it (at 100 mm), got 130 mm"),
        ("profile = [{ role = 'foot', rings = [[88, 9], [70, 0]], arc = 2 }]",
         "2: cups.x.profile[0].arc: must be at least 9 mm, or the arc would rise on its way from the top ring to the "
         "bottom ring, got 2 mm"),
        ("rim = 88\nbase = 70\nheight = 170\nfeet = [{ width = 14, from = 30, to = 15 }]",
         "5: cups.x.feet[0].to: must lie below the top (drop 30 mm), got drop 15 mm"),
        ("rim = 80\nbase = 80\nheight = 170\nfeet = [{ width = 14, from = 30, to = 1500 }]",
         "5: cups.x.feet[0].to: must be on the wall (drop 0 to 170 mm), got 1500 mm"),
        ("rim = 80\nbase = 80\nheight = 170\nfeet = [{ width = 90, from = 30, to = 50 }]",
         "5: cups.x.feet[0].width: must be less than the cup there (80 mm across), got 90 mm"),
        ("rim = 80\nbase = 80\nheight = 170\nclearance = 3",
         "5: cups.x.clearance: needs the feet of the handle; give feet = [{ width = 14, from = 15, to = 30 }]"),
        ("rim = 80\nbase = 80\nheight = 170\nbare_lip = 170",
         "5: cups.x.bare_lip: must be less than the wall's 170 mm, got 170 mm"),
        ("rim = 80\nbase = 80\nheight = 170\ncoated_to = '171mm up'",
         "5: cups.x.coated_to: must be on the wall of 170 mm, got 171 mm up"),
        ("rim = 80\nbase = 80\nheight = 170\ncoated_from = 50\ncoated_to = 40",
         "6: cups.x.coated_to: must lie below the top (drop 50 mm), got drop 40 mm"),
        ("rim = 80\nbase = 80\nheight = 170\ncoated_from = 'ring 1'",
         "5: cups.x.coated_from: must be a drop, a height above the base, rim or base, not an inner ring"),
        ("rim = 80\nbase = 80\nheight = 170\ndate = 'spring'",
         "5: cups.x.date: must be a date without quotes such as 2026-03-01, got 'spring'"),
        ("paper_gap = { printed = [[88, 170], [70, 0]] }", "2: cups.x.paper_gap: says nothing; give rim, base or step"),
        ("paper_gap = { rim = 1 }", "2: cups.x.paper_gap: printed.rings: a cup needs at least two rings, got 0"),
        ("rim = 88\nring_count = 1", "3: cups.x.ring_count: must be at least 2 rings, got 1 rings"),
        ("rim = 80\nbase = 80\nheight = 170\nrim_round = 276",
         "5: cups.x.rim_round: unknown key; did you mean rim_around?"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_cup_is_said_with_its_line_and_key(body: str, message: str) -> None:
    assert fault(body) == message


def test_faults_of_one_file_are_reported_together() -> None:
    assert faults("""# shop
[cups.low]
rim = "88 yards"
base = 70
height = 170
feet = [{ width = 14, from = 15, too = 30 }]

[cups."tapered 20"]
rim_around = -1
bare_lip = -2
coated_form = 3

[printers.office.a4]
across = 1.5

[printers.office.a9]
along = 1.01

[colours]
red = 1
""") == (
        "shop.toml:3: cups.low.rim: unknown unit 'yards' in '88 yards'; use mm, cm, in or \"\n"
        f"shop.toml:6: cups.low.feet[0].to: is missing; give {LENGTHS}\n"
        "shop.toml:6: cups.low.feet[0].too: unknown key; did you mean to?\n"
        'shop.toml:9: cups."tapered 20".rim_around: must be greater than 0 mm, got -1 mm\n'
        'shop.toml:10: cups."tapered 20".bare_lip: must be at least 0, got -2\n'
        'shop.toml:11: cups."tapered 20".coated_form: unknown key; did you mean coated_from?\n'
        "shop.toml:14: printers.office.a4.across: asks for 1.5 times the size; a printer is off by less: "
        "measure the bar again\n"
        "shop.toml:16: printers.office.a9: paper: unknown paper 'a9'; use a5, a4, a3, letter, legal, tabloid, "
        "a size such as 13x19in, roll 610mm, or fit\n"
        "shop.toml:19: colours: unknown key; use cups, printers, media, fonts, resins, racks, rates"
    )


def test_rates_are_read_and_what_is_wrong_with_them_is_found() -> None:
    rates = read_shelf('[rates]\nhour = "18.00"\nblank = { mug = "4.10" }\n').rates
    assert (rates.hour, rates.price("blank", "mug"), rates.price("blank", "bowl")) == (
        Decimal(18),
        Decimal("4.10"),
        None,
    )
    assert faults('[rates]\nspoilage = 1.5\nhours = "18"\n').splitlines() == [
        "shop.toml:2: rates.spoilage: must be below 1, such as 0.05 for 5 %, got 1.5",
        "shop.toml:3: rates.hours: unknown key; did you mean hour?",
    ]


def test_an_empty_text_is_an_empty_shelf() -> None:
    shelf = read_shelf("")
    assert (shelf.cups, shelf.corrections) == ((), ())
    with pytest.raises(CupgeomError) as caught:
        shelf.cup("mug")
    assert str(caught.value) == "cup: shop.toml has no cup 'mug'; it has no cups at all"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("tapered 21", "cup: shop.toml has no cup 'tapered 21'; did you mean \"tapered 20\"?"),
        ("glass", "cup: shop.toml has no cup 'glass'; use \"tapered 20\", mug, shouldered"),
    ],
)
def test_a_cup_that_is_not_there_is_answered_with_the_nearest_name(name: str, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        read_shelf(SHOP).cup(name)
    assert str(caught.value) == message


# --- printers


def test_a_printer_has_a_correction_for_each_paper() -> None:
    shelf = read_shelf(SHOP)
    # a bar of 100 mm that came out 99.2 mm long asks for 100/99.2
    assert shelf.printer("office", "a4") == Correction(across=100 / 99.2, along=100 / 100.4)
    assert shelf.printer("office", " 210 x 297 ") == Correction(across=100 / 99.2, along=100 / 100.4)
    assert shelf.printer("office", "13x19in") == Correction(across=1.01)
    assert shelf.corrections[0].made == datetime.date(2026, 2, 1)


def test_bars_measured_in_inches_are_compared_with_inch_bars() -> None:
    shelf = read_shelf('[printers.x.letter]\nprinted_bar = "3.98 x 4.02in"')
    correction = shelf.printer("x", "letter")
    assert (correction.across, correction.along) == (pytest.approx(4 / 3.98), pytest.approx(4 / 4.02))


@pytest.mark.parametrize(
    ("printer", "paper", "message"),
    [
        ("offce", "a4", "printer: shop.toml has no printer 'offce'; did you mean office?"),
        (
            "office",
            "a3",
            "paper: shop.toml has 'office' corrected for a4, 330.2 x 482.6 mm, not for a3; measure its bars first",
        ),
        ("office", "fit", "paper: a correction belongs to a paper of a known size, or to a roll, not to fit"),
    ],
)
def test_a_correction_that_is_not_there_is_said(printer: str, paper: str, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        read_shelf(SHOP).printer(printer, paper)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "[printers.x.a4]\n",
            '1: printers.x.a4: give either printed_bar = "99.2mm x 100.4mm", or across and along',
        ),
        (
            "[printers.x.a4]\nacross = 1\nprinted_bar = '99 x 99'",
            '1: printers.x.a4: give either printed_bar = "99.2mm x 100.4mm", or across and along',
        ),
        ("[printers.x.a4]\nacross = '1'", "2: printers.x.a4.across: must be a number, got '1'"),
        (
            "[printers.x.a4]\nprinted_bar = '99mm'",
            "2: printers.x.a4.printed_bar: cannot read '99mm'; give two lengths such as 99.2mm x 100.4mm",
        ),
        (
            "[printers.x]\na4.across = 1\n'210x297'.across = 1",
            "3: printers.x.210x297: is the same paper as a4; keep one of the two",
        ),
        ("[printers.x]\nacross = 1", "2: printers.x.across: must be a table with keys, got 1"),
        (
            "[printers.x.fit]\nacross = 1",
            "1: printers.x.fit: paper: a correction belongs to a paper of a known size, or to a roll, not to fit",
        ),
    ],
)
def test_what_is_wrong_with_a_printer_is_said_with_its_line_and_key(text: str, message: str) -> None:
    assert faults(text) == f"shop.toml:{message}"


# --- writing


@given(frusta(), st.data())
def test_a_cup_that_is_saved_reads_back_as_the_same_cup(cup: Cup, data: st.DataObject) -> None:
    drops = st.floats(0, cup.slant, exclude_max=True)
    if data.draw(st.booleans()):
        top, bottom = sorted(data.draw(st.lists(drops, min_size=2, max_size=2, unique=True)))
        foot = Foot(width=data.draw(st.floats(0.1, 5)), top=top, bottom=bottom)
        clearance, removable = data.draw(st.floats(0, 9)), data.draw(st.booleans())
        cup = replace(cup, handle=Handle(feet=(foot,), clearance=clearance, removable=removable))
    if data.draw(st.booleans()):
        top = data.draw(drops)
        cup = replace(cup, bare_lip=top, coated=Span(top=top, bottom=cup.slant), base_coated=data.draw(st.booleans()))
    if data.draw(st.booleans()):
        above = Ring(diameter=cup.rings[0].diameter, height=cup.rings[0].height + data.draw(st.floats(1, 30)))
        cup = replace(cup, rings=(above, *cup.rings))
    text = with_cup(SHOP, "saved", cup_record(cup))
    assert read_shelf(text).cup("saved") == replace(cup, name="saved")
    assert text.startswith(SHOP)


def test_a_new_entry_comes_at_the_end_and_all_else_stays_as_it_was() -> None:
    record = {
        "rim_around": ["10 7/8 in", 276.5],
        "base_around": {"read": "8 5/8 in", "uncertainty": 0.3},
        "slant": "6 3/4 in",
        "feet": [{"width": 14, "from": 15, "to": 30}, {"width": 14, "from": 65, "to": 80}],
        "base_coated": True,
        "notes": 'the "blue" one,\nsecond hand',
        "date": datetime.date(2026, 3, 1),
    }
    text = with_cup(SHOP, "tapered 30", record)
    assert (
        text.removeprefix(SHOP)
        == """
[cups."tapered 30"]
rim_around = ["10 7/8 in", 276.5]
base_around = {read = "8 5/8 in", uncertainty = 0.3}
slant = "6 3/4 in"
feet = [
    {width = 14, from = 15, to = 30},
    {width = 14, from = 65, to = 80},
]
base_coated = true
notes = "the \\"blue\\" one,\\nsecond hand"
date = 2026-03-01
"""
    )
    assert tomllib.loads(text)["cups"]["tapered 30"] == record


def test_a_replaced_entry_stays_in_its_place_with_its_comments() -> None:
    text = with_cup(SHOP, "mug", {"rim": "3 1/4 in", "base": 82, "height": 95, "bare_lip": 6}, replace=True)
    old = SHOP[SHOP.index("[cups.mug]") : SHOP.index("[cups.shouldered]")]
    new = '[cups.mug]\nrim = "3 1/4 in"\nbase = 82\nheight = 95\nbare_lip = 6\n\n'
    assert text == SHOP.replace(old, new)
    text = with_cup(SHOP, "tapered 20", {"rim": 88, "slant": 170, "base_around": "8 5/8 in"}, replace=True)
    assert text.startswith('# what we have on the shelf\n\n[cups."tapered 20"]     # bought in spring\n')


def test_tables_around_a_replaced_entry_stay_to_the_letter_and_their_comments_above_them() -> None:
    before = "[rates]\nsheet = {  vinyl = 1.20 }\n#over the mug\n"
    after = "\n# --- printers\n[printers.x]\na4 = {  across = 1.01, date = 2026-02-01 }"
    text = f"{before}[cups.mug]\nrim = 82\n{after}"
    assert with_cup(text, "mug", {"rim": 88, "base": 70, "height": 170}, replace=True) == (
        f"{before}[cups.mug]\nrim = 88\nbase = 70\nheight = 170\n{after}"
    )


def test_an_entry_of_dotted_keys_that_cannot_be_changed_in_place_moves_to_the_end() -> None:
    text = """# ours
[cups]
mug = { rim = 82, base = 82, height = 95 }
"it's".rim = 88     # wide
# narrow
"it's".base = 70
"it's".height = 95.25

"it's".notes = "z"

"it's".feet = [{ width = 14, from = 15, to = 30 }]
"""
    changed = with_cup(text, "it's", {"rim": 88, "base": 70, "height": 170}, replace=True)
    assert [line for line in changed.splitlines() if line] == [
        "# ours",
        "[cups]",
        "mug = { rim = 82, base = 82, height = 95 }",
        "# narrow",
        '[cups."it\'s"]',
        "rim = 88",
        "base = 70",
        "height = 170",
    ]


def test_what_an_entry_says_besides_its_sizes_can_be_kept() -> None:
    besides = read_shelf(SHOP).entry("tapered 20").besides
    assert list(besides) == ["feet", "bare_lip", "coated_to", "date", "notes"]
    text = with_cup(SHOP, "tapered 20", {**besides, "rim": 88, "base": 70, "height": 170}, replace=True)
    assert read_shelf(text).cup("tapered 20").handle == read_shelf(SHOP).cup("tapered 20").handle


def test_an_entry_is_replaced_only_when_asked_to() -> None:
    with pytest.raises(CupgeomError) as caught:
        with_cup(SHOP, "mug", {"rim": 1, "base": 1, "height": 1})
    assert str(caught.value) == "name: shop.toml:13 has a cup 'mug'; give --force to replace it, or another name"
    with pytest.raises(CupgeomError) as caught:
        with_printer(SHOP, "office", "210x297", Correction(across=1.01))
    assert str(caught.value) == (
        "printer: shop.toml has 'office' corrected for 210x297; give --force to replace that, or another name"
    )


def test_a_damaged_file_is_not_rewritten() -> None:
    damaged = SHOP.replace("rim = 82", "rim = 82 mm")
    for change in (
        lambda: with_cup(damaged, "new", {"rim": 88, "base": 70, "height": 170}, replace=True),
        lambda: with_printer(damaged, "new", "a4", Correction(across=1.01), replace=True),
    ):
        with pytest.raises(Faults) as caught:
            change()
        assert str(caught.value) == (
            'shop.toml:14:10: the line should end here; put text in quotes, such as "10 7/8 in", '
            "each key on its own line"
        )


def test_a_record_that_makes_no_cup_is_not_written() -> None:
    with pytest.raises(Faults) as caught:
        with_cup(SHOP, "new", {"rim": 88, "base": -70, "hieght": 170})
    assert str(caught.value) == (
        "the new entry:3: cups.new.base: must be greater than 0 mm, got -70 mm\n"
        "the new entry:4: cups.new.hieght: unknown key; did you mean height?"
    )
    with pytest.raises(Faults, match="not enough to make a cup"):
        with_cup(SHOP, "new", {"rim_around": 276, "slant": 170})


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("", "must be a name of printable characters with none empty around it, got ''"),
        (" mug", "must be a name of printable characters with none empty around it, got ' mug'"),
        ("mu\ng", "must be a name of printable characters with none empty around it, got 'mu\\ng'"),
        ("mug\udcff", "must be a name of printable characters with none empty around it, got 'mug\\udcff'"),
        ("m" * 101, "must be at most 100 characters long, got 101"),
    ],
)
def test_a_name_that_nobody_could_type_again_is_refused(name: str, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        with_cup("", name, {"rim": 88, "base": 70, "height": 170})
    assert str(caught.value) == f"name: {message}"
    with pytest.raises(CupgeomError) as caught:
        with_printer("", name, "a4", Correction())
    assert str(caught.value) == f"printer: {message}"


@pytest.mark.parametrize(
    "name", ["mug", "a.b", "[x]", "it's", '"quoted"', "é½″ 20", "back\\slash", "# 9", "x = 1", "1"]
)
def test_any_printable_name_is_found_again(name: str) -> None:
    text = with_cup("", name, {"rim": 88, "base": 70, "height": 170})
    assert read_shelf(text).cup(name) == Cup.frustum(88, 70, 170, name=name)
    text = with_printer(text, name, "a4", Correction(across=1.01))
    assert read_shelf(text).printer(name, "a4") == Correction(across=1.01)


def test_a_correction_is_added_and_replaced_under_the_name_its_paper_has() -> None:
    made = datetime.date(2026, 4, 1)
    text = with_printer(SHOP, "office", "letter", Correction(across=1.01, along=0.99), made=made)
    assert text.removeprefix(SHOP) == "\n[printers.office.letter]\nacross = 1.01\nalong = 0.99\ndate = 2026-04-01\n"
    text = with_printer(SHOP, "office", "210x297", Correction(across=1.02), replace=True)
    assert text == SHOP.replace(
        'a4 = { printed_bar = "99.2mm x 100.4mm", date = 2026-02-01 }', "a4 = {across = 1.02, along = 1}"
    )


def test_notes_on_a_correction_outlive_it() -> None:
    text = "[printers.x.a4]\nacross = 1.01\nnotes = 'feed from behind'\n"
    assert with_printer(text, "x", "a4", Correction(across=1.02), replace=True) == (
        '[printers.x.a4]\nacross = 1.02\nnotes = "feed from behind"\nalong = 1\n'
    )


def test_line_endings_stay_as_they_are() -> None:
    text = SHOP.replace("\n", "\r\n")
    added = with_cup(text, "new", {"rim": 88, "base": 70, "height": 170})
    assert added.startswith(text)
    assert added.count("\n") == added.count("\r\n")
    replaced = with_cup(text, "mug", {"rim": 88, "base": 70, "height": 170}, replace=True)
    assert replaced.count("\n") == replaced.count("\r\n")
    assert read_shelf(replaced).cup("mug") == Cup.frustum(88, 70, 170, name="mug")


def test_a_fault_in_another_table_stops_a_change_and_says_where() -> None:
    with pytest.raises(CupgeomError, match=r"shop\.toml:2: rates\.hour: must be an amount of 0 or more"):
        with_cup("[rates]\nhour = nan\n", "new", {"rim": 88, "base": 70, "height": 170})


class Layout:
    """Writes shop files in many layouts: headers in any order, dotted keys, braces; comments anywhere."""

    def __init__(self, chance: random.Random) -> None:
        self.chance, self.comments = chance, 0
        names = ("mug", "tapered 20", "a.b", "x = 1", "é", "it's", "#9")
        self.cups = {name: self.cup() for name in chance.sample(names, chance.randrange(4))}
        self.printers = {
            printer: {paper: {"across": 1.01, "along": 0.99} for paper in chance.sample(["a4", "letter", "13x19in"], 2)}
            for printer in chance.sample(["office", "photo x"], chance.randrange(3))
        }
        roots: list[str] = []  # what must stand before the first table
        blocks: list[str] = ["[rates]\nhour = 30\n"] if chance.random() < 0.5 else []
        self.place("cups", self.cups, roots, blocks)
        self.place("printers", self.printers, roots, blocks)
        chance.shuffle(blocks)
        self.blocks = blocks
        self.text = self.comment() + "".join([*roots, *(self.comment() + block + self.comment() for block in blocks)])
        if chance.random() < 0.2:
            self.text = self.text.rstrip("\n")

    def cup(self) -> dict[str, object]:
        record: dict[str, object] = {
            "rim": self.chance.choice([88, 88.5, "3 1/2 in"]),
            "base": self.chance.choice([70, "70mm"]),
            "height": self.chance.choice([170, 95.25]),
        }
        if self.chance.random() < 0.5:
            record["notes"] = self.chance.choice(["x # y", "[cups.z]\nrim = 1\n"])
        if self.chance.random() < 0.4:
            record["feet"] = [{"width": 14, "from": 15, "to": 30}, {"width": 14, "from": 40, "to": 50}]
        return record

    def comment(self) -> str:
        self.comments += 1
        return self.chance.choice(["", "", "\n", f"# comment {self.comments}\n", f"#comment {self.comments}\n\n"])

    def trail(self) -> str:
        self.comments += 1
        return self.chance.choice(["", "", f" # trail {self.comments}"])

    def lines(self, record: dict[str, object], before: str = "") -> str:
        pairs = (f"{before}{written_key(key)} = {written(value)}{self.trail()}\n" for key, value in record.items())
        return "".join(pair + (self.comment() if self.chance.random() < 0.3 else "") for pair in pairs)

    def place(self, key: str, tables: dict[str, dict[str, object]], roots: list[str], blocks: list[str]) -> None:
        style = self.chance.choice(["headers", "headers", "dotted", "braces", "root"]) if tables else ""
        if style == "braces":
            roots.append(f"{key} = {written(tables)}{self.trail()}\n")
        elif style == "root":
            roots.extend(self.lines(table, f"{key}.{written_key(name)}.") for name, table in tables.items())
        elif style == "dotted":
            parts = (
                f"{written_key(name)} = {written(table)}\n"
                if self.chance.random() < 0.5
                else self.lines(table, f"{written_key(name)}.")
                for name, table in tables.items()
            )
            blocks.append(f"[{key}]{self.trail()}\n" + "".join(self.comment() + part for part in parts))
        elif style == "headers" and key == "printers":
            for name, papers in tables.items():
                self.place(f"{key}.{written_key(name)}", papers, roots, blocks)
        elif style == "headers":
            for name, table in tables.items():
                feet = table.get("feet", []) if self.chance.random() < 0.4 else []
                plain = {one: value for one, value in table.items() if one != "feet" or not feet}
                header = f"{key}.{written_key(name)}"
                block = f"[{header}]{self.trail()}\n" + self.lines(plain)
                block += "".join(f"[[{header}.feet]]\n{self.lines(foot)}" for foot in feet)
                blocks.append(block)


def own_comments(text: str) -> list[str]:
    """The comments that have a line to themselves."""
    return [line.strip() for line in text.splitlines() if line.strip().startswith("#")]


@given(st.randoms(use_true_random=False))
def test_whatever_the_layout_one_entry_changes_and_every_comment_stays_in_order(chance: random.Random) -> None:
    layout = Layout(chance)
    text, before = layout.text, tomllib.loads(layout.text)
    assert (before.get("cups", {}), before.get("printers", {})) == (layout.cups, layout.printers)
    name, record = chance.choice([*layout.cups, "new one"]), layout.cup()
    changed = with_cup(text, name, record, replace=True)
    assert tomllib.loads(changed) == {**before, "cups": {**layout.cups, name: record}}
    assert own_comments(changed) == own_comments(text)
    ours = ("[cups]", f"[cups.{written_key(name)}]")
    assert all(block.rstrip("\n") in changed for block in layout.blocks if not block.startswith(ours))
    printer, paper = chance.choice([*layout.printers, "new one"]), chance.choice(["a4", "letter", "a5"])
    twice = with_printer(changed, printer, paper, Correction(across=1.02), replace=True)
    papers = {**layout.printers.get(printer, {}), paper: {"across": 1.02, "along": 1.0}}
    assert tomllib.loads(twice) == {**tomllib.loads(changed), "printers": {**layout.printers, printer: papers}}
    assert own_comments(twice) == own_comments(text)
