"""A page that uses everything a writer must know: every role, arcs, cubics, dashes, nested clips, turned text."""

from __future__ import annotations

import cmath
import math

from cupgeom.drawing import Arc, Box, Clipped, Drawing, Path, Pen, Shape, Stroke, Text, circle, path_of, polyline
from cupgeom.pages import Document, Page

CENTRE, OUTER, INNER = 105 + 20j, 200.0, 130.0


def on_circle(radius: float, angle_deg: float, centre: complex = CENTRE) -> complex:
    return centre + radius * cmath.exp(1j * math.radians(angle_deg))


def arc(centre: complex, radius: float, start_deg: float, sweep_deg: float) -> Arc:
    """An arc from its centre, as sources give it."""
    start, middle, end = (on_circle(radius, start_deg + share * sweep_deg, centre) for share in (0, 0.5, 1))
    return Arc(start, middle, end)


def sector() -> Path:
    """A wrap's outline: 60° between two circles."""
    outer, inner = arc(CENTRE, OUTER, 60, 60), arc(CENTRE, INNER, 120, -60)
    pen = Pen(outer.start).arc(outer.middle, outer.end).line(inner.start).arc(inner.middle, inner.end)
    return pen.close().path()


def page_of(*items: Shape | Text | Clipped, **settings: object) -> Document:
    """One A4 page."""
    page = Page(**{"width": 210.0, "height": 297.0, "drawing": Drawing(items), **settings})  # type: ignore[arg-type]
    return Document(title="sample", pages=(page,))


def sample() -> Document:
    star = polyline([120 + 30j, 180 + 90j, 120 + 90j, 180 + 30j], closed=True)
    items = (
        Shape(path=sector(), role="print", fill=(0.9, 0.95, 1.0), name="printed range"),
        Shape(path=sector(), role="cut", stroke=Stroke(colour=(1.0, 0.0, 0.0)), name="trim line"),
        Shape(path=circle(60 + 60j, 20) + circle(60 + 60j, 10), role="white", fill=(0.8, 0.8, 0.8), even_odd=True),
        Shape(path=polyline([20 + 20j, 120 + 20j]), role="guide", stroke=Stroke(width=1, dashes=(5, 2)), name="bar"),
        Shape(path=path_of([arc(165 + 110j, 15, 180, -270)]), role="guide", stroke=Stroke(width=0.5)),
        Clipped(
            clip=circle(150 + 60j, 25),
            items=(
                Shape(path=Box(120, 30, 180, 60).outline(), role="print", fill=(1.0, 0.8, 0.2)),
                Clipped(
                    clip=Box(140, 40, 160, 90).outline(),
                    items=(
                        Shape(path=star, role="guide", stroke=Stroke(width=2, colour=(0.0, 0.0, 1.0))),
                        Text(text="clipped on both sides", at=150 + 65j, anchor="middle", size=6),
                    ),
                ),
            ),
        ),
        Text(text="Rim 88 mm,  größe ½", at=105 + 260j, anchor="middle", size=6, bold=True),
        Text(text="turned 30°", at=30 + 240j, angle_deg=30, size=5, colour=(0.0, 0.5, 0.0)),
        Text(text="turned 90 & ended", at=200 + 150j, angle_deg=90, size=4, anchor="end"),
    )
    page = Page(width=210, height=297, drawing=Drawing(items), trim=sector().bounds(), bleed=3.0)
    return Document(title="Comet cup <ø 88>", pages=(page,))


def bars(**settings: object) -> Document:
    """A bar of 100 mm along two edges, 2 mm thick; 6 × 5.5 in, which are whole pixels at 300 dpi."""
    across = Shape(path=polyline([20 + 10j, 120 + 10j]), role="note", stroke=Stroke(width=2))
    along = Shape(path=polyline([10 + 20j, 10 + 120j]), role="note", stroke=Stroke(width=2))
    return page_of(across, along, width=152.4, height=139.7, **settings)


def nearly_straight() -> Document:
    """The edge of a wall whose taper is 1e-12 mm: 170 mm long, flat radius 1e15 mm, 1 mm thick; on 8 × 2 in."""
    sagitta = 170**2 / 8 / 1e15
    edge = Arc(15 + 30j, 100 + (30 - sagitta) * 1j, 185 + 30j)
    return page_of(Shape(path=path_of([edge]), role="cut", stroke=Stroke(width=1)), width=203.2, height=50.8)


def corner() -> Document:
    """A line 2 mm thick that turns at (30, 10) with an angle of 20° between its legs."""
    leg = 20 * cmath.exp(1j * math.radians(170))
    line = polyline([30 + 10j + leg, 30 + 10j, 30 + 10j + leg.conjugate()])
    return page_of(Shape(path=line, role="cut", stroke=Stroke(width=2)), width=50.8, height=25.4)


COLOURS = {(10, 30): (51, 102, 204), (30, 30): (255, 0, 0), (30, 10): (0, 153, 0)}  # at (x, y) in mm, from 0 to 255


def colours() -> Document:
    """A fill, a stroke and a letter on 40 × 40 mm, in `COLOURS`."""
    blue, red, green = ((r / 255, g / 255, b / 255) for r, g, b in COLOURS.values())
    return page_of(
        Shape(path=Box(5, 25, 15, 35).outline(), role="print", fill=blue),
        Shape(path=polyline([25 + 30j, 35 + 30j]), role="print", stroke=Stroke(width=4, colour=red)),
        Text(text="\N{EM DASH}", at=20 + 4.5j, size=20, bold=True, colour=green),
        width=40.0,
        height=40.0,
    )
