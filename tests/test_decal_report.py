"""The numbers of a decal, against the cone's own geometry worked out another way and against published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError
from cupgeom.cup import Foot, Handle
from cupgeom.decor import sight
from cupgeom.decor.decal import Decal
from cupgeom.decor.design import Design
from cupgeom.decor.medium import EXAMPLES, Medium, example
from cupgeom.decor.report import numbers, report, rise_when_flat, table
from cupgeom.decor.room import fits_of_size, fits_table, free_span, front_room, room_table, widest_of_shape
from cupgeom.drawing import Box, Drawing, Shape
from cupgeom.flatten import to_wall
from tests.strategies import frusta

TUMBLER = Cup.frustum(88, 70, 170)
PLAIN = Medium(name="plain", process="inkjet", cut_margin=0.0)


def block(width: float = 60.0, height: float = 30.0, **more: object) -> Design:
    box = Box(-width / 2, -height / 2, width / 2, height / 2)
    shape = Shape(path=box.outline(), role="print", fill=(0, 0, 0))
    return Design(name="block", drawing=Drawing((shape,)), width=width, height=height, **more)


def said(decal: Decal) -> list[str]:
    return [str(notice) for notice in report(decal).notices]


def test_letters_at_half_a_metre_are_as_high_as_published() -> None:
    """US NRC NUREG-0700 rev. 2, 1.3.1-4 (read): 16 minutes of arc at 500 mm are 2.327 mm, 20 are 2.909 mm."""
    assert sight.letter_height(16) == pytest.approx(2.327, abs=5e-4)
    assert sight.letter_height(20) == pytest.approx(2.909, abs=5e-4)


@given(frusta(), st.floats(min_value=0.1, max_value=0.9), st.floats(min_value=200, max_value=2000))
def test_what_is_seen_is_where_the_wall_looks_toward_the_eye(cup: Cup, share: float, eye: float) -> None:
    """Each point by itself: seen where its outward normal and the way to the eye make an acute angle."""
    wall = cup.walls[0]
    middle = share * wall.slant
    half = sight.visible_half_angle_rad(wall.radius_at(middle), eye)
    alpha = wall.half_angle_rad
    z0 = -middle * math.cos(alpha)
    for drop in np.linspace(0, wall.slant, 7):
        for turn in np.linspace(-math.pi, math.pi, 41):
            radius, z = wall.radius_at(drop), -drop * math.cos(alpha)
            point = np.array([radius * math.sin(turn), radius * math.cos(turn), z])
            normal = np.array([math.cos(alpha) * math.sin(turn), math.cos(alpha) * math.cos(turn), -math.sin(alpha)])
            facing = normal @ (np.array([0, eye, z0]) - point)
            if abs(facing) > 1e-6 * eye:
                assert (facing > 0) == (abs(turn) < half)


def test_no_eye_stands_inside_the_cup() -> None:
    with pytest.raises(CupgeomError) as caught:
        sight.visible_half_angle_rad(60, 50)
    assert str(caught.value) == "eye_distance: must be more than the cup's radius of 60 mm, got 50 mm"


@given(frusta(), st.floats(min_value=0.2, max_value=0.8), st.floats(min_value=1, max_value=60))
def test_the_ends_of_a_flat_strip_rise_as_the_wall_says(cup: Cup, share: float, width: float) -> None:
    """A point w/2 beside the middle of the front on the sheet, read back onto the wall."""
    wall = cup.walls[0]
    drop = share * wall.slant
    _, end = to_wall(wall, width / 2, -drop)
    assert rise_when_flat(wall.cone_constant, wall.radius_at(drop), width) == pytest.approx(drop - end, abs=1e-9)


def test_arcs_and_the_flat_arc_are_those_of_the_cone() -> None:
    """Radii from similar triangles, in plain numbers: ρ = 44 − 9·drop/slant; P = ρ·slant/9."""
    slant = math.hypot(9, 170)
    made = report(Decal(cup=TUMBLER, design=block(), drop=60, medium=PLAIN))
    radii = [44 - 9 * drop / slant for drop in (45, 60, 75)]
    assert [arc.length for arc in made.arcs] == pytest.approx([60 * radius / radii[1] for radius in radii], rel=1e-12)
    assert [arc.span_deg for arc in made.arcs] == pytest.approx([math.degrees(60 / radii[1])] * 3, rel=1e-12)
    flat = radii[1] * slant / 9
    assert made.flat_radius == pytest.approx(flat, rel=1e-12)
    assert made.chord == pytest.approx(2 * flat * math.sin(30 / flat), rel=1e-12)
    assert made.sagitta == pytest.approx(flat - math.sqrt(flat**2 - (made.chord / 2) ** 2), rel=1e-8)
    # its top and foot are off from its middle by half the height times the loss of radius per mm
    assert made.level_strain == pytest.approx((radii[0] - radii[2]) / 2 / radii[1], rel=1e-9)
    assert made.seen_share == 1


def test_a_decal_too_wide_to_be_seen_is_noted_with_the_width_that_is() -> None:
    made = report(Decal(cup=TUMBLER, design=block(130, 10), drop=60, medium=PLAIN))
    radius = 44 - 9 * 60 / math.hypot(9, 170)
    seen = 2 * math.acos(radius / 500) * radius
    assert made.widest_in_sight == pytest.approx(seen, rel=1e-12)
    assert made.seen_share == pytest.approx(seen / 130, rel=1e-12)
    assert [str(notice) for notice in made.notices] == [
        f"width: 130 mm goes farther round than an eye at 500 mm sees at once ({seen / 130:.0%} of it);"
        f" up to {seen:.2f} mm is seen whole".replace("0 mm is", " mm is")
    ]
    aside = report(Decal(cup=TUMBLER, design=block(20, 10), drop=60, turn_deg=180, medium=PLAIN))
    assert (aside.seen_share, aside.seen_from_front) == (1, 0)


@pytest.mark.parametrize(
    ("letters", "note"),
    [
        (2.3, ["text: letters of 2.3 mm cannot be read at 500 mm; make them 2.91 mm or more"]),
        (2.5, ["text: letters of 2.5 mm are hard to read at 500 mm; make them 2.91 mm or more"]),
        (3.0, []),
    ],
)
def test_letters_too_low_to_be_read_are_noted(letters: float, note: list[str]) -> None:
    decal = Decal(cup=TUMBLER, design=block(40, letters, letters=letters), drop=60, medium=PLAIN)
    assert [notice for notice in said(decal) if notice.startswith("text")] == note


def test_what_flat_would_do_is_said_either_way() -> None:
    flat = said(Decal(cup=TUMBLER, design=block(), drop=60, bend="flat", medium=PLAIN))
    assert flat == [
        "bend: laid flat, its ends come 0.58 mm above its middle; level mends it",
        "bend: forced to lie level it would stretch by 1.9%, more than the 1.0% that plain takes;"
        " let its ends rise, or bend the art",
    ]
    small = said(Decal(cup=TUMBLER, design=block(30, 10), drop=60, medium=PLAIN))
    assert small == ["bend: laid flat, its ends would rise by 0.15 mm only; it may as well stay flat"]
    assert said(Decal(cup=Cup.frustum(80, 80, 100), design=block(30, 10), drop=60, medium=PLAIN)) == []


def test_keep_outs_lip_rim_band_handle_and_seam_are_noted() -> None:
    handle = Handle(feet=(Foot(width=14, top=40, bottom=60),))
    cup = Cup.frustum(88, 70, 170, handle=handle, bare_lip=6)
    lip = said(Decal(cup=cup, design=block(40, 10), drop=8, medium=PLAIN))
    assert lip[-1] == "drop: reaches into the bare lip of 6 mm; move it down"
    band = said(Decal(cup=cup, design=block(40, 10), drop=16, medium=PLAIN))
    assert band[-1].startswith("rim band: the top 20 mm are where lips touch")
    near = Decal(cup=cup, design=block(60, 10), drop=50, turn_deg=150, medium=PLAIN)
    assert "turn: turn 150° (right, toward the back) meets the handle or its clearance; move it" in said(near)
    below = Decal(cup=cup, design=block(60, 10), drop=100, turn_deg=150, medium=PLAIN)
    assert said(below) == [
        "turn: turn 150° (right, toward the back) lies across the seam at the back; a wrap shows it in two parts"
    ]


def test_a_medium_says_what_it_cannot_bear() -> None:
    thin = Box(-20, -0.3, 20, 0.3).outline()
    design = Design(
        name="hair", drawing=Drawing((Shape(path=thin, role="print", fill=(0, 0, 0)),)), width=40, height=0.6
    )
    cut = said(Decal(cup=TUMBLER, design=design, drop=60, medium=example("cut vinyl")))
    assert cut[-1] == "medium: a stroke is finer than the 1 mm that cut vinyl bears; print it, don't cut it"
    printed = said(Decal(cup=TUMBLER, design=block(), drop=60, medium=EXAMPLES[0]))
    assert printed[-2:] == [
        "medium: the figures of clear water-slide are an invented example; put yours into the shop file",
        "medium: clear water-slide: seal the print before water and resin",
    ]
    small = Medium(name="scrap", process="inkjet", cut_margin=0, largest=(50, 20))
    assert said(Decal(cup=TUMBLER, design=block(), drop=60, medium=small))[-1] == (
        "medium: the decal is larger than the largest piece of scrap, 50 mm by 20 mm; split it, or take another medium"
    )


def test_the_table_and_the_numbers_say_the_same() -> None:
    made = report(Decal(cup=TUMBLER, design=block(letters=4.0), drop=60, medium=PLAIN))
    lines = dict(line.split("  ", 1) for line in table(made).splitlines())
    known = numbers(made)
    assert lines["decal"].strip() == "block: 60 mm wide, 30 mm high"
    assert f"{known['flat_radius_mm']:.2f}" in lines["flat arc"]
    assert f"{known['arcs']['foot']['length_mm']:.2f}" in lines["arc at its foot"]
    assert known["letters_mm"] == 4.0
    assert "in along the wall" in table(made, "in")


def test_the_room_at_the_front_is_what_can_be_seen_between_rim_band_and_foot() -> None:
    room = front_room(TUMBLER, 60)
    radius = 44 - 9 * 60 / math.hypot(9, 170)
    assert room.width == pytest.approx(2 * math.acos(radius / 500) * radius, rel=1e-12)
    assert room.height == pytest.approx(80, abs=1e-9)  # 40 mm down from the band, twice
    assert widest_of_shape(room, 2.0) == pytest.approx(40, abs=1e-9)
    assert widest_of_shape(room, 0.1) == room.width
    assert "up to 40 mm wide, 80 mm high" in room_table(room, ratio=2.0)
    with pytest.raises(CupgeomError) as caught:
        front_room(TUMBLER, 10)
    assert str(caught.value) == "drop: must be on the free wall (drop 20 to 167.24 mm), got 10 mm"
    with pytest.raises(CupgeomError) as low:
        free_span(Cup.frustum(40, 40, 22))
    assert str(low.value) == "cup: is only 22 mm along the wall; nothing is free on it"


def test_a_ready_made_piece_fits_where_it_is_free_and_lies_flat_where_its_ends_stay_down() -> None:
    (fit,) = fits_of_size(TUMBLER, 50, 40)
    assert fit.span is not None
    assert (fit.span.top, fit.span.bottom) == pytest.approx((40, math.hypot(9, 170) - 23))
    k = 9 / math.hypot(9, 170)
    apex = [(44 - k * drop) / k for drop in (fit.span.top, fit.span.bottom)]
    assert fit.rise == pytest.approx([math.hypot(one, 25) - one for one in apex], rel=1e-9)
    assert fit.flat == fit.span
    assert "may lie flat anywhere there" in fits_table((fit,), 50, 40)
    (wide,) = fits_of_size(TUMBLER, 90, 40)
    assert wide.flat is None
    assert "not flat" in fits_table((wide,), 90, 40)
    (none,) = fits_of_size(TUMBLER, 50, 160)
    assert none.span is None
    assert fits_table((none,), 50, 160) == "50 mm by 160 mm does not fit"
