"""Decals as pieces for sheets: what is printed and cut of each, set upright, as often as it is wanted."""

from __future__ import annotations

import math
from dataclasses import replace

from cupgeom.decor.decal import Decal
from cupgeom.drawing import Affine
from cupgeom.errors import CupgeomError
from cupgeom.flatten import sheet_turn_rad
from cupgeom.sheets.piece import Part


def parts_of(decal: Decal, name: str, cups: int = 1, *, label: str = "") -> tuple[Part, ...]:
    """The pieces of a decal, one a wall, each as often as all cups and the medium's spares ask.

    Parameters
    ----------
    decal
        On its cup; as often as it stands round the cup.
    name
        What messages call it.
    cups
        How many cups get it.
    label
        What stands beside each piece; the name unless said otherwise.

    Raises
    ------
    CupgeomError
        Naming ``cups``, or ``medium`` where there is nothing to print or cut.
    """
    if type(cups) is not int or cups < 1:
        raise CupgeomError("cups", f"must be a whole number from 1, got {cups!r}")
    if decal.medium.process == "ready-made":
        raise CupgeomError("medium", f"{decal.medium.name} comes ready-made; there is nothing to print or cut")
    pieces, parts = decal.pieces, []
    for order, piece in enumerate(pieces, start=1):
        placement = piece.placement
        upright = Affine.rotation(-math.degrees(sheet_turn_rad(placement.wall, placement.turn_rad)))
        finished = decal.finished(piece).transformed(upright)
        home = Affine.move(-finished.bounds().centre)
        cut = decal.cut(piece).transformed(home @ upright)
        part = f" {order}" if len(pieces) > 1 else ""
        parts.append(
            Part(
                name=f"{name}{part}",
                cut=cut,
                drawing=finished.transformed(home),
                count=cups * decal.repeat + decal.medium.spares,
                label=f"{label or name}{part}",
            )
        )
    return tuple(parts)


def fitting(decal: Decal, widest: float, least: float) -> Decal:
    """The decal made narrower until it is no wider than asked, down to a share of its size.

    Raises
    ------
    CupgeomError
        Naming ``width``, when it would have to be smaller than that.
    """
    share = widest / decal.reach.width
    if share >= 1:
        return decal
    if share < least:
        raise CupgeomError(
            "width",
            f"{decal.design.name!r} is {decal.reach.width:.1f} mm wide; it would have to shrink to {share:.0%},"
            f" less than the {least:.0%} allowed; shorten it, or allow a smaller share",
        )
    return replace(decal, design=decal.design.scaled_to(decal.design.width * share))
