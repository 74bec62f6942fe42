"""What a file may cost: caps that artwork for a cup stays far below and hostile files run into."""

from __future__ import annotations

from cupgeom.errors import CupgeomError

MOST_BYTES = 32_000_000  # of a file, unpacked
MOST_ELEMENTS = 50_000  # in a file
MOST_DEPTH = 100  # elements inside each other, `use` followed
MOST_POINTS = 400_000  # points of outlines, each element drawn counted as so many more, each `use` counted anew
ELEMENT = 20
MOST_STYLE = 300_000  # characters of style that need the full grammar; a plain style attribute counts a tenth
MOST_SELECTORS = 2_000
MOST_STYLE_WORK = 20_000_000  # selectors tried, one that looks at siblings or parts counted once for each element
MOST_STOPS = 256  # of one gradient
MOST_LINKS = 10  # of gradients or patterns that take from each other
MOST_PIXELS = 50_000_000  # of all pictures in a file
LARGEST = 1e15  # of a number, beyond which nothing that can be seen needs to go


class Budget:
    """Counts what drawing one file has cost so far."""

    def __init__(self) -> None:
        self._points = self._style = self._pixels = 0

    def draw(self, depth: int) -> None:
        """One more element, this deep."""
        self.points(ELEMENT)
        if depth > MOST_DEPTH:
            raise CupgeomError("", f"nests more than {MOST_DEPTH} elements inside each other, each use followed")

    def points(self, count: int) -> None:
        """So many more points of outlines."""
        self._points += count
        if self._points > MOST_POINTS:
            raise too_much()

    def style(self, count: int) -> None:
        """So many more characters of style."""
        self._style += count
        if self._style > MOST_STYLE:
            raise CupgeomError("", f"has more than {MOST_STYLE} characters of style")

    def pixels(self, count: int) -> None:
        """So many more pixels of pictures."""
        self._pixels += count
        if self._pixels > MOST_PIXELS:
            raise CupgeomError("", f"has pictures of more than {MOST_PIXELS // 1_000_000} million pixels")


def too_much() -> CupgeomError:
    """What is said when the points run out."""
    what = f"more than {MOST_POINTS} points of outlines, an element counted as {ELEMENT}, each use counted anew"
    return CupgeomError("", f"is too much to draw: {what}")


def require_reasonable(text: str, value: float) -> float:
    """The number, unless it is too large to reckon with."""
    if not abs(value) <= LARGEST:
        raise CupgeomError("", f"has the number {text[:40]}, which is beyond {LARGEST:g}")
    return value
