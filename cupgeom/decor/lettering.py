"""Lines of lettering as outlines: shaped by the font's own rules, joined letters united, sized for the cup."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np

from cupgeom.decor import bidi, unite
from cupgeom.decor.font import Font, Glyph, script_of
from cupgeom.drawing import Box, Path
from cupgeom.errors import CupgeomError, Notice, number, require_at_most, require_finite, require_positive

Align = Literal["left", "centre", "right"]
Direction = Literal["auto", "ltr", "rtl"]
Running = Literal["round", "up", "down"]
ALIGNS: tuple[Align, ...] = ("left", "centre", "right")
DIRECTIONS: tuple[Direction, ...] = ("auto", "ltr", "rtl")
RUNNING_DEG: dict[Running, float] = {"round": 0.0, "up": 90.0, "down": -90.0}  # turn of a decal whose text runs so
LEADING = 1.2  # from baseline to baseline, in sizes of the font; common practice, no source
LONGEST_TEXT = 2000  # characters
LARGEST = 10_000.0  # mm
_LARGEST_SCALE = LARGEST  # mm to the grid unit, far above any
_SHARES: dict[Align, float] = {"left": 0.0, "centre": 0.5, "right": 1.0}
_JOINED = {  # scripts whose letters join, which no spacing may pull apart: CSS Text Level 3, section 8.2 (from memory)
    "Adlm": "Adlam",
    "Arab": "Arabic",
    "Mand": "Mandaic",
    "Mong": "Mongolian",
    "Nkoo": "N'Ko",
    "Phag": "Phags-pa",
    "Rohg": "Hanifi Rohingya",
    "Syrc": "Syriac",
}
_LANGUAGE = re.compile(r"([A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*)?")
# Characters that are rightly drawn blank: Default_Ignorable_Code_Point of the Unicode character database (from memory),
# and the empty Braille pattern; spaces besides.
_UNSEEN = re.compile(
    "[\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u2060-\u206f\u2800\u3164\ufe00-\ufe0f\ufeff\uffa0"
    "\U000e0000-\U000e0fff]"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """Lettering as outlines: no two cross, outer ones run anticlockwise, holes clockwise.

    The first baseline lies at y = 0; x = 0 is where the lines start, their middle, or where they end, as they are
    aligned. `centred` moves it to the middle of its ink.

    Attributes
    ----------
    text
        What it says.
    outlines
        The letters.
    bounds
        Smallest upright rectangle round the ink.
    size
        Of the font: its em.
    cap_height, x_height
        Heights of flat capitals and small letters as they are drawn; None for a font that has none.
    ascent, descent
        Reach of the font above and below a baseline, as it states them.
    advances
        Width of each line as it is set, from where its first letter starts to where the next would.
    baselines
        Height y of each line.
    notices
        What can be doubted.
    """

    text: str
    outlines: Path
    bounds: Box
    size: float
    cap_height: float | None
    x_height: float | None
    ascent: float
    descent: float
    advances: tuple[float, ...]
    baselines: tuple[float, ...]
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        require_positive("size", self.size)
        if len(self.advances) != len(self.baselines):
            raise CupgeomError("baselines", f"must be as many as advances, {len(self.advances)}")

    @property
    def advance(self) -> float:
        """Width of the widest line as it is set."""
        return max(self.advances)

    def centred(self) -> Lettering:
        """The same with the middle of its ink at the origin."""
        by = -self.bounds.centre
        left, bottom, right, top = self.bounds
        return replace(
            self,
            outlines=Path(self.outlines.kinds, (self.outlines.points + np.array((by.real, by.imag))).tobytes()),
            bounds=Box(left + by.real, bottom + by.imag, right + by.real, top + by.imag),
            baselines=tuple(baseline + by.imag for baseline in self.baselines),
        )


class _Line(NamedTuple):
    """A shaped line from left to right: each glyph, its place in grid units, and how many gaps come before it."""

    glyphs: tuple[tuple[unite.Outline, complex, int], ...]
    advance: float
    gaps: int
    joined: frozenset[str] = frozenset()  # names of scripts that are not spaced


def lettering(
    text: str,
    font: Font,
    *,
    size: float | None = None,
    cap_height: float | None = None,
    x_height: float | None = None,
    width: float | None = None,
    leading: float = LEADING,
    align: Align = "centre",
    letter_spacing: float = 0.0,
    direction: Direction = "auto",
    language: str = "",
) -> Lettering:
    """Set lines of text as outlines.

    Parameters
    ----------
    text
        One or more lines, at most 2000 characters.
    font
        The font.
    size, cap_height, x_height, width
        Exactly one of: size of the font (its em), height of its flat capitals or small letters, width of the ink.
    leading
        From baseline to baseline, in sizes of the font.
    align
        Of the lines with each other.
    letter_spacing
        Added between letters, which are then not made into ligatures; not applied to scripts whose letters join.
    direction
        How the lines are read; *auto* goes by the first letter of each.
    language
        BCP 47 tag, for fonts that draw a letter differently in some languages.

    Raises
    ------
    CupgeomError
        For a character that the font does not draw, for control characters, and when there is nothing to draw.
    """
    _check(align, direction, language, leading, letter_spacing)
    rows = _rows(text)
    glyphs = _Glyphs(font)
    lines = [_shaped(rows, row, glyphs, direction, language, spaced=letter_spacing != 0) for row in range(len(rows))]
    if not any(line.glyphs for line in lines):
        raise CupgeomError("text", "holds nothing to draw")
    metrics, share = font.metrics, _SHARES[align]
    asked = {"size": size, "cap_height": cap_height, "x_height": x_height, "width": width}
    scale = _scale(font, asked, lines, share, letter_spacing)
    spacing, step = letter_spacing / scale, leading * metrics.em
    advances = [line.advance + line.gaps * spacing for line in lines]
    if min(advances) < 0:
        raise CupgeomError("letter_spacing", f"{number(letter_spacing)} mm turns the line back on itself")
    parts = [
        (outline, place + complex(gaps * spacing - share * advance, -row * step))
        for row, (line, advance) in enumerate(zip(lines, advances, strict=True))
        for outline, place, gaps in line.glyphs
    ]
    boxes = [(outline.box, place) for outline, place in parts if outline.box]
    return Lettering(
        text=text,
        outlines=unite.united(parts, scale, font.name, glyphs.work),
        bounds=Box(
            min(box.left + place.real for box, place in boxes) * scale,
            min(box.bottom + place.imag for box, place in boxes) * scale,
            max(box.right + place.real for box, place in boxes) * scale,
            max(box.top + place.imag for box, place in boxes) * scale,
        ),
        size=metrics.em * scale,
        cap_height=None if metrics.cap_height is None else metrics.cap_height * scale,
        x_height=None if metrics.x_height is None else metrics.x_height * scale,
        ascent=metrics.ascent * scale,
        descent=metrics.descent * scale,
        advances=tuple(advance * scale for advance in advances),
        baselines=tuple(0.0 - row * step * scale for row in range(len(lines))),
        notices=_notices(lines, letter_spacing),
    )


def _check(align: str, direction: str, language: str, leading: float, letter_spacing: float) -> None:
    for where, value, known in (("align", align, ALIGNS), ("direction", direction, DIRECTIONS)):
        if value not in known:
            raise CupgeomError(where, f"must be one of {', '.join(known)}, got {value!r}")
    if not _LANGUAGE.fullmatch(language):
        raise CupgeomError("language", f"must be a language tag such as tr or zh-Hant, got {language!r}")
    require_positive("leading", leading, "sizes of the font")
    require_at_most("leading", leading, 100.0, "sizes of the font")
    require_finite("letter_spacing", letter_spacing)
    require_at_most("letter_spacing", abs(letter_spacing), LARGEST)


def _rows(text: str) -> list[str]:
    """The lines of a text, of drawable characters only."""
    if not isinstance(text, str):
        raise CupgeomError("text", f"must be text, got {type(text).__name__}")
    text = text.replace("\r\n", "\n")
    if len(text) > LONGEST_TEXT:
        raise CupgeomError("text", f"must be at most {LONGEST_TEXT} characters, got {len(text)}")
    rows = text.split("\n")
    for row, line in enumerate(rows):
        for column, character in enumerate(line):
            if unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp") or character in bidi.CONTROLS:
                raise _fault(rows, row, column, "a control character; only line breaks are drawn")
    return rows


def _fault(rows: Sequence[str], row: int, column: int, what: str) -> CupgeomError:
    """An error that names a character and its position, counted from 1."""
    character = rows[row][column]
    place = 1 + column + sum(len(line) + 1 for line in rows[:row])
    code = f"U+{ord(character):04X} {unicodedata.name(character, '')}".rstrip()
    shown = f'"{character}" ({code})' if character.isprintable() else code
    return CupgeomError("text", f"character {place} (line {row + 1}, column {column + 1}) is {shown}, {what}")


class _Glyphs:
    """The outlines of a font as one lettering needs them, drawn once, within bounds."""

    def __init__(self, font: Font) -> None:
        self.font = font
        self.work = 0.0
        self._known: dict[int, unite.Outline] = {}

    def __getitem__(self, number: int) -> unite.Outline:
        found = self._known.get(number)
        if found is None:
            found = self._known[number] = _outline(self.font, number)
            self.work = unite.require_bearable(self.work + found.work, self.font.name)
        return found

    def has_ink(self, character: str) -> bool:
        """Whether the glyph that stands for a character by itself is there and not blank."""
        number = self.font.glyph_of(character)
        return number is not None and self[number].box is not None


@lru_cache(maxsize=4096)
def _outline(font: Font, number: int) -> unite.Outline:
    return unite.outline(lambda pen: font.draw(number, pen), font.name)


def _shaped(
    rows: Sequence[str], row: int, glyphs: _Glyphs, direction: Direction, language: str, *, spaced: bool
) -> _Line:
    """One line shaped, of characters that are all drawn."""
    line = rows[row].rstrip(" ")
    base = bidi.base_level(line) if direction == "auto" else DIRECTIONS.index(direction) - 1
    codes = list(map(ord, line))
    placed: list[tuple[unite.Outline, complex, int]] = []
    pen, gaps, joined = 0.0, 0, set()
    last: tuple[int, bool] | None = None  # the cluster before, and whether it may be spaced
    for start, stop, level, script in _runs(line, base):
        shaped = glyphs.font.shape(
            codes, start, stop, leftwards=level % 2 == 1, script=script, language=language, ligatures=not spaced
        )
        _require_drawn(rows, row, glyphs, shaped, stop)
        loose = script not in _JOINED
        if not loose:
            joined.add(_JOINED[script or ""])
        for glyph in shaped:
            if last is not None and last[0] != glyph.character and (loose or last[1]):
                gaps += 1
            last = (glyph.character, loose)
            outline = glyphs[glyph.number]
            if outline.box:
                placed.append((outline, pen + glyph.offset, gaps))
            pen += glyph.advance
    return _Line(tuple(placed), pen, gaps, frozenset(joined))


def _runs(line: str, base: int) -> list[tuple[int, int, int, str | None]]:
    """Start, end, level and script of the parts of a line that run one way in one script, from left to right."""
    scripts = [script_of(character) for character in line]
    current = next(filter(None, scripts), None)
    runs: list[tuple[int, int, int, str | None]] = []
    for index, level in enumerate(bidi.levels(line, base)):
        current = scripts[index] or current
        if runs and runs[-1][2:] == (level, current):
            runs[-1] = (runs[-1][0], index + 1, level, current)
        else:
            runs.append((index, index + 1, level, current))
    return [runs[index] for index in bidi.drawing_order([level for _, _, level, _ in runs])]


def _require_drawn(rows: Sequence[str], row: int, glyphs: _Glyphs, shaped: Sequence[Glyph], stop: int) -> None:
    """Raise for the first character of a run that the font has no glyph for, or only a blank one.

    A blank glyph is right for a space, and where the font puts it in place of one that is not blank.
    """
    starts = sorted({glyph.character for glyph in shaped} | {stop})
    end = dict(pairwise(starts))
    faults: list[tuple[int, str]] = []
    for glyph in shaped:
        cluster = range(glyph.character, end[glyph.character])
        if glyph.number == 0:
            missing = [column for column in cluster if glyphs.font.glyph_of(rows[row][column]) is None]
            faults.append((missing[0] if missing else glyph.character, f"which {glyphs.font.name} has no glyph for"))
        elif glyphs[glyph.number].box is None:
            seen = [column for column in cluster if _is_seen(rows[row][column])]
            blank = f"which {glyphs.font.name} draws blank"
            faults += [(column, blank) for column in seen if not glyphs.has_ink(rows[row][column])]
    if faults:
        raise _fault(rows, row, *min(faults))


def _is_seen(character: str) -> bool:
    return unicodedata.category(character) != "Zs" and not _UNSEEN.match(character)


def _scale(
    font: Font, asked: dict[str, float | None], lines: Sequence[_Line], share: float, letter_spacing: float
) -> float:
    """Millimetres to the grid unit, from the one size that is asked for."""
    given = {where: value for where, value in asked.items() if value is not None}
    if len(given) != 1:
        got = " and ".join(given) or "none"
        raise CupgeomError("size", f"give exactly one of {', '.join(asked)}; got {got}")
    ((where, value),) = given.items()
    require_positive(where, value)
    require_at_most(where, value, LARGEST)
    if where == "width":
        return _fitting(lines, share, letter_spacing, value)
    metrics = font.metrics
    units = {"size": metrics.em, "cap_height": metrics.cap_height, "x_height": metrics.x_height}[where]
    if units is None:
        raise CupgeomError(
            where, f"cannot be told in {font.name}, which has no such letters; give size or width instead"
        )
    return value / units


def _fitting(lines: Sequence[_Line], share: float, letter_spacing: float, width: float) -> float:
    """Millimetres to the grid unit at which the ink is so wide.

    Every edge of a glyph lies at slope · scale + shift, so that the ink's width is convex and piecewise linear in the
    scale: Newton's steps down from a large scale end on the right piece.
    """
    lefts, rights = [], []
    for line in lines:
        for outline, place, gaps in line.glyphs:
            if outline.box:
                start, shift = place.real - share * line.advance, (gaps - share * line.gaps) * letter_spacing
                lefts.append((start + outline.box.left, shift))
                rights.append((start + outline.box.right, shift))
    scale, before = _LARGEST_SCALE, math.inf
    while scale < before:
        before = scale
        left = min(lefts, key=lambda edge: edge[0] * before + edge[1])
        right = max(rights, key=lambda edge: edge[0] * before + edge[1])
        scale = (width - right[1] + left[1]) / (right[0] - left[0])
        if scale <= 0:
            raise CupgeomError("width", f"must be wider than the letter_spacing alone, got {number(width)} mm")
    return scale


def _notices(lines: Sequence[_Line], letter_spacing: float) -> tuple[Notice, ...]:
    joined = sorted(frozenset().union(*(line.joined for line in lines))) if letter_spacing else []
    what = "is not applied to {}, whose letters join"
    return tuple(Notice("letter_spacing", what.format(script)) for script in joined)
