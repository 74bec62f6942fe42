"""What an order takes: cups, resin, media, glitter, paint, minutes and places on the rack."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, require_at_least

if TYPE_CHECKING:
    from cupgeom.plan import Schedule

Named = Mapping[str, float]


def _nothing() -> Named:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Amounts:
    """What all cups of an order take together, were none to fail.

    Parameters
    ----------
    quantity
        Cups that are ordered.
    blank
        Name of the cup.
    resin_ml
        Resin mixed [mL], by name.
    resin_prices
        What a mL of each costs, where the resin says so itself.
    coats
        On each cup.
    sheets
        Sheets of each medium, parts of a sheet too.
    glitter_g, paint_ml
        By name [g], [mL].
    hands_min
        Work by hand [min].
    rack_min
        Time on the rack, summed over the places [min].

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    quantity: int
    blank: str = ""
    resin_ml: Named = field(default_factory=_nothing)
    resin_prices: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))
    coats: int = 0
    sheets: Named = field(default_factory=_nothing)
    glitter_g: Named = field(default_factory=_nothing)
    paint_ml: Named = field(default_factory=_nothing)
    hands_min: float = 0.0
    rack_min: float = 0.0

    def __post_init__(self) -> None:
        for where, least in (("quantity", 1), ("coats", 0)):
            value = getattr(self, where)
            if type(value) is not int or value < least:
                raise CupgeomError(where, f"must be a whole number from {least}, got {value!r}")
        for where, unit in (("hands_min", "min"), ("rack_min", "min")):
            require_at_least(where, getattr(self, where), 0, unit)
        for where, unit in (("resin_ml", "mL"), ("sheets", "sheets"), ("glitter_g", "g"), ("paint_ml", "mL")):
            for name, value in getattr(self, where).items():
                require_at_least(f"{where}.{name}", value, 0, unit)


def labour(plan: Schedule) -> tuple[int, int]:
    """Work by hand and time on the rack, the latter summed over the places [min]."""
    hands = sum(lot.order.hands_min for lot in plan.lots)
    return hands, sum(lot.order.rack_min * lot.cups for lot in plan.lots)
