"""Outlines through the bend: cubics stay cubics, within a stated distance of the exact image.

Each cubic is pushed through the map by its ends and its handles (Hermite). How far that can stray follows from the
derivatives of the cubic and of the map, so that letters need no look at all. Where it may be too far, the handles are
made longer or shorter until the curve fits best, and it is compared with the exact image; where that is still too far,
the cubic is halved. A line up the design (along a generator) stays a line; a line across it (along a level) becomes a
true arc.
"""

from __future__ import annotations

import cmath
import math
from typing import TYPE_CHECKING

import numpy as np

from cupgeom.decor.place import Placement
from cupgeom.drawing import Affine, Path
from cupgeom.drawing.path import POINTS_PER_KIND
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most
from cupgeom.wall import LARGEST_SIZE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Points = NDArray[np.complex128]
    Numbers = NDArray[np.float64]
    Kinds = NDArray[np.uint8]
    Indices = NDArray[np.intp]
    Flags = NDArray[np.bool_]
    Cubics = Points  # shape (4, n): starts, two handles, ends

TOLERANCE = 0.01  # mm on the sheet
FINEST = 1e-8  # mm; a finer one would drown in the map's own rounding
_PROVEN, _SEEN, _ARCS = 0.9, 0.75, 0.05  # shares of the tolerance: for what is proven, for what is looked at, for arcs
_WORTH_FITTING = 100.0  # tolerances that a cubic may stray by for its handles to be worth fitting
_FITS = 2  # of its handles
_STEADY = 0.1  # share of its chord that each step between a cubic's points goes along it, to be worth fitting
_HANDLES = 0.5, 2.0  # how much shorter or longer a fitted handle may be
_LOOKS = np.arange(1, 16)[:, None] / 16  # parameters at which a fitted cubic is compared
_REACH = 0.4 / 16  # by which the nearest parameter is sought on either side, so that no stretch goes unlooked at
_MOST_HALVINGS = 12
_BLOCK = 8192  # cubics worked on at a time, so that a block's arrays stay in the processor's cache
_LARGEST_ARC = 1e6  # mm of radius; a flatter arc is drawn as a cubic
_LONGEST_ARC_RAD = 3.0
_MOVE, _LINE, _ARC, _CUBIC, _CLOSE = b"MLACZ"
_COUNTS = np.zeros(256, np.intp)
for _kind, _count in POINTS_PER_KIND.items():
    _COUNTS[ord(_kind)] = _count


def bent(path: Path, placement: Placement, tolerance: float = TOLERANCE) -> Path:
    """A path of the design as it lies on the sheet.

    Parameters
    ----------
    path
        In the design's own plane [mm], its box's centre at the origin.
    placement
        Where and how it lies.
    tolerance
        Largest distance from the exact image [mm].

    Raises
    ------
    CupgeomError
        When the tolerance is below 1e-8 mm, or the design reaches beyond the point of the wall or is far larger than a
        cup.

    Notes
    -----
    Where no handle is fitted the distance is proven (see `_bound`). A curve with fitted handles, never one with a cusp
    or a loop, is compared at 15 places and has to keep within three quarters of the tolerance there.
    """
    require_at_least("tolerance", tolerance, FINEST)
    if placement.bend == "flat":
        return path.transformed(_rigid(placement))
    if not path:
        return path
    stretch = _largest_stretch(path, placement)
    if b"A" in path.kinds:
        path = path.with_cubics(_ARCS * tolerance / max(stretch, 1.0))
        stretch = _largest_stretch(path, placement)
    kinds, points = _closing_lines_drawn(np.frombuffer(path.kinds, np.uint8), np.frombuffer(path.coords, np.complex128))
    kinds, points = _lines_sorted(kinds, points, placement)
    counts = _COUNTS[kinds]
    cubics = np.flatnonzero(kinds == _CUBIC)
    end = np.cumsum(counts)[cubics] - 1
    others = np.ones(len(points), bool)
    sheet = np.empty_like(points)
    bound = np.empty(len(cubics))
    for block in (slice(start, start + _BLOCK) for start in range(0, len(cubics), _BLOCK)):
        at = end[block]
        source = points[at + np.arange(-3, 1)[:, None]]
        image = _hermite(source, placement)
        bound[block] = _bound(source, placement, stretch)
        for row in (1, 2, 3):
            sheet[at + (row - 3)] = image[row]
            others[at + (row - 3)] = False
    sheet[others] = placement.to_sheet(points[others])
    far = np.flatnonzero(~(bound <= _PROVEN * tolerance))
    if len(far):
        source = points[end[far] + np.arange(-3, 1)[:, None]]
        which, pieces = _pieces(source, placement, stretch, tolerance)
        kinds, sheet = _with_pieces(kinds, sheet, cubics[far[which]], pieces)
    start, end = _closed(kinds)
    sheet[end] = sheet[start]  # to the last bit, so that no hairline closes them
    return Path(kinds.tobytes(), (sheet + 0).tobytes())  # adding 0 makes −0 plain


def _rigid(placement: Placement) -> Affine:
    origin, east = placement.flat_origin, placement.flat_direction
    return Affine(east.real, east.imag, -east.imag, east.real, origin.real, origin.imag)


def _largest_stretch(path: Path, placement: Placement) -> float:
    """The wall's largest radius under the design as a share of the radius where widths are true.

    Raise when the design, handles included, reaches where the wall has no radius or is out of all proportion.
    """
    require_at_most("design", float(np.abs(path.points).max()), LARGEST_SIZE)
    upright = cmath.exp(1j * math.radians(placement.rotate_deg))
    heights = (np.frombuffer(path.coords, np.complex128) * upright).imag
    ends = np.array([heights.min(), heights.max()]) * 1j / upright
    with np.errstate(over="ignore"):
        _, drop = placement.to_turn_and_drop(ends)
        radius = placement.wall.top_radius - placement.wall.cone_constant * drop
    if not radius.min() > 0:
        beyond = number(float(drop[radius.argmin()]))
        raise CupgeomError("design", f"reaches beyond the point of the cup, drop {beyond} mm; place it elsewhere")
    if not radius.max() <= LARGEST_SIZE:
        size = number(float(radius.max()))
        raise CupgeomError("design", f"reaches where the wall would be {size} mm in radius; place it elsewhere")
    return float(radius.max()) / placement.true_radius


def _closing_lines_drawn(kinds: Kinds, points: Points) -> tuple[Kinds, Points]:
    """A path with a line before each Z that would draw one."""
    start, end = _closed(kinds)
    drawn = points[start] != points[end]
    if not drawn.any():
        return kinds, points
    kinds = np.insert(kinds, np.flatnonzero(kinds == _CLOSE)[drawn], _LINE)
    return kinds, np.insert(points, end[drawn] + 1, points[start[drawn]])


def _closed(kinds: Kinds) -> tuple[Indices, Indices]:
    """Where the first and the last point of each closed outline lie."""
    last = np.cumsum(_COUNTS[kinds]) - 1
    moves, closes = np.flatnonzero(kinds == _MOVE), np.flatnonzero(kinds == _CLOSE)
    return last[moves[np.searchsorted(moves, closes) - 1]], last[closes]


def _lines_sorted(kinds: Kinds, points: Points, placement: Placement) -> tuple[Kinds, Points]:
    """A path whose lines stay lines only where the bend keeps them straight; else they are arcs or cubics."""
    lines = np.flatnonzero(kinds == _LINE)
    at = np.cumsum(_COUNTS[kinds])[lines] - 1
    first, along = points[at - 1], points[at] - points[at - 1]
    bends = np.ones(len(lines), bool)
    level = ~bends
    if placement.rotate_deg == 0:
        wall, bends = placement.wall, along.real != 0
        level = bends & (along.imag == 0)
        if wall.straight:
            bends &= ~level
            level[:] = False
        else:
            curvature = abs(wall.cone_constant)
            flat_radius = np.abs(wall.top_radius / curvature - placement.to_turn_and_drop(first)[1])
            level &= flat_radius <= _LARGEST_ARC
            level &= np.abs(along.real) * (curvature / placement.true_radius) <= _LONGEST_ARC_RAD
    if not bends.any():
        return kinds, points
    kinds = kinds.copy()
    kinds[lines[bends]] = _CUBIC
    kinds[lines[level]] = _ARC
    shares = np.where(level[:, None], (0.5, 0), (1 / 3, 2 / 3))
    given = np.stack([bends, bends & ~level], axis=1)
    inner = first[:, None] + along[:, None] * shares
    return kinds, np.insert(points, np.repeat(at, given.sum(axis=1)), inner[given])


def _hermite(source: Cubics, placement: Placement) -> Cubics:
    """Cubics through the images of the ends, their handles the images of the handles as small steps from the ends."""
    ends, handles = source[::3], source[1:3] - source[::3]
    x, y, vx, vy = placement.traced(ends.real, ends.imag, handles.real, handles.imag)
    image = np.empty_like(source)
    image.real[::3], image.imag[::3] = x, y
    image.real[1:3], image.imag[1:3] = x + vx, y + vy
    return image


def _bound(source: Cubics, placement: Placement, stretch: float) -> Numbers:
    """How far the exact image of a cubic can be from its Hermite cubic at the same parameter, at most.

    Notes
    -----
    Hermite interpolation: |F − H| ≤ max|F⁗|/384 for F of one parameter, here the map after the cubic P. With
    κ = |k|/ρ_true, m the largest ρ/ρ_true and unit steps, the map's nth derivative is at most C κⁿ⁻¹: for *even*, which
    is i(ρ₀/k) exp(−iκ(u + iv)) from the apex but for a turn, C = m; for *level*, i(ρ₀/k + v) exp(−iκu), the
    derivative along (cos α, sin α) is κⁿ⁻¹ times m cosⁿα and n sin α cosⁿ⁻¹α at right angles, and the latter is at
    most √(27/16) at n = 4 and less before. By the chain rule::

        F⁗ = 4 S″P′P‴ + 3 S″P″² + 6 S‴P′²P″ + S⁗P′⁴        (P⁗ = 0)

    and P′, P″, P‴ are at most 3, 6 and 6 times the largest first, second and third differences of the points.
    """
    k = abs(placement.wall.cone_constant) / placement.true_radius
    size = stretch if placement.bend == "even" else math.hypot(stretch, math.sqrt(27) / 4)
    steps = source[1:] - source[:-1]
    turns = steps[1:] - steps[:-1]
    a = 3 * np.sqrt(_square(steps).max(axis=0))
    b = 6 * np.sqrt(_square(turns).max(axis=0))
    c = 6 * np.sqrt(_square(turns[1] - turns[0]))
    ka = k * a
    return np.asarray((k * size / 384) * (4 * a * c + 3 * b * b + 6 * ka * a * b + (ka * a) ** 2))


def _square(values: Points) -> Numbers:
    return np.asarray(values.real * values.real + values.imag * values.imag)


def _pieces(source: Cubics, placement: Placement, stretch: float, tolerance: float) -> tuple[Indices, Points]:
    """Cubics within the tolerance of the images of these, fitted, or halved until they are.

    Returns which cubic each belongs to, in order, and its handles and end, shape (n, 3).
    """
    which = np.arange(source.shape[1])
    begin, width = np.zeros(len(which)), 1.0
    done: list[tuple[Indices, Numbers, Points]] = []
    for _ in range(_MOST_HALVINGS + 1):
        image = _hermite(source, placement)
        bound = _bound(source, placement, stretch)
        good = bound <= _PROVEN * tolerance
        tried = np.flatnonzero(~good & (bound <= _WORTH_FITTING * tolerance) & _steady(source))
        fitted, near = _fitted(source[:, tried], image[:, tried], placement, _SEEN * tolerance)
        image[:, tried[near]] = fitted[:, near]
        good[tried[near]] = True
        done.append((which[good], begin[good], image[1:, good].T))
        if good.all():
            break
        width /= 2
        source = np.concatenate(_halves(source[:, ~good]), axis=1)
        which = np.tile(which[~good], 2)
        begin = np.concatenate([begin[~good], begin[~good] + width])
    else:
        raise CupgeomError("design", f"is bent too sharply to be drawn within {number(tolerance)} mm; make it smaller")
    which, begin, points = (np.concatenate(column) for column in zip(*done, strict=True))
    order = np.lexsort((begin, which))
    return which[order], points[order]


def _steady(source: Cubics) -> Flags:
    """Which cubics go steadily along their chord, without a cusp or a loop: so do the steps between their points."""
    chord = source[3] - source[0]
    return np.asarray((_dot(source[1:] - source[:-1], chord) > _STEADY * _square(chord)).all(axis=0))


def _fitted(source: Cubics, image: Cubics, placement: Placement, allowed: float) -> tuple[Cubics, Flags]:
    """Image cubics with handles made longer or shorter so that they miss the exact curve least, and which are near it.

    What counts is the distance across the curve, which is linear in the two lengths: least squares over all looks.
    """
    image = image.copy()
    out, back = image[1] - image[0], image[2] - image[3]
    longer = np.ones((2, source.shape[1]))
    levers = 3 * _LOOKS * (1 - _LOOKS) ** 2 * out, 3 * _LOOKS * _LOOKS * (1 - _LOOKS) * back
    for _ in range(_FITS):
        gap, across = _gaps(source, image, placement)
        a, b, miss = (_dot(across, value) for value in (*levers, gap))
        aa, ab, bb = (a * a).sum(axis=0), (a * b).sum(axis=0), (b * b).sum(axis=0)
        am, bm = (a * miss).sum(axis=0), (b * miss).sum(axis=0)
        determinant = aa * bb - ab * ab
        solvable = determinant > 1e-6 * aa * bb + 1e-12
        determinant[~solvable] = np.inf
        longer += np.array([ab * bm - bb * am, ab * am - aa * bm]) / determinant
        image[1], image[2] = image[0] + longer[0] * out, image[3] + longer[1] * back
    gap, _ = _gaps(source, image, placement)
    sound = ((longer > _HANDLES[0]) & (longer < _HANDLES[1])).all(axis=0)
    return image, sound & (_square(gap).max(axis=0, initial=0.0) <= allowed * allowed)


def _gaps(source: Cubics, image: Cubics, placement: Placement) -> tuple[Points, Points]:
    """At each look, from the exact curve's nearest point to the cubic, and the unit normal of the exact curve there."""
    ours, _ = _at(image, _LOOKS)
    exact, velocity = _exact(source, placement, _LOOKS)
    along = _dot(ours - exact, velocity) / np.maximum(_square(velocity), 1e-12)
    exact, velocity = _exact(source, placement, _LOOKS + np.clip(along, -_REACH, _REACH))
    return ours - exact, 1j * velocity / np.maximum(np.abs(velocity), 1e-12)


def _exact(source: Cubics, placement: Placement, t: Numbers) -> tuple[Points, Points]:
    """The exact image of cubics at parameters, shape (looks, n), and its derivative there."""
    point, velocity = _at(source, t)
    x, y, vx, vy = placement.traced(point.real, point.imag, velocity.real, velocity.imag)
    return x + 1j * y, vx + 1j * vy


def _at(cubics: Cubics, t: Numbers) -> tuple[Points, Points]:
    """Points and derivatives of cubics at parameters."""
    start, first, second, end = cubics
    s = 1 - t
    before, after = start * s + first * t, second * s + end * t
    middle = first * s + second * t
    before, after = before * s + middle * t, middle * s + after * t
    return before * s + after * t, 3 * (after - before)


def _dot(a: Points, b: Points) -> Numbers:
    return np.asarray(a.real * b.real + a.imag * b.imag)


def _halves(cubics: Cubics) -> tuple[Cubics, Cubics]:
    """Each cubic's two halves (de Casteljau)."""
    start, first, second, end = cubics
    a, b, c = (start + first) / 2, (first + second) / 2, (second + end) / 2
    d, e = (a + b) / 2, (b + c) / 2
    middle = (d + e) / 2
    return np.stack([start, a, d, middle]), np.stack([middle, e, c, end])


def _with_pieces(kinds: Kinds, sheet: Points, commands: Indices, pieces: Points) -> tuple[Kinds, Points]:
    """A path with some of its cubics replaced by one or more pieces each, which come in order."""
    times = np.ones(len(kinds), np.intp)
    times[commands] = 0
    np.add.at(times, commands, 1)
    replaced = np.zeros(len(kinds), bool)
    replaced[commands] = True
    kept = ~np.repeat(replaced, _COUNTS[kinds])
    kinds, replaced = np.repeat(kinds, times), np.repeat(replaced, times)
    new = np.repeat(replaced, _COUNTS[kinds])
    result = np.empty(len(new), complex)
    result[~new], result[new] = sheet[kept], pieces.ravel()
    return kinds, result
