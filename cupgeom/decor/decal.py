"""A decal on a cup: its pieces on the flat sheets of the walls, what is printed, what is cut, what lies under it.

::

      turn_deg ──────────►  middle of the design box         top    ╮
         ┌──────────────┐   drop, counted on the cup      middle    ├ where the asked width is true
    drop │      +       │   through all walls                foot   ╯
         └──────────────┘
    ───── ring ─────────── a decal across a ring is cut there, one piece a wall; each continues the other's map
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal, get_args

from cupgeom.cup import Cup, Span
from cupgeom.decor import silhouette as silhouettes
from cupgeom.decor.bend import bent
from cupgeom.decor.design import Design
from cupgeom.decor.medium import EXAMPLES, Medium
from cupgeom.decor.onto import on_sheet
from cupgeom.decor.place import BENDS, Bend, Placement, moved_round
from cupgeom.drawing import Affine, Box, Clipped, Drawing, Path, Shape, Stroke, polyline
from cupgeom.errors import CupgeomError, number, require_at_least, require_finite, require_positive

TrueAt = Literal["top", "middle", "foot"]
TRUE_AT: tuple[TrueAt, ...] = get_args(TrueAt)
CHOKE = 0.2  # mm by which a white underlay stays inside the print
CUT = Stroke(width=0.2)
_WIDEST = 2 * math.pi  # a decal goes round at most once
_SPARE = 0.005  # mm by which a box may stand over an edge without a word
_HAIR = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class DecalPiece:
    """The part of a decal on one wall, on the sheet of that wall.

    Attributes
    ----------
    wall_index
        Which wall of the cup.
    placement
        Where and how the design lies on it.
    part
        The part of the design that lies on this wall, in the design's plane; None when that is all of it.
    drawing
        What is printed, or seen of a coloured film.
    box
        The design box on the sheet.
    """

    wall_index: int
    placement: Placement
    part: Path | None
    drawing: Drawing
    box: Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """One copy of a decal: the turn of its middle, those of its ends, its pieces there."""

    turn_deg: float
    turns_rad: tuple[float, float]
    pieces: tuple[DecalPiece, ...]


@dataclass(frozen=True, kw_only=True)
class Decal:
    """A design on a cup, of one medium.

    Parameters
    ----------
    cup
        As it is when the decal goes on.
    design
        What it shows, at its size.
    turn_deg, drop
        Of the middle of its box; the drop runs on through all walls of the cup.
    bend
        ``level``, ``even`` or ``flat``.
    rotate_deg
        Turn about its middle before it is bent, anticlockwise as seen from outside.
    true_at
        Where a *level* design is as wide as asked: at the ``top``, ``middle`` or ``foot`` of its box.
    medium
        What it is made of.
    repeat
        How often it stands round the cup, evenly spaced, the first at `turn_deg`.
    dpi
        Of pictures in it.
    bleed
        How far it may reach beyond the top and base edges of the cup, to be cut away there.

    Raises
    ------
    CupgeomError
        Naming the field, when it does not lie on the wall.
    """

    cup: Cup
    design: Design
    drop: float
    turn_deg: float = 0.0
    bend: Bend = "level"
    rotate_deg: float = 0.0
    true_at: TrueAt = "middle"
    medium: Medium = EXAMPLES[0]
    repeat: int = 1
    dpi: float = 300.0
    bleed: float = 0.0

    def __post_init__(self) -> None:
        if self.bend not in BENDS:
            raise CupgeomError("bend", f"must be one of {', '.join(BENDS)}, got {self.bend!r}")
        if self.true_at not in TRUE_AT:
            raise CupgeomError("true_at", f"must be one of {', '.join(TRUE_AT)}, got {self.true_at!r}")
        require_finite("turn_deg", self.turn_deg, "degrees")
        require_finite("rotate_deg", self.rotate_deg, "degrees")
        require_positive("dpi", self.dpi, "dpi")
        if type(self.repeat) is not int or self.repeat < 1:
            raise CupgeomError("repeat", f"must be a whole number from 1, got {self.repeat!r}")
        require_at_least("drop", self.drop, 0)
        require_at_least("bleed", self.bleed, 0)
        self._check_on_wall()

    @cached_property
    def reach(self) -> Box:
        """Smallest upright rectangle round the turned design box, in the plane of the design turned."""
        return self.design.box.outline().transformed(Affine.rotation(self.rotate_deg)).bounds()

    @property
    def wall_index(self) -> int:
        """The wall that holds the middle."""
        tops = self.cup.wall_tops
        return max(index for index, top in enumerate(tops) if top <= self.drop)

    @property
    def span(self) -> Span:
        """The drops that it reaches over, at its middle generator."""
        top, bottom = (self._drop_at(up) for up in (self.reach.top, self.reach.bottom))
        return Span(top=max(top, 0.0), bottom=bottom)

    @property
    def true_radius(self) -> float:
        """Radius of the cup where its width is true."""
        ups = {"top": self.reach.top, "middle": 0.0, "foot": self.reach.bottom}
        at = ups[self.true_at] if self.bend == "level" else 0.0
        return self.cup.radius_at(min(max(self._drop_at(at), 0.0), self.cup.slant))

    @property
    def turns_rad(self) -> tuple[float, float]:
        """Turns of its left and right end, the first copy's, at the height where widths are true."""
        middle = math.radians(self.turn_deg)
        return middle + self.reach.left / self.true_radius, middle + self.reach.right / self.true_radius

    @property
    def copies_deg(self) -> tuple[float, ...]:
        """Turns of the middles of all copies, from -180 up to 180."""
        turns = (self.turn_deg + index * 360 / self.repeat for index in range(self.repeat))
        return tuple(sorted((turn + 180) % 360 - 180 for turn in turns))

    def copies(self) -> tuple[Copy, ...]:
        """All copies round the cup, from left to right, bent once and moved round."""
        return tuple(self.copy(turn) for turn in self.copies_deg)

    def copy(self, turn_deg: float) -> Copy:
        """The same decal with its middle at another turn, which may lie beyond ±180."""
        by = math.radians(turn_deg - self.turn_deg)
        left, right = self.turns_rad
        pieces = []
        for piece in self.pieces:
            way = moved_round(piece.placement.wall, by)
            pieces.append(
                replace(
                    piece,
                    placement=replace(piece.placement, turn_deg=turn_deg),
                    drawing=piece.drawing.transformed(way),
                    box=piece.box.transformed(way),
                )
            )
        return Copy(turn_deg=turn_deg, turns_rad=(left + by, right + by), pieces=tuple(pieces))

    @cached_property
    def pieces(self) -> tuple[DecalPiece, ...]:
        """One piece a wall that it lies on, from the top down; the first copy's."""
        reached = self._walls_reached()
        return tuple(self._piece(index, alone=len(reached) == 1) for index in reached)

    def piece_silhouette(self, piece: DecalPiece) -> Any:
        """What a piece covers, as a shapely shape on its sheet."""
        return silhouettes.silhouette(piece.drawing)

    def finished(self, piece: DecalPiece) -> Drawing:
        """Print, white underlay and cut line of a piece, as its medium asks; unmirrored, on its sheet."""
        covered = self.piece_silhouette(piece)
        drawing = piece.drawing if self.medium.printed else Drawing()
        if self.medium.white:
            under = silhouettes.choked(covered, CHOKE)
            white = Shape(path=under, role="white", fill=(1.0, 1.0, 1.0), even_odd=True, name="white underlay")
            drawing = Drawing((white,)) + drawing
        if self.medium.process != "ready-made":
            drawing += Drawing((Shape(path=self.cut(piece, covered), role="cut", stroke=CUT, name="cut line"),))
        return drawing

    def cut(self, piece: DecalPiece, covered: Any = None) -> Path:
        """Where the blade goes round a piece: the art itself for coloured film, else a contour outside it."""
        covered = self.piece_silhouette(piece) if covered is None else covered
        if self.medium.printed:
            outside = silhouettes.contour(covered, self.medium.cut_margin)
            return outside if self.medium.cut_margin else piece.box
        exact = _outlines_alone(piece.drawing)
        return exact if exact is not None else silhouettes.contour(covered, self.medium.cut_margin)

    def _piece(self, index: int, *, alone: bool) -> DecalPiece:
        placement = self.placement(index)
        part = None if alone else self._band(index)
        drawing, box = self.design.drawing, self.design.box.outline()
        if part is not None:
            drawing = Drawing((Clipped(clip=part, items=drawing.items),))
            box = silhouettes.path_of_shape(box.to_shapely(0.001).intersection(part.to_shapely(0.001)))
        return DecalPiece(
            wall_index=index,
            placement=placement,
            part=part,
            drawing=on_sheet(drawing, placement, dpi=self.dpi),
            box=bent(box, placement),
        )

    def placement(self, index: int) -> Placement:
        """How the design lies on one of the walls, as if that wall went on for ever.

        Beyond the ring the map goes on: turns are counted with the same radius. *level* keeps counting drop; *even*
        keeps its one scale, so that on the other wall ρ = ρ_ring exp(k (v − v_ring)/ρ_true).
        """
        here, start, wall = self.wall_index, self.cup.wall_tops[index], self.cup.walls[index]
        drop = self.drop - start
        if index != here and self.bend == "even":
            drop = self._even_middle(index)
        return Placement(
            wall=wall,
            turn_deg=self.turn_deg,
            drop=drop,
            bend=self.bend,
            rotate_deg=self.rotate_deg,
            reference_radius=None if self.bend == "flat" else self.true_radius,
        )

    def _even_middle(self, index: int) -> float:
        """Drop on another wall that the middle would have if the *even* map of that wall went on up to it."""
        true, step = self.true_radius, 1 if index > self.wall_index else -1
        drop, at, up = self.drop, self.wall_index, 0.0
        while at != index:
            wall, start = self.cup.walls[at], self.cup.wall_tops[at]
            edge = start + (wall.slant if step > 0 else 0.0)
            up -= _even_rise(wall.cone_constant, wall.radius_at(drop - start), edge - drop, true)
            drop, at = edge, at + step
        wall, start = self.cup.walls[index], self.cup.wall_tops[index]
        k, ring = wall.cone_constant, wall.radius_at(drop - start)
        if k == 0:
            return drop - start + up * ring / true
        return (wall.top_radius - ring * math.exp(-k * up / true)) / k

    def _band(self, index: int) -> Path:
        """The part of the design's plane that lies on one wall: between the images of its rings, turned back."""
        placement, wall = self.placement(index), self.cup.walls[index]
        far = abs(complex(self.design.width, self.design.height)) + 1
        top = far if index == 0 else _up_of(placement, 0.0)
        bottom = -far if index == len(self.cup.walls) - 1 else _up_of(placement, wall.slant)
        band = [complex(-far, bottom), complex(far, bottom), complex(far, top), complex(-far, top)]
        return polyline(band, closed=True).transformed(Affine.rotation(-self.rotate_deg))

    def _drop_at(self, up: float) -> float:
        """Drop on the cup of a point so far above the middle; beyond the edges the end walls go on."""
        last = len(self.cup.walls) - 1
        if self.bend == "flat":
            return self.drop - up
        if self.bend == "level":
            return self.drop - up
        drop, at, left = self.drop, self.wall_index, up
        true = self.cup.radius_at(self.drop)
        while True:
            wall, start = self.cup.walls[at], self.cup.wall_tops[at]
            end = start if left > 0 else start + wall.slant
            room = -_even_rise(wall.cone_constant, wall.radius_at(drop - start), end - drop, true)
            final = at == (0 if left > 0 else last)
            if final or abs(left) <= abs(room) + _HAIR:
                k, here = wall.cone_constant, wall.radius_at(drop - start)
                return drop - (here / k * math.expm1(k * left / true) if k else left * here / true)
            drop, left, at = end, left - room, at + (-1 if left > 0 else 1)

    def _check_on_wall(self) -> None:
        slant = self.cup.slant
        if self.drop > slant * (1 + 1e-12):
            raise CupgeomError(
                "drop", f"must be on the wall (drop 0 to {number(round(slant, 2))} mm), got {number(self.drop)} mm"
            )
        top, bottom = self._drop_at(self.reach.top), self._drop_at(self.reach.bottom)
        spare = self.bleed + _SPARE
        if top < -spare or bottom > slant + spare:
            edge = "above the top edge" if top < -spare else "below the base edge"
            raise CupgeomError(
                "drop",
                f"{number(round(self.drop, 2))} mm puts {self.design.name} {edge} (it reaches from drop"
                f" {number(round(top, 1))} to {number(round(bottom, 1))} mm of {number(round(slant, 1))} mm);"
                " move it or make it smaller",
            )
        if self.bend == "flat" and len(self._walls_reached()) > 1:
            raise CupgeomError("bend", "flat cannot lie across a ring; use level, or move the decal onto one wall")
        if self.reach.width * self.repeat > _WIDEST * self.true_radius + 2 * _SPARE:
            way = 2 * math.pi * self.true_radius
            raise CupgeomError(
                "width",
                f"{number(round(self.reach.width * self.repeat, 2))} mm is more than the way round"
                f" ({number(round(way, 2))} mm); make it narrower",
            )

    def _walls_reached(self) -> list[int]:
        """The walls that it lies on by more than a hair, and the one that holds its middle."""
        span, reached = self.span, []
        for index, (start, wall) in enumerate(zip(self.cup.wall_tops, self.cup.walls, strict=True)):
            common = Span(top=start, bottom=start + wall.slant).common(span)
            if index == self.wall_index or (common is not None and common.length > 1e-6):
                reached.append(index)
        return reached


def _even_rise(k: float, radius: float, down: float, true: float) -> float:
    """Length in the design that an *even* map makes of so much drop below a place of this radius, signed downward."""
    if k == 0:
        return down * true / radius
    return -true / k * math.log1p(-k * down / radius)


def _up_of(placement: Placement, drop: float) -> float:
    """Height in the design, turned upright, that comes to lie at a drop of the wall."""
    import numpy as np

    from cupgeom.flatten import to_sheet

    upright = replace(placement, rotate_deg=0.0)
    point = complex(*to_sheet(placement.wall, placement.turn_rad, drop))
    return float(upright.from_sheet(np.array([point]))[0].imag)


def _outlines_alone(drawing: Drawing) -> Path | None:
    """The outlines of a drawing of one plain filled shape, true curves and all; None where there is more to it."""
    if len(drawing.items) != 1 or not isinstance(drawing.items[0], Shape):
        return None
    shape = drawing.items[0]
    return shape.path if shape.fill is not None and shape.stroke is None and not shape.even_odd else None
