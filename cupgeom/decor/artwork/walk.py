"""The walk through the elements of an SVG file: groups, viewports, copies, images, clips."""

from __future__ import annotations

from collections.abc import Callable
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork import shapes, strokes
from cupgeom.decor.artwork.colours import parse_reference
from cupgeom.decor.artwork.frame import Frame
from cupgeom.decor.artwork.images import Images
from cupgeom.decor.artwork.items import Area, Items, bounds, clipped, cut, faded, inside, point_count
from cupgeom.decor.artwork.numbers import MM_PER_PIXEL, Length, ViewBox, composed, fitted
from cupgeom.decor.artwork.painter import Painter
from cupgeom.decor.artwork.points import closed
from cupgeom.decor.artwork.source import Source
from cupgeom.decor.artwork.style import Style
from cupgeom.drawing import Affine, Box, Path, Shape
from cupgeom.errors import CupgeomError

_SILENT = frozenset(  # elements that show nothing by themselves
    (
        "defs", "title", "desc", "metadata", "style", "linearGradient", "radialGradient", "pattern", "clipPath", "mask",
        "filter", "marker", "symbol", "script", "view", "cursor", "font", "font-face", "color-profile", "solidColor",
    )
)  # fmt: skip
_TEXTS = frozenset(("text", "flowRoot", "tref"))
_MOVES = frozenset(("animate", "animateTransform", "animateMotion", "animateColor", "set"))
_FULL = Length(100.0, "%")
_WITHOUT_SIZE = (100.0, 100.0)  # what percentages are of in a file that states no size


class Walk:
    """Draws the elements of a file."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._painter = Painter(source, self._draw)
        self._images = Images(source)
        self._areas: dict[tuple[Element, Affine, tuple[float, float]], Area] = {}
        self._handlers: dict[str, Callable[[Element, Frame], Items]] = {
            "g": self._group,
            "a": self._group,
            "svg": self._inner_svg,
            "use": self._use,
            "switch": self._switch,
            "image": self._image,
            **dict.fromkeys(shapes.SHAPES, self._painter.draw),
        }

    def page(self) -> tuple[Items, Box]:
        """The items of the whole file, and the page they are on, in mm."""
        root = self._source.tree.root
        view_box = self._source.view_box(root)
        size = self._page_size(root, view_box)
        width, height = size or _WITHOUT_SIZE
        page = Box(0.0, 0.0, width * MM_PER_PIXEL, height * MM_PER_PIXEL)
        to_mm = Affine(MM_PER_PIXEL, 0.0, 0.0, -MM_PER_PIXEL, 0.0, page.top)
        inner, viewport = _viewed(root, view_box, width, height)
        frame = Frame(to_mm, Style(), viewport)
        items = self._framed(root, frame, lambda deep: self._children(root, deep.moved(inner)))
        if size or not items:
            shows_all = self._source.cascade.in_place(root).shows_all
            return (items if shows_all else inside(items, page.outline())), page
        self._source.notices.add("", "states no size, and is taken as large as its art, 96 units an inch")
        box = bounds(items)
        shift = Affine.move(-complex(box.left, box.bottom))
        return [item.transformed(shift) for item in items], Box(0.0, 0.0, box.width, box.height)

    def _page_size(self, root: Element, view_box: ViewBox | None) -> tuple[float, float] | None:
        """Width and height of the page [px], as stated or as the view box has them; None when neither says."""
        whole = view_box[2:] if view_box else _WITHOUT_SIZE
        width, height = self._source.size(root, Frame(Affine(), self._source.cascade.in_place(root), whole))
        if width is None and height is None and view_box is None:
            return None
        if any(side is not None and side <= 0 for side in (width, height)):
            raise CupgeomError(self._source.tree.label(root), "must be wider and higher than 0")
        if view_box and width is None and height is None:
            return view_box.width, view_box.height
        if width is None:
            width = height * whole[0] / whole[1] if view_box and height else whole[0]
        if height is None:
            height = width * whole[1] / whole[0] if view_box else whole[1]
        return width, height

    def _draw(self, element: Element, frame: Frame) -> Items:
        """The items of one element."""
        handler = self._handlers.get(element.tag)
        if handler is not None and _is_wanted(element):
            return self._framed(element, frame, lambda deep: handler(element, deep))
        if frame.mode != "extent":
            self._note_left_out(element)
        return []

    def _framed(self, element: Element, frame: Frame, content: Callable[[Frame], Items]) -> Items:
        """What `content` draws in the element's own frame, with the element's opacity and clip."""
        self._source.under_way.add(element)
        try:
            self._source.budget.draw(frame.depth)
            style = self._source.cascade.style(element, frame.style)
            frame = frame.entered(style)
            if style.display == "none" or not frame.to_mm.determinant:
                return []
            items = content(frame)
            if not items or frame.mode == "extent":
                return items
            self._note_effects(element, style)
            areas = self._clips(element, frame)
            if frame.mode == "clip":
                return cut(items, areas)
            return clipped(faded(items, style.opacity) if style.opacity < 1 else items, areas)
        except CupgeomError as error:
            raise CupgeomError(error.where or self._source.tree.label(element), error.what) from None
        finally:
            self._source.under_way.discard(element)

    # containers

    def _children(self, element: Element, frame: Frame) -> Items:
        items: Items = []
        for child in element:
            items += self._draw(child, frame)
        return items

    def _group(self, element: Element, frame: Frame) -> Items:
        return self._children(element, frame) if frame.mode != "clip" else []  # a clip takes shapes only

    def _switch(self, element: Element, frame: Frame) -> Items:
        for child in element:
            if _is_wanted(child) and not child.tag.startswith("{"):
                return self._draw(child, frame)
        return []

    def _inner_svg(self, element: Element, frame: Frame) -> Items:
        return self._viewport(element, frame, self._source.size(element, frame))

    def _viewport(self, element: Element, frame: Frame, size: tuple[float | None, float | None]) -> Items:
        """The children of an svg or symbol in a viewport of their own; a side of None is all of the outer one."""
        width, height = (
            frame.pixels(_FULL, axis) if side is None else side for side, axis in zip(size, "xy", strict=True)
        )
        if frame.mode == "clip" or width <= 0 or height <= 0:
            return []
        outer = frame.moved(Affine.move(self._source.corner(element, frame))) if element.tag == "svg" else frame
        inner, viewport = _viewed(element, self._source.view_box(element), width, height)
        items = self._children(element, outer.moved(inner)._replace(viewport=viewport))
        if frame.style.shows_all or frame.mode == "extent":
            return items
        return inside(items, Box(0.0, 0.0, width, height).outline().transformed(outer.to_mm))

    def _use(self, element: Element, frame: Frame) -> Items:
        source, href = self._source, element.get("href", "")
        target = source.tree.found(href)
        if target is None:
            away = href and not href.startswith("#")
            what = "is in another file, which is never read" if away else "is missing"
            source.doubt(element, f"shows {href[:60] or 'something'} that {what}")
            return []
        if target in source.under_way:
            source.doubt(element, f"shows {href[:60]}, of which it is a part itself, and is not drawn")
            return []
        moved = frame.moved(Affine.move(source.corner(element, frame)))
        size = source.size(element, frame)
        if target.tag == "symbol":
            return self._framed(target, moved, lambda deep: self._viewport(target, deep, size))
        if target.tag == "svg":
            own = source.size(target, frame)
            wanted = (size[0] if size[0] is not None else own[0], size[1] if size[1] is not None else own[1])
            return self._framed(target, moved, lambda deep: self._viewport(target, deep, wanted))
        return self._draw(target, moved)

    def _image(self, element: Element, frame: Frame) -> Items:
        if frame.mode == "clip" or frame.style.visibility != "visible":
            return []
        pixels = self._images.pixels(element)
        if pixels is None:
            return []
        width, height = self._source.size(element, frame)
        if width is None:
            width = pixels.columns if height is None else pixels.columns * height / pixels.rows
        if height is None:
            height = pixels.rows * width / pixels.columns
        if width <= 0 or height <= 0:
            return []
        if frame.style.image_rendering in ("optimizeSpeed", "pixelated", "crisp-edges"):
            self._source.doubt(element, "asks for hard pixels, and is drawn smooth")
        moved = frame.moved(Affine.move(self._source.corner(element, frame)))
        natural = ViewBox(0.0, 0.0, pixels.columns, pixels.rows)
        fit = fitted(natural, width, height, element.get("preserveAspectRatio", ""))
        from_unit_square = Affine(pixels.columns, 0.0, 0.0, -pixels.rows, 0.0, pixels.rows)  # its y runs up
        picture = pixels.placed(composed(composed(moved.to_mm, fit), from_unit_square))
        return inside([picture], Box(0.0, 0.0, width, height).outline().transformed(moved.to_mm))

    # clips

    def _clips(self, element: Element, frame: Frame) -> list[Area]:
        """The areas that an element shows in, each inside the next."""
        source, text = self._source, frame.style.clip_path
        if text in ("", "none"):
            return []
        clip = source.tree.found(parse_reference(text))
        if clip is None or clip.tag != "clipPath" or clip in source.under_way:
            source.doubt(element, f"has the clip {text[:60]}, which cannot be had, and is drawn without it")
            return []
        style = source.cascade.in_place(clip)
        inner = frame._replace(mode="clip")
        if clip.get("clipPathUnits") == "objectBoundingBox":
            box = self._extent(element, frame)
            if box is None or not box.width or not box.height:
                return [(Path(), False)]
            inner = inner.moved(Affine(box.width, 0.0, 0.0, box.height, box.left, box.bottom))
        source.under_way.add(clip)
        try:
            areas = [self._clip_area(clip, inner.entered(style))]
            return areas + self._clips(clip, frame._replace(style=style, depth=frame.depth + 1))
        finally:
            source.under_way.discard(clip)

    def _clip_area(self, clip: Element, inner: Frame) -> Area:
        """What the shapes of a clip cover together."""
        key = (clip, inner.to_mm, inner.viewport)
        if key not in self._areas:
            items = [item for child in clip for item in self._draw(child, inner)]
            self._source.budget.points(10 * point_count(items) if len(items) > 1 else 0)
            shapes_ = [item for item in items if isinstance(item, Shape)]
            self._areas[key] = strokes.united([(closed(shape.path), shape.even_odd) for shape in shapes_])
        return self._areas[key]

    def _extent(self, element: Element, frame: Frame) -> Box | None:
        """The box round an element's outlines, strokes and clips aside, in its own units."""
        handler = self._handlers.get(element.tag, self._group)
        items = handler(element, frame._replace(to_mm=Affine(), mode="extent"))
        return bounds(items) if items else None

    # doubts

    def _note_effects(self, element: Element, style: Style) -> None:
        for name, value in (("mask", style.mask), ("filter", style.filter)):
            if value not in ("", "none"):
                self._source.doubt(element, f"has a {name}, and is drawn without it")
        if style.mix_blend_mode != "normal":
            mode = style.mix_blend_mode[:20]
            self._source.doubt(element, f"blends with what lies under it ({mode}), and is drawn on top of it")
        if any(child.tag in _MOVES for child in element):
            self._source.doubt(element, "moves, and is drawn as it stands before that")

    def _note_left_out(self, element: Element) -> None:
        tag, doubt = element.tag, self._source.doubt
        if tag in _TEXTS:
            doubt(element, "is text, which is not drawn", "turn it into paths, or set it as lettering")
        elif tag not in _SILENT and tag not in _MOVES and not tag.startswith("{") and _is_wanted(element):
            doubt(element, "is not drawn")


def _is_wanted(element: Element) -> bool:
    """Whether an element's own conditions hold: no extension is known, and English is understood."""
    languages = [part.strip().lower()[:2] for part in element.get("systemLanguage", "en").split(",")]
    return "requiredExtensions" not in element.attrib and "en" in languages


def _viewed(
    element: Element, view_box: ViewBox | None, width: float, height: float
) -> tuple[Affine, tuple[float, float]]:
    """The map into a viewport of a size, and what percentages are of inside it."""
    if view_box is None:
        return Affine(), (width, height)
    fit = fitted(view_box, width, height, element.get("preserveAspectRatio", ""))
    return fit, (view_box.width, view_box.height)
