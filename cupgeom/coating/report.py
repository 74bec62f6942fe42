"""An estimate in words for a maker, and in numbers for programs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cupgeom.coating.coats import VEIN_BASE_SHARE
from cupgeom.coating.estimate import Batch, Estimate, Row
from cupgeom.coating.film import VALIDITY
from cupgeom.coating.log import Habits
from cupgeom.coating.mixing import Mix
from cupgeom.errors import number

_HEADS = (
    "coat",
    "film",
    "on a cup",
    "mix",
    "part A",
    "part B",
    "bury ≤ film ≤ drip",
    "used",
    "turn at least",
    "next coat",
)


def table(estimate: Estimate) -> str:
    """What to mix, coat by coat, with the window of each film; then totals and where the numbers end."""
    rows = [_HEADS, *(cells for row in estimate.rows for cells in _lines(row))]
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEADS))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    (a_ml, b_ml), (a_g, b_g) = estimate.total_ml, estimate.total_g
    resin, bench, rack = estimate.resin, estimate.bench, estimate.rack
    price = f", {estimate.price} at {resin.price_per_ml} a mL" if estimate.price is not None else ""
    cups = f"{bench.cups} cup{'s' if bench.cups > 1 else ''}"
    lines += [
        "",
        f"in all      {a_ml + b_ml:.1f} mL for {cups}: A {a_ml:.1f} mL ({a_g:.1f} g), B {b_ml:.1f} mL ({b_g:.1f} g)"
        f"{price}",
        f"build-up    {estimate.film:.2f} mm of coats on {estimate.cup.coated_area / 100:.1f} cm²",
        f"rack        {number(rack.speed_rpm)} rpm, {rack.viscosity_pa_s:.2f} Pa·s, {rack.density_kg_m3:.0f} kg/m³:"
        f" carries {estimate.capacity_ml:.1f} mL a cup in one coat,",
        f"            {estimate.rows[0].limit:.2f} mm at its narrowest ({2 * estimate.radius:.1f} mm across);"
        f" {VALIDITY}",
    ]
    thickest = max(estimate.rows, key=lambda row: row.film)
    room = resin.in_room(bench.room_c)
    lines += [
        f"            the {thickest.label} coat holds from {thickest.slowest_rpm:.1f} rpm,"
        f" or from {thickest.thinnest_pa_s:.2f} Pa·s",
        f"clocks      at {number(bench.room_c)} °C: sandable from {clock(room.sandable_from_min)},"
        f" in service from {clock(room.in_service_from_min)}, from mixing",
    ]
    lines += [f"ratio       {line}" for line in _ratios(estimate.rows)]
    lines += [_vein(row) for row in estimate.rows if row.small_cup_ml]
    return "\n".join(lines)


def bottles(estimate: Estimate, a_ml: float, b_ml: float) -> str:
    """What the bottles hold after it, a line for people."""
    left = zip("AB", estimate.left_ml(a_ml, b_ml), strict=True)
    said = [f"{part} {rest:.1f} mL left" if rest >= 0 else f"{part} {-rest:.1f} mL short" for part, rest in left]
    return f"{'bottles':<12}{', '.join(said)}"


def habits(found: Habits) -> str:
    """What the log taught, each with its 95 % range, a line each."""
    lines = [f"by your log  {label}: {one.value:.3f} ± {one.half_range:.3f} mm" for label, one in found.films.items()]
    lines.append(f"by your log  loss a pot: {found.loss.value:.2f} ± {found.loss.half_range:.2f} mL")
    if found.own_limit:
        percent, half = 100 * found.own_limit.value, 100 * found.own_limit.half_range
        lines.append(f"by your log  drips from {percent:.0f} ± {half:.0f} % of the theory's limit")
    return "\n".join(lines)


def numbers(estimate: Estimate, found: Habits | None = None) -> dict[str, object]:
    """Everything for programs, under names that carry their unit."""
    (a_ml, b_ml), (a_g, b_g) = estimate.total_ml, estimate.total_g
    result: dict[str, object] = {
        "name": estimate.cup.name,
        "resin": estimate.resin.name,
        "cups": estimate.bench.cups,
        "coated_area_mm2": estimate.cup.coated_area,
        "speed_rpm": estimate.rack.speed_rpm,
        "viscosity_pa_s": estimate.rack.viscosity_pa_s,
        "density_kg_m3": estimate.rack.density_kg_m3,
        "smallest_radius_mm": estimate.radius,
        "capacity_ml": estimate.capacity_ml,
        "coats": [_row_numbers(row) for row in estimate.rows],
        "build_up_mm": estimate.film,
        "total_a_ml": a_ml,
        "total_b_ml": b_ml,
        "total_a_g": a_g,
        "total_b_g": b_g,
        "price": None if estimate.price is None else str(estimate.price),
        "notices": [str(notice) for notice in estimate.notices],
    }
    if found:
        result["log"] = {
            "films_mm": {name: _fitted(one.value, one.half_range) for name, one in found.films.items()},
            "loss_ml": _fitted(found.loss.value, found.loss.half_range),
            "own_limit": None if not found.own_limit else _fitted(found.own_limit.value, found.own_limit.half_range),
        }
    return result


def clock(minutes: float) -> str:
    """A time for people: ``45 min``, ``4 h 10``, ``7 days``."""
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    if whole >= 48 * 60 and whole % (24 * 60) == 0:
        return f"{whole // (24 * 60)} days"
    return f"{whole // 60} h {whole % 60:02d}" if whole % 60 else f"{whole // 60} h"


def turning(row: Row) -> str:
    """How long the rack turns at least, rounded up to 10 minutes."""
    return clock(10 * math.ceil(row.turn_min / 10 - 1e-9)) if row.turn_min else "not needed"


def amounts(mix: Mix) -> tuple[str, str]:
    """The two parts as they are measured: mL, and grams where the marks are too coarse."""
    parts = ((mix.a_ml, mix.a_g), (mix.b_ml, mix.b_g))
    one, other = (f"{g:.1f} g" if mix.weigh else f"{number(round(ml, 2))} mL" for ml, g in parts)
    return one, other


def _lines(row: Row) -> list[tuple[str, ...]]:
    """A coat's cells; a second line where its last pot coats fewer cups."""
    window = f"{row.cover:.2f} ≤ {row.film:.2f} ≤ {row.limit:.2f}"
    first = (row.label, f"{row.film:.2f} mm", f"{row.applied_ml:.1f} mL")
    last = (
        window,
        f"{100 * row.share:.1f} %",
        turning(row),
        f"{clock(row.next_from_min)} to {clock(row.next_until_min)}",
    )
    lines: list[tuple[str, ...]] = []
    for index, batch in enumerate(row.batches):
        pots = (_pots(batch), _both(batch.mix.a_ml, batch.mix.a_g), _both(batch.mix.b_ml, batch.mix.b_g))
        lines.append((*first, *pots, *last) if index == 0 else ("", "", "", *pots, "", "", "", ""))
    return lines


def _pots(batch: Batch) -> str:
    text = f"{number(round(batch.mix.total_ml, 1))} mL"
    return text if batch.times == 1 else f"{batch.times} × {text}"


def _both(ml: float, g: float) -> str:
    return f"{number(round(ml, 2))} mL {g:.1f} g"


def _ratios(rows: Sequence[Row]) -> list[str]:
    """The worst ratio of each coat, the coats that share it in one line."""
    found: dict[str, list[str]] = {}
    for row in rows:
        worst = max((batch.mix for batch in row.batches), key=lambda mix: mix.ratio_error)
        found.setdefault(_ratio(worst), []).append(row.label)
    return [f"{', '.join(dict.fromkeys(names))}: {words}" for words, names in found.items()]


def _ratio(mix: Mix) -> str:
    if not mix.on_marks:
        return "this ratio misses the marks; weigh it"
    if math.isinf(mix.ratio_error):
        return "half a mark misread empties a part; weigh it"
    said = f"half a mark misread puts it off by up to {100 * mix.ratio_error:.0f} %"
    return f"{said}; weigh it" if mix.weigh else said


def _vein(row: Row) -> str:
    base = VEIN_BASE_SHARE * row.applied_ml
    count = row.coat.small_cups
    shared = (
        f"{count} small cups of {row.small_cup_ml:.1f} mL" if count > 1 else f"a small cup of {row.small_cup_ml:.1f} mL"
    )
    tint = f", {100 * row.coat.colorant_share:g} % colorant in each" if row.coat.colorant_share else ""
    return f"vein        lay down {base:.1f} mL a cup, the rest in {shared}{tint}"


def _row_numbers(row: Row) -> dict[str, object]:
    return {
        "coat": row.label,
        "film_mm": row.film,
        "applied_ml": row.applied_ml,
        "needed_ml": row.needed_ml,
        "mixed_ml": row.mixed_ml,
        "batches": [
            {
                "times": batch.times,
                "cups": batch.cups,
                "a_ml": batch.mix.a_ml,
                "b_ml": batch.mix.b_ml,
                "a_g": batch.mix.a_g,
                "b_g": batch.mix.b_g,
                "on_marks": batch.mix.on_marks,
                "ratio_error": None if math.isinf(batch.mix.ratio_error) else batch.mix.ratio_error,
                "weigh": batch.mix.weigh,
            }
            for batch in row.batches
        ],
        "cover_film_mm": row.cover,
        "drip_limit_mm": row.limit,
        "share_of_limit": row.share,
        "slowest_rpm": row.slowest_rpm,
        "thinnest_pa_s": row.thinnest_pa_s,
        "turn_at_least_min": row.turn_min,
        "next_coat_from_min": row.next_from_min,
        "next_coat_until_min": row.next_until_min,
        "sandable_from_min": row.sandable_min,
        "small_cup_ml": row.small_cup_ml,
    }


def _fitted(value: float, half_range: float) -> dict[str, float]:
    return {"value": value, "half_range_95": half_range}
