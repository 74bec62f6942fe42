"""Path data: the ``d`` attribute, as a `Path` of lines and cubics.

Grammar: SVG 1.1 (second edition) 8.3, appendix F.6 for arcs. A fault ends the path where it stands, as the standard
asks.
"""

from __future__ import annotations

import cmath
import math
import re
from array import array
from collections.abc import Callable, Iterator
from typing import NamedTuple

from cupgeom.decor.artwork.limits import LARGEST, MOST_POINTS, require_reasonable, too_much
from cupgeom.decor.artwork.numbers import NUMBER, SEPARATOR, parse_numbers
from cupgeom.drawing import Path, Pen
from cupgeom.errors import CupgeomError

_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*+)")
_CLEAN = re.compile("(?:[MmLlHhVvCcSsQqTtAa]0(?:,?+0)*+|[Zz])*+")  # with 0 for every number, and no spaces
_NUMBER = re.compile(NUMBER)
_ARC = re.compile(
    rf"{SEPARATOR}({NUMBER}){SEPARATOR}({NUMBER}){SEPARATOR}({NUMBER})"
    rf"{SEPARATOR}([01]){SEPARATOR}([01]){SEPARATOR}({NUMBER}){SEPARATOR}({NUMBER})"
)
_NO_NUMBER = re.compile(r"nan|inf", re.IGNORECASE)
_ARITY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}
_PIECE = (
    math.pi / 4
)  # of an arc as one cubic: off by (2/27) sin⁶(φ/4)/cos²(φ/4) = 4.2e-6 of its radius (standard result)
_STRAIGHT = 1e-7  # half the chord over the radius: such an arc leaves its chord by 2.5e-8 of it


class Reading(NamedTuple):
    """A path, what was wrong with the rest of it, if anything, and the points where its arcs were cut in pieces."""

    path: Path
    fault: str = ""
    cuts: frozenset[complex] = frozenset()


class ArcCentre(NamedTuple):
    """An elliptical arc by its centre: radii, tilt, where it starts and how far it runs, both before the tilt [rad]."""

    centre: complex
    radii: tuple[float, float]
    tilt: float
    start: float
    sweep: float


def parse_path(text: str) -> Reading:
    """Path data up to its first fault.

    Raises
    ------
    CupgeomError
        When it holds a number beyond reckoning, or NaN, or too many of them.
    """
    pen = _Plotter()
    is_clean = _CLEAN.fullmatch("".join(_NUMBER.sub("0", text).split())) is not None
    at = len(text) - len(text.lstrip())
    for command, arguments in _COMMAND.findall(text, at):
        if text[at] != command or not pen.run(command, arguments, is_clean):
            break
        if len(pen.coords) > 2 * MOST_POINTS:
            raise too_much()
        at += 1 + len(arguments)
    fault = ""
    if at < len(text):
        if found := _NO_NUMBER.search(text):
            raise CupgeomError("", f"has {found[0]} in its path data, which is no number")
        fault = f"has a fault in its path data at character {at + 1} ({text[at : at + 12].strip()!r})"
    if not all(abs(value) <= LARGEST for value in pen.coords):
        for match in _NUMBER.finditer(text):
            require_reasonable(match[0], float(match[0]))
        raise CupgeomError("", f"reaches beyond {LARGEST:g}")
    return Reading(pen.path(), fault, frozenset(pen.cuts))


def parse_points(text: str, *, closed: bool) -> Reading:
    """The ``points`` of a polyline or polygon; an odd number at the end is dropped."""
    numbers, faulty = parse_numbers(text)
    pen = Pen()
    for index, (x, y) in enumerate(zip(*[iter(numbers)] * 2, strict=False)):
        (pen.line if index else pen.move)(complex(x, y))
    path = (pen.close() if closed and len(numbers) > 1 else pen).path()
    return Reading(path, "has a fault in its points" if faulty or len(numbers) % 2 else "")


class _Plotter:
    """Follows the commands; knows where it is and how it came there."""

    def __init__(self) -> None:
        self._kinds, self.coords = bytearray(), array("d")
        self._here = self._start = 0j
        self._last = ""  # the command before, upper case
        self._handle = 0j  # its last handle
        self._down = False  # whether the outline has begun
        self.cuts: list[complex] = []

    def path(self) -> Path:
        return Path(bytes(self._kinds), self.coords.tobytes())

    def run(self, command: str, arguments: str, is_clean: bool) -> bool:
        """Draw a command with its repeats; False at a fault, with all before it drawn."""
        upper, relative = command.upper(), command.islower()
        if not self._last and upper != "M":
            return False
        if upper == "A":
            return self._arcs(arguments, relative)
        if upper == "Z":
            self._close()
            return not arguments.strip()
        numbers, faulty = (
            (list(map(float, _NUMBER.findall(arguments))), False) if is_clean else parse_numbers(arguments)
        )
        arity, step = _ARITY[upper], _STEPS[upper]
        for group in zip(*[iter(numbers)] * arity, strict=False):
            step(self, self._here if relative else 0j, group)
            self._last = upper
            if upper == "M":
                step, upper = _STEPS["L"], "L"
        return bool(numbers) and not faulty and len(numbers) % arity == 0

    def _draw(self, kind: bytes, *points: complex) -> None:
        if not self._down:  # after Z the next outline starts where the last one did
            self._down = True
            self._draw(b"M", self._here)
        self._kinds += kind
        for point in points:
            self.coords.extend((point.real, point.imag))

    def _move(self, base: complex, group: tuple[float, ...]) -> None:
        self._here = self._start = base + complex(*group)
        self._down = True
        self._draw(b"M", self._here)

    def _close(self) -> None:
        if self._down:
            self._kinds += b"Z"
        self._here, self._down, self._last = self._start, False, "Z"

    def _line_to(self, to: complex) -> None:
        self._draw(b"L", to)
        self._here = to

    def _cubic_to(self, first: complex, second: complex, to: complex) -> None:
        self._draw(b"C", first, second, to)
        self._here, self._handle = to, second

    def _quadratic_to(self, handle: complex, to: complex) -> None:
        self._cubic_to(self._here + (handle - self._here) * 2 / 3, to + (handle - to) * 2 / 3, to)
        self._handle = handle

    def _line(self, base: complex, group: tuple[float, ...]) -> None:
        self._line_to(base + complex(*group))

    def _across(self, base: complex, group: tuple[float, ...]) -> None:
        self._line_to(complex(base.real + group[0], self._here.imag))

    def _down_to(self, base: complex, group: tuple[float, ...]) -> None:
        self._line_to(complex(self._here.real, base.imag + group[0]))

    def _cubic(self, base: complex, group: tuple[float, ...]) -> None:
        self._cubic_to(*(base + complex(x, y) for x, y in zip(group[::2], group[1::2], strict=True)))

    def _smooth(self, base: complex, group: tuple[float, ...]) -> None:
        first = 2 * self._here - self._handle if self._last in ("C", "S") else self._here
        self._cubic_to(first, base + complex(*group[:2]), base + complex(*group[2:]))

    def _quadratic(self, base: complex, group: tuple[float, ...]) -> None:
        self._quadratic_to(base + complex(*group[:2]), base + complex(*group[2:]))

    def _smooth_quadratic(self, base: complex, group: tuple[float, ...]) -> None:
        handle = 2 * self._here - self._handle if self._last in ("Q", "T") else self._here
        self._quadratic_to(handle, base + complex(*group))

    def _arcs(self, arguments: str, relative: bool) -> bool:
        at, some = 0, False
        while match := _ARC.match(arguments, at):
            rx, ry, tilt, x, y = (require_reasonable(match[i], float(match[i])) for i in (1, 2, 3, 6, 7))
            end = complex(x, y) + (self._here if relative else 0)
            arc = arc_centre(self._here, end, (rx, ry), math.radians(tilt), match[4] == "1", match[5] == "1")
            if arc is None:
                self._line_to(end)
            else:
                pieces = list(arc_cubics(arc, end))
                for piece in pieces:
                    self._cubic_to(*piece)
                self.cuts += [to for _, _, to in pieces[:-1]]
            at, some, self._last = match.end(), True, "A"
        return some and not arguments[at:].strip()


_STEPS: dict[str, Callable[[_Plotter, complex, tuple[float, ...]], None]] = {
    "M": _Plotter._move,
    "L": _Plotter._line,
    "H": _Plotter._across,
    "V": _Plotter._down_to,
    "C": _Plotter._cubic,
    "S": _Plotter._smooth,
    "Q": _Plotter._quadratic,
    "T": _Plotter._smooth_quadratic,
}


def arc_centre(
    start: complex, end: complex, radii: tuple[float, float], tilt: float, large: bool, sweep: bool
) -> ArcCentre | None:
    """An arc given by its ends, as its centre; None when it is a straight line, radii too small are grown.

    Notes
    -----
    In the plane turned back by the tilt and scaled to the unit circle, with w half the way from start to end, the
    centre lies off the middle by √(1/|w|² − 1) times w turned a quarter, to the side that the flags say, and half the
    shorter turn is asin|w|. Same outcome as SVG 1.1 F.6.5 and F.6.6.
    """
    rx, ry = map(abs, radii)
    if rx == 0 or ry == 0 or start == end:
        return None
    turn = cmath.rect(1.0, tilt)

    def to_circle(vector: complex) -> complex:
        flat = vector / turn
        return complex(flat.real / rx, flat.imag / ry)

    half = to_circle(end - start) / 2
    size = abs(half)
    if size < _STRAIGHT:
        return None
    if size > 1:
        rx, ry, half, size = rx * size, ry * size, half / size, 1.0
    aside = 1j * half / size * math.sqrt(max(0.0, 1 - size * size)) * (-1 if large == sweep else 1)
    offset = complex(aside.real * rx, aside.imag * ry) * turn
    short = 2 * math.asin(size)
    run = math.tau - short if large else short
    return ArcCentre((start + end) / 2 + offset, (rx, ry), tilt, cmath.phase(-half - aside), run if sweep else -run)


def arc_cubics(arc: ArcCentre, end: complex) -> Iterator[tuple[complex, complex, complex]]:
    """An arc as cubics of at most an eighth of a turn, each without its start; the last ends exactly at `end`."""
    count = max(1, math.ceil(abs(arc.sweep) / _PIECE - 1e-9))
    step = arc.sweep / count
    handle = 4 / 3 * math.tan(step / 4)
    rx, ry = arc.radii
    turn = cmath.rect(1.0, arc.tilt)

    def place(on_circle: complex) -> complex:
        return arc.centre + complex(on_circle.real * rx, on_circle.imag * ry) * turn

    for index in range(count):
        one, two = (cmath.rect(1.0, arc.start + step * i) for i in (index, index + 1))
        yield (
            place(one * (1 + 1j * handle)),
            place(two * (1 - 1j * handle)),
            end if index == count - 1 else place(two),
        )
