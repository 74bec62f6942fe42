"""A rough cup to begin a fit with."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cupgeom.measure.place import Place
from cupgeom.measure.profile import Profile
from cupgeom.measure.reading import Film, LengthReading, Reading, RoundReading

if TYPE_CHECKING:
    from cupgeom.measure.profile import Floats

_DIAMETER = 80.0  # mm, when no diameter was read
_SLANT = 100.0  # mm, when no length and no drop was read
_FILM = 1.0  # mm, when the film was not predicted


def start(readings: Sequence[Reading], rings: int, film: bool) -> Floats:
    """Rough unknowns, shape (p,), that make a cup.

    Lengths are shared out evenly over walls that were not read one by one, then diameters are laid along them;
    what was not read at all is like the rest. Heights are taken as slants: the fit turns them.
    """
    import numpy as np

    slants = _slants(readings, rings - 1)
    diameters = _diameters(readings, slants, rings)
    slants = np.maximum(slants, 1.01 * np.abs(np.diff(diameters)) / 2 + 0.01)
    films = [reading.value for reading in readings if isinstance(reading, Film)]
    return np.concatenate([diameters, slants, [films[0] if films else _FILM] if film else []])


def _slants(readings: Sequence[Reading], walls: int) -> Floats:
    import numpy as np

    reached = max((place.drop or place.up or 0.0 for reading in readings for place in reading.places), default=0.0)
    even = np.full(walls, (1.25 * reached or _SLANT) / walls)
    rows, targets = [], []
    for reading in readings:
        if isinstance(reading, LengthReading):
            (top, above), (bottom, below) = _level(reading.top, walls), _level(reading.bottom, walls)
            rows.append(bottom - top)
            targets.append(reading.value - below + above)
    if rows:
        table = np.array(rows)
        even = even + np.linalg.lstsq(table, np.array(targets) - table @ even, rcond=1e-9)[0]
    slants: Floats = np.maximum(even, 1.0)
    return slants


def _diameters(readings: Sequence[Reading], slants: Floats, rings: int) -> Floats:
    import numpy as np

    round_ones = [reading for reading in readings if isinstance(reading, RoundReading)]
    if not round_ones:
        return np.full(rings, _DIAMETER)
    unit = Profile(diameters=np.eye(rings), slants=np.tile(slants, (rings, 1)), film=np.zeros(rings))
    rows = np.array([unit.diameter(reading.at) for reading in round_ones])
    found = np.array([reading.diameter for reading in round_ones])
    deviations = np.linalg.lstsq(rows, found - found.mean(), rcond=1e-3)[0]
    diameters: Floats = np.maximum(found.mean() + deviations, 1.0)
    return diameters


def _level(place: Place, walls: int) -> tuple[Floats, float]:
    """A place's drop as a sum over the slants and a constant."""
    import numpy as np

    if place.drop is not None:
        return np.zeros(walls), place.drop
    if place.up is not None:
        return np.ones(walls), -place.up
    count = walls if place.ring == -1 else place.ring or 0
    return (np.arange(walls) < count).astype(float), 0.0
