"""Files: the only place that writes them. Beside first, then renamed, so that no half-written file is ever seen."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from cupgeom.errors import CupgeomError


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
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            beside = Path(name)
            ready[path] = beside
            try:
                with os.fdopen(handle, "wb") as stream:
                    stream.write(content)
                    stream.flush()
                    os.fsync(stream.fileno())
                beside.chmod(0o666 & ~_umask())
            except OSError as error:
                raise OSError(error.errno, error.strerror, str(path)) from error
        for path, beside in ready.items():
            try:
                os.replace(beside, path)  # noqa: PTH105  the tests inject faults here
            except OSError as error:
                raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        for beside in ready.values():
            beside.unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
