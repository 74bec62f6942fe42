"""Mistakes of the craft in an order of work: each says where, why and what mends it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cupgeom.errors import Notice, number
from cupgeom.plan.drying import Drying
from cupgeom.plan.step import COATS, RESIN, Step, names

if TYPE_CHECKING:
    from cupgeom.coating.resin import Resin

BURY = 2  # coats over a decal; common practice, no source


@dataclass(frozen=True, slots=True)
class _Work:
    """The steps with their names, and what dries how fast."""

    steps: tuple[Step, ...]
    names: tuple[str, ...]
    resin: Resin
    drying: Drying

    def coats_before(self, index: int, kinds: Sequence[str] = COATS) -> list[int]:
        return [place for place in range(index) if self.steps[place].do in kinds]

    def coats_after(self, index: int) -> int:
        return sum(step.do in COATS for step in self.steps[index + 1 :])


def findings(steps: Sequence[Step], resin: Resin, drying: Drying | None = None) -> tuple[Notice, ...]:
    """What is wrong with an order of work in the eyes of the craft, in the order of the steps."""
    work = _Work(tuple(steps), names(steps), resin, drying or Drying())
    found = [notice for check in CHECKS for notice in check(work)]
    order = {name: place for place, name in enumerate(work.names)}
    return tuple(sorted(found, key=lambda notice: order.get(notice.where, len(order))))


def _recoat_window_missed(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        later = [place for place in range(index + 1, len(work.steps)) if work.steps[place].do in ("sand", *RESIN)]
        if step.do not in RESIN or not later or work.steps[later[0]].do == "sand":
            continue
        waited = sum(part.wait_min or 0 for part in work.steps[index : later[0]])
        if waited > work.resin.recoat_until_min:
            yield Notice(
                work.names[later[0]],
                f"goes on {number(waited / 60)} h after {work.names[index]}, whose recoat window ends at "
                f"{number(work.resin.recoat_until_min / 60)} h: it would not bond",
                "sand first, or wait less",
            )


def _sanded_too_early(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        coats = work.coats_before(index, RESIN)
        if step.do != "sand" or not coats:
            continue
        waits = [part.wait_min for part in work.steps[coats[-1] : index]]
        waited = sum(wait or 0 for wait in waits)
        if any(wait is not None for wait in waits) and waited < work.resin.sandable_from_min:
            yield Notice(
                work.names[index],
                f"comes {number(waited / 60)} h after {work.names[coats[-1]]}, which is hard through only after "
                f"{number(work.resin.sandable_from_min / 60)} h: it smears, and part-cured dust sensitises",
                "wait longer",
            )


def _unsealed(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        for piece in step.pieces:
            if piece.medium.sealing and not step.seal:
                yield Notice(
                    work.names[index],
                    f"{piece.name} on {piece.medium.name} is not sealed: its ink runs in water and in resin",
                    "seal it with about 3 thin clear spray layers first",
                )


def _barely_buried(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        over = work.coats_after(index)
        if step.do == "decal" and over < BURY:
            coats = f"{over} coat" + ("" if over == 1 else "s")
            yield Notice(
                work.names[index],
                f"lies under {coats}; it takes {BURY} to bury its edges",
                "add a clear coat after it" if over else f"add {BURY} clear coats after it",
            )


def _edge_not_sanded(work: _Work) -> Iterator[Notice]:
    coats = [index for index, step in enumerate(work.steps) if step.do in COATS]
    if len(coats) < 2:
        return
    sanded = any(step.do == "sand" and step.edge for step in work.steps[coats[0] : coats[-1]])
    if not sanded:
        yield Notice(
            work.names[coats[-1]],
            "is the last coat, and the top edge of the wall was not sanded to metal: it would end on the drinking edge",
            'put { do = "sand", edge = true } before the last coats',
        )


def _tape_at_gel(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        if step.do in RESIN and step.pull_min is not None and step.pull_min >= work.resin.gel_min:
            yield Notice(
                work.names[index],
                f"its tape comes off after {number(step.pull_min)} min, but the resin gels at "
                f"{number(work.resin.gel_min)} min: the tape stays in it, or tears its edge",
                "pull it before gel",
            )


def _loose_glitter(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        rest = work.steps[index + 1 :]
        if step.do == "tack" and not step.brush and any(part.do in COATS for part in rest):
            coat = next(place for place in range(index + 1, len(work.steps)) if work.steps[place].do in COATS)
            yield Notice(
                work.names[coat],
                f"goes over the loose glitter of {work.names[index]}: it floats, and the coat turns rough",
                "brush it off first",
            )


def _spray_wet(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps[:-1]):
        if step.do == "paint" and step.wait_min is not None and step.wait_min < work.drying.paint_min:
            yield Notice(
                work.names[index + 1],
                f"comes {number(step.wait_min)} min after {work.names[index]}, which dries "
                f"{work.drying.paint_min} min: solvent shut in makes it wrinkle",
                "wait longer; follow the can",
            )


def _clear_on_dark(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        ground = [part for part in work.steps[:index] if part.colour is not None]
        for piece in step.pieces:
            if ground and ground[-1].dark and piece.medium.clear and not piece.medium.white:
                yield Notice(
                    work.names[index],
                    f"{piece.name} on {piece.medium.name} is clear and has no white under it: on dark it can't be seen",
                    "use a white film, or print a white underlay",
                )


def _other_film(work: _Work) -> Iterator[Notice]:
    for index, step in enumerate(work.steps):
        under = len(work.coats_before(index))
        for piece in step.pieces:
            if piece.after_coat is not None and piece.after_coat != under:
                yield Notice(
                    work.names[index],
                    f"{piece.name} is sized for the cup after coat {piece.after_coat}, but lies on coat {under}",
                    "make it again for the cup as it is there",
                )


CHECKS: tuple[Callable[[_Work], Iterator[Notice]], ...] = (
    _recoat_window_missed,
    _sanded_too_early,
    _unsealed,
    _barely_buried,
    _edge_not_sanded,
    _tape_at_gel,
    _loose_glitter,
    _spray_wet,
    _clear_on_dark,
    _other_film,
)
