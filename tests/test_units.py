"""Typed lengths, sizes and turns: every form, exact values, the traps, and the words of each refusal."""

from __future__ import annotations

import math
import time
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.errors import CupgeomError
from cupgeom.units import (
    MM_PER_INCH,
    POINTS_PER_INCH,
    describe_turn,
    format_length,
    is_inches,
    parse_length,
    parse_size,
    parse_turn,
)

# CHECKS V4: CSS Values and Units, absolute lengths: 1 in = 2.54 cm = 25.4 mm = 72 pt
INCH = Fraction(254, 10)
FORMS = "give a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in"


def test_the_inch_is_the_one_of_the_css_standard() -> None:
    assert MM_PER_INCH == INCH
    assert POINTS_PER_INCH == 72
    assert parse_length("1in") == parse_length("2.54cm") == parse_length("25.4mm") == 25.4


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("88", 88),
        ("88.5", Fraction("88.5")),
        ("88.", 88),
        (".5", Fraction(1, 2)),
        ("+88", 88),
        ("-12.5", Fraction("-12.5")),
        ("−12.5", Fraction("-12.5")),
        ("- 3", -3),
        ("-0", 0),
        ("1e2", 100),
        ("1.5E-2 cm", Fraction("0.15")),
        ("88mm", 88),
        ("88 mm", 88),
        ("  88\tmm\n", 88),
        ("88 mm", 88),
        ("88MM", 88),
        ("8.8cm", 88),
        ("8.8 Cm", 88),
        ("3.5in", Fraction("3.5") * INCH),
        ("3.5 inch", Fraction("3.5") * INCH),
        ("3.5 inches", Fraction("3.5") * INCH),
        ('3.5"', Fraction("3.5") * INCH),
        ("3.5″", Fraction("3.5") * INCH),
        ("3.5”", Fraction("3.5") * INCH),
        ("3 1/2 in", Fraction(7, 2) * INCH),
        ('3-1/2"', Fraction(7, 2) * INCH),
        ("3 - 1/2 in", Fraction(7, 2) * INCH),
        ("3–1/2 in", Fraction(7, 2) * INCH),
        ("3½ in", Fraction(7, 2) * INCH),
        ("3 ½ in", Fraction(7, 2) * INCH),
        ("3-½ in", Fraction(7, 2) * INCH),
        ("½ in", Fraction(1, 2) * INCH),
        ("-½ in", Fraction(-1, 2) * INCH),
        ("⅞in", Fraction(7, 8) * INCH),
        ("3 1⁄2 in", Fraction(7, 2) * INCH),
        ("7/8 in", Fraction(7, 8) * INCH),
        ("-3 1/2 in", Fraction(-7, 2) * INCH),
        ("5/2", Fraction(5, 2)),
        ("3 1/3 cm", Fraction(100, 3)),
    ],
)
def test_every_form_is_read_exactly_and_rounded_once(text: str, mm: Fraction) -> None:
    assert parse_length(text) == float(Fraction(mm))


def test_a_zero_has_no_sign() -> None:
    assert math.copysign(1, parse_length("-0")) == math.copysign(1, parse_turn("-0")) == 1


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("88,5 mm", 88.5),
        ("88,5", 88.5),
        ("3,25in", 82.55),
        (",5", 0.5),
        ("0,125 in", 3.175),  # no thousands begin with 0
        ("12,3456", 12.3456),  # nor have they four digits
        ("1234,567", 1234.567),
    ],
)
def test_a_comma_that_can_only_be_a_decimal_is_one(text: str, mm: float) -> None:
    assert parse_length(text) == mm


@pytest.mark.parametrize("text", ["1,000", "12,500 mm", "-999,999 in", "1,000e1"])
def test_a_comma_that_can_be_read_two_ways_is_refused(text: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        parse_length(text, "height")
    assert str(caught.value) == f"height: the comma in '{text}' can be read two ways; write a point for decimals"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", f"is empty; {FORMS}"),
        (" \t", f"is empty; {FORMS}"),
        ("88 qq", "unknown unit 'qq' in '88 qq'; use mm, cm, in or \""),
        ("88 m", "unknown unit 'm' in '88 m'; use mm, cm, in or \""),
        ("1e", "unknown unit 'e' in '1e'; use mm, cm, in or \""),
        ("1/0 in", f"the fraction in '1/0 in' divides by zero; {FORMS}"),
        ("3 1/0", f"the fraction in '3 1/0' divides by zero; {FORMS}"),
        ("nan", "must be a finite length, got 'nan'"),
        ("-inf", "must be a finite length, got '-inf'"),
        ("Infinity", "must be a finite length, got 'Infinity'"),
        ("1e400", "must be a finite length, got '1e400'"),
        ("-1e999in", "must be a finite length, got '-1e999in'"),
        ("1e1000", f"cannot read '1e1000'; {FORMS}"),
        ("∞", f"cannot read '∞'; {FORMS}"),
        ("nan mm", f"cannot read 'nan mm'; {FORMS}"),
        ("mm", f"cannot read 'mm'; {FORMS}"),
        ("tall", f"cannot read 'tall'; {FORMS}"),
        ("8 8", f"cannot read '8 8'; {FORMS}"),
        ("--8", f"cannot read '--8'; {FORMS}"),
        ("8.8.8", f"cannot read '8.8.8'; {FORMS}"),
        ("1,000.5", f"cannot read '1,000.5'; {FORMS}"),
        ("8mm mm", f"cannot read '8mm mm'; {FORMS}"),
        ("1_000", f"cannot read '1_000'; {FORMS}"),
        ("0x10", f"cannot read '0x10'; {FORMS}"),
        ("88²", "unknown unit '²' in '88²'; use mm, cm, in or \""),
        ("1 2/3/4", f"cannot read '1 2/3/4'; {FORMS}"),
        ("8\x00", f"cannot read '8\\x00'; {FORMS}"),
    ],
)
def test_what_is_no_length_is_refused_in_one_line(text: str, what: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        parse_length(text, "rim")
    assert str(caught.value) == f"rim: {what}"


@pytest.mark.parametrize("read", [parse_length, parse_size, parse_turn])
@pytest.mark.parametrize(
    "text",
    ["9" * 1_000_000, "9" * 5000, "1/" + "3" * 9000, "1" + " " * 500_000 + "y", "½" * 100_000, "9" * 5000 + "x9in"],
    ids=["a million digits", "more than int reads", "a long fraction", "a long gap", "many halves", "a long size"],
)
def test_endless_text_is_refused_soon_and_shown_short(read, text: str) -> None:
    begun = time.process_time()
    with pytest.raises(CupgeomError) as caught:
        read(text)
    assert time.process_time() - begun < 1
    assert str(caught.value).split(": ", 1)[1].startswith("cannot read ")
    assert len(str(caught.value)) < 200


@given(
    sign=st.sampled_from(["", "-", "+"]),
    whole=st.integers(min_value=0, max_value=10**9),
    decimals=st.text("0123456789", max_size=25),
    unit=st.sampled_from([("", 1), (" mm", 1), ("cm", 10), ("in", INCH), ('"', INCH)]),
)
def test_a_decimal_is_the_nearest_float_of_its_exact_value(
    sign: str, whole: int, decimals: str, unit: tuple[str, Fraction]
) -> None:
    exact = Fraction(f"{sign}{whole}.{decimals or '0'}") * unit[1]
    assert parse_length(f"{sign}{whole}.{decimals}{unit[0]}") == float(exact)


@given(
    whole=st.integers(min_value=0, max_value=10**6),
    above=st.integers(min_value=0, max_value=10**6),
    below=st.integers(min_value=1, max_value=10**6),
    joint=st.sampled_from([" ", "-", " - "]),
    unit=st.sampled_from([("", 1), ("in", INCH)]),
)
def test_a_fraction_is_the_nearest_float_of_its_exact_value(
    whole: int, above: int, below: int, joint: str, unit: tuple[str, Fraction]
) -> None:
    exact = (whole + Fraction(above, below)) * unit[1]
    assert parse_length(f"{whole}{joint}{above}/{below} {unit[0]}") == float(exact)


@given(st.text(max_size=30))
def test_any_text_is_a_finite_length_or_a_refusal(text: str) -> None:
    try:
        assert math.isfinite(parse_length(text))
    except CupgeomError as error:
        assert error.where == "length"


@pytest.mark.parametrize("text", ["1in", "3 1/2 in", '3.5"', "1 INCH", "-½”"])
def test_inches_are_known_as_inches(text: str) -> None:
    assert is_inches(text)


@pytest.mark.parametrize("text", ["1", "1mm", "1cm", "in", "", "1 qq", "9" * 5000 + "in"])
def test_what_is_not_in_inches_is_not(text: str) -> None:
    assert not is_inches(text)


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("99.2mm x 100.4mm", (99.2, 100.4)),
        ("99.2mmx100.4mm", (99.2, 100.4)),
        ("99.2 x 100.4 mm", (99.2, 100.4)),
        ("99.2mm x 100.4", (99.2, 100.4)),
        ("210x297", (210, 297)),
        ("210 × 297", (210, 297)),
        ("210X297", (210, 297)),
        ("13x19in", (330.2, 482.6)),
        ("13 x 19 in", (330.2, 482.6)),
        ('13"x19"', (330.2, 482.6)),
        ('13x19"', (330.2, 482.6)),
        ("13in x 482.6mm", (330.2, 482.6)),
        ("13cm x 19in", (130, 482.6)),
        ("8 1/2 x 11 in", (215.9, 279.4)),
        ("8-1/2x11in", (215.9, 279.4)),
        ("8½ x 11 in", (215.9, 279.4)),
        ("+13x19in", (330.2, 482.6)),
        ("8,5 x 11 in", (215.9, 279.4)),
    ],
)
def test_two_lengths_make_a_size_and_a_unit_at_the_end_serves_both(text: str, size: tuple[float, float]) -> None:
    assert parse_size(text) == size


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "cannot read ''; give two lengths such as 99.2mm x 100.4mm"),
        ("210", "cannot read '210'; give two lengths such as 99.2mm x 100.4mm"),
        ("210 x", "cannot read '210 x'; give two lengths such as 99.2mm x 100.4mm"),
        ("x 297", "cannot read 'x 297'; give two lengths such as 99.2mm x 100.4mm"),
        ("1x2x3", "cannot read '1x2x3'; give two lengths such as 99.2mm x 100.4mm"),
        ("wide x high", f"cannot read 'high'; {FORMS}"),
        ("wide x 297", f"cannot read 'wide'; {FORMS}"),
        ("13x19qq", "unknown unit 'qq' in '19qq'; use mm, cm, in or \""),
        ("13qq x 19", "unknown unit 'qq' in '13qq'; use mm, cm, in or \""),
        ("13in x 19", "the second length in '13in x 19' has no unit; give it one"),
        ("1/0 x 19in", f"the fraction in '1/0in' divides by zero; {FORMS}"),
    ],
)
def test_what_is_no_size_is_refused(text: str, what: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        parse_size(text, "paper")
    assert str(caught.value) == f"paper: {what}"


@pytest.mark.parametrize(
    ("text", "turn_deg"),
    [
        ("front", 0),
        ("right", 90),
        ("back", 180),
        ("left", -90),
        (" Left ", -90),
        ("30", 30),
        ("-30", -30),
        ("−30", -30),
        ("+30", 30),
        ("22,5", 22.5),
        ("30 deg", 30),
        ("30deg", 30),
        ("30°", 30),
        ("-180", -180),
        ("180°", 180),
        (".5", 0.5),
    ],
)
def test_a_turn_is_a_side_or_degrees(text: str, turn_deg: float) -> None:
    assert parse_turn(text) == turn_deg


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("181", "must be from -180° to 180°, got 181°"),
        ("-180.5", "must be from -180° to 180°, got -180.5°"),
        ("", "cannot read ''; give front, right, back, left or degrees from -180 to 180"),
        ("nan", "cannot read 'nan'; give front, right, back, left or degrees from -180 to 180"),
        ("1e2", "cannot read '1e2'; give front, right, back, left or degrees from -180 to 180"),
        ("top", "cannot read 'top'; give front, right, back, left or degrees from -180 to 180"),
        ("30 mm", "cannot read '30 mm'; give front, right, back, left or degrees from -180 to 180"),
    ],
)
def test_what_is_no_turn_is_refused(text: str, what: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        parse_turn(text, "split")
    assert str(caught.value) == f"split: {what}"


@pytest.mark.parametrize(
    ("turn_deg", "text"),
    [
        (0, "turn 0° (front)"),
        (-0.001, "turn 0° (front)"),
        (90, "turn 90° (right, seen from the front)"),
        (-90, "turn −90° (left, seen from the front)"),
        (180, "turn 180° (back)"),
        (-180, "turn −180° (back)"),
        (179.999, "turn 180° (back)"),
        (30, "turn 30° (right, seen from the front)"),
        (-22.5, "turn −22.5° (left, seen from the front)"),
        (120, "turn 120° (right, toward the back)"),
        (-150.125, "turn −150.12° (left, toward the back)"),
    ],
)
def test_a_turn_is_told_with_its_side(turn_deg: float, text: str) -> None:
    assert describe_turn(turn_deg) == text


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (88.0, "mm", "88 mm"),
        (170.2378, "mm", "170.24 mm"),
        (88.0, "in", "3.465 in"),
        (25.4, "in", "1 in"),
        (-0.001, "mm", "0 mm"),
        (0.0, "in", "0 in"),
    ],
)
def test_a_length_is_written_for_people(mm: float, unit: str, text: str) -> None:
    assert format_length(mm, unit) == text


def test_a_length_is_written_in_mm_or_inches_only() -> None:
    with pytest.raises(CupgeomError) as caught:
        format_length(10, "cm")
    assert str(caught.value) == "unit: must be mm or in, got 'cm'"


@given(
    mm=st.floats(min_value=-1e4, max_value=1e4),
    unit=st.sampled_from(["mm", "in"]),
    digits=st.integers(min_value=0, max_value=4),
)
def test_a_written_length_is_read_back_within_its_last_digit(mm: float, unit: str, digits: int) -> None:
    half = 0.5 * 10**-digits if unit == "mm" else 0.05 * 10**-digits * 25.4
    assert abs(parse_length(format_length(mm, unit, digits)) - mm) <= half * (1 + 1e-9) + 1e-11


@given(st.floats(min_value=-180, max_value=180).map(lambda turn: round(turn, 2)))
def test_a_described_turn_is_read_back(turn_deg: float) -> None:
    told = describe_turn(turn_deg).removeprefix("turn ").split(" (")[0]
    assert parse_turn(told) == turn_deg
