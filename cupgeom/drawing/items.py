"""What a page can bear: outlines with paint, text, pictures, groups; each with the role it plays."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from cupgeom.drawing import vera
from cupgeom.drawing.affine import Affine
from cupgeom.drawing.paint import BLACK, Colour, Gradient, Paint, Picture, require_colour, require_paint, require_share
from cupgeom.drawing.path import Box, Path
from cupgeom.drawing.role import ROLES, Role, require_role
from cupgeom.errors import CupgeomError, require_at_least, require_finite, require_positive

Anchor = Literal["start", "middle", "end"]
_SHARES: dict[Anchor, float] = {"start": 0.0, "middle": 0.5, "end": 1.0}
_MIRRORED: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn: width and dashes (line, gap, line, ...) in mm, colour as red, green, blue from 0 to 1."""

    width: float = 0.25
    dashes: tuple[float, ...] = ()
    colour: Colour = BLACK
    opacity: float = 1.0

    def __post_init__(self) -> None:
        require_positive("stroke.width", self.width)
        for index, dash in enumerate(self.dashes):
            require_at_least(f"stroke.dashes[{index}]", dash, 0)
        if self.dashes and not any(self.dashes):
            raise CupgeomError("stroke.dashes", "one of them must be greater than 0 mm")
        require_colour("stroke.colour", self.colour)
        require_share("stroke.opacity", self.opacity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A path with paint. `name` says what it is in the trade's words, for whoever opens the file."""

    path: Path
    role: Role
    stroke: Stroke | None = None
    fill: Paint | None = None
    fill_opacity: float = 1.0
    even_odd: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        require_role("shape.role", self.role)
        if self.fill is not None:
            require_paint("shape.fill", self.fill)
        require_share("shape.fill_opacity", self.fill_opacity)

    def bounds(self) -> Box:
        """Smallest upright rectangle round the shape, half the stroke's width included."""
        return self.path.bounds().grown(self.stroke.width / 2 if self.stroke else 0)

    def transformed(self, affine: Affine) -> Shape:
        """The shape moved, and a gradient with it; its stroke keeps its width."""
        fill = self.fill.transformed(affine) if isinstance(self.fill, Gradient) else self.fill
        return replace(self, path=self.path.transformed(affine), fill=fill)


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A line of text in Vera, its baseline anchored at a point and turned about it, anticlockwise."""

    text: str
    at: complex
    size: float = 3.0
    role: Role = "note"
    anchor: Anchor = "start"
    angle_deg: float = 0.0
    bold: bool = False
    colour: Colour = BLACK

    def __post_init__(self) -> None:
        require_positive("text.size", self.size)
        require_finite("text.at.x", self.at.real)
        require_finite("text.at.y", self.at.imag)
        require_finite("text.angle_deg", self.angle_deg, "degrees")
        require_role("text.role", self.role)
        if self.anchor not in _SHARES:
            raise CupgeomError("text.anchor", f"must be start, middle or end, got {self.anchor!r}")
        require_colour("text.colour", self.colour)

    @property
    def width(self) -> float:
        """Length of the line [mm]."""
        return vera.text_width(self.text, self.size, bold=self.bold)

    @property
    def start(self) -> complex:
        """Left end of the baseline."""
        return self.at - Affine.rotation(self.angle_deg)(complex(self.width * _SHARES[self.anchor]))

    def outline(self) -> Path:
        """The rectangle that the letters may take, turned with the text."""
        flat = Box(0.0, -vera.DESCENT * self.size, self.width, vera.ascent(self.text) * self.size).outline()
        return flat.transformed(Affine.move(self.start) @ Affine.rotation(self.angle_deg))

    def bounds(self) -> Box:
        """Smallest upright rectangle round the letters."""
        return self.outline().bounds()

    def transformed(self, affine: Affine) -> Text:
        """The text moved, turned and scaled; never mirrored, so that notes stay readable.

        Where the map mirrors, the text fills the mirrored place of its letters, the same side of its baseline up.
        """
        moved = replace(self, at=affine(self.at), size=self.size * affine.even_scale)
        if affine.determinant >= 0:
            return replace(moved, angle_deg=self.angle_deg + affine.angle_deg)
        up = affine(self.at + 1j * Affine.rotation(self.angle_deg)(1)) - moved.at
        return replace(moved, angle_deg=math.degrees(math.atan2(-up.real, up.imag)), anchor=_MIRRORED[self.anchor])


@dataclass(frozen=True, slots=True, kw_only=True)
class Clipped:
    """Items as one group: shown only inside a closed path, and let through as a whole.

    Attributes
    ----------
    clip
        Where the items show; None shows them everywhere, a path without outlines nowhere.
    even_odd
        Whether a point inside two outlines of the clip is outside; else outlines that run the same way add up.
    opacity
        Of the group once painted, so that what its items hide of each other stays hidden.
    """

    clip: Path | None = None
    items: tuple[Item, ...]
    even_odd: bool = False
    opacity: float = 1.0

    def __post_init__(self) -> None:
        require_share("clipped.opacity", self.opacity)

    def bounds(self) -> Box:
        """Smallest upright rectangle that the visible part lies in."""
        inner = Drawing(self.items).bounds()
        if self.clip is None:
            return inner
        outer = self.clip.bounds()
        box = Box(
            max(inner.left, outer.left),
            max(inner.bottom, outer.bottom),
            min(inner.right, outer.right),
            min(inner.top, outer.top),
        )
        return box if box.width >= 0 and box.height >= 0 else Box(*([outer.left, outer.bottom] * 2))

    def transformed(self, affine: Affine) -> Clipped:
        """Clip and items moved together."""
        items = tuple(item.transformed(affine) for item in self.items)
        return replace(self, clip=self.clip and self.clip.transformed(affine), items=items)


Item = Shape | Text | Picture | Clipped


@dataclass(frozen=True, slots=True)
class Drawing:
    """Items in the order they are painted."""

    items: tuple[Item, ...] = ()

    def __add__(self, other: Drawing) -> Drawing:
        return Drawing(self.items + other.items)

    def __bool__(self) -> bool:
        return bool(self.items)

    def bounds(self) -> Box:
        """Smallest upright rectangle round everything.

        Raises
        ------
        CupgeomError
            When there is nothing.
        """
        if not self.items:
            raise CupgeomError("drawing", "is empty, so it has no bounds")
        box = self.items[0].bounds()
        for item in self.items[1:]:
            box = box.union(item.bounds())
        return box

    def transformed(self, affine: Affine) -> Drawing:
        """Everything moved by one map."""
        return Drawing(tuple(item.transformed(affine) for item in self.items))

    def only(self, roles: Iterable[Role]) -> Drawing:
        """The items that play one of these roles, their groups kept."""
        wanted = frozenset(roles)
        kept: list[Item] = []
        for item in self.items:
            if isinstance(item, Clipped):
                inner = Drawing(item.items).only(wanted)
                if inner:
                    kept.append(replace(item, items=inner.items))
            elif item.role in wanted:
                kept.append(item)
        return Drawing(tuple(kept))

    def leaves(self) -> Iterator[Shape | Text | Picture]:
        """All shapes, texts and pictures, inside groups too."""
        for item in self.items:
            if isinstance(item, Clipped):
                yield from Drawing(item.items).leaves()
            else:
                yield item

    def roles(self) -> tuple[Role, ...]:
        """The roles that occur, in the order of `ROLES`."""
        present = {leaf.role for leaf in self.leaves()}
        return tuple(role for role in ROLES if role in present)
