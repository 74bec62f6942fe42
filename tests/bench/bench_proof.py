"""The picture of a finished cup in ms a megapixel, against the same rays met with a mesh by trimesh's ray engine.

Both sides meet one ray for each quarter of a pixel with the cup. Ours then also looks the wall's colour up, lights it
and averages; trimesh only finds the triangles, so that the comparison is kind to it. It is so slow that a picture of a
twentieth of the width is enough to time it, and the figures are for each pixel. Its engine needs the package rtree.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np
import trimesh
from rounds import best_seconds, judged

from cupgeom import Cup
from cupgeom.drawing import Drawing, Shape, circle
from cupgeom.flatten import to_sheet
from cupgeom.proof.camera import Camera, camera
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.layer import Laid
from cupgeom.proof.model import model
from cupgeom.proof.picture import FINER, picture

COLUMNS, ROWS = 600, 800
SMALL = 20
BAR = 10.0  # our time for a ray, in thousandths of trimesh's


def finished() -> FinishedCup:
    """A tumbler with a hundred discs."""
    cup = Cup.frustum(88, 70, 170, bare_lip=6)
    rng = np.random.default_rng(3)
    discs = []
    for turn, drop in rng.uniform((-math.pi, 12), (math.pi, 160), (100, 2)):
        centre = complex(*to_sheet(cup.walls[0], float(turn), float(drop)))
        discs.append(Shape(path=circle(centre, 3), role="print", fill=(0.9, 0.8, 0.4)))
    layer = Laid(wall_index=0, drawing=Drawing(tuple(discs)), clear=False)
    return FinishedCup(cup=cup, base=(0.1, 0.14, 0.3), layers=(layer,))


def mesh_rays(cup: FinishedCup, eye: Camera) -> Callable[[], object]:
    """The rays of a picture met with the mesh by trimesh."""
    parts = [
        trimesh.Trimesh(vertices=part.positions, faces=part.triangles, process=False) for part in model(cup, 20).parts
    ]
    mesh = trimesh.util.concatenate(parts)
    columns = (np.arange(eye.columns * FINER) + 0.5) / FINER
    rows = (np.arange(eye.rows * FINER) + 0.5) / FINER
    slopes = np.stack(np.meshgrid((columns - eye.centre[0]) / eye.focal, (eye.centre[1] - rows) / eye.focal), axis=-1)
    rays = np.concatenate([slopes.reshape(-1, 2), np.full((slopes.size // 2, 1), -1.0)], axis=1)
    starts = np.tile([0.0, eye.eye_height, eye.distance], (len(rays), 1))
    return lambda: mesh.ray.intersects_first(starts, rays)


def main() -> bool:
    cup = finished()
    textures = cup.textures(200)
    large, small = (camera(cup, 0.0, COLUMNS // by, ROWS // by) for by in (1, SMALL))
    seconds = best_seconds(
        {
            "picture": lambda: picture(cup, textures, large),
            "textures": lambda: cup.textures(200),
            "trimesh": mesh_rays(cup, small),
        },
        rounds=3,
    )
    pixels, few = COLUMNS * ROWS / 1e6, (COLUMNS // SMALL) * (ROWS // SMALL) / 1e6
    ours, theirs = seconds["picture"] / pixels, seconds["trimesh"] / few
    print(f"  picture {ours * 1e3:8.0f} ms a megapixel, textures at 200 dpi {seconds['textures'] * 1e3:.0f} ms besides")
    print(f"  trimesh {theirs * 1e3:8.0f} ms a megapixel, without colour and light")
    return judged("time for a ray, picture / trimesh, in thousandths", 1000 * ours / theirs, BAR)


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
