"""What a paper fit says: a printed wrap laid round the cup, and how far its edges miss each other.

The gaps
--------
The paper's edge was printed L long for a diameter it was believed to have. Laid round the true cup, its ends miss each
other by a gap g (negative: they overlap), so that the true edge is L + g long. Paper of thickness t bends about its
middle, t/2 outside the wall: π(d + t) = L + g. The thickness is 0 unless given; 0.1 mm of paper is worth 0.3 mm of gap.

The step
--------
A closed wrap for a wall of top radius R' and cone constant k' has on the flat a top edge that is an arc of radius
R'/k', length L = 2πR' and turn φ = 2πk'. On the true cone (top radius R, cone constant k) the rim unrolls to an arc of
radius R/k. Lay the left end of the paper's edge level on the rim: on the unrolled cone both arcs start at the same
point with the same tangent. Paper does not stretch, so it lies on the cone as its flat form lies on the unrolled cone::

      left end                                  x = L sin φ/φ             to the right along the tangent
         o-----_____          rim, R/k          y = −L (1 − cos φ)/φ      up
         |   - _     ----___
         |       - _        | step
         |    paper  - _    v
         |    R'/k'      - _o right end

The right end lies at the distance q/k from the cone's apex, at (0, −R/k); the rim at R/k. Their difference is the step,
positive when the loose end stands above the rim, negative when it hangs below as in the drawing::

    q = hypot(kx, R + ky)      step = (q − R)/k = (k(x² + y²) + 2Ry)/(R + q)

The last form holds for k = 0 too. For a slight taper and the right rim it is 2π²R(k − k'): a cone constant that is
wrong by 0.001 gives a step of 0.9 mm on a rim of 88 mm, upward when the cup has more taper than the paper. Laying the
*right* end level gives the same step at the left.
The formulas are our own derivation; a test traces the paper's edge over the cone as a curve of given bend.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.cup import LARGEST_SIZE, Cup
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most, require_finite, within
from cupgeom.measure.place import BASE, RIM, Place
from cupgeom.measure.reading import Reading, RoundReading

if TYPE_CHECKING:
    from cupgeom.measure.profile import Floats, Profile

PAPER_GAP_UNCERTAINTY = 0.2  # mm, k = 1; assumed
PAPER_STEP_UNCERTAINTY = 0.5  # mm, k = 1; assumed: 50 mm of the edge laid level within 0.1 mm, carried round a rim


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeGap(RoundReading):
    """The gap (+) or overlap (−) of a printed edge round the cup: true length = printed length + gap.

    Parameters
    ----------
    printed
        The cup that the paper was printed for.
    at
        Where the edge lies, on the printed cup and on the true one alike.
    thickness
        Thickness of the paper [mm].
    """

    uncertainty: float = PAPER_GAP_UNCERTAINTY
    printed: Cup
    thickness: float = 0.0

    def _check(self) -> None:
        require_finite(self.name, self.value)
        require_at_most(self.name, abs(self.value), LARGEST_SIZE)
        require_at_least(f"{self.name}.thickness", self.thickness, 0)
        with within(f"{self.name}.at"):
            self.at.drop_on(self.printed)
        if self.diameter <= 0:
            raise CupgeomError(
                self.name,
                f"an overlap must be less than the printed edge ({number(self.printed_length)} mm), "
                f"got {number(-self.value)} mm",
            )

    @property
    def printed_length(self) -> float:
        """Length of the printed edge."""
        return math.tau * self.printed.radius_at(self.at.drop_on(self.printed))

    @property
    def diameter(self) -> float:
        """Diameter that the edge went round."""
        return (self.printed_length + self.value) / math.pi - self.thickness

    @property
    def _words(self) -> str:
        return f"paper gap {'' if self.at.up is not None else 'at '}{self.at.words}"

    def predict(self, profile: Profile) -> Floats:
        """π(d + t) − L."""
        return math.pi * (profile.diameter(self.at) + self.thickness) - self.printed_length


@dataclass(frozen=True, slots=True, kw_only=True)
class SeamStep(Reading):
    """How far the right end of a printed top edge stands above the rim (−: below), the left end laid level on it.

    Parameters
    ----------
    printed
        The cup that the paper was printed for.
    at
        Where the paper's top edge lies, on the printed cup and on the true one alike.
    """

    uncertainty: float = PAPER_STEP_UNCERTAINTY
    printed: Cup
    at: Place = RIM

    def _check(self) -> None:
        require_finite(self.name, self.value)
        require_at_most(self.name, abs(self.value), LARGEST_SIZE)
        if self.at.counted_from_base:
            raise CupgeomError(f"{self.name}.at", f"must be the paper's top edge, got {self.at.words}")
        with within(f"{self.name}.at"):
            if self.at.drop_on(self.printed) >= self.printed.slant:
                raise CupgeomError("", f"must be the paper's top edge, got {self.at.words}")

    @property
    def _words(self) -> str:
        return "step at the seam" if self.at == RIM else f"step at the seam at {self.at.words}"

    @property
    def places(self) -> tuple[Place, ...]:
        """Where the paper's top edge lies."""
        return (self.at,)

    def predict(self, profile: Profile) -> Floats:
        """The step of `seam_step`."""
        radius = self.printed.radius_at(self.at.drop_on(self.printed))
        constant = self.at.wall_on(self.printed).cone_constant
        return seam_step(radius, constant, profile.diameter(self.at) / 2, profile.cone_constant(self.at))


def seam_step(printed_radius: float, printed_constant: float, radius: Floats, constant: Floats) -> Floats:
    """Step at the seam of a closed wrap laid on another cone, positive when the loose end stands above the rim.

    Parameters
    ----------
    printed_radius, printed_constant
        Top radius [mm] and cone constant of the wall that the wrap was printed for.
    radius, constant
        The same of the true wall; numbers or arrays.

    Notes
    -----
    Derived at the top of this module.
    """
    import numpy as np

    length, turn = math.tau * printed_radius, math.tau * printed_constant
    x = length * np.sinc(turn / math.pi)
    y = -length * turn / 2 * np.sinc(turn / math.tau) ** 2
    reach = np.hypot(constant * x, radius + constant * y)
    both = radius + reach
    step: Floats = (constant * (x * x + y * y) + 2 * radius * y) / np.where(both > 0, both, np.nan)
    return step


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperGap:
    """What was read off a fit-test print wrapped round the cup: up to three readings of the same fit.

    Parameters
    ----------
    printed
        The cup that the paper was printed for.
    rim, base
        Gap (+) or overlap (−) at the paper's top and base edge [mm]; None where it was not read.
    step
        How far the right seam edge stands above (−: below) the left one, which is laid level on the rim, seen from
        outside with the print upright [mm]; None where it was not read.
    top, bottom
        Where the paper's edges lie; for a wrap of one wall of a cup of many, its two rings.
    uncertainty, step_uncertainty
        Standard uncertainty of each gap and of the step, k = 1 [mm].
    thickness
        Thickness of the paper [mm].
    coated
        Read on the coated cup.

    Raises
    ------
    CupgeomError
        When nothing was read, or naming the reading that cannot be.
    """

    printed: Cup
    rim: float | None = None
    base: float | None = None
    step: float | None = None
    top: Place = RIM
    bottom: Place = BASE
    uncertainty: float = PAPER_GAP_UNCERTAINTY
    step_uncertainty: float = PAPER_STEP_UNCERTAINTY
    thickness: float = 0.0
    coated: bool = False

    def __post_init__(self) -> None:
        if not self.readings:
            raise CupgeomError("paper_gap", "nothing was read; give the gap at the rim, at the base, or the step")

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings that the fit takes."""
        found: list[Reading] = []
        for value, place in ((self.rim, self.top), (self.base, self.bottom)):
            if value is not None:
                found.append(
                    EdgeGap(
                        value=value,
                        at=place,
                        printed=self.printed,
                        uncertainty=self.uncertainty,
                        thickness=self.thickness,
                        coated=self.coated,
                    )
                )
        if self.step is not None:
            found.append(
                SeamStep(
                    value=self.step,
                    at=self.top,
                    printed=self.printed,
                    uncertainty=self.step_uncertainty,
                    coated=self.coated,
                )
            )
        return tuple(found)
