"""What a maker reads off a cup with tape, calliper and ruler."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.cup import LARGEST_SIZE
from cupgeom.errors import (
    CupgeomError,
    number,
    require_at_least,
    require_at_most,
    require_finite,
    require_positive,
)
from cupgeom.measure.place import BASE, RIM, Place

if TYPE_CHECKING:
    from cupgeom.measure.profile import Floats, Profile

CALLIPER_UNCERTAINTY = 0.1  # mm, k = 1; assumed
TAPE_UNCERTAINTY = 0.5  # mm of circumference, k = 1; assumed
RULER_UNCERTAINTY = 0.5  # mm, k = 1; assumed
FILM_UNCERTAINTY = 0.3  # mm, k = 1; assumed, about a quarter of four coats poured by hand
SMALLEST_UNCERTAINTY = 1e-4  # mm; finer than any tool of a workshop
LARGEST_UNCERTAINTY = 1e3  # mm; such a reading says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(ABC):
    """One number read off the cup, with its uncertainty. Readings are taken as independent of each other.

    Parameters
    ----------
    value
        What was read [mm].
    uncertainty
        Standard uncertainty of it, k = 1 [mm].
    coated
        Read on the cup as it is now, under its coats, with drops counted on the coated wall; the fit then has the film
        as one more unknown.
    label
        The maker's own name for the reading; else it is named after its tool and place.

    Raises
    ------
    CupgeomError
        Naming the reading, such as ``rim tape`` or ``rim tape.uncertainty``.
    """

    value: float
    uncertainty: float
    coated: bool = False
    label: str = ""

    def __post_init__(self) -> None:
        where = f"{self.name}.uncertainty"
        require_at_least(where, self.uncertainty, SMALLEST_UNCERTAINTY)
        require_at_most(where, self.uncertainty, LARGEST_UNCERTAINTY)
        self._check()

    def _check(self) -> None:
        require_positive(self.name, self.value)
        require_at_most(self.name, self.value, LARGEST_SIZE)

    @property
    def name(self) -> str:
        """The reading in a maker's words, without an article: ``rim tape``, ``slant``, ``calliper at drop 75 mm``."""
        return self.label or self._words + (" on the coated cup" if self.coated else "")

    @property
    @abstractmethod
    def _words(self) -> str: ...

    @property
    @abstractmethod
    def places(self) -> tuple[Place, ...]:
        """Where on the wall it was taken."""

    @abstractmethod
    def predict(self, profile: Profile) -> Floats:
        """What the reading would be on each of q cups, shape (q,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundReading(Reading):
    """A reading that goes round or across the cup at one place."""

    at: Place = RIM

    @property
    def places(self) -> tuple[Place, ...]:
        """Where on the wall it was taken."""
        return (self.at,)

    @property
    @abstractmethod
    def diameter(self) -> float:
        """The diameter that the reading alone would give."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthReading(Reading):
    """A length between two places; from the rim to the base unless said otherwise."""

    uncertainty: float = RULER_UNCERTAINTY
    top: Place = RIM
    bottom: Place = BASE

    def _check(self) -> None:
        require_positive(self.name, self.value)
        require_at_most(self.name, self.value, LARGEST_SIZE)
        if not self.top.may_lie_above(self.bottom):
            raise CupgeomError(self.name, f"its top ({self.top.words}) must lie above its bottom ({self.bottom.words})")

    @property
    def places(self) -> tuple[Place, ...]:
        """Where on the wall it begins and ends."""
        return (self.top, self.bottom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape(RoundReading):
    """A circumference by tape.

    A tape of thickness t is as long as its marks say along its middle line, which lies t/2 outside the wall, so that
    it reads π(d + t) on a diameter d.

    Parameters
    ----------
    at
        Where it went round.
    thickness
        Thickness of the tape [mm]; 0 for a tape whose marks are made for its inner face.
    """

    uncertainty: float = TAPE_UNCERTAINTY
    thickness: float = 0.0

    def _check(self) -> None:
        require_positive(self.name, self.value)
        require_at_least(f"{self.name}.thickness", self.thickness, 0)
        require_at_most(self.name, self.value, math.pi * LARGEST_SIZE)
        if self.diameter <= 0:
            raise CupgeomError(
                f"{self.name}.thickness",
                f"must be less than a reading of {number(self.value)} mm allows, got {number(self.thickness)} mm",
            )

    @property
    def diameter(self) -> float:
        """Diameter that the tape went round."""
        return self.value / math.pi - self.thickness

    @property
    def _words(self) -> str:
        return _tool("tape", self.at)

    def predict(self, profile: Profile) -> Floats:
        """π(d + t)."""
        return math.pi * (profile.diameter(self.at) + self.thickness)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calliper(RoundReading):
    """A diameter by calliper."""

    uncertainty: float = CALLIPER_UNCERTAINTY

    @property
    def diameter(self) -> float:
        """The diameter that was read."""
        return self.value

    @property
    def _words(self) -> str:
        return _tool("calliper", self.at)

    def predict(self, profile: Profile) -> Floats:
        """The diameter there."""
        return profile.diameter(self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Height(LengthReading):
    """A vertical height, by ruler."""

    @property
    def _words(self) -> str:
        return _length("height", self.top, self.bottom)

    def predict(self, profile: Profile) -> Floats:
        """The difference of the depths below the rim."""
        return profile.depth(self.bottom) - profile.depth(self.top)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slant(LengthReading):
    """A length along the wall, by ruler."""

    def _check(self) -> None:
        LengthReading._check(self)
        for side in ("counted_from_rim", "counted_from_base"):
            if getattr(self.top, side) and getattr(self.bottom, side):
                raise CupgeomError(self.name, "says nothing new: both its ends are counted from the same edge")

    @property
    def _words(self) -> str:
        return _length("slant", self.top, self.bottom)

    def predict(self, profile: Profile) -> Floats:
        """The difference of the drops."""
        return profile.level(self.bottom) - profile.level(self.top)


@dataclass(frozen=True, slots=True, kw_only=True)
class Film(Reading):
    """The film that the coats should have left, as predicted from what was poured.

    A tape round the coated cup outweighs it; its residual is then predicted − measured.
    """

    uncertainty: float = FILM_UNCERTAINTY

    def _check(self) -> None:
        require_finite(self.name, self.value)
        require_at_least(self.name, self.value, 0)

    @property
    def _words(self) -> str:
        return "predicted film"

    @property
    def places(self) -> tuple[Place, ...]:
        """None: it is of the whole wall."""
        return ()

    def predict(self, profile: Profile) -> Floats:
        """The film."""
        return profile.film


def labels(readings: Sequence[Reading]) -> tuple[str, ...]:
    """A name for each reading, in a maker's words; what was read several times is numbered: ``rim tape 2``."""
    total, seen, names = Counter(reading.name for reading in readings), Counter[str](), []
    for reading in readings:
        seen[reading.name] += 1
        names.append(reading.name if total[reading.name] == 1 else f"{reading.name} {seen[reading.name]}")
    return tuple(names)


def listed(words: Sequence[str], joint: str = "and") -> str:
    """Words in a row as people say them: ``a, b and c``."""
    return f"{', '.join(words[:-1])} {joint} {words[-1]}" if len(words) > 1 else "".join(words)


def _tool(tool: str, at: Place) -> str:
    """``rim tape``, ``ring 2 calliper``, ``tape at drop 75 mm``, ``tape 75 mm up from the base``."""
    if at.ring is not None:
        return f"{at.words.removeprefix('the ')} {tool}"
    return f"{tool} at {at.words}" if at.drop is not None else f"{tool} {at.words}"


def _length(what: str, top: Place, bottom: Place) -> str:
    return what if (top, bottom) == (RIM, BASE) else f"{what} from {top.words} to {bottom.words}"
