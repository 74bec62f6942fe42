"""The outside of a cup as pieces from the top down, as it stands in the shop file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, within
from cupgeom.records import FLAG, LENGTH, Table, above_zero, choice
from cupgeom.shelf.reading import PAIR, rings_of

if TYPE_CHECKING:
    from cupgeom.cup import Ring
    from cupgeom.profile import Piece, Profile, Role

FIELDS = {  # of a profile, and the keys that they come from
    "pieces": "profile",
    "pieces[].arc_radius": "profile[].arc",
    "pieces[].top": "profile[].rings",
    "pieces[].bottom": "profile[].rings",
    "pieces[].rings[]": "profile[].rings",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlinePiece:
    """One piece: a straight run between two rings, an arc when its radius is given, a smooth curve through more rings.

    Its first ring may be left out when it is the last ring of the piece above.
    """

    role: Role
    rings: tuple[tuple[float, ...], ...]
    arc: float | None = None
    hollow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Pieces from the top edge to the base."""

    pieces: tuple[OutlinePiece, ...]

    def profile(self) -> Profile:
        """The pieces as a curve.

        Raises
        ------
        CupgeomError
            Naming the piece, such as ``pieces[1].arc_radius``, when they make no cup.
        """
        from cupgeom.profile import Profile

        made: list[Piece] = []
        for index, piece in enumerate(self.pieces):
            with within(f"pieces[{index}]"):
                made.append(_piece(piece, made[-1].bottom if made else None))
        return Profile(pieces=tuple(made))


def parse_outline(table: Table) -> Outline:
    """The pieces under the key ``profile``."""
    from cupgeom.profile import ROLES

    return Outline(
        pieces=tuple(
            OutlinePiece(
                role=part.take("role", choice(*ROLES)),
                rings=part.items("rings", PAIR),
                arc=part.maybe("arc", above_zero(LENGTH)),
                hollow=part.take("hollow", FLAG, False),
            )
            for part in table.tables("profile")
        )
    )


def _piece(piece: OutlinePiece, above: Ring | None) -> Piece:
    from cupgeom.profile import Round, Smooth, Straight

    rings = rings_of(piece.rings, "rings")
    if above is not None and rings and rings[0] != above:
        rings = (above, *rings)
    if len(rings) < 2:
        raise CupgeomError("rings", "needs two rings or more; only below another piece may the first be left out")
    if len(rings) > 2:
        if piece.arc is not None:
            raise CupgeomError("arc", f"goes with two rings, the ends of the arc, got {len(rings)}")
        return Smooth(rings=rings, role=piece.role)
    top, bottom = rings
    if piece.arc is None:
        return Straight(top=top, bottom=bottom, role=piece.role)
    return Round(top=top, bottom=bottom, arc_radius=piece.arc, hollow=piece.hollow, role=piece.role)
