"""Money: what an order takes (`Amounts`), what it costs and is sold for (`quote`), what to buy (`shopping`)."""

from cupgeom.cost.amounts import Amounts, labour
from cupgeom.cost.quote import CENT, Line, Quote, price, quantity_table, quote
from cupgeom.cost.shopping import Need, shopping
from cupgeom.cost.zone import amount_for, materials, zone_area
from cupgeom.shelf.rates import Rates

__all__ = [
    "CENT",
    "Amounts",
    "Line",
    "Need",
    "Quote",
    "Rates",
    "amount_for",
    "labour",
    "materials",
    "price",
    "quantity_table",
    "quote",
    "shopping",
    "zone_area",
]
