"""Whether the readings agree, and if not, which of them disagrees.

Whether
-------
With stated uncertainties the sum of squared weighted residuals of readings that hold no blunder follows a chi-square
law with as many degrees of freedom as there are readings more than unknowns. They disagree when a sum as large or
larger would come by chance in less than 1 % of cases.

Which
-----
Data snooping: W. Baarda, *A testing procedure for use in geodetic networks* (Netherlands Geodetic Commission, 1968;
cited from memory). With the weighted residuals v, R = I − A(AᵀA)⁻¹Aᵀ and the redundancy R_ii, the standardized residual
of reading i is w_i = v_i/√R_ii, and v_i/R_ii (in its own uncertainty) is the reading minus what the others say it
should be. Leaving out reading i takes w_i² from the chi-square, so that w_i² − w_j² is twice the logarithm of how
much better "i holds the blunder" explains the readings than "j does". The two w's have the correlation
ρ = R_ij/√(R_ii R_jj); a blunder in i moves w_j by ρ times what it moves w_i.

The blunder is pinned on i when w_i² exceeds every other w_j² by 6.6, and the others still determine it twice: without
it there is a degree of freedom left. When ρ = ±1 the two w² are equal, so that twins are never told apart. For
|ρ| < 1 the wrong one of two is pinned in at most Φ(−√6.63) = 0.5 % of cases, at the size of blunder that is worst.
Else the group that stays within 6.6 of the largest is named as a whole. After a pinned reading the rest is judged
again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, Notice, number, require_at_least
from cupgeom.measure.reading import listed

if TYPE_CHECKING:
    from cupgeom.measure.adjust import Adjustment

LEVEL = 0.01  # chance of calling good readings bad; convention
SEPARATION = NormalDist().inv_cdf(1 - 0.01 / 2) ** 2  # 6.63, chi-square of one degree at 1 %
LEAST_REDUNDANCY = 0.01  # below it an error of 40 times its uncertainty would hardly show: nothing checks the reading
_ROUNDING = 1e-6  # the w² of twins differ by less than this share of them
_SAME_SIDE = 0.25  # share of the strongest check from which a reading is named as standing against another


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One disagreement: the reading that is wrong, or the group that can't be told apart.

    Parameters
    ----------
    names
        The reading; or several, of which one is wrong.
    errors
        For each, the reading minus what the others say it should be [mm].
    read
        For each, what was read [mm].
    against
        The readings that say so, for one that is pinned.
    settle
        What to measure to tell the group apart, in words that follow "measure"; empty for one that is pinned.
    """

    names: tuple[str, ...]
    errors: tuple[float, ...]
    read: tuple[float, ...]
    against: tuple[str, ...] = ()
    settle: str = ""

    @property
    def pinned(self) -> bool:
        """Whether one reading is named."""
        return len(self.names) == 1

    @property
    def sentence(self) -> str:
        """The finding in a maker's words."""
        if self.pinned:
            stand = f" (it stands against the {listed(self.against)})" if self.against else ""
            return f"the {self.names[0]} disagrees by {_size(self.errors[0])}: measure it again{stand}"
        parts = [f"the {name} by {_size(error)}" for name, error in zip(self.names, self.errors, strict=True)]
        return f"one of these is wrong, {listed(parts, 'or')}; they can't be told apart: {self._mend}"

    @property
    def notice(self) -> Notice:
        """The finding as a notice; its place is the reading."""
        if self.pinned:
            expected = self.read[0] - self.errors[0]
            source = f"the {listed(self.against)}" if self.against else "the others"
            what = f"disagrees by {_size(self.errors[0])}: it reads {_plain(self.read[0])}, but "
            what += f"{_plain(expected)} follows from {source}"
            return Notice(self.names[0], what, "measure it again or leave it out")
        sizes = listed([_size(error) for error in self.errors], "or")
        return Notice(listed(self.names), f"can't be told apart: one of them is wrong, by {sizes}", self._mend)

    @property
    def _mend(self) -> str:
        return f"measure {self.settle} to settle it" if self.settle else "measure all of them again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether the readings agree.

    Parameters
    ----------
    chi_square, degrees
        Sum of squared weighted residuals, and how many readings there are more than unknowns.
    chance
        How often good readings would disagree as much or more; 1 when nothing checks them.
    findings
        What disagrees; empty when the readings agree at the 1 % level.
    unchecked
        Readings that no other reading checks.
    """

    chi_square: float
    degrees: int
    chance: float
    findings: tuple[Finding, ...] = ()
    unchecked: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether nothing disagrees."""
        return not self.findings

    @property
    def wrong(self) -> tuple[str, ...]:
        """The readings on which a disagreement could be pinned."""
        return tuple(finding.names[0] for finding in self.findings if finding.pinned)

    @property
    def disputed(self) -> tuple[str, ...]:
        """The readings of which one is wrong and that can't be told apart."""
        return tuple(name for finding in self.findings if not finding.pinned for name in finding.names)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """One notice a finding, and one for the readings that nothing checks."""
        notices = [finding.notice for finding in self.findings]
        if self.unchecked:
            it = "it" if len(self.unchecked) == 1 else "them"
            what = f"not checkable: no other reading bears on {it}"
            notices.append(Notice(listed(self.unchecked), what, f"read {it} a second time, best in another way"))
        return tuple(notices)


def judge(
    names: Sequence[str],
    values: Sequence[float],
    first: Adjustment,
    solve: Callable[[Sequence[int]], Adjustment],
    settle: Callable[[Adjustment, Sequence[int]], str],
) -> Verdict:
    """Say whether readings agree and which of them do not.

    Parameters
    ----------
    names, values
        What the readings are called, and what was read.
    first
        The fit of all of them.
    solve
        Fits the readings with these indices.
    settle
        Says what to measure to tell these rows of a fit apart.
    """
    import numpy as np

    kept = list(range(len(names)))
    fitted = first
    findings: list[Finding] = []
    while fitted.degrees >= 1 and chance(float(fitted.chi_square[0]), fitted.degrees) < LEVEL:
        rows = _suspects(fitted)
        errors = fitted.errors[0]
        if len(rows) > 1:
            findings.append(
                Finding(
                    names=tuple(names[kept[row]] for row in rows),
                    errors=tuple(float(errors[row]) for row in rows),
                    read=tuple(values[kept[row]] for row in rows),
                    settle=settle(fitted, rows),
                )
            )
            break
        row = rows[0]
        against = _against(fitted, row)
        findings.append(
            Finding(
                names=(names[kept[row]],),
                errors=(float(errors[row]),),
                read=(values[kept[row]],),
                against=tuple(names[kept[other]] for other in against),
            )
        )
        kept.pop(row)
        fitted = solve(kept)
    unchecked = np.flatnonzero(first.redundancies[0] < LEAST_REDUNDANCY)
    return Verdict(
        chi_square=float(first.chi_square[0]),
        degrees=first.degrees,
        chance=chance(float(first.chi_square[0]), first.degrees),
        findings=tuple(findings),
        unchecked=tuple(names[int(row)] for row in unchecked),
    )


def chance(chi_square: float, degrees: int) -> float:
    """How often a chi-square of these degrees of freedom comes out as large or larger; 1 for no degrees.

    Notes
    -----
    Closed forms for whole degrees, M. Abramowitz & I. A. Stegun, *Handbook of Mathematical Functions* (1964), 26.4.4
    and 26.4.5 (from memory; tested against scipy). With t = χ²/2 the sum of t^a/Γ(a + 1), a = 0, 1, … below ν/2 for
    even ν, times exp(−t); for odd ν a = 1/2, 3/2, … and erfc(√t) is added.
    """
    require_at_least("chi_square", chi_square, 0, "chi-square")
    if degrees < 0:
        raise CupgeomError("degrees", f"must be at least 0, got {degrees}")
    if degrees == 0 or chi_square == 0:
        return 1.0
    half, odd = chi_square / 2, degrees % 2 / 2
    powers = (math.exp((odd + k) * math.log(half) - half - math.lgamma(odd + k + 1)) for k in range(degrees // 2))
    return math.fsum(powers) + (math.erfc(math.sqrt(half)) if odd else 0.0)


def _suspects(fitted: Adjustment) -> list[int]:
    """The row on which the blunder is pinned, alone; else the rows that can't be told apart, without unchecked ones."""
    import numpy as np

    strength, redundancies = fitted.standardized[0] ** 2, fitted.redundancies[0]
    close = strength.max() - strength < max(SEPARATION, _ROUNDING * strength.max())
    if close.sum() == 1 and fitted.degrees >= 2:
        return [int(strength.argmax())]
    group = np.flatnonzero(close) if close.sum() > 1 else np.arange(len(close))
    group = group[np.argsort(-redundancies[group], kind="stable")]
    checked = max(2, int((redundancies[group] >= LEAST_REDUNDANCY).sum()))
    return sorted(int(row) for row in group[:checked])


def _against(fitted: Adjustment, row: int) -> list[int]:
    """The rows that bear most on what a row should be."""
    import numpy as np

    bearing = np.abs(fitted.checks[0, row])
    bearing[row] = 0
    return [int(other) for other in np.flatnonzero(bearing >= _SAME_SIDE * bearing.max())]


def _size(error: float) -> str:
    """A disagreement for people: ``3.1 mm``, ``0.24 mm``."""
    return f"{abs(error):.{1 if abs(error) >= 0.95 else 2}f} mm"


def _plain(value: float) -> str:
    return f"{number(round(value, 2))} mm"
