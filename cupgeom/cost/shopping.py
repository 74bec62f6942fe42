"""What to have at hand before one or more orders are begun."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cupgeom.cost.amounts import Amounts
from cupgeom.shelf.rates import Rates


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How much of something is used."""

    what: str
    amount: float
    unit: str

    def __str__(self) -> str:
        shown = f"{self.amount:.0f}" if self.unit in ("cups", "sheets", "mL") else f"{self.amount:.1f}"
        unit = self.unit.removesuffix("s") if shown == "1" else self.unit
        return f"{self.what}: {shown} {unit}"


def shopping(orders: Sequence[Amounts], rates: Rates, at_hand: Mapping[str, float] | None = None) -> tuple[Need, ...]:
    """What all orders take, with what cups that fail take too, less what is at hand.

    Cups are rounded up within each order, whole sheets over all orders.
    """
    begun = 1 / (1 - Fraction(rates.spoilage))
    needs: dict[tuple[str, str], Fraction] = {}
    for order in orders:
        add = [(order.blank or "cup", "cups", Fraction(math.ceil(order.quantity * begun)))]
        for unit, named in (
            ("mL", order.resin_ml),
            ("sheets", order.sheets),
            ("g", order.glitter_g),
            ("mL", order.paint_ml),
        ):
            add += [(name, unit, Fraction(much) * begun) for name, much in named.items()]
        for name, unit, much in add:
            needs[name, unit] = needs.get((name, unit), Fraction(0)) + much
    found = []
    for (name, unit), much in needs.items():
        rest = much - Fraction((at_hand or {}).get(name, 0))
        amount = math.ceil(rest) if unit in ("cups", "sheets") else float(rest)
        if rest > 0:
            found.append(Need(what=name, amount=amount, unit=unit))
    return tuple(found)
