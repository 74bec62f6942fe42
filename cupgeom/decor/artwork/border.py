"""The plain border round a picture that would print as a box: finding it, and leaving it out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from cupgeom.decor.artwork.artwork import Artwork
from cupgeom.drawing import Box, Drawing, Picture
from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Mask = NDArray[np.bool_]
    Bytes = NDArray[np.uint8]

TOLERANCE = 12  # of 255 by which a channel of the border may stray, as JPEGs make it do (assumed)
_MOST_SWEEPS = 200  # a border that winds through more turns than this is no border


def border_colour(picture: Picture) -> tuple[int, int, int] | None:
    """The colour of the outermost pixels when they are opaque and all alike; else None."""
    import numpy as np

    pixels = _array(picture)
    edge = np.concatenate((pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]))
    colour = np.median(edge[:, :3], axis=0).astype(np.int16)
    alike = np.abs(edge[:, :3].astype(np.int16) - colour).max() <= TOLERANCE
    if not alike or edge[:, 3].min() < 255:
        return None
    red, green, blue = colour.tolist()
    return red, green, blue


def without_white(picture: Picture) -> Picture:
    """The picture with its border gone: what has the border's colour and hangs together with the edge is transparent.

    Pixels that touch it keep as much of themselves as the border does not explain, so that no pale rim stays.

    Raises
    ------
    CupgeomError
        When the outermost pixels are not opaque and all alike.

    Notes
    -----
    A pixel c beside a border of colour b is taken as a·f + (1 − a)·b with the least share a for which f is a colour:
    the largest over the channels of (b − c)/b and (c − b)/(255 − b).
    """
    import numpy as np

    colour = border_colour(picture)
    if colour is None:
        raise CupgeomError("picture", "has no plain border to leave out")
    pixels = _array(picture).copy()
    border = np.array(colour, np.int16)
    like = np.empty(pixels.shape[:2], np.bool_)
    for row, line in enumerate(pixels):  # a row at a time, which keeps memory small
        like[row] = (np.abs(line[:, :3] - border).max(axis=1) <= TOLERANCE) & (line[:, 3] == 255)
    gone = _from_edge(like)
    if gone.all():
        raise CupgeomError("picture", "is all border")
    rim = np.flatnonzero(_grown(gone) & ~gone)
    flat = pixels.reshape(-1, 4)
    seen, back = flat[rim, :3].astype(np.float64), border.astype(np.float64)
    room = np.where(seen < back, np.maximum(back, 1), np.maximum(255 - back, 1))
    share = (np.abs(seen - back) / room).max(axis=1).clip(1 / 255, 1)[:, None]
    flat[rim, :3] = np.rint(back + (seen - back) / share).clip(0, 255)
    flat[rim, 3] = np.rint(flat[rim, 3] * share[:, 0])
    flat[gone.ravel()] = 0
    return replace(picture, pixels=pixels.tobytes(), jpeg=b"")


def art_without_white(artwork: Artwork) -> Artwork:
    """A picture as artwork with its border gone, its box drawn in to what is left.

    Raises
    ------
    CupgeomError
        When the artwork is not one picture, or the picture has no plain border.
    """
    import numpy as np

    pictures = artwork.pictures()
    if len(pictures) != 1 or artwork.drawing.items != pictures:
        raise CupgeomError(artwork.name, "is not a picture of pixels; --drop-white is for those")
    try:
        picture = without_white(pictures[0])
    except CupgeomError as error:
        raise CupgeomError(artwork.name, error.what) from None
    solid = _array(picture)[..., 3] > 0
    rows, columns = np.flatnonzero(solid.any(axis=1)), np.flatnonzero(solid.any(axis=0))
    low = picture.place(complex(columns[0] / picture.columns, 1 - (rows[-1] + 1) / picture.rows))
    high = picture.place(complex((columns[-1] + 1) / picture.columns, 1 - rows[0] / picture.rows))
    notices = tuple(notice for notice in artwork.notices if "print as a box" not in notice.what)
    box = Box(low.real, low.imag, high.real, high.imag)
    return replace(artwork, drawing=Drawing((picture,)), box=box, notices=notices)


def _array(picture: Picture) -> Bytes:
    import numpy as np

    return np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)


def _grown(mask: Mask) -> Mask:
    grown = mask.copy()
    grown[1:] |= mask[:-1]
    grown[:-1] |= mask[1:]
    grown[:, 1:] |= mask[:, :-1]
    grown[:, :-1] |= mask[:, 1:]
    return grown


def _from_edge(like: Mask) -> Mask:
    """The part of a mask that hangs together with the picture's edge, found by sweeps along rows and columns."""
    import numpy as np

    found = np.zeros_like(like)
    for edge in (np.s_[0], np.s_[-1], np.s_[:, 0], np.s_[:, -1]):
        found[edge] = like[edge]
    size, still = int(found.sum()), 0
    for sweep in range(_MOST_SWEEPS):
        found = _along_rows(like.T, found.T).T if sweep % 2 else _along_rows(like, found)
        before, size = size, int(found.sum())
        still = still + 1 if size == before else 0
        if still == 2:
            break
    return found


def _along_rows(like: Mask, found: Mask) -> Mask:
    """Each run of a mask along a row that has one found pixel, found as a whole."""
    import numpy as np

    out = np.empty_like(found)
    for row, (mask, hit) in enumerate(zip(like, found, strict=True)):
        if not hit.any():
            out[row] = False
            continue
        run = np.cumsum(mask[1:] != mask[:-1])  # number of the run that each pixel but the first is in
        run = np.concatenate(([0], run))
        reached = np.bincount(run[hit], minlength=int(run[-1]) + 1) > 0
        out[row] = mask & reached[run]
    return out
