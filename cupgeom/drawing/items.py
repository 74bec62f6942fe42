"""What a page can bear: outlines with paint, text, clipped groups; each with the role it plays."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal, get_args

from cupgeom.drawing import vera
from cupgeom.drawing.affine import Affine
from cupgeom.drawing.path import Box, Path
from cupgeom.errors import CupgeomError, require_at_least, require_finite, require_positive

Role = Literal["print", "white", "cut", "guide", "note"]
ROLES: tuple[Role, ...] = get_args(Role)
Colour = tuple[float, float, float]
BLACK: Colour = (0.0, 0.0, 0.0)
Anchor = Literal["start", "middle", "end"]
_SHARES: dict[Anchor, float] = {"start": 0.0, "middle": 0.5, "end": 1.0}
_MIRRORED: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn: width and dashes (line, gap, line, ...) in mm, colour as red, green, blue from 0 to 1."""

    width: float = 0.25
    dashes: tuple[float, ...] = ()
    colour: Colour = BLACK

    def __post_init__(self) -> None:
        require_positive("stroke.width", self.width)
        for index, dash in enumerate(self.dashes):
            require_at_least(f"stroke.dashes[{index}]", dash, 0)
        if self.dashes and not any(self.dashes):
            raise CupgeomError("stroke.dashes", "one of them must be greater than 0 mm")
        _require_colour("stroke.colour", self.colour)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A path with paint. `name` says what it is in the trade's words, for whoever opens the file."""

    path: Path
    role: Role
    stroke: Stroke | None = None
    fill: Colour | None = None
    even_odd: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        _require_role("shape.role", self.role)
        if self.fill is not None:
            _require_colour("shape.fill", self.fill)

    def bounds(self) -> Box:
        """Smallest upright rectangle round the shape, half the stroke's width included."""
        return self.path.bounds().grown(self.stroke.width / 2 if self.stroke else 0)

    def transformed(self, affine: Affine) -> Shape:
        """The shape moved; its stroke keeps its width."""
        return replace(self, path=self.path.transformed(affine))


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
        _require_role("text.role", self.role)
        if self.anchor not in _SHARES:
            raise CupgeomError("text.anchor", f"must be start, middle or end, got {self.anchor!r}")
        _require_colour("text.colour", self.colour)

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
    """Items that show only inside a closed path."""

    clip: Path
    items: tuple[Item, ...]

    def bounds(self) -> Box:
        """Smallest upright rectangle that the visible part lies in."""
        inner, outer = Drawing(self.items).bounds(), self.clip.bounds()
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
        return Clipped(clip=self.clip.transformed(affine), items=items)


Item = Shape | Text | Clipped


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
        """The items that play one of these roles, their clips kept."""
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

    def leaves(self) -> Iterator[Shape | Text]:
        """All shapes and texts, inside clips too."""
        for item in self.items:
            if isinstance(item, Clipped):
                yield from Drawing(item.items).leaves()
            else:
                yield item

    def roles(self) -> tuple[Role, ...]:
        """The roles that occur, in the order of `ROLES`."""
        present = {leaf.role for leaf in self.leaves()}
        return tuple(role for role in ROLES if role in present)


def _require_role(where: str, role: Role) -> None:
    if role not in ROLES:
        raise CupgeomError(where, f"must be one of {', '.join(ROLES)}, got {role!r}")


def _require_colour(where: str, colour: Colour) -> None:
    if len(colour) != 3 or not all(0 <= part <= 1 for part in colour):
        raise CupgeomError(where, f"must be red, green and blue from 0 to 1, got {colour}")


def fan_angle_deg(direction: complex) -> float:
    """Direction of a vector in degrees, anticlockwise from x."""
    return math.degrees(math.atan2(direction.imag, direction.real))
