"""How much glitter or paint a zone of the wall takes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, require_positive

if TYPE_CHECKING:
    from cupgeom.cup import Cup
    from cupgeom.plan import Step, Zone
    from cupgeom.shelf.rates import Rates

MM2_PER_CM2 = 100
MM2_PER_M2 = 1_000_000


def zone_area(cup: Cup, zone: Zone | None) -> float:
    """Area of a zone of the wall [mm²]: the band between its levels, as much of the way round as it takes.

    Without a zone, the coated range all round.

    Raises
    ------
    CupgeomError
        Naming ``from`` or ``to``, when a level is not on the wall, or nothing is left between them.
    """
    coated = cup.coated_span
    if zone is None:
        return cup.area_between(coated.top, coated.bottom)
    ends = []
    for where, level, default in (("from", zone.top, coated.top), ("to", zone.bottom, coated.bottom)):
        drop = default if level is None else level.drop_on(cup.slant)
        if drop > cup.slant * (1 + 1e-12):
            raise CupgeomError(where, f"must be on the wall (drop 0 to {cup.slant:.2f} mm), got {drop:.2f} mm")
        ends.append(drop)
    if ends[1] <= ends[0]:
        raise CupgeomError("to", f"leaves nothing between drop {ends[0]:.2f} mm and drop {ends[1]:.2f} mm")
    return cup.area_between(ends[0], ends[1]) * zone.share


def amount_for(area: float, per_m2: float) -> float:
    """How much covers an area [mm²], at a rate a m²."""
    require_positive("per_m2", per_m2, "a m²")
    return area / MM2_PER_M2 * per_m2


def materials(steps: Sequence[Step], cup: Cup, rates: Rates) -> tuple[dict[str, float], dict[str, float]]:
    """Glitter [g] and paint [mL] that one cup takes, by name; a step without a material uses that of its kind."""
    glitter: dict[str, float] = {}
    paint: dict[str, float] = {}
    for step in steps:
        if step.do == "tack" and (step.material or step.flake is not None):
            name = step.material or "glitter"
            glitter[name] = glitter.get(name, 0.0) + amount_for(zone_area(cup, step.zone), rates.glitter_g_per_m2)
        elif step.do == "paint":
            name = step.material or "paint"
            paint[name] = paint.get(name, 0.0) + amount_for(zone_area(cup, step.zone), rates.paint_ml_per_m2)
    return glitter, paint
