"""Pictures as the bytes that PNG and PDF files hold."""

from __future__ import annotations

import struct
import zlib
from hashlib import blake2b
from typing import TYPE_CHECKING

from cupgeom.drawing import Picture

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.uint8]

_LEVEL = 4  # of zlib; 6 takes half as long again and saves nothing on photographs
_ROWS = 256  # packed at a time
_UP = 2  # the filter that keeps each row as its difference from the one above it (PNG, third edition, 9.2)
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def samples(picture: Picture) -> tuple[Samples, Samples | None]:
    """Colours (rows, 3 x columns) and alphas (rows, columns); no alphas where the picture is opaque."""
    import numpy as np

    pixels = np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)
    alphas = pixels[:, :, 3]
    return pixels[:, :, :3].reshape(picture.rows, -1), None if alphas.min() == 255 else alphas


def packed(rows: Samples) -> bytes:
    """Rows of bytes under PNG's Up filter and zlib: what a PNG holds, and a PDF's FlateDecode with predictors."""
    import numpy as np

    press, parts = zlib.compressobj(_LEVEL), []
    above = np.zeros_like(rows[0])
    for first in range(0, len(rows), _ROWS):
        block = rows[first : first + _ROWS]
        lines = np.empty((len(block), rows.shape[1] + 1), np.uint8)
        lines[:, 0] = _UP
        lines[0, 1:] = block[0] - above
        lines[1:, 1:] = block[1:] - block[:-1]
        above = block[-1]
        parts.append(press.compress(lines.tobytes()))
    return b"".join([*parts, press.flush()])


def png(picture: Picture, dpi: float | None = None) -> bytes:
    """A picture as a PNG file: 8 bits, with alpha unless it is opaque, its resolution in the pHYs chunk if given."""
    colours, alphas = samples(picture)
    if alphas is not None:
        import numpy as np

        colours = np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, -1)
    kind = 2 if alphas is None else 6
    chunks = [_chunk(b"IHDR", struct.pack(">IIBBBBB", picture.columns, picture.rows, 8, kind, 0, 0, 0))]
    if dpi is not None:
        per_metre = round(dpi / 0.0254)
        chunks.append(_chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
    return b"".join([_SIGNATURE, *chunks, _chunk(b"IDAT", packed(colours)), _chunk(b"IEND", b"")])


def fingerprint(picture: Picture) -> str:
    """A name made from what the picture shows, the same for the same pixels wherever they lie."""
    digest = blake2b(picture.jpeg or picture.pixels, digest_size=8)
    digest.update(struct.pack(">II", picture.columns, picture.rows))
    return digest.hexdigest()


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
