"""Readings and places: what they are called, what they predict on a known cup, and which are refused."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError, Ring
from cupgeom.measure import BASE, RIM, Calliper, EdgeGap, Film, Height, PaperGap, Place, SeamStep, Slant, Tape, labels
from cupgeom.measure.profile import Profile

CUP = Cup.frustum(88, 70, 170)
LIP_BAND_TAPER = Cup(
    rings=(
        Ring(diameter=92, height=150),
        Ring(diameter=88, height=146),
        Ring(diameter=86, height=106),
        Ring(diameter=74, height=16),
        Ring(diameter=70, height=0),
    )
)


def profile_of(cup: Cup, film: float = 0.0) -> Profile:
    return Profile(
        diameters=np.array([[ring.diameter for ring in cup.rings]]),
        slants=np.array([[wall.slant for wall in cup.walls]]),
        film=np.array([film]),
    )


@given(share=st.floats(min_value=0, max_value=1), film=st.floats(min_value=0, max_value=2))
def test_diameters_and_depths_of_a_profile_are_those_of_the_cup(share: float, film: float) -> None:
    cup, profile = LIP_BAND_TAPER.grown(film), profile_of(LIP_BAND_TAPER, film).grown()
    drop = share * cup.slant
    for place in (Place(drop=drop), Place(up=cup.slant - drop)):
        assert profile.diameter(place)[0] == pytest.approx(2 * cup.radius_at(drop), abs=1e-9)
    height = np.interp(drop, [*cup.wall_tops, cup.slant], [ring.height for ring in cup.rings])
    assert profile.depth(Place(drop=drop))[0] == pytest.approx(cup.rings[0].height - height, abs=1e-9)


def test_a_ring_is_a_place_of_its_own_and_the_rim_and_the_base_are_rings() -> None:
    profile = profile_of(LIP_BAND_TAPER)
    for index, (ring, top) in enumerate(
        zip(LIP_BAND_TAPER.rings, (*LIP_BAND_TAPER.wall_tops, LIP_BAND_TAPER.slant), strict=True)
    ):
        assert profile.diameter(Place(ring=index))[0] == ring.diameter
        assert profile.level(Place(ring=index))[0] == pytest.approx(top, abs=1e-12)
        assert Place(ring=index).drop_on(LIP_BAND_TAPER) == top
    assert profile.diameter(RIM)[0] == 92
    assert profile.diameter(BASE)[0] == 70
    assert BASE.drop_on(LIP_BAND_TAPER) == LIP_BAND_TAPER.slant
    for index, wall in enumerate(LIP_BAND_TAPER.walls):
        middle = Place(drop=LIP_BAND_TAPER.wall_tops[index] + wall.slant / 2)
        assert profile.cone_constant(middle)[0] == pytest.approx(wall.cone_constant, rel=1e-12)
        assert profile.cone_constant(Place(ring=index))[0] == pytest.approx(wall.cone_constant, rel=1e-12)
        assert middle.wall_on(LIP_BAND_TAPER) == wall


def test_each_tool_reads_what_its_geometry_says() -> None:
    profile = profile_of(CUP)
    slant = math.hypot(170, 9)
    assert Tape(value=1).predict(profile)[0] == pytest.approx(math.pi * 88, rel=1e-14)
    assert Tape(value=1, thickness=0.2).predict(profile)[0] == pytest.approx(math.pi * 88.2, rel=1e-14)
    assert Tape(value=math.pi * 88.2, thickness=0.2).diameter == pytest.approx(88, rel=1e-14)
    assert Calliper(value=1, at=Place(drop=slant / 2)).predict(profile)[0] == pytest.approx(79, rel=1e-14)
    assert Height(value=1).predict(profile)[0] == pytest.approx(170, rel=1e-14)
    assert Height(value=1, top=Place(drop=slant / 2)).predict(profile)[0] == pytest.approx(85, rel=1e-14)
    assert Slant(value=1).predict(profile)[0] == pytest.approx(slant, rel=1e-14)
    assert Slant(value=1, top=Place(drop=20)).predict(profile)[0] == pytest.approx(slant - 20, rel=1e-14)
    gap = EdgeGap(value=1, printed=Cup.frustum(87, 70, 170), thickness=0.1)
    assert gap.predict(profile)[0] == pytest.approx(math.pi * 1.1, rel=1e-12)
    assert gap.diameter == pytest.approx(87 + 1 / math.pi - 0.1, rel=1e-14)


def test_readings_are_named_in_a_makers_words_and_numbered_when_read_again() -> None:
    readings = [
        Tape(value=276),
        Calliper(value=70, at=BASE),
        Tape(value=276),
        Slant(value=170),
        Height(value=4, bottom=Place(ring=1)),
        Tape(value=258, at=Place(drop=75), coated=True),
        Calliper(value=80, at=Place(up=40)),
        Calliper(value=80, at=Place(ring=2)),
        Film(value=1.2),
        Slant(value=150, label="Tuesday's slant"),
        *PaperGap(printed=CUP, rim=1.5, base=-0.5, step=0.4).readings,
        SeamStep(value=0.2, printed=LIP_BAND_TAPER, at=Place(ring=2)),
    ]
    assert labels(readings) == (
        "rim tape 1",
        "base calliper",
        "rim tape 2",
        "slant",
        "height from the rim to ring 1",
        "tape at drop 75 mm on the coated cup",
        "calliper 40 mm up from the base",
        "ring 2 calliper",
        "predicted film",
        "Tuesday's slant",
        "paper gap at the rim",
        "paper gap at the base",
        "step at the seam",
        "step at the seam at ring 2",
    )


@pytest.mark.parametrize("kind", [Tape, Calliper, Height, Slant])
@pytest.mark.parametrize(
    ("value", "what"),
    [
        (0, "must be greater than 0 mm, got 0 mm"),
        (-3, "must be greater than 0 mm, got -3 mm"),
        (math.nan, "must be a finite number of mm, got nan"),
        (math.inf, "must be a finite number of mm, got inf"),
        ("88", "must be a number of mm, got '88'"),
        (1e9, "must be at most"),
    ],
)
def test_a_reading_that_is_no_length_is_refused_by_its_name(kind: type[Tape], value: float, what: str) -> None:
    name = {Tape: "rim tape", Calliper: "rim calliper", Height: "height", Slant: "slant"}[kind]
    with pytest.raises(CupgeomError, match=re.escape(f"{name}: {what}")):
        kind(value=value)


@pytest.mark.parametrize(
    ("uncertainty", "what"),
    [
        (0, "must be at least 0.0001 mm, got 0 mm"),
        (-0.5, "must be at least 0.0001 mm, got -0.5 mm"),
        (math.nan, "must be a finite number of mm, got nan"),
        (math.inf, "must be a finite number of mm, got inf"),
        (1e4, "must be at most 1000 mm, got 10000 mm"),
    ],
)
def test_an_uncertainty_that_weighs_nothing_or_all_is_refused(uncertainty: float, what: str) -> None:
    makers = {
        "base tape": lambda: Tape(value=220, at=BASE, uncertainty=uncertainty),
        "slant": lambda: Slant(value=170, uncertainty=uncertainty),
        "predicted film": lambda: Film(value=1, uncertainty=uncertainty),
        "paper gap at the rim": lambda: PaperGap(printed=CUP, rim=1, uncertainty=uncertainty),
        "step at the seam": lambda: PaperGap(printed=CUP, step=1, step_uncertainty=uncertainty),
    }
    for name, make in makers.items():
        with pytest.raises(CupgeomError, match=re.escape(f"{name}.uncertainty: {what}")):
            make()


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (Place, "place: give one of ring, drop and up, got 0 of them"),
        (lambda: Place(drop=1, up=1), "place: give one of ring, drop and up, got 2 of them"),
        (lambda: Place(drop=-1), "drop: must be at least 0 mm, got -1 mm"),
        (lambda: Place(up=math.nan), "up: must be a finite number of mm, got nan"),
        (lambda: Place(ring=-2), "ring: must be a ring's number, 0 for the rim, -1 for the base, got -2"),
        (lambda: Place(ring=True), "ring: must be a ring's number, 0 for the rim, -1 for the base, got True"),
        (
            lambda: Tape(value=3, thickness=1),
            "rim tape.thickness: must be less than a reading of 3 mm allows, got 1 mm",
        ),
        (lambda: Tape(value=3, thickness=-1), "rim tape.thickness: must be at least 0 mm, got -1 mm"),
        (
            lambda: Slant(value=50, bottom=Place(drop=50)),
            "slant from the rim to drop 50 mm: says nothing new: both its ends are counted from the same edge",
        ),
        (
            lambda: Slant(value=50, top=Place(up=50)),
            "slant from 50 mm up from the base to the base: says nothing new: both its ends are counted from the same "
            "edge",
        ),
        (
            lambda: Height(value=100, top=BASE, bottom=RIM),
            "height from the base to the rim: its top (the base) must lie above its bottom (the rim)",
        ),
        (
            lambda: Slant(value=100, top=Place(ring=2), bottom=Place(ring=1)),
            "slant from ring 2 to ring 1: its top (ring 2) must lie above its bottom (ring 1)",
        ),
        (
            lambda: Height(value=10, top=Place(drop=30), bottom=Place(drop=20)),
            "height from drop 30 mm to drop 20 mm: its top (drop 30 mm) must lie above its bottom (drop 20 mm)",
        ),
        (
            lambda: Height(value=10, top=Place(up=20), bottom=Place(up=20)),
            "height from 20 mm up from the base to 20 mm up from the base: "
            "its top (20 mm up from the base) must lie above its bottom (20 mm up from the base)",
        ),
        (lambda: Film(value=-1), "predicted film: must be at least 0 mm, got -1 mm"),
        (
            lambda: PaperGap(printed=CUP),
            "paper_gap: nothing was read; give the gap at the rim, at the base, or the step",
        ),
        (
            lambda: PaperGap(printed=CUP, rim=math.nan),
            "paper gap at the rim: must be a finite number of mm, got nan",
        ),
        (
            lambda: PaperGap(printed=Cup.frustum(100 / math.pi, 20, 50), rim=-100),
            "paper gap at the rim: an overlap must be less than the printed edge (100 mm), got 100 mm",
        ),
        (
            lambda: PaperGap(printed=CUP, rim=1, top=Place(ring=2)),
            "paper gap at ring 2.at.ring: must be a ring of the cup (0 to 1), got 2",
        ),
        (
            lambda: PaperGap(printed=Cup.frustum(80, 80, 170), base=1, bottom=Place(drop=200)),
            "paper gap at drop 200 mm.at.place: must be on the wall of 170 mm, got drop 200 mm",
        ),
        (
            lambda: PaperGap(printed=CUP, step=1, top=BASE),
            "step at the seam at the base.at: must be the paper's top edge, got the base",
        ),
        (
            lambda: SeamStep(value=math.inf, printed=CUP),
            "step at the seam: must be a finite number of mm, got inf",
        ),
    ],
)
def test_what_cannot_have_been_read_is_refused_in_one_line(make: object, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        make()  # type: ignore[operator]
    assert str(caught.value) == message
