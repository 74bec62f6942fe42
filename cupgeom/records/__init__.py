"""Text in TOML to checked values: every fault with its file, line and key, and all of them at once.

A file is read through `read`, which hands its root `Table` to a function that takes the keys one by one::

    def cup(table: Table) -> Cup | None:
        rim, base, height = (table.take(key, LENGTH) for key in ("rim", "base", "height"))
        return table.make(lambda: Cup.frustum(rim, base, height), {"rim_diameter": "rim", "base_diameter": "base"})

    read(text, "cup.toml", cup)

A key that is missing or wrong is noted, and a placeholder of its type stands in for it; `Table.make` builds nothing
from a table in which something was noted. Keys that nobody took are unknown. At the end `read` raises all of it.
"""

from cupgeom.records.faults import Fault, Faults, key_text, nearest, shown
from cupgeom.records.kinds import (
    DATE,
    FLAG,
    LENGTH,
    NUMBER,
    TEXT,
    TURN,
    WHOLE,
    Kind,
    above_zero,
    choice,
    from_zero,
    row,
)
from cupgeom.records.lines import header_lines, key_lines
from cupgeom.records.table import Table, read

__all__ = [
    "DATE",
    "FLAG",
    "LENGTH",
    "NUMBER",
    "TEXT",
    "TURN",
    "WHOLE",
    "Fault",
    "Faults",
    "Kind",
    "Table",
    "above_zero",
    "choice",
    "from_zero",
    "header_lines",
    "key_lines",
    "key_text",
    "nearest",
    "read",
    "row",
    "shown",
]
