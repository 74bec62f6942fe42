"""Mistakes of the craft: each is found in one job and not in the same job done right."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cupgeom.coating.coats import Coat
from cupgeom.coating.resin import EXAMPLE
from cupgeom.decor.medium import Medium
from cupgeom.errors import Notice
from cupgeom.plan import Drying, Piece, Step, findings, names
from cupgeom.plan.craft import CHECKS

SLIDE = Medium(name="slide", process="inkjet", sealing=True, clear=False)
CLEAR_SLIDE = replace(SLIDE, name="clear slide", clear=True)
NAVY, SILVER = (0.05, 0.1, 0.3), (0.75, 0.75, 0.75)


def coat(kind: str, **more: object) -> Step:
    return Step(do=kind, coat=Coat(kind=kind), **more)


def decal(medium: Medium, **more: object) -> Step:
    after = more.pop("after_coat", None)
    return Step(do="decal", pieces=(Piece(name="comet", medium=medium, after_coat=after),), **more)


PAINT = Step(do="paint", colour=NAVY, wait_min=120.0)
EDGE = Step(do="sand", edge=True)
RIGHT = (PAINT, coat("tack"), coat("flood"), coat("flood"), EDGE, decal(SLIDE), coat("clear"), coat("clear"))


def changed(**steps: Step) -> tuple[Step, ...]:
    """The job done right, with other steps in some places: ``paint_1=…``."""
    other = {name.replace("_", " "): step for name, step in steps.items()}
    assert set(other) <= set(names(RIGHT))
    return tuple(other.get(name, step) for name, step in zip(names(RIGHT), RIGHT, strict=True))


def without(*gone: str) -> tuple[Step, ...]:
    assert set(gone) <= set(names(RIGHT))
    return tuple(step for name, step in zip(names(RIGHT), RIGHT, strict=True) if name not in gone)


MISTAKES: dict[str, tuple[tuple[Step, ...], Notice, tuple[Step, ...]]] = {
    # the wrong job, what is said of it, and a job that is nearly the same and right
    "recoat window missed": (
        changed(clear_1=coat("clear", wait_min=1500.0)),
        Notice(
            "clear 2",
            "goes on 25 h after clear 1, whose recoat window ends at 12 h: it would not bond",
            "sand first, or wait less",
        ),
        changed(clear_1=coat("clear", wait_min=600.0)),
    ),
    "sanded too early": (
        changed(flood_2=coat("flood", wait_min=300.0)),
        Notice(
            "sand 1",
            "comes 5 h after flood 2, which is hard through only after 10 h: it smears, and part-cured dust sensitises",
            "wait longer",
        ),
        changed(flood_2=coat("flood", wait_min=660.0)),
    ),
    "not sealed": (
        changed(decal_1=decal(SLIDE, seal=False)),
        Notice(
            "decal 1",
            "comet on slide is not sealed: its ink runs in water and in resin",
            "seal it with about 3 thin clear spray layers first",
        ),
        changed(decal_1=decal(replace(SLIDE, process="laser", sealing=False), seal=False)),
    ),
    "barely buried": (
        without("clear 2"),
        Notice("decal 1", "lies under 1 coat; it takes 2 to bury its edges", "add a clear coat after it"),
        (*without("clear 2"), coat("vein")),
    ),
    "edge not sanded": (
        changed(sand_1=Step(do="sand")),
        Notice(
            "clear 2",
            "is the last coat, and the top edge of the wall was not sanded to metal: it would end on the drinking edge",
            'put { do = "sand", edge = true } before the last coats',
        ),
        (*changed(sand_1=Step(do="sand"))[:-1], EDGE, coat("clear")),
    ),
    "tape still on at gel": (
        changed(flood_1=coat("flood", pull_min=240.0)),
        Notice(
            "flood 1",
            "its tape comes off after 240 min, but the resin gels at 240 min: the tape stays in it, or tears its edge",
            "pull it before gel",
        ),
        changed(flood_1=coat("flood", pull_min=200.0)),
    ),
    "loose glitter": (
        changed(tack_1=coat("tack", brush=False)),
        Notice(
            "flood 1",
            "goes over the loose glitter of tack 1: it floats, and the coat turns rough",
            "brush it off first",
        ),
        changed(tack_1=coat("tack", brush=True)),
    ),
    "spray wet": (
        changed(paint_1=replace(PAINT, wait_min=30.0)),
        Notice(
            "tack 1",
            "comes 30 min after paint 1, which dries 120 min: solvent shut in makes it wrinkle",
            "wait longer; follow the can",
        ),
        changed(paint_1=replace(PAINT, wait_min=None)),
    ),
    "clear on dark": (
        changed(decal_1=decal(CLEAR_SLIDE)),
        Notice(
            "decal 1",
            "comet on clear slide is clear and has no white under it: on dark it can't be seen",
            "use a white film, or print a white underlay",
        ),
        changed(decal_1=decal(replace(CLEAR_SLIDE, white=True))),
    ),
    "other film": (
        changed(decal_1=decal(SLIDE, after_coat=1)),
        Notice(
            "decal 1",
            "comet is sized for the cup after coat 1, but lies on coat 2",
            "make it again for the cup as it is there",
        ),
        changed(decal_1=decal(SLIDE, after_coat=2)),
    ),
}


def test_each_check_has_its_case() -> None:
    assert len(MISTAKES) == len(CHECKS) == 10


def test_a_job_done_right_has_no_findings() -> None:
    assert findings(RIGHT, EXAMPLE) == ()


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_found_and_nothing_else(name: str) -> None:
    wrong, expected, _ = MISTAKES[name]
    assert findings(wrong, EXAMPLE) == (expected,)


@pytest.mark.parametrize("name", MISTAKES)
def test_the_same_done_right_is_not_found(name: str) -> None:
    _, _, right = MISTAKES[name]
    assert findings(right, EXAMPLE) == ()


def test_all_mistakes_of_one_job_are_found_in_the_order_of_its_steps() -> None:
    wrong = changed(
        paint_1=replace(PAINT, wait_min=30.0),
        tack_1=coat("tack", brush=False),
        flood_1=coat("flood", pull_min=240.0),
        decal_1=decal(CLEAR_SLIDE, seal=False, after_coat=5),
    )
    assert [notice.where for notice in findings(wrong, EXAMPLE)] == [
        "tack 1",
        "flood 1",
        "flood 1",
        "decal 1",
        "decal 1",
        "decal 1",
    ]


def test_sanding_opens_the_window_again() -> None:
    late = changed(flood_2=coat("flood", wait_min=3000.0))  # sanded before the next coat
    assert findings(late, EXAMPLE) == ()


def test_a_decal_between_two_coats_does_not_stop_their_window() -> None:
    plain = replace(decal(SLIDE), wait_min=500.0)
    steps = (coat("flood"), EDGE, coat("flood", wait_min=700.0), plain, coat("clear"), coat("clear"))
    (notice,) = findings(steps, EXAMPLE)
    assert (notice.where, notice.what.split(",")[0]) == ("clear 1", "goes on 20 h after flood 2")


def test_a_can_that_dries_fast_may_be_coated_soon() -> None:
    assert findings(changed(paint_1=replace(PAINT, wait_min=30.0)), EXAMPLE, Drying(paint_min=20)) == ()


@pytest.mark.parametrize(
    ("colour", "dark"),
    [
        ((0.0, 0.0, 0.0), True),
        ((1.0, 1.0, 1.0), False),
        ((0.0, 0.0, 1.0), True),  # luminance 0.0722, ITU-R BT.709
        ((0.0, 1.0, 0.0), False),  # 0.7152
        ((1.0, 0.0, 0.0), False),  # 0.2126
        ((0.45, 0.45, 0.45), True),  # ((0.45 + 0.055)/1.055)^2.4 = 0.1708, IEC 61966-2-1
        ((0.47, 0.47, 0.47), False),  # 0.1875
    ],
)
def test_dark_is_what_throws_back_little_light(colour: tuple[float, float, float], dark: bool) -> None:
    assert Step(do="paint", colour=colour).dark is dark


def test_bare_steel_and_light_glitter_are_not_dark() -> None:
    bare = (coat("flood"), EDGE, decal(CLEAR_SLIDE), coat("clear"), coat("clear"))
    assert findings(bare, EXAMPLE) == ()
    assert findings((PAINT, coat("tack", colour=SILVER), *bare), EXAMPLE) == ()
