"""Cups, walls and handles: what is refused and in which words, areas, coats, and growth under a film."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from mpmath import mp, mpf

from cupgeom import Cup, CupgeomError, Foot, Handle, Ring, Span, Wall
from cupgeom.errors import within

from .strategies import frusta

SHARES = st.floats(min_value=0, max_value=1)


@st.composite
def stacked_cups(draw: st.DrawFn) -> Cup:
    """A cup of one to four walls with bulging and hollow corners."""
    count = draw(st.integers(min_value=2, max_value=5))
    diameters = draw(st.lists(st.floats(min_value=20, max_value=120), min_size=count, max_size=count))
    height, rings = 0.0, []
    for diameter in diameters:
        rings.append(Ring(diameter=diameter, height=height))
        height -= draw(st.floats(min_value=10, max_value=80))
    return Cup(rings=tuple(rings))


@st.composite
def hard_frusta(draw: st.DrawFn) -> tuple[float, float, float]:
    """Radii and height of a frustum, the cases that lose digits drawn often: nearly straight, a cone, upside down."""
    top = draw(st.floats(min_value=0.5, max_value=100))
    base = draw(
        st.one_of(
            st.just(top),
            st.just(0.0),
            st.floats(min_value=0, max_value=100),
            st.floats(min_value=-12, max_value=-1).map(lambda exponent: top - 10**exponent),
            st.floats(min_value=-12, max_value=-1).map(lambda exponent: top + 10**exponent),
        )
    )
    height = draw(st.floats(min_value=1e-3, max_value=400))
    return (top, base, height) if draw(st.booleans()) else (base, top, height)


# What is refused, and in which words ----------------------------------------------------------------------------------

NAN, INF = math.nan, math.inf
FEET = (Foot(width=12, top=20, bottom=40),)


def _tumbler(**options: object) -> Cup:
    return Cup.frustum(88, 70, 170, **options)  # type: ignore[arg-type]


def _handle(**foot: float) -> Handle:
    return Handle(feet=(replace(FEET[0], **foot),))


def _handled(**foot: float) -> Cup:
    return Cup.frustum(80, 80, 100, handle=Handle(feet=FEET + _handle(**foot).feet))


def _rings(*pairs: tuple[float, float]) -> tuple[Ring, ...]:
    return tuple(Ring(diameter=diameter, height=height) for diameter, height in pairs)


REFUSED: list[tuple[Callable[[], object], str]] = [
    (lambda: Ring(diameter=-1, height=0), "diameter: must be at least 0 mm, got -1 mm"),
    (lambda: Ring(diameter=NAN, height=0), "diameter: must be a finite number of mm, got nan"),
    (lambda: Ring(diameter=INF, height=0), "diameter: must be a finite number of mm, got inf"),
    (lambda: Ring(diameter=1e9, height=0), "diameter: must be at most 10000 mm, got 1000000000 mm"),
    (lambda: Ring(diameter="88", height=0), "diameter: must be a number of mm, got '88'"),
    (lambda: Ring(diameter=True, height=0), "diameter: must be a number of mm, got True"),
    (lambda: Ring(diameter=80, height=NAN), "height: must be a finite number of mm, got nan"),
    (lambda: Ring(diameter=80, height=-INF), "height: must be a finite number of mm, got -inf"),
    (lambda: Ring(diameter=80, height=10_001), "height: must be at most 10000 mm, got 10001 mm"),
    (lambda: Span(top=-1, bottom=5), "top: must be at least 0 mm, got -1 mm"),
    (lambda: Span(top=NAN, bottom=5), "top: must be a finite number of mm, got nan"),
    (lambda: Span(top=INF, bottom=5), "top: must be a finite number of mm, got inf"),
    (lambda: Span(top=0, bottom=0), "bottom: must lie below the top (drop 0 mm), got drop 0 mm"),
    (lambda: Span(top=2, bottom=-1), "bottom: must lie below the top (drop 2 mm), got drop -1 mm"),
    (lambda: Span(top=0, bottom=NAN), "bottom: must be a finite number of mm, got nan"),
    (lambda: Span(top=0, bottom=INF), "bottom: must be a finite number of mm, got inf"),
    (
        lambda: Wall(top_radius=0, base_radius=0, height=9),
        "top_radius: both radii are 0 mm; one of them must be greater than 0 mm",
    ),
    (lambda: Wall(top_radius=-1, base_radius=4, height=9), "top_radius: must be at least 0 mm, got -1 mm"),
    (lambda: Wall(top_radius=NAN, base_radius=4, height=9), "top_radius: must be a finite number of mm, got nan"),
    (lambda: Wall(top_radius=INF, base_radius=4, height=9), "top_radius: must be a finite number of mm, got inf"),
    (lambda: Wall(top_radius=4, base_radius=-1, height=9), "base_radius: must be at least 0 mm, got -1 mm"),
    (lambda: Wall(top_radius=4, base_radius=NAN, height=9), "base_radius: must be a finite number of mm, got nan"),
    (lambda: Wall(top_radius=4, base_radius=INF, height=9), "base_radius: must be a finite number of mm, got inf"),
    (lambda: Wall(top_radius=4, base_radius=4, height=0), "height: must be greater than 0 mm, got 0 mm"),
    (lambda: Wall(top_radius=4, base_radius=4, height=-1), "height: must be greater than 0 mm, got -1 mm"),
    (lambda: Wall(top_radius=4, base_radius=4, height=NAN), "height: must be a finite number of mm, got nan"),
    (lambda: Wall(top_radius=4, base_radius=4, height=INF), "height: must be a finite number of mm, got inf"),
    (lambda: Foot(width=0, top=20, bottom=40), "width: must be greater than 0 mm, got 0 mm"),
    (lambda: Foot(width=-1, top=20, bottom=40), "width: must be greater than 0 mm, got -1 mm"),
    (lambda: Foot(width=NAN, top=20, bottom=40), "width: must be a finite number of mm, got nan"),
    (lambda: Foot(width=INF, top=20, bottom=40), "width: must be a finite number of mm, got inf"),
    (lambda: Foot(width=12, top=-1, bottom=40), "top: must be at least 0 mm, got -1 mm"),
    (lambda: Foot(width=12, top=20, bottom=20), "bottom: must lie below the top (drop 20 mm), got drop 20 mm"),
    (lambda: Handle(feet=()), "feet: a handle needs at least one foot"),
    (lambda: Handle(feet=FEET, clearance=-1), "clearance: must be at least 0 mm, got -1 mm"),
    (lambda: Handle(feet=FEET, clearance=NAN), "clearance: must be a finite number of mm, got nan"),
    (lambda: Handle(feet=FEET, clearance=INF), "clearance: must be a finite number of mm, got inf"),
    (lambda: Cup.frustum(-1, 70, 170), "rim_diameter: must be at least 0 mm, got -1 mm"),
    (lambda: Cup.frustum(NAN, 70, 170), "rim_diameter: must be a finite number of mm, got nan"),
    (lambda: Cup.frustum(INF, 70, 170), "rim_diameter: must be a finite number of mm, got inf"),
    (lambda: Cup.frustum(1e9, 70, 170), "rim_diameter: must be at most 10000 mm, got 1000000000 mm"),
    (lambda: Cup.frustum(88, -1, 170), "base_diameter: must be at least 0 mm, got -1 mm"),
    (lambda: Cup.frustum(88, NAN, 170), "base_diameter: must be a finite number of mm, got nan"),
    (lambda: Cup.frustum(88, INF, 170), "base_diameter: must be a finite number of mm, got inf"),
    (lambda: Cup.frustum(88, 1e9, 170), "base_diameter: must be at most 10000 mm, got 1000000000 mm"),
    (
        lambda: Cup.frustum(0, 0, 170),
        "rim_diameter: rim and base are both 0 mm; one of them must be greater than 0 mm",
    ),
    (lambda: Cup.frustum(88, 70, 0), "height: must be greater than 0 mm, got 0 mm"),
    (lambda: Cup.frustum(88, 70, -1), "height: must be greater than 0 mm, got -1 mm"),
    (lambda: Cup.frustum(88, 70, NAN), "height: must be a finite number of mm, got nan"),
    (lambda: Cup.frustum(88, 70, INF), "height: must be a finite number of mm, got inf"),
    (lambda: Cup.frustum(88, 70, 1e9), "height: must be at most 10000 mm, got 1000000000 mm"),
    (lambda: Cup(rings=()), "rings: a cup needs at least two rings, got 0"),
    (lambda: Cup(rings=_rings((80, 100))), "rings: a cup needs at least two rings, got 1"),
    (
        lambda: Cup(rings=_rings((80, 100), (70, 50), (60, 50))),
        "rings[2].height: must be below the ring before it (at 50 mm), got 50 mm",
    ),
    (
        lambda: Cup(rings=_rings((80, 100), (70, 120))),
        "rings[1].height: must be below the ring before it (at 100 mm), got 120 mm",
    ),
    (
        lambda: Cup(rings=_rings((80, 100), (0, 50), (0, 0))),
        "rings[1].diameter: must be greater than 0 mm between two walls, got 0 mm",
    ),
    (lambda: _tumbler(bare_lip=-1), "bare_lip: must be at least 0 mm, got -1 mm"),
    (lambda: _tumbler(bare_lip=NAN), "bare_lip: must be a finite number of mm, got nan"),
    (lambda: _tumbler(bare_lip=INF), "bare_lip: must be a finite number of mm, got inf"),
    (lambda: Cup.frustum(80, 80, 100, bare_lip=100), "bare_lip: must be less than the wall's 100 mm, got 100 mm"),
    (
        lambda: Cup.frustum(80, 80, 100, coated=Span(top=0, bottom=101)),
        "coated.bottom: must be on the wall (drop 0 to 100 mm), got 101 mm",
    ),
    (lambda: _handled(bottom=101), "handle.feet[1].bottom: must be on the wall (drop 0 to 100 mm), got 101 mm"),
    (lambda: _handled(width=80), "handle.feet[1].width: must be less than the cup there (80 mm across), got 80 mm"),
    (
        lambda: replace(Cup(rings=_rings((80, 100), (50, 70), (80, 0))), handle=_handle(width=60, top=0, bottom=90)),
        "handle.feet[0].width: must be less than the cup there (50 mm across), got 60 mm",
    ),
    (lambda: _tumbler().radius_at(-1), "drop: must be at least 0 mm, got -1 mm"),
    (lambda: Cup.frustum(80, 80, 100).radius_at(101), "drop: must be at most 100 mm, got 101 mm"),
    (lambda: _tumbler().grown(-1), "film: must be at least 0 mm, got -1 mm"),
    (lambda: _tumbler().grown(NAN), "film: must be a finite number of mm, got nan"),
    (lambda: _tumbler().grown(INF), "film: must be a finite number of mm, got inf"),
]


@pytest.mark.parametrize(("make", "message"), REFUSED, ids=[message for _, message in REFUSED])
def test_a_bad_value_is_refused_with_its_field_and_what_would_do(make: Callable[[], object], message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        make()
    assert str(caught.value) == message


def test_a_ring_far_below_the_base_is_refused() -> None:
    with pytest.raises(CupgeomError, match=r"^height: must be at "):
        Ring(diameter=80, height=-10_001)


def test_a_fault_carries_the_whole_path_of_its_field() -> None:
    with pytest.raises(CupgeomError) as caught, within("cup"), within("rings"), within("[1]"):
        Ring(diameter=-1, height=0)
    assert str(caught.value) == "cup.rings[1].diameter: must be at least 0 mm, got -1 mm"


@pytest.mark.parametrize("size", [0, 10_000])
def test_the_least_and_the_largest_sizes_are_taken(size: float) -> None:
    cup = Cup.frustum(size, 70, 10_000)
    assert (cup.rings[0].diameter, cup.height) == (size, 10_000)


# Rings and walls ------------------------------------------------------------------------------------------------------


def test_rings_on_a_straight_line_are_no_corners() -> None:
    whole = Cup(rings=_rings((90, 100), (60, 0)))
    assert Cup(rings=_rings((90, 100), (81, 70), (66, 20), (60, 0))) == whole
    assert Cup(rings=_rings((80, 100), (80, 60), (80, 0))).walls == (Wall(top_radius=40, base_radius=40, height=100),)


def test_a_ring_beside_the_line_is_a_corner() -> None:
    cup = Cup(rings=_rings((90, 100), (81.001, 70), (60, 0)))
    assert [wall.base_radius for wall in cup.walls] == [40.5005, 30]


@given(frusta(), st.lists(st.floats(min_value=0.01, max_value=0.99), max_size=4, unique_by=lambda x: round(x, 2)))
def test_a_frustum_measured_at_more_rings_stays_one_wall(cup: Cup, shares: list[float]) -> None:
    top, base = cup.rings
    between = tuple(
        Ring(diameter=top.diameter + (base.diameter - top.diameter) * share, height=top.height * (1 - share))
        for share in sorted(shares)
    )
    assert Cup(rings=(top, *between, base)) == cup


def test_a_cup_counts_drops_through_all_its_walls() -> None:
    # two 3-4-5 triangles: both walls 50 mm along the slant
    cup = Cup(rings=_rings((100, 90), (40, 50), (120, 20)))
    assert cup.slant == 100
    assert cup.height == 70
    assert cup.wall_tops == (0, 50)
    assert [cup.radius_at(drop) for drop in (0, 25, 50, 75, 100)] == pytest.approx([50, 35, 20, 40, 60], rel=1e-15)
    assert [math.tan(wall.half_angle_rad) for wall in cup.walls] == pytest.approx([3 / 4, -4 / 3], rel=1e-15)
    assert [wall.cone_constant for wall in cup.walls] == pytest.approx([0.6, -0.8], rel=1e-15)


def test_a_cylinder_is_straight_and_has_no_sector() -> None:
    wall = Wall(top_radius=40, base_radius=40, height=100)
    assert wall.straight
    assert wall.sheet_radius_at(0) is None
    assert wall.sector_angle_rad == 0


def test_two_ranges_share_what_both_cover() -> None:
    assert Span(top=0, bottom=50).common(Span(top=20, bottom=90)) == Span(top=20, bottom=50)
    assert Span(top=0, bottom=20).common(Span(top=20, bottom=90)) is None
    assert Span(top=2.5, bottom=20).length == 17.5


# Areas ----------------------------------------------------------------------------------------------------------------


@example((44.0, 44.0, 170.0))
@example((44.0, 44.0 - 1e-12, 170.0))
@example((44.0 - 1e-12, 44.0, 170.0))
@example((44.0, 0.0, 170.0))
@example((0.0, 44.0, 170.0))
@given(hard_frusta())
def test_lateral_area_agrees_with_fifty_digit_arithmetic(frustum: tuple[float, float, float]) -> None:
    top, base, height = frustum
    area = Cup.frustum(2 * top, 2 * base, height).lateral_area
    with mp.workdps(50):
        exact = mp.pi * (mpf(top) + mpf(base)) * mp.sqrt((mpf(top) - mpf(base)) ** 2 + mpf(height) ** 2)
        assert abs(mpf(area) / exact - 1) <= 4e-15


@given(stacked_cups(), SHARES, SHARES)
def test_areas_between_drops_add_up(cup: Cup, one: float, other: float) -> None:
    first, second = sorted((one * cup.slant, other * cup.slant))
    parts = [cup.area_between(0, first), cup.area_between(first, second), cup.area_between(second, cup.slant)]
    assert math.fsum(parts) == pytest.approx(cup.lateral_area, rel=1e-13)
    assert min(parts) >= 0


def test_coated_area_is_the_area_of_the_frustum_that_is_left() -> None:
    # closed form: slants 50 and 40 of a 3-4-5 frustum; 10 mm of drop take 6 mm off the radius
    whole = Cup.frustum(100, 40, 40)
    lip = replace(whole, bare_lip=10)
    assert whole.coated_area == pytest.approx(math.pi * (50 + 20) * 50, rel=1e-15)
    assert lip.coated_span == Span(top=10, bottom=50)
    assert lip.coated_area == pytest.approx(math.pi * (44 + 20) * 40, rel=1e-15)
    assert lip.lateral_area == whole.lateral_area
    stated = replace(whole, coated=Span(top=20, bottom=30))
    assert stated.coated_area == pytest.approx(math.pi * (38 + 32) * 10, rel=1e-15)


def test_a_coated_underside_adds_its_disc() -> None:
    bare = _tumbler(bare_lip=6.0)
    assert replace(bare, base_coated=True).coated_area - bare.coated_area == pytest.approx(math.pi * 35**2, rel=1e-12)


# Growth under a film --------------------------------------------------------------------------------------------------

FILMS = st.floats(min_value=0, max_value=0.5)


@given(frusta(), FILMS, SHARES)
def test_a_wrap_grows_by_its_film_all_round_at_every_drop(cup: Cup, film: float, share: float) -> None:
    drop, grown = share * cup.slant, cup.grown(film)
    longer = math.tau * (grown.radius_at(min(drop, grown.slant)) - cup.radius_at(drop))
    half_angle = math.atan2(cup.rings[0].diameter - cup.rings[1].diameter, 2 * cup.height)
    assert longer == pytest.approx(math.tau * film * math.cos(half_angle), abs=1e-11)
    assert grown.slant == pytest.approx(cup.slant, rel=1e-13)


@given(stacked_cups(), FILMS)
def test_every_wall_keeps_its_taper_and_lies_one_film_further_out(cup: Cup, film: float) -> None:
    grown = cup.grown(film)
    assert len(grown.walls) == len(cup.walls)
    for index, (wall, after) in enumerate(zip(cup.walls, grown.walls, strict=True)):
        assert after.half_angle_rad == pytest.approx(wall.half_angle_rad, abs=1e-12)
        normal = (wall.height / wall.slant, -(wall.top_radius - wall.base_radius) / wall.slant)
        for old, new in zip(cup.rings[index : index + 2], grown.rings[index : index + 2], strict=True):
            outward = (new.diameter - old.diameter) / 2 * normal[0] + (new.height - old.height) * normal[1]
            assert outward == pytest.approx(film, abs=1e-12)


@given(stacked_cups(), FILMS)
def test_the_end_rings_move_square_to_their_walls(cup: Cup, film: float) -> None:
    grown = cup.grown(film)
    for end in (0, -1):
        old, new = cup.rings[end], grown.rings[end]
        assert math.hypot((new.diameter - old.diameter) / 2, new.height - old.height) == pytest.approx(film, abs=1e-12)


@given(stacked_cups(), FILMS, FILMS)
def test_growing_twice_is_growing_by_the_sum(cup: Cup, first: float, second: float) -> None:
    twice, once = cup.grown(first).grown(second), cup.grown(first + second)
    for one, other in zip(twice.rings, once.rings, strict=True):
        assert one.diameter == pytest.approx(other.diameter, abs=1e-10)
        assert one.height == pytest.approx(other.height, abs=1e-10)


def test_no_film_changes_nothing() -> None:
    cup = Cup(rings=_rings((100, 90), (40, 50), (120, 20)), name="comet", bare_lip=6.0)
    assert cup.grown(0) == cup


def test_a_hollow_that_the_film_fills_is_an_error() -> None:
    # Flares of 45° above and below a straight neck of 10 mm: each mitre takes film × tan 22.5° off the neck, so that it
    # is used up at 5 / tan 22.5° = 12.07 mm.
    spool = Cup(rings=_rings((100, 50), (60, 30), (60, 20), (100, 0)))
    neck = spool.grown(12.0).walls[1]
    assert neck.height == pytest.approx(10 - 24 * math.tan(math.pi / 8), abs=1e-12)
    with pytest.raises(CupgeomError) as caught:
        spool.grown(12.1)
    assert str(caught.value) == "film: a film of 12.1 mm fills the hollow at walls[1]; it must be thinner"


def test_a_coat_to_the_base_edge_still_ends_there_on_the_grown_cup() -> None:
    cup = Cup(rings=_rings((90, 100), (90, 60), (50, 0)))
    to_base = replace(cup, coated=Span(top=10, bottom=cup.slant)).grown(0.5)
    assert to_base.slant > cup.slant + 0.1
    assert to_base.coated == Span(top=10, bottom=to_base.slant)
    assert replace(cup, coated=Span(top=10, bottom=50)).grown(0.5).coated == Span(top=10, bottom=50)
    assert cup.grown(0.5).coated is None


# Start-up -------------------------------------------------------------------------------------------------------------


def test_flattening_a_few_points_loads_neither_numpy_nor_shapely() -> None:
    program = """
import sys
from cupgeom import Cup
from cupgeom.flatten import to_sheet, to_wall
cup = Cup.frustum(88, 70, 170)
cup.lateral_area, to_wall(cup.walls[0], *to_sheet(cup.walls[0], 1.0, 20.0))
print(sorted({name.partition(".")[0] for name in sys.modules} & {"numpy", "shapely", "cupgeom"}))
"""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    done = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True)
    assert done.stdout == "['cupgeom']\n"


def test_a_ring_between_two_walls_has_a_diameter() -> None:
    rings = (Ring(diameter=80, height=100), Ring(diameter=0, height=50), Ring(diameter=80, height=0))
    with pytest.raises(CupgeomError) as caught:
        Cup(rings=rings)
    assert str(caught.value) == "rings[1].diameter: must be greater than 0 mm between two walls, got 0 mm"


def test_a_film_that_pushes_a_foot_off_the_wall_is_named() -> None:
    rings = (Ring(diameter=60, height=100), Ring(diameter=40, height=50), Ring(diameter=60, height=0))
    slant = Cup(rings=rings).slant
    cup = Cup(rings=rings, handle=Handle(feet=(Foot(width=10, top=20, bottom=slant - 0.1),)))
    with pytest.raises(CupgeomError) as caught:
        cup.grown(2)
    assert str(caught.value).startswith("film: 2 mm leaves no place for handle.feet[0].bottom: must be on the wall")
