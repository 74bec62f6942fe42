"""How long each coat waits for the next, and what else dries or rests."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    from cupgeom.coating.resin import Resin


@dataclass(frozen=True, slots=True, kw_only=True)
class Drying:
    """How long what is not resin dries or rests [min].

    Assumed, but for the rest of a printed decal (about 30 min; common practice, no source); the can rules.

    Parameters
    ----------
    paint_min, seal_min
        Spray paint; the clear spray that seals a print.
    decal_min
        A printed decal on the cup, before resin.
    rinse_min
        A cup rinsed after sanding.
    wipe_min
        A cup wiped with alcohol.

    Raises
    ------
    CupgeomError
        When one is no whole number from 0.
    """

    paint_min: int = 120
    seal_min: int = 60
    decal_min: int = 30
    rinse_min: int = 30
    wipe_min: int = 5

    def __post_init__(self) -> None:
        for entry in fields(self):
            value = getattr(self, entry.name)
            if type(value) is not int or value < 0:
                raise CupgeomError(entry.name, f"must be a whole number of min from 0, got {value!r}")


def recoat_window(resin: Resin, label: str) -> tuple[int, int]:
    """Least and most minutes from a coat to the next, whole minutes inside the data sheet's own window.

    The wait is common practice for a coat of this label (see `coating.coats.WAIT_SHARES`), cut to the window's end.
    """
    from cupgeom.coating.coats import WAIT_SHARES

    most = math.floor(resin.recoat_until_min)
    return min(math.ceil(WAIT_SHARES[label] * resin.recoat_from_min), most), most
