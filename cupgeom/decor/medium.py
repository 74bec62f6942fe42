"""What a decal is made of, and what follows from it: mirror, white underlay, sealing, cut margin, seam."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, get_args

from cupgeom.errors import CupgeomError, require_at_least, require_positive

Process = Literal["inkjet", "laser", "cut", "ready-made"]
Seam = Literal["blank", "continued", "butt"]
PROCESSES: tuple[Process, ...] = get_args(Process)
SEAMS: tuple[Seam, ...] = get_args(Seam)


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """A decal medium as the maker buys it.

    Parameters
    ----------
    name
        What the maker calls it.
    process
        How the picture gets onto it: printed by ``inkjet`` or ``laser``, ``cut`` from coloured film, or ``ready-made``.
    clear
        Whether the film is clear, so that what lies under it shows through.
    mirrored
        Whether it is printed mirrored, because it goes on face down.
    white
        Whether a white underlay is printed under the picture.
    sealing
        Whether the print must be sealed before resin (an inkjet water-slide print must, a laser one need not).
    thickness
        Of the film on the cup [mm].
    cut_margin
        How far outside the picture it is cut [mm].
    least_stroke, least_gap
        Narrowest stroke and gap that can be cut or printed [mm].
    largest
        Width and height of the largest piece [mm].
    stretch_limit
        Largest strain that it takes without harm, as a share.
    seam
        Of a full wrap: ``blank``, ``continued`` or ``butt``.
    spares
        Pieces to make beyond those needed.
    invented
        Whether its figures are our example's, not the maker's.

    Raises
    ------
    CupgeomError
        Naming the field.
    """

    name: str
    process: Process
    clear: bool = True
    mirrored: bool = False
    white: bool = False
    sealing: bool = False
    thickness: float = 0.05
    cut_margin: float = 1.0
    least_stroke: float = 0.2
    least_gap: float = 0.2
    largest: tuple[float, float] = (190.0, 277.0)
    stretch_limit: float = 0.01
    seam: Seam = "butt"
    spares: int = 0
    invented: bool = False

    def __post_init__(self) -> None:
        if self.process not in PROCESSES:
            raise CupgeomError("process", f"must be one of {', '.join(PROCESSES)}, got {self.process!r}")
        if self.seam not in SEAMS:
            raise CupgeomError("seam", f"must be one of {', '.join(SEAMS)}, got {self.seam!r}")
        for where in ("thickness", "cut_margin", "least_stroke", "least_gap", "stretch_limit"):
            require_at_least(where, getattr(self, where), 0)
        for side in self.largest:
            require_positive("largest", side)
        if type(self.spares) is not int or self.spares < 0:
            raise CupgeomError("spares", f"must be a whole number from 0, got {self.spares!r}")

    @property
    def printed(self) -> bool:
        """Whether ink goes on it, rather than a blade through coloured film."""
        return self.process in {"inkjet", "laser"}


# Invented examples: the figures of the film at hand go into the shop file.
_WATER_SLIDE = Medium(name="clear water-slide", process="inkjet", sealing=True, thickness=0.03, invented=True)
EXAMPLES: tuple[Medium, ...] = (
    _WATER_SLIDE,
    replace(_WATER_SLIDE, name="white water-slide", clear=False),
    replace(_WATER_SLIDE, name="laser water-slide", process="laser", sealing=False),
    Medium(
        name="cut vinyl",
        process="cut",
        clear=False,
        thickness=0.08,
        cut_margin=0.0,
        least_stroke=1.0,
        least_gap=0.8,
        largest=(300.0, 600.0),
        stretch_limit=0.03,
        invented=True,
    ),
    Medium(
        name="rub-on transfer",
        process="inkjet",
        clear=False,
        mirrored=True,
        white=True,
        thickness=0.02,
        cut_margin=2.0,
        stretch_limit=0.0,
        invented=True,
    ),
    Medium(name="ready-made transfer", process="ready-made", thickness=0.02, stretch_limit=0.0, invented=True),
    Medium(
        name="printed film",
        process="inkjet",
        clear=False,
        thickness=0.1,
        cut_margin=0.0,
        largest=(300.0, 1000.0),
        stretch_limit=0.02,
        seam="continued",
        invented=True,
    ),
)


def example(name: str) -> Medium | None:
    """The invented example of a name, None when there is none."""
    return next((medium for medium in EXAMPLES if medium.name == name), None)
