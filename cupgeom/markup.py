"""The SVG elements of a drawing: written to files as they are, and handed to the engine that makes pixels of them.

Lines end flat (butt caps), so that a dash is exactly as long as it says, and meet in points (mitred joins), so that the
corner of a cut line is where the blade turns.
"""

from __future__ import annotations

import math
import re
from array import array
from base64 import b64encode
from collections.abc import Callable, Iterable
from typing import Any

from cupgeom.drawing import (
    Affine,
    Arc,
    Clipped,
    Colour,
    Drawing,
    Gradient,
    Item,
    Line,
    Paint,
    Path,
    Picture,
    Segment,
    Shape,
    Stroke,
    Text,
)
from cupgeom.pixels import fingerprint, png

FONTS = "Bitstream Vera Sans, Verdana, DejaVu Sans, sans-serif"
LARGEST_RADIUS = 1e6  # mm; larger circles draw wrong in common renderers, one cubic draws right
_AS_IT_IS = Affine()
_STEPS = {"M": "M{} {}", "L": "L{} {}", "C": "C{} {} {} {} {} {}", "Z": "Z"}
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, production 2 (Char)


def add_drawing(drawing: Drawing, shell: Any, height: float, last: Affine = _AS_IT_IS) -> None:
    """Add a drawing to an svgwrite drawing.

    Parameters
    ----------
    drawing
        Painted role by role, in a group each.
    shell
        The svgwrite drawing, in mm.
    height
        The y of the drawing from which y runs down in the shell.
    last
        A map of the whole drawing, whatever it is made of.
    """
    writer = _Writer(shell, height)
    sheet = shell
    if last != _AS_IT_IS:
        sheet = shell.add(shell.g(transform=matrix(writer.flip @ last @ writer.flip)))
    for role in drawing.roles():
        group = sheet.add(shell.g(id_=role, fill="none", stroke_miterlimit="10"))
        group.set_desc(title=role)
        writer.add(drawing.only([role]).items, group)


class _Writer:
    """Adds items to groups; a clip, a gradient or a picture is defined once, however often it is used."""

    def __init__(self, shell: Any, height: float) -> None:
        self.shell, self.height = shell, height
        self.flip = Affine(d=-1.0, f=height)
        self.defined: dict[object, str] = {}

    def add(self, items: Iterable[Item], group: Any) -> None:
        for item in items:
            if isinstance(item, Clipped):
                self.add(item.items, group.add(self.group(item)))
            elif isinstance(item, Shape):
                group.add(self.shape(item))
            elif isinstance(item, Picture):
                group.add(self.picture(item))
            else:
                group.add(self.text(item))

    def group(self, item: Clipped) -> Any:
        element = self.shell.g()
        if item.clip is not None:
            element["clip-path"] = f"url(#{self.clip_id(item.clip, item.even_odd)})"
        if item.opacity < 1:
            element["opacity"] = decimal(item.opacity)
        return element

    def shape(self, shape: Shape) -> Any:
        element = self.shell.path(path_data(shape.path, self.height))
        if shape.fill:
            element["fill"] = self.paint(shape.fill)
            if shape.fill_opacity < 1:
                element["fill-opacity"] = decimal(shape.fill_opacity)
        if shape.even_odd:
            element["fill-rule"] = "evenodd"
        if shape.stroke:
            _set_stroke(element, shape.stroke)
        return _named(element, shape.name)

    def paint(self, paint: Paint) -> str:
        return f"url(#{self.gradient_id(paint)})" if isinstance(paint, Gradient) else hex_colour(paint)

    def picture(self, picture: Picture) -> Any:
        element = self.shell.use(f"#{self.picture_id(picture)}")
        pixels_to_unit_square = Affine(1 / picture.columns, 0.0, 0.0, -1 / picture.rows, 0.0, 1.0)
        element["transform"] = matrix(self.flip @ picture.place @ pixels_to_unit_square)
        if picture.opacity < 1:
            element["opacity"] = decimal(picture.opacity)
        return _named(element, picture.name)

    def text(self, text: Text) -> Any:
        x, y = decimal(text.at.real), decimal(self.height - text.at.imag)
        element = self.shell.text(legal(text.text), insert=(x, y), font_family=FONTS, font_size=decimal(text.size))
        element["fill"] = hex_colour(text.colour)
        if text.text:
            element["textLength"], element["lengthAdjust"] = decimal(text.width), "spacingAndGlyphs"
        if text.text != " ".join(text.text.split()):
            element["xml:space"] = "preserve"  # runs of spaces have their width too
        if text.anchor != "start":
            element["text-anchor"] = text.anchor
        if text.bold:
            element["font-weight"] = "bold"
        if text.angle_deg:
            element["transform"] = f"rotate({decimal(-text.angle_deg)} {x} {y})"
        return element

    def clip_id(self, clip: Path, even_odd: bool) -> str:
        data = path_data(clip, self.height)
        return self.once("clip", (data, even_odd), lambda name: self.clip(data, even_odd, name))

    def clip(self, data: str, even_odd: bool, name: str) -> Any:
        element = self.shell.clipPath(id_=name)
        element.add(self.shell.path(data, clip_rule="evenodd") if even_odd else self.shell.path(data))
        return element

    def gradient_id(self, gradient: Gradient) -> str:
        return self.once("gradient", gradient, lambda name: self.gradient(gradient, name))

    def gradient(self, gradient: Gradient, name: str) -> Any:
        settings = {"gradientUnits": "userSpaceOnUse", "id_": name}
        if gradient.kind == "linear":
            element = self.shell.linearGradient(("0", "0"), ("1", "0"), **settings)
        else:
            focus = (decimal(gradient.focus.real), decimal(gradient.focus.imag))
            element = self.shell.radialGradient(("0", "0"), "1", focus, **settings)
        element["gradientTransform"] = matrix(self.flip @ gradient.place)
        if gradient.spread != "pad":
            element["spreadMethod"] = gradient.spread
        for stop in gradient.stops:
            opacity = decimal(stop.opacity) if stop.opacity < 1 else None
            element.add_stop_color(decimal(stop.offset), hex_colour(stop.colour), opacity)
        return element

    def picture_id(self, picture: Picture) -> str:
        return self.once("picture", fingerprint(picture), lambda name: self.image(picture, name))

    def image(self, picture: Picture, name: str) -> Any:
        kind, data = ("jpeg", picture.jpeg) if picture.jpeg else ("png", png(picture))
        element = self.shell.image(f"data:image/{kind};base64,{b64encode(data).decode()}", id_=name)
        element["width"], element["height"] = picture.columns, picture.rows
        element["preserveAspectRatio"] = "none"
        return element

    def once(self, kind: str, content: object, make: Callable[[str], Any]) -> str:
        """The id of a definition, made when it is first asked for; ids count up for each kind."""
        key = (kind, content)
        if key not in self.defined:
            self.defined[key] = f"{kind}-{1 + sum(name.startswith(kind) for name in self.defined.values())}"
            self.shell.defs.add(make(self.defined[key]))
        return self.defined[key]


def path_data(path: Path, height: float) -> str:
    """The path as SVG path data, y down from `height`; a path without arcs is formatted in one go."""
    if b"A" not in path.kinds:
        numbers = array("d", path.coords)
        numbers[1::2] = array("d", [height - y for y in numbers[1::2]])
        return "".join(_STEPS[kind] for kind in path.kinds.decode()).format(*map(decimal, numbers))
    steps = []
    for segments, closed in path.transformed(Affine(d=-1.0, f=height)).outlines():
        if not segments:
            continue
        steps.append(f"M{_point(segments[0].start)}")
        drawn = segments[:-1] if closed and isinstance(segments[-1], Line) else segments  # Z draws the last line
        steps.extend(map(_step, drawn))
        steps.append("Z" * closed)
    return "".join(steps)


def matrix(affine: Affine) -> str:
    """A map as SVG's transform, with as many digits as a float64 holds where they count."""
    return f"matrix({' '.join(f'{value:z.15g}' for value in affine)})"


def decimal(value: float) -> str:
    """Ten decimals, which keep 1e-9 mm, without trailing zeros and without a negative zero."""
    return f"{value:z.10f}".rstrip("0").rstrip(".")


def hex_colour(colour: Colour) -> str:
    """A colour as # and six hexadecimal digits."""
    return "#" + "".join(f"{round(255 * part):02x}" for part in colour)


def legal(text: str) -> str:
    """The text with U+FFFD for what XML cannot hold."""
    return _NOT_XML.sub("\ufffd", text)


def _named(element: Any, name: str) -> Any:
    if name:
        element.set_desc(title=legal(name))
    return element


def _set_stroke(element: Any, stroke: Stroke) -> None:
    element["stroke"] = hex_colour(stroke.colour)
    element["stroke-width"] = decimal(stroke.width)
    element["stroke-dasharray"] = " ".join(map(decimal, stroke.dashes)) or None
    if stroke.opacity < 1:
        element["stroke-opacity"] = decimal(stroke.opacity)


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
    return f"{decimal(point.real)} {decimal(point.imag)}"
