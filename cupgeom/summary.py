"""What there is to say of a cup in numbers: areas, slant, circumferences, the flat form of its walls."""

from __future__ import annotations

import math

from cupgeom.cup import Cup, Wall
from cupgeom.errors import Notice, require_positive
from cupgeom.units import format_length

MM2_PER_IN2 = 25.4 * 25.4


def numbers(cup: Cup) -> dict[str, object]:
    """The numbers of a cup under names that carry their unit, for programs; a straight wall has no sector."""
    span = cup.coated_span
    result: dict[str, object] = {
        "name": cup.name,
        "rim_diameter_mm": cup.rings[0].diameter,
        "base_diameter_mm": cup.rings[-1].diameter,
        "height_mm": cup.height,
        "slant_mm": cup.slant,
        "rim_circumference_mm": math.pi * cup.rings[0].diameter,
        "base_circumference_mm": math.pi * cup.rings[-1].diameter,
        "lateral_area_mm2": cup.lateral_area,
        "coated_from_mm": span.top,
        "coated_to_mm": span.bottom,
        "base_coated": cup.base_coated,
        "coated_area_mm2": cup.coated_area,
        "outside_volume_mm3": cup.volume,
    }
    if len(cup.walls) == 1:
        return result | _wall_numbers(cup.walls[0])
    return result | {"walls": [_wall_numbers(wall) | {"slant_mm": wall.slant} for wall in cup.walls]}


def table(cup: Cup, unit: str = "mm") -> str:
    """The same for people, a line each, lengths in ``mm`` or ``in``."""
    span = cup.coated_span
    rim, base = (math.pi * ring.diameter for ring in (cup.rings[0], cup.rings[-1]))
    underside = ", with the underside" if cup.base_coated else ", underside bare"
    rows = [
        ("cup", f"rim {_size(cup.rings[0].diameter, unit)}, base {_size(cup.rings[-1].diameter, unit)}, "
                f"height {_size(cup.height, unit)}" + (f" ({cup.name})" if cup.name else "")),
        ("slant", _size(cup.slant, unit)),
        ("around", f"rim {_size(rim, unit)}, base {_size(base, unit)}"),
        ("lateral area", area_text(cup.lateral_area)),
        ("coated area", f"{area_text(cup.coated_area)}"),
        ("", f"drop {_size(span.top, unit)} to {_size(span.bottom, unit)}{underside}"),
    ]  # fmt: skip
    for order, wall in enumerate(cup.walls, start=1):
        rows.append((f"flat wall {order}" if len(cup.walls) > 1 else "flat form", _flat(wall, unit)))
    return "\n".join(f"{name:<14}{text}" for name, text in rows)


def area_text(area: float) -> str:
    """An area in mm², cm² and in²."""
    return f"{area:.1f} mm² = {area / 100:.2f} cm² = {area / MM2_PER_IN2:.2f} in²"


def _wall_numbers(wall: Wall) -> dict[str, object]:
    top, base = wall.sheet_radius_at(0.0), wall.sheet_radius_at(wall.slant)
    radii = (None, None) if top is None or base is None else (max(top, base), min(top, base))
    return {
        "straight": wall.straight,
        "half_angle_deg": math.degrees(wall.half_angle_rad),
        "cone_constant": wall.cone_constant,
        "sector_radius_mm": radii[0],
        "sector_inner_radius_mm": radii[1],
        "sector_angle_deg": None if wall.straight else math.degrees(wall.sector_angle_rad),
    }


def _flat(wall: Wall, unit: str) -> str:
    top, base = wall.sheet_radius_at(0.0), wall.sheet_radius_at(wall.slant)
    if top is None or base is None:
        return f"rectangle {_size(math.tau * wall.top_radius, unit)} x {_size(wall.slant, unit)}"
    wider = "top" if top > base else "base"
    outer, inner = _size(max(top, base), unit), _size(min(top, base), unit)
    angle = math.degrees(wall.sector_angle_rad)
    return f"sector of radii {outer} and {inner}, angle {angle:.3f}°, wide end at the {wider}"


def _size(mm: float, unit: str) -> str:
    return format_length(mm, unit)


def build_up(bare: Cup, film: float) -> Notice:
    """What coats of this thickness do to a wrap, and what would happen without minding them.

    A wrap grows by 2π·film·cos(half-angle) at equal drop.
    """
    longer = max(math.tau * film * math.cos(wall.half_angle_rad) for wall in bare.walls)
    return Notice(
        "film",
        f"under {film:.2f} mm of coats a wrap must be {longer:.2f} mm longer",
        f"made for the bare cup it would leave a gap of {longer:.2f} mm at the seam",
    )


def holder(cup: Cup, diameter: float, unit: str = "mm") -> str:
    """Whether the base, as it is under its coats, fits a holder of a diameter; a line for people.

    Raises
    ------
    CupgeomError
        When the diameter is not positive.
    """
    require_positive("holder", diameter)
    base = cup.rings[-1].diameter
    room = _size(abs(diameter - base), unit)
    verdict = f"fits, {room} to spare" if base < diameter else f"does not fit, {room} too wide"
    return f"{'holder':<14}{_size(diameter, unit)}: the base, {_size(base, unit)} across, {verdict}"
