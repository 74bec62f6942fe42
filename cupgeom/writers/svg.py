"""One page as SVG 1.1: millimetres, true arcs, one group a role.

Lines end flat (butt caps), so that a dash is exactly as long as it says, and meet in points (mitred joins), so that the
corner of a cut line is where the blade turns.
"""

from __future__ import annotations

import io
import math
import re
from array import array
from collections.abc import Iterable
from typing import Any

import svgwrite

from cupgeom.drawing import Affine, Arc, Clipped, Colour, Item, Line, Path, Segment, Shape, Text
from cupgeom.errors import CupgeomError
from cupgeom.pages import Document

FONTS = "Bitstream Vera Sans, Verdana, DejaVu Sans, sans-serif"
LARGEST_RADIUS = 1e6  # mm; larger circles draw wrong in common renderers, one cubic draws right
_STEPS = {"M": "M{} {}", "L": "L{} {}", "C": "C{} {} {} {} {} {}", "Z": "Z"}
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production 2 (Char)


def render(document: Document) -> bytes:
    """A document of one page as the bytes of an SVG file.

    Raises
    ------
    CupgeomError
        When the document has more pages than one.
    """
    if len(document.pages) != 1:
        what = f"are {len(document.pages)}, but one SVG holds one page; write a PDF, or one SVG for each page"
        raise CupgeomError("pages", what)
    page = document.pages[0]
    width, height = _number(page.width), _number(page.height)
    shell = svgwrite.Drawing(size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False)
    shell.set_desc(title=_legal(document.title))
    flip = Affine(d=-1.0, f=page.height)
    sheet = shell
    if not page.correction.is_none:
        matrix = " ".join(map(_number, flip @ page.last_transform @ flip))
        sheet = shell.add(shell.g(transform=f"matrix({matrix})"))
    writer = _Writer(shell, page.height)
    for role in page.drawing.roles():
        group = sheet.add(shell.g(id_=role, fill="none", stroke_miterlimit="10"))
        group.set_desc(title=role)
        writer.add(page.drawing.only([role]).items, group)
    file = io.StringIO()
    shell.write(file)
    return file.getvalue().encode()


class _Writer:
    """Adds items to groups; one clip path is defined once, however many groups it clips."""

    def __init__(self, shell: Any, height: float) -> None:
        self.shell, self.height = shell, height
        self.clips: dict[str, str] = {}

    def add(self, items: Iterable[Item], group: Any) -> None:
        for item in items:
            if isinstance(item, Clipped):
                clipped = group.add(self.shell.g(clip_path=f"url(#{self.clip_id(item.clip)})"))
                self.add(item.items, clipped)
            else:
                group.add(self.shape(item) if isinstance(item, Shape) else self.text(item))

    def clip_id(self, clip: Path) -> str:
        data = _path_data(clip, self.height)
        if data not in self.clips:
            self.clips[data] = f"clip-{len(self.clips) + 1}"
            element = self.shell.defs.add(self.shell.clipPath(id_=self.clips[data]))
            element.add(self.shell.path(data))
        return self.clips[data]

    def shape(self, shape: Shape) -> Any:
        element = self.shell.path(_path_data(shape.path, self.height))
        if shape.fill:
            element["fill"] = _colour(shape.fill)
        if shape.even_odd:
            element["fill-rule"] = "evenodd"
        if shape.stroke:
            element["stroke"] = _colour(shape.stroke.colour)
            element["stroke-width"] = _number(shape.stroke.width)
            element["stroke-dasharray"] = " ".join(map(_number, shape.stroke.dashes)) or None
        if shape.name:
            element.set_desc(title=_legal(shape.name))
        return element

    def text(self, text: Text) -> Any:
        x, y = _number(text.at.real), _number(self.height - text.at.imag)
        element = self.shell.text(_legal(text.text), insert=(x, y), font_family=FONTS, font_size=_number(text.size))
        element["fill"] = _colour(text.colour)
        if text.text:
            element["textLength"], element["lengthAdjust"] = _number(text.width), "spacingAndGlyphs"
        if text.text != " ".join(text.text.split()):
            element["xml:space"] = "preserve"  # runs of spaces have their width too
        if text.anchor != "start":
            element["text-anchor"] = text.anchor
        if text.bold:
            element["font-weight"] = "bold"
        if text.angle_deg:
            element["transform"] = f"rotate({_number(-text.angle_deg)} {x} {y})"
        return element


def _path_data(path: Path, height: float) -> str:
    """The path as SVG path data, y down; a path without arcs is formatted in one go."""
    if b"A" not in path.kinds:
        numbers = array("d", path.coords)
        numbers[1::2] = array("d", [height - y for y in numbers[1::2]])
        return "".join(_STEPS[kind] for kind in path.kinds.decode()).format(*map(_number, numbers))
    steps = []
    for segments, closed in path.transformed(Affine(d=-1.0, f=height)).outlines():
        if not segments:
            continue
        steps.append(f"M{_point(segments[0].start)}")
        drawn = segments[:-1] if closed and isinstance(segments[-1], Line) else segments  # Z draws the last line
        steps.extend(map(_step, drawn))
        steps.append("Z" * closed)
    return "".join(steps)


def _step(segment: Segment) -> str:
    if isinstance(segment, Line):
        return f"L{_point(segment.end)}"
    if not isinstance(segment, Arc):
        return f"C{_point(segment.first)} {_point(segment.second)} {_point(segment.end)}"
    if segment.radius > LARGEST_RADIUS:
        return "".join(map(_step, segment.cubics(math.inf)))
    return "".join(map(_arc_step, _well_conditioned(segment)))


def _arc_step(arc: Arc) -> str:
    sweep = arc.sweep_rad
    return f"A{arc.radius:.15g} {arc.radius:.15g} 0 {abs(sweep) > math.pi:d} {sweep > 0:d} {_point(arc.end)}"


def _well_conditioned(arc: Arc) -> list[Arc]:
    """Arcs whose centre a reader finds well from radius and ends: none near half a turn, none near a whole one."""
    turn_deg = abs(math.degrees(arc.sweep_rad))
    count = 3 if turn_deg > 350 else 2 if abs(turn_deg - 180) < 1 else 1
    return [arc.split(i / count, (i + 1) / count) for i in range(count)] if count > 1 else [arc]


def _point(point: complex) -> str:
    return f"{_number(point.real)} {_number(point.imag)}"


def _number(value: float) -> str:
    """Ten decimals, which keep 1e-9 mm, without trailing zeros and without a negative zero."""
    return f"{value:z.10f}".rstrip("0").rstrip(".")


def _colour(colour: Colour) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour)


def _legal(text: str) -> str:
    """The text with U+FFFD for what XML cannot hold."""
    return _NOT_XML.sub("\ufffd", text)
