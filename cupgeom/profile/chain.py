"""The whole outside of a cup as one curve: its pieces in a chain, measured by quadrature and cut into walls.

A *drop* here is the true length along the curve. On a `Cup` it is the length along the ring polygon, which is a few
hundredths of a mm shorter over each rounding; `Profile.drop_on` goes from one to the other.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from cupgeom.cup import Cup, Handle, Ring, Span
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most, require_positive, within
from cupgeom.profile.facets import CHORD_ERROR, LEAST_CHORD_ERROR, facet_parameters
from cupgeom.profile.panel import Panel, measured
from cupgeom.profile.pieces import Piece, Trace
from cupgeom.profile.strain import LIMIT_PERCENT, SheetFit, Strain, sheet_fit, strain

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

JOINT = 1e-6  # mm by which two neighbours may miss each other, as rounding does
SHORTEST = 1e-3  # mm; a run that a strain can be told of
SAMPLES = 65  # a panel, among which a largest value is sought
_ROUNDING = 1e-12  # share by which a drop may lie beyond the base edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """The outside of a cup as radius and height along a curve from the top edge to the base edge.

    Parameters
    ----------
    pieces
        From the top down; each starts where the one before it ends. A rolled lip comes first and a foot last.

    Raises
    ------
    CupgeomError
        Naming the piece, such as ``pieces[1].top``, where the chain is broken or out of order.

    Notes
    -----
    ::

        axis |       . - .      drop 0, the topmost point of the cup
             |            )     lip, outward and down from there, at most half a turn
             |         | '      edges[1]
             |         |        band
             |        /         taper
             |      .'          shoulder
             |     |            band
             |    .'            foot
             +- -               edges[-1], the length

    Length ∫ds, area 2π∫r ds and volume −π∫r² dh, by Gauss–Legendre rules that agree to 13 digits. They hold for the
    curve itself; walls cut from it (`rings`, `cup`) are within the chord error of it.
    """

    pieces: tuple[Piece, ...]
    edges: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _panels: tuple[Panel, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.pieces:
            raise CupgeomError("pieces", "a profile needs at least one piece")
        for index in range(1, len(self.pieces)):
            with within(f"pieces[{index}]"):
                _require_joint(self.pieces[index - 1], self.pieces[index])
        panels = measured(self.pieces)
        ends = {panel.index: panel.bottom for panel in panels}
        object.__setattr__(self, "_panels", panels)
        object.__setattr__(self, "edges", (0.0, *ends.values()))

    @property
    def length(self) -> float:
        """Length along the curve from the top edge to the base edge: the drop of the base edge."""
        return self.edges[-1]

    @property
    def height(self) -> float:
        """Vertical distance from the base edge to the top edge."""
        return self.pieces[0].top.height - self.pieces[-1].bottom.height

    @property
    def area(self) -> float:
        """Area of the surface of revolution [mm²], the underside not counted."""
        return math.fsum(panel.area for panel in self._panels)

    @property
    def volume(self) -> float:
        """Volume inside the outer surface [mm³]; not the capacity, which is less by the wall's thickness."""
        return math.fsum(panel.volume for panel in self._panels)

    def area_between(self, top: float, bottom: float) -> float:
        """Area between two drops [mm²]."""
        return self._area_above(bottom) - self._area_above(top)

    def radius_at(self, drop: float) -> float:
        """Radius at a drop."""
        return max(float(self._point_at(drop).radius[0]), 0.0)

    def height_at(self, drop: float) -> float:
        """Height at a drop, on the scale of the rings."""
        return float(self._point_at(drop).height[0])

    def half_angle_rad_at(self, drop: float) -> float:
        """Angle between the axis and the curve, positive where it is wider above; at a corner, of the piece below."""
        point = self._point_at(drop)
        return math.atan2(0.0 - float(point.radius_rate[0]), -float(point.height_rate[0]))

    def drop_at_height(self, height: float) -> float:
        """Drop of the level at a height on the scale of the rings."""
        require_at_least("height", height, self.pieces[-1].bottom.height)
        require_at_most("height", height, self.pieces[0].top.height)
        for panel in self._panels:
            if height >= panel.trace(panel.end).height[0]:
                return panel.drop_at(panel.parameter_at_height(height))
        return self.length

    def piece_at(self, drop: float) -> int:
        """Index of the piece at a drop; at a corner the piece below."""
        return self._panel_at(drop).index

    def wrap_span(self) -> Span:
        """Where a wrap may lie: from below the lip to the top of the foot, shoulders included (see `sheet_fit`).

        Raises
        ------
        CupgeomError
            When the profile is all lip and foot.
        """
        wrapped = [index for index, piece in enumerate(self.pieces) if piece.role not in ("lip", "foot")]
        if not wrapped:
            raise CupgeomError("pieces", "there is only lip and foot, and nothing between them to wrap")
        return Span(top=self.edges[wrapped[0]], bottom=self.edges[wrapped[-1] + 1])

    def strain(self, span: Span | None = None) -> Strain:
        """Strain that a flat sheet must take to lie on a run of the curve; by default on the whole wrap."""
        span = self._checked(span)
        return strain(*self.samples(span))

    def sheet_fit(self, span: Span | None = None, limit_percent: float = LIMIT_PERCENT) -> SheetFit:
        """The strain of one flat sheet on a run, and the longest run from its top that keeps within the sheet's limit.

        The longest, not the first to reach the limit: a sheet that ends below a narrow bead may bear it.
        """
        span = self._checked(span)
        require_positive("limit_percent", limit_percent, "%")
        return sheet_fit(self, span, limit_percent)

    def base_diameter(self, film: float = 0.0, depth: float = 0.0) -> float:
        """Largest diameter under an even film in the lowest `depth` mm: what a holder of that depth must let in.

        Parameters
        ----------
        film
            Thickness of the coats [mm]; 0 where the foot stays bare. Corners grow along the mitre, as in `Cup.grown`.
        depth
            Height above the base edge [mm], counted on the bare cup; 0 is the base edge itself.
        """
        require_at_least("film", film, 0)
        require_at_least("depth", depth, 0)
        require_at_most("depth", depth, self.height)
        top = self.drop_at_height(self.pieces[-1].bottom.height + depth)
        traces = [self._panels[-1].trace(self._panels[-1].end)]
        if top < self.length:
            stretches = self._stretches(Span(top=top, bottom=self.length))
            traces = [panel.piece.trace(u) for panel, u in stretches]
        walls = [_grown_radius(trace, film) for trace in traces]
        corners = [_mitred_radius(above, below, film) for above, below in pairwise(traces)]
        return 2 * max(walls + corners)

    def rings(self, chord_error: float = CHORD_ERROR) -> tuple[Ring, ...]:
        """The fewest rings whose walls keep within `chord_error` of the curve; every corner of the chain is one.

        Within a piece the rings are spread so that its walls deviate alike, and no sliver of a wall is left over.
        """
        import numpy as np

        require_at_least("chord_error", chord_error, LEAST_CHORD_ERROR)
        rings = [self.pieces[0].top]
        for piece in self.pieces:
            inner = piece.trace(np.array(facet_parameters(piece, chord_error)[1:-1]))
            rings += [
                Ring(diameter=2 * max(float(radius), 0.0), height=float(height))
                for radius, height in zip(inner.radius, inner.height, strict=True)
            ]
            rings.append(piece.bottom)
        return tuple(rings)

    def cup(
        self,
        chord_error: float = CHORD_ERROR,
        *,
        name: str = "",
        handle: Handle | None = None,
        coated: Span | None = None,
        base_coated: bool = False,
    ) -> Cup:
        """The cup whose walls keep within `chord_error` of the curve; its lip stays bare.

        Drops of the handle and of the coated range are meant along the curve, and moved onto the cup's walls.
        """
        bare = Cup(rings=self.rings(chord_error), name=name, base_coated=base_coated)

        def moved(span: Span) -> Span:
            return Span(top=self.drop_on(bare, span.top), bottom=self.drop_on(bare, span.bottom))

        if handle is not None:
            spans = [moved(foot.span) for foot in handle.feet]
            feet = [
                replace(foot, top=span.top, bottom=span.bottom) for foot, span in zip(handle.feet, spans, strict=True)
            ]
            handle = replace(handle, feet=tuple(feet))
        lips = sum(piece.role == "lip" for piece in self.pieces)
        return replace(
            bare,
            bare_lip=self.drop_on(bare, self.edges[lips]),
            handle=handle,
            coated=None if coated is None else moved(coated),
        )

    def drop_on(self, cup: Cup, drop: float) -> float:
        """Drop on the walls of a cup made from this profile, at the same height as a drop on the curve."""
        height = self.height_at(drop)
        for start, wall, ring in zip(cup.wall_tops, cup.walls, cup.rings, strict=False):
            if height > ring.height - wall.height:
                return start + wall.slant * max(ring.height - height, 0.0) / wall.height
        return cup.slant

    def samples(self, span: Span) -> tuple[Floats, Floats, Floats]:
        """Drop, radius and height at many points from the span's top to its bottom, each of shape (n,).

        Every corner is among them, and every panel has 65, which find the largest value of a smooth quantity to
        within about 1/4000 of its range there.
        """
        import numpy as np

        rows = []
        for panel, u in self._stretches(span):
            trace = panel.piece.trace(u)
            rows.append((panel.drops(u), trace.radius, trace.height))
        drop, radius, height = (np.concatenate(column) for column in zip(*rows, strict=True))
        return drop, radius, height

    def _stretches(self, span: Span) -> Iterator[tuple[Panel, Floats]]:
        """The panels that a span covers, each with parameters from the first to the last drop in it."""
        import numpy as np

        for panel in self._panels:
            if panel.top < span.bottom and span.top < panel.bottom:
                first = panel.start if span.top <= panel.top else panel.parameter_at(span.top)
                last = panel.end if span.bottom >= panel.bottom else panel.parameter_at(span.bottom)
                yield panel, np.linspace(first, last, SAMPLES)

    def _panel_at(self, drop: float) -> Panel:
        require_at_least("drop", drop, 0)
        require_at_most("drop", drop, self.length * (1 + _ROUNDING))
        index = bisect_right(self._panels, drop, key=lambda panel: panel.top) - 1
        return self._panels[index]

    def _point_at(self, drop: float) -> Trace:
        panel = self._panel_at(drop)
        return panel.trace(panel.parameter_at(drop))

    def _area_above(self, drop: float) -> float:
        panel = self._panel_at(drop)
        above = (other.area for other in self._panels if other.top < panel.top)
        return math.fsum(above) + panel.area_to(panel.parameter_at(drop))

    def _checked(self, span: Span | None) -> Span:
        """The span, or the whole wrap where none is given; its end at the base edge exactly."""
        if span is None:
            return self.wrap_span()
        if span.bottom > self.length * (1 + _ROUNDING):
            raise CupgeomError(
                "span.bottom",
                f"must be on the curve (drop 0 to {number(self.length)} mm), got {number(span.bottom)} mm",
            )
        if span.length < SHORTEST:
            raise CupgeomError("span", f"must be at least {number(SHORTEST)} mm long, got {number(span.length)} mm")
        return Span(top=span.top, bottom=min(span.bottom, self.length))


def _grown_radius(trace: Trace, film: float) -> float:
    """Largest radius of the points, each moved out along its normal."""
    import numpy as np

    return float((trace.radius + film * np.cos(np.arctan2(-trace.radius_rate, -trace.height_rate))).max())


def _mitred_radius(above: Trace, below: Trace, film: float) -> float:
    """Radius of the corner between two stretches, moved out along the mitre as in `Cup.grown`."""
    upper = math.atan2(-above.radius_rate[-1], -above.height_rate[-1])
    lower = math.atan2(-below.radius_rate[0], -below.height_rate[0])
    return float(below.radius[0]) + film * math.cos((upper + lower) / 2) / math.cos((upper - lower) / 2)


def _require_joint(above: Piece, below: Piece) -> None:
    """Raise unless the piece starts where the one above it ends, and their order is that of a cup."""
    end, start = above.bottom, below.top
    if abs(start.diameter - end.diameter) / 2 > JOINT or abs(start.height - end.height) > JOINT:
        raise CupgeomError(
            "top",
            f"must be where the piece before it ends (diameter {number(end.diameter)} mm, height "
            f"{number(end.height)} mm), got diameter {number(start.diameter)} mm, height {number(start.height)} mm",
        )
    if below.role == "lip" and above.role != "lip":
        raise CupgeomError("role", f"a lip can only be at the top, but a {above.role} comes before this one")
    if above.role == "foot" and below.role != "foot":
        raise CupgeomError("role", f"a foot can only be at the base, but this {below.role} comes after one")
