"""Fonts: what is refused, what is told of them, and their glyphs against fontTools."""

from __future__ import annotations

import io
import math
import pickle
import struct
import sys
import time
from typing import Any

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation

from cupgeom.decor.font import LARGEST, Font
from cupgeom.errors import CupgeomError

from .sample_font import ADVANCE, CAP, EM, box, built, built_font, collection, fonttools, real, saved

PLAIN = built({"H": [box(CAP)], "x": [box(350)]})
WORDS = {
    "Great Vibes": "Look up",
    "Dancing Script": "Comet",
    "Hind": "AVATAR",
    "Amiri": "fjord",
    "Lobster": "Comet",
    "Dancing Script CFF": "Night",
    "DejaVu Sans": "office",
    "Sawarabi Gothic": "彗星の夜",
}


def variable() -> bytes:
    """A font whose H grows from 700 to 800 units wide as its axis `Heft` goes from 100 to 900."""
    builder = FontBuilder(EM, isTTF=True)
    builder.setupGlyphOrder([".notdef", "H"])
    builder.setupCharacterMap({ord("H"): "H"})
    pen = TTGlyphPen(None)
    pen.moveTo((0, 0))
    for point in ((0, CAP), (700, CAP), (700, 0)):
        pen.lineTo(point)
    pen.closePath()
    builder.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "H": pen.glyph()})
    builder.setupHorizontalMetrics({".notdef": (500, 0), "H": (900, 0)})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Built", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    builder.setupFvar([("HEFT", 100, 100, 900, "Heft")], [])
    wider = [(0, 0), (0, 0), (100, 0), (100, 0), (0, 0), (0, 0), (0, 0), (0, 0)]
    builder.setupGvar({"H": [TupleVariation({"HEFT": (0.0, 1.0, 1.0)}, wider)], ".notdef": []})
    return saved(builder.font)


def without(table: bytes) -> bytes:
    """A font in whose table of contents one table has another name."""
    return PLAIN.replace(table, b"lost", 1)


def refused(data: bytes, **settings: object) -> str:
    with pytest.raises(CupgeomError) as caught:
        Font(data=data, name="motto.ttf", **settings)  # type: ignore[arg-type]
    return str(caught.value)


# What is refused ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "is not a TrueType or OpenType font, but an empty file"),
        (b"hello", "is not a TrueType or OpenType font"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "is not a TrueType or OpenType font, but a JPEG picture"),
        (b"\x89PNG\r\n\x1a\n", "is not a TrueType or OpenType font, but a PNG picture"),
        (b"PK\x03\x04", "is not a TrueType or OpenType font, but a ZIP archive; unpack it first"),
        (b"%!PS-AdobeFont", "is not a TrueType or OpenType font, but a PostScript Type 1 font; convert it to .otf"),
        (b"wOFF", "is not a TrueType or OpenType font, but a WOFF 1 font; convert it to .ttf, .otf or .woff2"),
        (b"\0\1\0\0", "is cut off: its table of contents goes on beyond 4 bytes"),
        (PLAIN[:100], "is cut off: its table of contents goes on beyond 100 bytes"),
        (PLAIN[:-1], f"is cut off: it should hold {len(PLAIN)} bytes, got {len(PLAIN) - 1}"),
        (b"ttcf", "holds 0 fonts, counted from 0; there is no 0"),
        (b"ttcf\0\1\0\0\xff\xff\xff\xff", "is cut off: its table of contents goes on beyond 12 bytes"),
        (without(b"hmtx"), "is damaged: it lacks the table 'hmtx'"),
        (without(b"glyf"), "has no outlines, only pictures of its letters; choose an outline font"),
        (b"wOF2", "is a damaged WOFF2 font"),
    ],
    ids=lambda value: value[:32] if isinstance(value, str) else "",
)
def test_what_is_no_font_is_refused(data: bytes, message: str) -> None:
    assert refused(data) == f"motto.ttf: {message}"


def test_more_than_64_megabytes_are_refused_unread() -> None:
    assert refused(b"\0\1\0\0" + bytes(LARGEST)) == "motto.ttf: must be at most 64 MB, got 64 MB"


def test_only_bytes_are_a_font() -> None:
    assert refused("motto.ttf") == "motto.ttf: must be the bytes of a font file, got str"  # type: ignore[arg-type]


def test_a_font_whose_tables_are_rubbish_holds_no_glyphs() -> None:
    font = TTFont(io.BytesIO(PLAIN))
    at = font.reader.tables["maxp"].offset
    assert refused(PLAIN[:at] + b"\xff" * 32 + PLAIN[at + 32 :]) == "motto.ttf: is damaged: it holds no glyphs"


# Collections, axes, WOFF2 ---------------------------------------------------------------------------------------------


def test_a_font_of_a_collection_is_chosen_by_its_index() -> None:
    both = collection(PLAIN, built({"H": [box(500)]}))
    assert Font(data=both).metrics.cap_height == CAP / EM * Font(data=both).metrics.em
    second = Font(data=both, index=1)
    assert second.metrics.cap_height == 500 / EM * second.metrics.em


@pytest.mark.parametrize("index", [2, -1, True, 0.0])
def test_an_index_that_a_collection_lacks_is_refused(index: int) -> None:
    both = collection(PLAIN, PLAIN)
    assert refused(both, index=index) == f"motto.ttf: holds 2 fonts, counted from 0; there is no {index!r}"


def test_a_single_font_has_the_index_0_only() -> None:
    assert refused(PLAIN, index=1) == "motto.ttf: holds 1 font, counted from 0; there is no 1"


@pytest.mark.parametrize("axis", ["HEFT", "Heft", "heft"])
def test_an_axis_is_set_by_tag_or_name(axis: str) -> None:
    font = Font(data=variable(), axes=((axis, 500),))
    assert box_of(font, 1)[2] / font.metrics.em == 0.75  # half-way from 700 to 800 units of 1000


@pytest.mark.parametrize(
    ("axes", "message"),
    [
        ((("wght", 700),), "motto.ttf: has no axis 'wght'; it has HEFT (Heft)"),
        ((("HEFT", 901),), "motto.ttf, axis HEFT: must be at most 900 units, got 901 units"),
        ((("Heft", 99),), "motto.ttf, axis HEFT: must be at least 100 units, got 99 units"),
        ((("HEFT", math.nan),), "motto.ttf, axis HEFT: must be a finite number of units, got nan"),
    ],
)
def test_an_axis_that_cannot_be_set_is_refused(axes: tuple[tuple[str, float], ...], message: str) -> None:
    assert refused(variable(), axes=axes) == message


def test_a_font_without_axes_says_so() -> None:
    assert refused(PLAIN, axes=(("wght", 700),)) == "motto.ttf: is not a variable font, so it has no axis 'wght'"


def test_a_variable_font_stands_where_fonttools_puts_it() -> None:
    font = real("Dancing Script", axes=(("Weight", 600),))
    reference = fonttools("Dancing Script")
    glyphs = reference.getGlyphSet(location={"wght": 600})
    for letter in "Comet":
        pen = BoundsPen(glyphs)
        glyphs[reference.getBestCmap()[ord(letter)]].draw(pen)
        assert scaled(font, box_of(font, font.glyph_of(letter))) == pytest.approx(pen.bounds, abs=0.01)


def test_a_woff2_font_is_the_font_it_was_packed_from() -> None:
    font = TTFont(io.BytesIO(PLAIN))
    font.flavor = "woff2"
    packed = Font(data=saved(font), name="packed.woff2")
    plain = Font(data=PLAIN)
    assert packed.metrics == plain.metrics
    assert box_of(packed, 1) == box_of(plain, 1)


@pytest.mark.parametrize("missing", ["brotli", "fontTools.ttLib"])
def test_woff2_needs_its_extra(missing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    assert refused(b"wOF2") == (
        'motto.ttf: is a WOFF2 font, which needs the extra "woff": pip install "cupgeom[woff]"; '
        "or give a .ttf or .otf file"
    )


def woff2(tables: bytes, packed: bytes) -> bytes:
    """A WOFF2 file of a directory and a compressed part; W3C, WOFF File Format 2.0, section 4 (from memory)."""
    size = 48 + len(tables) + len(packed)
    head = struct.pack(">4sIIHHIIHH5I", b"wOF2", 0x10000, size, 1, 0, 0, len(packed), 1, 0, 0, 0, 0, 0, 0)
    return head + tables + packed


def test_a_woff2_font_that_unpacks_to_too_much_is_refused_early() -> None:
    import brotli

    bomb = brotli.compress(bytes(LARGEST + 1), quality=5)
    assert len(bomb) < 10_000
    start = time.perf_counter()
    message = refused(woff2(b"\x00" + b"\xa0\x80\x80\x01", bomb))
    assert message == "motto.ttf: is a WOFF2 font that unpacks to too much; convert it to .ttf or .otf first"
    assert time.perf_counter() - start < 5


@pytest.mark.parametrize("cut", [13, 47, 60, -20])
def test_a_damaged_woff2_font_is_refused(cut: int) -> None:
    font = TTFont(io.BytesIO(PLAIN))
    font.flavor = "woff2"
    assert refused(saved(font)[:cut]) == "motto.ttf: is a damaged WOFF2 font"


# What is told of a font -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Dancing Script", "built"])
def test_heights_of_letters_are_those_that_an_honest_font_states(name: str) -> None:
    if name == "Dancing Script":
        font, stated = real(name), fonttools(name)
    else:
        font, stated = Font(data=PLAIN), TTFont(io.BytesIO(PLAIN))
    units = font.metrics.em / stated["head"].unitsPerEm
    assert font.metrics.cap_height == stated["OS/2"].sCapHeight * units
    assert font.metrics.x_height == stated["OS/2"].sxHeight * units
    assert font.metrics.ascent == stated["hhea"].ascent * units
    assert font.metrics.descent == -stated["hhea"].descent * units


def test_heights_are_measured_where_a_font_states_them_wrong() -> None:
    font = built_font({"H": [box(650)], "x": [box(400)]})  # it states 700 and 350
    assert font.metrics.cap_height == 650 / EM * font.metrics.em
    assert font.metrics.x_height == 400 / EM * font.metrics.em


def test_a_font_without_latin_letters_has_the_heights_it_states() -> None:
    font = built_font({"ا": [box(650)]})
    assert font.metrics.cap_height == CAP / EM * font.metrics.em


def test_the_em_of_every_font_is_a_power_of_two_of_its_own() -> None:
    assert [Font(data=built({"H": [box(CAP)]}, em=em)).metrics.em for em in (16, 1000, 2048, 16384)] == [
        16384,
        32000,
        16384,
        16384,
    ]


@pytest.mark.parametrize("name", WORDS)
def test_glyphs_are_drawn_and_advance_as_fonttools_says(name: str) -> None:
    font, reference = real(name), fonttools(name)
    glyphs = reference.getGlyphSet()
    for character in set(WORDS[name]) - {" "}:
        (glyph,) = font.shape([ord(character)], 0, 1, ligatures=False)
        called = reference.getGlyphName(glyph.number)
        pen = BoundsPen(glyphs)
        glyphs[called].draw(pen)
        assert scaled(font, box_of(font, glyph.number)) == pytest.approx(pen.bounds, abs=2e-3)  # 32-bit floats
        advance = glyph.advance * reference["head"].unitsPerEm / font.metrics.em
        assert advance == pytest.approx(glyphs[called].width, abs=0.5)


def test_a_kerned_pair_is_as_close_as_the_font_says() -> None:
    pair = built_font({"A": [box(CAP)], "V": [box(CAP)]}, "feature kern { pos A V -80; } kern;")
    first, second = pair.shape(list(map(ord, "AV")), 0, 2)
    assert first.advance == (ADVANCE - 80) / EM * pair.metrics.em
    assert second.advance == ADVANCE / EM * pair.metrics.em


def lookups(font: TTFont, table: str, feature: str) -> list[Any]:
    """The subtables of the lookups of a feature, in any script."""
    content = font[table].table
    numbers = {
        number
        for record in content.FeatureList.FeatureRecord
        if record.FeatureTag == feature
        for number in record.Feature.LookupListIndex
    }
    subtables = [subtable for number in sorted(numbers) for subtable in content.LookupList.Lookup[number].SubTable]
    return [getattr(subtable, "ExtSubTable", subtable) for subtable in subtables]


def kerning(font: TTFont, left: str, right: str) -> int:
    """What a font's table of pairs takes off the advance of a glyph before another, in its own units."""
    for pairs in lookups(font, "GPOS", "kern"):
        if getattr(pairs, "LookupType", 0) != 2 or left not in pairs.Coverage.glyphs:
            continue
        if pairs.Format == 1:
            records = pairs.PairSet[pairs.Coverage.glyphs.index(left)].PairValueRecord
            values = [record.Value1 for record in records if record.SecondGlyph == right]
        else:
            row = pairs.Class1Record[pairs.ClassDef1.classDefs.get(left, 0)]
            values = [row.Class2Record[pairs.ClassDef2.classDefs.get(right, 0)].Value1]
        if values:
            return getattr(values[0], "XAdvance", 0) if values[0] else 0
    return 0


@pytest.mark.parametrize(
    ("name", "pairs"), [("Great Vibes", "To Ta We Fo"), ("Dancing Script", "AV To Yo"), ("DejaVu Sans", "AV LT")]
)
def test_real_fonts_kern_as_their_tables_say(name: str, pairs: str) -> None:
    font, reference = real(name), fonttools(name)
    units = font.metrics.em / reference["head"].unitsPerEm
    taken = []
    for pair in pairs.split():
        first, second = (reference.getBestCmap()[ord(letter)] for letter in pair)
        taken.append(kerning(reference, first, second))
        shaped = font.shape(list(map(ord, pair)), 0, 2, script="Latn")
        assert shaped[0].advance == (reference["hmtx"][first][0] + taken[-1]) * units
    assert any(taken)


def test_ligatures_are_made_unless_they_are_not_wanted() -> None:
    font, names = real("Great Vibes"), fonttools("Great Vibes")
    made = font.shape(list(map(ord, "office")), 0, 6)
    assert [names.getGlyphName(glyph.number) for glyph in made] == ["o", "f_f_i", "c", "e"]
    assert [glyph.character for glyph in made] == [0, 1, 4, 5]
    plain = font.shape(list(map(ord, "office")), 0, 6, ligatures=False)
    assert len(plain) == 6


def test_arabic_letters_join() -> None:
    font, names = real("Amiri"), fonttools("Amiri")
    shaped = font.shape(list(map(ord, "ععع")), 0, 3, leftwards=True, script="Arab")
    assert [glyph.character for glyph in shaped] == [2, 1, 0]  # from left to right: the last one first
    isolated = names.getBestCmap()[ord("ع")]
    forms = [lookups(names, "GSUB", feature)[0].mapping[isolated] for feature in ("fina", "medi", "init")]
    assert [[names.getGlyphName(glyph.number)] for glyph in shaped] == forms
    assert len({isolated, *(form for (form,) in forms)}) == 4


def test_arabic_letters_join_across_the_ends_of_a_part() -> None:
    font = real("Amiri")
    line = list(map(ord, "ببب"))
    alone = font.shape(line[:1], 0, 1, leftwards=True, script="Arab")
    first = font.shape(line, 0, 1, leftwards=True, script="Arab")
    assert first[-1].number != alone[-1].number


def test_devanagari_is_put_in_order() -> None:
    font = real("Hind")
    before = font.shape(list(map(ord, "कि")), 0, 2, script="Deva")
    assert len(before) == 2
    assert font.shape([ord("क")], 0, 1, script="Deva")[0].number == before[1].number  # the vowel sign goes first
    conjunct = font.shape(list(map(ord, "क्ष")), 0, 3, script="Deva")
    assert len(conjunct) == 1


def test_a_mark_without_its_letter_gets_no_dotted_circle() -> None:
    font = real("Hind")
    assert font.glyph_of("\u25cc") is not None
    assert len(font.shape([ord("ि")], 0, 1, script="Deva")) == 1


def test_a_language_may_ask_for_its_own_letters() -> None:
    font, names = real("Great Vibes"), fonttools("Great Vibes")

    def glyph(language: str) -> str:
        return names.getGlyphName(font.shape([0x15F], 0, 1, script="Latn", language=language)[0].number)

    assert glyph("") == "scedilla"
    assert glyph("ro") == "uni0219"  # Romanian writes the comma below


def test_a_font_is_plain_data() -> None:
    font = real("Dancing Script", axes=(("wght", 600),))
    copy = pickle.loads(pickle.dumps(font))
    assert copy == font
    assert hash(copy) == hash(font)
    assert copy.metrics == font.metrics
    assert "data" not in repr(font)


def box_of(font: Font, glyph: int | None) -> tuple[float, float, float, float]:
    """Bounds of a glyph in grid units."""
    pen = BoundsPen(None)
    assert glyph is not None
    font.draw(glyph, pen)
    assert pen.bounds is not None
    return pen.bounds  # type: ignore[no-any-return]


def scaled(font: Font, bounds: tuple[float, ...]) -> tuple[float, ...]:
    """Grid units in the font's own; all fonts here have 1000 or 2048 to the em."""
    return tuple(value * (2048 if font.metrics.em == 16384 else 1000) / font.metrics.em for value in bounds)
