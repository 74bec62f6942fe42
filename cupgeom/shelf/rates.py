"""What things cost, as it stands in the shop file under [rates]; a job may say otherwise, key by key.

::

    [rates]
    currency = "EUR"
    hour = "18.00"                             # of work by hand
    rack_hour = "0.05"                         # of one place on the rack
    blank = "7.50"                             # a cup; or by name: { "tapered 20" = "7.50", mug = "4" }
    sheet = { "cut vinyl" = "1.20" }           # a sheet of each medium
    material = { "fine blue" = "0.06" }        # glitter a g, paint a mL
    resin_ml = "0.04"                          # where the resin itself has no price
    coat = "0.35"                              # gloves, cups and sticks for a coat on one cup
    packing = "1.10"                           # for each cup
    parcel = "0.80"                            # for each order
    postage = "6.90"
    spoilage = 0.05                            # share of cups that fail
    profit = 0.25                              # share of the cost
    fee = 0.065                                # share of the price that somebody keeps
    fixed_fee = "0.30"                         # for each order
    glitter_g_per_m2 = 150
    paint_ml_per_m2 = 120

An amount in quotes is exact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from cupgeom.errors import CupgeomError, require_positive
from cupgeom.records import NUMBER, TEXT, Kind, Table, above_zero, shown
from cupgeom.shelf.resins import PRICE

ALL = ""  # the name under which a price stands that holds for every name
Prices = Mapping[str, Decimal]
_SHARES = ("spoilage", "profit", "fee")
_AMOUNTS = ("hour", "rack_hour", "resin_ml", "coat", "packing", "parcel", "postage", "fixed_fee")
_NAMED = ("blank", "sheet", "material")


def _nothing() -> Prices:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """What things cost in one currency; everything left out costs nothing.

    Parameters
    ----------
    currency
        Its name or sign, as it shall be shown.
    hour, rack_hour
        Of work by hand, of one place on the rack [1/h].
    blank, sheet, material
        A cup, a sheet of a medium, a g of glitter or mL of paint, by name; `ALL` for those not named.
    resin_ml
        A mL of mixed resin that has no price of its own.
    coat
        What a coat on one cup uses up besides resin.
    packing, parcel, postage
        For each cup; for each order.
    spoilage
        Share of the cups begun that fail.
    profit
        Share of the cost.
    fee, fixed_fee
        What is kept from the price: a share of it, and an amount for each order.
    glitter_g_per_m2, paint_ml_per_m2
        How much covers a zone; assumed where it is not given.

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    currency: str = ""
    hour: Decimal = Decimal(0)
    rack_hour: Decimal = Decimal(0)
    blank: Prices = field(default_factory=_nothing)
    sheet: Prices = field(default_factory=_nothing)
    material: Prices = field(default_factory=_nothing)
    resin_ml: Decimal = Decimal(0)
    coat: Decimal = Decimal(0)
    packing: Decimal = Decimal(0)
    parcel: Decimal = Decimal(0)
    postage: Decimal = Decimal(0)
    spoilage: Decimal = Decimal(0)
    profit: Decimal = Decimal(0)
    fee: Decimal = Decimal(0)
    fixed_fee: Decimal = Decimal(0)
    glitter_g_per_m2: float = 150.0
    paint_ml_per_m2: float = 120.0

    def __post_init__(self) -> None:
        for where in (*_SHARES, *_AMOUNTS):
            value = getattr(self, where)
            if not (isinstance(value, Decimal) and value.is_finite() and value >= 0):
                raise CupgeomError(where, f"must be 0 or more, got {value}")
        for where in ("spoilage", "fee"):
            if getattr(self, where) >= 1:
                raise CupgeomError(where, f"must be below 1, such as 0.05 for 5 %, got {getattr(self, where)}")
        for where in ("glitter_g_per_m2", "paint_ml_per_m2"):
            require_positive(where, getattr(self, where), "a m²")

    def price(self, kind: str, name: str) -> Decimal | None:
        """What one of this name costs, None where that is not known; `kind` is ``blank``, ``sheet`` or ``material``."""
        prices: Prices = getattr(self, kind)
        return prices.get(name, prices.get(ALL))


def parse_rates(table: Table, base: Rates | None = None) -> Rates | None:
    """Rates from the keys of a table, those left out as in `base`; None when something is wrong, which is noted."""
    given: dict[str, Any] = {key: table.maybe(key, SHARE) for key in _SHARES}
    given |= {key: table.maybe(key, PRICE) for key in _AMOUNTS}
    given |= {key: table.maybe(key, PRICES) for key in _NAMED}
    given |= {key: table.maybe(key, above_zero(NUMBER)) for key in ("glitter_g_per_m2", "paint_ml_per_m2")}
    given["currency"] = table.maybe("currency", TEXT)
    start = base or Rates()
    whole = {entry.name: getattr(start, entry.name) for entry in fields(Rates)}
    return table.make(lambda: Rates(**whole | {key: value for key, value in given.items() if value is not None}))


def _share(value: object) -> Decimal:
    try:
        return PRICE.parse(value)
    except CupgeomError:
        raise CupgeomError("", f"must be {SHARE.forms}, got {shown(value)}") from None


def _prices(value: object) -> Prices:
    if not isinstance(value, dict):
        return MappingProxyType({ALL: PRICE.parse(value)})
    found = {}
    for name, price in value.items():
        try:
            found[name] = PRICE.parse(price)
        except CupgeomError as error:
            raise CupgeomError("", f"{name}: {error.what}") from None
    if not found:
        raise CupgeomError("", f"must be {PRICES.forms}, got {shown(value)}")
    return MappingProxyType(found)


SHARE = Kind(_share, "a share of 0 or more such as 0.05", Decimal(0))
PRICES = Kind(_prices, 'an amount such as "7.50", or amounts by name such as { mug = "4.00" }', _nothing())
