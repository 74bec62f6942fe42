"""Which kind of art a file holds, judged by its first bytes."""

from __future__ import annotations

from cupgeom.decor.artwork.artwork import Artwork
from cupgeom.decor.artwork.raster_art import is_picture, read_picture
from cupgeom.decor.artwork.svg import read_svg
from cupgeom.errors import CupgeomError

_MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")  # byte order marks of UTF-8 and UTF-16
_OTHERS = {  # what else people try, and what would do
    b"%PDF": "is a PDF; export it as SVG",
    b"%!PS": "is PostScript; export it as SVG",
    b"8BPS": "is a layered picture; export it as PNG",
    b"OTTO": "is a font; it belongs to lettering",
    b"\x00\x01\x00\x00": "is a font; it belongs to lettering",
    b"wOF": "is a font; it belongs to lettering",
    b"PK\x03\x04": "is a packed folder; unpack it first",
}


def read_artwork(data: bytes, name: str = "artwork") -> Artwork:
    """A file of art, SVG or picture, by what it holds and not by how it is called.

    Raises
    ------
    CupgeomError
        When it is neither, or cannot be used.
    """
    if not data.strip():
        raise CupgeomError(name, "is empty")
    if is_picture(data):
        return read_picture(data, name)
    for mark, what in _OTHERS.items():
        if data.startswith(mark):
            raise CupgeomError(name, what)
    start = data[:1000].lstrip(b" \t\r\n")
    if start[:1] == b"<" or start.startswith((*_MARKS, b"\x1f\x8b", b"<\x00", b"\x00<")):
        return read_svg(data, name)
    raise CupgeomError(name, "is neither SVG nor a picture in PNG, JPEG, GIF, WEBP, TIFF or BMP")
