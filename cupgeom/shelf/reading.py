"""One thing that a maker read off a cup, as it was typed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cupgeom.cup import Cup, Ring
from cupgeom.errors import CupgeomError, require_at_least, require_positive, within
from cupgeom.records import LENGTH, Kind, above_zero, nearest, row
from cupgeom.shelf.level import Level, parse_level
from cupgeom.units import is_inches

TAPES = ("rim_around", "base_around", "around")
CALLIPERS = ("rim", "base", "across")
LENGTHS = ("height", "slant")
ANYWHERE = ("around", "across")  # the others say by their name where they were read
OPTIONS = (*TAPES, *CALLIPERS, *LENGTHS, "film")
SPREAD = above_zero(LENGTH)
PAIR = row(LENGTH, 2, "a diameter and a height such as [88, 170]")
_GAPS = ("rim", "base", "step")


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A typed reading: ``10 7/8 in``, ``258mm@75mm``, ``258mm ± 0.3mm @ 20mm up``."""

    value: float
    uncertainty: float | None = None
    at: Level | None = None
    typed: str = ""  # the length alone as it was typed, empty for a plain number


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """One reading: the option it was given with, what was read [mm], and what else was said of it.

    Raises
    ------
    CupgeomError
        Naming ``read``, when it is no length, or its place is missing or said twice; or the field that is wrong.
    """

    option: str
    value: float
    typed: str = ""
    uncertainty: float | None = None
    at: Level | None = None
    top: Level | None = None
    bottom: Level | None = None
    thickness: float = 0.0
    coated: bool = False
    label: str = ""

    def __post_init__(self) -> None:
        if self.option not in OPTIONS:
            raise CupgeomError("option", f"must be one of {', '.join(OPTIONS)}, got {self.option!r}")
        if self.uncertainty is not None:
            require_positive("uncertainty", self.uncertainty)
        require_at_least("thickness", self.thickness, 0)
        if self.option == "film":
            require_at_least("read", self.value, 0)
        else:
            require_positive("read", self.value)
        if self.option not in ANYWHERE and self.at is not None:
            raise CupgeomError("read", "says by its key where it was read; use around or across for another place")
        if self.option in ANYWHERE and self.at is None:
            raise CupgeomError("read", "needs the place where it was read, such as 258mm@75mm")

    @classmethod
    def of(cls, option: str, amount: Amount, *, thickness: float = 0.0, coated: bool = False) -> Read:
        """A reading as it was typed on the command line."""
        return cls(
            option=option,
            value=amount.value,
            typed=amount.typed,
            uncertainty=amount.uncertainty,
            at=amount.at,
            thickness=thickness,
            coated=coated,
        )

    @property
    def inches(self) -> bool:
        """Whether it was typed in inches."""
        return is_inches(self.typed)


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperRead:
    """What was read off a fit-test print: gaps (+) or overlaps (−) at its edges, the step at its seam [mm]."""

    printed: tuple[Ring, ...]
    rim: float | None = None
    base: float | None = None
    step: float | None = None
    top: Level | None = None
    bottom: Level | None = None
    uncertainty: float | None = None
    step_uncertainty: float | None = None
    thickness: float = 0.0
    coated: bool = False

    def __post_init__(self) -> None:
        if self.rim is self.base is self.step is None:
            raise CupgeomError("", "says nothing; give rim, base or step")
        with within("printed"):
            Cup(rings=self.printed)


def parse_amount(value: object) -> Amount:
    """A reading from a number (mm) or a text; its uncertainty and place may stand behind it.

    Raises
    ------
    CupgeomError
        When a part of it cannot be read.
    """
    if not isinstance(value, str):
        return Amount(value=LENGTH.parse(value))
    read, at_sign, place = value.partition("@")
    length, *spread = (part.strip() for part in re.split(r"±|\+/-|\+-", read, maxsplit=1))
    return Amount(
        value=LENGTH.parse(length),
        uncertainty=SPREAD.parse(spread[0]) if spread else None,
        at=parse_level(place) if at_sign else None,
        typed="" if re.fullmatch(r"\d+(\.\d+)?", length) else length,
    )


AMOUNT = Kind(parse_amount, LENGTH.forms, Amount(value=0.0))


def parse_paper_gap(text: str, printed: Cup) -> PaperRead:
    """What a fit-test print of a cup showed, such as ``rim=1.5mm,base=-0.5mm,step=0.4mm``.

    Raises
    ------
    CupgeomError
        When it cannot be read, or says one thing twice.
    """
    found: dict[str, float] = {}
    for part in re.split(r",(?=\s*[^\W\d]+\s*=)", text):
        key, equals, length = (one.strip() for one in part.partition("="))
        if not equals:
            raise CupgeomError("paper_gap", f"cannot read {part!r}; give gaps such as rim=1.5mm,base=-0.5mm,step=0.4mm")
        if key not in _GAPS or key in found:
            hint = "it is there already" if key in found else nearest(key, _GAPS)
            raise CupgeomError("paper_gap", f"cannot take {key!r}; {hint}")
        found[key] = LENGTH.parse(length)
    return PaperRead(printed=printed.rings, rim=found.get("rim"), base=found.get("base"), step=found.get("step"))


def rings_of(pairs: Sequence[tuple[float, ...]], where: str) -> tuple[Ring, ...]:
    """Rings from pairs of diameter and height."""
    rings = []
    for index, (diameter, height) in enumerate(pairs):
        with within(f"{where}[{index}]"):
            rings.append(Ring(diameter=diameter, height=height))
    return tuple(rings)


def ring_fields(key: str) -> dict[str, str]:
    """Where the two numbers of a ring stand in the file."""
    return {f"{key}[].diameter": f"{key}[][0]", f"{key}[].height": f"{key}[][1]"}
