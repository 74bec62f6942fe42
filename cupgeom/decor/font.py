"""A font from its file's bytes, checked when it is opened; HarfBuzz, which only this module knows, shapes and draws."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from statistics import median
from typing import Any, NamedTuple

import uharfbuzz as hb

from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most

MEGABYTE = 2**20
LARGEST = 64 * MEGABYTE
_FINEST = 32768  # grid units to the em stay below this and at least half of it, so that steps of a font stay whole
_TABLES = ("cmap", "head", "hhea", "hmtx", "maxp")
_OUTLINES = ("glyf", "CFF ", "CFF2")
_LIGATURES = ("liga", "clig", "dlig", "hlig")
_CAPITALS, _SMALL_LETTERS = "EFHIKLMNTXZ", "uvwxz"  # flat on top
_MISTAKEN = (
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"\x89PNG", "a PNG picture"),
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "a ZIP archive; unpack it first"),
    (b"%!", "a PostScript Type 1 font; convert it to .otf"),
    (b"\x80\x01", "a PostScript Type 1 font; convert it to .otf"),
    (b"wOFF", "a WOFF 1 font; convert it to .ttf, .otf or .woff2"),
)


class Glyph(NamedTuple):
    """One glyph of a shaped run: its number in the font, the character it stands for, and its place in grid units."""

    number: int
    character: int  # index of the first character of its cluster
    offset: complex  # from the pen to the glyph's origin
    advance: float  # of the pen


class Metrics(NamedTuple):
    """Heights of a font in grid units: the em, reach above and (as a positive number) below the baseline, letters."""

    em: float
    ascent: float
    descent: float
    cap_height: float | None
    x_height: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Font:
    """A font: its file's bytes, which of the file's fonts it is, and where it stands on its axes.

    Parameters
    ----------
    data
        A TrueType or OpenType font, a collection of them, or WOFF2 (with the extra ``woff``).
    name
        What messages call it; mostly the file's name.
    index
        Which font of a collection, counted from 0.
    axes
        Settings of a variable font: pairs of an axis (its tag or its name) and a value; the others stay as designed.

    Raises
    ------
    CupgeomError
        When the bytes are no font, damaged, over 64 MB, or hold no outlines; when it lacks the index or an axis.

    Notes
    -----
    Lengths are told in grid units: the font's own units times a power of two, so that an em is 16384 to 32767 of them.
    """

    data: bytes = field(repr=False)
    name: str = "font"
    index: int = 0
    axes: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        if not isinstance(self.data, bytes):
            raise CupgeomError(self.name, f"must be the bytes of a font file, got {type(self.data).__name__}")
        _opened(self)

    @property
    def metrics(self) -> Metrics:
        """Heights."""
        return _metrics(self)

    def glyph_of(self, character: str) -> int | None:
        """Number of the glyph that stands for a character by itself; None where there is none."""
        found: int | None = _opened(self).get_nominal_glyph(ord(character))
        return found

    def shape(
        self,
        line: Sequence[int],
        start: int,
        stop: int,
        *,
        leftwards: bool = False,
        script: str | None = None,
        language: str = "",
        ligatures: bool = True,
    ) -> list[Glyph]:
        """The glyphs of a part of a line that runs one way in one script, from left to right as they are drawn.

        Parameters
        ----------
        line
            Code points of the whole line: letters join across the ends of the part.
        start, stop
            The part.
        leftwards
            Whether it is read from right to left.
        script
            Four-letter code of ISO 15924.
        language
            BCP 47 tag.
        ligatures
            Whether optional ligatures are made.

        Raises
        ------
        CupgeomError
            When a font meant to do harm makes too many glyphs of them.
        """
        buffer = hb.Buffer()
        buffer.add_codepoints(line, start, stop - start)
        buffer.direction = "rtl" if leftwards else "ltr"
        buffer.flags = hb.BufferFlags.REMOVE_DEFAULT_IGNORABLES | hb.BufferFlags.DO_NOT_INSERT_DOTTED_CIRCLE
        if script:
            buffer.script = script
        if language:
            buffer.language = language
        try:
            hb.shape(_opened(self), buffer, None if ligatures else dict.fromkeys(_LIGATURES, False))
        except MemoryError:  # what HarfBuzz says at 64 glyphs to the character
            raise CupgeomError(self.name, "makes these letters into too many glyphs; take another font") from None
        return [
            Glyph(info.codepoint, info.cluster, complex(place.x_offset, place.y_offset), place.x_advance)
            for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
        ]

    def draw(self, glyph: int, pen: Any) -> None:
        """Draw a glyph's outline with a pen: moveTo, lineTo, qCurveTo, curveTo and closePath in grid units."""
        _opened(self).draw_glyph_with_pen(glyph, pen)


@lru_cache(maxsize=4096)
def script_of(character: str) -> str | None:
    """Four-letter code of a character's script; None for what belongs to several, such as digits and spaces."""
    buffer = hb.Buffer()
    buffer.add_codepoints([ord(character)])
    buffer.guess_segment_properties()
    script: str | None = buffer.script
    return script


@lru_cache(maxsize=8)
def _opened(font: Font) -> hb.Font:
    """The font as HarfBuzz holds it, checked; a handful is kept, so that a value stays plain data."""
    data = _sfnt(font)
    _check_tables(font, data)
    face = hb.Face(data, font.index)
    if not face.glyph_count:
        raise CupgeomError(font.name, "is damaged: it holds no glyphs")
    opened = hb.Font(face)
    em = face.upem * 2 ** (_FINEST.bit_length() - 1 - face.upem.bit_length())
    opened.scale = (em, em)
    if font.axes:
        opened.set_variations(dict(_axis(font, face, *axis) for axis in font.axes))
    return opened


@lru_cache(maxsize=8)
def _metrics(font: Font) -> Metrics:
    """Heights; those of letters as they are drawn, since what fonts state of themselves is off by up to 14 %."""
    opened = _opened(font)
    extents = opened.get_font_extents("ltr")
    return Metrics(
        opened.scale[0],
        extents.ascender,
        -extents.descender,
        _height(opened, _CAPITALS, hb.OTMetricsTag.CAP_HEIGHT),
        _height(opened, _SMALL_LETTERS, hb.OTMetricsTag.X_HEIGHT),
    )


def _height(opened: hb.Font, letters: str, stated: hb.OTMetricsTag) -> float | None:
    """Middle one of the heights of some letters; without letters what the font states, if it does."""
    glyphs = [glyph for letter in letters if (glyph := opened.get_nominal_glyph(ord(letter)))]
    tops = [extents.y_bearing for glyph in glyphs if (extents := opened.get_glyph_extents(glyph))]
    height = median(tops) if tops else opened.get_metric_position(stated)
    return float(height) if height is not None and height > 0 else None


def _sfnt(font: Font) -> bytes:
    """The bytes in the form of TrueType and OpenType."""
    data = font.data
    if len(data) > LARGEST:
        raise CupgeomError(font.name, f"must be at most 64 MB, got {number(round(len(data) / MEGABYTE, 1))} MB")
    if data[:4] == b"wOF2":
        from cupgeom.decor.woff import unpacked

        return unpacked(data, font.name, LARGEST)
    if data[:4] not in (b"\0\1\0\0", b"OTTO", b"true", b"ttcf"):
        found = next((f", but {what}" for start, what in _MISTAKEN if data.startswith(start)), "")
        raise CupgeomError(
            font.name, f"is not a TrueType or OpenType font{found or ', but an empty file' * (not data)}"
        )
    return data


def _check_tables(font: Font, data: bytes) -> None:
    """Raise unless the tables lie inside the file, and those needed are there.

    The directory: OpenType specification, "Organization of an OpenType Font" (from memory).
    """
    fonts = struct.unpack_from(">I", data.ljust(12, b"\0"), 8)[0] if data[:4] == b"ttcf" else 1
    if isinstance(font.index, bool) or not isinstance(font.index, int) or not 0 <= font.index < fonts:
        raise CupgeomError(
            font.name, f"holds {fonts} font{'s' * (fonts != 1)}, counted from 0; there is no {font.index!r}"
        )
    try:
        start = struct.unpack_from(">I", data, 12 + 4 * font.index)[0] if data[:4] == b"ttcf" else 0
        count = struct.unpack_from(">H", data, start + 4)[0]
        tables = {
            tag: offset + length
            for tag, _, offset, length in (struct.unpack_from(">4s3I", data, start + 12 + 16 * i) for i in range(count))
        }
    except struct.error:
        raise CupgeomError(font.name, f"is cut off: its table of contents goes on beyond {len(data)} bytes") from None
    end = max(tables.values(), default=0)
    if end > len(data):
        raise CupgeomError(font.name, f"is cut off: it should hold {end} bytes, got {len(data)}")
    for tag in _TABLES:
        if tag.encode() not in tables:
            raise CupgeomError(font.name, f"is damaged: it lacks the table {tag!r}")
    if not any(tag.encode() in tables for tag in _OUTLINES):
        raise CupgeomError(font.name, "has no outlines, only pictures of its letters; choose an outline font")


def _axis(font: Font, face: hb.Face, asked: str, value: float) -> tuple[str, float]:
    """Tag and value of an axis asked for by tag or name."""
    names = {info.tag: face.get_name(info.name_id) or info.tag for info in face.axis_infos}
    if not names:
        raise CupgeomError(font.name, f"is not a variable font, so it has no axis {asked!r}")
    for info in face.axis_infos:
        if asked == info.tag or asked.casefold() == names[info.tag].casefold():
            require_at_least(f"{font.name}, axis {info.tag}", value, info.min_value, "units")
            require_at_most(f"{font.name}, axis {info.tag}", value, info.max_value, "units")
            return info.tag, value
    known = ", ".join(f"{tag} ({name})" for tag, name in names.items())
    raise CupgeomError(font.name, f"has no axis {asked!r}; it has {known}")
