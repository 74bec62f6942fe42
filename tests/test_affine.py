"""Affine maps: their order, exact right angles, and which of them keep circles round."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.drawing import Affine

NUMBERS = st.floats(min_value=-100, max_value=100)
POINTS = st.builds(complex, NUMBERS, NUMBERS)
MAPS = st.builds(Affine, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS, NUMBERS)


def matrix(affine: Affine) -> np.ndarray:
    """The 3 × 3 matrix of SVG 1.1, section 7.4 (from memory): columns (a b 0), (c d 0), (e f 1)."""
    a, b, c, d, e, f = affine
    return np.array([[a, c, e], [b, d, f], [0, 0, 1]])


@given(MAPS, POINTS)
def test_a_map_does_what_its_matrix_says(affine: Affine, point: complex) -> None:
    x, y, _ = matrix(affine) @ [point.real, point.imag, 1]
    assert cmath.isclose(affine(point), complex(x, y), rel_tol=1e-12, abs_tol=1e-9)


@given(MAPS, MAPS)
def test_a_product_is_the_matrix_product(outer: Affine, inner: Affine) -> None:
    np.testing.assert_allclose(matrix(outer @ inner), matrix(outer) @ matrix(inner), rtol=1e-12, atol=1e-9)


def test_the_inner_map_comes_first() -> None:
    turned_then_moved = Affine.move(10) @ Affine.rotation(90)
    moved_then_turned = Affine.rotation(90) @ Affine.move(10)
    assert turned_then_moved(1) == 10 + 1j
    assert moved_then_turned(1) == 11j


@given(MAPS, MAPS)
def test_the_determinant_of_a_product_is_the_product_of_determinants(outer: Affine, inner: Affine) -> None:
    assert math.isclose((outer @ inner).determinant, outer.determinant * inner.determinant, rel_tol=1e-9, abs_tol=1e-3)


@pytest.mark.parametrize("turns", range(-9, 10))
def test_right_angles_are_exact(turns: int) -> None:
    assert Affine.rotation(90 * turns)(3 + 2j) == (3 + 2j) * (1, 1j, -1, -1j)[turns % 4]


@given(st.floats(min_value=-1000, max_value=1000), POINTS)
def test_a_rotation_turns_anticlockwise(angle_deg: float, point: complex) -> None:
    turned = point * cmath.exp(1j * math.radians(angle_deg))
    assert cmath.isclose(Affine.rotation(angle_deg)(point), turned, rel_tol=1e-12, abs_tol=1e-11)


@given(st.floats(min_value=-179.9, max_value=179.9), st.floats(min_value=0.01, max_value=100), POINTS)
def test_angle_and_scale_of_a_similarity_are_read_back(angle_deg: float, scale: float, by: complex) -> None:
    affine = Affine.move(by) @ Affine.rotation(angle_deg) @ Affine.scale(scale, scale)
    assert affine.keeps_circles
    assert math.isclose(affine.angle_deg, angle_deg, abs_tol=1e-12)
    assert math.isclose(affine.even_scale, scale, rel_tol=1e-14)
    mirrored = affine @ Affine.scale(-1, 1)
    assert mirrored.keeps_circles
    assert mirrored.determinant < 0 < affine.determinant
    assert math.isclose(mirrored.even_scale, scale, rel_tol=1e-14)


@pytest.mark.parametrize(
    ("affine", "round_"),
    [
        (Affine(), True),
        (Affine.move(3 + 4j), True),
        (Affine.scale(2, 2), True),
        (Affine.scale(-1, 1), True),
        (Affine.scale(1, -1), True),
        (Affine.rotation(37) @ Affine.scale(3, -3), True),
        (Affine.scale(1, 1 + 1e-14), True),
        (Affine.scale(1, 1.0001), False),
        (Affine.scale(100.4 / 100, 99.2 / 100), False),  # the correction of a printer
        (Affine.rotation(37) @ Affine.scale(1, 2), False),
        (Affine(c=0.001), False),
        (Affine.scale(0, 0), False),
        (Affine(a=math.nan), False),
    ],
)
def test_only_similarities_keep_circles_round(affine: Affine, round_: bool) -> None:
    assert affine.keeps_circles is round_


@given(MAPS)
def test_a_map_keeps_circles_just_when_its_singular_values_are_equal(affine: Affine) -> None:
    largest, smallest = np.linalg.svd(matrix(affine)[:2, :2], compute_uv=False)
    if largest > 0 and abs(largest - smallest) > 1e-9 * largest:
        assert not affine.keeps_circles


def test_the_scale_of_an_uneven_map_is_that_of_areas() -> None:
    assert Affine.scale(2, 8).even_scale == 4
    assert Affine.scale(2, 8).determinant == 16
