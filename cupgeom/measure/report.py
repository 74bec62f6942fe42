"""A measured cup in words for a maker, and in numbers for programs."""

from __future__ import annotations

import math

from cupgeom.measure.estimate import Estimate
from cupgeom.measure.measured import Measured
from cupgeom.units import format_length

_MM2_PER_CM2 = 100.0


def table(measured: Measured, unit: str = "mm") -> str:
    """The sizes with their 95 % ranges and what the readings say of each other, a line each."""
    rows = [(one.name, _with_range(one, unit)) for one in measured.estimates if not one.name.startswith("slant from")]
    width = max(len(name) for name, _ in rows) + 2
    lines = [f"{name:<{width}}{text}" for name, text in rows]
    lines.append("")
    for residual in measured.residuals:
        error = "not checkable" if residual.error is None else f"off by {_signed(residual.error, unit)}"
        lines.append(f"{residual.name:<{max(width, 22)}}read {_size(residual.reading.value, unit)}, {error}")
    lines += [f"{name}: left out" for name in measured.left_out]
    lines += ["", _verdict(measured)]
    return "\n".join(lines)


def ranges(measured: Measured, unit: str = "mm") -> str:
    """The 95 % ranges of the sizes that a wrap hangs on, in one line for a caption."""
    wanted = ("rim diameter", "base diameter", "slant")
    parts = []
    for name in wanted:
        one = measured.estimate(name)
        parts.append(f"{name.removesuffix(' diameter')} ± {_size(one.half_range, unit)}")
    gap = max(measured.estimate(f"seam gap at the {place}").half_range for place in ("rim", "base"))
    return f"measured: {', '.join(parts)}; seam gap within ± {_size(gap, unit)} (95 %)"


def numbers(measured: Measured) -> dict[str, object]:
    """Everything for programs: standard uncertainties (k = 1), covariance, chi-square, residuals; mm and mm²."""
    verdict = measured.verdict
    return {
        "estimates": {
            one.name: {"value": one.value, "uncertainty": one.uncertainty, "half_range_95": one.half_range, "k": 1}
            for one in measured.estimates
        },
        "rings": [{"diameter_mm": ring.diameter, "height_mm": ring.height} for ring in measured.cup.rings],
        "unknowns": [one.name for one in measured.unknowns],
        "covariance_mm2": [list(row) for row in measured.covariance],
        "readings": [
            {
                "name": one.name,
                "read_mm": one.reading.value,
                "uncertainty_mm": one.reading.uncertainty,
                "fitted_mm": one.fitted,
                "redundancy": one.redundancy,
                "standardized": one.standardized,
                "error_mm": one.error,
            }
            for one in measured.residuals
        ],
        "left_out": list(measured.left_out),
        "chi_square": verdict.chi_square,
        "degrees_of_freedom": verdict.degrees,
        "chance": verdict.chance,
        "agrees": verdict.agrees,
        "findings": [finding.sentence for finding in verdict.findings],
        "unchecked": list(verdict.unchecked),
    }


def _verdict(measured: Measured) -> str:
    verdict = measured.verdict
    if verdict.findings:
        return "; ".join(finding.sentence for finding in verdict.findings)
    return "the readings agree" if verdict.degrees else "nothing checks these readings; one more would"


def _with_range(one: Estimate, unit: str) -> str:
    if one.unit == "mm²":
        value, half = one.value / _MM2_PER_CM2, one.half_range / _MM2_PER_CM2
        return f"{value:.2f} ± {half:.2f} cm²"
    return f"{_size(one.value, unit)} ± {_size(one.half_range, unit)}"


def _size(mm: float, unit: str) -> str:
    return format_length(mm, unit)


def _signed(mm: float, unit: str) -> str:
    return ("+" if math.copysign(1, mm) > 0 else "−") + _size(abs(mm), unit)
