"""New text for a shop file: one entry added or replaced, everything else as it was, comments and order included."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from cupgeom.errors import CupgeomError
from cupgeom.records import header_lines, key_lines, key_text
from cupgeom.shelf.printers import correction_for, sized_paper
from cupgeom.shelf.readings import ring_pairs
from cupgeom.shelf.shelf import NAME, read_shelf

if TYPE_CHECKING:
    from tomlkit.items import Comment, Item, Key

    from cupgeom.cup import Cup
    from cupgeom.pages import Correction

Record = Mapping[str, object]
LONGEST_NAME = 100
_LONG = 60  # characters; a longer list goes over several lines


def with_cup(text: str, name: str, record: Record, *, replace: bool = False, source: str = NAME) -> str:
    """The text of a shop file with a cup in it.

    Parameters
    ----------
    text
        The file as it is; empty for a new one.
    name
        What the maker calls the cup.
    record
        Its keys and values as they shall stand in the file, lengths as typed or in mm.
    replace
        Replace the whole entry of this name.
    source
        Name of the file, for messages.

    Raises
    ------
    Faults
        When the file is damaged, or the record makes no cup.
    CupgeomError
        Naming ``name``, when there is an entry of this name and `replace` is not set.
    """
    shelf = read_shelf(text, source)
    _check_name("name", name)
    if name in [cup.name for cup in shelf.cups] and not replace:
        line = key_lines(text)["cups", name]
        raise CupgeomError("name", f"{source}:{line} has a cup {name!r}; give --force to replace it, or another name")
    read_shelf(_appended("", ("cups", name), record), "the new entry", thorough=True)
    return _changed(text, ("cups", name), record, source)


def with_printer(
    text: str,
    printer: str,
    paper: str,
    correction: Correction,
    *,
    made: date | None = None,
    replace: bool = False,
    source: str = NAME,
) -> str:
    """The text of a shop file with a printer's correction for one paper in it.

    Parameters
    ----------
    text
        The file as it is; empty for a new one.
    printer, paper
        What the maker calls the printer, and the paper, such as ``a4`` or ``13x19in``.
    correction
        In force from now on: the one that was in force times the one newly measured under it.
    made
        Date of the measurement.
    replace
        Replace the correction that is there.
    source
        Name of the file, for messages.

    Raises
    ------
    Faults
        When the file is damaged.
    CupgeomError
        Naming ``printer`` or ``paper``; when there is a correction and `replace` is not set.
    """
    shelf = read_shelf(text, source)
    _check_name("printer", printer)
    size = sized_paper(paper)
    found = correction_for(shelf.corrections, printer, size)
    if found is not None and not replace:
        raise CupgeomError(
            "printer", f"{source} has {printer!r} corrected for {paper}; give --force to replace that, or another name"
        )
    record: dict[str, object] = {"across": correction.across, "along": correction.along}
    if made is not None:
        record["date"] = made
    if found is not None and found.notes:
        record["notes"] = found.notes
    key = paper.strip() if found is None else found.key
    return _changed(text, ("printers", printer, key), record, source)


def cup_record(cup: Cup) -> dict[str, object]:
    """The keys and values of a shop file that read back as this cup."""
    rings = ring_pairs(cup.rings)
    record: dict[str, object] = {"rings": rings}
    if len(rings) == 2 and rings[1][1] == 0 and rings[0][0] and rings[1][0]:
        record = {"rim": rings[0][0], "base": rings[1][0], "height": rings[0][1]}
    if cup.handle is not None:
        record["feet"] = [{"width": foot.width, "from": foot.top, "to": foot.bottom} for foot in cup.handle.feet]
        record["clearance"] = cup.handle.clearance
        if cup.handle.removable:
            record["handle_comes_off"] = True
    if cup.bare_lip:
        record["bare_lip"] = cup.bare_lip
    if cup.coated is not None:
        record |= {"coated_from": cup.coated.top, "coated_to": cup.coated.bottom}
    if cup.base_coated:
        record["base_coated"] = True
    return record


def _check_name(where: str, name: str) -> None:
    """Raise unless a name can be a key that a person can type again."""
    if not name or name != name.strip() or not name.isprintable():
        raise CupgeomError(where, f"must be a name of printable characters with none empty around it, got {name!r}")
    if len(name) > LONGEST_NAME:
        raise CupgeomError(where, f"must be at most {LONGEST_NAME} characters long, got {len(name)}")


def _changed(text: str, path: tuple[str, ...], record: Record, source: str) -> str:
    """The text with a record at a path, by the first way that changes nothing else.

    An entry is added at the end of the file, where no comment can come to stand over the wrong table. One that is
    there, or whose parent is written in braces, is changed in place. What tomlkit cannot change in place, such as a cup
    whose keys are dotted and strewn about, is moved to the end.
    """
    plain = text.replace("\r\n", "\n")
    wanted = tomllib.loads(plain)
    inner = wanted
    for name in path[:-1]:
        inner = inner.setdefault(name, {})
    inner[path[-1]] = tomllib.loads(_appended("", ("new",), record))["new"]
    for way in (_appended, _in_place, _moved):
        changed = way(plain, path, record)
        if _same(changed, wanted):
            return changed.replace("\n", "\r\n") if "\r\n" in text else changed
    raise CupgeomError("", f"{source} is laid out so that {key_text(path)} cannot be changed alone; edit it by hand")


def _same(text: str, wanted: Record) -> bool:
    """Whether a text says what is wanted, to the kind of each number."""
    try:
        said = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return json.dumps(said, sort_keys=True, default=repr) == json.dumps(wanted, sort_keys=True, default=repr)


def _appended(text: str, path: tuple[str, ...], record: Record) -> str:
    """The text with a new table at its end."""
    import tomlkit

    lines = [f"[{tomlkit.key(path).as_string()}]"]
    lines += [f"{tomlkit.key(key).as_string()} = {_item(value).as_string()}" for key, value in record.items()]
    end = "" if not text or text.endswith("\n") else "\n"
    gap = "\n" if text.strip() and not text.endswith("\n\n") else ""
    return text + end + gap + "\n".join([*lines, ""])


def _in_place(text: str, path: tuple[str, ...], record: Record) -> str:
    """The text with a record at a path where its parent stands; empty when its layout is beyond tomlkit.

    Only the run of tables that holds the entry goes through tomlkit, so that all else stays to the letter.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError
    from tomlkit.items import InlineTable

    before, held, after = _around(text, path)
    try:
        document = tomlkit.parse(held)
        inner: Any = document
        for name in path[:-1]:
            inner = inner.setdefault(name, tomlkit.inline_table())
        if path[-1] not in inner or isinstance(inner[path[-1]], InlineTable):
            inner[path[-1]] = _item(record)
        else:
            _update(inner[path[-1]], record)
        return before + tomlkit.dumps(document) + after
    except (TOMLKitError, LookupError):
        return ""


def _around(text: str, path: tuple[str, ...]) -> tuple[str, str, str]:
    """The text before, in and after the tables that hold all there is of an entry, or of the nearest of its parents."""
    known = key_lines(text)
    while path and path not in known:
        path = path[:-1]
    lines = [line for key, line in known.items() if key[: len(path)] == path]
    headers, rows = header_lines(text), text.split("\n")
    first = max((line for line in headers if line <= min(lines)), default=1)
    last = min((line for line in headers if line > max(lines)), default=len(rows) + 1)
    parts = rows[: first - 1], rows[first - 1 : last - 1], rows[last - 1 :]
    before, held, after = ("".join(f"{row}\n" for row in part) for part in parts)
    return (before, held, after[:-1]) if after else (before, held[:-1], "")


def _moved(text: str, path: tuple[str, ...], record: Record) -> str:
    """The text with a record at its end, in place of the one that was at the path."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        inner: Any = document
        for name in path[:-1]:
            inner = inner[name]
        del inner[path[-1]]
        return _appended(tomlkit.dumps(document), path, record)
    except (TOMLKitError, LookupError):
        return ""


def _update(table: Any, record: Record) -> None:
    """Make a table say what the record says; its comments stay, and new keys come after the last one."""
    from tomlkit.items import AoT, Table

    body = table.value.body if isinstance(table, Table) else []
    behind: list[tuple[Key | None, Item]] = []  # space and comments after the last key, which belong to what follows
    while body and body[-1][0] is None:
        behind.insert(0, body.pop())
    for key in list(table):
        if isinstance(table[key], (AoT, Table)):
            lines = map(str.strip, table[key].as_string().splitlines())
            behind += [(None, _comment(line)) for line in lines if line.startswith("#")]
            del table[key]
        elif key not in record:
            del table[key]
    for key, value in record.items():
        table[key] = _item(value)
    body += behind


def _comment(line: str) -> Comment:
    import tomlkit

    comment = tomlkit.comment("")
    comment.trivia.comment = line
    return comment


def _item(value: object, *, inner: bool = False) -> Item:
    """A value as tomlkit writes it: whole numbers without a point, a long list with a line for each of its items."""
    import tomlkit

    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        for key, one in value.items():
            table.append(key, _item(one, inner=True))
        return table
    if isinstance(value, (list, tuple)):
        array = tomlkit.array()
        for one in value:
            array.append(_item(one, inner=True))
        return array.multiline(not inner and len(array.as_string()) > _LONG)
    if isinstance(value, float):
        return tomlkit.item(int(value) if value.is_integer() else float(value))
    return tomlkit.item(value)
