"""How much room a cup has for a decal: the widest that is seen, the drops that are free, what lies well flat."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cupgeom import zones
from cupgeom.cup import Cup, Span
from cupgeom.decor import sight
from cupgeom.decor.report import NOT_WORTH, rise_when_flat
from cupgeom.errors import CupgeomError, number, require_positive
from cupgeom.units import format_length

FOOT_MARGIN = 3.0  # mm kept free above the base edge, the safe margin of a wrap
_STEP = 1.0  # mm between the drops that are tried


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The room for a decal about the front.

    Attributes
    ----------
    drop
        Of its middle.
    free
        Drops that are free: below the rim band and the bare lip, above the foot margin.
    width
        Widest that is seen whole from the front [mm along the wall].
    span_deg
        The turn that it spans.
    height
        Highest that is free with the middle there.
    """

    drop: float
    free: Span
    width: float
    span_deg: float
    height: float


def free_span(cup: Cup) -> Span:
    """The drops that decoration may take: below the rim band and the bare lip, a little above the base edge.

    Raises
    ------
    CupgeomError
        When the cup is too low for both.
    """
    top, bottom = max(zones.RIM_BAND, cup.bare_lip), cup.slant - FOOT_MARGIN
    if bottom - top < 1:
        raise CupgeomError("cup", f"is only {number(round(cup.slant, 2))} mm along the wall; nothing is free on it")
    return Span(top=top, bottom=bottom)


def front_room(cup: Cup, drop: float | None = None) -> Room:
    """The largest decal about the front with its middle at a drop, half-way down the free wall unless said otherwise.

    Raises
    ------
    CupgeomError
        When the drop is not on the free wall.
    """
    free = free_span(cup)
    middle = (free.top + free.bottom) / 2 if drop is None else drop
    if not free.top <= middle <= free.bottom:
        what = f"must be on the free wall (drop {number(free.top)} to {number(round(free.bottom, 2))} mm)"
        raise CupgeomError("drop", f"{what}, got {number(middle)} mm")
    radius = cup.radius_at(middle)
    half = sight.visible_half_angle_rad(radius)
    return Room(
        drop=middle,
        free=free,
        width=2 * half * radius,
        span_deg=math.degrees(2 * half),
        height=2 * min(middle - free.top, free.bottom - middle),
    )


def widest_of_shape(room: Room, ratio: float) -> float:
    """Widest art of a shape, height by width, that the room holds."""
    require_positive("ratio", ratio, "")
    return min(room.width, room.height / ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Where a decal of fixed size fits.

    Attributes
    ----------
    span
        Drops at which its middle may lie, on one wall and on the free part of it; None where it fits nowhere.
    flat
        Drops among them at which it may lie flat, its ends rising by less than 0.5 mm; None for none.
    rise
        How far its ends rise at the top and at the bottom of `span`.
    """

    wall_index: int
    span: Span | None
    flat: Span | None
    rise: tuple[float, float]


def fits_of_size(cup: Cup, width: float, height: float) -> tuple[Fit, ...]:
    """Where a ready-made decal fits on each wall of the cup, and where it may lie flat."""
    require_positive("width", width)
    require_positive("height", height)
    free, fits = free_span(cup), []
    for index, (start, wall) in enumerate(zip(cup.wall_tops, cup.walls, strict=True)):
        common = Span(top=start, bottom=start + wall.slant).common(free)
        if common is None or common.length < height:
            fits.append(Fit(wall_index=index, span=None, flat=None, rise=(0.0, 0.0)))
            continue
        span = (common.top + height / 2, common.bottom - height / 2)
        drops = [span[0] + i * _STEP for i in range(int((span[1] - span[0]) / _STEP) + 1)] + [span[1]]
        wide = [drop for drop in drops if width <= math.tau * cup.radius_at(drop)]
        rises = {drop: rise_when_flat(wall.cone_constant, cup.radius_at(drop), width) for drop in wide}
        flat = [drop for drop, rise in rises.items() if abs(rise) < NOT_WORTH]
        fits.append(
            Fit(
                wall_index=index,
                span=_span(wide),
                flat=_span(flat),
                rise=(rises[wide[0]], rises[wide[-1]]) if wide else (0.0, 0.0),
            )
        )
    return tuple(fits)


def _span(drops: list[float]) -> Span | None:
    return Span(top=drops[0], bottom=max(drops[-1], drops[0] + 1e-6)) if drops else None


def wrap_size(cup: Cup, bleed: float = 3.0) -> tuple[float, float, float]:
    """Art that fills a wrap of a cup of one wall: width all round at its middle, height with bleed, drop of its middle.

    It reaches from the bare lip to the base edge, and `bleed` beyond both.
    """
    middle = (cup.bare_lip + cup.slant) / 2
    return math.tau * cup.radius_at(middle), cup.slant - cup.bare_lip + 2 * bleed, middle


def room_table(room: Room, unit: str = "mm", ratio: float | None = None) -> str:
    """The room for people, a line each; with the largest art of a shape, height by width."""

    def size(value: float) -> str:
        return format_length(value, unit)

    lines = [
        f"free wall          drop {size(room.free.top)} to {size(room.free.bottom)}",
        f"widest in sight    {size(room.width)} along the wall, {room.span_deg:.1f}°, middle at drop {size(room.drop)}",
        f"highest there      {size(room.height)}",
    ]
    if ratio is not None:
        width = widest_of_shape(room, ratio)
        lines.append(f"this art           up to {size(width)} wide, {size(width * ratio)} high")
    return "\n".join(lines)


def fits_table(fits: tuple[Fit, ...], width: float, height: float, unit: str = "mm") -> str:
    """Where a size fits, for people, a line a wall."""

    def size(value: float) -> str:
        return format_length(value, unit)

    lines = []
    for fit in fits:
        wall = f"wall {fit.wall_index + 1}: " if len(fits) > 1 else ""
        if fit.span is None:
            lines.append(f"{wall}{size(width)} by {size(height)} does not fit")
            continue
        where = f"its middle at drop {size(fit.span.top)} to {size(fit.span.bottom)}"
        if fit.flat is None:
            flat = f"laid flat its ends rise by {size(fit.rise[0])} to {size(fit.rise[1])}: not flat"
        elif fit.flat == fit.span:
            flat = f"may lie flat anywhere there (its ends rise by {size(max(fit.rise, key=abs))} at most)"
        else:
            flat = f"may lie flat at drop {size(fit.flat.top)} to {size(fit.flat.bottom)}"
        lines.append(f"{wall}{size(width)} by {size(height)} fits, {where}; {flat}")
    return "\n".join(lines)
