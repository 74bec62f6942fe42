"""The sizes of a fitted cup."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from cupgeom.cup import Cup, Ring
from cupgeom.measure.estimate import Estimate, propagate
from cupgeom.measure.profile import Profile

if TYPE_CHECKING:
    from cupgeom.measure.profile import Floats


def cup_of(unknowns: Floats, rings: int) -> Cup:
    """The cup of fitted unknowns, standing at height 0."""
    diameters, slants = unknowns[:rings].tolist(), unknowns[rings : 2 * rings - 1].tolist()
    heights = [0.0]
    for index in range(rings - 2, -1, -1):
        rise = (diameters[index + 1] - diameters[index]) / 2
        heights.append(heights[-1] + math.sqrt(slants[index] ** 2 - rise**2))
    return Cup(
        rings=tuple(
            Ring(diameter=diameter, height=height)
            for diameter, height in zip(diameters, reversed(heights), strict=True)
        )
    )


def unknown_names(rings: int, film: bool) -> list[str]:
    """What the unknowns of a fit are called, in their order."""
    places = ["rim", *(f"ring {index}" for index in range(1, rings - 1)), "base"]
    walls = [f"slant from {above} to {below}" for above, below in pairwise(places)]
    return [
        *(f"{place} diameter" for place in places),
        *(walls if rings > 2 else ["slant"]),
        *(["film"] if film else []),
    ]


def sizes_of(unknowns: Floats, covariance: Floats, rings: int, film: bool) -> tuple[Estimate, ...]:
    """The sizes a maker asks for, from the unknowns with their correlations.

    A seam gap is what a wrap made for the fitted cup will show on the true one, laid on by its top edge: 0, with an
    uncertainty. At the base it is that of the lowest wall's wrap, at the drop where the paper ends.
    """
    import numpy as np

    made_for = unknowns.copy()

    def sizes(values: Floats) -> Floats:
        profile = Profile.of(values[None, :], rings)
        diameters, slants = profile.diameters[0], profile.slants[0]
        area = math.pi * float((diameters[:-1] + diameters[1:]) @ slants) / 2
        foot = diameters[-2] - (diameters[-2] - diameters[-1]) * made_for[2 * rings - 2] / slants[-1]
        gaps = math.pi * (diameters[0] - made_for[0]), math.pi * (foot - made_for[rings - 1])
        total = [slants.sum()] if rings > 2 else []
        arcs = math.pi * diameters[0], math.pi * diameters[-1]
        return np.array([*values, *total, profile.heights.sum(), area, *arcs, *gaps])

    names = [*unknown_names(rings, film), *(["slant"] if rings > 2 else []), "height", "area"]
    names += ["rim arc length", "base arc length", "seam gap at the rim", "seam gap at the base"]
    values, spread = propagate(sizes, unknowns, covariance)
    return estimates(names, values, spread)


def estimates(names: Sequence[str], values: Floats, spread: Floats) -> tuple[Estimate, ...]:
    """Numbers and their covariance as named estimates."""
    return tuple(
        Estimate(
            name=name,
            value=float(value),
            uncertainty=math.sqrt(max(variance, 0.0)),
            unit="mm²" if name == "area" else "mm",
        )
        for name, value, variance in zip(names, values, spread.diagonal(), strict=True)
    )
