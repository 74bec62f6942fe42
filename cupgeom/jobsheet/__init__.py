"""The job sheet: what the bench needs of one job, on one or two pages of a4 or letter. It computes no number."""

from cupgeom.jobsheet.facts import DecalFact, PotFact, SheetFacts, StepFact, notices
from cupgeom.jobsheet.sheet import job_sheet

__all__ = ["DecalFact", "PotFact", "SheetFacts", "StepFact", "job_sheet", "notices"]
