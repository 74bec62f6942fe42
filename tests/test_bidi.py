"""Lines that run both ways, against the examples in Unicode Standard Annex #9 (from memory)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.decor import bidi

HEBREW = dict(zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", map(chr, range(0x5D0, 0x5EA)), strict=True))  # as the annex writes it
LATIN = {letter: capital for capital, letter in HEBREW.items()}
OF_CLASS = {
    "L": "a",
    "R": "א",
    "AL": "ا",
    "EN": "1",
    "AN": "١",
    "ES": "+",
    "ET": "$",
    "CS": ",",
    "NSM": "\u0300",
    "ON": "!",
    "WS": " ",
    "BN": "\u200d",
}


def hebrew(line: str) -> str:
    return "".join(HEBREW.get(character, character) for character in line)


def drawn(line: str, base: int) -> str:
    """How the annex shows a line: capitals for Hebrew, in the order in which they are drawn."""
    line = hebrew(line)
    mirrored = str.maketrans("()[]", ")(][")
    levels = bidi.levels(line, base)
    return "".join(
        LATIN.get(line[index], line[index].translate(mirrored) if levels[index] % 2 else line[index])
        for index in bidi.drawing_order(levels)
    )


@pytest.mark.parametrize(
    ("base", "line", "shown"),
    [
        (0, "car means CAR.", "car means RAC."),  # 3.4, example 1
        (1, "car MEANS CAR.", ".RAC SNAEM car"),  # 3.4, example 2
        (1, "AB(CD[&ef]!)gh", "gh(![ef&]DC)BA"),  # N0, example 1
        (1, "smith (fabrikam AB) CD", "DC (BA fabrikam) smith"),  # N0, example 2, shortened
        (1, "AB book(s)", "book(s) BA"),  # N0, example 3, shortened
        (0, "AB 123 CD", "DC 123 BA"),
        (1, "123 AB", "BA 123"),
        (0, "a (B) c", "a (B) c"),
    ],
)
def test_lines_are_drawn_as_the_annex_shows(base: int, line: str, shown: str) -> None:
    assert drawn(line, base) == shown


@pytest.mark.parametrize(
    ("base", "classes", "levels"),
    [  # the examples at the rules, and their levels by the table at I1 and I2
        (0, "AL NSM NSM", "111"),  # W1
        (0, "NSM L", "00"),
        (1, "NSM", "1"),
        (0, "AL EN", "12"),  # W2: a number after an Arabic letter; 2 either way, so that W7 must not touch it
        (1, "L AL EN", "212"),
        (0, "AL ON EN", "112"),
        (0, "L ON EN", "000"),  # W7
        (0, "R ON EN", "112"),
        (0, "EN ES EN", "000"),
        (1, "EN ES EN", "222"),  # W4
        (1, "EN CS EN", "222"),
        (1, "AN CS AN", "222"),
        (1, "AN ES AN", "212"),
        (1, "EN CS CS EN", "2112"),
        (1, "ET ET EN", "222"),  # W5
        (1, "EN ET ET", "222"),
        (1, "AN ET EN", "222"),
        (1, "AN ET", "21"),  # W6
        (1, "L ES EN", "222"),  # W7 makes the number a letter, N1 the sign between them
        (1, "R ON EN", "112"),
        (0, "L ON L", "000"),  # N1
        (0, "R ON R", "111"),
        (0, "R ON AN", "112"),
        (0, "AN ON R", "211"),
        (0, "AN ON AN", "212"),
        (0, "R ON L", "100"),  # N2
        (1, "L ON R", "211"),
        (0, "L BN R", "001"),  # X9: as if not there, with the level of what stands before
        (1, "L WS WS", "211"),  # L1
        (0, "R WS BN", "100"),
    ],
)
def test_levels_follow_the_rules(base: int, classes: str, levels: str) -> None:
    line = "".join(OF_CLASS[name] for name in classes.split())
    assert "".join(map(str, bidi.levels(line, base))) == levels


def test_a_mark_after_a_bracket_goes_with_it() -> None:
    assert bidi.levels(hebrew("A(b)\u0300 c"), 1) == [1, 1, 2, 1, 1, 1, 2]


def test_more_brackets_than_the_annex_provides_for_are_left_as_they_are() -> None:
    line = "a" + "(" * 64 + "א" + ")" * 64
    assert bidi.levels(line, 0)[65] == 1
    assert len(bidi.levels(line, 0)) == len(line)


@pytest.mark.parametrize(
    ("line", "level"), [("", 0), ("12 !", 0), ("1 a א", 0), ("! 1 א a", 1), ("ا", 1), ("\u200f a", 1)]
)
def test_the_first_letter_says_how_a_line_is_read(line: str, level: int) -> None:
    assert bidi.base_level(line) == level


@given(line=st.text("".join(OF_CLASS.values()) + "()[]", max_size=20), base=st.integers(0, 1))
def test_every_character_is_drawn_once_and_numbers_stay_readable(line: str, base: int) -> None:
    levels = bidi.levels(line, base)
    order = bidi.drawing_order(levels)
    assert sorted(order) == list(range(len(line)))
    assert all(level >= base for level in levels)
    assert all(levels[index] % 2 == 0 for index, character in enumerate(line) if character in "a1١")
    assert all(levels[index] % 2 == 1 for index, character in enumerate(line) if character in "אا")


@given(line=st.text("abc 12!(", max_size=20))
def test_a_line_of_latin_is_drawn_as_it_is_written(line: str) -> None:
    assert bidi.drawing_order(bidi.levels(line, 0)) == list(range(len(line)))
