"""Pictures of pixels, read with Pillow: upright, in sRGB, 8 bits a channel, palette and alpha kept."""

from __future__ import annotations

import io
import math
import struct
import zlib
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from cupgeom.decor.artwork.artwork import Artwork
from cupgeom.decor.artwork.border import border_colour
from cupgeom.decor.artwork.limits import MOST_BYTES, MOST_PIXELS
from cupgeom.decor.artwork.notices import Notices
from cupgeom.decor.artwork.numbers import MM_PER_PIXEL
from cupgeom.drawing import Affine, Box, Drawing, Picture
from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    from PIL.Image import Image

_MARKS = {
    b"\x89PNG\r\n\x1a\n": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"GIF8": "GIF",
    b"II*\0": "TIFF",
    b"MM\0*": "TIFF",
    b"BM": "BMP",
}
_ORIENTATION = 0x0112  # Exif 2.3, tag 274
_DAMAGE = (OSError, SyntaxError, ValueError, EOFError, struct.error, zlib.error, IndexError, KeyError, TypeError)
_SIXTEEN_BIT = ("I;16", "I;16L", "I;16B", "I;16N", "I")
_LIKELY_DPI = (36.0, 2400.0)  # a resolution stated outside is a mistake of the program that wrote it (assumed)


class Pixels(NamedTuple):
    """A decoded picture: red, green, blue, alpha, rows from the top; the JPEG it came as; its stated pixels an inch."""

    data: bytes
    columns: int
    rows: int
    jpeg: bytes = b""
    dpi: tuple[float, float] | None = None

    def placed(self, place: Affine) -> Picture:
        """The picture in the parallelogram that a map makes of the unit square."""
        return Picture(pixels=self.data, columns=self.columns, rows=self.rows, place=place, jpeg=self.jpeg)


def read_picture(data: bytes, name: str = "picture") -> Artwork:
    """A photograph or other picture of pixels as artwork.

    Its size is what the file states, else 96 pixels an inch.

    Raises
    ------
    CupgeomError
        When it is no picture, is damaged or too large.
    """
    notices = Notices(name)
    try:
        pixels = decoded(data, notices)
    except CupgeomError as error:
        raise CupgeomError(name, error.what) from None
    across, down = (25.4 / dpi for dpi in pixels.dpi) if pixels.dpi else (MM_PER_PIXEL, MM_PER_PIXEL)
    width, height = pixels.columns * across, pixels.rows * down
    picture = pixels.placed(Affine.scale(width, height))
    if colour := border_colour(picture):
        red, green, blue = colour
        shade = "white" if min(colour) >= 240 else f"border of rgb({red}, {green}, {blue})"
        what = f"has a {shade} all round that would print as a box"
        notices.add("", what, "leave it out with --drop-white")
    drawing = Drawing((picture,))
    return Artwork(
        name=name, drawing=drawing, size=(width, height), box=Box(0.0, 0.0, width, height), notices=notices.all()
    )


def decoded(data: bytes, notices: Notices, label: str = "", spend: Callable[[int], None] | None = None) -> Pixels:
    """The pixels of a file.

    Parameters
    ----------
    data
        The file's bytes.
    notices, label
        Where doubts go, and what they are about.
    spend
        Told how many pixels there will be, before they are decoded.

    Raises
    ------
    CupgeomError
        When it is no picture, is damaged or too large; without a field, for the caller to name.
    """
    from PIL import ImageOps

    if len(data) > MOST_BYTES:
        raise CupgeomError("", f"is larger than {MOST_BYTES // 1_000_000} MB")
    image = _opened(data)
    if image.width * image.height > MOST_PIXELS:
        what = f"has {image.width} x {image.height} pixels, more than {MOST_PIXELS // 1_000_000} million"
        raise CupgeomError("", what)
    if spend:
        spend(image.width * image.height)
    if getattr(image, "n_frames", 1) > 1 and image.format != "MPO":
        notices.add(label, "holds several pictures, of which the first is taken")
    try:
        image.load()
        orientation = image.getexif().get(_ORIENTATION, 1)
    except _DAMAGE:
        raise CupgeomError("", "is cut short or damaged") from None
    dpi = _stated_dpi(image)
    profile = image.info.get("icc_profile") or b""
    as_jpeg = image.format == "JPEG" and image.mode in ("RGB", "L") and orientation == 1
    if 2 <= orientation <= 8:
        image = ImageOps.exif_transpose(image)
        dpi = dpi[::-1] if dpi and orientation >= 5 else dpi
    image, kept = _in_srgb(_eight_bit(image), profile, partial(notices.add, label))
    rgba = image if image.mode == "RGBA" else image.convert("RGBA")
    pixels = Pixels(rgba.tobytes(), rgba.width, rgba.height, b"", dpi)
    return _with_jpeg(pixels, data) if as_jpeg and kept else pixels


def is_picture(data: bytes) -> bool:
    """Whether a file begins as a picture of a kind that is read here."""
    return _kind(data) is not None


def _kind(data: bytes) -> str | None:
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WEBP"
    return next((kind for mark, kind in _MARKS.items() if data.startswith(mark)), None)


def _opened(data: bytes) -> Image:
    """The picture, its pixels not yet decoded.

    Each kind's own class is called, since Pillow's common door warns about sizes, of which our cap says it better.
    """
    from PIL import BmpImagePlugin, GifImagePlugin, JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

    doors: dict[str | None, Callable[[io.BytesIO, str], Image]] = {
        "BMP": BmpImagePlugin.BmpImageFile,
        "GIF": GifImagePlugin.GifImageFile,
        "JPEG": JpegImagePlugin.jpeg_factory,
        "PNG": PngImagePlugin.PngImageFile,
        "TIFF": TiffImagePlugin.TiffImageFile,
        "WEBP": WebPImagePlugin.WebPImageFile,
    }
    door = doors.get(_kind(data))
    if door is None:
        raise CupgeomError("", "is no picture in PNG, JPEG, GIF, WEBP, TIFF or BMP")
    try:
        return door(io.BytesIO(data), "")
    except _DAMAGE:
        raise CupgeomError("", "is cut short or damaged") from None


def _eight_bit(image: Image) -> Image:
    """The picture with 16-bit greys rounded to 8 bits: 65535 is 257 times 255."""
    import numpy as np
    from PIL import Image as Images

    if image.mode == "F":
        raise CupgeomError("", "has pixels in floating point, which have no known white; save it with 8 or 16 bits")
    if image.mode not in _SIXTEEN_BIT:
        return image
    grey = np.asarray(image)
    if grey.min(initial=0) < 0 or grey.max(initial=0) > 65535:
        raise CupgeomError("", "has pixels of more than 16 bits; save it with 8 or 16 bits")
    eight = Images.fromarray(((grey.astype(np.uint32) + 128) // 257).astype(np.uint8))
    clear = image.info.get("transparency")
    if isinstance(clear, int):
        eight = Images.merge("LA", (eight, Images.fromarray(np.where(grey == clear, 0, 255).astype(np.uint8))))
    return eight


def _in_srgb(image: Image, profile: bytes, doubt: Callable[..., None]) -> tuple[Image, bool]:
    """The picture in sRGB, and whether its colours were kept as they are."""
    from PIL import ImageCms

    if image.mode in ("P", "PA") or "transparency" in image.info:
        image = image.convert("RGBA")
    elif image.mode not in ("1", "L", "LA", "RGB", "RGBA", "CMYK"):
        try:
            image = image.convert("RGB")
        except ValueError:
            raise CupgeomError("", f"has pixels in {image.mode}; save it as RGB") from None
    source = None
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            if "sRGB" in ImageCms.getProfileDescription(source):
                return image, True
        except (OSError, ImageCms.PyCMSError):
            doubt("has a colour profile that cannot be read; its colours are taken as sRGB")
            source = None
    alpha = image.getchannel("A") if image.mode in ("LA", "RGBA") else None
    plain = image.convert(image.mode[:-1]) if alpha else image.convert("L") if image.mode == "1" else image
    if source and plain.mode == "L" and source.profile.xcolor_space.strip() == "RGB":
        plain = plain.convert("RGB")
    if source is None:
        if plain.mode == "CMYK":
            doubt("is in CMYK without a colour profile; its colours are a guess", "save it as RGB")
        return image, plain.mode in ("RGB", "L")
    try:
        moved = ImageCms.profileToProfile(plain, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (OSError, ValueError, ImageCms.PyCMSError):
        doubt("has a colour profile for other pixels than its own; its colours are taken as sRGB")
        return image, plain.mode in ("RGB", "L")
    if moved is None:
        return image, False
    if alpha:
        moved.putalpha(alpha)
    return moved, False


def _with_jpeg(pixels: Pixels, jpeg: bytes) -> Pixels:
    """The pixels with the file they came as, where it is of the kind that can be passed on."""
    whole = pixels._replace(jpeg=jpeg)
    try:
        whole.placed(Affine())
    except CupgeomError:
        return pixels
    return whole


def _stated_dpi(image: Image) -> tuple[float, float] | None:
    try:
        across, down = (float(value) for value in image.info["dpi"])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    low, high = _LIKELY_DPI
    return (across, down) if all(math.isfinite(dpi) and low <= dpi <= high for dpi in (across, down)) else None
