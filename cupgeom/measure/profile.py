"""The walls that a fit is about, for many trial cups at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from cupgeom.measure.place import Place

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Profile:
    """Rings and walls of q cups that have n rings each: what a fit asks of a cup, in numpy.

    The unknowns of a fit stand in this order: n ring diameters from the rim down, n − 1 slants from the rim down, and
    the film where a reading was taken on the coated cup. A frustum has three: rim diameter, base diameter, slant.

    Parameters
    ----------
    diameters
        Shape (q, n) [mm].
    slants
        Length of each wall along its surface, shape (q, n − 1) [mm].
    film
        Even thickness of what was coated on the walls, shape (q,) [mm].
    """

    diameters: Floats
    slants: Floats
    film: Floats

    @classmethod
    def of(cls, unknowns: Floats, rings: int) -> Profile:
        """The profiles of q vectors of unknowns, shape (q, p); a cup with a slant not above 0 becomes NaN."""
        import numpy as np

        slants = unknowns[:, rings : 2 * rings - 1]
        film = unknowns[:, 2 * rings - 1] if unknowns.shape[1] == 2 * rings else np.zeros(len(unknowns))
        return cls(diameters=unknowns[:, :rings], slants=np.where(slants > 0, slants, np.nan), film=film)

    def level(self, place: Place) -> Floats:
        """Drop of a place, shape (q,)."""
        import numpy as np

        if place.drop is not None:
            return np.full(len(self.slants), float(place.drop))
        count = place.ring if place.ring is not None and place.ring >= 0 else self.slants.shape[1]
        length: Floats = self.slants[:, :count].sum(axis=1)
        return length - (place.up or 0.0)

    def diameter(self, place: Place) -> Floats:
        """Diameter at a place, shape (q,): linear along each wall; the end walls go on beyond their edges."""
        if place.ring is not None:
            return self.diameters[:, place.ring]
        steps = self.diameters[:, 1:] - self.diameters[:, :-1]
        gain: Floats = (steps * self._shares(self.level(place))).sum(axis=1)
        return self.diameters[:, 0] + gain

    def depth(self, place: Place) -> Floats:
        """Vertical distance of a place below the rim, shape (q,)."""
        depth: Floats = (self.heights * self._shares(self.level(place))).sum(axis=1)
        return depth

    def cone_constant(self, place: Place) -> Floats:
        """Loss of radius per mm of drop on the wall that begins at the place or holds it, shape (q,)."""
        import numpy as np

        constants = (self.diameters[:, :-1] - self.diameters[:, 1:]) / (2 * self.slants)
        if place.ring is not None:
            return constants[:, place.ring]
        tops = self._tops()
        index = (self.level(place)[:, None] >= tops[:, 1:]).sum(axis=1)
        return np.take_along_axis(constants, index[:, None], axis=1)[:, 0]

    @property
    def heights(self) -> Floats:
        """Vertical height of each wall, shape (q, n − 1); NaN where the slant is too short for the radii."""
        import numpy as np

        square = self.slants**2 - ((self.diameters[:, 1:] - self.diameters[:, :-1]) / 2) ** 2
        return np.sqrt(np.where(square > 0, square, np.nan))

    def grown(self) -> Profile:
        """The profiles under their film: the same mitred growth as `cupgeom.cup.Cup.grown`."""
        import numpy as np

        heights = self.heights
        angles = np.arctan2((self.diameters[:, :-1] - self.diameters[:, 1:]) / 2, heights)
        above = np.concatenate([angles[:, :1], angles], axis=1)
        below = np.concatenate([angles, angles[:, -1:]], axis=1)
        stretch, mitre = self.film[:, None] / np.cos((above - below) / 2), (above + below) / 2
        diameters = self.diameters + 2 * stretch * np.cos(mitre)
        falls = heights + np.diff(stretch * np.sin(mitre), axis=1)
        slants = np.hypot(np.diff(diameters, axis=1) / 2, falls)
        return Profile(diameters=diameters, slants=slants, film=self.film)

    def _tops(self) -> Floats:
        """Drop at which each wall begins, shape (q, n − 1)."""
        return self.slants.cumsum(axis=1) - self.slants

    def _shares(self, level: Floats) -> Floats:
        """Which share of each wall lies above a level, shape (q, n − 1); the end walls go on beyond their edges."""
        import numpy as np

        walls = self.slants.shape[1]
        least, most = np.zeros(walls), np.ones(walls)
        least[0], most[-1] = -np.inf, np.inf
        return np.clip((level[:, None] - self._tops()) / self.slants, least, most)
