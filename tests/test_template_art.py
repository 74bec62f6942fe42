"""Wraps that bear decals, and sleeves that show where they go."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Point

from cupgeom import Cup, Template
from cupgeom.cup import Foot, Handle, Span
from cupgeom.decor.decal import Decal
from cupgeom.decor.design import Design
from cupgeom.decor.medium import Medium
from cupgeom.decor.silhouette import silhouette
from cupgeom.drawing import Box, Drawing, Shape, Text
from cupgeom.flatten import to_sheet, to_wall
from cupgeom.pages import FIT
from cupgeom.template import document
from cupgeom.template.art import Art, openings, print_on

TUMBLER = Cup.frustum(88, 70, 170)
PLAIN = Medium(name="plain", process="inkjet", cut_margin=0.0)


def block(width: float = 60.0, height: float = 30.0) -> Design:
    box = Box(-width / 2, -height / 2, width / 2, height / 2)
    shape = Shape(path=box.outline(), role="print", fill=(0, 0, 0))
    return Design(name="block", drawing=Drawing((shape,)), width=width, height=height)


def decal(cup: Cup = TUMBLER, **more: object) -> Decal:
    return Decal(**{"cup": cup, "design": block(), "drop": 80.0, "medium": PLAIN, **more})


def turns_and_drops(shape: object, template: Template) -> np.ndarray:
    points = np.concatenate([np.array(part.exterior.coords) for part in getattr(shape, "geoms", [shape])])
    return np.stack(to_wall(template.wall, points[:, 0], points[:, 1], np))


def test_a_decal_across_the_back_shows_on_both_sides_of_the_seam() -> None:
    template = Template(cup=TUMBLER, seam="butt")
    (piece,) = template.pieces
    shape = silhouette(print_on(Art(decals=(decal(turn_deg=180),)), template, piece))
    turns, _ = turns_and_drops(shape, template)
    half = 30 / TUMBLER.radius_at(80)
    bleed = 3 / template.narrowest_radius
    assert turns.min() == pytest.approx(-math.pi - bleed, abs=0.03)
    assert turns.max() == pytest.approx(math.pi + bleed, abs=0.03)
    assert np.sort(turns[turns < 0])[-1] == pytest.approx(-math.pi + half, abs=1e-3)
    assert np.sort(turns[turns > 0])[0] == pytest.approx(math.pi - half, abs=1e-3)


def test_the_two_parts_meet_at_the_seam_to_a_hundredth() -> None:
    """Cut both parts at the seam and roll one a full turn on: together they are the whole decal."""
    template = Template(cup=TUMBLER, seam="butt", bleed=0.0)
    (piece,) = template.pieces
    shape = silhouette(print_on(Art(decals=(decal(turn_deg=180),)), template, piece))
    assert shape.area == pytest.approx(decal().piece_silhouette(decal().pieces[0]).area, abs=0.02)


@pytest.mark.parametrize("seam", ["blank", "continued", "butt"])
def test_print_all_round_reaches_the_bleed_where_ink_may_go(seam: str) -> None:
    template = Template(cup=TUMBLER, seam=seam)
    (piece,) = template.pieces
    around = block(math.tau * TUMBLER.radius_at(80) * (1 - 1e-12), 60)
    art = Art(decals=(decal(design=around),))
    shape = silhouette(print_on(art, template, piece))
    tab = {"blank": 0, "continued": 8, "butt": 0}[seam]
    at = complex(*to_sheet(template.wall, math.pi, 80))
    across = complex(*to_sheet(template.wall, math.pi + 1e-6, 80)) - at
    across /= abs(across)
    for beyond, inside in ((tab + 2.5, True), (tab + 3.6, False)):
        point = at + across * beyond
        assert shape.covers(Point(point.real, point.imag)) == inside
    left = complex(-at.real, at.imag)
    for beyond, inside in ((2.5, True), (3.6, False)):
        point = left + complex(-across.real, across.imag) * beyond
        assert shape.covers(Point(point.real, point.imag)) == inside


def test_no_ink_comes_onto_the_bare_lip_or_the_handle() -> None:
    handle = Handle(feet=(Foot(width=14, top=60, bottom=90),))
    cup = Cup.frustum(88, 70, 170, handle=handle, bare_lip=10)
    template = Template(cup=cup, closed=True, trim=Span(top=0, bottom=cup.slant), bleed=3)
    (piece,) = template.pieces
    art = Art(decals=(decal(cup, design=block(200, 140), drop=75, turn_deg=180),))
    shape = silhouette(print_on(art, template, piece))
    _, drops = turns_and_drops(shape, template)
    assert drops.min() >= 10 - 0.01
    # the middle of the foot, 3 mm bleed and more away from the notch's sides
    for turn in (-math.pi, math.pi):
        x, y = to_sheet(template.wall, turn, 75)
        assert not shape.covers(Point(x, y))


def test_a_sleeve_has_an_opening_one_millimetre_larger_than_each_decal() -> None:
    template = Template(cup=TUMBLER)
    (piece,) = template.pieces
    one, two = decal(), decal(turn_deg=100, design=block(20, 20))
    drawing = openings(Art(decals=(one, two), sleeve=True), template, piece)
    (hole,) = (item.path.to_shapely(0.005) for item in drawing.items if isinstance(item, Shape))
    assert len(hole.geoms) == 2
    for single in (one, two):
        part = single.piece_silhouette(single.pieces[0])
        (mine,) = (polygon for polygon in hole.geoms if polygon.intersects(part))
        assert mine.covers(part.buffer(0.98))
        assert part.buffer(1.02).covers(mine)
    texts = [leaf.text for leaf in drawing.leaves() if isinstance(leaf, Text)]
    assert texts == ["block", "block"]
    ticks = [leaf for leaf in drawing.leaves() if isinstance(leaf, Shape) and leaf.name == "placement tick"]
    assert len(ticks) == 8
    for tick in ticks:
        middle = tick.path.bounds().centre
        assert not hole.intersects(Point(middle.real, middle.imag))


def test_ticks_of_a_sleeve_point_at_the_middle_of_the_decal() -> None:
    template = Template(cup=TUMBLER)
    drawing = openings(Art(decals=(decal(turn_deg=40),), sleeve=True), template, template.pieces[0])
    ticks = [leaf.path for leaf in drawing.leaves() if isinstance(leaf, Shape) and leaf.name == "placement tick"]
    found = []
    for path in ticks:
        start, end = (complex(*point) for point in path.points)
        turns, drops = to_wall(template.wall, np.array([start.real, end.real]), np.array([start.imag, end.imag]), np)
        found.append((np.degrees(turns), drops))
    middle = [one for one in found if abs(one[0][0] - 40) < 1e-6 and abs(one[0][1] - 40) < 1e-6]
    level = [one for one in found if np.abs(one[1] - 80).max() < 1e-6]
    assert (len(middle), len(level)) == (2, 2)


def test_a_mirrored_wrap_reflects_print_and_cut_and_says_so() -> None:
    template = Template(cup=TUMBLER, seam="butt")
    side = decal(turn_deg=60, design=block(20, 20))
    pages = [
        document(template, FIT, purpose="film", art=Art(decals=(side,), mirrored=mirrored)).pages[0]
        for mirrored in (False, True)
    ]
    plain, mirrored = (silhouette(page.drawing.only(("print",))) for page in pages)
    trims = [page.trim for page in pages]
    assert plain.centroid.x - trims[0].left == pytest.approx(trims[1].right - mirrored.centroid.x, abs=0.01)
    assert plain.centroid.y - trims[0].bottom == pytest.approx(mirrored.centroid.y - trims[1].bottom, abs=0.01)
    (label,) = (leaf for leaf in pages[1].drawing.leaves() if isinstance(leaf, Text) and leaf.text == "MIRRORED")
    assert label.bounds().bottom > trims[1].top
    assert label.angle_deg == pytest.approx(0, abs=1e-9)


def test_a_white_underlay_lies_under_the_print_of_a_wrap() -> None:
    template = Template(cup=TUMBLER, seam="butt")
    drawing = print_on(Art(decals=(decal(),), white=True), template, template.pieces[0])
    white, print_ = (silhouette(drawing.only((role,))) for role in ("white", "print"))
    assert print_.buffer(-0.19).covers(white)
    assert white.area == pytest.approx(print_.buffer(-0.2).area, rel=1e-3)
