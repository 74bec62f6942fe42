"""The job sheet on paper: head, picture and map, tables of decals, pots and steps, care."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cupgeom.drawing import Affine, Box, Drawing, Item, Picture, Text
from cupgeom.drawing.vera import text_width
from cupgeom.errors import CupgeomError, number, require_at_least, require_at_most
from cupgeom.jobsheet.block import (
    FAINT,
    HAIR,
    INK,
    RULE,
    SIZE,
    TICK,
    TICK_GAP,
    Block,
    Cell,
    Column,
    Section,
    columns,
    flowed,
    line,
    row,
    section,
)
from cupgeom.jobsheet.facts import SheetFacts
from cupgeom.jobsheet.plan import fitted
from cupgeom.jobsheet.words import plain
from cupgeom.pages import Document, Page, Paper
from cupgeom.pages.frame import wrapped

_LEAST_ROOM = (165.0, 200.0)  # mm of width and height between the margins
_FOOT = 8.0  # mm at the bottom for the line with the page's number
_TITLES, _LABEL, _VALUE = (6.4, 5.2, 4.4), 2.1, 3.2  # mm; the largest title that takes two lines
_CELLS = (6, 5, 4, 3)  # names and values beside each other, the most that need no second line
_PICTURE = (56.0, 66.0)  # mm, the most that the picture takes
_INDENT = 4.0  # mm, of an act within a step
_MOST_TICKS = 5  # boxes for the pots of a coat; more pots share one


def job_sheet(facts: SheetFacts, paper: Paper, *, margin: float = 14.0) -> Document:
    """The job sheet of one job: two pages for a usual one, more where its steps need them.

    Parameters
    ----------
    facts
        What stands on it, as it is to be read; no number is computed or rounded here.
    paper
        A sheet such as a4 or letter.
    margin
        White edge of the paper.

    Raises
    ------
    CupgeomError
        Naming ``paper``, when it is no sheet or leaves less than 165 x 200 mm between its margins.
    """
    require_at_least("margin", margin, 0)
    require_at_most("margin", margin, 100)
    if paper.width is None or paper.length is None:
        raise CupgeomError("paper", "must be a sheet such as a4 for the bench, not a roll or made to fit")
    room = Box(margin, margin + _FOOT, paper.width - margin, paper.length - margin)
    if room.width < _LEAST_ROOM[0] or room.height < _LEAST_ROOM[1]:
        least = f"{number(_LEAST_ROOM[0])} x {number(_LEAST_ROOM[1])} mm"
        raise CupgeomError("paper", f"{paper.name} leaves less than {least} between its margins; use a4 or letter")
    width = room.width
    parts = [
        _head(facts, width),
        _views(facts, width),
        _sizes(facts, width),
        _doubts(facts, width),
        _decals(facts, width),
        _pots(facts, width),
        _steps(facts, width),
        _care(facts, width),
    ]
    laid = flowed([part for part in parts if part.rows], room)
    pages = []
    for index, items in enumerate(laid, start=1):
        foot = _foot(facts, room, f"page {index} of {len(laid)}")
        name = str(index) if len(laid) > 1 else ""
        pages.append(Page(width=paper.width, height=paper.length, drawing=Drawing((*items, *foot)), name=name))
    return Document(title=f"{facts.title}: job sheet", pages=tuple(pages))


def _head(facts: SheetFacts, width: float) -> Section:
    """Title, then customer, quantity, dates and proof mark in a strip."""
    above = Text(text="JOB SHEET", at=-2.2j, size=2.4, bold=True, colour=FAINT)
    rows = [Block(4.0, (above,), keeps_next=True)]
    whole = [Column(left=0.0, width=width)]
    title = plain(facts.title)
    size = next((size for size in _TITLES if len(wrapped(title, size, width, bold=True)) <= 2), _TITLES[-1])
    rows += row(whole, [Cell(title, size, bold=True)], rule=False)
    pairs = [("customer", facts.customer), ("quantity", f"{facts.quantity} cup{'s' * (facts.quantity > 1)}")]
    pairs += [*facts.dates, ("proof mark", facts.mark)]
    rows.append(Block(1.5, (line(-1.0, 0, width, RULE),), keeps_next=True))
    return Section(rows=(*rows, *_strip([pair for pair in pairs if pair[1]], width)))


def _strip(pairs: Sequence[tuple[str, str]], width: float) -> list[Block]:
    """Names above their values, as many beside each other as need no second line."""
    longest = max((text_width(plain(value), _VALUE) for _, value in pairs), default=0.0)
    choices = {across: columns(width, *[("", 0.0, False)] * across) for across in _CELLS}
    across = next((across for across, places in choices.items() if longest <= places[0].width), _CELLS[-1])
    blocks = []
    for first in range(0, len(pairs), across):
        part = pairs[first : first + across]
        places = choices[across][: len(part)]
        names = row(places, [Cell(name, _LABEL, colour=FAINT) for name, _ in part], rule=False)
        values = row(places, [Cell(value, _VALUE) for _, value in part], rule=False)
        blocks += [replace(block, height=block.height - 1.4, keeps_next=True) for block in names]
        blocks += values
    return blocks


def _views(facts: SheetFacts, width: float) -> Section:
    """The picture at the left, the map at its right."""
    items: list[Item] = []
    left, height = 0.0, 0.0
    if facts.picture is not None:
        share = facts.picture.rows / facts.picture.columns
        across = min(_PICTURE[0], _PICTURE[1] / share)
        left, height = across + 8.0, across * share
        items.append(_placed(facts.picture, across, height))
    numbered = [(str(index), decal.at) for index, decal in enumerate(facts.decals, start=1) if decal.at is not None]
    caption = wrapped(plain(facts.plan_caption), _LABEL, width - left)[:2] if facts.plan else []
    if facts.plan:
        below = 3.2 * len(caption)
        shown = facts.plan.bounds()
        height = max(height, min(_PICTURE[1], (width - left) * shown.height / max(shown.width, 1e-9)) + below)
        items += fitted(facts.plan, numbered, Box(left, below - height, width, 0.0))
        for index, text in enumerate(caption):
            at = complex((left + width) / 2, below - height - 2.6 - 3.2 * index)
            items.append(Text(text=text, at=at, size=_LABEL, anchor="middle", colour=FAINT))
    return Section(rows=(Block(height, tuple(items)),) if items else ())


def _placed(picture: Picture, across: float, height: float) -> Picture:
    return replace(picture, place=Affine(across, 0.0, 0.0, height, 0.0, -height), role="note", name="the finished cup")


def _sizes(facts: SheetFacts, width: float) -> Section:
    return section("Sizes", width, _strip(facts.sizes, width))


def _doubts(facts: SheetFacts, width: float) -> Section:
    places = columns(width, ("", TICK, False), ("", 0.0, False))
    rows = [block for text in facts.doubts for block in row(places, [Cell(), Cell(text)], ticks=1)]
    return section("Look at first", width, rows)


def _decals(facts: SheetFacts, width: float) -> Section:
    places = columns(
        width, ("no.", 5.0, True), ("decal", 0.0, False), ("medium", 33.0, False), ("size", 27.0, True),
        ("turn", 17.0, True), ("drop", 17.0, True), ("after", 20.0, False), gap=4.0,
    )  # fmt: skip
    rows: list[Block] = []
    for index, decal in enumerate(facts.decals, start=1):
        texts = (decal.medium, decal.size, decal.turn, decal.drop, decal.after)
        cells = [Cell(str(index), colour=FAINT), Cell(decal.what, bold=True), *map(Cell, texts)]
        rows += row(places, cells)
    return section("Decals", width, rows, places)


def _pots(facts: SheetFacts, width: float) -> Section:
    boxes = [pot.pots if pot.pots <= _MOST_TICKS else 1 for pot in facts.pots]
    done = max(boxes, default=1) * (TICK + TICK_GAP) + 2.0
    places = columns(
        width, ("done", done, False), ("coat", 0.0, False), ("pots", 0.0, False),
        ("A by volume", 18.0, True), ("A by mass", 18.0, True), ("B by volume", 18.0, True), ("B by mass", 18.0, True),
    )  # fmt: skip
    rows: list[Block] = []
    for pot, ticks in zip(facts.pots, boxes, strict=True):
        said = f"{pot.pots} pots" if pot.pots > 1 else "1 pot"
        if pot.cups:
            said += f", each for {pot.cups}" if pot.pots > 1 else f" for {pot.cups}"
        parts = ((pot.a_ml, not pot.weigh), (pot.a_g, pot.weigh), (pot.b_ml, not pot.weigh), (pot.b_g, pot.weigh))
        amounts = [Cell(text, bold=bold, colour=INK if bold else FAINT) for text, bold in parts]
        rows += row(places, [Cell(), Cell(pot.coat, bold=True), Cell(said), *amounts], ticks=ticks)
    return section("Pots to mix", width, rows, places)


def _steps(facts: SheetFacts, width: float) -> Section:
    """Steps under their days; a page that begins within a day names it again."""
    places = columns(
        width, ("", TICK, False), ("from", 13.0, False), ("at the latest", 24.0, False), ("step", 0.0, False),
        ("hands", 18.0, True),
    )  # fmt: skip
    act = replace(places[3], left=places[3].left + _INDENT, width=places[3].width - _INDENT)
    within = (*places[:3], act, places[4])
    rows: list[Block] = []
    day, again = "", tuple[Block, ...]()
    for step in facts.steps:
        if step.day != day:
            day, again = step.day, _day(step.day, width)
            rows += again
        colour = FAINT if step.is_act else INK
        cells = [Cell(), Cell(step.time, colour=colour), Cell(step.until, colour=FAINT)]
        cells += [Cell(step.what, bold=not step.is_act), Cell(step.hands, colour=FAINT)]
        blocks = row(within if step.is_act else places, cells, ticks=1)
        rows += [replace(block, again=again) for block in blocks]
    return section("Steps", width, rows, places)


def _day(day: str, width: float) -> tuple[Block, ...]:
    """The name of a day, nothing where it has none."""
    named = row([Column(left=0.0, width=width)], [Cell(day, SIZE, bold=True, colour=FAINT)])
    return tuple(replace(block, keeps_next=True) for block in (Block(1.6, ()), *named)) if day else ()


def _care(facts: SheetFacts, width: float) -> Section:
    """From when it may be used, and what to mind."""
    rows: list[Block] = []
    if facts.in_service:
        said = f"In service from {facts.in_service}"
        rows += row([Column(left=0.0, width=width)], [Cell(said, _VALUE, bold=True)], rule=False)
    places = columns(width, ("", 1.5, False), ("", 0.0, False), gap=1.5)
    for text in facts.cautions:
        rows += row(places, [Cell("•", colour=FAINT), Cell(text)], rule=False)
    return section("Care", width, rows)


def _foot(facts: SheetFacts, room: Box, number_line: str) -> list[Item]:
    """A rule, the job and its proof mark at the left, the page's number at the right."""
    low = room.bottom - _FOOT
    beside = Text(text=number_line, at=complex(room.right, low + 0.6), size=_LABEL, anchor="end", colour=FAINT)
    said = plain(f"{facts.title} · proof {facts.mark}" if facts.mark else facts.title)
    first = wrapped(said, _LABEL, room.width - beside.width - 8 - text_width(" …", _LABEL))
    text = first[0] + " …" * (len(first) > 1)
    left = Text(text=text, at=complex(room.left, low + 0.6), size=_LABEL, colour=FAINT)
    return [line(low + 4.2, room.left, room.right, HAIR), left, beside]
