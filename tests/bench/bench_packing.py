"""How full the sheets get: ours against the best of rectpack's box packers, over sets drawn from seeds.

Used share = area of the pieces over full sheets and the used length of the last. Every packer of rectpack is tried with
every order and rule, turned pieces allowed, boxes a gap larger than the pieces; a roll is shortened until it fails.
`--seed N` takes any set.
"""

from __future__ import annotations

import argparse
import cmath
import itertools
import math
import random
import sys
import time
from collections.abc import Callable, Iterator
from importlib.resources import files

import rectpack
from rectpack import guillotine, maxrects, packer, skyline

from cupgeom.decor.font import Font
from cupgeom.decor.lettering import lettering
from cupgeom.decor.silhouette import contour, silhouette
from cupgeom.drawing import Arc, Drawing, Path, Pen, Shape, polyline
from cupgeom.sheets.packing import pack
from cupgeom.sheets.piece import Part, SheetSize

SEEDS = (1, 2, 3)
A4 = SheetSize(width=210, length=297, margin=5, gap=2)
ROLL = SheetSize(width=610, length=None, margin=5, gap=2)
SYLLABLES = ("ly", "ra", "ve", "ga", "al", "ta", "ir", "or", "ion", "ri", "gel", "mi", "za", "den", "eb", "spi", "ca")
DIVISOR = 1000  # rectpack counts in whole numbers: of these in a mm


def script() -> Font:
    """Dancing Script, from the package of the test extra."""
    return Font(data=(files("fontpkg_dancing_script") / "files" / "DancingScript[wght].ttf").read_bytes())


def sector(outer: float, inner: float, angle_deg: float) -> Path:
    """A wrap, upright about the y axis."""

    def at(radius: float, share: float) -> complex:
        return radius * cmath.exp(1j * (math.pi / 2 + share * math.radians(angle_deg) / 2))

    pen = Pen(at(outer, 1)).arc(at(outer, 0), at(outer, -1)).line(at(inner, -1))
    return pen.arc(at(inner, 0), at(inner, 1)).close().path()


def name(dice: random.Random, font: Font) -> Part:
    """An invented name in script, with its cut line 1.5 mm round it."""
    word = "".join(dice.sample(SYLLABLES, dice.randint(2, 4))).capitalize()
    width = 14.0 * len(word) * dice.uniform(0.5, 0.8)
    shape = Shape(path=lettering(word, font, width=width).outlines, role="print", fill=(0, 0, 0))
    return Part(name=word, cut=contour(silhouette(Drawing((shape,))), 1.5), drawing=Drawing((shape,)))


def star(points: int, outer: float, inner: float) -> Path:
    """A star."""
    radii = itertools.cycle((outer, inner))
    turns = range(2 * points)
    return polyline([next(radii) * cmath.exp(1j * math.pi * (0.5 + i / points)) for i in turns], closed=True)


def moon(radius: float, share: float) -> Path:
    """A crescent."""
    top, bottom = 1j * radius, -1j * radius
    return Pen(top).arc(complex(-radius), bottom).arc(complex(-share * radius), top).close().path()


def motifs(dice: random.Random) -> Iterator[Part]:
    """A star, a crescent, a bar of stars: each a few times, in sizes of their own."""
    for kind in ("star", "moon", "comet"):
        size = dice.uniform(14, 30)
        if kind == "star":
            cut = star(dice.choice((5, 6, 8)), size, size * dice.uniform(0.4, 0.6))
        elif kind == "moon":
            cut = moon(size, dice.uniform(0.2, 0.6))
        else:
            cut = polyline([0j, 3 * size + 0j, 3 * size + 0.4j * size, 0.6 * size + 1j * size, 1j * size], closed=True)
        yield Part(name=kind, cut=cut, count=dice.randint(3, 6))


def words(seed: int) -> list[Part]:
    """Forty names."""
    dice, font = random.Random(seed), script()
    return [name(dice, font) for _ in range(40)]


def mix(seed: int) -> list[Part]:
    """Wraps of three cups, two of each, twelve names, three motifs several times."""
    dice, font = random.Random(seed), script()
    parts = []
    for cup in range(3):
        angle, height = dice.uniform(25, 70), dice.uniform(90, 170)
        outer = dice.uniform(230, 280) / math.radians(angle)
        parts.append(Part(name=f"wrap {cup + 1}", cut=sector(outer, outer - height, angle), count=2))
    return [*parts, *(name(dice, font) for _ in range(12)), *motifs(dice)]


def equal_wraps(seed: int) -> list[Part]:
    """Five equal wraps, wider than half the roll, so that they are stacked."""
    dice = random.Random(seed)
    angle, height = dice.uniform(30, 70), dice.uniform(100, 160)
    outer = dice.uniform(320, 380) / math.radians(angle)
    return [Part(name="wrap", cut=sector(outer, outer - height, angle), count=5)]


# Against boxes --------------------------------------------------------------------------------------------------------


def boxes_length(parts: list[Part], size: SheetSize) -> tuple[int, float]:
    """Sheets, and length of medium, of the best that rectpack finds."""
    room, gap = size.room, size.gap
    sides = []
    for part in parts:
        box = part.cut.bounds()
        sides += [tuple(math.ceil((side + gap) * DIVISOR) for side in (box.width, box.height))] * part.count
    width = int((room.width + gap) * DIVISOR)
    best = (len(sides) + 1, math.inf)
    for algorithm in (*ALGORITHMS,):
        for order in ORDERS:
            height = int((room.height + gap) * DIVISOR)
            while True:
                found = boxes_packed(sides, width, height, algorithm, order)
                if found is None:
                    break
                sheets, top = found
                used = top / DIVISOR - gap
                length = used if size.length is None else (sheets - 1) * room.height + used
                best = min(best, (sheets, length))
                if size.length is not None or top < 2:
                    break
                height = int(top * 0.995)
    return best


ALGORITHMS = [
    *(getattr(maxrects, f"MaxRects{rule}") for rule in ("Bl", "Bssf", "Baf", "Blsf")),
    *(getattr(skyline, f"Skyline{rule}") for rule in ("Bl", "BlWm", "Mwf", "MwfWm", "Mwfl", "MwflWm")),
    *(getattr(guillotine, f"Guillotine{fit}{cut}") for fit in ("Bssf", "Baf") for cut in ("Sas", "Las", "Minas")),
]
ORDERS = [packer.SORT_AREA, packer.SORT_PERI, packer.SORT_DIFF, packer.SORT_SSIDE, packer.SORT_LSIDE, packer.SORT_RATIO]


def boxes_packed(
    sides: list[tuple[int, ...]], width: int, height: int, algorithm: type, order: Callable[..., object]
) -> tuple[int, int] | None:
    """Sheets, and top of the last, or None where a box found no place."""
    work = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline, bin_algo=rectpack.PackingBin.BBF, pack_algo=algorithm, sort_algo=order
    )
    work.add_bin(width, height, count=float("inf") if height < 4_000_000 else 1)
    for index, (across, along) in enumerate(sides):
        work.add_rect(across, along, rid=index)
    work.pack()
    bins = list(work)
    if sum(map(len, bins)) < len(sides):
        return None
    tops = sorted((max(rect.y + rect.height for rect in bin_) for bin_ in bins), reverse=True)
    return len(bins), tops[-1]


def stack_length(part: Part, gap: float) -> float:
    """Length of five equal sectors stacked.

    The pitch of FINDINGS.md, d = √(ρ₂² − x²) − √(ρ₁² − x²) with x = ρ₁ sin(Φ/2), for sectors a gap apart: the upper
    one's inner corners, a gap away from the lower one's outer arc, so that ρ₂ + gap stands for ρ₂.
    """
    arcs = [segment for segment in part.cut.segments() if isinstance(segment, Arc)]
    inner, outer = sorted(arc.radius for arc in arcs)
    x = inner * math.sin(abs(arcs[0].sweep_rad) / 2)
    pitch = math.sqrt((outer + gap) ** 2 - x * x) - math.sqrt(inner * inner - x * x)
    return part.cut.bounds().height + (part.count - 1) * pitch


# The run --------------------------------------------------------------------------------------------------------------


def at_least(what: str, ratio: float, bar: float) -> bool:
    """Print a ratio that should not be below its bar, and say whether it is good enough."""
    print(f"{what:<62}{ratio:6.3f}   bar {bar:.2f}: {'ok' if ratio >= bar else 'below'}")
    return ratio >= bar


def against_boxes(seed: int) -> bool:
    """Lettering on sheets and a mix on a roll, against rectpack; the dense layout against the default one."""
    good = True
    for what, parts, size, bar in (("lettering", words(seed), A4, 1.02), ("mix", mix(seed), ROLL, 1.05)):
        start = time.perf_counter()
        layout = pack(parts, size)
        took = time.perf_counter() - start
        sheets, length = boxes_length(parts, size)
        print(f"  seed {seed}, {what}: {layout}, {took:.1f} s; boxes take {sheets} sheets, {length:.0f} mm")
        good &= at_least(f"{what}, seed {seed}: used share / rectpack's best", length / layout.length, bar)
        good &= layout.sheets <= sheets
        if what == "mix":
            start = time.perf_counter()
            dense = pack(parts, size, effort="dense")
            print(f"  seed {seed}, {what}, dense: {dense}, {time.perf_counter() - start:.1f} s")
            good &= at_least(f"{what}, seed {seed}: dense / default", layout.length / dense.length, 1.02)
    return good


def main() -> bool:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, action="append", help="a set to draw, instead of those kept here")
    seeds = parser.parse_args().seed or SEEDS
    good = True
    for seed in seeds:
        good &= against_boxes(seed)
        parts = equal_wraps(seed)
        stack = stack_length(parts[0], ROLL.gap)
        good &= at_least(f"five wraps, seed {seed}: stack / ours", stack / pack(parts, ROLL).length, 1 / 1.03)
    return good


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
