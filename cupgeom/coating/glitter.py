"""Glitter under a coat: how much film buries it."""

from __future__ import annotations

from dataclasses import dataclass

from cupgeom.errors import CupgeomError, number, require_at_least, require_positive

FLAKE = 0.4  # mm, 1/64 in, a fine glitter: common practice, no source
VOIDS = 0.7  # share of the layer that is air: assumed, flakes lie loose


@dataclass(frozen=True, slots=True, kw_only=True)
class Glitter:
    """A layer of glitter as thick as a flake is wide, since some flakes stand on edge.

    Parameters
    ----------
    flake
        Width of a flake.
    voids
        Share of the layer that is not flake, which resin must fill, 0 to 1.
    """

    flake: float = FLAKE
    voids: float = VOIDS

    def __post_init__(self) -> None:
        require_positive("flake", self.flake)
        require_at_least("voids", self.voids, 0, "of the layer")
        if self.voids > 1:
            raise CupgeomError("voids", f"must be at most 1, got {number(self.voids)}; 70 % is 0.7")

    @property
    def cover_film(self) -> float:
        """Least film that buries the layer: it fills the voids up to the tops of the flakes that stand."""
        return self.flake * self.voids
