"""The wrap template of one wall: which pieces, where the blade goes, where ink may go."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from cupgeom import zones
from cupgeom.cup import LARGEST_SIZE, Cup, Span, Wall
from cupgeom.drawing import Path, offset
from cupgeom.errors import (
    CupgeomError,
    Notice,
    number,
    require_at_least,
    require_at_most,
    require_finite,
    require_positive,
)
from cupgeom.template.outline import Blank
from cupgeom.units import describe_turn

Seam = Literal["blank", "continued", "butt"]
SEAMS: tuple[Seam, ...] = ("blank", "continued", "butt")
_HALF_TURN = math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of the wrap on the flat sheet of its wall.

    Attributes
    ----------
    blank
        What it covers.
    cut
        The trim line: where the blade goes, tab included.
    bleed
        How far ink may reach: the cut line moved outward, corners mitred.
    safe
        The line to keep lettering inside: the printable outline moved inward.
    printable
        Where ink counts: inside the trim, the printed range and all hard keep-outs; a continued tab belongs to it.
    seams_rad
        Turns of its edges that meet another edge: the left one, then the right one; none for the ends of an open wrap.
    """

    name: str
    blank: Blank
    cut: Path
    bleed: Path
    safe: Path
    printable: Path
    seams_rad: tuple[float | None, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """A wrap for one wall of a cup.

    Parameters
    ----------
    cup
        The cup as it is now.
    wall_index
        Which of its walls, 0 at the top.
    trim
        Drops between which the blade cuts. Default: from the bare lip to `base_clearance` above the base edge.
    printed
        Drops between which ink goes. Default: the trim.
    closed
        True goes all round with the seam at the back, False stops short of the handle on both sides. Default: closed,
        unless a handle that stays on reaches into the trim.
    gap
        Free width at the back of an open wrap [mm along the wall, where it is narrowest]; a handle may need more.
    seam
        ``blank``: a tab without ink goes under the other edge; ``continued``: the print runs on into the tab;
        ``butt``: edge meets edge.
    overlap
        Width of the tab, measured along the wall, the same at top and base.
    bleed, safe
        Distance of the bleed outside the trim, and of the safe margin inside.
    rim_band
        Width of the advisory band below the top edge; 0 for none.
    base_clearance
        How far above the base edge the default trim ends.
    splits_deg
        Turns at which the wrap is split into panels, besides the back.

    Raises
    ------
    CupgeomError
        Naming the field, when nothing would be left to print or a width does not fit the wrap.
    """

    cup: Cup
    wall_index: int = 0
    trim: Span | None = None
    printed: Span | None = None
    closed: bool | None = None
    gap: float | None = None
    seam: Seam = "blank"
    overlap: float = 8.0
    bleed: float = 3.0
    safe: float = 3.0
    rim_band: float = zones.RIM_BAND
    base_clearance: float = 0.0
    splits_deg: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        last = len(self.cup.walls) - 1
        if not isinstance(self.wall_index, int) or not 0 <= self.wall_index <= last:
            raise CupgeomError("wall_index", f"must be a whole number from 0 to {last}, got {self.wall_index}")
        if self.seam not in SEAMS:
            raise CupgeomError("seam", f"must be one of {', '.join(SEAMS)}, got {self.seam!r}")
        for where in ("overlap", "bleed", "safe", "rim_band", "base_clearance"):
            require_at_least(where, getattr(self, where), 0)
            require_at_most(where, getattr(self, where), LARGEST_SIZE)
        if self.seam != "butt":
            require_positive("overlap", self.overlap)
        for index, split in enumerate(self.splits_deg):
            require_finite(f"splits_deg[{index}]", split, "degrees")
        self._check_spans()
        self._check_turns()
        self._check_widths()

    @property
    def wall(self) -> Wall:
        """The wall that the wrap covers."""
        return self.cup.walls[self.wall_index]

    @property
    def wall_span(self) -> Span:
        """The drops of that wall on the cup."""
        start = self.cup.wall_tops[self.wall_index]
        return Span(top=start, bottom=start + self.wall.slant)

    @property
    def trim_span(self) -> Span:
        """Where the blade goes, in drops of the cup."""
        if self.trim is not None:
            return Span(top=self.trim.top, bottom=min(self.trim.bottom, self.wall_span.bottom))
        whole = self.wall_span
        return Span(top=max(whole.top, self.cup.bare_lip), bottom=whole.bottom - self.base_clearance)

    @property
    def printed_span(self) -> Span:
        """Where ink goes, in drops of the cup: the printed range inside the trim and below the bare lip."""
        printed = self.printed or self.trim_span
        span = printed.common(self.trim_span)
        if span and span.bottom > self.cup.bare_lip:
            return Span(top=max(span.top, self.cup.bare_lip), bottom=span.bottom)
        raise CupgeomError(
            "printed" if self.printed else "trim",
            f"nothing is left to print between drops {number(printed.top)} and {number(printed.bottom)} mm"
            f" (trim {number(self.trim_span.top)} to {number(self.trim_span.bottom)} mm,"
            f" bare lip {number(self.cup.bare_lip)} mm)",
        )

    @property
    def notches(self) -> tuple[zones.Notch, ...]:
        """The keep-outs of the handle's feet within the trim, in drops of the wall."""
        return zones.notches(self.cup, self.wall_index, self._local(self.trim_span))

    @property
    def is_closed(self) -> bool:
        """Whether the wrap goes all round."""
        return not self.notches and self.gap is None if self.closed is None else self.closed

    @property
    def ends_rad(self) -> tuple[float, float]:
        """Turns of the two ends of the wrap."""
        if self.is_closed:
            return -_HALF_TURN, _HALF_TURN
        behind = 0.0 if self.gap is None else self.gap / 2 / self.narrowest_radius
        end = min(self.free_rad, _HALF_TURN - behind)
        return -end, end

    @property
    def free_rad(self) -> float:
        """The turn within which the wall is clear of the handle at every drop of the trim."""
        return _HALF_TURN - zones.largest_half_angle_rad(self.wall, self.notches, self._local(self.trim_span))

    @property
    def narrowest_radius(self) -> float:
        """Smallest radius of the wall within the trim."""
        span = self._local(self.trim_span)
        return min(self.wall.radius_at(span.top), self.wall.radius_at(span.bottom))

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The pieces from left to right, as seen from outside: one, or as many as the splits make."""
        first, last = self.ends_rad
        turns = [first, *(math.radians(split) for split in self._inner_splits()), last]
        pairs = list(pairwise(turns))
        return tuple(
            self.piece("wrap" if len(pairs) == 1 else f"panel {order} of {len(pairs)}", *pair)
            for order, pair in enumerate(pairs, start=1)
        )

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What the maker should know: the rim band where it is printed on."""
        if self.rim_band > self.printed_span.top:
            return (zones.band_notice(self.rim_band),)
        return ()

    @property
    def rim_span(self) -> Span | None:
        """The part of the trim that lies in the advisory rim band, in drops of the wall."""
        if self.rim_band <= self.trim_span.top:
            return None
        band = Span(top=0.0, bottom=self.rim_band).common(self.trim_span)
        return self._local(band) if band else None

    @property
    def bare_span(self) -> Span | None:
        """The part of the trim on the bare lip, in drops of the wall."""
        if self.cup.bare_lip <= self.trim_span.top:
            return None
        return self._local(Span(top=self.trim_span.top, bottom=min(self.cup.bare_lip, self.trim_span.bottom)))

    def piece(self, name: str, left: float, right: float) -> Piece:
        """The piece between two turns [rad], with the wrap's seam at each end that meets another."""
        closed = self.is_closed
        seams = (
            None if not closed and left == self.ends_rad[0] else left,
            None if not closed and right == self.ends_rad[1] else right,
        )
        tab = self.overlap if self.seam != "butt" and seams[1] is not None else 0.0
        notches = self.notches if closed else ()
        span = self._local(self.trim_span)
        blank = Blank(wall=self.wall, span=span, left_rad=left, right_rad=right, notches=notches, tab=tab)
        printed = Blank(
            wall=self.wall,
            span=self._local(self.printed_span),
            left_rad=left,
            right_rad=right,
            notches=zones.notches(self.cup, self.wall_index, self._local(self.printed_span)) if closed else (),
            tab=tab if self.seam == "continued" else 0.0,
        )
        cut, printable = blank.outline(), printed.outline()
        return Piece(
            name=name,
            blank=blank,
            cut=cut,
            bleed=_beside(cut, self.bleed),
            safe=_beside(printable, -self.safe),
            printable=printable,
            seams_rad=seams,
        )

    def _local(self, span: Span) -> Span:
        """A span of the cup in drops of the wall."""
        start = self.wall_span.top
        return Span(top=max(span.top - start, 0.0), bottom=min(span.bottom - start, self.wall.slant))

    def _inner_splits(self) -> list[float]:
        """The splits from left to right, other than the back, which is a seam already."""
        return sorted(split for split in self.splits_deg if abs(abs(split) - 180) > 1e-9)

    def _check_spans(self) -> None:
        whole = self.wall_span
        drops = f"drop {number(round(whole.top, 2))} to {number(round(whole.bottom, 2))} mm"
        for where, span in (("trim", self.trim), ("printed", self.printed)):
            if span is not None and (span.bottom > whole.bottom + 1e-9 or span.top < whole.top - 1e-9):
                raise CupgeomError(
                    where,
                    f"must be on the wall ({drops}), got drop {number(span.top)} to {number(span.bottom)} mm",
                )
        top = max(whole.top, self.cup.bare_lip)
        if self.trim is None and whole.bottom - self.base_clearance <= top:
            where = "base_clearance" if self.base_clearance > 0 else "bare_lip"
            raise CupgeomError(where, f"nothing is left of the wall ({drops}); give less")
        if self.trim_span.length < 1:
            raise CupgeomError("trim", f"leaves {number(self.trim_span.length)} mm of wall; it must be at least 1 mm")
        if self.narrowest_radius <= 0:
            raise CupgeomError("trim", "reaches the point of the cup, where a wrap has no edge; end it above")
        _ = self.printed_span

    def _check_turns(self) -> None:
        if self.gap is not None:
            require_positive("gap", self.gap)
            if self.closed:
                raise CupgeomError("gap", "a closed wrap has no gap; leave one of the two out")
        if self.closed is False and self.gap is None and not self.notches:
            raise CupgeomError(
                "gap", "an open wrap on a cup without a handle needs the width to leave free, such as 20mm"
            )
        first, last = self.ends_rad
        if last - first < 0.01:
            raise CupgeomError("gap", f"{number(self.gap or 0)} mm leaves nothing to print; give less")
        splits = self._inner_splits()
        free = math.degrees(self.free_rad)
        for index, split in enumerate(splits):
            if not first < math.radians(split) < last:
                raise CupgeomError("splits_deg", f"{describe_turn(split)} is not on the wrap")
            if abs(split) > free:
                raise CupgeomError(
                    "splits_deg",
                    f"{describe_turn(split)} runs through the handle; split at the back or within ±{math.floor(free)}°",
                )
            if split in splits[:index]:
                raise CupgeomError("splits_deg", f"{describe_turn(split)} is there twice; leave one out")

    def _check_widths(self) -> None:
        span = self._local(self.trim_span)
        first, last = self.ends_rad
        turns = [first, *(math.radians(split) for split in self._inner_splits()), last]
        narrowest = min(b - a for a, b in pairwise(turns)) * self.narrowest_radius
        if self.seam != "butt" and (self.is_closed or self.splits_deg) and self.overlap >= narrowest / 2:
            raise CupgeomError(
                "overlap",
                f"must be less than half the wrap's narrow end ({narrowest:.1f} mm), got {number(self.overlap)} mm",
            )
        smaller = min(narrowest, span.length)
        if self.bleed > smaller / 2:
            raise CupgeomError(
                "bleed", f"must be at most half the wrap's smaller side ({smaller:.1f} mm), got {number(self.bleed)} mm"
            )
        printed = self._local(self.printed_span)
        if self.safe >= min(narrowest, printed.length) / 2:
            raise CupgeomError(
                "safe",
                f"must be less than half the printed part's smaller side ({min(narrowest, printed.length):.1f} mm),"
                f" got {number(self.safe)} mm",
            )


def _beside(path: Path, distance: float) -> Path:
    """The outline moved by a distance; by polygon where a side of it is too short to move on its own."""
    try:
        return offset(path, distance)
    except CupgeomError:
        from shapely.geometry.polygon import orient

        moved = path.to_shapely(0.001).buffer(distance, join_style="mitre", mitre_limit=10)
        result = Path()
        for polygon in getattr(moved, "geoms", [moved]):
            for ring in [orient(polygon).exterior, *orient(polygon).interiors] if not polygon.is_empty else []:
                from cupgeom.drawing import polyline

                result += polyline([complex(x, y) for x, y in list(ring.coords)[:-1]], closed=True)
        return result
