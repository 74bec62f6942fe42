"""How much a flat sheet must give to lie on a curved run of a profile, and how far down it may go."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.cup import Span
from cupgeom.errors import CupgeomError, Notice, number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from cupgeom.profile.chain import Profile

    Floats = NDArray[np.float64]

LIMIT_PERCENT = 1.0  # that a printed film gives before it wrinkles or tears; a medium's own figure rules (assumed)
_STEP = 0.1  # mm; a stopping drop is given to this, rounded up the wall
_CLOSE = 1e-6  # mm to which the drop of the limit is found


@dataclass(frozen=True, slots=True, kw_only=True)
class Strain:
    """What a flat sheet must give, as shares of its own size.

    Notes
    -----
    The sheet is cut for the cone through the run's two edges and laid on evenly along the height::

            edge o                     ρ_cone(f) = ρ₁ + (ρ₂ − ρ₁) f     straight from edge to edge
                 |\\  .                 ρ_true(f) = radius of the curve at the share f of its length
             cone| \\   .  curve
                 |  \\   .              around = max |ρ_true/ρ_cone − 1|
                 |   \\  .              along = arc/chord − 1
            edge ----- o
    """

    around: float
    along: float

    @property
    def worst(self) -> float:
        """The larger of the two."""
        return max(self.around, self.along)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFit:
    """A run of a profile asked of one flat sheet: its strain, and the longest run from its top within the limit."""

    span: Span
    strain: Strain
    run: Span
    notices: tuple[Notice, ...] = ()


def strain(drop: Floats, radius: Floats, height: Floats) -> Strain:
    """Strain over a run, from points of shape (n,) that begin at its top edge and end at its bottom edge."""
    import numpy as np

    length = drop[-1] - drop[0]
    share = (drop - drop[0]) / length
    cone = radius[0] + (radius[-1] - radius[0]) * share
    inner = (share > 0) & (share < 1)
    around = float(np.abs(radius[inner] / cone[inner] - 1).max(initial=0.0)) if cone.any() else math.inf
    chord = math.hypot(radius[-1] - radius[0], height[-1] - height[0])
    return Strain(around=around, along=float(length / chord) - 1)


def sheet_fit(profile: Profile, span: Span, limit_percent: float) -> SheetFit:
    """The strain of one sheet over the span, and the longest run from the span's top that keeps within the limit.

    Raises
    ------
    CupgeomError
        When no run keeps within the limit.
    """
    asked, limit = strain(*profile.samples(span)), limit_percent / 100
    if asked.worst <= limit:
        return SheetFit(span=span, strain=asked, run=span)
    bottom = _lowest(profile, span, limit)
    if bottom <= span.top:
        raise CupgeomError("limit_percent", f"no run of this curve keeps within {number(limit_percent)} %")
    index = profile.piece_at(bottom)
    stop = math.floor(bottom / _STEP) * _STEP
    notice = Notice(
        f"profile.pieces[{index}]",
        f"one flat sheet from drop {span.top:.1f} mm to {span.bottom:.1f} mm would have to give "
        f"{100 * asked.worst:.3g} %, more than its limit of {number(limit_percent)} %",
        f"stop at the {profile.pieces[index].role}, at drop {stop:.1f} mm",
    )
    return SheetFit(span=span, strain=asked, run=Span(top=span.top, bottom=bottom), notices=(notice,))


def _lowest(profile: Profile, span: Span, limit: float) -> float:
    """Lowest drop to which a run from the span's top keeps within the limit; the span itself does not."""
    drop, radius, height = profile.samples(span)
    count = len(drop)
    while drop[count - 1] > span.top + _CLOSE and strain(drop[:count], radius[:count], height[:count]).worst > limit:
        count -= 1
    keeps, passes = max(float(drop[count - 1]), span.top), float(drop[count])
    while passes - keeps > _CLOSE:
        middle = (keeps + passes) / 2
        within = strain(*profile.samples(Span(top=span.top, bottom=middle))).worst <= limit
        keeps, passes = (middle, passes) if within else (keeps, middle)
    return keeps
