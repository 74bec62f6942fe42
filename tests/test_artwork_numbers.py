"""Lengths, transforms, view boxes: against the standard's numbers and an independent matrix product."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.decor.artwork import read_svg
from cupgeom.decor.artwork.numbers import (
    Length,
    ViewBox,
    fitted,
    inverse,
    parse_length,
    parse_transform,
    parse_view_box,
)
from cupgeom.drawing import Affine


@pytest.mark.parametrize(
    ("text", "pixels"),
    [  # CSS Values and Units: 1 in = 2.54 cm = 25.4 mm = 101.6 q = 96 px = 72 pt = 6 pc
        ("7", 7), (" 7px ", 7), ("1in", 96), ("2.54cm", 96), ("25.4mm", 96), ("101.6Q", 96), ("72pt", 96), ("6pc", 96),
        ("-1e1", -10), ("50%", 100), ("2em", 40), ("2EX", 20),
    ],
)  # fmt: skip
def test_lengths_in_all_units(text: str, pixels: float) -> None:
    length = parse_length(text)
    assert isinstance(length, Length) and length.pixels(whole=200, font_size=20) == pytest.approx(pixels)


@pytest.mark.parametrize("text", ["", "px", "5 px", "5furlong", "1e", "--5", "0x10", "nan", "inf", "1_0", "٣"])
def test_what_is_no_length(text: str) -> None:
    assert parse_length(text) is None


def _matrix(name: str, *v: float) -> np.ndarray:
    """The matrices of SVG 1.1, 7.4 and 7.6."""
    rad = math.radians(v[0])
    cos, sin, tan = math.cos(rad), math.sin(rad), math.tan(rad)
    if name == "rotate" and len(v) == 3:
        return _matrix("translate", v[1], v[2]) @ _matrix("rotate", v[0]) @ _matrix("translate", -v[1], -v[2])
    rows = {
        "matrix": lambda: [[v[0], v[2], v[4]], [v[1], v[3], v[5]]],
        "translate": lambda: [[1, 0, v[0]], [0, 1, v[1] if len(v) > 1 else 0]],
        "scale": lambda: [[v[0], 0, 0], [0, v[1] if len(v) > 1 else v[0], 0]],
        "rotate": lambda: [[cos, -sin, 0], [sin, cos, 0]],
        "skewX": lambda: [[1, tan, 0], [0, 1, 0]],
        "skewY": lambda: [[1, 0, 0], [tan, 1, 0]],
    }[name]()
    return np.array([*rows, [0, 0, 1]], float)


VALUES = st.integers(-80, 80).map(lambda n: n / 2)
STEPS = st.one_of(
    *(
        st.tuples(st.just(name), st.lists(VALUES, min_size=count, max_size=count))
        for name, count in (
            ("matrix", 6), ("translate", 1), ("translate", 2), ("scale", 1), ("scale", 2), ("rotate", 1), ("rotate", 3),
            ("skewX", 1), ("skewY", 1),
        )
    )
)  # fmt: skip


@given(st.lists(STEPS, max_size=5), st.sampled_from((" ", ",", " , ")), st.sampled_from(("", " ", ",")))
def test_transforms_multiply_as_matrices_do(steps, comma: str, between: str) -> None:
    text = between.join(f"{name}({comma.join(map(str, values))})" for name, values in steps)
    expected = np.eye(3)
    for name, values in steps:
        expected = expected @ _matrix(name, *values)
    found = parse_transform(text)
    assert found is not None
    ours = np.array([[found.a, found.c, found.e], [found.b, found.d, found.f], [0, 0, 1]])
    assert np.abs(ours - expected).max() <= 1e-12 * max(1.0, np.abs(expected).max())


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("none", Affine()),
        ("", Affine()),
        ("matrix(1-2.5.5 4e0,5,6)", Affine(1, -2.5, 0.5, 4, 5, 6)),
        ("translate(1in, 3px)", Affine(e=96, f=3)),
        ("rotate(0.25turn)", Affine.rotation(90)),
        ("translateX(3) scaleY(2)", Affine(d=2, e=3)),
    ],
)
def test_transforms_in_other_spellings(text: str, expected: Affine) -> None:
    assert parse_transform(text) == pytest.approx(expected)


@pytest.mark.parametrize(
    "text", ["turn(5)", "scale()", "scale(1,2,3)", "rotate(5", "scale(2) x", "translate(5%)", "matrix(1,2,3)"]
)
def test_what_is_no_transform(text: str) -> None:
    assert parse_transform(text) is None


@given(st.tuples(*[VALUES] * 6))
def test_inverse_undoes(values) -> None:
    map_ = Affine(*values)
    if abs(map_.determinant) < 0.1:
        return
    assert (inverse(map_) @ map_)(3 + 4j) == pytest.approx(3 + 4j, abs=1e-6)


@pytest.mark.parametrize(
    ("aspect", "low", "high"),
    [  # where the corners of a box of 20 x 10 at (1, 2) go in a viewport of 100 x 100 (SVG 1.1, 7.8), by hand
        ("", 0 + 25j, 100 + 75j),
        ("none", 0, 100 + 100j),
        ("xMinYMin", 0, 100 + 50j),
        ("xMidYMax meet", 0 + 50j, 100 + 100j),
        ("xMinYMid slice", 0, 200 + 100j),
        ("xMidYMid slice", -50, 150 + 100j),
        ("defer xMaxYMid slice", -100, 100 + 100j),
        ("whatever", 0 + 25j, 100 + 75j),
    ],
)
def test_view_boxes_fit_as_asked(aspect: str, low: complex, high: complex) -> None:
    map_ = fitted(ViewBox(1, 2, 20, 10), 100, 100, aspect)
    assert (map_(1 + 2j), map_(21 + 12j)) == pytest.approx((low, high))


@pytest.mark.parametrize("text", ["", "0 0 5", "0 0 5 5 5", "0 0 -5 5", "0 0 0 5", "a b c d", "0,,0 5 5"])
def test_what_is_no_view_box(text: str) -> None:
    assert parse_view_box(text) is None


SHAPE = '<rect x="10" y="20" width="30" height="40"/>'


@pytest.mark.parametrize(
    ("attributes", "size", "box"),
    [  # mm, y up; 1 px = 25.4/96 mm
        ('width="96" height="192"', (25.4, 50.8), (10 / 96, 132 / 96, 40 / 96, 172 / 96)),
        ('width="2in" height="2in" viewBox="0 0 100 100"', (50.8, 50.8), (0.2, 0.8, 0.8, 1.6)),
        ('viewBox="0 0 96 96"', (25.4, 25.4), (10 / 96, 36 / 96, 40 / 96, 76 / 96)),
        ('width="100mm" viewBox="0 0 50 100"', (100, 200), (20 / 25.4, 80 / 25.4, 80 / 25.4, 160 / 25.4)),
        ('height="1in" viewBox="0 0 100 100"', (25.4, 25.4), (0.1, 0.4, 0.4, 0.8)),
        (
            'width="100%" height="50%" viewBox="0 0 96 96"',
            (25.4, 12.7),
            (0.25 + 5 / 96, 18 / 96, 0.25 + 20 / 96, 38 / 96),
        ),
    ],
)
def test_pages_have_the_size_they_state(attributes: str, size, box) -> None:
    art = read_svg(f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>{SHAPE}</svg>'.encode())
    assert art.size == pytest.approx(size)
    assert art.box == pytest.approx([25.4 * side for side in box])
    assert art.notices == ()


def test_a_page_without_size_is_as_large_as_its_art() -> None:
    art = read_svg(f'<svg xmlns="http://www.w3.org/2000/svg">{SHAPE}</svg>'.encode(), "box.svg")
    assert art.size == pytest.approx((30 * 25.4 / 96, 40 * 25.4 / 96))
    assert art.box == pytest.approx((0, 0, *art.size))
    assert [str(notice) for notice in art.notices] == [
        "box.svg: states no size, and is taken as large as its art, 96 units an inch"
    ]
