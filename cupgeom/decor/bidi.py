"""The order in which a line that runs both ways is drawn, by the Unicode bidirectional algorithm.

Unicode Standard Annex #9 (from memory), rules P2, P3, W1 to W7, N0 to N2, I1, I2, L1 and L2. A line is a paragraph. Not
covered: characters that embed, override or isolate (`CONTROLS`), which the caller keeps out, and in N0 other brackets
than `_BRACKETS`. Levels are even where text is read from left to right and odd where it is read from right to left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from unicodedata import bidirectional

CONTROLS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_STRONG = {"L": 0, "R": 1, "AL": 1}
_NEUTRAL = frozenset(("B", "S", "WS", "ON"))
_BRACKETS = dict(zip("([{⟨〈《「『【〔（［｛｢", ")]}⟩〉》」』】〕）］｝｣", strict=True))
_DEEPEST = 63  # open brackets at once, by rule BD16


def base_level(line: str) -> int:
    """Level of a line by its first letter: 1 where it is read from right to left (P2, P3)."""
    return next((_STRONG[kind] for kind in map(bidirectional, line) if kind in _STRONG), 0)


def levels(line: str, base: int) -> list[int]:
    """The level of each character of a line."""
    given = [bidirectional(character) or "L" for character in line]
    kept = [index for index, kind in enumerate(given) if kind != "BN"]  # X9: the others are as if not there
    kinds = [given[index] for index in kept]
    around = "LR"[base]
    _weak(kinds, around)
    _brackets(kinds, [line[index] for index in kept], [given[index] for index in kept], around)
    _neutral(kinds, around)
    found: list[int] = []
    steps = {"L": 0, "R": 1, "AN": 2, "EN": 2} if base == 0 else {"L": 1, "R": 0, "AN": 1, "EN": 1}  # I1, I2
    level_of = dict(zip(kept, (base + steps[kind] for kind in kinds), strict=True))
    for index in range(len(line)):
        found.append(level_of.get(index, found[-1] if found else base))
    for index in range(len(line) - 1, -1, -1):  # L1
        if given[index] not in ("WS", "S", "B", "BN"):
            break
        found[index] = base
    return found


def drawing_order(levels: Sequence[int]) -> list[int]:
    """Indices of things with these levels from left to right (L2)."""
    order = list(range(len(levels)))
    for level in range(max(levels, default=0), 0, -1):
        start = 0
        while start < len(order):
            stop = start
            while stop < len(order) and levels[order[stop]] >= level:
                stop += 1
            order[start:stop] = reversed(order[start:stop])
            start = stop + 1
    return order


def _weak(kinds: list[str], around: str) -> None:
    """W1 to W7: marks, numbers and what goes with them."""
    before = strong = around
    for index, given in enumerate(kinds):
        kind = before if given == "NSM" else given  # W1
        before = kind
        if kind in _STRONG:
            strong = kind
        kinds[index] = "AN" if kind == "EN" and strong == "AL" else "R" if kind == "AL" else kind  # W2, W3
    for index in range(1, len(kinds) - 1):  # W4
        last, kind, following = kinds[index - 1 : index + 2]
        if last == following and ((kind == "ES" and last == "EN") or (kind == "CS" and last in ("EN", "AN"))):
            kinds[index] = last
    for start, stop in _runs(kinds, ("ET",)):  # W5
        if "EN" in (kinds[start - 1 : start] + kinds[stop : stop + 1]):
            kinds[start:stop] = ["EN"] * (stop - start)
    strong = around
    for index, kind in enumerate(kinds):
        if kind in ("L", "R"):
            strong = kind
        elif kind in ("ES", "ET", "CS"):  # W6
            kinds[index] = "ON"
        elif kind == "EN" and strong == "L":  # W7
            kinds[index] = "L"


def _brackets(kinds: list[str], line: Sequence[str], given: Sequence[str], around: str) -> None:
    """N0: both brackets of a pair go with what they enclose."""
    for opening, closing in sorted(_pairs(kinds, line)):
        inside = {_side(kind) for kind in kinds[opening + 1 : closing]} - {None}
        if not inside:
            continue
        side = around
        if around not in inside:
            before = next((found for kind in reversed(kinds[:opening]) if (found := _side(kind))), around)
            side = before if before in inside else around
        for bracket in (opening, closing):
            kinds[bracket] = side
            mark = bracket + 1
            while mark < len(given) and given[mark] == "NSM":
                kinds[mark] = side
                mark += 1


def _pairs(kinds: Sequence[str], line: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Where brackets of a pair stand (BD16)."""
    opened: list[tuple[str, int]] = []
    for index, character in enumerate(line):
        if kinds[index] != "ON":
            continue
        if character in _BRACKETS:
            if len(opened) == _DEEPEST:
                return
            opened.append((_BRACKETS[character], index))
            continue
        for depth in range(len(opened) - 1, -1, -1):
            if opened[depth][0] == character:
                yield opened[depth][1], index
                del opened[depth:]
                break


def _neutral(kinds: list[str], around: str) -> None:
    """N1, N2: what has no side takes that of its neighbours where they agree, else that of the line."""
    for start, stop in _runs(kinds, _NEUTRAL):
        left = _side(kinds[start - 1]) if start else around
        right = _side(kinds[stop]) if stop < len(kinds) else around
        kinds[start:stop] = [left if left and left == right else around] * (stop - start)


def _side(kind: str) -> str | None:
    return {"L": "L", "R": "R", "EN": "R", "AN": "R"}.get(kind)


def _runs(kinds: Sequence[str], of: Sequence[str] | frozenset[str]) -> Iterator[tuple[int, int]]:
    """Start and end of each longest run of the kinds named."""
    start = None
    for index, kind in enumerate([*kinds, ""]):
        if kind in of and start is None:
            start = index
        elif kind not in of and start is not None:
            yield start, index
            start = None
