"""Pieces on a sheet moved down and to the left as far as the true outlines let them, and the check that none touch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cupgeom.drawing import Box
from cupgeom.sheets.piece import FLATNESS

CLOSE = 2 * FLATNESS  # mm by which polygons are kept farther apart than asked, as true arcs bulge beyond them
_STEPS = (16.0, 8.0, 4.0, 2.0, 1.0, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015, 0.008)  # mm
_TWICE = 2  # times that each step may be taken
_ROUNDS = 6


def settled(outlines: Sequence[Any], room: Box, gap: float) -> list[complex]:
    """By how much each outline is moved so that all lie lower and farther left, still in the room and a gap apart."""
    from shapely.affinity import translate

    shapes, moves = list(outlines), [0j] * len(outlines)
    for _ in range(_ROUNDS):
        moved = 0.0
        for index in sorted(range(len(shapes)), key=lambda i: (shapes[i].bounds[1], shapes[i].bounds[0], i)):
            for way in (-1j, -1 + 0j):
                by = _slide(shapes, index, way, room, gap)
                if by:
                    moves[index] += by * way
                    shapes[index] = translate(outlines[index], moves[index].real, moves[index].imag)
                    moved = max(moved, by)
        if moved < 0.05:
            break
    return moves


def _slide(shapes: list[Any], index: int, way: complex, room: Box, gap: float) -> float:
    """How far one shape can be moved; free places are jumped to, so that nothing need be free in between."""
    import numpy as np
    from shapely import dwithin, prepare
    from shapely.affinity import translate

    shape, reach = shapes[index], _TWICE * sum(_STEPS)
    left, bottom, right, top = shape.bounds
    free = bottom - room.bottom if way.imag else left - room.left
    swept = (left + way.real * reach, bottom + way.imag * reach, right, top)
    near = [other for i, other in enumerate(shapes) if i != index and _boxes_meet(swept, other.bounds, gap + CLOSE)]
    if near:
        prepare(near)
    done = 0.0
    for step in _STEPS:
        for _ in range(_TWICE):
            if done + step > free - 1e-12:
                break
            tried = translate(shape, way.real * (done + step), way.imag * (done + step))
            box_tried = tried.bounds
            touching = [other for other in near if _boxes_meet(box_tried, other.bounds, gap + CLOSE)]
            if touching and bool(np.any(dwithin(np.array(touching), tried, gap + CLOSE))):
                break
            done += step
    return done


def _boxes_meet(a: tuple[float, ...], b: tuple[float, ...], gap: float) -> bool:
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap


ROUNDING = 1e-6  # mm²; outlines that touch overlap by this much when their crossing is rounded


def faults(outlines: Sequence[Any], room: Box, gap: float, tolerance: float = 0.01) -> list[str]:
    """What is wrong with the pieces of a sheet: out of the room, or nearer than the gap; nothing when all is well."""
    from shapely import STRtree

    found = []
    for index, shape in enumerate(outlines):
        left, bottom, right, top = shape.bounds
        if min(left - room.left, bottom - room.bottom, room.right - right, room.top - top) < -tolerance:
            found.append(f"piece {index + 1} lies outside the room")
    tree = STRtree(outlines)
    pairs = tree.query(outlines, predicate="dwithin", distance=max(gap - tolerance, 0.0))
    for first, second in zip(*pairs.tolist(), strict=True):
        apart = outlines[first].distance(outlines[second])
        if first < second and (
            apart < gap - tolerance or outlines[first].intersection(outlines[second]).area > ROUNDING
        ):
            found.append(f"pieces {first + 1} and {second + 1} are {apart:.3f} mm apart, {gap:g} mm are asked")
    return found
