"""Outlines of strokes, joins of their pieces, unions: against closed forms."""

from __future__ import annotations

import math
from itertools import pairwise
from xml.etree.ElementTree import Element

import numpy as np
import pytest
import shapely

from cupgeom.decor.artwork.joining import joined
from cupgeom.decor.artwork.pathdata import parse_path
from cupgeom.decor.artwork.points import closed, exact_box, handle_box, moved
from cupgeom.decor.artwork.shapes import outline
from cupgeom.decor.artwork.strokes import Line, dash_count, intersection, stroked, united
from cupgeom.drawing import Affine, Cubic, Path
from cupgeom.errors import CupgeomError


def path(text: str) -> Path:
    return parse_path(text).path


def circle(radius: float, at: complex = 0) -> Path:
    return outline(Element("circle"), {"r": radius, "cx": at.real, "cy": at.imag}.get).path


def inked(outlines: Path) -> float:
    """Area of what the nonzero rule fills: faces of the arrangement round which the outlines wind."""
    rings = [np.array([(p.real, p.imag) for p in ring]) for ring in outlines.flattened(1e-4)]
    lines = shapely.union_all([shapely.LinearRing(ring) for ring in rings])
    faces = shapely.polygonize([lines]).geoms
    return sum(face.area for face in faces if _winding(face.representative_point(), rings) != 0)


def _winding(point: shapely.Point, rings: list[np.ndarray]) -> int:
    total = 0.0
    for ring in rings:
        seen = (ring[:, 0] - point.x) + 1j * (ring[:, 1] - point.y)
        total += np.angle(np.append(seen[1:], seen[0]) / seen).sum()
    return round(total / math.tau)


@pytest.mark.parametrize("radius", [0.01, 10.0, 3000.0])
def test_the_outline_of_a_round_stroke_keeps_its_distance(radius: float) -> None:
    for segment in stroked(circle(radius), Line(radius / 5)).segments():
        for t in (0.0, 0.2, 0.5, 0.8):
            distance = abs(segment.point(t)) / radius
            assert min(abs(distance - 1.1), abs(distance - 0.9)) < 3e-5


def test_the_outline_of_a_round_stroke_has_as_few_pieces_as_its_line() -> None:
    assert circle(10.0).kinds.count(b"C") == 8
    assert stroked(circle(10.0), Line(2.0)).kinds.count(b"C") == 16  # inside and outside


@pytest.mark.parametrize(
    ("cap", "more"),
    [("butt", 0.0), ("square", 4.0 * 4.0), ("round", math.pi * 4.0**2 / 4)],
)
def test_caps_add_what_they_should(cap: str, more: float) -> None:
    # L w, and two halves of a square or of a circle of the stroke's width
    assert inked(stroked(path("M10 10H60"), Line(4.0, cap=cap))) == pytest.approx(50 * 4 + more, rel=1e-4)


@pytest.mark.parametrize(
    ("join", "limit", "corner"),
    [  # of a right angle of width w: a square w²/4, a triangle w²/8, a quarter circle πw²/16 beyond the two legs
        ("miter", 4.0, 4.0),
        ("miter", 1.2, 2.0),
        ("bevel", 4.0, 2.0),
        ("round", 4.0, math.pi),
    ],
)
def test_joins_fill_the_corner(join: str, limit: float, corner: float) -> None:
    ink = inked(stroked(path("M0 0H20V30"), Line(4.0, join=join, miter_limit=limit)))
    assert ink == pytest.approx(20 * 4 + 30 * 4 - 4 + corner, rel=1e-4)  # the legs share a quarter of 4 x 4


def test_dashes_are_as_long_as_they_say() -> None:
    dashed = stroked(path("M0 0H50"), Line(2.0, dashes=(7.0, 3.0), dash_offset=4.0))
    spans = sorted((box.left, box.right) for box in (exact_box(part) for part in _outlines(dashed)))
    expected = [(0, 3), (6, 13), (16, 23), (26, 33), (36, 43), (46, 50)]  # by hand
    assert [side for span in spans for side in span] == pytest.approx(
        [side for span in expected for side in span], abs=1e-4
    )


def _outlines(whole: Path) -> list[Path]:
    from cupgeom.drawing import path_of

    return [path_of(segments, closed=is_closed) for segments, is_closed in whole.outlines()]


def test_a_line_of_no_length_is_a_dot_with_round_and_square_ends_only() -> None:
    # SVG 1.1, 11.4 "stroke-linecap"
    assert inked(stroked(path("M5 5h0"), Line(2.0, cap="round"))) == pytest.approx(math.pi, rel=1e-3)
    assert inked(stroked(path("M5 5z"), Line(2.0, cap="round"))) == pytest.approx(math.pi, rel=1e-3)
    assert inked(stroked(path("M5 5h0"), Line(2.0, cap="square"))) == pytest.approx(4)
    assert not stroked(path("M5 5h0"), Line(2.0)).kinds.strip(b"MZ")


def test_dashes_are_counted_before_they_are_cut() -> None:
    assert dash_count(path("M0 0H50"), (1.0, 1.0)) == pytest.approx(100)


def test_pieces_of_a_cubic_become_that_cubic_again() -> None:
    whole = Cubic(0j, 10 + 30j, 60 - 20j, 80 + 40j)
    pieces = [whole.split(a, b) for a, b in pairwise((0, 0.1, 0.3, 0.35, 0.8, 1))]
    (found,) = joined(pieces, 1e-9)
    assert found == pytest.approx(whole)


def test_pieces_that_meet_in_a_corner_stay_apart() -> None:
    one, two = Cubic(0j, 1 + 0j, 2 + 0j, 3 + 0j), Cubic(3 + 0j, 3 + 1j, 3 + 2j, 3 + 3j)
    back = Cubic(3 + 0j, 2 + 0j, 1 + 0j, 0j)
    assert joined([one, two], 9.0) == [one, two]
    assert joined([one, back], 9.0) == [one, back]
    assert joined([], 1.0) == []


def test_unions_and_intersections_of_circles() -> None:
    # two circles of radius r, their centres r apart, share a lens of (2π/3 − √3/2) r² (standard result)
    lens = (2 * math.pi / 3 - math.sqrt(3) / 2) * 100
    one, two = (circle(10.0), False), (circle(10.0, 10 + 0j), False)
    assert abs(intersection(one, two).area()) == pytest.approx(lens, rel=1e-5)
    whole, even_odd = united([one, two])
    assert (abs(whole.area()), even_odd) == (pytest.approx(200 * math.pi - lens, rel=1e-5), False)


def test_areas_that_do_not_meet_are_united_as_they_are() -> None:
    star = path("M0 0H9V9H0ZM2 2H7V7H2Z")
    whole, even_odd = united([(star, True), (moved(star, Affine.move(20)), True)])
    assert (whole, even_odd) == (star + moved(star, Affine.move(20)), True)
    assert united([]) == (Path(), False)


def test_tangled_areas_are_refused() -> None:
    tangle = "M0 0" + "".join(f"L{i * 37 % 101} {i * 61 % 103}" for i in range(400)) + "z"
    with pytest.raises(CupgeomError) as caught:
        united([(path(tangle), False), (circle(50.0), False)])
    assert str(caught.value) == "is clipped by areas that are too tangled to be united or cut"


def test_boxes_are_exact_or_hold_the_path() -> None:
    wave = path("M0 0C10 40 30-40 40 0z")
    height = 20 / math.sqrt(3) * 2 / 3 * 3 / 2  # largest of 120 t (1 − t)(1 − 2t): 120/(6√3) at t = ½ − 1/√12
    assert exact_box(wave) == pytest.approx((0, -120 / (6 * math.sqrt(3)), 40, 120 / (6 * math.sqrt(3))))
    assert height == pytest.approx(120 / (6 * math.sqrt(3)))
    assert handle_box(wave) == (0, -40, 40, 40)
    assert exact_box(path("M1 2H5M7-3v1")) == (1, -3, 7, 2)


def test_filling_closes_every_outline() -> None:
    assert closed(path("M0 0H5V5M9 9zM1 1h1")).kinds == b"MLLZMZMLZ"
