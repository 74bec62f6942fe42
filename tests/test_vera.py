"""The table of widths against the font files that reportlab ships."""

from __future__ import annotations

import string
import struct
from pathlib import Path

import pytest
import reportlab
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.ttfonts import TTFontFile

from cupgeom.drawing import vera

FILES = {False: "Vera.ttf", True: "VeraBd.ttf"}
FONTS = {bold: TTFontFile(str(Path(reportlab.__file__).parent / "fonts" / name)) for bold, name in FILES.items()}
DRAWN = {code: glyph for code, glyph in FONTS[False].charToGlyph.items() if glyph != 0}  # glyph 0 is the empty box
EVERY = "".join(map(chr, sorted(DRAWN)))
BOLD = pytest.mark.parametrize("bold", [False, True], ids=["regular", "bold"])


def heights(bold: bool) -> dict[int, tuple[float, float]]:
    """Lowest and highest point of each character's glyph as a share of the size, from the font's own `glyf` table.

    OpenType specification, tables head (indexToLocFormat at 50), loca and glyf (from memory).
    """
    font = FONTS[bold]
    start = {tag: font.get_table_pos(tag)[0] for tag in ("head", "loca", "glyf")}
    data = font._ttf_data
    wide = struct.unpack_from(">h", data, start["head"] + 50)[0]
    found = {}
    for code in DRAWN:
        glyph = font.charToGlyph[code]
        where = start["loca"] + glyph * (4 if wide else 2)
        first, last = struct.unpack_from(">2I" if wide else ">2H", data, where)
        if last > first:
            at = start["glyf"] + first * (1 if wide else 2)
            _, low, _, high = struct.unpack_from(">4h", data, at + 2)
            found[code] = (low / font.unitsPerEm, high / font.unitsPerEm)
    return found


@BOLD
def test_every_width_is_that_of_the_font_file(bold: bool) -> None:
    font = FONTS[bold]
    assert font.unitsPerEm == vera.UNITS_PER_EM
    for code in DRAWN:
        in_units = font.charWidths[code] * font.unitsPerEm / 1000  # reportlab tells widths in thousandths
        assert vera.text_width(chr(code), vera.UNITS_PER_EM, bold=bold) == in_units, hex(code)


@BOLD
def test_both_cuts_draw_the_same_characters(bold: bool) -> None:
    assert {code for code, glyph in FONTS[bold].charToGlyph.items() if glyph != 0} == set(DRAWN)


def test_the_characters_it_draws_are_just_those_of_the_font_file() -> None:
    assert vera.missing_characters("".join(map(chr, range(0x20, 0xD800)))) == "".join(
        chr(code) for code in range(0x20, 0xD800) if code not in DRAWN
    )


def test_missing_characters_are_told_once_each_in_order() -> None:
    assert vera.missing_characters("Kopřiva & Łoś: 你好, 你 ✓ ―") == "řś你好✓―"
    assert vera.missing_characters(string.printable[:95] + "äöüßÉçñøœ “–” · × ° ½ ² − ≤ π Ω") == ""
    assert vera.missing_characters("") == ""


def test_a_missing_character_is_drawn_and_measured_as_a_question_mark() -> None:
    assert vera.written("a你b―") == "a?b?"
    assert vera.written("Élan − 3½ °") == "Élan − 3½ °"
    assert vera.text_width("a你b―", 3) == vera.text_width(vera.written("a你b―"), 3)


@BOLD
@given(text=st.text(EVERY, max_size=40), more=st.text(EVERY, max_size=40), size=st.floats(min_value=0.5, max_value=50))
def test_widths_add_up_and_grow_with_the_size(bold: bool, text: str, more: str, size: float) -> None:
    whole = vera.text_width(text + more, size, bold=bold)
    parts = vera.text_width(text, size, bold=bold) + vera.text_width(more, size, bold=bold)
    assert whole == pytest.approx(parts, rel=1e-13)
    assert vera.text_width(text, 2 * size, bold=bold) == 2 * vera.text_width(text, size, bold=bold)


@BOLD
def test_letters_stay_between_ascent_and_descent(bold: bool) -> None:
    for code, (low, high) in heights(bold).items():
        assert low >= -vera.DESCENT, chr(code)
        assert high <= vera.ascent(chr(code)) <= vera.TALLEST, chr(code)


def test_only_letters_with_accents_make_a_line_taller() -> None:
    plain = string.ascii_letters + string.digits + " .,;:!?()/|{}[]&%°½²×·−–“”ß"
    assert vera.ascent(plain) == vera.ASCENT
    assert vera.ascent("Élan") == vera.ascent("Ångström") == vera.TALLEST


@BOLD
def test_the_height_of_capitals_is_that_of_h(bold: bool) -> None:
    assert heights(bold)[ord("H")][1] == pytest.approx(vera.CAP_HEIGHT, abs=5e-4)
