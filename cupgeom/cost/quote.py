"""What an order costs, and its price.

Fees sit on the gross price, so that it must hold them too::

    price = (cost + profit + fixed fee) / (1 − fee share)

All money is Decimal. Lines are kept to the full; the price of an order is rounded up to the cent, once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from cupgeom.cost.amounts import Amounts
from cupgeom.errors import CupgeomError, Notice
from cupgeom.shelf.rates import Rates

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One item of the cost of an order.

    Parameters
    ----------
    what
        In words.
    amount
        How much of it, in words.
    cost
        For the whole order.
    per_cup
        Whether it grows with the cups, so that cups that fail cost it too.
    """

    what: str
    amount: str
    cost: Decimal
    per_cup: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What an order costs and what it is sold for.

    Parameters
    ----------
    quantity
        Cups.
    lines
        Of the cost, spoilage among them.
    rates
        By which it was reckoned.
    notices
        What has no price.
    """

    quantity: int
    lines: tuple[Line, ...]
    rates: Rates
    notices: tuple[Notice, ...] = ()

    @property
    def cost(self) -> Decimal:
        """Of the order."""
        return sum((line.cost for line in self.lines), Decimal(0))

    @property
    def profit(self) -> Decimal:
        """Of the order, before rounding."""
        return self.cost * self.rates.profit

    @property
    def price(self) -> Decimal:
        """Of the order, rounded up to the cent."""
        return price(self.cost, self.profit, self.rates.fee, self.rates.fixed_fee)

    @property
    def fees(self) -> Decimal:
        """What is kept from the price."""
        return self.price * self.rates.fee + self.rates.fixed_fee

    @property
    def cost_per_cup(self) -> Decimal:
        """Rounded to the cent."""
        return (self.cost / self.quantity).quantize(CENT, ROUND_HALF_UP)

    @property
    def price_per_cup(self) -> Decimal:
        """Rounded up to the cent."""
        return (self.price / self.quantity).quantize(CENT, ROUND_CEILING)


def price(cost: Decimal, profit: Decimal, fee: Decimal, fixed_fee: Decimal) -> Decimal:
    """The least price in whole cents that pays cost, profit and both fees.

    Raises
    ------
    CupgeomError
        When the fee takes all of the price.
    """
    if not 0 <= fee < 1:
        raise CupgeomError("fee", f"must be from 0 to below 1, got {fee}")
    cents = Fraction(cost + profit + fixed_fee) / Fraction(1 - fee) * 100
    return Decimal(-(-cents.numerator // cents.denominator)) * CENT


def quote(amounts: Amounts, rates: Rates) -> Quote:
    """What an order of these amounts costs."""
    bill = _Bill(amounts, rates)
    quantity = amounts.quantity
    bill.named("blank", amounts.blank or "cup", "cup", float(quantity), "")
    for name, millilitres in amounts.resin_ml.items():
        bill.add(f"resin {name}", f"{millilitres:.0f} mL", _times(bill.resin(name), millilitres))
    for name, sheets in amounts.sheets.items():
        bill.named("sheet", name, name, sheets, "sheets")
    for unit, named in (("g", amounts.glitter_g), ("mL", amounts.paint_ml)):
        for name, much in named.items():
            bill.named("material", name, name, much, unit)
    bill.add("consumables", f"{amounts.coats * quantity} coats", rates.coat * amounts.coats * quantity)
    bill.add("work", f"{amounts.hands_min / 60:.1f} h", _times(rates.hour, Fraction(amounts.hands_min) / 60))
    bill.add(
        "rack", f"{amounts.rack_min / 60:.1f} place hours", _times(rates.rack_hour, Fraction(amounts.rack_min) / 60)
    )
    failing = sum((line.cost for line in bill.lines), Decimal(0)) * rates.spoilage / (1 - rates.spoilage)
    bill.add("spoilage", f"{(rates.spoilage * 100).normalize():f} % of the cups", failing)
    bill.add("packing", f"{quantity} cups", rates.packing * quantity)
    bill.add("parcel", "1 order", rates.parcel, per_cup=False)
    bill.add("postage", "1 order", rates.postage, per_cup=False)
    return Quote(quantity=quantity, lines=tuple(bill.lines), rates=rates, notices=tuple(bill.notices))


def quantity_table(amounts_for: Callable[[int], Amounts], rates: Rates, quantities: Sequence[int]) -> tuple[Quote, ...]:
    """The quote for each of several quantities; what they take is asked for one by one, since batches do not scale."""
    return tuple(quote(amounts_for(quantity), rates) for quantity in quantities)


class _Bill:
    """Lines while they are put together; one that costs nothing and was given no price is told of."""

    def __init__(self, amounts: Amounts, rates: Rates) -> None:
        self.amounts, self.rates = amounts, rates
        self.lines: list[Line] = []
        self.notices: list[Notice] = []

    def add(self, what: str, amount: str, cost: Decimal, *, per_cup: bool = True) -> None:
        if cost:
            self.lines.append(Line(what=what, amount=amount, cost=cost, per_cup=per_cup))

    def named(self, kind: str, name: str, what: str, much: float, unit: str) -> None:
        each = self.rates.price(kind, name)
        if each is None:
            if much:
                self.notices.append(Notice(f"rates.{kind}", f"has no price for {name}; it is left out", "give one"))
            return
        amount = f"{much:.2f}".rstrip("0").rstrip(".")
        self.add(what, f"{amount} {unit}".strip(), _times(each, much))

    def resin(self, name: str) -> Decimal:
        own = self.amounts.resin_prices.get(name)
        if own is None and not self.rates.resin_ml:
            self.notices.append(Notice("rates.resin_ml", f"has no price for {name}; it is left out", "give one"))
        return self.rates.resin_ml if own is None else own


def _times(each: Decimal, much: float | Fraction) -> Decimal:
    """Money for an amount, to ten places more than a cent."""
    exact = Fraction(each) * Fraction(much)
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(Decimal("1e-12"))
