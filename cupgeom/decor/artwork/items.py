"""Items of a drawing put together: measured, clipped, let through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cupgeom.decor.artwork import strokes
from cupgeom.decor.artwork.points import around, exact_box, handle_box
from cupgeom.drawing import Box, Clipped, Drawing, Item, Path, Shape, Text

Items = list[Item]
Area = tuple[Path, bool]  # an outline in mm, and whether it fills by the even-odd rule


def bounds(items: Sequence[Item]) -> Box:
    """Bounds of items, exact; those that lie within the bounds of others are not looked at closely."""
    pairs = [(rough(item), item) for item in items]
    box: Box | None = None
    for room, item in sorted(pairs, key=lambda pair: -pair[0].width * pair[0].height):
        if box is None or box.union(room) != box:
            exact = _exact(item)
            box = exact if box is None else box.union(exact)
    return box if box is not None else Drawing().bounds()  # which raises, saying that there is nothing


def rough(item: Item) -> Box:
    """A rectangle that holds an item, found quickly."""
    if isinstance(item, Clipped):
        box = around(map(rough, item.items))
        return overlap(box, handle_box(item.clip)) if item.clip else box
    return handle_box(item.path) if isinstance(item, Shape) else item.bounds()


def _exact(item: Item) -> Box:
    if isinstance(item, Clipped):
        box = bounds(item.items)
        return overlap(box, exact_box(item.clip)) if item.clip else box
    return exact_box(item.path) if isinstance(item, Shape) else item.bounds()


def overlap(one: Box, other: Box) -> Box:
    """What two rectangles share; without size where they share nothing."""
    left, bottom = max(one.left, other.left), max(one.bottom, other.bottom)
    return Box(left, bottom, max(left, min(one.right, other.right)), max(bottom, min(one.top, other.top)))


def touches(box: Box, room: Box, shift: complex) -> bool:
    """Whether a rectangle, shifted, meets another."""
    return (
        box.left + shift.real <= room.right
        and box.right + shift.real >= room.left
        and box.bottom + shift.imag <= room.top
        and box.top + shift.imag >= room.bottom
    )


def point_count(items: Sequence[Item]) -> int:
    """How many points the outlines of items have."""
    return sum(len(leaf.path.coords) // 16 for leaf in Drawing(tuple(items)).leaves() if isinstance(leaf, Shape))


def faded(items: Items, opacity: float) -> Items:
    """The items let through as one group."""
    item = items[0]
    if len(items) > 1 or isinstance(item, Text):
        return [Clipped(items=tuple(items), opacity=opacity)]
    if isinstance(item, Shape):
        return [replace(item, fill_opacity=item.fill_opacity * opacity)]
    return [replace(item, opacity=item.opacity * opacity)]


def inside(items: Items, area: Path) -> Items:
    """The items clipped to a parallelogram, unless it is upright and they all lie in it."""
    if not items:
        return []
    room = area.bounds()
    slack = 1e-9 * max(room.width, room.height)
    wide = room.grown(slack)
    upright = abs(abs(area.area()) - room.width * room.height) <= slack * slack
    if upright and all(wide.union(rough(item)) == wide or wide.union(_exact(item)) == wide for item in items):
        return items
    return [Clipped(clip=area, items=tuple(items))]


def clipped(items: Items, areas: list[Area]) -> Items:
    """The items inside areas, each inside the next."""
    for path, even_odd in areas:
        if not path:
            return []
        items = [Clipped(clip=path, even_odd=even_odd, items=tuple(items))]
    return items


def cut(items: Items, areas: list[Area]) -> Items:
    """The shapes as what they share with areas."""
    shapes = [item for item in items if isinstance(item, Shape)]
    for area in areas:
        shapes = [
            replace(shape, path=strokes.intersection((shape.path, shape.even_odd), area), even_odd=False)
            for shape in shapes
        ]
    return [shape for shape in shapes if shape.path]
