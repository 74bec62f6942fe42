"""A cup from what a maker can measure: readings in, the cup with its uncertainties and a verdict out."""

from cupgeom.measure.estimate import COVERAGE_FACTOR_95, Estimate, propagate
from cupgeom.measure.fitting import fit
from cupgeom.measure.measured import Measured, Residual
from cupgeom.measure.paper import (
    PAPER_GAP_UNCERTAINTY,
    PAPER_STEP_UNCERTAINTY,
    EdgeGap,
    PaperGap,
    SeamStep,
    seam_step,
)
from cupgeom.measure.place import BASE, RIM, Place
from cupgeom.measure.reading import (
    CALLIPER_UNCERTAINTY,
    FILM_UNCERTAINTY,
    RULER_UNCERTAINTY,
    TAPE_UNCERTAINTY,
    Calliper,
    Film,
    Height,
    Reading,
    Slant,
    Tape,
    labels,
)
from cupgeom.measure.report import numbers, ranges, table
from cupgeom.measure.verdict import Finding, Verdict

__all__ = [
    "BASE",
    "CALLIPER_UNCERTAINTY",
    "COVERAGE_FACTOR_95",
    "FILM_UNCERTAINTY",
    "PAPER_GAP_UNCERTAINTY",
    "PAPER_STEP_UNCERTAINTY",
    "RIM",
    "RULER_UNCERTAINTY",
    "TAPE_UNCERTAINTY",
    "Calliper",
    "EdgeGap",
    "Estimate",
    "Film",
    "Finding",
    "Height",
    "Measured",
    "PaperGap",
    "Place",
    "Reading",
    "Residual",
    "SeamStep",
    "Slant",
    "Tape",
    "Verdict",
    "fit",
    "labels",
    "numbers",
    "propagate",
    "ranges",
    "seam_step",
    "table",
]
