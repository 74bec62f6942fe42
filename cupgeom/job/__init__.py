"""The job file: TOML ↔ `Job`; every fault with its file, line and key, all at once."""

from cupgeom.job.decal import JobDecal
from cupgeom.job.job import Job, read_job
from cupgeom.job.starter import starter
from cupgeom.job.work import lots_of, plan_of

__all__ = ["Job", "JobDecal", "lots_of", "plan_of", "read_job", "starter"]
