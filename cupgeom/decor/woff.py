"""Web fonts (WOFF2) unpacked by fontTools, which only this module knows; it comes with the extra ``woff``."""

from __future__ import annotations

import io
import struct

from cupgeom.errors import CupgeomError

_SLOWEST = 4 * 2**20  # bytes of packed outlines; they are unpacked at about 1 MB a second
_GLYF, _LOCA, _OWN_TAG = 10, 11, 63  # places in the format's list of known tables


def unpacked(data: bytes, name: str, largest: int) -> bytes:
    """A WOFF2 font in the form of TrueType and OpenType.

    Raises
    ------
    CupgeomError
        When the extra is not installed, when the font is damaged, or when it unpacks to more than `largest` bytes.
    """
    try:
        import brotli
        from fontTools.ttLib import TTFont
    except ImportError:
        needs = (
            'is a WOFF2 font, which needs the extra "woff": pip install "cupgeom[woff]"; or give a .ttf or .otf file'
        )
        raise CupgeomError(name, needs) from None
    try:
        packed, outlines = _packed_part(data)
        size = len(brotli.Decompressor().process(packed, output_buffer_limit=largest + 1))
    except (struct.error, IndexError, brotli.error):
        raise CupgeomError(name, "is a damaged WOFF2 font") from None
    if size > largest or outlines > _SLOWEST:
        raise CupgeomError(name, "is a WOFF2 font that unpacks to too much; convert it to .ttf or .otf first")
    plain = io.BytesIO()
    try:
        font = TTFont(io.BytesIO(data))
        font.flavor = None
        font.save(plain, reorderTables=None)
    except Exception:  # fontTools meets damage with errors of all kinds
        raise CupgeomError(name, "is a damaged WOFF2 font") from None
    return plain.getvalue()


def _packed_part(data: bytes) -> tuple[bytes, int]:
    """The compressed part, and the size of the outlines in it.

    W3C, WOFF File Format 2.0, sections 4.1 to 5.1 (from memory): a header of 48 bytes, then for each table one byte of
    flags (tag in the low six bits, kind of packing in the high two), a tag where that is 63, and its lengths.
    """
    tables, length = struct.unpack_from(">H6xI", data, 12)
    at, outlines = 48, 0
    for _ in range(tables):
        flags = data[at]
        known, packing = flags & 63, flags >> 6
        at += 5 if known == _OWN_TAG else 1
        size, at = _number(data, at)
        if (packing == 0) if known in (_GLYF, _LOCA) else (packing != 0):
            size, at = _number(data, at)
        if known == _GLYF:
            outlines = size
    return data[at : at + length], outlines


def _number(data: bytes, at: int) -> tuple[int, int]:
    """A number of seven bits a byte, the last byte below 128, and where it ends."""
    value = 0
    while True:
        value = value << 7 | data[at] & 127
        at += 1
        if data[at - 1] < 128:
            return value, at
