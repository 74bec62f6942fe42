"""Pictures of pixels: upright, in sRGB, 8 bits, alpha kept; sharpness; borders that print as a box."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from cupgeom.decor.artwork import (
    Artwork,
    effective_dpi,
    read_artwork,
    read_picture,
    read_svg,
    resolution_notices,
    without_white,
)
from cupgeom.drawing import Affine, Box, Drawing, Picture
from cupgeom.errors import CupgeomError

Pixels = np.ndarray


def saved(image: Image.Image, kind: str = "PNG", **settings) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, **settings)
    return file.getvalue()


def pixels(art: Artwork) -> Pixels:
    (picture,) = art.pictures()
    return np.frombuffer(picture.pixels, np.uint8).reshape(picture.rows, picture.columns, 4)


def speckled(rows: int, columns: int) -> Pixels:
    return np.random.default_rng(7).integers(0, 256, (rows, columns, 3), dtype=np.uint8)


@pytest.mark.parametrize(
    ("orientation", "place"),
    [  # Exif 2.3, tag 274: the visual sides that the stored row 0 and column 0 are; stored (r, c), shown (row, column)
        (1, lambda r, c, rows, columns: (r, c)),  # top, left
        (2, lambda r, c, rows, columns: (r, columns - 1 - c)),  # top, right
        (3, lambda r, c, rows, columns: (rows - 1 - r, columns - 1 - c)),  # bottom, right
        (4, lambda r, c, rows, columns: (rows - 1 - r, c)),  # bottom, left
        (5, lambda r, c, rows, columns: (c, r)),  # left, top
        (6, lambda r, c, rows, columns: (c, rows - 1 - r)),  # right, top
        (7, lambda r, c, rows, columns: (columns - 1 - c, rows - 1 - r)),  # right, bottom
        (8, lambda r, c, rows, columns: (columns - 1 - c, r)),  # left, bottom
    ],
)
def test_pictures_stand_upright(orientation: int, place) -> None:
    stored = speckled(3, 5)
    exif = Image.Exif()
    exif[0x0112] = orientation
    art = read_picture(saved(Image.fromarray(stored), exif=exif, dpi=(100, 200)))
    shown = pixels(art)
    assert shown.shape == ((3, 5, 4) if orientation < 5 else (5, 3, 4))
    for r in range(3):
        for c in range(5):
            assert (shown[place(r, c, 3, 5)][:3] == stored[r, c]).all()
    across, down = (5 / 100, 3 / 200)  # inches, as stored
    expected = (across, down) if orientation < 5 else (down, across)
    assert art.size == pytest.approx([25.4 * side for side in expected], rel=1e-3)  # PNG keeps whole pixels a metre


@given(st.lists(st.integers(0, 65535), min_size=1, max_size=8))
def test_sixteen_bits_are_scaled_not_cut(values: list[int]) -> None:
    data = saved(Image.fromarray(np.array([values], np.uint16)))
    found = pixels(read_picture(data))
    for value, pixel in zip(values, found[0], strict=True):
        assert abs(int(pixel[0]) - value / 257) <= 0.5  # 65535 = 257 x 255
        assert (pixel[0], pixel[3]) == (pixel[1], 255)


def test_sixteen_bits_keep_the_transparent_grey() -> None:
    # PNG, third edition, 11.3.1.1: tRNS of a greyscale picture names one grey at full depth
    plain = saved(Image.fromarray(np.array([[1000, 1001]], np.uint16)))
    chunk = b"tRNS" + struct.pack(">H", 1000)
    at = plain.index(b"IDAT") - 4
    data = plain[:at] + struct.pack(">I", 2) + chunk + struct.pack(">I", zlib.crc32(chunk)) + plain[at:]
    assert pixels(read_picture(data))[0, :, 3].tolist() == [0, 255]


@pytest.mark.parametrize(
    ("image", "expected"),
    [
        (Image.new("1", (1, 1), 1), (255, 255, 255, 255)),
        (Image.new("L", (1, 1), 77), (77, 77, 77, 255)),
        (Image.new("LA", (1, 1), (77, 9)), (77, 77, 77, 9)),
        (Image.new("RGB", (1, 1), (1, 2, 3)), (1, 2, 3, 255)),
        (Image.new("RGBA", (1, 1), (1, 2, 3, 4)), (1, 2, 3, 4)),
    ],
)
def test_all_kinds_of_pixels(image: Image.Image, expected: tuple[int, ...]) -> None:
    assert tuple(pixels(read_picture(saved(image)))[0, 0]) == expected


def test_palettes_keep_their_transparency() -> None:
    image = Image.new("P", (2, 1))
    image.putpalette([10, 20, 30, 40, 50, 60])
    image.putpixel((1, 0), 1)
    shown = pixels(read_picture(saved(image, transparency=bytes([128, 255]))))
    assert shown[0].tolist() == [[10, 20, 30, 128], [40, 50, 60, 255]]


# sRGB's primaries and white as ICC profiles hold them, adapted to D50 (ICC.1, Annex on sRGB; IEC 61966-2-1)
PRIMARIES = {
    b"rXYZ": (0.43607, 0.22249, 0.01392),
    b"gXYZ": (0.38515, 0.71687, 0.09708),
    b"bXYZ": (0.14307, 0.06061, 0.71410),
}


def profile(gamma: float) -> bytes:
    """An ICC v2 display profile with sRGB's primaries and a plain gamma."""

    def s15(value: float) -> bytes:
        return struct.pack(">i", round(value * 65536))

    curve = b"curv" + bytes(4) + struct.pack(">IH", 1, round(gamma * 256)) + bytes(2)
    text = b"test\0"
    desc = b"desc" + bytes(4) + struct.pack(">I", len(text)) + text + bytes(78)
    tags = {
        b"desc": desc,
        b"cprt": b"text" + bytes(4) + b"none\0",
        b"wtpt": b"XYZ " + bytes(4) + s15(0.9642) + s15(1.0) + s15(0.8249),
        **{name: b"XYZ " + bytes(4) + b"".join(map(s15, xyz)) for name, xyz in PRIMARIES.items()},
        **dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve),
    }
    table, body, offset = b"", b"", 128 + 4 + 12 * len(tags)
    for name, tag in tags.items():
        data = tag + bytes(-len(tag) % 4)
        table += name + struct.pack(">II", offset + len(body), len(data))
        body += data
    size = offset + len(body)
    head = (
        struct.pack(">I4sI4s4s4s", size, b"test", 0x02100000, b"mntr", b"RGB ", b"XYZ ")
        + bytes(12)
        + b"acsp"
        + bytes(28)
    )
    head += s15(0.9642) + s15(1.0) + s15(0.8249)
    return head + bytes(128 - len(head)) + struct.pack(">I", len(tags)) + table + body


@pytest.mark.parametrize("value", [0, 20, 64, 128, 200, 255])
def test_colours_come_into_srgb(value: int) -> None:
    # a linear profile: sRGB's own encoding of value/255 (IEC 61966-2-1), grey stays grey
    linear = value / 255
    encoded = 12.92 * linear if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055
    image = Image.new("RGBA", (1, 1), (value, value, value, 200))
    shown = pixels(read_picture(saved(image, icc_profile=profile(1.0))))[0, 0]
    assert np.abs(shown[:3].astype(int) - 255 * encoded).max() <= 1.5
    assert shown[3] == 200


def test_a_grey_picture_may_have_a_profile_of_three_colours() -> None:
    shown = pixels(read_picture(saved(Image.new("L", (1, 1), 64), "JPEG", icc_profile=profile(1.0), quality=100)))[0, 0]
    assert abs(int(shown[0]) - 255 * (1.055 * (64 / 255) ** (1 / 2.4) - 0.055)) <= 2.5


def test_srgb_itself_changes_nothing_and_a_broken_profile_is_said() -> None:
    image = Image.fromarray(speckled(2, 3))
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert (pixels(read_picture(saved(image, icc_profile=srgb)))[..., :3] == np.asarray(image)).all()
    broken = read_picture(saved(image, icc_profile=b"x" * 200), "photo.png")
    assert (pixels(broken)[..., :3] == np.asarray(image)).all()
    assert [str(notice) for notice in broken.notices] == [
        "photo.png: has a colour profile that cannot be read; its colours are taken as sRGB"
    ]


def test_print_colours_without_a_profile_are_said() -> None:
    art = read_picture(saved(Image.new("CMYK", (2, 2), (0, 0, 0, 255)), "JPEG"), "press.jpg")
    assert "press.jpg: is in CMYK without a colour profile; its colours are a guess; save it as RGB" in map(
        str, art.notices
    )


TURNED = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0"  # orientation 6


@pytest.mark.parametrize(
    ("settings", "passes"),
    [({}, True), ({"progressive": True}, True), ({"icc_profile": profile(1.8)}, False), ({"exif": TURNED}, False)],
)
def test_a_jpeg_is_passed_on_when_it_may_be(settings: dict, passes: bool) -> None:
    data = saved(Image.fromarray(speckled(8, 9)), "JPEG", **settings)
    (picture,) = read_picture(data).pictures()
    assert picture.jpeg == (data if passes else b"")


def test_several_pictures_in_one_file_are_said() -> None:
    frames = [Image.new("RGB", (4, 4), shade) for shade in ("red", "blue")]
    data = saved(frames[0], "GIF", save_all=True, append_images=frames[1:])
    assert "art: holds several pictures, of which the first is taken" in map(str, read_picture(data, "art").notices)


def test_floating_pixels_are_refused() -> None:
    with pytest.raises(CupgeomError) as caught:
        read_picture(saved(Image.fromarray(np.zeros((2, 2), np.float32)), "TIFF"), "sky.tif")
    assert (
        str(caught.value)
        == "sky.tif: has pixels in floating point, which have no known white; save it with 8 or 16 bits"
    )


def test_a_picture_lies_where_its_size_says() -> None:
    art = read_picture(saved(Image.fromarray(speckled(192, 96))))
    assert art.size == pytest.approx((25.4, 50.8))  # 96 pixels an inch where the file says nothing
    assert art.pictures()[0].corners() == pytest.approx((0, 25.4, 25.4 + 50.8j, 50.8j))


@pytest.mark.parametrize(
    ("width", "dpi", "said"),
    [  # 300 x 150 pixels
        (25.4, 300, ""),
        (38.1, 200, ""),
        (50.8, 150, "50.8 mm wide it has 150 pixels for each inch; it will look soft"),
        (76.2, 100, "COARSE: 76.2 mm wide it has 100 pixels for each inch; its pixels will show"),
    ],
)
def test_sharpness_at_the_wanted_width(width: float, dpi: float, said: str) -> None:
    art = read_picture(saved(Image.fromarray(speckled(150, 300))), "photo.png")
    mend = "use a picture with more pixels, or make it at most 38.1 mm wide"
    assert effective_dpi(art, width) == pytest.approx(dpi)
    assert [str(notice) for notice in resolution_notices(art, width)] == (
        [f"photo.png: {said}; {mend}"] if said else []
    )


def test_sharpness_is_that_of_the_coarsest_picture_and_direction() -> None:
    clear = Picture(pixels=bytes(4 * 10 * 10), columns=10, rows=10, place=Affine.scale(2.54, 1.27))
    turned = replace(clear, place=Affine.rotation(30) @ Affine.scale(2.54, 5.08))
    art = Artwork(name="art", drawing=Drawing((clear, turned)), size=(10.0, 10.0), box=Box(0.0, 0.0, 10.0, 10.0))
    assert effective_dpi(art, 10.0) == pytest.approx(50)
    assert effective_dpi(art, 20.0) == pytest.approx(25)


def test_outlines_have_no_pixels_to_count() -> None:
    art = read_svg(b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9v9"/></svg>')
    assert (effective_dpi(art, 1000.0), resolution_notices(art, 1000.0)) == (None, ())


def disc(rows: int, columns: int, ink: tuple[int, int, int], paper: tuple[int, int, int]) -> tuple[Pixels, Pixels]:
    """A disc on paper, and how much of each pixel it covers (a ramp one pixel wide)."""
    y, x = np.mgrid[:rows, :columns]
    share = (min(rows, columns) / 3 - np.hypot(x - columns / 2, y - rows / 2) + 0.5).clip(0, 1)
    mixed = share[..., None] * np.array(ink) + (1 - share[..., None]) * np.array(paper)
    return np.rint(mixed).astype(np.uint8), share


@pytest.mark.parametrize(("paper", "ink"), [((255, 255, 255), (0, 90, 30)), ((0, 0, 0), (255, 200, 40))])
def test_a_plain_border_can_be_left_out(paper, ink) -> None:
    image, share = disc(40, 60, ink, paper)
    art = read_picture(saved(Image.fromarray(image)), "logo.png")
    shade = "white" if paper[0] else "border of rgb(0, 0, 0)"
    what = f"logo.png: has a {shade} all round that would print as a box; leave it out with --drop-white"
    assert [str(notice) for notice in art.notices] == [what]
    (picture,) = art.pictures()
    found = np.frombuffer(without_white(picture).pixels, np.uint8).reshape(40, 60, 4).astype(float)
    assert (found[share == 0][:, 3] == 0).all()
    assert (found[share == 1][:, 3] == 255).all()
    # each ink has a channel at the far end of the paper's, so that the least share is the share itself
    assert np.abs(found[..., 3] - 255 * share)[share > 0.06].max() <= 2
    assert np.abs(found[..., :3] - np.array(ink))[share > 0.5].max() <= 3


def test_white_inside_stays() -> None:
    image = np.full((20, 20, 3), 255, np.uint8)
    image[5:15, 5:15] = 30
    image[9:11, 9:11] = 255
    (picture,) = read_picture(saved(Image.fromarray(image))).pictures()
    found = np.frombuffer(without_white(picture).pixels, np.uint8).reshape(20, 20, 4)
    assert found[9:11, 9:11].min() == 255
    assert found[0, 0].tolist() == [0, 0, 0, 0]


def test_white_behind_corners_is_found() -> None:
    image = np.zeros((30, 30, 3), np.uint8) + 255
    for inset in range(2, 14, 4):  # a spiral of walls with one gap each, on sides in turn
        image[inset, inset:-inset] = image[-inset - 1, inset:-inset] = 0
        image[inset:-inset, inset] = image[inset:-inset, -inset - 1] = 0
        image[inset if inset % 8 == 2 else -inset - 1, 15] = 255
    (picture,) = read_picture(saved(Image.fromarray(image))).pictures()
    found = np.frombuffer(without_white(picture).pixels, np.uint8).reshape(30, 30, 4)
    assert found[15, 15, 3] == 0


@pytest.mark.parametrize(
    ("image", "what"),
    [
        (speckled(9, 9), "picture: has no plain border to leave out"),
        (np.full((9, 9, 3), 255, np.uint8), "picture: is all border"),
        (np.full((9, 9, 4), 9, np.uint8), "picture: has no plain border to leave out"),
    ],
)
def test_where_there_is_no_border(image: Pixels, what: str) -> None:
    (picture,) = read_picture(saved(Image.fromarray(image))).pictures()
    with pytest.raises(CupgeomError) as caught:
        without_white(picture)
    assert str(caught.value) == what


def test_the_kind_of_file_is_judged_by_what_it_holds() -> None:
    png = saved(Image.fromarray(speckled(4, 4)))
    svg = b'\xef\xbb\xbf  \n<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0h9v9"/></svg>'
    assert len(read_artwork(png, "drawing.svg").pictures()) == 1
    assert read_artwork(svg, "photo.png").pictures() == ()
    assert read_artwork(svg.decode("utf-8-sig").strip().encode("utf-16"), "photo.png").pictures() == ()
    for kind in ("JPEG", "GIF", "WEBP", "TIFF", "BMP"):
        assert len(read_artwork(saved(Image.fromarray(speckled(4, 4)), kind)).pictures()) == 1


def test_artwork_checks_itself() -> None:
    good = read_picture(saved(Image.fromarray(speckled(4, 4))))
    for change, message in (
        ({"size": (0.0, 5.0)}, "size[0]: must be greater than 0 mm, got 0 mm"),
        ({"size": (5.0, float("nan"))}, "size[1]: must be a finite number of mm, got nan"),
        ({"box": Box(0.0, 0.0, 0.0, 5.0)}, "box.width: must be greater than 0 mm, got 0 mm"),
        ({"drawing": Drawing()}, "drawing: is empty"),
    ):
        with pytest.raises(CupgeomError) as caught:
            replace(good, **change)
        assert str(caught.value) == message
    with pytest.raises(CupgeomError) as caught:
        effective_dpi(good, -1.0)
    assert str(caught.value) == "width: must be greater than 0 mm, got -1 mm"
