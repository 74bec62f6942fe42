"""Lettering: sizes, lines, runs of both directions, unions and refusals, against plain fonts, fontTools and shapely."""

from __future__ import annotations

import json
import math
import pickle
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path as FilePath

import numpy as np
import pytest
import shapely
from fontTools.pens.basePen import BasePen
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from cupgeom.decor.font import Font
from cupgeom.decor.lettering import (
    ALIGNS,
    LEADING,
    LONGEST_TEXT,
    RUNNING_DEG,
    Lettering,
    lettering,
)
from cupgeom.drawing import Affine, Box, Cubic, Path, path_of
from cupgeom.errors import CupgeomError, Notice

from .sample_font import CAP, EM, bars, box, built, built_font, fonttools, real

ARABIC = "مرحبا"
WORDS = {
    "Great Vibes": "Per aspera ad astra",
    "Dancing Script": "Constellation",
    "Hind": "नक्षत्र क्लब",
    "Amiri": "السلام عليكم",
    "Lobster": "Comet & fjord",
    "Dancing Script CFF": "Night office",
    "DejaVu Sans": "AVATAR ñandú",
    "Sawarabi Gothic": "彗星の夜・コメット",
    "Inter WOFF2": "Comet night",
}
PLAIN = built_font({"H": [box(CAP)], "x": [box(350)], " ": None, "i": [box(350, left=250, width=100)]})
TOLERANCE = 5e-5  # mm, of flattening letters of 10 mm to the em


def rings(path: Path) -> list[Box]:
    """The bounds of each outline, from left to right."""
    return sorted(path_of(segments).bounds() for segments, _ in path.outlines())


def spelt(result: Lettering, heights: dict[int, str]) -> str:
    """What lettering in a font of bars shows, from left to right."""
    return "".join(heights[round(ring.height / result.size * EM)] for ring in rings(result.outlines))


def fault(text: str, font: Font, **settings: object) -> str:
    with pytest.raises(CupgeomError) as caught:
        lettering(text, font, **({"size": 10.0} | settings))  # type: ignore[arg-type]
    return str(caught.value)


class Flattener(BasePen):
    """Draws the outlines of fontTools as corners close together."""

    def __init__(self, glyphs: object, tolerance: float) -> None:
        super().__init__(glyphs)
        self.tolerance = tolerance
        self.rings: list[list[complex]] = []
        self.cubics: list[NDArray[np.complex128]] = []  # quadratic curves as fontTools raises them

    def _moveTo(self, point: tuple[float, float]) -> None:
        self.rings.append([complex(*point)])

    def _lineTo(self, point: tuple[float, float]) -> None:
        self.rings[-1].append(complex(*point))

    def _curveToOne(self, *points: tuple[float, float]) -> None:
        a, b, c, d = self.rings[-1][-1], *(complex(*point) for point in points)
        self.cubics.append(np.array([a, b, c, d]))
        bend = max(abs(a - 2 * b + c), abs(b - 2 * c + d))
        steps = math.ceil(math.sqrt(0.75 * bend / self.tolerance)) or 1
        for t in (index / steps for index in range(1, steps + 1)):
            u = 1 - t
            self.rings[-1].append(u**3 * a + 3 * u * u * t * b + 3 * u * t * t * c + t**3 * d)


def covered(rings_of_glyph: list[list[complex]]) -> shapely.Geometry:
    """What outlines cover by the nonzero rule, by counting their windings round each piece of the plane."""
    drawn = [np.array(ring) for ring in rings_of_glyph if len(ring) > 2]
    lines = [shapely.LinearRing(np.stack([ring.real, ring.imag], axis=1)) for ring in drawn]
    pieces = shapely.polygonize([shapely.union_all(lines)]).geoms
    return shapely.union_all([piece for piece in pieces if windings(drawn, shapely.point_on_surface(piece))])


def windings(drawn: list[NDArray[np.complex128]], point: shapely.Point) -> int:
    """How often outlines run round a point, anticlockwise positive."""
    turns = 0.0
    for ring in drawn:
        seen = ring - complex(point.x, point.y)
        turns += np.angle(np.roll(seen, -1) / seen).sum() / math.tau
    return round(turns)


# Sizes ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "size"),
    [({"size": 10.0}, 10.0), ({"cap_height": 7.0}, 10.0), ({"x_height": 7.0}, 20.0), ({"width": 4.0}, 10.0)],
)
def test_lettering_is_as_large_as_it_is_asked_to_be(asked: dict[str, float], size: float) -> None:
    letter = lettering("H", PLAIN, align="left", **asked)
    assert letter.size == pytest.approx(size, rel=1e-12)
    assert letter.cap_height == pytest.approx(0.7 * size, rel=1e-12)
    assert letter.x_height == pytest.approx(0.35 * size, rel=1e-12)
    assert (letter.ascent, letter.descent) == pytest.approx((0.8 * size, 0.2 * size), rel=1e-12)
    assert letter.advance == pytest.approx(0.6 * size, rel=1e-12)
    assert letter.bounds == pytest.approx((0.1 * size, 0, 0.5 * size, 0.7 * size), rel=1e-12)
    assert letter.outlines.bounds() == pytest.approx(letter.bounds, rel=1e-6)
    assert letter.outlines.area() == pytest.approx(0.28 * size**2, rel=1e-6)


def test_the_height_of_capitals_is_the_one_stated_in_an_honest_font() -> None:
    stated = fonttools("Dancing Script")["OS/2"]
    drawn = lettering("H", real("Dancing Script"), cap_height=12.0)
    assert drawn.bounds.top == pytest.approx(12.0, abs=1e-4)
    assert drawn.size == pytest.approx(12.0 * EM / stated.sCapHeight, rel=1e-12)
    assert drawn.x_height == pytest.approx(drawn.size * stated.sxHeight / EM, rel=1e-12)


@pytest.mark.parametrize("name", ["Great Vibes", "Hind", "Amiri"])
def test_letters_are_where_fonttools_draws_them(name: str) -> None:
    font, reference = real(name), fonttools(name)
    glyphs, em = reference.getGlyphSet(), reference["head"].unitsPerEm
    for letter in "HgS&":
        pen = Flattener(glyphs, em * TOLERANCE / 10)
        glyphs[reference.getBestCmap()[ord(letter)]].draw(pen)
        drawn = lettering(letter, font, size=float(em), align="left")
        ours = drawn.outlines.to_shapely(1e-3)
        assert ours.symmetric_difference(covered(pen.rings)).area < 2e-4 * ours.area


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"size": None}, "size: give exactly one of size, cap_height, x_height, width; got none"),
        ({"width": 3.0}, "size: give exactly one of size, cap_height, x_height, width; got size and width"),
        ({"size": 0.0}, "size: must be greater than 0 mm, got 0 mm"),
        ({"size": -1.0}, "size: must be greater than 0 mm, got -1 mm"),
        ({"size": math.nan}, "size: must be a finite number of mm, got nan"),
        ({"size": math.inf}, "size: must be a finite number of mm, got inf"),
        ({"size": 1e9}, "size: must be at most 10000 mm, got 1000000000 mm"),
        ({"leading": 0.0}, "leading: must be greater than 0 sizes of the font, got 0 sizes of the font"),
        ({"leading": 101.0}, "leading: must be at most 100 sizes of the font, got 101 sizes of the font"),
        ({"letter_spacing": math.nan}, "letter_spacing: must be a finite number of mm, got nan"),
        ({"letter_spacing": -1e5}, "letter_spacing: must be at most 10000 mm, got 100000 mm"),
        ({"letter_spacing": -10.0}, "letter_spacing: -10 mm turns the line back on itself"),
        ({"align": "middle"}, "align: must be one of left, centre, right, got 'middle'"),
        ({"direction": "down"}, "direction: must be one of auto, ltr, rtl, got 'down'"),
        ({"language": "no such tag"}, "language: must be a language tag such as tr or zh-Hant, got 'no such tag'"),
        (
            {"size": None, "width": 5.0, "letter_spacing": 3.0},
            "width: must be wider than the letter_spacing alone, got 5 mm",
        ),
    ],
)
def test_what_cannot_be_set_is_refused(asked: dict[str, object], message: str) -> None:
    assert fault("HHH", PLAIN, **asked) == message


def test_a_height_of_letters_that_a_font_lacks_cannot_be_asked_for() -> None:
    font = Font(data=built({"ا": [box(CAP)]}).replace(b"OS/2", b"OS/3"), name="built.ttf")
    message = "cannot be told in built.ttf, which has no such letters; give size or width instead"
    assert fault("ا", font, size=None, cap_height=5.0) == f"cap_height: {message}"
    assert lettering("ا", font, size=10.0).x_height is None


# Lines ----------------------------------------------------------------------------------------------------------------


def test_lines_lie_a_leading_apart_and_the_first_baseline_at_0() -> None:
    three = lettering("H\n\nH", PLAIN, size=10.0)
    assert LEADING == 1.2
    assert three.baselines == pytest.approx((0, -12, -24))
    assert [ring.bottom for ring in rings(three.outlines)] == pytest.approx([-24, 0], abs=1e-6)
    assert lettering("H\nH", PLAIN, size=10.0, leading=2.0).baselines == (0, -20)


@pytest.mark.parametrize(("align", "lefts"), [("left", (1, 1)), ("centre", (-8, -2)), ("right", (-17, -5))])
def test_lines_are_aligned_by_their_advance(align: str, lefts: tuple[float, float]) -> None:
    two = lettering("HHH\nH", PLAIN, size=10.0, align=align)  # type: ignore[arg-type]
    assert two.advances == pytest.approx((18, 6))
    assert two.advance == pytest.approx(18)
    assert [min(ring.left for ring in rings(two.outlines) if (ring.bottom < -1) == low) for low in (False, True)] == (
        pytest.approx(lefts, abs=1e-5)
    )
    assert two.bounds.left == pytest.approx(min(lefts))


def test_spaces_at_the_end_of_a_line_do_not_move_it() -> None:
    assert lettering("H H  \nH", PLAIN, size=10.0).outlines == lettering("H H\nH", PLAIN, size=10.0).outlines
    assert lettering("  H", PLAIN, size=10.0, align="left").bounds.left == pytest.approx(13)


def test_line_breaks_of_every_platform_are_the_same() -> None:
    assert lettering("H\r\nx", PLAIN, size=10.0).outlines == lettering("H\nx", PLAIN, size=10.0).outlines


def test_lettering_can_be_moved_to_the_middle_of_its_ink() -> None:
    given = lettering("HH\nx", PLAIN, size=10.0, align="left")
    centred = given.centred()
    by = -given.bounds.centre
    assert centred.bounds.centre == pytest.approx(0)
    assert centred.outlines.bounds() == pytest.approx(centred.bounds, abs=1e-6)
    assert centred.baselines == pytest.approx([baseline + by.imag for baseline in given.baselines])
    assert centred.outlines.area() == pytest.approx(given.outlines.area())


def test_lettering_runs_up_and_down_the_wall() -> None:
    text = lettering("Hx", PLAIN, size=10.0)
    assert RUNNING_DEG["round"] == 0
    for running, sign in (("up", 1), ("down", -1)):
        turned = text.outlines.transformed(Affine.rotation(RUNNING_DEG[running]))  # type: ignore[index]
        large, small = sorted((path_of(s).bounds() for s, _ in turned.outlines()), key=lambda ring: -ring.width)
        assert (small.bottom - large.bottom) * sign > 0  # up: what is read later stands higher


def test_values_that_do_not_belong_together_are_refused() -> None:
    good = lettering("H", PLAIN, size=10.0)
    fields = {name: getattr(good, name) for name in Lettering.__dataclass_fields__}
    with pytest.raises(CupgeomError, match=r"^baselines: must be as many as advances, 1$"):
        Lettering(**fields | {"baselines": (0.0, 1.0)})
    with pytest.raises(CupgeomError, match=r"^size: must be greater than 0 mm, got 0 mm$"):
        Lettering(**fields | {"size": 0.0})


# Fitting a width and spacing ------------------------------------------------------------------------------------------


@given(
    text=st.text("Hxi \n", min_size=1, max_size=12).filter(str.strip),
    width=st.floats(20, 200),
    align=st.sampled_from(ALIGNS),
    letter_spacing=st.floats(-0.2, 1.5),
)
def test_the_ink_is_just_as_wide_as_asked(text: str, width: float, align: str, letter_spacing: float) -> None:
    fitted = lettering(text, PLAIN, width=width, align=align, letter_spacing=letter_spacing)  # type: ignore[arg-type]
    assert fitted.bounds.width == pytest.approx(width, abs=1e-9)
    assert fitted.outlines.bounds() == pytest.approx(fitted.bounds, abs=1e-4 * fitted.size)


def test_letter_spacing_is_added_between_letters_only() -> None:
    loose = lettering("HHH", PLAIN, size=10.0, letter_spacing=1.5, align="left")
    assert [ring.left for ring in rings(loose.outlines)] == pytest.approx([1, 8.5, 16], abs=1e-5)
    assert loose.advance == pytest.approx(18 + 2 * 1.5)
    assert loose.notices == ()


def test_spaced_letters_make_no_ligatures() -> None:
    shapes = {"f": [box(CAP)], "i": [box(350)]}
    font = built_font(shapes, "feature liga { sub f i by f_i; } liga;", extra={"f_i": [box(900)]})
    assert [ring.height for ring in rings(lettering("fi", font, size=10.0).outlines)] == pytest.approx([9], abs=1e-5)
    spaced = lettering("fi", font, size=10.0, letter_spacing=0.1)
    assert [ring.height for ring in rings(spaced.outlines)] == pytest.approx([7, 3.5], abs=1e-5)


def test_a_mark_stays_with_its_letter_when_letters_are_spaced() -> None:
    font = built_font({"H": [box(CAP)], "\u0323": [box(100, left=-300, width=100)]}, advances={"uni0323": 0})
    spaced = lettering("H\u0323H", font, size=10.0, letter_spacing=2.0, align="left")
    assert spaced.advance == pytest.approx(14)  # two letters, one gap
    assert rings(spaced.outlines)[-1].left == pytest.approx(6 + 2 + 1, abs=1e-5)


def test_joiners_take_no_gap_when_letters_are_spaced() -> None:
    assert lettering("H\u200dH", PLAIN, size=10.0, letter_spacing=2.0).advance == pytest.approx(6 + 2 + 6)


def test_joined_scripts_are_not_spaced_and_say_so() -> None:
    font = real("Amiri")
    spaced, plain = (lettering(ARABIC + " ab", font, size=10.0, letter_spacing=by) for by in (2.0, 0.0))
    assert spaced.notices == (Notice("letter_spacing", "is not applied to Arabic, whose letters join"),)
    assert plain.notices == ()
    gaps = 2  # between a and b, and between them and the Arabic
    assert spaced.advance == pytest.approx(plain.advance + 2.0 * gaps)


# Both directions ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("direction", "text", "shown"),
    [
        ("auto", "אבג", "גבא"),
        ("auto", "אב 12 ג", "ג12בא"),
        ("auto", "אב ab ג", "גabבא"),
        ("auto", "ab אב 12", "ab12בא"),
        ("ltr", "אב ab", "באab"),
        ("rtl", "אב ab", "abבא"),
        ("rtl", "ab", "ab"),
    ],
)
def test_lines_of_both_directions_come_out_in_order(direction: str, text: str, shown: str) -> None:
    font, heights = bars("אבגab12")
    font = built_font({heights[height]: [box(height)] for height in heights} | {" ": None})
    result = lettering(text, font, size=10.0, direction=direction, align="left")  # type: ignore[arg-type]
    assert spelt(result, heights) == shown


def test_each_line_is_read_by_its_own_first_letter() -> None:
    font, heights = bars("אבab")
    both = lettering("אab\naבא", font, size=10.0).outlines
    shown = {"".join(heights[round(ring.height * 100)] for ring in row) for row in by_line(both)}
    assert shown == {"abא", "aאב"}


def by_line(path: Path) -> list[list[Box]]:
    """Bounds of outlines that stand on one baseline, from left to right, for each baseline."""
    return [[ring for ring in rings(path) if round(ring.bottom) == y] for y in {round(r.bottom) for r in rings(path)}]


def test_brackets_open_towards_what_they_hold() -> None:
    font, heights = bars("()אa")
    assert spelt(lettering("(א)", font, size=10.0), heights) == "(א)"
    assert spelt(lettering("א(a)", font, size=10.0), heights) == "(a)א"


def test_arabic_numbers_and_latin_keep_their_order_in_arabic() -> None:
    font = real("Amiri")
    whole = lettering("ليلة 2026 ab", font, size=10.0, align="left")
    for part in ("2026", "ab"):
        alone = rings(lettering(part, font, size=10.0, align="left").outlines)
        steps = [ring.left - alone[0].left for ring in alone]
        sizes = [(ring.width, ring.height) for ring in alone]
        lefts = [ring.left for ring in rings(whole.outlines)]
        at = [
            index
            for index, ring in enumerate(rings(whole.outlines))
            if (ring.width, ring.height) == pytest.approx(sizes[0], abs=1e-4)
        ]
        assert any(
            [left - lefts[i] for left in lefts[i : i + len(steps)]] == pytest.approx(steps, abs=1e-4) for i in at
        )
    latin, digits = (rings(lettering(part, font, size=10.0).outlines)[0] for part in ("ab", "2026"))
    order = [
        next(i for i, ring in enumerate(rings(whole.outlines)) if ring.width == pytest.approx(one.width, abs=1e-4))
        for one in (latin, digits)
    ]
    assert order == sorted(order)  # read from the right: the number, then the Latin word at the left end


# Unions ---------------------------------------------------------------------------------------------------------------


def test_neighbours_that_overlap_become_one_outline() -> None:
    font = built_font({"H": [box(CAP, left=0, width=700)]})  # 100 units wider than it advances
    joined = lettering("HHH", font, size=10.0, align="left")
    assert joined.outlines.kinds.count(b"M") == 1
    assert joined.outlines.area() == pytest.approx(7 * (2 * 6 + 7), rel=1e-6)
    assert joined.outlines.bounds() == pytest.approx((0, 0, 19, 7), abs=1e-5)


def test_lines_that_overlap_are_united_too() -> None:
    font = built_font({"H": [box(CAP)]})
    block = lettering("H\nH", font, size=10.0, leading=0.5)
    assert block.outlines.kinds.count(b"M") == 1
    assert block.outlines.area() == pytest.approx(4 * 12, rel=1e-6)


def test_overlaps_inside_a_glyph_are_taken_out_and_holes_stay() -> None:
    hole = box(400, left=200, width=100)[::-1]
    font = built_font({"O": [box(CAP), [(x, y + 100) for x, y in hole], box(CAP, left=400, width=300)]})
    letter = lettering("O", font, size=10.0)
    areas = sorted(path_of(segments, closed=True).area() for segments, _ in letter.outlines.outlines())
    assert areas == pytest.approx([-4, 42], rel=1e-6)  # the hole runs clockwise


def test_an_island_in_a_hole_runs_as_an_outline_does() -> None:
    rings_of_it = [
        box(900, left=0, width=900),
        [(100, 100), (800, 100), (800, 800), (100, 800)],
        [(200, 200), (200, 700), (700, 700), (700, 200)],
    ]
    letter = lettering("O", built_font({"O": rings_of_it}), size=10.0)
    areas = sorted(path_of(segments, closed=True).area() for segments, _ in letter.outlines.outlines())
    assert areas == pytest.approx([-49, 25, 81], rel=1e-6)


def test_outlines_that_run_the_wrong_way_are_united_all_the_same() -> None:
    font = built_font({"a": [box(CAP, left=0, width=700)], "b": [box(CAP, left=0, width=700)[::-1]]})
    assert lettering("ab", font, size=10.0).outlines.area() == pytest.approx(7 * 13, rel=1e-6)


def test_quadratic_curves_become_cubics_exactly() -> None:
    reference = fonttools("Great Vibes")
    glyphs = reference.getGlyphSet()
    pen = Flattener(glyphs, 1.0)
    glyphs[reference.getBestCmap()[ord("o")]].draw(pen)
    drawn = lettering("o", real("Great Vibes"), size=1000.0, align="left").outlines
    cubics = [segment for segment in drawn.segments() if isinstance(segment, Cubic)]
    assert len(cubics) > 20
    for cubic in cubics:
        ways = [abs(np.array(cubic) - way).max() for raised in pen.cubics for way in (raised, raised[::-1])]
        assert min(ways) < 2e-3


@pytest.mark.parametrize("name", WORDS)
def test_real_words_cover_what_shapely_unites(name: str) -> None:
    font = real(name)
    word = lettering(WORDS[name], font, size=10.0, align="left")
    ours = word.outlines.to_shapely(TOLERANCE)
    letters = [covered(pen) for pen in placed(name, font, WORDS[name])]
    united = shapely.union_all(letters)
    assert ours.is_valid
    assert ours.symmetric_difference(united).area < 1e-4 * united.area
    assert word.outlines.area() == pytest.approx(united.area, rel=1e-4)  # so that no outlines cross or run wrong
    assert word.outlines.kinds.count(b"Z") == word.outlines.kinds.count(b"M")
    assert word.outlines.bounds() == pytest.approx(word.bounds, abs=1e-4)


def placed(name: str, font: Font, text: str) -> Iterator[list[list[complex]]]:
    """The outlines that fontTools draws for each glyph, at the places of HarfBuzz, for text that runs one way."""
    reference = fonttools(name)
    glyphs, em = reference.getGlyphSet(), font.metrics.em
    script = {"Hind": "Deva", "Amiri": "Arab"}.get(name, "Latn")
    pen_at = 0.0
    for glyph in font.shape(list(map(ord, text)), 0, len(text), leftwards=script == "Arab", script=script):
        pen = Flattener(glyphs, reference["head"].unitsPerEm * TOLERANCE / 10)
        glyphs[reference.getGlyphName(glyph.number)].draw(pen)
        at = (pen_at + glyph.offset) * 10 / em
        yield [[at + point * 10 / reference["head"].unitsPerEm for point in ring] for ring in pen.rings]
        pen_at += glyph.advance


def test_joined_letters_of_a_script_are_one_piece() -> None:
    word = lettering("comet", real("Dancing Script"), size=10.0)
    outer = [1 for segments, _ in word.outlines.outlines() if path_of(segments, closed=True).area() > 0]
    assert len(outer) == 1


def test_the_same_lettering_has_the_same_bytes() -> None:
    font = real("Great Vibes")
    first, second = (lettering("Look up", font, size=10.0) for _ in range(2))
    copy = Font(data=bytes(bytearray(font.data)), name=font.name)
    assert first == second == lettering("Look up", copy, size=10.0)
    assert pickle.loads(pickle.dumps(first)) == first


# Characters -----------------------------------------------------------------------------------------------------------


def test_a_missing_letter_is_named_with_its_place() -> None:
    assert fault("Hř\nx", PLAIN) == (
        'text: character 2 (line 1, column 2) is "ř" (U+0159 LATIN SMALL LETTER R WITH CARON), '
        "which built.ttf has no glyph for"
    )
    assert fault("HH\nxH你", PLAIN) == (
        'text: character 6 (line 2, column 3) is "你" (U+4F60 CJK UNIFIED IDEOGRAPH-4F60), '
        "which built.ttf has no glyph for"
    )
    assert fault("אH", PLAIN).startswith('text: character 1 (line 1, column 1) is "א" (U+05D0 HEBREW LETTER ALEF), ')
    assert fault("H\ue000", PLAIN) == (
        "text: character 2 (line 1, column 2) is U+E000, which built.ttf has no glyph for"
    )


def test_a_missing_mark_is_named_and_not_its_letter() -> None:
    assert fault("xH\u0308", PLAIN).startswith(
        'text: character 3 (line 1, column 3) is "\u0308" (U+0308 COMBINING DIAERESIS), '
    )


def test_a_letter_that_is_drawn_blank_is_missing() -> None:
    font = built_font({"H": [box(CAP)], "☄": None, " ": None})
    assert fault("H ☄", font) == (
        'text: character 3 (line 1, column 3) is "☄" (U+2604 COMET), which built.ttf draws blank'
    )


def test_a_blank_glyph_in_place_of_one_that_is_not_is_no_fault() -> None:
    font = built_font(
        {"a": [box(CAP)], "b": [box(350)]},
        "feature calt { lookup one { sub a' b by blank; } one; lookup two { sub blank b' by a_b; } two; } calt;",
        extra={"blank": [], "a_b": [box(900)]},
    )
    assert [ring.height for ring in rings(lettering("ab", font, size=10.0).outlines)] == pytest.approx([9], abs=1e-5)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a\tb", "character 2 (line 1, column 2) is U+0009, a control character; only line breaks are drawn"),
        ("a\nb\x00", "character 4 (line 2, column 2) is U+0000, a control character; only line breaks are drawn"),
        ("a\rb", "character 2 (line 1, column 2) is U+000D, a control character; only line breaks are drawn"),
        ("\x9b", "character 1 (line 1, column 1) is U+009B, a control character; only line breaks are drawn"),
        ("\ud800", "character 1 (line 1, column 1) is U+D800, a control character; only line breaks are drawn"),
        (
            "a\u202eb",
            "character 2 (line 1, column 2) is U+202E RIGHT-TO-LEFT OVERRIDE, a control character; "
            "only line breaks are drawn",
        ),
        (
            "a\u2028b",
            "character 2 (line 1, column 2) is U+2028 LINE SEPARATOR, a control character; only line breaks are drawn",
        ),
        ("", "holds nothing to draw"),
        (" \n ", "holds nothing to draw"),
        ("\u200b\u200d", "holds nothing to draw"),
        ("H" * (LONGEST_TEXT + 1), "must be at most 2000 characters, got 2001"),
        (7, "must be text, got int"),
    ],
    ids=ascii,
)
def test_text_that_cannot_be_drawn_is_refused(text: str, message: str) -> None:
    assert fault(text, PLAIN) == f"text: {message}"


@pytest.mark.parametrize(
    "character", ["\u00a0", "\u2009", "\u3000", "\u00ad", "\u200b", "\u200c", "\u200d", "\u200e", "\u2060", "\ufe0f"]
)
def test_spaces_and_joiners_are_drawn_blank_in_peace(character: str) -> None:
    assert len(rings(lettering(f"H{character}H", PLAIN, size=10.0).outlines)) == 2


@pytest.mark.parametrize("name", ["Great Vibes", "Hind"])
def test_marks_are_composed_with_their_letters(name: str) -> None:
    font = real(name)
    assert lettering("e\u0301", font, size=10.0).outlines == lettering("é", font, size=10.0).outlines


# Hostile fonts and texts ----------------------------------------------------------------------------------------------


def tangle(count: int) -> list[list[tuple[float, float]]]:
    """A star of so many long lines that nearly all cross."""
    step = math.tau * 0.4999
    corners = [(500 + 500 * math.cos(index * step), 500 + 500 * math.sin(index * step)) for index in range(count)]
    return [[(round(x), round(y)) for x, y in corners]]


def test_outlines_too_tangled_to_unite_are_refused_soon() -> None:
    font = built_font({"H": tangle(2000)})
    start = time.perf_counter()
    assert fault("H", font) == (
        "built.ttf: draws these letters with too many or too tangled outlines; take fewer or a plainer font"
    )
    assert time.perf_counter() - start < 5


HOSTILE = r"""
import json, resource, sys, time
from cupgeom.decor.font import Font
from cupgeom.decor.lettering import lettering
from cupgeom.errors import CupgeomError
start = time.perf_counter()
font = Font(data=sys.stdin.buffer.read(), name="hostile.ttf")
try:
    said = len(lettering(json.loads(sys.argv[1]), font, size=10.0, leading=0.1).outlines.kinds)
except CupgeomError as error:
    said = str(error)
print(json.dumps([said, time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss]))
"""


@pytest.mark.parametrize("kind", ["tangles", "marks", "joined", "lines", "growing"])
def test_hostile_fonts_and_texts_take_little_time_and_memory(kind: str) -> None:
    letters = list(map(chr, range(0x4E00, 0x4E00 + 40)))
    data, text = {
        "tangles": lambda: (built(dict.fromkeys(letters, tangle(400))), "".join(letters)),
        "marks": lambda: (real("Amiri").data, "a" + "\u0301" * 1999),
        "joined": lambda: (real("Amiri").data, "ع" * 2000),
        "lines": lambda: (real("Great Vibes").data, "\n".join(["gilly" * 10] * 39)),
        "growing": lambda: (
            built(
                {"a": [box(CAP)]},
                "feature ccmp {" + "".join(f"lookup g{i} {{sub a by {'a ' * 8};}} g{i};" for i in range(4)) + "} ccmp;",
            ),
            "a" * 2000,
        ),
    }[kind]()
    child = subprocess.run(
        [sys.executable, "-c", HOSTILE, json.dumps(text)],
        input=data,
        capture_output=True,
        check=True,
        cwd=FilePath(__file__).parents[1],
    )
    said, seconds, kilobytes = json.loads(child.stdout)
    assert isinstance(said, int) or said.endswith(
        ("take fewer or a plainer font", "too many glyphs; take another font")
    )
    assert seconds < 5
    assert kilobytes < 2**20


def test_a_long_text_is_drawn() -> None:
    text = "\n".join("Per aspera ad astra" for _ in range(30))
    block = lettering(text, real("Great Vibes"), width=200.0)
    assert block.bounds.width == pytest.approx(200.0)
    one = lettering(text.partition("\n")[0], real("Great Vibes"), width=200.0)
    assert block.outlines.area() == pytest.approx(30 * one.outlines.area(), rel=1e-4)
