"""The mixing page for the wall: what goes into each pot in digits to be read from 2 m, and boxes to tick."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cupgeom.coating.cautions import CAUTIONS
from cupgeom.coating.estimate import Batch, Estimate, Row
from cupgeom.coating.report import amounts, clock, turning
from cupgeom.drawing import Box, Drawing, Item, Shape, Stroke, Text, polyline
from cupgeom.drawing.vera import CAP_HEIGHT, text_width
from cupgeom.errors import CupgeomError, number
from cupgeom.pages import Document, Frame, Page, Paper

READING_DISTANCE = 2000.0  # mm
_ARC_MINUTES = (16.0, 20.0)  # least and good height of letters: US NRC NUREG-0700 rev. 2, 1.3.1-4
_ROW = (25.0, 30.0)  # mm, least and most height of a row
_HEAD = 12.0
_LABEL, _AMOUNT_A, _AMOUNT_B, _TICKS = 0.0, 43.0, 107.0, 170.0  # mm from the left, columns
_AMOUNT_WIDTH = 62.0
_LETTER, _UNIT, _SMALL = 7.0, 5.0, 3.0
_TICK, _TICK_STEP, _MOST_TICKS = 5.0, 7.0, 9  # mm of a box, from box to box; boxes in a row's place
_LINE, _THIN = Stroke(width=0.35), Stroke(width=0.15)


@dataclass(frozen=True, slots=True)
class _Pots:
    row: Row
    batch: Batch


def mix_page(estimate: Estimate, paper: Paper, *, margin: float = 5.0) -> Document:
    """The mixing page: one page where the coats fit on it, else as many as they need.

    Raises
    ------
    CupgeomError
        Naming ``paper``, when it has no fixed size or is too small for digits that can be read from 2 m.
    """
    if paper.width is None or paper.length is None:
        raise CupgeomError("paper", "must be a sheet such as a4 for the wall, not a roll or made to fit")
    frame = Frame(title=_title(estimate), lines=_small_print(estimate), margin=margin)
    room = frame.content(paper.width, paper.length)
    pots = [_Pots(row, batch) for row in estimate.rows for batch in row.batches]
    a_page = math.floor((room.height - _HEAD) / _ROW[0])
    if room.width < _TICKS + 3 * _TICK_STEP or a_page < 1:
        what = f"{paper.name} is too small for digits that are read from 2 m; use a4 or letter, or larger"
        raise CupgeomError("paper", what)
    parts = [pots[start : start + a_page] for start in range(0, len(pots), a_page)]
    pages = []
    for index, part in enumerate(parts, start=1):
        line = f"page {index} of {len(parts)}" if len(parts) > 1 else ""
        drawing = _rows(part, room) + frame.notes_on(paper.width, paper.length, number_line=line)
        name = str(index) if len(parts) > 1 else ""
        pages.append(Page(width=paper.width, height=paper.length, drawing=drawing, name=name))
    return Document(title=frame.title, pages=tuple(pages))


def digit_size(arc_minutes: float) -> float:
    """Size of text whose digits are so high [arc minutes] from the reading distance [mm]."""
    return READING_DISTANCE * math.tan(math.radians(arc_minutes / 60)) / CAP_HEIGHT


def _rows(pots: list[_Pots], room: Box) -> Drawing:
    height = min((room.height - _HEAD) / len(pots), _ROW[1])
    top = complex(room.left, room.top - _HEAD)
    items: list[Item] = [
        Text(text=head, at=top + place + 3j, size=_LETTER, bold=True)
        for head, place in (("coat", _LABEL), ("A", _AMOUNT_A), ("B", _AMOUNT_B), ("done", _TICKS))
    ]
    for index, one in enumerate(pots):
        corner = top - 1j * index * height
        rule = polyline([corner, corner + room.width])
        items.append(Shape(path=rule, role="note", stroke=_LINE, name="row"))
        items += _labels(one, corner) + _amounts(one.batch, corner, height) + _boxes(one.batch, corner)
    last = top - 1j * len(pots) * height
    items.append(Shape(path=polyline([last, last + room.width]), role="note", stroke=_LINE, name="row"))
    return Drawing(tuple(items))


def _labels(one: _Pots, corner: complex) -> list[Item]:
    row, batch = one.row, one.batch
    cups = f"{number(round(batch.cups, 2))} cup{'s' * (batch.cups > 1)}"
    pots = f"{batch.times} pots, each for" if batch.times > 1 else "one pot for"
    lines = (
        f"{pots} {cups}",
        f"turn: {turning(row)}",
        f"next: {clock(row.next_from_min)} to {clock(row.next_until_min)}",
        f"sand: from {clock(row.sandable_min)}",
        *([f"colours: {row.coat.small_cups} × {row.small_cup_ml:.1f} mL a cup"] if row.small_cup_ml else []),
    )
    items: list[Item] = [Text(text=row.label, at=corner + _LABEL - 6.5j, size=5.0, bold=True)]
    return items + [
        Text(text=line, at=corner + _LABEL - (10.7 + 3.5 * place) * 1j, size=_SMALL) for place, line in enumerate(lines)
    ]


def _amounts(batch: Batch, corner: complex, height: float) -> list[Item]:
    items: list[Item] = []
    least, good = map(digit_size, _ARC_MINUTES)
    mix = batch.mix
    others = (f"= {mix.a_ml:.4g} mL", f"= {mix.b_ml:.4g} mL") if mix.weigh else (f"= {mix.a_g} g", f"= {mix.b_g} g")
    for place, amount, other in zip((_AMOUNT_A, _AMOUNT_B), amounts(mix), others, strict=True):
        digits, unit = amount.split(" ")
        room = _AMOUNT_WIDTH - 1 - text_width(unit, _UNIT) - 1
        size = min(good, good * room / text_width(digits, good, bold=True))
        if size < least:
            raise CupgeomError("paper", f"{amount} is too long to be read from 2 m; mix smaller pots")
        at = corner + place - 1j * (height / 2 + CAP_HEIGHT * good / 2 - 2)
        text = Text(text=digits, at=at, size=size, bold=True)
        items += [text, Text(text=unit, at=at + text.width + 1, size=_UNIT), Text(text=other, at=at - 5j, size=_SMALL)]
    return items


def _boxes(batch: Batch, corner: complex) -> list[Item]:
    """A box for each pot; for more than fit one box and their number."""
    count = batch.times if batch.times <= _MOST_TICKS else 1
    items: list[Item] = []
    for index in range(count):
        down, along = divmod(index, 3)
        low = corner + complex(_TICKS + along * _TICK_STEP, -2 - _TICK - down * _TICK_STEP)
        box = Box(low.real, low.imag, low.real + _TICK, low.imag + _TICK)
        items.append(Shape(path=box.outline(), role="note", stroke=_LINE, name="box to tick"))
    if batch.times > _MOST_TICKS:
        at = corner + complex(_TICKS, -2 - _TICK - _TICK_STEP)
        items.append(Text(text=f"× {batch.times}", at=at, size=_UNIT))
    return items


def _title(estimate: Estimate) -> str:
    name = f"{estimate.cup.name}: " if estimate.cup.name else ""
    return f"{name}what to mix · {estimate.resin.name}"


def _small_print(estimate: Estimate) -> tuple[str, ...]:
    bench, (ratio_a, ratio_b) = estimate.bench, estimate.resin.ratio
    setting = (
        f"ratio {number(ratio_a)}:{number(ratio_b)} by volume, {100 * estimate.resin.ratio_by_mass:.1f}:100 by mass;"
        f" {bench.cups} cup{'s' * (bench.cups > 1)}, rack {number(bench.speed_rpm)} rpm, room {number(bench.room_c)} °C"
        f"; in service from {clock(estimate.resin.in_room(bench.room_c).in_service_from_min)}"
    )
    doubts = [f"{notice.where}: {notice.what}" for notice in estimate.notices if "drip" in notice.what]
    return (setting, *doubts, *CAUTIONS)
