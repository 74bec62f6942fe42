"""The maker's decal media, as they stand in the shop file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cupgeom.records import FLAG, LENGTH, NUMBER, TEXT, WHOLE, Table, choice, row

if TYPE_CHECKING:
    from cupgeom.decor.medium import Medium

_LENGTHS = ("thickness", "cut_margin", "least_stroke", "least_gap")
_FLAGS = ("clear", "mirrored", "white", "sealing")
_LARGEST = row(LENGTH, 2, "a width and a height such as [190, 277]")


def parse_medium(name: str, table: Table) -> Medium | None:
    """One medium: `process` must be there, all else has a default."""
    from cupgeom.decor.medium import PROCESSES, SEAMS, Medium

    process = table.take("process", choice(*PROCESSES))
    given: dict[str, Any] = {key: table.maybe(key, LENGTH) for key in _LENGTHS}
    given |= {key: table.maybe(key, FLAG) for key in _FLAGS}
    given["stretch_limit"] = table.maybe("stretch_limit", NUMBER)
    given["seam"] = table.maybe("seam", choice(*SEAMS))
    given["largest"] = table.maybe("largest", _LARGEST)
    given["spares"] = table.maybe("spares", WHOLE)
    table.take("notes", TEXT, "")
    chosen = {key: value for key, value in given.items() if value is not None}
    return table.make(lambda: Medium(name=name, process=process, **chosen))
