"""The coats of a cup: tack, flood, vein and clear; how much of each goes on it, and how they fatten it.

What a coat takes where nothing is said is the trade's common practice for one tumbler of about 590 mL, scaled by coated
area to any other cup. No source stands behind these figures; the maker's own bench log beats them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal, get_args

from cupgeom.cup import Cup, Span
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most, require_positive, within
from cupgeom.records import nearest
from cupgeom.units import parse_length

Kind = Literal["tack", "flood", "vein", "clear"]
KINDS: tuple[Kind, ...] = get_args(Kind)
FIRST_FLOOD = "first flood"
LABELS = ("tack", FIRST_FLOOD, "flood", "vein", "clear")  # the first flood over glitter takes more than the others
COMMON_ML: Mapping[str, float] = {  # that end on the reference tumbler
    "tack": 0.8,  # less than 1 mL of the 5 mL that are mixed
    FIRST_FLOOD: 26.0,  # 30 mL mixed less a loss of 4 mL
    "flood": 16.0,  # 20 mL mixed
    "vein": 26.0,  # 30 mL mixed, the colours included
    "clear": 16.0,  # as a later flood: assumed
}
VEIN_BASE_SHARE = 15 / 26  # of a vein coat, laid down without colour; the rest goes to the small cups
VEIN_COLOURS = 3  # small cups, where nothing is said: assumed
WAIT_SHARES: Mapping[str, float] = {  # of the data sheet's "recoat from", before the next coat: 2, 4 and 8 h of 4 h
    "tack": 0.5,
    FIRST_FLOOD: 1.0,
    "flood": 2.0,
    "vein": 2.0,
    "clear": 2.0,
}
MOST_COLORANT = 0.05  # of a small cup's mass; more may keep the resin from curing: common practice, no source
THICKEST_FILM = 10.0  # mm; far beyond any coat, so that a slipped unit is noticed
MOST_ML = 1000.0
COAT_FORMS = "coats such as tack, flood, flood=0.6mm, vein=26mL/3@2%, clear"
_COAT = re.compile(r"(?P<kind>[^=/@]+)(?:=(?P<amount>[^/@]+))?(?:/(?P<colours>\d{1,2})(?:@(?P<share>[\d.]+)\s*%)?)?")
_VOLUME = re.compile(r"(\d+(?:\.\d*)?|\.\d+)\s*ml", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coat:
    """One coat: by its film, by its volume, or by common practice.

    Parameters
    ----------
    kind
        ``tack``: a thin one that holds glitter; ``flood``; ``vein``: part laid down, the rest in small cups for colour;
        ``clear``: the last ones.
    film
        Mean film as it would lie at room temperature.
    volume_ml
        What ends on one cup [mL], in place of a film.
    colours
        Small cups of a vein coat.
    colorant_share
        Share of each small cup's mass that is colorant.
    """

    kind: Kind
    film: float | None = None
    volume_ml: float | None = None
    colours: int = 0
    colorant_share: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise CupgeomError("kind", f"no coat {self.kind!r}; {nearest(self.kind, KINDS)}")
        if self.film is not None:
            require_positive("film", self.film)
            require_at_most("film", self.film, THICKEST_FILM)
        if self.volume_ml is not None:
            require_positive("volume_ml", self.volume_ml, "mL")
            require_at_most("volume_ml", self.volume_ml, MOST_ML, "mL")
            if self.film is not None:
                raise CupgeomError("volume_ml", "cannot stand beside a film; keep one of the two")
        require_at_least("colours", self.colours, 0, "small cups")
        require_at_least("colorant_share", self.colorant_share, 0, "of the mass")
        require_at_most("colorant_share", self.colorant_share, 0.5, "of the mass")
        if self.kind != "vein" and (self.colours or self.colorant_share):
            raise CupgeomError("colours", f"belong to a vein coat, not to {self.kind}")

    @property
    def small_cups(self) -> int:
        """Small cups for colour: as said, or as common for a vein coat."""
        return self.colours or (VEIN_COLOURS if self.kind == "vein" else 0)


@cache
def reference_tumbler() -> Cup:
    """The tumbler that the common figures are for: coated from 6 mm below the top edge to the base edge, base bare."""
    bare = Cup.frustum(88.0, 70.0, 170.0, name="reference tumbler")
    return replace(bare, coated=Span(top=6.0, bottom=bare.slant))


def common_film(label: str) -> float:
    """Mean film [mm] of a coat as common practice lays it, the same on every cup."""
    return COMMON_ML[label] * 1000 / reference_tumbler().coated_area


def labels(coats: Sequence[Coat]) -> tuple[str, ...]:
    """What each coat is called: the first flood is another than the later ones."""
    found: list[str] = []
    for coat in coats:
        first = coat.kind == "flood" and FIRST_FLOOD not in found
        found.append(FIRST_FLOOD if first else coat.kind)
    return tuple(found)


def films(
    cup: Cup, coats: Sequence[Coat], *, own: Mapping[str, float] | None = None, thinning: float = 1.0
) -> tuple[float, ...]:
    """Mean film of each coat on the cup [mm].

    Parameters
    ----------
    cup
        Before its first coat; all coats are reckoned on this area.
    coats
        In the order in which they are laid.
    own
        The maker's own films by label, from the bench log; they beat common practice.
    thinning
        By how much less a warmed cup takes of a coat that is not given by volume (see `warm_thinning`).
    """
    require_positive("thinning", thinning, "times")
    require_positive("coated_area", cup.coated_area, "mm²")
    found = []
    for coat, label in zip(coats, labels(coats), strict=True):
        if coat.volume_ml is not None:
            found.append(coat.volume_ml * 1000 / cup.coated_area)
            continue
        usual = (own or {}).get(label, common_film(label))
        found.append(thinning * (usual if coat.film is None else coat.film))
    return tuple(found)


def warm_thinning(viscosity_pa_s: float, room_viscosity_pa_s: float) -> float:
    """By how much less film a warmed cup takes when the coat is spread by hand: √(μ/μ_room).

    A film that drains off a wall is √(μz/(ρgt)) thick (H. Jeffreys, 1930; from memory), so that at equal time and place
    it goes with √μ. That hand spreading follows it is assumed. The drip limit goes with √μ too.
    """
    require_positive("viscosity", viscosity_pa_s, "Pa·s")
    require_positive("room_viscosity", room_viscosity_pa_s, "Pa·s")
    return math.sqrt(viscosity_pa_s / room_viscosity_pa_s)


def grown_by(
    cup: Cup, coats: Sequence[Coat], count: int, sanded: float = 0.0, *, own: Mapping[str, float] | None = None
) -> Cup:
    """The cup as the next decal meets it, after some of its coats.

    Parameters
    ----------
    cup
        Before its first coat.
    coats
        In the order in which they are laid.
    count
        How many of them are on.
    sanded
        What sanding has taken off again.
    own
        The maker's own films by label, from the bench log.

    Raises
    ------
    CupgeomError
        Naming ``count`` or ``sanded``, when there are not so many coats, or sanding would go through them.
    """
    return cup.grown(build_up(cup, coats, count, sanded, own=own))


def build_up(
    cup: Cup, coats: Sequence[Coat], count: int, sanded: float = 0.0, *, own: Mapping[str, float] | None = None
) -> float:
    """How much the first coats fatten the wall [mm], as `grown_by`."""
    if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= len(coats):
        raise CupgeomError("count", f"must be a whole number from 0 to {len(coats)}, the coats there are, got {count}")
    film = math.fsum(films(cup, coats, own=own)[:count])
    require_at_least("sanded", sanded, 0)
    if sanded > film:
        raise CupgeomError("sanded", f"must be at most the {film:.3f} mm that are on, got {number(sanded)} mm")
    return film - sanded


def parse_coats(text: str, where: str = "coats") -> tuple[Coat, ...]:
    """Typed coats, commas between them: ``tack, flood, flood=0.6mm, vein=26mL/3@2%, clear``.

    Behind the kind stands what goes on one cup, as a film or in mL; for a vein coat behind a slash the number of small
    cups, and behind an @ the colorant in per cent of their mass.

    Raises
    ------
    CupgeomError
        When a coat is unknown (with the nearest name) or its amount cannot be read.
    """
    parts = [part.strip() for part in text.split(",")]
    if not text.strip():
        raise CupgeomError(where, f"is empty; give {COAT_FORMS}")
    return tuple(_coat(part, where) for part in parts)


def _coat(text: str, where: str) -> Coat:
    match = _COAT.fullmatch(text)
    if match is None:
        raise CupgeomError(where, f"cannot read {text[:40]!r}; give {COAT_FORMS}")
    word = match["kind"].strip().lower()
    kind = next((known for known in KINDS if known == word), None)
    if kind is None:
        raise CupgeomError(where, f"no coat {word[:40]!r}; {nearest(word, KINDS)}")
    film, volume = _amount(match["amount"], where)
    share = _per_cent(match["share"], where)
    try:
        return Coat(
            kind=kind,
            film=film,
            volume_ml=volume,
            colours=int(match["colours"] or 0),
            colorant_share=share,
        )
    except CupgeomError as error:
        raise CupgeomError(where, f"{text}: {error}") from None


def _amount(text: str | None, where: str) -> tuple[float | None, float | None]:
    """A film [mm] or a volume [mL]."""
    if text is None:
        return None, None
    volume = _VOLUME.fullmatch(text.strip())
    if volume:
        return None, float(volume[1])
    with within(where):
        return parse_length(text, "film"), None


def _per_cent(text: str | None, where: str) -> float:
    if text is None:
        return 0.0
    try:
        return float(text) / 100
    except ValueError:
        raise CupgeomError(where, f"cannot read {text!r} as per cent; give a number such as 2") from None
