"""Pages ready to be written, and the document they make."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cupgeom.drawing import Affine, Box, Drawing
from cupgeom.errors import CupgeomError, require_at_least, require_positive
from cupgeom.units import parse_size

BARS_MM = (100.0, 50.0, 20.0)  # lengths of the scale bars that a page can carry, the longest that fits is drawn
BARS_IN = (101.6, 50.8, 25.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a printer's bars say: how much longer everything must be sent so that it leaves the printer true.

    A bar that should be `nominal` long and left the printer `printed` long asks for nominal/printed.
    Corrections multiply.
    """

    across: float = 1.0
    along: float = 1.0

    def __post_init__(self) -> None:
        for where, value in (("across", self.across), ("along", self.along)):
            require_positive(where, value, "times")
            if not 0.8 <= value <= 1.25:
                raise CupgeomError(
                    where, f"asks for {value:.4g} times the size; a printer is off by less: measure the bar again"
                )

    def __mul__(self, other: Correction) -> Correction:
        return Correction(across=self.across * other.across, along=self.along * other.along)

    @property
    def is_none(self) -> bool:
        """Whether nothing is to be corrected."""
        return self.across == self.along == 1.0


def read_bars(text: str, *, inches: bool = False) -> Correction:
    """The correction from the printed bars as measured, such as ``99.2mm x 100.4mm``.

    The bar along the paper's width comes first, then the one along its length; each is compared with the nearest of the
    bars that a page can carry (100, 50, 20 mm, or 4, 2, 1 in).

    Raises
    ------
    CupgeomError
        Naming ``across`` or ``along``, when the text is not two lengths or a bar is too far off.
    """
    bars = BARS_IN if inches else BARS_MM
    across, along = (_factor(printed, bars) for printed in parse_size(text, "across"))
    return Correction(across=across, along=along)


def _factor(printed: float, bars: tuple[float, ...]) -> float:
    require_positive("across", printed)
    return min(bars, key=lambda bar: abs(bar - printed)) / printed


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page: paper size, what is on it (origin at the bottom left, y up, mm) and its boxes.

    Parameters
    ----------
    width, height
        Paper size.
    drawing
        Everything on the page, before the printer correction.
    name
        Such as ``B2`` for a tile; empty when there is one page only.
    trim
        Bounding box of the cut line on this page, None where there is no cut line.
    bleed
        How far ink may reach beyond the trim.
    correction
        The page's last transform, about its centre.
    """

    width: float
    height: float
    drawing: Drawing
    name: str = ""
    trim: Box | None = None
    bleed: float = 0.0
    correction: Correction = Correction()

    def __post_init__(self) -> None:
        require_positive("width", self.width)
        require_positive("height", self.height)
        require_at_least("bleed", self.bleed, 0)

    @property
    def last_transform(self) -> Affine:
        """The printer correction as a map about the page's centre."""
        centre = complex(self.width / 2, self.height / 2)
        scale = Affine.scale(self.correction.across, self.correction.along)
        return Affine.move(centre) @ scale @ Affine.move(-centre)

    @property
    def trim_box(self) -> Box:
        """TrimBox as printed: the corrected trim, cut to the paper; the paper where there is no cut line."""
        return self._corrected(self.trim) if self.trim else self._paper

    @property
    def bleed_box(self) -> Box:
        """BleedBox as printed: the trim and its bleed, cut to the paper."""
        return self._corrected(self.trim.grown(self.bleed)) if self.trim else self._paper

    @property
    def _paper(self) -> Box:
        return Box(0.0, 0.0, self.width, self.height)

    def _corrected(self, box: Box) -> Box:
        low = self.last_transform(complex(box.left, box.bottom))
        high = self.last_transform(complex(box.right, box.top))
        left, right = (min(max(x, 0.0), self.width) for x in (low.real, high.real))
        bottom, top = (min(max(y, 0.0), self.height) for y in (low.imag, high.imag))
        return Box(left, bottom, right, top)


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """Pages under one title."""

    title: str
    pages: tuple[Page, ...]

    def __post_init__(self) -> None:
        if not self.pages:
            raise CupgeomError("pages", "a document needs at least one page")

    def split(self) -> tuple[Document, ...]:
        """Each page as a document of its own, for formats that hold one page a file."""
        return tuple(replace(self, pages=(page,)) for page in self.pages)
