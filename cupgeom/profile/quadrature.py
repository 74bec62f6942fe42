"""Integrals along a curve by Gauss–Legendre rules, on panels that are halved until they agree with their halves.

Nodes and weights come from numpy; the rule with n points is exact for polynomials of degree 2n − 1 (NIST Digital
Library of Mathematical Functions, section 3.5(v)), so that a smooth curve needs few panels.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Integrand = Callable[[Floats], Floats]  # parameters of shape (n,) in, values of shape (k, n) out

POINTS = 16  # of one rule
AGREEMENT = 1e-13  # of a panel with its two halves, as a share of the whole integral
DEEPEST = 50  # halvings; what is left below them is too short to matter


@cache
def _rule(order: int) -> tuple[Floats, Floats]:
    import numpy as np

    return np.polynomial.legendre.leggauss(order)


def gauss(integrand: Integrand, points: Sequence[float] | Floats, order: int = POINTS) -> Floats:
    """Integrals of the k rows of `integrand` from each of m points to the next, one rule each, shape (k, m − 1)."""
    import numpy as np

    nodes, weights = _rule(order)
    ends = np.asarray(points)
    half = np.diff(ends) / 2
    at = ends[:-1, np.newaxis] + half[:, np.newaxis] * (1 + nodes)
    values = integrand(at.ravel())
    sums: Floats = values.reshape(len(values), *at.shape) @ weights * half
    return sums


def panels(integrand: Integrand, start: float, end: float) -> list[tuple[float, float, Floats]]:
    """Start, end and integrals, shape (k,), of stretches that are each short enough for one rule, in order."""
    whole = gauss(integrand, (start, end))[:, 0]
    allowed = AGREEMENT * abs(whole)
    done, waiting = [], [(start, end, whole, 0)]
    while waiting:
        left, right, value, depth = waiting.pop()
        middle = (left + right) / 2
        first, second = gauss(integrand, (left, middle, right)).T
        if depth == DEEPEST or (abs(first + second - value) <= allowed).all():
            done.append((left, right, first + second))
        else:
            waiting += [(middle, right, second, depth + 1), (left, middle, first, depth + 1)]
    return done


def integral(integrand: Integrand, start: float, end: float) -> Floats:
    """Integrals of the k rows of `integrand`, shape (k,)."""
    import numpy as np

    total: Floats = np.sum([value for _, _, value in panels(integrand, start, end)], axis=0)
    return total
