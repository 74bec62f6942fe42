"""Paint and glitter as layers of colour on the walls."""

from __future__ import annotations

import math

from cupgeom.cup import Cup, Span
from cupgeom.drawing import Drawing, Shape, polyline
from cupgeom.flatten import to_sheet
from cupgeom.plan import Step
from cupgeom.proof.layer import Laid

_CHORD_DEG = 2.0  # of the polygon that stands for a band
_LAP_DEG = 0.5  # by which the ends of a band all round lie on each other, so that no hairline shows between them


def colours(step: Step, cup: Cup) -> tuple[Laid, ...]:
    """The colour of a step on each wall that it reaches; nothing for a step without one."""
    if step.colour is None:
        return ()
    zone, coated = step.zone, cup.coated_span
    top = coated.top if zone is None or zone.top is None else zone.top.drop_on(cup.slant)
    bottom = coated.bottom if zone is None or zone.bottom is None else zone.bottom.drop_on(cup.slant)
    left = -180.0 if zone is None else zone.left_deg
    width = 360.0 if zone is None else 360 * zone.share
    if width == 360.0:
        left, width = left - _LAP_DEG, width + 2 * _LAP_DEG
    count = math.ceil(width / _CHORD_DEG)
    turns = [math.radians(left + width * index / count) for index in range(count + 1)]
    layers = []
    for index, (start, wall) in enumerate(zip(cup.wall_tops, cup.walls, strict=True)):
        common = Span(top=start, bottom=start + wall.slant).common(Span(top=top, bottom=bottom))
        if common is None:
            continue
        upper = [complex(*to_sheet(wall, turn, common.top - start)) for turn in turns]
        lower = [complex(*to_sheet(wall, turn, common.bottom - start)) for turn in reversed(turns)]
        band = Shape(path=polyline([*upper, *lower], closed=True), role="print", fill=step.colour, name=step.do)
        layers.append(Laid(wall_index=index, drawing=Drawing((band,)), clear=False, wall=wall))
    return tuple(layers)
