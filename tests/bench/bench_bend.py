"""A hundred thousand segments of lettering through the bend, against numpy's sine and cosine and against flattening.

Packed arrays in and out. Flattening draws the same with straight lines: outlines cut into chords within half the
tolerance, made so short by shapely that the bend keeps them within the other half, and their corners mapped.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path as FilePath

import numpy as np
import shapely
from numpy.typing import NDArray
from rounds import best_seconds, judged

from cupgeom import Wall
from cupgeom.decor.bend import TOLERANCE, bent
from cupgeom.decor.font import Font
from cupgeom.decor.lettering import lettering
from cupgeom.decor.place import BENDS, Placement
from cupgeom.drawing import Affine, Line, Path, circle

FONT = FilePath(__file__).parents[2] / "templates-demo" / "fonts" / "GreatVibes-Latin.ttf"
WALL = Wall(top_radius=49, base_radius=49 - 120 * math.tan(math.radians(12)), height=120)
SEGMENTS, SINES = 100_000, 500_000
TEXT = "Per aspera ad astra\nComet night"
ROUNDS = 9


def segments(path: Path) -> tuple[int, int]:
    """How many segments a path has, and how many of them are straight."""
    found = list(path.segments())
    return len(found), sum(isinstance(segment, Line) for segment in found)


def growth(path: Path, image: Path) -> float:
    """Output segments to source segments, straight source segments counted apart."""
    (before, straight), (after, _) = segments(path), segments(image)
    return (after - straight) / (before - straight)


def words(width: float) -> Path:
    return lettering(TEXT, Font(data=FONT.read_bytes(), name=FONT.name), width=width).centred().outlines


def large_art(width: float) -> Path:
    """Rings and petals of few, long curves: the hardest case for segments that shall not be cut up."""
    rings = Path()
    for share in (1.0, 0.8, 0.5):
        rings += circle(0j, share * width / 2).with_cubics(1e-3)
    for index in range(12):
        turn = Affine.rotation(30 * index)
        rings += circle(complex(width / 4), width / 8).with_cubics(1e-3).transformed(turn)
    return rings


def flattened(path: Path, placement: Placement) -> list[NDArray[np.complex128]]:
    """The bent path as polylines within the tolerance.

    A chord of length c bends on the sheet with a curvature of at most k/ρ, which takes it c²k/(8ρ) from its image.
    """
    curvature = abs(WALL.cone_constant) / placement.true_radius
    longest = math.sqrt(TOLERANCE / 2 * 8 / curvature)
    rings = [np.array(ring) for ring in path.flattened(TOLERANCE / 2)]
    lines = shapely.linestrings(
        np.concatenate([np.stack([ring.real, ring.imag], axis=1) for ring in rings]),
        indices=np.repeat(np.arange(len(rings)), [len(ring) for ring in rings]),
    )
    corners, which = shapely.get_coordinates(shapely.segmentize(lines, longest), return_index=True)
    sheet = placement.to_sheet(corners[:, 0] + 1j * corners[:, 1])
    return np.split(sheet, np.flatnonzero(np.diff(which)) + 1)


def main() -> bool:
    good = True
    word = words(80)
    repeats = -(-SEGMENTS // segments(word)[0])
    text = Path(word.kinds * repeats, word.coords * repeats)
    angles = np.random.default_rng(1).uniform(-math.pi, math.pi, SINES)
    placements = {bend: Placement(wall=WALL, turn_deg=20, drop=60, bend=bend) for bend in BENDS}

    seconds = best_seconds(
        {"sine and cosine": lambda: (np.sin(angles), np.cos(angles))}
        | {bend: (lambda placement=placement: bent(text, placement)) for bend, placement in placements.items()},
        ROUNDS,
    )
    for work, taken in seconds.items():
        print(f"  {work:<20}{taken * 1e3:7.1f} ms")
    for bend in ("level", "even"):
        ratio = seconds[bend] / seconds["sine and cosine"]
        good &= judged(f"1e5 segments bent {bend} / sin + cos of 5e5", ratio, 2.0)

    placement = placements["level"]
    good &= judged("lettering 80 mm wide, output / input segments", growth(word, bent(word, placement)), 1.005)
    for width in (30, 60, 120):
        art = large_art(width)
        what = f"art {width} mm wide, output / input segments"
        good &= judged(what, growth(art, bent(art, placement)), 1.5)

    seconds = best_seconds(
        {"cubics": lambda: bent(word, placement), "chords": lambda: flattened(word, placement)},
        ROUNDS,
    )
    corners = sum(len(line) for line in flattened(word, placement))
    good &= judged("one motto, cubics / flattening with shapely, time", seconds["cubics"] / seconds["chords"], 1.0)
    size = len(bent(word, placement).coords) / (16 * corners)
    good &= judged("one motto, cubics / flattening with shapely, points", size, 1.0)
    return good


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
