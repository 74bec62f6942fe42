"""What there is to know of a decal before it is printed: arcs, what is seen, what *flat* would do, what is too fine."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cupgeom import zones
from cupgeom.cup import Span
from cupgeom.decor import sight
from cupgeom.decor.decal import Decal, DecalPiece
from cupgeom.decor.silhouette import Fine, fine_gaps, fine_strokes
from cupgeom.drawing import Picture, Shape
from cupgeom.errors import Notice, number
from cupgeom.units import describe_turn, format_length

NOT_WORTH = 0.5  # mm; ends that rise by less lie as well flat (assumed)
_ALL_ROUND_DEG = 340.0  # art from here on goes round the cup and is not meant to be seen at once


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A level line through a decal: its drop, its length along the wall, the turn that it spans."""

    name: str
    drop: float
    length: float
    span_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The numbers of a decal.

    Attributes
    ----------
    arcs
        At its top, middle and foot.
    flat_radius
        Of the arc that a level line through its middle is on the flat sheet; None on a cylinder, where it is straight.
    chord, sagitta
        Of that arc: the straight distance of its ends, and how far its middle bulges from there.
    seen_share
        Of its width, seen at once by an eye 500 mm from the axis straight before it.
    seen_from_front
        Of its width, seen by that eye before the front.
    widest_in_sight
        Widest decal there that is seen whole.
    flat_rise
        How far the ends stand above its middle on the wall when it is laid flat; negative: below.
    level_strain
        Largest stretch or squeeze, as a share, of a flat film that is forced to lie level.
    letters
        Height of its smallest letters, where known.
    strokes, gaps
        Places finer than the medium bears, on the sheet of each wall.
    """

    name: str
    width: float
    height: float
    span: Span
    turn_deg: float
    arcs: tuple[Arc, ...]
    flat_radius: float | None
    chord: float
    sagitta: float
    seen_share: float
    seen_from_front: float
    widest_in_sight: float
    flat_rise: float
    level_strain: float
    letters: float | None
    strokes: tuple[tuple[int, Fine], ...]
    gaps: tuple[tuple[int, Fine], ...]
    notices: tuple[Notice, ...]


def report(decal: Decal) -> Report:
    """The numbers of a decal and what there is to note about it."""
    span, wall = decal.span, decal.cup.walls[decal.wall_index]
    k, middle_radius = wall.cone_constant, decal.cup.radius_at(decal.drop)
    turned = decal.reach.width / decal.true_radius
    flat_radius = wall.sheet_radius_at(decal.drop - decal.cup.wall_tops[decal.wall_index])
    half = abs(k) * turned / 2
    limit = sight.visible_half_angle_rad(middle_radius)
    left, right = decal.turns_rad
    middle = math.radians(decal.turn_deg)
    strokes, gaps = _fine(decal)
    made = Report(
        name=decal.design.name,
        width=decal.design.width,
        height=decal.design.height,
        span=span,
        turn_deg=decal.turn_deg,
        arcs=tuple(
            _arc(name, drop, decal, turned)
            for name, drop in (("top", span.top), ("middle", decal.drop), ("foot", span.bottom))
        ),
        flat_radius=flat_radius,
        chord=2 * flat_radius * math.sin(half) if flat_radius else turned * middle_radius,
        sagitta=flat_radius * (1 - math.cos(half)) if flat_radius else 0.0,
        seen_share=sight.share_in_sight(left - middle, right - middle, limit),
        seen_from_front=sight.share_in_sight(left, right, limit),
        widest_in_sight=2 * limit * middle_radius,
        flat_rise=rise_when_flat(k, middle_radius, decal.reach.width),
        level_strain=abs(k) * decal.reach.height / 2 / middle_radius,
        letters=decal.design.letters,
        strokes=strokes,
        gaps=gaps,
        notices=(),
    )
    notices = (*decal.design.notices, *_of_numbers(decal, made), *_of_place(decal), *_of_medium(decal, made))
    return replace(made, notices=tuple(dict.fromkeys(notices)))


def rise_when_flat(k: float, radius: float, width: float) -> float:
    """How far the ends of a flat strip stand above its middle on the wall.

    ::

             apex . . . . . . . . .         P = ρ/k, distance of the middle from the apex
              |  \\                          the end of the strip, w/2 to the side, lies √(P² + (w/2)²) from it,
            P |    \\                        which is so much farther along the wall
              |      \\
              +-------+  w/2

    Written as (w/2)²/(P + √(P² + (w/2)²)), which is 0 on a cylinder.
    """
    side = width / 2
    if k == 0:
        return 0.0
    apex = radius / abs(k)
    return math.copysign(side * side / (apex + math.hypot(apex, side)), k)


def _arc(name: str, drop: float, decal: Decal, turned: float) -> Arc:
    radius = decal.cup.radius_at(min(max(drop, 0.0), decal.cup.slant))
    return Arc(name=name, drop=drop, length=turned * radius, span_deg=math.degrees(turned))


def _fine(decal: Decal) -> tuple[tuple[tuple[int, Fine], ...], tuple[tuple[int, Fine], ...]]:
    """The places of all pieces that are too fine for the medium; none for a ready-made one, which nobody cuts."""
    strokes: list[tuple[int, Fine]] = []
    gaps: list[tuple[int, Fine]] = []
    medium = decal.medium
    for piece in decal.pieces if medium.process != "ready-made" else ():
        covered = decal.piece_silhouette(piece)
        if medium.least_stroke:
            strokes += [(piece.wall_index, fine) for fine in fine_strokes(covered, medium.least_stroke)]
        if medium.least_gap:
            gaps += [(piece.wall_index, fine) for fine in fine_gaps(covered, medium.least_gap)]
    return tuple(strokes), tuple(gaps)


def _of_numbers(decal: Decal, made: Report) -> list[Notice]:
    notices = []
    if made.seen_share < 1 - 1e-9 and made.arcs[1].span_deg < _ALL_ROUND_DEG:
        notices.append(
            Notice(
                "width",
                f"{_mm(made.width)} goes farther round than an eye at {sight.EYE_DISTANCE:g} mm sees at once"
                f" ({made.seen_share:.0%} of it)",
                f"up to {_mm(made.widest_in_sight)} is seen whole",
            )
        )
    if made.letters is not None:
        least, good = (sight.letter_height(a) for a in (sight.LEAST_LETTER_ARCMIN, sight.GOOD_LETTER_ARCMIN))
        if made.letters < good - 1e-9:
            hard = "cannot be read" if made.letters < least - 1e-9 else "are hard to read"
            notices.append(
                Notice(
                    "text",
                    f"letters of {_mm(made.letters)} {hard} at {sight.EYE_DISTANCE:g} mm",
                    f"make them {_mm(math.ceil(good * 100) / 100)} or more",
                )
            )
    if decal.bend == "flat":
        if abs(made.flat_rise) >= NOT_WORTH:
            way = "above" if made.flat_rise > 0 else "below"
            notices.append(
                Notice(
                    "bend", f"laid flat, its ends come {_mm(abs(made.flat_rise))} {way} its middle", "level mends it"
                )
            )
        limit = decal.medium.stretch_limit
        if made.level_strain > limit:
            notices.append(
                Notice(
                    "bend",
                    f"forced to lie level it would stretch by {made.level_strain:.1%},"
                    f" more than the {limit:.1%} that {decal.medium.name} takes",
                    "let its ends rise, or bend the art",
                )
            )
    elif 0 < abs(made.flat_rise) < NOT_WORTH:
        notices.append(
            Notice(
                "bend", f"laid flat, its ends would rise by {_mm(abs(made.flat_rise))} only", "it may as well stay flat"
            )
        )
    return notices


def _of_place(decal: Decal) -> list[Notice]:
    """Where it lies on what should stay free: the lip, the rim band, the handle, the seam."""
    cup, notices = decal.cup, list[Notice]()
    span = decal.span
    if decal.bleed and span.top <= cup.bare_lip and span.bottom >= cup.slant - decal.bleed:
        pass  # art for a whole wrap, which is cut to where ink may go
    elif span.top < cup.bare_lip - 1e-9:
        notices.append(Notice("drop", f"reaches into the bare lip of {_mm(cup.bare_lip)}", "move it down"))
    elif span.top < zones.RIM_BAND - 1e-6:
        notices.append(replace(zones.band_notice(zones.RIM_BAND), mend="move it below, if you can"))
    middle = math.radians(decal.turn_deg)
    reach = [turn - middle for turn in decal.turns_rad]
    for turn_deg in decal.copies_deg:
        left, right = (math.radians(turn_deg) + turn for turn in reach)
        if any(_meets_handle(decal, piece, left, right) for piece in decal.pieces):
            notices.append(Notice("turn", f"{describe_turn(turn_deg)} meets the handle or its clearance", "move it"))
        if left < -math.pi - 1e-9 or right > math.pi + 1e-9:
            what = f"{describe_turn(turn_deg)} lies across the seam at the back"
            notices.append(Notice("turn", what, "a wrap shows it in two parts"))
    return notices


def _meets_handle(decal: Decal, piece: DecalPiece, left: float, right: float) -> bool:
    """Whether the turned design box meets the keep-out of a foot of the handle."""
    start, wall = decal.cup.wall_tops[piece.wall_index], decal.cup.walls[piece.wall_index]
    span = Span(top=start, bottom=start + wall.slant).common(decal.span)
    if span is None:
        return False
    local = Span(top=span.top - start, bottom=span.bottom - start)
    for notch in zones.notches(decal.cup, piece.wall_index, local):
        drops = (max(notch.top, local.top), min(notch.bottom, local.bottom))
        half = max(notch.half_angle_rad(wall.radius_at(drop)) for drop in drops)
        for back in (-math.pi, math.pi):
            if left < back + half and right > back - half:
                return True
    return False


def _of_medium(decal: Decal, made: Report) -> list[Notice]:
    medium, notices = decal.medium, list[Notice]()
    if medium.invented:
        notices.append(
            Notice("medium", f"the figures of {medium.name} are an invented example", "put yours into the shop file")
        )
    for what, fines, least in (("a stroke", made.strokes, medium.least_stroke), ("a gap", made.gaps, medium.least_gap)):
        if fines:
            count = f" in {len(fines)} places" if len(fines) > 1 else ""
            mend = "make it larger" if medium.printed else "print it, don't cut it"
            notices.append(
                Notice("medium", f"{what} is finer than the {_mm(least)} that {medium.name} bears{count}", mend)
            )
    if medium.process == "cut" and _has_colours(decal):
        what = f"{medium.name} is cut along the outline alone; colours and pictures inside it are lost"
        notices.append(Notice("medium", what, "cut each colour by itself, or print it"))
    if medium.sealing:
        notices.append(Notice("medium", f"{medium.name}: seal the print before water and resin"))
    long, short = max(medium.largest), min(medium.largest)
    width, height = max(decal.reach.width, decal.reach.height), min(decal.reach.width, decal.reach.height)
    if width > long or height > short:
        notices.append(
            Notice(
                "medium",
                f"the decal is larger than the largest piece of {medium.name}, {_mm(medium.largest[0])} by"
                f" {_mm(medium.largest[1])}",
                "split it, or take another medium",
            )
        )
    return notices


def _has_colours(decal: Decal) -> bool:
    """Whether the design is more than one colour."""
    leaves = list(decal.design.drawing.leaves())
    paints = {leaf.fill if isinstance(leaf, Shape) else None for leaf in leaves}
    return len(paints) > 1 or any(isinstance(leaf, Picture) for leaf in leaves)


def _mm(value: float) -> str:
    return f"{number(round(value, 2))} mm"


def table(made: Report, unit: str = "mm") -> str:
    """The numbers for people, a line each."""

    def size(value: float) -> str:
        return format_length(value, unit)

    turn = describe_turn(made.turn_deg)
    rows = [
        ("decal", f"{made.name}: {size(made.width)} wide, {size(made.height)} high"),
        ("place", f"{turn}, drop {size(made.span.top)} to {size(made.span.bottom)}"),
        *((f"arc at its {arc.name}", f"{size(arc.length)} along the wall, {arc.span_deg:.2f}°") for arc in made.arcs),
        ("flat arc", _flat_arc(made, unit)),
        ("seen at once", f"{made.seen_share:.0%} from straight before it; {size(made.widest_in_sight)} is seen whole"),
        ("seen from the front", f"{made.seen_from_front:.0%}"),
        ("laid flat", f"its ends rise by {size(made.flat_rise)}; forced level it strains by {made.level_strain:.2%}"),
    ]
    if made.letters is not None:
        least, good = (sight.letter_height(a) for a in (sight.LEAST_LETTER_ARCMIN, sight.GOOD_LETTER_ARCMIN))
        rows.append(("smallest letters", f"{size(made.letters)}; at 500 mm {size(least)} is least, {size(good)} good"))
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"{name:<{width}}  {value}" for name, value in rows)


def _flat_arc(made: Report, unit: str) -> str:
    if made.flat_radius is None:
        return "straight: the wall is a cylinder"
    size = (format_length(value, unit) for value in (made.flat_radius, made.chord, made.sagitta))
    return "radius {}, chord {}, sagitta {}".format(*size)


def numbers(made: Report) -> dict[str, object]:
    """The numbers for programs, in mm and degrees."""
    return {
        "name": made.name,
        "width_mm": made.width,
        "height_mm": made.height,
        "turn_deg": made.turn_deg,
        "from_mm": made.span.top,
        "to_mm": made.span.bottom,
        "arcs": {
            arc.name: {"drop_mm": arc.drop, "length_mm": arc.length, "span_deg": arc.span_deg} for arc in made.arcs
        },
        "flat_radius_mm": made.flat_radius,
        "chord_mm": made.chord,
        "sagitta_mm": made.sagitta,
        "seen_at_once": made.seen_share,
        "seen_from_front": made.seen_from_front,
        "widest_in_sight_mm": made.widest_in_sight,
        "rise_when_flat_mm": made.flat_rise,
        "strain_when_level": made.level_strain,
        "letters_mm": made.letters,
        "fine_strokes": [_place(index, fine) for index, fine in made.strokes],
        "fine_gaps": [_place(index, fine) for index, fine in made.gaps],
        "notices": [str(notice) for notice in made.notices],
    }


def _place(index: int, fine: Fine) -> dict[str, object]:
    at = {"x_mm": round(fine.at.real, 3), "y_mm": round(fine.at.imag, 3), "reach_mm": round(fine.reach, 3)}
    return {"wall": index + 1, **at}
