"""A file being read: its elements, their styles, what they may cost, and the doubts about them."""

from __future__ import annotations

from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.cascade import Cascade
from cupgeom.decor.artwork.frame import Frame
from cupgeom.decor.artwork.limits import Budget
from cupgeom.decor.artwork.notices import Notices
from cupgeom.decor.artwork.numbers import ViewBox, parse_length, parse_view_box
from cupgeom.decor.artwork.tree import Tree

_ACROSS, _DOWN = ("x", "x1", "x2", "cx", "rx", "width"), ("y", "y1", "y2", "cy", "ry", "height")
_AXES = dict.fromkeys(_ACROSS, "x") | dict.fromkeys(_DOWN, "y")


class Source:
    """What every part of the reader shares."""

    def __init__(self, tree: Tree, notices: Notices) -> None:
        self.tree, self.notices, self.budget = tree, notices, Budget()
        self.cascade = Cascade(tree, self.budget, notices)
        self.under_way: set[Element] = set()  # what is being drawn, so as not to draw it inside itself

    def doubt(self, element: Element, what: str, mend: str = "") -> None:
        """Note a doubt about an element."""
        self.notices.add(self.tree.label(element), what, mend)

    def measure(self, element: Element, frame: Frame, name: str) -> float | None:
        """The length that an attribute gives, in units of the drawing; None where it gives none."""
        text = element.get(name)
        if text is None or text.strip() == "auto":
            return None
        length = parse_length(text)
        if length is None:
            self.doubt(element, f"has {name} {text[:40]!r}, which is not understood and left out")
            return None
        return frame.pixels(length, _AXES.get(name, ""))

    def corner(self, element: Element, frame: Frame) -> complex:
        """The point that the attributes x and y give."""
        return complex(*(self.measure(element, frame, name) or 0.0 for name in "xy"))

    def size(self, element: Element, frame: Frame) -> tuple[float | None, float | None]:
        """The lengths that the attributes width and height give."""
        return self.measure(element, frame, "width"), self.measure(element, frame, "height")

    def view_box(self, element: Element) -> ViewBox | None:
        """The part of the drawing that an element says it shows."""
        text = element.get("viewBox")
        box = parse_view_box(text) if text is not None else None
        if text and not box:
            self.doubt(element, f"has a viewBox {text[:40]!r}, which is not understood and left out")
        return box
