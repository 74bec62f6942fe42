"""The record of finished steps that is kept beside a job: text in, text out.

::

    ["comet night"]
    "flood 1" = 2026-03-02T14:20:00
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

from cupgeom.errors import CupgeomError
from cupgeom.records import Kind, Table, read, shown


def _moment(value: object) -> datetime:
    if isinstance(value, datetime) and value.tzinfo is None:
        return value
    raise CupgeomError("", f"must be {MOMENT.forms}, got {shown(value)}")


MOMENT = Kind(_moment, "a date and time without quotes such as 2026-03-02T14:20:00", datetime.min)


def read_done(text: str, name: str) -> dict[str, dict[str, datetime]]:
    """When which task of which lot was begun.

    Raises
    ------
    Faults
        With all that is wrong, each with its line and key.
    """

    def build(root: Table) -> dict[str, dict[str, datetime]]:
        return {lot: {task: part.take(task, MOMENT) for task in part.values} for lot, part in root.named().items()}

    return read(text, name, build)


def with_done(done: Mapping[str, Mapping[str, datetime]], lot: str, task: str, when: datetime) -> str:
    """The text of a record with one more task in it; one that stands there already is begun anew."""
    whole = {name: dict(tasks) for name, tasks in done.items()}
    whole.setdefault(lot, {})[task] = when
    parts = []
    for name, tasks in whole.items():
        lines = [f"{_quoted(one)} = {at.isoformat(timespec='seconds')}" for one, at in tasks.items()]
        parts.append("\n".join([f"[{_quoted(name)}]", *lines, ""]))
    return "\n".join(parts)


def _quoted(key: str) -> str:
    return json.dumps(key, ensure_ascii=False).replace("\x7f", "\\u007f")
