"""What is done to all points of a path without arcs at once."""

from __future__ import annotations

from array import array
from collections.abc import Iterable

from cupgeom.drawing import Affine, Box, Cubic, Path

_CUBIC = ord("C")


def moved(path: Path, affine: Affine) -> Path:
    """The path moved by a map."""
    a, b, c, d, e, f = affine
    coords = array("d", path.coords)
    xs, ys = coords[::2], coords[1::2]
    # adding 0 makes −0 plain, so that equal paths have equal bytes
    coords[::2] = array("d", [a * x + c * y + e + 0.0 for x, y in zip(xs, ys, strict=True)])
    coords[1::2] = array("d", [b * x + d * y + f + 0.0 for x, y in zip(xs, ys, strict=True)])
    return Path(path.kinds, coords.tobytes())


def handle_box(path: Path) -> Box:
    """The rectangle round all points, handles too: it holds the path."""
    coords = array("d", path.coords)
    xs, ys = coords[::2], coords[1::2]
    return Box(min(xs), min(ys), max(xs), max(ys))


def around(boxes: Iterable[Box]) -> Box:
    """The rectangle round rectangles, of which there must be one."""
    lefts, bottoms, rights, tops = zip(*boxes, strict=True)
    return Box(min(lefts), min(bottoms), max(rights), max(tops))


def closed(path: Path) -> Path:
    """The path with every outline closed, as filling takes it."""
    if path.kinds.count(b"M") == path.kinds.count(b"Z"):
        return path
    kinds = b"".join(b"M" + part.removesuffix(b"Z") + b"Z" for part in path.kinds.split(b"M")[1:])
    return Path(kinds, path.coords)


def exact_box(path: Path) -> Box:
    """Bounds; only the cubics whose handles lie outside the ends of all segments are looked at closely."""
    coords, at, here = array("d", path.coords), 0, 0j
    xs, ys, cubics = [], [], []
    for kind in path.kinds.replace(b"Z", b""):  # a move always comes before the next cubic
        if kind == _CUBIC:
            first, second = complex(coords[at], coords[at + 1]), complex(coords[at + 2], coords[at + 3])
            at += 4
        end = complex(coords[at], coords[at + 1])
        at += 2
        if kind == _CUBIC:
            cubics.append(Cubic(here, first, second, end))
        xs.append(end.real)
        ys.append(end.imag)
        here = end
    box = Box(min(xs), min(ys), max(xs), max(ys))
    for cubic in cubics:
        if not (box.holds(cubic.first) and box.holds(cubic.second)):
            box = box.union(cubic.bounds())
    return box
