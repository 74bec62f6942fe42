"""Shape elements as filled outlines: fill and stroke, each with its paint."""

from __future__ import annotations

from collections.abc import Callable
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork import shapes, strokes
from cupgeom.decor.artwork.colours import Current, Ink, Reference
from cupgeom.decor.artwork.frame import Frame
from cupgeom.decor.artwork.gradients import Gradients
from cupgeom.decor.artwork.items import Area, Items
from cupgeom.decor.artwork.markers import Markers
from cupgeom.decor.artwork.numbers import MM_PER_PIXEL, parse_length
from cupgeom.decor.artwork.pathdata import Reading
from cupgeom.decor.artwork.patterns import Patterns
from cupgeom.decor.artwork.points import closed, exact_box, handle_box, moved
from cupgeom.decor.artwork.source import Source
from cupgeom.drawing import BLACK, Box, Clipped, Gradient, Paint, Path, Shape


class Painter:
    """Draws the shapes of a file."""

    def __init__(self, source: Source, draw: Callable[[Element, Frame], Items]) -> None:
        self._source = source
        self._gradients = Gradients(source)
        self._patterns, self._markers = Patterns(source, draw), Markers(source, draw)
        self._outlines: dict[tuple[Element, tuple[float, float], float], Reading] = {}
        self._boxes: dict[Path, Box] = {}

    def draw(self, element: Element, frame: Frame) -> Items:
        """The items of a shape element."""
        reading, style = self._outline(element, frame), frame.style
        path = reading.path
        box = self._box(path, frame)
        if box is None or (style.visibility != "visible" and frame.mode != "extent"):
            return []
        if frame.mode != "paint":
            even_odd = style.clip_rule == "evenodd"
            return [Shape(path=closed(self._placed(path, frame)), role="print", fill=BLACK, even_odd=even_odd)]
        paints = {
            "fill": lambda: self._fill(element, path, box, frame),
            "stroke": lambda: self._stroke(element, path, box, frame),
            "markers": lambda: self._markers.items(element, reading, frame),
        }
        order = dict.fromkeys([word for word in style.paint_order.split() if word in paints] + list(paints))
        return [item for name in order for item in paints[name]()]

    def _outline(self, element: Element, frame: Frame) -> Reading:
        """The path of a shape element, in its own units."""
        key = (element, frame.viewport, frame.style.font_size)
        if key not in self._outlines:
            reading = shapes.outline(element, lambda name: self._source.measure(element, frame, name))
            if reading.fault:
                drawn = "is drawn as far as that" if reading.path else "is not drawn"
                self._source.doubt(element, f"{reading.fault}, and {drawn}")
            self._outlines[key] = reading
        return self._outlines[key]

    def _fill(self, element: Element, path: Path, box: Box, frame: Frame) -> Items:
        style = frame.style
        if style.fill is None or not style.fill_opacity or not box.width or not box.height:
            return []
        area = self._placed(closed(path), frame), style.fill_rule == "evenodd"
        return self._covered(area, style.fill, style.fill_opacity, element, box, frame)

    def _stroke(self, element: Element, path: Path, box: Box, frame: Frame) -> Items:
        style = frame.style
        width = frame.pixels(style.stroke_width)
        if style.stroke is None or not style.stroke_opacity or width <= 0:
            return []
        if style.stroke_linejoin in ("miter-clip", "arcs"):
            what = f"has corners of the kind {style.stroke_linejoin}, and is drawn with mitred ones"
            self._source.doubt(element, what)
        self._source.budget.points(5 * len(path.kinds))
        line = strokes.Line(
            width=width,
            cap=style.stroke_linecap,
            join=style.stroke_linejoin,
            miter_limit=style.stroke_miterlimit,
            dashes=self._dashes(element, path, frame),
            dash_offset=frame.pixels(style.stroke_dashoffset),
        )
        if style.vector_effect == "non-scaling-stroke":
            outline = strokes.stroked(self._placed(path, frame), line.scaled(MM_PER_PIXEL))
        else:
            outline = self._placed(strokes.stroked(path, line), frame)
        return self._covered((outline, False), style.stroke, style.stroke_opacity, element, box, frame)

    def _dashes(self, element: Element, path: Path, frame: Frame) -> tuple[float, ...]:
        dashes = tuple(frame.pixels(dash) for dash in frame.style.stroke_dasharray)
        if not any(dashes):
            return ()
        stated = parse_length(element.get("pathLength", ""))
        if stated and stated.value > 0 and not stated.unit:
            scale = path.length() / stated.value
            dashes = tuple(dash * scale for dash in dashes)
        if strokes.dash_count(path, dashes) > strokes.MOST_DASHES:
            self._source.doubt(element, f"has more than {strokes.MOST_DASHES} dashes, and is drawn solid")
            return ()
        return dashes

    def _covered(
        self, area: Area, text: Ink | Current | Reference, opacity: float, element: Element, box: Box, frame: Frame
    ) -> Items:
        """An area [mm] with its paint; nothing where there is nothing to see."""
        path, even_odd = area
        if not path.kinds.strip(b"MZ"):
            return []
        found = self._referred(text, element, box, frame) if isinstance(text, Reference) else text
        if isinstance(found, list):
            return [Clipped(clip=path, even_odd=even_odd, items=tuple(found), opacity=opacity)] if found else []
        if isinstance(found, Current):
            found = frame.style.color
        if isinstance(found, Ink):
            opacity *= found.opacity
        paint: Paint | None = found.colour if isinstance(found, Ink) else found
        if paint is None or not opacity:
            return []
        return [Shape(path=path, role="print", fill=paint, fill_opacity=opacity, even_odd=even_odd)]

    def _referred(
        self, text: Reference, element: Element, box: Box, frame: Frame
    ) -> Gradient | Ink | Items | Current | None:
        """What an element of the file describes as paint: a gradient, a colour, or items to lie behind the outline."""
        target = self._source.tree.found(text.href)
        if target is not None and target.tag in ("linearGradient", "radialGradient"):
            return self._gradients.paint(target, box, frame)
        if target is not None and target.tag == "pattern":
            return self._patterns.tiles(target, element, box, frame)
        choice = "" if text.fallback is None else "; its second choice is taken"
        self._source.doubt(element, f"is painted with {text.href[:60] or 'nothing'}, which cannot be had{choice}")
        return text.fallback

    def _placed(self, path: Path, frame: Frame) -> Path:
        self._source.budget.points(len(path.coords) // 16)
        return moved(path, frame.to_mm)

    def _box(self, path: Path, frame: Frame) -> Box | None:
        """Bounds of a path, exact where its paint or its measure needs that; None where there is nothing to draw."""
        if not path.kinds.strip(b"M"):
            return None
        paints = (frame.style.fill, frame.style.stroke)
        exact = frame.mode == "extent" or any(isinstance(paint, Reference) for paint in paints)
        if not exact or not path.kinds.strip(b"MZ"):
            return handle_box(path)
        if path not in self._boxes:
            self._boxes[path] = exact_box(path)
        return self._boxes[path]
