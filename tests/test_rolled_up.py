"""A finished PDF, rolled back onto the cup: all that is known are the file, three sizes of the cup and its handle.

The cut line is read from the file, found a place on the cup where all of it lies on the wall, and judged in space.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np
import pytest
import shapely
from mpmath import mp
from numpy.typing import NDArray

from cupgeom import Cup, Foot, Handle, Span, Template
from cupgeom.pages import parse_paper
from cupgeom.template import document
from cupgeom.writers import pdf

from .readback import Outline, bezier, pdf_outlines

Points = NDArray[np.complex128]
MUG = Handle(feet=(Foot(width=14, top=15, bottom=30), Foot(width=14, top=65, bottom=80)))
ONE_FOOT = Handle(feet=(Foot(width=18, top=10, bottom=70),), clearance=5.0)
WIDE_FOOT = Handle(feet=(Foot(width=50, top=20, bottom=45),))


@dataclass(frozen=True)
class Case:
    """A cup in numbers, and what was asked of its wrap."""

    rim: float
    base: float
    height: float
    handle: Handle | None = None
    paper: str = "fit"
    seam: str = "blank"
    overlap: float = 8.0
    closed: bool = True
    lip: float = 0.0
    band: float = 20.0

    def file(self) -> bytes:
        cup = Cup.frustum(self.rim, self.base, self.height, handle=self.handle, bare_lip=self.lip)
        template = Template(
            cup=cup,
            trim=Span(top=0.0, bottom=cup.slant),
            seam=self.seam,
            overlap=self.overlap,
            closed=self.closed,
            rim_band=self.band,
        )
        return pdf.render(document(template, parse_paper(self.paper)))


CASES = {
    "wide taper": Case(110, 60, 120),
    "slight taper, lying on a3": Case(88, 86, 120, paper="a3"),
    "cylinder": Case(73, 73, 150),
    "upside down": Case(60, 95, 130, seam="continued", overlap=12),
    "taper of 1e-12 mm": Case(80, 80 - 1e-12, 100, paper="a3"),
    "butt seam": Case(88, 70, 170, seam="butt"),
    "mug, two feet": Case(82, 78, 95, MUG, paper="a3"),
    "mug, continued tab, turned on a4": Case(60, 52, 95, MUG, paper="a4", seam="continued", overlap=6),
    "upside-down mug, one foot, large clearance": Case(70, 84, 100, ONE_FOOT, seam="butt"),
    "foot as wide as the cup": Case(80, 52, 90, WIDE_FOOT),
    "bare lip, no band": Case(88, 70, 100, lip=9.0, band=0.0, seam="continued"),
}
CLOSED = pytest.mark.parametrize("name", CASES)
WITH_HANDLE = pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.handle])


class Rolled:
    """The lines of a file in turn and drop, through the place on the sheet where the cut line lies on the wall."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.lines = pdf_outlines(case.file())
        self.cut = cut_line(self.lines)
        self.move = self._placed()

    def roll(self, points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Turn and drop of points of the sheet, about the apex of the cone."""
        with mp.workdps(40):
            loss = (mp.mpf(self.case.rim) - mp.mpf(self.case.base)) / 2
            radius, k = mp.mpf(self.case.rim) / 2, loss / mp.hypot(loss, self.case.height)
            places = []
            for point in points:
                away = radius - 1j * k * mp.mpc(complex(point))  # k times the way from the apex, turned upright
                turn, drop = (-mp.arg(away) / k, (radius - abs(away)) / k) if k else (point.real / radius, -point.imag)
                places.append((float(turn), float(drop)))
        return np.array(places)[:, 0], np.array(places)[:, 1]

    def flat(self, turn: float, drop: float) -> complex:
        with mp.workdps(40):
            loss = (mp.mpf(self.case.rim) - mp.mpf(self.case.base)) / 2
            radius, k = mp.mpf(self.case.rim) / 2, loss / mp.hypot(loss, self.case.height)
            if not k:
                return complex(radius * turn, -drop)
            return complex(1j * ((radius - k * drop) * mp.exp(-1j * k * turn) - radius) / k)

    @property
    def slant(self) -> float:
        return math.hypot(self.case.height, (self.case.rim - self.case.base) / 2)

    def radius(self, drop: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.case.rim / 2 - (self.case.rim - self.case.base) / 2 / self.slant * drop

    def space(self, turn: NDArray[np.float64], drop: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points in space: right, front, up."""
        ring, fall = self.radius(drop), self.case.height / self.slant
        return np.stack([ring * np.sin(turn), ring * np.cos(turn), -drop * fall], axis=-1)

    def rolled(self, line: Outline, per_segment: int = 8) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        points = [bezier(s, i / per_segment) for s in line.segments for i in range(per_segment + 1)]
        return self.roll(self.move(np.array(points)))

    def guides(self, width: float, dashes: tuple[float, ...] = ()) -> list[Outline]:
        return [line for line in self.lines if line.role == "guide" and (line.width, line.dashes) == (width, dashes)]

    def _placed(self):
        """The one way to lay the page on the sheet so that the cut line lies on the wall, its left edge at turn −180°.

        The left edge is as long as the wall, so two corners at that distance are tried as its ends.
        """
        corners = [segment[-1] for segment in self.cut.segments]
        places = []
        top, bottom = self.flat(-math.pi, 0.0), self.flat(-math.pi, self.slant)
        for upper, lower in product(corners, corners):
            if abs(abs(upper - lower) - self.slant) < 1e-4:
                turn = (bottom - top) / (lower - upper)
                move = lambda points, start=upper, turn=turn: top + (points - start) * turn / abs(turn)  # noqa: E731
                turns, drops = self.roll(move(np.array(corners)))
                tab = self.case.overlap if self.case.seam != "butt" else 0.0
                most = math.pi + 1.01 * tab / self.radius(np.array([0.0, self.slant])).min()
                on_wall = drops.min() > -0.01 and drops.max() < self.slant + 0.01
                if on_wall and turns.min() > -math.pi - 1e-5 and turns.max() < most + 1e-5:
                    places.append(move)
        assert len(places) == 1
        return places[0]


def cut_line(lines: list[Outline]) -> Outline:
    """The one cut line, with the side that closing it draws."""
    (cut,) = (line for line in lines if line.role == "cut")
    assert cut.closed
    if abs(cut.segments[-1][-1] - cut.start) > 1e-9:
        cut.segments.append((cut.segments[-1][-1], cut.start))
    return cut


@cache
def rolled(name: str) -> Rolled:
    return Rolled(CASES[name])


def edges_at(found: Rolled, turn: float) -> list[tuple[float, float]]:
    """The straight parts of the cut line that stand at a turn, each by its upper and its lower drop."""
    parts = []
    for segment in found.cut.segments:
        turns, drops = found.roll(found.move(np.array(segment)))
        if np.abs(turns - turn).max() < 1e-6:
            parts.append((drops.min(), drops.max()))
    return sorted(parts)


@CLOSED
def test_both_edges_close_within_a_hundredth_of_a_millimetre(name):
    found = rolled(name)
    left = edges_at(found, -math.pi)
    if found.case.seam == "butt":
        right = edges_at(found, math.pi)
    else:
        right = [(drops.min(), drops.max()) for turns, drops in map(found.rolled, found.guides(0.15, (5.0, 1.5)))]
    assert len(left) == len(right) == 1 + len(found.case.handle.feet if found.case.handle else ())
    for turn, parts in ((-math.pi, left), (math.pi, right)):
        ends = found.space(np.full(2 * len(parts), turn), np.array(parts).ravel())
        assert np.abs(ends - found.space(np.full(2 * len(left), -math.pi), np.array(left).ravel())).max() < 0.01
    assert left[0][0] == pytest.approx(0, abs=1e-5)
    assert left[-1][1] == pytest.approx(found.slant, abs=1e-5)


@CLOSED
def test_the_tab_lies_under_the_other_edge_as_wide_as_asked(name):
    found = rolled(name)
    turns, drops = found.rolled(found.cut)
    beyond = turns > math.pi + 1e-6
    if found.case.seam == "butt":
        assert not beyond.any()
        return
    # seen on the sheet, from the seam edge at turn +180 to the right
    foot, top = found.flat(math.pi, found.slant), found.flat(math.pi, 0.0)
    points = found.move(np.array([bezier(s, i / 8) for s in found.cut.segments for i in range(9)]))
    across = ((points - foot) * 1j * np.conj(top - foot) / abs(top - foot)).real
    assert across.max() == pytest.approx(found.case.overlap, abs=1e-5)
    widest = np.abs(across - found.case.overlap) < 1e-5
    assert drops[widest].min() < 5.0 < found.slant - 5.0 < drops[widest].max()  # the same at top and base
    wrap = shapely.Polygon([(p.real, p.imag) for p in found.move(np.array(found.cut.points(64)))]).buffer(0.01)
    under = [found.flat(turn - math.tau, drop) for turn, drop in zip(turns[beyond], drops[beyond], strict=True)]
    assert len(under) > 20
    assert shapely.contains_xy(wrap, np.real(under), np.imag(under)).all()


@CLOSED
def test_seam_ticks_meet(name):
    found = rolled(name)
    left, right = [], []
    for tick in found.guides(0.25):
        turns, drops = found.rolled(tick, 2)
        if drops.min() > 1e-3 and drops.max() < found.slant - 1e-3:
            (left if turns.min() < 0 else right).append((drops.mean(), found.space(turns, drops)))
    assert len(left) == len(right) >= 1 + len(found.case.handle.feet if found.case.handle else ())
    for (_, inside), (_, across) in zip(sorted(left, key=by_drop), sorted(right, key=by_drop), strict=True):
        if found.case.seam == "butt":  # both end on the seam
            assert np.linalg.norm(inside[0] - across[-1]) < 0.01
        else:  # the left one lies on that half of the right one that is on the tab
            assert np.linalg.norm(inside[0] - across[1]) < 0.01
            assert np.linalg.norm(inside[-1] - across[-1]) < 0.01


def by_drop(tick: tuple[float, NDArray[np.float64]]) -> float:
    return tick[0]


def printable(found: Rolled, turn: NDArray[np.float64], drop: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where ink counts, from the definitions: on the wrap, below the bare lip, in no foot's keep-out."""
    free = (np.abs(turn) <= math.pi) & (drop >= found.case.lip) & (drop <= found.slant)
    for foot in found.case.handle.feet if found.case.handle else ():
        clear, delta = found.case.handle.clearance, turn - math.pi
        level = (drop >= foot.top - clear) & (drop <= foot.bottom + clear)
        within = np.abs(found.radius(drop) * np.sin(delta)) <= foot.width / 2 + clear
        free &= ~(level & within & (np.cos(delta) > 0))
    return free


@CLOSED
def test_every_hatch_of_a_keep_out_lies_outside_the_printable_area(name):
    found = rolled(name)
    hatches = [line for line in found.guides(0.1) if not line.clips or found.case.lip]
    assert bool(hatches) == bool(found.case.handle or found.case.lip)
    for hatch in hatches:
        turn, drop = found.rolled(hatch, 4)
        assert not printable(found, turn, drop - 1e-5 * (drop > found.case.lip)).any()


@CLOSED
def test_the_rim_band_is_hatched_within_itself_and_clips_nothing(name):
    found = rolled(name)
    hatches = [line for line in found.guides(0.1) if line.clips]
    drops = np.concatenate([found.rolled(hatch, 4)[1] for hatch in hatches])
    deepest = found.case.band or found.case.lip
    assert drops.min() == pytest.approx(0, abs=1e-5)
    assert drops.max() == pytest.approx(deepest, abs=1e-5)
    without = Rolled(Case(**{**vars(found.case), "band": 0.0}))
    cut, plain = (line.move(np.array(line.cut.points(4))) for line in (found, without))
    assert np.abs(cut - plain).max() < 1e-5


@CLOSED
def test_front_and_quarter_lines_stand_at_their_turns(name):
    found = rolled(name)
    turns = sorted(found.rolled(line, 1)[0].mean() for line in found.guides(0.15, (6.0, 1.0, 0.8, 1.0)))
    assert turns == pytest.approx([-math.pi / 2, 0, math.pi / 2], abs=1e-6)


@WITH_HANDLE
def test_the_slot_keeps_its_clearance_from_a_handle_foot_in_space(name):
    """The foot: its sides are the planes |right| = w/2, its ends stand square to the wall at its drops."""
    found = rolled(name)
    turn, drop = found.rolled(found.cut, 24)
    clear, cut, nearest = found.case.handle.clearance, found.space(turn, drop), []
    for foot in found.case.handle.feet:
        lateral = np.abs(found.radius(drop) * np.sin(turn))
        beside = (drop > foot.top - clear + 1e-5) & (drop < foot.bottom + clear - 1e-5) & (np.cos(turn) < 0)
        assert (lateral[beside] >= foot.width / 2 + clear - 1e-6).all()
        body = foot_body(found, foot)
        nearest.append(min(np.linalg.norm(body - point, axis=1).min() for point in cut))
    assert min(nearest) >= clear - 1e-5
    assert max(nearest) <= clear + 0.02


def foot_body(found: Rolled, foot: Foot) -> NDArray[np.float64]:
    """Points on the faces of a foot: its edge on the wall, closely, and the same edge moved out along the normals."""
    drops = np.linspace(foot.top, foot.bottom, 1500)
    across = np.linspace(-0.5, 0.5, 1500) * foot.width
    delta = [np.arcsin(foot.width / 2 / found.radius(drops)) * side for side in (-1, 1)]
    ends = [np.arcsin(across / found.radius(np.full(1500, drop))) for drop in (foot.top, foot.bottom)]
    turn = math.pi + np.concatenate([*delta, *ends])
    drop = np.concatenate([drops, drops, np.full(1500, foot.top), np.full(1500, foot.bottom)])
    rise, fall = (found.case.rim - found.case.base) / 2 / found.slant, found.case.height / found.slant
    normal = np.stack([fall * np.sin(turn), fall * np.cos(turn), np.full(len(turn), -rise)], axis=-1)
    return np.concatenate([found.space(turn, drop) + out * normal for out in (0.0, 0.5, 5.0, 30.0)])


@pytest.mark.parametrize("size", [(82, 82, 95), (82, 70, 95), (70, 82, 95)])
def test_an_open_wrap_ends_where_the_handle_keep_out_is_widest(size):
    case = Case(*size, MUG, closed=False)
    cut = cut_line(pdf_outlines(case.file()))
    # ρ is smallest at one end of the drops that feet and clearances cover: 12 to 33 and 62 to 83
    slant = math.hypot(size[2], (size[0] - size[1]) / 2)
    loss = (size[0] - size[1]) / 2 / slant
    end = math.pi - math.asin((14 / 2 + 3) / min(size[0] / 2 - loss * drop for drop in (12.0, 83.0)))
    # the chords of the two level edges, which need no place: 2·(flat radius)·sin(half the angle at the apex)
    expected = []
    for radius in (size[0] / 2, size[1] / 2):
        expected.append(2 * radius / abs(loss) * math.sin(abs(loss) * end) if loss else 2 * radius * end)
    straight = [s for s in cut.segments if len(s) == 2 and abs(abs(s[1] - s[0]) - slant) < 1e-4]
    (right_top, right_foot), (left_foot, left_top) = straight
    assert sorted([abs(right_top - left_top), abs(right_foot - left_foot)]) == pytest.approx(sorted(expected), abs=1e-5)
