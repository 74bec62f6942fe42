"""A level on the wall where a reading was taken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError, number, require_at_least

if TYPE_CHECKING:
    from cupgeom.cup import Cup, Wall


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A level on the wall: a ring of the cup, a drop from the top edge, or an up from the base edge.

    Exactly one of the three is given. A drop and an up are taken as exact: on a steep taper add to the reading's
    uncertainty what a slipped ruler would do to it.

    Parameters
    ----------
    ring
        Number of the ring, counted from the rim, which is ring 0; −1 is the base.
    drop
        Distance along the wall from the top edge down [mm].
    up
        Distance along the wall from the base edge up [mm].

    Raises
    ------
    CupgeomError
        Naming ``place``, ``ring``, ``drop`` or ``up``.
    """

    ring: int | None = None
    drop: float | None = None
    up: float | None = None

    def __post_init__(self) -> None:
        given = sum(value is not None for value in (self.ring, self.drop, self.up))
        if given != 1:
            raise CupgeomError("place", f"give one of ring, drop and up, got {given} of them")
        if self.drop is not None:
            require_at_least("drop", self.drop, 0)
        if self.up is not None:
            require_at_least("up", self.up, 0)
        if self.ring is not None and (type(self.ring) is not int or self.ring < -1):
            raise CupgeomError("ring", f"must be a ring's number, 0 for the rim, -1 for the base, got {self.ring!r}")

    @property
    def words(self) -> str:
        """The place in a maker's words: ``the rim``, ``ring 2``, ``drop 75 mm``."""
        if self.drop is not None:
            return f"drop {number(self.drop)} mm"
        if self.up is not None:
            return f"{number(self.up)} mm up from the base"
        return {0: "the rim", -1: "the base"}.get(self.ring or 0, f"ring {self.ring}")

    @property
    def counted_from_rim(self) -> bool:
        """Whether its drop is known without knowing the cup."""
        return self.drop is not None or self.ring == 0

    @property
    def counted_from_base(self) -> bool:
        """Whether its up is known without knowing the cup."""
        return self.up is not None or self.ring == -1

    def may_lie_above(self, other: Place) -> bool:
        """Whether the place is above another one, as far as that can be told without knowing the cup."""
        if self.ring == -1 or other.ring == 0:
            return False
        if self.ring is not None and other.ring is not None:
            return self.ring < other.ring or other.ring == -1
        if self.drop is not None and other.drop is not None:
            return self.drop < other.drop
        return self.up is None or other.up is None or self.up > other.up

    def drop_on(self, cup: Cup) -> float:
        """Drop of the place on a known cup.

        Raises
        ------
        CupgeomError
            When the cup has no such ring, or the place is not on its wall.
        """
        if self.ring is not None:
            edges = (*cup.wall_tops, cup.slant)
            if self.ring >= len(edges):
                raise CupgeomError("ring", f"must be a ring of the cup (0 to {len(edges) - 1}), got {self.ring}")
            return edges[self.ring]
        drop = self.drop if self.drop is not None else cup.slant - (self.up or 0.0)
        if not -1e-9 <= drop <= cup.slant + 1e-9:
            raise CupgeomError("place", f"must be on the wall of {number(cup.slant)} mm, got {self.words}")
        return min(max(drop, 0.0), cup.slant)

    def wall_on(self, cup: Cup) -> Wall:
        """The wall of a known cup that begins at the place or holds it."""
        drop = self.drop_on(cup)
        return [wall for top, wall in zip(cup.wall_tops, cup.walls, strict=True) if top <= drop][-1]


RIM = Place(ring=0)
BASE = Place(ring=-1)
