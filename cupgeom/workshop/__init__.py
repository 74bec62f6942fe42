"""A job worked out in memory: its cup, decals, coats, plan and cost (`made`), and the files made of it (`outputs`)."""

from cupgeom.workshop.made import Made, MadeDecal, made
from cupgeom.workshop.outputs import File, Output, outputs

__all__ = ["File", "Made", "MadeDecal", "Output", "made", "outputs"]
