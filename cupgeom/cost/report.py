"""A quote in words for a maker, and in numbers for programs. Money is shown to the cent, and counted to the full."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from cupgeom.cost.quote import CENT, Quote
from cupgeom.cost.shopping import Need


def table(found: Quote, what: str = "") -> str:
    """Each item of the cost, for the order and for a cup; then profit, fees and the price."""
    rates, quantity = found.rates, found.quantity
    unit = f" {rates.currency}" if rates.currency else ""
    rows = [("", "", f"order{unit}", f"a cup{unit}")]
    rows += [(line.what, line.amount, money(line.cost), money(line.cost / quantity)) for line in found.lines]
    rows.append(("cost", "", money(found.cost), money(found.cost_per_cup)))
    rows.append(("profit", f"{share(rates.profit)} of the cost", money(found.profit), money(found.profit / quantity)))
    if found.fees:
        said = f"{share(rates.fee)} of the price" + (f" and {money(rates.fixed_fee)}" if rates.fixed_fee else "")
        rows.append(("fees", said, money(found.fees), money(found.fees / quantity)))
    rows.append(("price", "", money(found.price), money(found.price_per_cup)))
    head = f"{cups(quantity)}{f' of {what}' if what else ''}"
    return "\n".join([head, *_aligned(rows, left=2)])


def quantities(quotes: Sequence[Quote]) -> str:
    """Cost and price of several quantities side by side."""
    rows = [("cups", "cost", "a cup", "price", "a cup")]
    rows += [
        (str(one.quantity), money(one.cost), money(one.cost_per_cup), money(one.price), money(one.price_per_cup))
        for one in quotes
    ]
    return "\n".join(_aligned(rows, left=0))


def needs(found: Sequence[Need]) -> str:
    """The shopping list, a line each."""
    rows = [(one.what, str(one).rpartition(": ")[2]) for one in found]
    return "\n".join(_aligned([("to have at hand", ""), *rows], left=2))


def numbers(found: Quote) -> dict[str, object]:
    """Everything for programs; money as text, so that no cent is lost."""
    return {
        "quantity": found.quantity,
        "currency": found.rates.currency,
        "lines": [
            {"what": line.what, "amount": line.amount, "cost": f"{line.cost:f}", "per_cup": line.per_cup}
            for line in found.lines
        ],
        "cost": f"{found.cost:f}",
        "profit": f"{found.profit:f}",
        "fees": f"{found.fees:f}",
        "price": f"{found.price:f}",
        "cost_per_cup": f"{found.cost_per_cup:f}",
        "price_per_cup": f"{found.price_per_cup:f}",
    }


def numbers_of_needs(found: Sequence[Need]) -> list[dict[str, object]]:
    """The shopping list for programs."""
    return [{"what": one.what, "amount": one.amount, "unit": one.unit} for one in found]


def money(amount: Decimal) -> str:
    """An amount to the cent."""
    return f"{amount.quantize(CENT, ROUND_HALF_UP):f}"


def share(part: Decimal) -> str:
    """A share in per cent."""
    return f"{(part * 100).normalize():f} %"


def cups(quantity: int) -> str:
    """So many cups, in words."""
    return f"{quantity} cup" + ("" if quantity == 1 else "s")


def _aligned(rows: Sequence[tuple[str, ...]], left: int) -> list[str]:
    """Rows in columns: the first `left` begin alike, the rest end alike."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return [
        "  ".join(
            cell.ljust(width) if column < left else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
