"""Gradients as PDF shadings: which axes and circles to paint, in which order, with which ramps of colour.

PDF has no spread, so a gradient that repeats is painted run after run, each over everything beyond its start (or, for
circles, within its end), so that no seam can show. A run holds one cycle unless there are very many: viewers sample
each ramp at few places, pdfium at 256.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from cupgeom.drawing import Affine, Box, Gradient

_MOST_RUNS = 64
_MOST_CYCLES = 4096  # finer ones are not to be seen: 0.1 mm on 400 mm
Ramp = tuple[tuple[float, tuple[float, ...]], ...]  # offsets from 0 to 1, not falling, and the values there


@dataclass(frozen=True, slots=True)
class Run:
    """One shading: its ramp from `first` to `last` along the gradient, and whether it goes on before and after."""

    gradient: Gradient
    first: float
    last: float
    ramp: Ramp
    before: bool = True
    after: bool = True

    @property
    def kind(self) -> int:
        """PDF's ShadingType (ISO 32000-1, 8.7.4.5.3 and 8.7.4.5.4)."""
        return 2 if self.gradient.kind == "linear" else 3

    @property
    def coords(self) -> tuple[float, ...]:
        """Ends of the axis, or centre and radius of the two circles, in the gradient's own plane."""
        if self.gradient.kind == "linear":
            return (self.first, 0.0, self.last, 0.0)
        focus, ends = self.gradient.focus, (self.first, self.last)
        return tuple(value for t in ends for value in (focus.real * (1 - t), focus.imag * (1 - t), t))


def runs(gradient: Gradient, box: Box, *, opacity: bool) -> Iterator[Run]:
    """The shadings that fill a box, in painting order: of the gradient's colours, or of its opacities alone."""
    ramp = _ramp(gradient, opacity)
    if gradient.spread == "pad":
        yield _padded(gradient, ramp)
        return
    low, high = _reach(gradient, box)
    if not high - low <= _MOST_CYCLES:
        mean = _mean(ramp)
        yield Run(gradient, 0.0, 1.0, ((0.0, mean), (1.0, mean)))
        return
    first, last = math.floor(low), math.ceil(high)
    step = math.ceil((last - first) / _MOST_RUNS) or 1
    starts = list(range(first, max(last, first + 1), step))
    linear = gradient.kind == "linear"
    for start in starts if linear else reversed(starts):
        before, after = start == starts[0] or not linear, start == starts[-1] or linear
        yield Run(gradient, start, start + step, _cycles(gradient, ramp, start, step), before, after)


def function(ramp: Ramp) -> str:
    """A ramp as a PDF function: linear pieces (type 2), stitched (type 3) when there are several."""
    pieces = [(a, b) for a, b in pairwise(ramp) if b[0] > a[0]]
    texts = [f"<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [{_listed(a[1])}] /C1 [{_listed(b[1])}] >>" for a, b in pieces]
    if len(texts) == 1:
        return texts[0]
    bounds, encode = _listed(a[0] for a, _ in pieces[1:]), "0 1 " * len(texts)
    return (
        f"<< /FunctionType 3 /Domain [0 1] /Bounds [{bounds}] /Encode [{encode.strip()}]"
        f" /Functions [{' '.join(texts)}] >>"
    )


def _ramp(gradient: Gradient, opacity: bool) -> Ramp:
    """The stops, from 0 to 1."""
    stops = [(stop.offset, (stop.opacity,) if opacity else stop.colour) for stop in gradient.stops]
    return ((0.0, stops[0][1]), *stops, (1.0, stops[-1][1]))


def _padded(gradient: Gradient, ramp: Ramp) -> Run:
    """One run from 0 to 1, and farther where two stops make a hard edge at an end, beyond which the outer one rules."""
    hard_start = ramp[1][0] == 0 and ramp[2][0] == 0 and gradient.kind == "linear"
    hard_end = ramp[-2][0] == 1 and ramp[-3][0] == 1
    first, last = -1.0 * hard_start, 1.0 + hard_end
    inner = [((offset - first) / (last - first), values) for offset, values in ramp[1:-1]]
    return Run(gradient, first, last, ((0.0, ramp[0][1]), *inner, (1.0, ramp[-1][1])))


def _cycles(gradient: Gradient, ramp: Ramp, start: int, count: int) -> Ramp:
    """The ramp over several cycles, every other one backwards if it is reflected."""
    backwards = tuple((1 - offset, values) for offset, values in reversed(ramp))
    knots: list[tuple[float, tuple[float, ...]]] = []
    for cycle in range(start, start + count):
        turned = gradient.spread == "reflect" and cycle % 2
        knots += [((cycle - start + offset) / count, values) for offset, values in (backwards if turned else ramp)]
    return tuple(knots)


def _mean(ramp: Ramp) -> tuple[float, ...]:
    """The values' mean along the ramp."""
    shares = [(b[0] - a[0], [(x + y) / 2 for x, y in zip(a[1], b[1], strict=True)]) for a, b in pairwise(ramp)]
    return tuple(sum(share * values[i] for share, values in shares) for i in range(len(ramp[0][1])))


def _reach(gradient: Gradient, box: Box) -> tuple[float, float]:
    """Least and largest place along the gradient in a box.

    Notes
    -----
    A point p lies on the circle of radius t about f(1 − t), f the focus: |p − f + ft| = t, so that
    (1 − |f|²)t² − 2t Re((p − f)f*) − |p − f|² = 0. The circles lie within each other, so that corners are farthest.
    """
    places = [_along(gradient, corner) for corner in _corners(box)]
    return (min(places) if gradient.kind == "linear" else 0.0), max(places)


def _along(gradient: Gradient, point: complex) -> float:
    own = _inverse(gradient.place)(point)
    if gradient.kind == "linear":
        return own.real
    focus, away = gradient.focus, own - gradient.focus
    a, b, c = 1 - abs(focus) ** 2, (away * focus.conjugate()).real, abs(away) ** 2
    return (b + math.sqrt(b * b + a * c)) / a


def _corners(box: Box) -> list[complex]:
    return [complex(x, y) for x in (box.left, box.right) for y in (box.bottom, box.top)]


def _inverse(affine: Affine) -> Affine:
    a, b, c, d, e, f = affine
    return Affine(*(part / affine.determinant for part in (d, -b, -c, a, c * f - d * e, b * e - a * f)))


def _listed(values: Iterator[float] | tuple[float, ...]) -> str:
    return " ".join(f"{value:z.9f}".rstrip("0").rstrip(".") for value in values)
