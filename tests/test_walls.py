"""Cups of several walls: a piece for each, edges that match, rounded ones as one sheet as far as it can follow."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import Cup, Ring, Template
from cupgeom.drawing import Arc, Line
from cupgeom.pages import parse_paper
from cupgeom.template import document, joined

from .command_line import ask

SHOULDERED = (Ring(diameter=88, height=170), Ring(diameter=88, height=150), Ring(diameter=70, height=20))
SHOP = """
[cups.shouldered]
rings = [[88, 170], [88, 150], [70, 20], [62, 0]]

[cups.rounded]
profile = [
    { role = "lip", rings = [[86, 172], [86, 168]], arc = 2 },
    { role = "taper", rings = [[80, 50]] },
    { role = "shoulder", rings = [[66, 30]], arc = 25, hollow = true },
    { role = "foot", rings = [[66, 20], [60, 5], [50, 0]] },
]
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)


@given(st.lists(st.floats(min_value=40, max_value=110), min_size=3, max_size=6))
def test_pieces_match_along_their_shared_edges(diameters: list[float]) -> None:
    rings = tuple(
        Ring(diameter=diameter, height=40.0 * (len(diameters) - index)) for index, diameter in enumerate(diameters)
    )
    cup = Cup(rings=rings)
    pieces = [
        Template(cup=cup, wall_index=index, seam="butt", bleed=0, safe=0).pieces[0] for index in range(len(cup.walls))
    ]
    edges = [[side for side in piece.cut.segments() if side.length() > 0] for piece in pieces]
    for above, below, ring in zip(edges, edges[1:], cup.rings[1:], strict=False):
        bottom, top = above[2], below[0]  # clockwise from the top left: top edge, right, bottom edge, left
        assert isinstance(bottom, (Arc, Line))
        assert bottom.length() == pytest.approx(math.pi * ring.diameter, abs=1e-9)
        assert abs(bottom.length() - top.length()) < 1e-9


def test_walls_that_share_a_cone_are_one_piece() -> None:
    middle = Ring(diameter=79, height=85)
    cup = Cup(rings=(Ring(diameter=88, height=170), middle, Ring(diameter=70, height=0)))
    assert len(cup.walls) == 1


def test_each_wall_gets_its_pages_and_its_matching_marks() -> None:
    cup = Cup(rings=SHOULDERED)
    parts = [document(Template(cup=cup, wall_index=index), parse_paper("fit")) for index in range(2)]
    whole = joined(parts)
    assert [page.name for page in whole.pages] == ["wall1", "wall2"]
    marks = []
    for page in whole.pages:
        names = [getattr(leaf, "text", "") for leaf in page.drawing.leaves()]
        marks.append([name for name in names if name.startswith("joins")])
    assert marks == [["joins wall 2"], ["joins wall 1"]]


def test_a_cup_of_rings_is_written_wall_by_wall(shop: None) -> None:
    answer = ask("template --cup shouldered --paper a3 -o w.svg")
    assert answer.out.splitlines() == [f"wrote w-wall{number}.svg" for number in (1, 2, 3)]
    assert ask("template --cup shouldered --paper a3 --wall 2 -o two.svg").out == "wrote two.svg\n"
    assert ask("template --cup shouldered --wall 4 -o x.svg").err == (
        "cupgeom: --wall: must be a whole number from 1 to 3, got '4'\n"
    )


def test_a_rounded_cup_stops_at_the_shoulder_and_says_so(shop: None) -> None:
    answer = ask("template --cup rounded --paper a3 -o w.svg")
    assert answer.code == 0
    assert "more than its limit of 1 %; stop at the shoulder, at drop" in answer.err
    assert "covers the cup from drop 6.3 mm" in answer.err  # a quarter of the 2 mm lip is 3.14 mm of curve, twice
