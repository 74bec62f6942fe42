"""Orders in which pieces are placed: some that are known to be good, and the best of them changed step by step."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from cupgeom.drawing import Affine
from cupgeom.errors import CupgeomError, number
from cupgeom.sheets.boxes import FITS, packed
from cupgeom.sheets.filling import RULES, Fill, Rule, Step, Turned, columns_of, fill
from cupgeom.sheets.layout import Layout, Placement
from cupgeom.sheets.masks import Mask, Meetings, mask_of, pad_of
from cupgeom.sheets.piece import Part, SheetSize
from cupgeom.sheets.settling import faults, settled

RIGHT_ANGLES = (0.0, 90.0, 180.0, 270.0)
FINER_ANGLES = (*RIGHT_ANGLES, 45.0, 135.0, 225.0, 315.0)
_HOT, _COLD = 15.0, 0.3  # rows; see `Search.improved`


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """An order and what came of it."""

    steps: tuple[Step, ...]
    rule: Rule
    fill: Fill


class Search:
    """The parts of one job on a grid of one cell size.

    Raises
    ------
    CupgeomError
        Naming the piece and its size, when the medium cannot hold it.
    """

    def __init__(
        self, parts: Sequence[Part], size: SheetSize, cell: float, angles: Sequence[float] = RIGHT_ANGLES
    ) -> None:
        self.parts, self.size, self.cell, self.angles = tuple(parts), size, cell, angles
        self._shapes: dict[tuple[int, float], Any] = {}
        self.turns = self._turns()

    def _turns(self) -> list[list[Turned]]:
        """For each part the angles at which the room holds it, each look once."""
        room, pad, masks, turns = self.size.room, pad_of(self.size.gap), list[Mask](), list[list[Turned]]()
        seen: dict[Mask, int] = {}
        for index, part in enumerate(self.parts):
            choices: dict[int, Turned] = {}
            for angle in self.angles if part.may_rotate else self.angles[:1]:
                shape = self._shape(index, angle)
                width, height = sides(shape)
                free = room.width - width, room.height - height
                if min(free) < -1e-9:
                    continue
                mask = mask_of(shape, pad, self.cell)
                known = seen.setdefault(mask, len(masks))
                if known == len(masks):
                    masks.append(mask)
                if known not in choices:
                    columns, rows = (math.floor(max(side, 0.0) / self.cell + 1e-9) + 1 for side in free)
                    choices[known] = Turned(known, angle, columns, rows)
            if not choices:
                raise CupgeomError("media", _too_large(part, self.size))
            turns.append(list(choices.values()))
        stride = columns_of(room.width + 2 * pad, self.cell) + max(mask.columns for mask in masks) + 2
        self.meetings = Meetings(masks, stride)
        return turns

    def first_orders(self) -> Iterator[tuple[tuple[Step, ...], Rule]]:
        """The largest first, by several measures of large."""
        boxes = [sides(part.outline()) for part in self.parts]
        keys: list[Callable[[int], float]] = [
            lambda i: -self.parts[i].area(),
            lambda i: -boxes[i][0] * boxes[i][1],
            lambda i: -max(boxes[i]),
            lambda i: -min(boxes[i]),
            lambda i: -boxes[i][1],
            lambda i: -boxes[i][0],
        ]
        for key in keys:
            order = sorted(range(len(self.parts)), key=lambda i: (key(i), i))
            for rule in RULES:
                yield tuple(Step(i) for i in order for _ in range(self.parts[i].count)), rule

    def filled(self, steps: tuple[Step, ...], rule: Rule, limit: tuple[float, ...] | None = None) -> Candidate | None:
        """What comes of an order, or None when it passes a limit."""
        result = fill(self.meetings, self.turns, steps, rule, limit)
        return Candidate(steps=steps, rule=rule, fill=result) if result else None

    def improved(self, start: Candidate, tries: int, warmth: float, stopped: Callable[[], bool]) -> Candidate:
        """An order changed at random, a little each time, while what is worse is taken back more and more surely.

        Notes
        -----
        Simulated annealing: what is worse by d rows is kept with the chance exp(−d/T), T falling from `warmth` to
        `_COLD` rows in equal ratios (Kirkpatrick, Gelatt & Vecchi, Science 220, 1983; from memory).
        """
        dice = random.Random(tries)  # noqa: S311 - the same dice every time is what is wanted
        current = best = start
        for index in range(tries):
            if stopped():
                break
            steps, rule = self._changed(current, dice)
            tried = self.filled(steps, rule)
            assert tried is not None
            worse = worth(tried.fill) - worth(current.fill)
            if worse <= 0 or dice.random() < math.exp(-worse / (warmth * (_COLD / warmth) ** (index / tries))):
                current = tried
                if worth(current.fill) < worth(best.fill):
                    best = current
        return best

    def large_first(
        self, start: Candidate, large: Collection[int], tries: int, stopped: Callable[[], bool]
    ) -> Candidate:
        """An order whose large parts were improved on their own, the others filling what they leave."""
        alone = self.filled(tuple(step for step in start.steps if step.part in large), start.rule)
        assert alone is not None
        alone = self.improved(alone, tries, _HOT, stopped)
        steps = (*alone.steps, *(step for step in start.steps if step.part not in large))
        found = [candidate for candidate in (self.filled(steps, rule) for rule in RULES) if candidate]
        return min(found, key=lambda candidate: worth(candidate.fill))

    def _changed(self, candidate: Candidate, dice: random.Random) -> tuple[tuple[Step, ...], Rule]:
        steps, last = list(candidate.steps), len(candidate.steps) - 1
        rule = dice.choice(RULES) if dice.random() < 0.1 else candidate.rule
        kind = dice.random()
        if kind < 0.3:
            a, b = dice.randint(0, last), dice.randint(0, last)
            steps[a], steps[b] = steps[b], steps[a]
        elif kind < 0.6:
            steps.insert(dice.randint(0, last), steps.pop(dice.randint(0, last)))
        elif kind < 0.8:
            steps.insert(dice.randint(0, last), steps.pop(self._topmost(candidate.fill)))
        else:
            at = dice.randint(0, last)
            part = steps[at].part
            angles = [None, *(turned.angle_deg for turned in self.turns[part])]
            steps[at] = Step(part, dice.choice(angles))
        return tuple(steps), rule

    def _topmost(self, filled: Fill) -> int:
        """The piece that reaches farthest up the last sheet."""
        masks, spots = self.meetings.masks, filled.spots
        return max(range(len(spots)), key=lambda i: (spots[i].sheet, spots[i].row + masks[spots[i].turned.mask].rows))

    def boxed(self, orders: Iterable[tuple[Step, ...]]) -> Layout:
        """The pieces packed by their boxes, in the best of some orders, then as far as their true outlines let them."""
        boxes = [sides(part.outline()) for part in self.parts]
        found = []
        for steps, fit in itertools.product(orders, FITS):
            wanted = [boxes[step.part] for step in steps]
            turning = [self.parts[step.part].may_rotate for step in steps]
            places = packed(wanted, turning, self.size.room, self.size.gap, fit)
            last = max(place.sheet for place in places)
            reach = [
                place.corner.imag + (width if place.turned else height)
                for (width, height), place in zip(wanted, places, strict=True)
                if place.sheet == last
            ]
            found.append((last, max(reach), steps, places))
        _, _, steps, places = min(found, key=lambda one: one[:2])
        return self._settled(
            [
                (step.part, 90.0 if place.turned else 0.0, place.sheet, place.corner)
                for step, place in zip(steps, places, strict=True)
            ]
        )

    def layout(self, candidate: Candidate) -> Layout:
        """The pieces off the grid, moved as far as their true outlines let them."""
        room = self.size.room
        return self._settled(
            [
                (part, turned.angle_deg, sheet, complex(room.left + column * self.cell, room.bottom + row * self.cell))
                for part, turned, sheet, column, row in candidate.fill.spots
            ]
        )

    def _settled(self, corners: list[tuple[int, float, int, complex]]) -> Layout:
        """Pieces by part, angle, sheet and the bottom left corner of their box, moved down and left."""
        from shapely.affinity import translate

        placements: list[Placement] = []
        for sheet in range(max(corner[2] for corner in corners) + 1):
            here = [corner for corner in corners if corner[2] == sheet]
            turned = [self._shape(part, angle) for part, angle, _, _ in here]
            shifts = [at - complex(*shape.bounds[:2]) for (_, _, _, at), shape in zip(here, turned, strict=True)]
            shapes = [translate(shape, by.real, by.imag) for shape, by in zip(turned, shifts, strict=True)]
            moves = settled(shapes, self.size.room, self.size.gap)
            moved = [translate(shape, by.real, by.imag) for shape, by in zip(shapes, moves, strict=True)]
            wrong = faults(moved, self.size.room, self.size.gap)
            assert not wrong, f"sheet {sheet + 1}: {'; '.join(wrong)}"
            placements += [
                Placement(part=part, sheet=sheet, angle_deg=angle, at=shift + by)
                for (part, angle, _, _), shift, by in zip(here, shifts, moves, strict=True)
            ]
        return Layout(size=self.size, parts=self.parts, placements=tuple(placements))

    def _shape(self, part: int, angle_deg: float) -> Any:
        if (part, angle_deg) not in self._shapes:
            self._shapes[part, angle_deg] = self.parts[part].outline_at(Affine.rotation(angle_deg))
        return self._shapes[part, angle_deg]


def worth(filled: Fill) -> float:
    """Sheets, then rows used on the last, then a little for pieces that lie low everywhere; less is better."""
    sheets, top, total = filled.score
    return sheets * 1e6 + top + total / len(filled.spots) / 10


def sides(shape: Any) -> tuple[float, float]:
    """Width and height of a shapely shape."""
    left, bottom, right, top = shape.bounds
    return right - left, top - bottom


def _too_large(part: Part, size: SheetSize) -> str:
    (width, height), room = sides(part.outline()), size.room
    free = f"{number(round(room.width, 2))} mm" + (f" x {number(round(room.height, 2))} mm" if size.length else "")
    bleed = " with its bleed" if part.bleed else ""
    turned = "" if part.may_rotate else " and may not be turned"
    across = width + 2 * size.margin + size.left + size.right
    along = height + 2 * size.margin + size.foot + size.top
    narrow = min(across, height + 2 * size.margin + size.left + size.right) if part.may_rotate else across
    enough = f"{math.ceil(across)} x {math.ceil(along)} mm or a roll {math.ceil(narrow)} mm wide would do"
    return f"{size} has {free} free, but {part.name} is {width:.1f} x {height:.1f} mm{bleed}{turned}; {enough}"
