"""A picture through the bend at 300 dpi, against scipy's splines of order 3 and OpenCV's remap, and how exact each is.

The others are handed the place of every output pixel ready made, which is not timed. All read and return bytes. The
picture is smooth and its exact colours are known; errors are those of colours, in steps of 255, in the root of the mean
square.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from rounds import best_seconds, judged
from scipy import ndimage

from cupgeom import Wall
from cupgeom.decor.place import Placement
from cupgeom.decor.warp import warped
from cupgeom.drawing import Affine, Picture

DPI = 300.0
COLUMNS, ROWS = 945, 591  # 80 x 50 mm
WIDTH, HEIGHT = COLUMNS * 25.4 / DPI, ROWS * 25.4 / DPI
PLACEMENT = Placement(
    wall=Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120), turn_deg=20, drop=55
)
Pixels = NDArray[np.uint8]


def exact(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    """Colours that change over 2 to 7 mm."""
    waves = (np.sin(2 * np.pi * (u / 3 + v / 7)), np.cos(2 * np.pi * v / 2), np.sin(u * v / 20))
    return np.stack([*(127.5 + 100 * wave for wave in waves), np.full(u.shape, 255.0)], axis=-1)


def bytes_of(values: NDArray[np.float64]) -> Pixels:
    return np.rint(values).clip(0, 255).astype(np.uint8)


def main() -> bool:
    across, down = np.meshgrid(np.arange(COLUMNS) + 0.5, np.arange(ROWS) + 0.5)
    source = bytes_of(exact(across * WIDTH / COLUMNS - WIDTH / 2, HEIGHT / 2 - down * HEIGHT / ROWS))
    place = Affine(WIDTH, 0.0, 0.0, HEIGHT, -WIDTH / 2, -HEIGHT / 2)
    picture = Picture(pixels=source.tobytes(), columns=COLUMNS, rows=ROWS, place=place)

    def ours() -> Pixels:
        found = warped(picture, PLACEMENT, DPI)
        return np.frombuffer(found.pixels, np.uint8).reshape(found.rows, found.columns, 4)

    box = warped(picture, PLACEMENT, DPI)
    along, up = np.meshgrid(np.arange(box.columns) + 0.5, box.rows - 0.5 - np.arange(box.rows))
    sheet = box.place.e + along * 25.4 / DPI + 1j * (box.place.f + up * 25.4 / DPI)
    design = PLACEMENT.from_sheet(sheet)
    x = (design.real + WIDTH / 2) / WIDTH * COLUMNS - 0.5
    y = (HEIGHT / 2 - design.imag) / HEIGHT * ROWS - 0.5
    inside = (x > 4) & (x < COLUMNS - 5) & (y > 4) & (y < ROWS - 5)

    def splines() -> Pixels:
        result = np.empty((*sheet.shape, 4), np.uint8)
        for channel in range(4):
            plane = ndimage.map_coordinates(source[..., channel], [y, x], output=np.float32, order=3, mode="nearest")
            result[..., channel] = np.clip(plane + 0.5, 0, 255)
        return result

    works: dict[str, Callable[[], Pixels]] = {"ours": ours, "scipy, order 3": splines}
    try:
        import cv2
    except ImportError:
        print("  OpenCV is not installed: its remap is not compared")
    else:
        x32, y32 = x.astype(np.float32), y.astype(np.float32)
        works["OpenCV remap, cubic"] = lambda: np.asarray(cv2.remap(source, x32, y32, cv2.INTER_CUBIC), np.uint8)

    colours = exact(design.real, design.imag)[inside][:, :3]
    errors = {name: float(np.sqrt(((work()[inside][:, :3] - colours) ** 2).mean())) for name, work in works.items()}
    seconds = best_seconds(works, rounds=7)
    for name, time in seconds.items():
        print(
            f"  {name:<22}{time * 1e3:8.1f} ms   {time / sheet.size * 1e9:6.0f} ns a pixel   error {errors[name]:.3f}"
        )
    good = judged("a picture at 300 dpi / scipy, order 3", seconds["ours"] / seconds["scipy, order 3"], 0.6)
    good &= errors["ours"] <= errors["scipy, order 3"]
    judged("its error / that of scipy", errors["ours"] / errors["scipy, order 3"], None)
    if "OpenCV remap, cubic" in works:
        judged("a picture at 300 dpi / OpenCV remap", seconds["ours"] / seconds["OpenCV remap, cubic"], None)
        judged("its error / that of OpenCV remap", errors["ours"] / errors["OpenCV remap, cubic"], None)
        good &= errors["ours"] <= errors["OpenCV remap, cubic"]
    return good


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
