"""Mixing a batch: both parts on the marks of the measuring cup, the ratio exact; or by the scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cupgeom.coating.resin import Resin
from cupgeom.errors import require_at_least, require_positive

MARK_ML = 2.5  # marks of a small measuring cup: common practice, no source
TOLERATED = 0.05  # error of the ratio from which on the scale is used: common practice, the data sheet rules
LEAST_BATCH_ML = 5.0  # less cannot be measured and stirred well: what is mixed for a tack coat, common practice
_MOST_ROUNDING = 2.0  # times what is needed; a ratio such as 100:83 hits the marks in pails only, so it is weighed
SHORT = 0.02  # share of what is needed, and a tenth of a step at most, by which a batch may fall short: assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """What is mixed and does not end on a cup, for each batch [mL]; together 4 mL: common practice, no source."""

    pot_ml: float = 2.5
    stick_ml: float = 0.5
    drips_ml: float = 1.0

    def __post_init__(self) -> None:
        for where in ("pot_ml", "stick_ml", "drips_ml"):
            require_at_least(where, getattr(self, where), 0, "mL")

    @property
    def total_ml(self) -> float:
        """All of it [mL]."""
        return self.pot_ml + self.stick_ml + self.drips_ml


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """One batch as it is measured out.

    Attributes
    ----------
    a_ml, b_ml
        The two parts [mL].
    a_g, b_g
        The same on the scale [g], to 0.1.
    on_marks
        Whether both parts lie on marks of the measuring cup.
    ratio_error
        How far the ratio may be off, as a share, when each part is read half a mark wrong; 1 is twice the ratio.
    """

    a_ml: float
    b_ml: float
    a_g: float
    b_g: float
    on_marks: bool
    ratio_error: float

    @property
    def total_ml(self) -> float:
        """What the pot holds [mL]."""
        return self.a_ml + self.b_ml

    @property
    def total_g(self) -> float:
        """What the pot holds [g]."""
        return self.a_g + self.b_g

    @property
    def weigh(self) -> bool:
        """Whether the marks are too coarse for this batch."""
        return not self.on_marks or self.ratio_error > TOLERATED


def mix(resin: Resin, needed_ml: float, mark_ml: float = MARK_ML) -> Mix:
    """The least batch that gives what is needed, or a hair less, both parts on marks and the ratio exact.

    Where that would more than double it, as for a ratio of 100:83, the parts are left where they are and weighed.
    """
    require_positive("needed", needed_ml, "mL")
    require_positive("mark", mark_ml, "mL")
    share_a, share_b = resin.parts
    ratio = share_a / share_b
    step = (ratio.numerator + ratio.denominator) * mark_ml
    steps = math.ceil((needed_ml - min(SHORT * needed_ml, step / 10)) / step)
    on_marks = steps * step <= _MOST_ROUNDING * needed_ml
    if on_marks:
        a_ml, b_ml = steps * ratio.numerator * mark_ml, steps * ratio.denominator * mark_ml
    else:
        a_ml, b_ml = float(share_a) * needed_ml, float(share_b) * needed_ml
    return Mix(
        a_ml=a_ml,
        b_ml=b_ml,
        a_g=round(a_ml * resin.density_a_g_per_ml, 1),
        b_g=round(b_ml * resin.density_b_g_per_ml, 1),
        on_marks=on_marks,
        ratio_error=ratio_error(a_ml, b_ml, mark_ml / 2),
    )


def ratio_error(a_ml: float, b_ml: float, misread_ml: float) -> float:
    """Largest error of the ratio, as a share, with one part read too full and the other too empty by `misread_ml`."""

    def too_much(more: float, less: float) -> float:
        return math.inf if less <= misread_ml else (more + misread_ml) * less / ((less - misread_ml) * more) - 1

    return max(too_much(a_ml, b_ml), too_much(b_ml, a_ml))
