"""Flattening keeps distances: a straight line on the sheet is a shortest path on the wall, and meshes have its area."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from cupgeom import Wall
from cupgeom.flatten import to_sheet

WALLS = {
    "slight taper": Wall(top_radius=44, base_radius=35, height=170),
    "wide taper": Wall(top_radius=50, base_radius=20, height=40),
    "no taper": Wall(top_radius=40, base_radius=40, height=100),
    "wide at the base": Wall(top_radius=30, base_radius=45, height=90),
}
every_wall = pytest.mark.parametrize("wall", WALLS.values(), ids=WALLS.keys())
ROWS = 4


def _mesh(wall: Wall, count: int, rows: int) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Corners (rows + 1 rings of `count`, the first at the front of the top edge) and triangles of the faceted wall."""
    turn = math.tau * np.arange(count) / count
    down = np.linspace(0, 1, rows + 1)[:, None]
    radius = wall.top_radius + (wall.base_radius - wall.top_radius) * down
    corners = np.stack([radius * np.sin(turn), -radius * np.cos(turn), -wall.height * down + 0 * turn], axis=-1)
    here = np.arange(rows * count).reshape(rows, count)
    right, below = np.roll(here, -1, axis=1), here + count
    triangles = [np.stack([here, below, right], axis=-1), np.stack([right, below, np.roll(below, -1, axis=1)], axis=-1)]
    return corners.reshape(-1, 3), np.concatenate(triangles).reshape(-1, 3)


def _across_facets(wall: Wall, count: int, row: int, step: int, to_row: int) -> float | None:
    """Distance on the faceted wall between the front of a ring and a corner some facets further on another ring.

    Each facet is part of a triangle with its tip at the apex; unfolded they lie side by side, and the distance is the
    third side of a triangle with its tip there (law of cosines). None where that side leaves the sheet across the
    smaller edge, so that the shortest path runs along the edge instead.
    """
    run, side = wall.top_radius - wall.base_radius, 2 * math.sin(math.pi / count)
    slant = math.hypot(wall.height, run)
    if run == 0:
        return math.hypot(slant * (row - to_row) / ROWS, step * wall.top_radius * side)
    one, other = ((wall.top_radius - run * at / ROWS) * slant / abs(run) for at in (row, to_row))
    angle = 2 * step * math.asin(abs(run) / slant * side / 2)
    across = math.sqrt((one - other) ** 2 + 4 * one * other * math.sin(angle / 2) ** 2)
    between = min(one, other) > max(one, other) * math.cos(angle)  # the point nearest to the apex lies on the way
    nearest = one * other * math.sin(angle) / across if between else min(one, other)
    edge = min(wall.top_radius, wall.base_radius) * slant / abs(run)
    return across if nearest >= edge * (1 - 1e-12) else None


@every_wall
@pytest.mark.parametrize("count", [90, 180])
def test_a_straight_line_on_the_sheet_is_a_shortest_path_on_the_wall(wall: Wall, count: int) -> None:
    # pygeodesic finds exact shortest paths over the triangles of a mesh. A wall of n facets lies inside the smooth one;
    # across it a path is short by π²/(6n²) of itself, along it by nothing.
    geodesic = pytest.importorskip("pygeodesic.geodesic", reason="pygeodesic has no build for this Python")
    row = 0 if wall.top_radius >= wall.base_radius else ROWS
    paths = geodesic.PyGeodesicAlgorithmExact(*_mesh(wall, count, ROWS))
    found = paths.geodesicDistances(np.array([row * count]), None)[0].reshape(ROWS + 1, count)
    start, compared = to_sheet(wall, 0.0, wall.slant * row / ROWS), 0
    for to_row, step in itertools.product(range(ROWS + 1), range(1, count // 2)):
        across = _across_facets(wall, count, row, step, to_row)
        if across is None:
            continue
        straight = math.dist(start, to_sheet(wall, math.tau * step / count, wall.slant * to_row / ROWS))
        assert found[to_row, step] == pytest.approx(across, rel=1e-11)
        assert -1.7 / count**2 <= found[to_row, step] / straight - 1 <= 0
        compared += 1
    assert compared >= count


@every_wall
def test_trimesh_finds_the_area_of_the_wall(wall: Wall) -> None:
    # A frustum of n facets has the area n · r̄ · 2 sin(π/n) · √(h² + (Δr cos(π/n))²), r̄ the mean radius; both that and
    # the mesh are short of the smooth wall by c/n² + O(n⁻⁴), so that two counts give the wall's own area.
    trimesh = pytest.importorskip("trimesh")
    mean, run = (wall.top_radius + wall.base_radius) / 2, wall.top_radius - wall.base_radius
    areas = []
    for count in (360, 720):
        corners, triangles = _mesh(wall, count, 3)
        area = trimesh.Trimesh(corners, triangles, process=False).area
        apothem = math.hypot(wall.height, run * math.cos(math.pi / count))
        assert area == pytest.approx(count * mean * 2 * math.sin(math.pi / count) * apothem, rel=1e-12)
        areas.append(area)
    assert areas[0] < areas[1] < wall.lateral_area
    assert (4 * areas[1] - areas[0]) / 3 == pytest.approx(wall.lateral_area, rel=1e-9)
