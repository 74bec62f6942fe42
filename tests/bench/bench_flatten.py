"""A million points from the wall to the flat sheet, against numpy's sine and cosine, PROJ and OpenCV.

All sides read the same contiguous doubles and return freshly allocated results. Sine and cosine are timed over whole
arrays and over the blocks that the flattening uses; the faster of the two counts.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np
from pyproj import Proj
from rounds import best_seconds, judged

from cupgeom import Wall
from cupgeom.flatten import BLOCK, sheet_points

COUNT = 1_000_000
WALLS = {
    "slight taper": Wall(top_radius=44, base_radius=35, height=170),
    "wide taper": Wall(top_radius=50, base_radius=20, height=40),
}
CONIC = Proj("+proj=eqdc +lat_1=-20 +lat_2=40 +lat_0=-20 +lon_0=0 +R=50")


def works(wall: Wall) -> dict[str, Callable[[], object]]:
    rng = np.random.default_rng(1)
    turns, drops = rng.uniform(-math.pi, math.pi, COUNT), rng.uniform(0, wall.slant, COUNT)
    longitudes, latitudes = np.degrees(turns), rng.uniform(-20, 40, COUNT)

    def sine_and_cosine_in_blocks() -> object:
        result = np.empty((COUNT, 2))
        for start in range(0, COUNT, BLOCK):
            block = slice(start, start + BLOCK)
            result[block, 0], result[block, 1] = np.sin(turns[block]), np.cos(turns[block])
        return result

    found: dict[str, Callable[[], object]] = {
        "flatten": lambda: sheet_points(wall, turns, drops),
        "sine and cosine, whole": lambda: (np.sin(turns), np.cos(turns)),
        "sine and cosine, blocks": sine_and_cosine_in_blocks,
        "PROJ equidistant conic": lambda: CONIC(longitudes, latitudes),
    }
    try:
        from cv2 import polarToCart
    except ImportError:
        return found
    return found | {"OpenCV polarToCart": lambda: polarToCart(drops, turns)}


def main() -> bool:
    good = True
    for name, wall in WALLS.items():
        seconds = best_seconds(works(wall))
        for work, time in seconds.items():
            print(f"  {name}: {work:<26}{time * 1e3:7.1f} ms")
        flatten = seconds["flatten"]
        sine_and_cosine = min(time for work, time in seconds.items() if work.startswith("sine"))
        good &= judged(f"1e6 points to the sheet, {name} / sin + cos", flatten / sine_and_cosine, 0.8)
        good &= judged(f"1e6 points to the sheet, {name} / PROJ", flatten / seconds["PROJ equidistant conic"], 0.5)
        if "OpenCV polarToCart" in seconds:
            judged(f"1e6 points to the sheet, {name} / polarToCart", flatten / seconds["OpenCV polarToCart"], None)
    return good


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
