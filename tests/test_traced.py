"""One decal moved by 10 mm, found again in what the customer sees: the model's texture, the proof's unrolled strip."""

from __future__ import annotations

import io
import json
import struct

import numpy as np
import pytest
from PIL import Image

from cupgeom.workshop import Made, outputs
from tests.test_workshop import one

MOVED = ('drop = "62mm"', 'drop = "72mm"')


def file(work: Made, name: str) -> bytes:
    """One output as the command line writes it."""
    from cupgeom.writers import glb, png

    (made,) = (part for output in outputs(work) if output.name == name for part in output.make())
    return {"proof.png": lambda: png.render(made.value), "proof.glb": lambda: glb.render(made.value)}[name]()


def gold(pixels: np.ndarray) -> np.ndarray:
    """Rows of the pixels that are the comet's gold."""
    red, green, blue = (pixels[..., index].astype(int) for index in range(3))
    return np.nonzero((red > 180) & (green > 130) & (blue < 120) & (red - blue > 90))[0]


def textures(data: bytes) -> list[np.ndarray]:
    """The pictures in a binary glTF 2.0 file (Khronos specification, section 4.4: a JSON chunk, then a binary one)."""
    length = struct.unpack_from("<I", data, 12)[0]
    told = json.loads(data[20 : 20 + length])
    binary = data[20 + length + 8 :]
    views = [told["bufferViews"][image["bufferView"]] for image in told["images"]]
    cuts = (binary[view.get("byteOffset", 0) :][: view["byteLength"]] for view in views)
    return [np.asarray(Image.open(io.BytesIO(cut)).convert("RGB")) for cut in cuts]


def test_a_decal_moved_by_10_mm_moves_by_as_much_in_the_model() -> None:
    """The texture of a wall is its sheet, on whose front line a drop is a length."""
    before, after = one(), one(MOVED)
    wall = before.finished.cup.walls[0]
    rows = []
    for work in (before, after):
        (picture,) = (each for each in textures(file(work, "proof.glb")) if len(gold(each)) > 100)
        rows.append((gold(picture).mean(), picture.shape[0]))
    # the sheet of a wall that is wider at the top is as high as its front line and the rise of its base edge's ends
    half = np.pi * wall.cone_constant
    height = wall.slant + wall.base_radius / wall.cone_constant * (1 - np.cos(half))
    assert rows[0][1] == rows[1][1]
    assert (rows[1][0] - rows[0][0]) / rows[0][1] * height == pytest.approx(10, abs=0.3)


def test_a_decal_moved_by_10_mm_moves_by_as_much_on_the_proof() -> None:
    before, after = one(), one(MOVED)
    shifts, scale = [], 0.0
    for work in (before, after):
        pixels = np.asarray(Image.open(io.BytesIO(file(work, "proof.png"))).convert("RGB"))
        strip = pixels[pixels.shape[0] // 2 :, : int(pixels.shape[1] * 0.6)]
        column = strip[:, int(strip.shape[1] * 0.15)].astype(int)
        inside = np.nonzero(column.max(axis=1) < 215)[0]
        scale = (inside[-1] - inside[0] + 1) / work.finished.cup.slant
        shifts.append(gold(strip).mean())
    assert (shifts[1] - shifts[0]) / scale == pytest.approx(10, abs=0.5)
