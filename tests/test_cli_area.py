"""`cupgeom area`: its numbers against published ones and 50-digit arithmetic, its units, its forms."""

from __future__ import annotations

import json
import math

import pytest
from mpmath import mp, mpf

from .command_line import ask

MM2_PER_IN2 = 25.4**2  # 1 in = 25.4 mm, CSS Values and Units, absolute lengths
MM3_PER_IN3 = 25.4**3


def numbers(line: str) -> dict[str, object]:
    answer = ask(f"area {line} --json")
    assert (answer.code, answer.err) == (0, "")
    return json.loads(answer.out, parse_constant=pytest.fail)  # NaN and infinities are no JSON


def row(table: str, name: str) -> str:
    (line,) = (line for line in table.splitlines() if line.startswith(name))
    return line[14:]


# Numbers --------------------------------------------------------------------------------------------------------------


def test_flat_pattern_of_a_published_frustum() -> None:
    # ceemrr.com, Geometry 2, Drawings & Nets 6: diameters 8 and 5 in, height 4 in: radii 11.39 and 7.12 in, 126.4°
    found = numbers("--rim 8in --base 5in --height 4in")
    assert round(found["sector_radius_mm"] / 25.4, 2) == 11.39
    assert round(found["sector_inner_radius_mm"] / 25.4, 2) == 7.12
    assert round(found["sector_angle_deg"], 1) == 126.4


def test_area_from_published_circumferences() -> None:
    # NCERT class 10 mathematics, exercise 13.4, question 2 (the answer from memory): circumferences 18 and 6 cm, slant
    # 4 cm, 48 cm²
    height = math.sqrt(4**2 - (6 / math.pi) ** 2)
    line = f"--rim {18 / math.pi!r}cm --base {6 / math.pi!r}cm --height {height!r}cm"
    found = numbers(line)
    assert found["lateral_area_mm2"] == pytest.approx(4800, rel=4e-15)
    assert found["rim_circumference_mm"] == pytest.approx(180, rel=4e-15)
    assert found["base_circumference_mm"] == pytest.approx(60, rel=4e-15)
    table = ask(f"area {line}").out
    assert row(table, "lateral area") == "4800.0 mm² = 48.00 cm² = 7.44 in²"
    assert row(table, "slant") == "40 mm"
    assert row(table, "around") == "rim 180 mm, base 60 mm"


def test_every_number_of_a_tumbler_in_fifty_digits() -> None:
    found = numbers('--rim 88mm --base 70mm --height 170mm --coated-from 6 --coated-to "10mm up" --base-coated')
    with mp.workdps(50):
        top, base, height = mpf(44), mpf(35), mpf(170)
        slant = mp.hypot(height, top - base)
        k = (top - base) / slant
        first, last = mpf(6), slant - 10
        expected = {
            "rim_diameter_mm": 88,
            "base_diameter_mm": 70,
            "height_mm": 170,
            "slant_mm": slant,
            "rim_circumference_mm": 88 * mp.pi,
            "base_circumference_mm": 70 * mp.pi,
            "lateral_area_mm2": mp.pi * (top + base) * slant,
            "coated_from_mm": first,
            "coated_to_mm": last,
            # a frustum between two drops, and the disc of the underside
            "coated_area_mm2": mp.pi * (2 * top - k * (first + last)) * (last - first) + mp.pi * base**2,
            "outside_volume_mm3": mp.pi * height * (top**2 + top * base + base**2) / 3,
            "half_angle_deg": mp.degrees(mp.asin(k)),
            "cone_constant": k,
            "sector_radius_mm": top / k,
            "sector_inner_radius_mm": base / k,
            "sector_angle_deg": 360 * k,
        }
        errors = {name: abs(found[name] / value - 1) for name, value in expected.items()}
    assert max(errors.values()) <= 4e-15, errors
    assert found.keys() - expected.keys() == {"name", "base_coated", "straight"}
    assert (found["straight"], found["base_coated"]) == (False, True)


def test_a_cylinder_has_no_sector() -> None:
    # Machinery's Handbook, 31st ed. (2020), p. 89: diameter 2.5 in, height 20 in: V 98.17 in³, S 157.08 in²
    found = numbers("--rim 2.5in --base 2.5in --height 20in")
    assert found["straight"] is True
    assert [found[name] for name in ("sector_radius_mm", "sector_inner_radius_mm", "sector_angle_deg")] == [None] * 3
    assert round(found["lateral_area_mm2"] / MM2_PER_IN2, 2) == 157.08
    assert round(found["outside_volume_mm3"] / MM3_PER_IN3, 2) == 98.17
    table = ask("area --rim 2.5in --base 2.5in --height 20in").out
    assert row(table, "flat form") == f"rectangle {round(2.5 * math.pi, 3)} in x 20 in"


def test_an_upside_down_taper_says_where_the_wide_end_is() -> None:
    # the first frustum above, and the same stood on its head; the angle is 360° · (R − r)/s
    angle = f"angle {360 * 1.5 / math.hypot(4, 1.5):.3f}°"
    upright, turned = ask("area --rim 8in --base 5in --height 4in"), ask("area --rim 5in --base 8in --height 4in")
    assert row(upright.out, "flat form").endswith(f"{angle}, wide end at the top")
    assert row(turned.out, "flat form").endswith(f"{angle}, wide end at the base")


def test_the_bare_lip_is_not_coated() -> None:
    found = numbers("CUP --bare-lip 6mm")
    assert (found["coated_from_mm"], found["coated_to_mm"]) == (6, math.hypot(170, 9))
    whole, lip = found["lateral_area_mm2"], math.pi * (88 - 6 * 9 / math.hypot(170, 9)) * 6
    assert found["coated_area_mm2"] == pytest.approx(whole - lip, rel=1e-14)


# Units and forms ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rim", ["88", "88mm", "88 MM", "8.8cm", "8,8 cm", "88.0", "8.8e1"])
def test_one_length_in_many_forms(rim: str) -> None:
    assert ask(f'area --rim "{rim}" --base 70 --height 170') == ask("area CUP")


@pytest.mark.parametrize("rim", ["3.5in", "3 1/2 in", '3-1/2\\"', "3½ in", "7/2 inches", "3,5 IN"])
def test_inches_typed_are_inches_answered(rim: str) -> None:
    answer = ask(f'area --rim "{rim}" --base 2.75in --height 6.75in')
    assert answer.code == 0
    assert row(answer.out, "cup") == "rim 3.5 in, base 2.75 in, height 6.75 in"
    assert row(answer.out, "around") == f"rim {round(3.5 * math.pi, 3)} in, base {round(2.75 * math.pi, 3)} in"


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("CUP", "rim 88 mm, base 70 mm, height 170 mm"),
        ("--rim 4in --base 70 --height 170", "rim 4 in, base 2.756 in, height 6.693 in"),
        ("--rim 4in --base 70 --height 170 --unit mm", "rim 101.6 mm, base 70 mm, height 170 mm"),
        ("--rim 101.6 --base 2in --height 10cm", "rim 101.6 mm, base 50.8 mm, height 100 mm"),
        ("--rim 101.6 --base 2in --height 10cm --unit in", "rim 4 in, base 2 in, height 3.937 in"),
        ('CUP --name "comet night"', "rim 88 mm, base 70 mm, height 170 mm (comet night)"),
    ],
)
def test_the_answer_is_in_the_unit_asked_for(line: str, expected: str) -> None:
    assert row(ask(f"area {line}").out, "cup") == expected


def test_json_is_in_millimetres_whatever_was_typed() -> None:
    typed, asked = numbers("--rim 4in --base 4in --height 10in"), numbers("--rim 101.6 --base 101.6 --height 254")
    assert typed == asked
    assert typed["rim_diameter_mm"] == 101.6


def test_the_outside_volume_is_no_capacity_and_stays_in_the_json() -> None:
    assert "volume" not in ask("area CUP").out
    assert "outside_volume_mm3" in numbers("CUP")


def test_a_handle_changes_no_area() -> None:
    assert numbers("CUP --foot 14,15,30 --foot 14,65,80") == numbers("CUP")


def test_a_drop_counted_from_the_base_is_the_same_drop() -> None:
    counted_down = numbers(f"CUP --coated-to {math.hypot(170, 9) - 20!r}")
    assert numbers('CUP --coated-to "20mm up"') == numbers('CUP --coated-to "2cm UP"') == counted_down
