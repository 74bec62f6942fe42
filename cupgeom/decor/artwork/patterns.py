"""Pattern elements: a tile drawn again and again behind an outline (SVG 1.1, second edition, 13.3)."""

from __future__ import annotations

import math
from collections.abc import Callable
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.frame import Frame
from cupgeom.decor.artwork.items import Items, inside, point_count, rough, touches
from cupgeom.decor.artwork.numbers import ViewBox, fitted, inverse, parse_length, parse_transform
from cupgeom.decor.artwork.source import Source
from cupgeom.drawing import Affine, Box

MOST_TILES = 2000  # of one pattern in one shape


class Patterns:
    """Lays the tiles of a file's patterns."""

    def __init__(self, source: Source, draw: Callable[[Element, Frame], Items]) -> None:
        self._source, self._draw = source, draw
        self._known: dict[tuple[Element, ViewBox, Frame], Items] = {}

    def tiles(self, pattern: Element, element: Element, box: Box, frame: Frame) -> Items:
        """Tiles that cover the bounding box of an element, less what of them lies outside it."""
        chain = list(self._source.tree.chain(pattern))
        tile = self._tile(chain, box, frame)
        outer = frame.moved(parse_transform(_value(chain, "patternTransform")) or Affine())
        if pattern in self._source.under_way or tile is None or not outer.to_mm.determinant:
            return []
        area = box.outline().transformed(inverse(outer.to_mm) @ frame.to_mm).bounds()
        columns = _steps(area.left - tile.x, area.right - tile.x, tile.width)
        rows = _steps(area.bottom - tile.y, area.top - tile.y, tile.height)
        if len(columns) * len(rows) > MOST_TILES:
            self._source.doubt(element, f"is painted with more than {MOST_TILES} tiles, and is drawn without them")
            return []
        frame_of_tile = Box(tile.x, tile.y, tile.x + tile.width, tile.y + tile.height).outline()
        one = inside(self._one(chain, tile, box, outer), frame_of_tile.transformed(outer.to_mm))
        self._source.budget.points(point_count(one) * len(columns) * len(rows))
        steps = (complex(across * tile.width, down * tile.height) for down in rows for across in columns)
        room, boxes = box.outline().transformed(frame.to_mm).bounds(), [rough(item) for item in one]
        return [
            item.transformed(Affine.move(shift)) if shift else item
            for shift in (outer.to_mm(step) - outer.to_mm(0j) for step in steps)
            for item, around in zip(one, boxes, strict=True)
            if touches(around, room, shift)
        ]

    def _one(self, chain: list[Element], tile: ViewBox, box: Box, outer: Frame) -> Items:
        """The tile's content, counted from the tile's corner as renderers do."""
        source = self._source
        holder = next((link for link in chain if len(link)), chain[0])
        viewed = next((view_box for link in chain if (view_box := source.view_box(link))), None)
        inner = outer._replace(style=source.cascade.in_place(holder), depth=outer.depth + 1)
        inner = inner.moved(Affine.move(complex(tile.x, tile.y)))
        if viewed:
            inner = inner.moved(fitted(viewed, tile.width, tile.height, _value(chain, "preserveAspectRatio")))
        elif _value(chain, "patternContentUnits") == "objectBoundingBox":
            inner = inner.moved(Affine.scale(box.width, box.height))
        key = (chain[0], tile, inner)
        if key not in self._known:
            source.under_way.add(chain[0])
            try:
                self._known[key] = [item for child in holder for item in self._draw(child, inner)]
            finally:
                source.under_way.discard(chain[0])
        return self._known[key]

    def _tile(self, chain: list[Element], box: Box, frame: Frame) -> ViewBox | None:
        """Where the tile lies; None when it has no size."""
        x, y, width, height = (parse_length(_value(chain, name) or "0") for name in ("x", "y", "width", "height"))
        if x is None or y is None or width is None or height is None or width.value <= 0 or height.value <= 0:
            return None
        if _value(chain, "patternUnits") == "userSpaceOnUse":
            sides = (frame.pixels(length, axis) for length, axis in ((x, "x"), (y, "y"), (width, "x"), (height, "y")))
            return ViewBox(*sides)
        left, low, across, up = (length.pixels(1.0, 0.0) for length in (x, y, width, height))
        tile = ViewBox(box.left + left * box.width, box.bottom + low * box.height, across * box.width, up * box.height)
        return tile if tile.width and tile.height else None


def _value(chain: list[Element], name: str) -> str:
    return next((link.attrib[name] for link in chain if name in link.attrib), "")


def _steps(low: float, high: float, step: float) -> range:
    """Which repeats of a tile of a length touch a stretch; at most one more than may be had."""
    first = math.floor(low / step)
    return range(first, min(math.ceil(high / step), first + MOST_TILES + 1))
