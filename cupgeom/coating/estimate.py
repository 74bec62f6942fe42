"""How much to mix, coat by coat, and whether the rack will hold it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType

from cupgeom.coating import coats as laid
from cupgeom.coating.coats import MOST_COLORANT, VEIN_BASE_SHARE, WAIT_SHARES, Coat
from cupgeom.coating.cure import ALLOWED_SAG, Cure
from cupgeom.coating.film import DRIPS_FROM, WARN_FROM, Rack, slowest_rpm, smallest_radius, thinnest_pa_s
from cupgeom.coating.glitter import Glitter
from cupgeom.coating.mixing import LEAST_BATCH_ML, MARK_ML, Loss, Mix, mix
from cupgeom.coating.resin import ROOM_C, Resin, require_temperature
from cupgeom.cup import Cup
from cupgeom.errors import CupgeomError, Notice, number, require_at_least, require_at_most, require_positive

MINUTES_A_CUP = 10.0  # to lay one coat on one cup: assumed
MOST_CUPS = 1000
_MOST_POURS = 20  # batches for one coat on one cup; more says that a size was mistyped
_SAFE_SHARE = WARN_FROM  # thinner coats are advised to stay below it
_HEAVY_SANDING_FROM = 3  # coats over glitter: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """How the coats are laid.

    Parameters
    ----------
    speed_rpm
        Turns of the rack a minute [1/min].
    room_c
        Temperature of the room [°C].
    cup_c
        Temperature of a warmed cup [°C]; None for one at room temperature.
    cups
        How many are coated alike.
    minutes_a_cup
        To lay one coat on one cup [min].
    mark_ml
        Step between the marks of the measuring cup [mL].
    loss
        What each batch loses.
    least_batch_ml
        Less is not mixed [mL].
    glitter
        Under the first flood, None for none.
    allowed_sag
        How much the film may change once the rack stops.
    own_films
        The maker's own films by label of the coat, from the bench log.
    own_limit
        The maker's own drip limit, as a share of the theory's, from the bench log.
    """

    speed_rpm: float
    room_c: float = ROOM_C
    cup_c: float | None = None
    cups: int = 1
    minutes_a_cup: float = MINUTES_A_CUP
    mark_ml: float = MARK_ML
    loss: Loss = field(default_factory=Loss)
    least_batch_ml: float = LEAST_BATCH_ML
    glitter: Glitter | None = None
    allowed_sag: float = ALLOWED_SAG
    own_films: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    own_limit: float = 1.0

    def __post_init__(self) -> None:
        require_positive("speed_rpm", self.speed_rpm, "rpm")
        require_temperature("room_c", self.room_c)
        if not isinstance(self.cups, int):
            raise CupgeomError("cups", f"must be a whole number, got {number(self.cups)}")
        require_at_least("cups", self.cups, 1, "cups")
        require_at_most("cups", self.cups, MOST_CUPS, "cups")
        for where, unit in (("minutes_a_cup", "min"), ("mark_ml", "mL"), ("allowed_sag", "mm"), ("own_limit", "times")):
            require_positive(where, getattr(self, where), unit)
        require_at_least("least_batch_ml", self.least_batch_ml, 0, "mL")


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """A pot that is mixed so many times.

    Attributes
    ----------
    times
        How often it is mixed.
    cups
        Cups that one pot coats; less than 1 when a cup needs several pots.
    needed_ml
        Applied and lost, before it is rounded to marks [mL].
    mix
        As it is measured out.
    """

    times: int
    cups: float
    needed_ml: float
    mix: Mix


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One coat of the estimate.

    Attributes
    ----------
    label
        What the coat is called, such as ``first flood``.
    coat
        As it was asked for.
    film
        Mean film on the wall.
    applied_ml
        What ends on one cup [mL].
    batches
        What is mixed for all cups; the last one may coat fewer of them.
    cover
        Least film that buries the glitter, 0 where none is left to bury.
    limit
        Largest mean film that drips nowhere, at the smallest coated radius and when the resin is thinnest.
    share
        Applied film over limit.
    slowest_rpm, thinnest_pa_s
        What would just hold this film [1/min], [Pa·s].
    turn_min
        How long the rack turns at least, from mixing [min].
    next_from_min, next_until_min, sandable_min
        When the next coat bonds, and when this one is hard through, from mixing [min].
    small_cup_ml
        What goes into each small cup of a vein coat on one cup [mL]; 0 for other coats.
    """

    label: str
    coat: Coat
    film: float
    applied_ml: float
    batches: tuple[Batch, ...]
    cover: float
    limit: float
    share: float
    slowest_rpm: float
    thinnest_pa_s: float
    turn_min: float
    next_from_min: float
    next_until_min: float
    sandable_min: float
    small_cup_ml: float = 0.0

    @property
    def pots(self) -> int:
        """How many pots are mixed."""
        return sum(batch.times for batch in self.batches)

    @property
    def mixed_ml(self) -> float:
        """In all pots [mL]."""
        return math.fsum(batch.times * batch.mix.total_ml for batch in self.batches)

    @property
    def needed_ml(self) -> float:
        """For all pots, before they are rounded to marks [mL]."""
        return math.fsum(batch.times * batch.needed_ml for batch in self.batches)


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The coats of a cup: what to mix, and whether it holds."""

    cup: Cup
    resin: Resin
    bench: Bench
    rack: Rack
    rows: tuple[Row, ...]
    notices: tuple[Notice, ...]

    @property
    def film(self) -> float:
        """All coats together [mm]."""
        return math.fsum(row.film for row in self.rows)

    @property
    def capacity_ml(self) -> float:
        """Most that one cup's wall carries in one coat [mL]."""
        return self.bench.own_limit * self.rack.capacity(self.cup) / 1000

    @property
    def radius(self) -> float:
        """Smallest coated radius, where it drips first."""
        return smallest_radius(self.cup)

    @property
    def total_ml(self) -> tuple[float, float]:
        """Parts A and B of all coats on all cups [mL]."""
        pots = [(batch.times, batch.mix) for row in self.rows for batch in row.batches]
        return math.fsum(n * pot.a_ml for n, pot in pots), math.fsum(n * pot.b_ml for n, pot in pots)

    @property
    def total_g(self) -> tuple[float, float]:
        """Parts A and B of all coats on all cups [g]."""
        pots = [(batch.times, batch.mix) for row in self.rows for batch in row.batches]
        return math.fsum(n * pot.a_g for n, pot in pots), math.fsum(n * pot.b_g for n, pot in pots)

    @property
    def price(self) -> Decimal | None:
        """What the mixed resin costs, None when the resin has no price."""
        if self.resin.price_per_ml is None:
            return None
        return (Decimal(str(sum(self.total_ml))) * self.resin.price_per_ml).quantize(Decimal("0.01"))

    def left_ml(self, bottle_a_ml: float, bottle_b_ml: float) -> tuple[float, float]:
        """What remains in the bottles [mL]; less than 0 is what is missing."""
        part_a, part_b = self.total_ml
        return bottle_a_ml - part_a, bottle_b_ml - part_b


def estimate(cup: Cup, coats: Sequence[Coat], resin: Resin, bench: Bench) -> Estimate:
    """What to mix for these coats, and whether the rack holds them.

    A coat that is thicker than the wall carries gives a notice and is reckoned all the same.

    Raises
    ------
    CupgeomError
        When there is no coat, or a batch cannot be worked: a pot life shorter than one cup takes, a loss larger than
        the largest batch.
    """
    if not coats:
        raise CupgeomError("coats", f"there are none; give {laid.COAT_FORMS}")
    cure = Cure(resin=resin.in_room(bench.room_c), cup_c=bench.cup_c)
    rack = cure.rack(bench.speed_rpm, cure.weakest_min)
    thinning = laid.warm_thinning(cure.viscosity_pa_s(0.0), cure.resin.viscosity_pa_s(bench.room_c))
    films = laid.films(cup, coats, own=bench.own_films, thinning=thinning)
    rows = []
    buried = 0.0
    for label, coat, film in zip(laid.labels(coats), coats, films, strict=True):
        cover = 0.0
        if bench.glitter and label != "tack":
            cover = max(bench.glitter.cover_film - buried, 0.0)
            buried += film
        rows.append(_row(cup, label, coat, film, cover, cure, rack, bench))
    notices = (
        *resin.notices(bench.room_c),
        *_of_the_wall(cup, bench, thinning),
        *(notice for row in rows for notice in _of_a_row(row, bench)),
        *_of_the_order(rows, bench),
    )
    return Estimate(cup=cup, resin=resin, bench=bench, rack=rack, rows=tuple(rows), notices=notices)


def _row(cup: Cup, label: str, coat: Coat, film: float, cover: float, cure: Cure, rack: Rack, bench: Bench) -> Row:
    radius = smallest_radius(cup)
    limit = bench.own_limit * rack.drip_limit(radius)
    applied_ml = film * cup.coated_area / 1000
    over = film / bench.own_limit
    resin = cure.resin
    until = resin.recoat_until_min
    small_cups = coat.small_cups
    return Row(
        label=label,
        coat=coat,
        film=film,
        applied_ml=applied_ml,
        batches=_batches(label, applied_ml, resin, bench),
        cover=cover,
        limit=limit,
        share=film / limit,
        slowest_rpm=slowest_rpm(cup, over, rack.viscosity_pa_s, rack.density_kg_m3),
        thinnest_pa_s=thinnest_pa_s(cup, over, rack.speed_rpm, rack.density_kg_m3),
        turn_min=cure.stop_min(radius, film, bench.allowed_sag),
        next_from_min=min(WAIT_SHARES[label] * resin.recoat_from_min, until),
        next_until_min=until,
        sandable_min=resin.sandable_from_min,
        small_cup_ml=(1 - VEIN_BASE_SHARE) * applied_ml / small_cups if small_cups else 0.0,
    )


def _batches(label: str, applied_ml: float, resin: Resin, bench: Bench) -> tuple[Batch, ...]:
    """The pots for all cups: as many cups a pot as pot life and largest batch allow, shared evenly."""
    pours = 1
    while (mass := _mass_g(applied_ml, 1 / pours, resin, bench)) > resin.largest_batch_g:
        if pours == _MOST_POURS:
            what = f"{number(resin.largest_batch_g)} g is too little for a pot of the {label} coat: {mass:.1f} g"
            raise CupgeomError("largest_batch_g", what)
        pours += 1
    if bench.minutes_a_cup > resin.pot_life_of(mass):
        what = f"a cup takes {number(bench.minutes_a_cup)} min, a pot of {mass:.1f} g for the {label} coat lasts"
        raise CupgeomError(
            "pot_life_min", f"{what} {resin.pot_life_of(mass):.1f} min; be faster or take a slower resin"
        )
    if pours > 1:
        return (_batch(applied_ml, pours * bench.cups, 1 / pours, resin, bench),)
    most = 1
    while most < bench.cups and _lasts(applied_ml, most + 1, resin, bench):
        most += 1
    pots = math.ceil(bench.cups / most)
    fewer, more_pots = divmod(bench.cups, pots)
    sizes = ((more_pots, fewer + 1), (pots - more_pots, fewer))
    return tuple(_batch(applied_ml, times, cups, resin, bench) for times, cups in sizes if times)


def _batch(applied_ml: float, times: int, cups: float, resin: Resin, bench: Bench) -> Batch:
    needed = max(applied_ml * cups + bench.loss.total_ml, bench.least_batch_ml)
    return Batch(times=times, cups=cups, needed_ml=needed, mix=mix(resin, needed, bench.mark_ml))


def _mass_g(applied_ml: float, cups: float, resin: Resin, bench: Bench) -> float:
    return _batch(applied_ml, 1, cups, resin, bench).mix.total_g


def _lasts(applied_ml: float, cups: int, resin: Resin, bench: Bench) -> bool:
    """Whether one pot for so many cups is laid within its pot life and does not heat itself."""
    mass = _mass_g(applied_ml, cups, resin, bench)
    return mass <= resin.largest_batch_g and bench.minutes_a_cup * cups <= resin.pot_life_of(mass)


def _of_the_wall(cup: Cup, bench: Bench, thinning: float) -> list[Notice]:
    said = []
    if cup.base_coated:
        said.append(Notice("base", "it stands upright on the rack; the drip limit does not speak of it"))
    if bench.cup_c is not None and thinning < 1:
        what = f"at {number(bench.cup_c)} °C the wall takes {100 * (1 - thinning):.0f} % less film"
        said.append(Notice("warm cup", f"{what} and carries as much less; a coat given by volume is not less"))
    return said


def _of_a_row(row: Row, bench: Bench) -> list[Notice]:
    said = []
    where = row.label
    if row.cover > row.limit:
        thinner = max(2, math.ceil(row.cover / (_SAFE_SHARE * row.limit)))
        what = f"burying the glitter takes {row.cover:.2f} mm, the wall carries {row.limit:.2f} mm"
        said.append(Notice(where, what, f"lay {_counted(thinner)} thinner coats"))
    elif row.film < row.cover:
        what = f"{row.film:.2f} mm does not bury the glitter, which takes {row.cover:.2f} mm"
        said.append(Notice(where, what, "the next coat must"))
    if row.share >= WARN_FROM:
        word = "expect drips" if row.share >= DRIPS_FROM else "near the drip limit"
        thinner = max(2, math.ceil(row.share / _SAFE_SHARE))
        mend = f"turn at {row.slowest_rpm / _SAFE_SHARE**2:.1f} rpm or more, or lay {_counted(thinner)} thinner coats"
        said.append(Notice(where, f"{word}: {100 * row.share:.1f} % of what the wall carries", mend))
    if any(batch.cups < 1 for batch in row.batches):
        pots = round(1 / row.batches[0].cups)
        said.append(
            Notice(where, f"one pot for a cup would be larger than the largest batch; {_counted(pots)} pots a cup")
        )
    if row.coat.colorant_share > MOST_COLORANT:
        what = f"{100 * row.coat.colorant_share:g} % colorant may keep the resin from curing"
        said.append(Notice(where, what, f"stay at {100 * MOST_COLORANT:g} % or the data sheet's figure"))
    if bench.own_limit != 1.0 and row.share >= WARN_FROM:
        said.append(Notice(where, f"by your own log, {100 * bench.own_limit:.0f} % of the theory's limit"))
    return said


def _of_the_order(rows: Sequence[Row], bench: Bench) -> list[Notice]:
    over = sum(row.label != "tack" for row in rows)
    if bench.glitter and 0 < over < _HEAVY_SANDING_FROM:
        what = f"after {_counted(over)} coat{'s' if over > 1 else ''} over glitter it may cut through"
        return [Notice("sanding", what, "heavy sanding waits for the third")]
    return []


def _counted(count: int) -> str:
    return {1: "one", 2: "two", 3: "three", 4: "four"}.get(count, str(count))
