"""Files: the only place that writes them. Beside first, then renamed, so that no half-written file is ever seen."""

from __future__ import annotations

import errno
import os
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

import click

from cupgeom.errors import CupgeomError

_READ = "files read"  # key of the command's own memory
LONGEST_WAIT_S = 30.0  # for another cupgeom that writes in the same folder
_NO_FOLDER_LOCK = {errno.EBADF, errno.EINVAL, errno.ENOLCK, errno.ENOSYS, errno.ENOTSUP}
Taken = TypeVar("Taken")
_ROUNDS = 5  # of a change under which another program keeps rewriting the file


def check_free(path: Path, *, force: bool) -> None:
    """Refuse, before any work is done, a path that cannot be written.

    Raises
    ------
    CupgeomError
        When its folder does not exist, it is a folder, or a file is there and `force` is not set.
    """
    if not path.parent.is_dir():
        raise CupgeomError("-o", f"the folder {path.parent} does not exist; make it first")
    if path.is_dir():
        raise CupgeomError("-o", f"{path} is a folder; give a file in it, such as {path / 'wrap.pdf'}")
    if path.exists() and not force:
        raise CupgeomError("-o", f"{path} exists; give --force to replace it, or another name")


def refuse_inputs(paths: Iterable[Path]) -> None:
    """Refuse to write over a file that this command has read.

    Raises
    ------
    CupgeomError
        Naming the file.
    """
    context = click.get_current_context(silent=True)
    read = context.meta.get(_READ, set()) if context else set()
    for path in paths:
        if path.resolve() in read:
            raise CupgeomError("-o", f"{path} has been read for this; give another name")


def write_all(files: Mapping[Path, bytes]) -> None:
    """Write several files so that all of them appear, or none that could not be finished.

    Raises
    ------
    OSError
        When the disk refuses; the files that were there are as they were, but for any already renamed.
    """
    ready: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            with _naming(path):
                handle, name = tempfile.mkstemp(prefix=".cupgeom-", dir=path.parent)
                ready[path] = Path(name)
                with os.fdopen(handle, "wb") as stream:
                    stream.write(content)
                    stream.flush()
                    os.fsync(stream.fileno())
                ready[path].chmod(0o666 & ~_umask())
        for path, beside in ready.items():
            with _naming(path):
                os.replace(beside, path)  # noqa: PTH105  the tests inject faults here
    finally:
        for beside in ready.values():
            beside.unlink(missing_ok=True)


@contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Let a refusal of the disk name the file that was asked for, not the one beside it."""
    try:
        yield
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def bytes_of(path: Path) -> bytes:
    """What a file holds.

    Raises
    ------
    CupgeomError
        When there is no such file.
    OSError
        When the disk refuses.
    """
    context = click.get_current_context(silent=True)
    if context is not None:
        context.meta.setdefault(_READ, set()).add(path.resolve())
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise CupgeomError(str(path), "does not exist; check its name and folder") from None
    except IsADirectoryError:
        raise CupgeomError(str(path), "is a folder; give a file in it") from None


def text_of(path: Path) -> str:
    """The text of a file, line endings as they are.

    Raises
    ------
    CupgeomError
        When there is no such file, or it is not UTF-8 text.
    OSError
        When the disk refuses.
    """
    content = bytes_of(path)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise CupgeomError(f"{path}:{line}", "is not UTF-8 text; save it as UTF-8") from None


def update(path: Path, change: Callable[[str], str]) -> None:
    """Change the text of a file so that no writer loses what another has written.

    Two of us take turns. A program that knows nothing of that, such as an editor, is noticed: when the file has become
    another while `change` worked, the change is made again on what is there now.

    Parameters
    ----------
    path
        The file; it need not exist yet. Where it is a link, what it points to is changed.
    change
        From the text that is there, empty for a new file, to the text that shall be there. It may be called again, and
        what it raises leaves the file as it is.

    Raises
    ------
    CupgeomError
        When the folder does not exist, the file is not text, or another program rewrites it all the time.
    OSError
        When the disk refuses, or another of us does not finish.
    """
    path = path.resolve()
    if not path.parent.is_dir():
        raise CupgeomError(str(path), f"the folder {path.parent} does not exist; make it first")
    with _turn_at(path):
        for _ in range(_ROUNDS):
            before = _text_or_none(path)
            after = change(before or "")
            try:
                content = after.encode()
            except UnicodeEncodeError as error:
                letter = after[error.start : error.end]
                raise CupgeomError(str(path), f"cannot hold {letter!r}, which is no character; leave it out") from None
            if _text_or_none(path) == before:
                if after != before:
                    write_all({path: content})
                return
    raise CupgeomError(str(path), "is rewritten by another program all the time; close that and try again")


def _text_or_none(path: Path) -> str | None:
    return text_of(path) if path.exists() else None


@contextmanager
def _turn_at(path: Path) -> Iterator[None]:
    """Be the only one of us who changes files in the folder; wait for another who does.

    The folder itself is locked, which leaves nothing behind and ends with the process. Where that is not to be had, a
    file beside is made instead, which must not be there yet.
    """
    try:
        import fcntl
    except ImportError:
        with _lock_file(path):
            yield
        return
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        try:
            _wait(path, lambda: fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB), "another cupgeom")
        except OSError as error:
            if error.errno not in _NO_FOLDER_LOCK:
                raise
            with _lock_file(path):
                yield
        else:
            yield
    finally:
        os.close(folder)  # unlocks it


@contextmanager
def _lock_file(path: Path) -> Iterator[None]:
    beside = path.with_name(f".{path.name}.lock")
    writer = f"another cupgeom (if none is running, delete {beside.name})"
    os.close(_wait(path, lambda: os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY), writer))
    try:
        yield
    finally:
        beside.unlink(missing_ok=True)


def _wait(path: Path, take: Callable[[], Taken], writer: str) -> Taken:
    """What `take` gives as soon as no other holds it."""
    end = time.monotonic() + LONGEST_WAIT_S
    while True:
        try:
            return take()
        except (BlockingIOError, FileExistsError):
            if time.monotonic() > end:
                raise TimeoutError(errno.ETIMEDOUT, f"kept by {writer} for {LONGEST_WAIT_S:.0f} s", str(path)) from None
            time.sleep(0.01)
