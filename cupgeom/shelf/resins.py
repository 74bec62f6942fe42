"""The maker's resins and racks, as they stand in the shop file.

::

    [resins."slow clear"]
    ratio = [2, 1]                             # A, B by volume
    density = [1.12, 1.02]                     # g/mL of A and B
    viscosity = [[22, 1.1], [35, 0.4]]         # °C and Pa·s, one or two pairs; or "thin", "medium", "thick"
    pot_life_min = 40
    pot_life_mass_g = 100
    gel_min = 300
    recoat_min = [240, 720]                    # from, until
    sandable_from_min = 720
    in_service_from_min = 10080
    largest_batch_g = 150                      # may be left out, as may temperature_c, price_per_ml and notes
    price_per_ml = "0.031"                     # in quotes, so that it is exact

    [racks]
    slow = 3                                   # turns a minute
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError
from cupgeom.records import NUMBER, TEXT, Kind, Table, above_zero, choice, row, shown

if TYPE_CHECKING:
    from cupgeom.coating.resin import Body, Resin

_BODY_FORMS = "thin, medium or thick, or a list of one or two pairs of °C and Pa·s such as [[22, 1.0]]"
_FIELDS = {
    "ratio[]": "ratio[]",
    "density_a_g_per_ml": "density[0]",
    "density_b_g_per_ml": "density[1]",
    "recoat_from_min": "recoat_min[0]",
    "recoat_until_min": "recoat_min[1]",
}
_PAIR = row(NUMBER, 2, "two numbers in brackets")


def parse_resin(name: str, table: Table) -> Resin | None:
    """A resin from the keys of its table; None when something is wrong, which is noted."""
    from cupgeom.coating.resin import LARGEST_BATCH_G, ROOM_C, Resin

    ratio, density = table.take("ratio", _PAIR), table.take("density", _PAIR)
    viscosity = table.take("viscosity", VISCOSITY)
    minutes = above_zero(NUMBER)
    pot_life, pot_mass, gel = (table.take(key, minutes) for key in ("pot_life_min", "pot_life_mass_g", "gel_min"))
    recoat = table.take("recoat_min", _PAIR)
    sandable, in_service = (table.take(key, minutes) for key in ("sandable_from_min", "in_service_from_min"))
    largest = table.take("largest_batch_g", minutes, LARGEST_BATCH_G)
    temperature = table.take("temperature_c", NUMBER, ROOM_C)
    price = table.maybe("price_per_ml", PRICE)
    table.take("notes", TEXT, "")

    def build() -> Resin:
        return Resin(
            name=name,
            ratio=(ratio[0], ratio[1]),
            density_a_g_per_ml=density[0],
            density_b_g_per_ml=density[1],
            viscosity=viscosity,
            pot_life_min=pot_life,
            pot_life_mass_g=pot_mass,
            gel_min=gel,
            recoat_from_min=recoat[0],
            recoat_until_min=recoat[1],
            sandable_from_min=sandable,
            in_service_from_min=in_service,
            largest_batch_g=largest,
            price_per_ml=price,
            temperature_c=temperature,
        )

    return table.make(build, _FIELDS)


def parse_racks(table: Table) -> list[tuple[str, float]]:
    """The racks by name, each with its turns a minute."""
    return [(name, table.take(name, above_zero(NUMBER))) for name in table.values]


def _viscosity(value: object) -> tuple[tuple[float, float], ...] | Body:
    if isinstance(value, str):
        return _BODY.parse(value)
    if not isinstance(value, list) or not value:
        raise CupgeomError("", f"must be {_BODY_FORMS}, got {shown(value)}")
    pairs = []
    for index, item in enumerate(value):
        try:
            degrees, pa_s = _PAIR.parse(item)
        except CupgeomError as error:
            raise CupgeomError(f"[{index}]{error.where}", error.what) from None
        pairs.append((degrees, pa_s))
    return tuple(pairs)


def _price(value: object) -> Decimal:
    if isinstance(value, str) or (isinstance(value, (int, float)) and not isinstance(value, bool)):
        try:
            price = Decimal(str(value))
        except InvalidOperation:
            price = Decimal("NaN")
        if price.is_finite() and price >= 0:
            return price
    raise CupgeomError("", f"must be {PRICE.forms}, got {shown(value)}")


_BODY: Kind[Body] = choice("thin", "medium", "thick")
VISCOSITY: Kind[tuple[tuple[float, float], ...] | Body] = Kind(_viscosity, _BODY_FORMS, "medium")
PRICE = Kind(_price, 'an amount of 0 or more such as "0.031"', Decimal(0))
