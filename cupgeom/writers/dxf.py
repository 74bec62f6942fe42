"""Cut lines and guides as DXF R12 for cutters: mm, true arcs, a layer a role; needs the extra ``dxf``.

R12 knows lines, arcs, circles' parts and polylines, no cubics: those are written as polylines whose sides lie within
0.005 mm of them. It has no page and no unit either: one drawing unit is 1 mm, the origin is the page's bottom left.
"""

from __future__ import annotations

import cmath
import io
import math
from itertools import pairwise
from typing import Any, TypeGuard

from cupgeom.drawing import ROLES, Affine, Arc, Clipped, Drawing, Path, Role, Segment, Shape, Text
from cupgeom.errors import CupgeomError
from cupgeom.pages import Document

TOLERANCE = 0.005  # mm by which a polyline may leave its cubic
LARGEST_RADIUS = 1e5  # mm; the file's angles have six decimals, of which one is 0.002 mm there; beyond, polylines
_NOTHING = 1e-6  # mm; shorter lines are lost in the file's decimals


def render(document: Document) -> bytes:
    """A document of one page as the bytes of a DXF file: the outlines of shapes, and text as text.

    Fills and pictures have no place in it; a shape without a stroke is drawn by its outline.

    Raises
    ------
    CupgeomError
        When the document has more pages than one, holds groups cut to a clip, or ezdxf is not installed.
    """
    if len(document.pages) != 1:
        what = f"are {len(document.pages)}, but one DXF holds one page; write one for each page"
        raise CupgeomError("pages", what)
    try:
        from ezdxf.addons.r12writer import r12writer
    except ImportError:
        raise CupgeomError("dxf", "needs ezdxf; install cupgeom with the extra dxf") from None
    page, file = document.pages[0], io.StringIO()
    last = Affine() if page.correction.is_none else page.last_transform
    with r12writer(file) as writer:
        for role in ROLES:
            _add(writer, page.drawing.only([role]), role, last)
    return file.getvalue().encode("ascii")


def _add(writer: Any, drawing: Drawing, role: Role, last: Affine) -> None:
    for item in drawing.items:
        if isinstance(item, Clipped):
            if item.clip is not None:
                raise CupgeomError("drawing", "holds lines cut to a window, which a blade would follow beyond it")
            _add(writer, Drawing(item.items), role, last)
        elif isinstance(item, Shape):
            path = item.path if last == Affine() else item.path.with_cubics(TOLERANCE / 2).transformed(last)
            _add_path(writer, path, role)
        elif isinstance(item, Text):
            text = item.transformed(last)
            writer.add_text(
                _escaped(text.text), _pair(text.start), height=text.size, rotation=text.angle_deg, layer=role
            )


def _add_path(writer: Any, path: Path, role: Role) -> None:
    for segments, closed in path.outlines():
        chain: list[complex] = []
        whole = closed and not any(map(_is_arc, segments))
        for segment in segments:
            if _is_arc(segment):
                _add_chain(writer, chain, role)
                chain = []
                _add_arc(writer, segment, role)
            else:
                count = segment.chords(TOLERANCE)
                chain = chain or [segment.start]
                chain += [segment.point(i / count) for i in range(1, count)] + [segment.end]
        _add_chain(writer, chain, role, closed=whole)


def _add_chain(writer: Any, points: list[complex], role: Role, *, closed: bool = False) -> None:
    """Points joined by straight lines; a closed chain ends where it starts."""
    kept = points[:1]
    kept += [point for before, point in pairwise(points) if abs(point - before) > _NOTHING]
    if closed and len(kept) > 2:
        writer.add_polyline_2d([_pair(point) for point in kept[:-1]], closed=True, layer=role)
    elif len(kept) > 2:
        writer.add_polyline_2d(list(map(_pair, kept)), layer=role)
    elif len(kept) == 2:
        writer.add_line(*map(_pair, kept), layer=role)


def _is_arc(segment: Segment) -> TypeGuard[Arc]:
    """Whether a segment is written as an arc."""
    return isinstance(segment, Arc) and segment.sweep_rad != 0 and segment.radius <= LARGEST_RADIUS


def _add_arc(writer: Any, arc: Arc, role: Role) -> None:
    """An arc, which the format runs anticlockwise."""
    first, last = (arc.start, arc.end) if arc.sweep_rad > 0 else (arc.end, arc.start)
    centre = arc.centre
    angles = [math.degrees(cmath.phase(end - centre)) % 360 for end in (first, last)]
    writer.add_arc(_pair(centre), arc.radius, *angles, layer=role)


def _pair(point: complex) -> tuple[float, float]:
    return round(point.real, 6) + 0.0, round(point.imag, 6) + 0.0


def _escaped(text: str) -> str:
    """The text in ASCII, other characters by their number as the format has it; control characters become blanks."""
    return "".join(char if " " <= char <= "~" else f"\\U+{ord(char):04X}" if char > "~" else " " for char in text)
