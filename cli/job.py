"""`cupgeom job`."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import shop, store
from .jobfile import JobFile, job_file, job_options
from .options import Command, tell

if TYPE_CHECKING:
    from cupgeom.pages import Correction
    from cupgeom.records import Fault
    from cupgeom.workshop import File, Made, Output

MANIFEST = "manifest.json"
STARTER = "job.toml"
EXAMPLES = """\b
Examples:
  cupgeom job --new comet
  cupgeom job comet.toml --check
  cupgeom job comet.toml -o out"""
Kept = dict[str, dict[str, Any]]  # outputs by name: their key, and their files with a hash of what each holds


@click.command(name="job", cls=Command, epilog=EXAMPLES)
@click.argument("job", required=False, type=click.Path(path_type=Path), metavar="FILE")
@click.option("--check", is_flag=True, help="Only read: say all that is wrong and what the craft finds.")
@click.option("--new", type=click.Path(path_type=Path), metavar="DIR", help="Write a job file to begin with there.")
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Folder for everything; only what has changed is made again.",
)
@click.option("--force", is_flag=True, help="Replace files in the folder that are not of this job.")
@job_options
def command(**given: Any) -> None:
    """Everything for one order: templates, decals, plan, cost, proof, sheet."""
    path: Path | None = given["job"]
    if given["new"] is not None:
        if path is not None or given["check"] or given["output"] is not None:
            raise CupgeomError("--new", "stands alone; leave out the rest")
        _begin(given["new"])
        return
    if path is None:
        raise CupgeomError("FILE", "is missing; give a job file, or --new DIR to begin one")
    if given["check"] == (given["output"] is not None):
        raise CupgeomError("-o", "give -o DIR to make everything, or --check to only read")
    from cupgeom.workshop import made

    file = job_file(path, given)
    one = made(file.job, file.read)
    if given["check"]:
        _check(file, one)
        return
    folder: Path = given["output"]
    _check_apart(folder, file, given)
    _make(folder, one, _correction(file, one, given), force=given["force"])


def _begin(folder: Path) -> None:
    from cupgeom.job import starter

    path = folder / STARTER
    if folder.exists() and not folder.is_dir():
        raise CupgeomError("--new", f"{folder} is no folder; give another name")
    if not folder.exists() and not folder.parent.is_dir():
        raise CupgeomError("--new", f"the folder {folder.parent} does not exist; make it first")
    if path.exists():
        raise CupgeomError("--new", f"{path} exists; give another folder")
    folder.mkdir(exist_ok=True)
    store.write_all({path: starter().encode()})
    click.echo(f"wrote {path}; put the art and the font that it names beside it")


def _check(file: JobFile, one: Made) -> None:
    """Say all that is wrong beyond the file itself, else what there is to note."""
    from cupgeom.records import Faults

    faults = list(_faults(file, one))
    if faults:
        raise Faults(faults)
    tell(one.notices)
    count = len(one.notices)
    click.echo(f"{file.path}: nothing is wrong; {count} note{'' if count == 1 else 's'}")


def _faults(file: JobFile, one: Made) -> Iterator[Fault]:
    """What the art, the fonts, the cup and the order of work refuse, each at its line."""
    from cupgeom.records import Fault, key_lines

    lines = key_lines(store.text_of(file.path))

    def fault(error: CupgeomError, *key: str) -> Fault:
        line = next((lines[key[:end]] for end in range(len(key), 0, -1) if key[:end] in lines), 1)
        return Fault(
            file=str(file.path), line=line, what=str(error).removeprefix(f"{'.'.join(key)}."), key=".".join(key)
        )

    try:
        cup = one.cup
    except CupgeomError as error:
        yield fault(error, "cup")
        return
    for decal in file.job.decals:
        try:
            one.decal(decal)
        except CupgeomError as error:
            yield fault(error, "decals", decal.name)
    for key, part in (("steps", lambda: one.plan), ("steps", lambda: one.resin), ("paper", lambda: one.paper)):
        try:
            part()
        except CupgeomError as error:
            yield fault(error, key)
    if file.job.orders is not None:
        try:
            file.read(file.job.orders)
        except CupgeomError as error:
            yield fault(error, "orders")
    if cup.coated_area <= 0:
        yield fault(CupgeomError("coated", "leaves nothing to coat"), "cup")


def _check_apart(folder: Path, file: JobFile, given: Mapping[str, Any]) -> None:
    """Refuse a folder in which something lies that the job is read from."""
    if folder.exists() and not folder.is_dir():
        raise CupgeomError("-o", f"{folder} is no folder; give another name")
    if not folder.exists() and not folder.parent.is_dir():
        raise CupgeomError("-o", f"the folder {folder.parent} does not exist; make it first")
    home = Path(given["shop"]) if given["shop"] else file.path.parent / shop.FILE
    inputs = [file.path, home, *(file.path.parent / name for name in file.job.files)]
    place = folder.resolve()
    for path in inputs:
        if path.exists() and path.resolve().is_relative_to(place):
            what = f"{folder} holds {path.name}, which the job is read from; give a folder of its own"
            raise CupgeomError("-o", f"{what}, such as {folder / 'out'}")


def _correction(file: JobFile, one: Made, given: Mapping[str, Any]) -> Correction:
    """What the job's printer gets wrong on its paper, as the shop file knows it."""
    from cupgeom.pages import Correction

    name = file.job.printer
    if name is None:
        return Correction()
    home = given["shop"] or str(file.path.parent / shop.FILE)
    try:
        return shop.shelf({"shop": home}).printer(name, one.paper.name)
    except CupgeomError as error:
        if error.where not in {"printer", "paper"}:
            raise
        raise CupgeomError(f"{file.path}: {error.where}", error.what) from None


def _make(folder: Path, one: Made, correction: Correction, *, force: bool) -> None:
    """Make what has changed, and put it into the folder when all of it is there."""
    from cupgeom.workshop import outputs

    before = _manifest(folder)
    after: Kept = {}
    contents: dict[str, bytes] = {}
    made = [_Work(folder, output) for output in outputs(one, correction)]
    stale = [work for work in made if not work.is_fresh(before)]
    mine = {name for entry in before.values() for name in entry["files"]}
    _check_free(folder, [work.output.name for work in stale if work.output.name not in mine], force=force)
    for count, work in enumerate(stale, start=1):
        click.echo(f"{count} of {len(stale)}: {work.output.name}", err=True)
        work.make()
    for work in made:
        after[work.output.name] = work.entry(before)
        contents |= work.contents
    _check_free(folder, [name for name in contents if name not in mine], force=force)
    if after != before:
        contents[MANIFEST] = (json.dumps({"job": one.job.name, "outputs": after}, indent=1) + "\n").encode()
    was_there = folder.is_dir()
    folder.mkdir(exist_ok=True)
    try:
        store.write_all({folder / name: content for name, content in contents.items()})
    except OSError:
        if not was_there:
            with suppress(OSError):
                folder.rmdir()
        raise
    _clear(folder, before, after)
    tell(one.notices)
    again = f"{len(stale)} of {len(made)} made again" if before else f"{len(made)} made"
    click.echo(f"{folder}: {again}, proof {one.mark}")


class _Work:
    """An output on its way into the folder."""

    def __init__(self, folder: Path, output: Output) -> None:
        self.folder, self.output = folder, output
        self.contents: dict[str, bytes] = {}

    def is_fresh(self, before: Kept) -> bool:
        """Whether its files are there as they were made from the same inputs."""
        entry = before.get(self.output.name)
        if entry is None or entry["key"] != self.output.key:
            return False
        return all(_hash_of(self.folder / name) == known for name, known in entry["files"].items())

    def make(self) -> None:
        """The bytes of its files."""
        self.contents = {file.name: _bytes(file) for file in self.output.make()}

    def entry(self, before: Kept) -> dict[str, Any]:
        """Its line in the manifest."""
        if not self.contents:
            return before[self.output.name]
        files = {name: hashlib.sha256(content).hexdigest() for name, content in self.contents.items()}
        return {"key": self.output.key, "files": files}


def _bytes(file: File) -> bytes:
    if file.kind == "text":
        return f"{file.value}\n".encode()
    if file.kind == "json":
        return (json.dumps(file.value, indent=2, allow_nan=False) + "\n").encode()
    content: bytes = import_module(f"cupgeom.writers.{file.kind}").render(file.value)
    return content


def _manifest(folder: Path) -> Kept:
    """What was made last time; nothing where the folder is new.

    Raises
    ------
    CupgeomError
        When the manifest is there but is not ours.
    """
    path = folder / MANIFEST
    if not path.exists():
        return {}
    try:
        outputs = json.loads(store.text_of(path))["outputs"]
        known: Kept = {
            str(name): {
                "key": str(entry["key"]),
                "files": {str(one): str(known) for one, known in entry["files"].items()},
            }
            for name, entry in outputs.items()
        }
    except (ValueError, KeyError, TypeError, AttributeError):
        known = {}
    names = [name for entry in known.values() for name in entry["files"]]
    if not known or any(Path(name).name != name for name in names):
        raise CupgeomError("-o", f"{path} is no manifest of a job; move it away, or give another folder")
    return known


def _check_free(folder: Path, names: list[str], *, force: bool) -> None:
    for name in (*names, *([] if (folder / MANIFEST).exists() else [MANIFEST])):
        path = folder / name
        if path.is_dir():
            raise CupgeomError("-o", f"{path} is a folder; move it away")
        if path.exists() and not force:
            raise CupgeomError("-o", f"{path} is not of this job; give --force to replace it, or another folder")


def _clear(folder: Path, before: Kept, after: Kept) -> None:
    """Take away files of outputs that are no more, unless somebody has changed them since."""
    wanted = {name for entry in after.values() for name in entry["files"]}
    for entry in before.values():
        for name, known in entry["files"].items():
            if name not in wanted and _hash_of(folder / name) == known:
                (folder / name).unlink()


def _hash_of(path: Path) -> str | None:
    try:
        return hashlib.sha256(store.bytes_of(path)).hexdigest()
    except (CupgeomError, OSError):
        return None
