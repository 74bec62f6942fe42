"""What is wrong in a file: where it stands, and how it is said."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cupgeom.errors import CupgeomError


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong in a file: ``shop.toml:12: cups."tapered 20".rim: what is wrong, what would do``."""

    file: str
    line: int
    what: str
    key: str = ""
    column: int | None = None

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" + ("" if self.column is None else f":{self.column}")
        return f"{place}: {self.key}: {self.what}" if self.key else f"{place}: {self.what}"


class Faults(CupgeomError):  # noqa: N818  it is many, and each has its own line
    """Everything that is wrong in a file, a line each."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("", "\n".join(map(str, self.faults)))
        self.args = (self.faults,)


def nearest(name: str, names: Sequence[str] | Mapping[str, object]) -> str:
    """What to use in place of an unknown name: the nearest one that there is, else all of them."""
    from difflib import get_close_matches

    near = get_close_matches(name, list(names), 1)
    if near:
        return f"did you mean {key_text(near)}?"
    return f"use {', '.join(key_text([known]) for known in names)}" if names else "there are none"


def shown(value: object) -> str:
    """A value for a message, as it stands in the file, shortened."""
    if isinstance(value, (dict, list)):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return repr(value if len(value) <= 40 else f"{value[:37]}...")
    if isinstance(value, int) and abs(value) > sys.float_info.max:
        return "a number too large"
    return f"{value:.10g}" if isinstance(value, (int, float)) else str(value)


def key_text(path: Sequence[str | int]) -> str:
    """A key as it is written: ``cups."tapered 20".feet[0].width``."""
    parts = []
    for step in path:
        if isinstance(step, int):
            parts.append(f"[{step}]")
            continue
        short = step if len(step) <= 60 else f"{step[:57]}..."
        bare = re.fullmatch(r"[A-Za-z0-9_-]+", step) is not None and short == step
        parts += [".", short if bare else json.dumps(short, ensure_ascii=not short.isprintable())]
    return "".join(parts).removeprefix(".")
