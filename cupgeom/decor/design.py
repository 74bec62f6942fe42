"""A design: what a decal shows, at its size, in a plane of its own with the middle of its box at the origin."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cupgeom.decor.artwork import Artwork, resolution_notices
from cupgeom.decor.lettering import Lettering
from cupgeom.drawing import BLACK, Affine, Box, Colour, Drawing, Shape
from cupgeom.errors import CupgeomError, Notice, number, require_at_least, require_positive


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """What a decal shows.

    Parameters
    ----------
    name
        What messages and captions call it.
    drawing
        In mm, x right and y up, the middle of its box at the origin.
    width, height
        Of its box.
    letters
        Height of the smallest letters it is set in, where that is known: of small ones if it has some, else capitals.
    baseline
        Height of its lowest baseline above the middle of the box; None for art.
    text
        What it says, where it is lettering.
    notices
        What can be doubted about it.

    Raises
    ------
    CupgeomError
        Naming ``width`` or ``height``.
    """

    name: str
    drawing: Drawing
    width: float
    height: float
    letters: float | None = None
    baseline: float | None = None
    text: str = ""
    notices: tuple[Notice, ...] = ()

    def __post_init__(self) -> None:
        require_positive("width", self.width)
        require_positive("height", self.height)
        if not self.drawing:
            raise CupgeomError("design", f"{self.name} shows nothing")

    @property
    def box(self) -> Box:
        """The design box, its middle at the origin."""
        return Box(-self.width / 2, -self.height / 2, self.width / 2, self.height / 2)

    def scaled_to(self, width: float) -> Design:
        """The same at another width, its proportions kept."""
        require_positive("width", width)
        scale = width / self.width
        return replace(
            self,
            drawing=self.drawing.transformed(Affine.scale(scale, scale)),
            width=width,
            height=self.height * scale,
            letters=None if self.letters is None else self.letters * scale,
            baseline=None if self.baseline is None else self.baseline * scale,
        )


def of_artwork(artwork: Artwork, *, width: float | None = None, height: float | None = None) -> Design:
    """Art at the width, or the height, that what is visible of it shall have; at the size of its file without either.

    Raises
    ------
    CupgeomError
        When both are given, or one is not greater than 0.
    """
    for where, value in (("width", width), ("height", height)):
        if value is not None:
            require_positive(where, value)
    if width is not None and height is not None:
        raise CupgeomError("height", "cannot stand beside a width, since art keeps its proportions; leave one out")
    box = artwork.box
    scale = width / box.width if width is not None else height / box.height if height is not None else 1.0
    to_middle = Affine.scale(scale, scale) @ Affine.move(-box.centre)
    return Design(
        name=artwork.name,
        drawing=artwork.drawing.transformed(to_middle),
        width=box.width * scale,
        height=box.height * scale,
        notices=(*artwork.notices, *resolution_notices(artwork, box.width * scale)),
    )


def of_lettering(lettering: Lettering, colour: Colour = BLACK) -> Design:
    """Lettering in one colour at the size it was set in."""
    centred = lettering.centred()
    shape = Shape(path=centred.outlines, role="print", fill=colour, name=lettering.text)
    small = any(character.islower() for character in lettering.text)
    letters = lettering.x_height if small and lettering.x_height is not None else lettering.cap_height
    return Design(
        name=" ".join(lettering.text.split()),
        drawing=Drawing((shape,)),
        width=centred.bounds.width,
        height=centred.bounds.height,
        letters=letters,
        baseline=min(centred.baselines),
        text=lettering.text,
        notices=lettering.notices,
    )


def closed_round(design: Design, circumference: float, *, gap: float = 0.0) -> tuple[Design, int]:
    """A pattern that closes at the seam: how often it goes round, and the design a hair narrower or wider for that.

    Parameters
    ----------
    design
        One repeat of the pattern.
    circumference
        Of the cup where widths are true [mm].
    gap
        Between one repeat and the next [mm], about; kept in proportion.

    Returns
    -------
    tuple
        The design as wide as circumference/n less its share of the gap, and n.

    Raises
    ------
    CupgeomError
        Naming ``width``, when one repeat is wider than the way round.
    """
    require_at_least("gap", gap, 0)
    step = design.width + gap
    if design.width > circumference:
        raise CupgeomError("width", f"must be at most the way round, {number(round(circumference, 2))} mm")
    count = max(1, round(circumference / step))
    return design.scaled_to(design.width * (circumference / count) / step), count
