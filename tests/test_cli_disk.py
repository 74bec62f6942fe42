"""A disk that refuses and a maker who stops: one line, the old file as it was, nothing half-written left behind."""

from __future__ import annotations

import errno
import os
import resource
import stat
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .command_line import CUP, SCRIPT, Answer, ask, child

REFUSALS = [errno.EACCES, errno.ENOSPC, errno.EROFS]
PLACES = ["make the file", "write", "flush to disk", "rename"]
AGAIN = "template CUP --as cut --paper fit -o wrap.pdf --force"
TILED = "template CUP --paper a4 -o wrap.svg"  # two pages, so two files


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with an old file in it."""
    (tmp_path / "wrap.pdf").write_bytes(b"old")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def inject(monkeypatch: pytest.MonkeyPatch, place: str, fault: BaseException, spared: int = 0) -> None:
    """Let the disk raise `fault` at a place of the writing, after it has worked `spared` times."""
    calls = 0

    def faulty(real: Callable[..., Any]) -> Callable[..., Any]:
        def work(*args: Any, **settings: Any) -> Any:
            nonlocal calls
            calls += 1
            if calls > spared:
                raise fault
            return real(*args, **settings)

        return work

    if place == "make the file":
        monkeypatch.setattr(tempfile, "mkstemp", faulty(tempfile.mkstemp))
    elif place == "flush to disk":
        monkeypatch.setattr(os, "fsync", faulty(os.fsync))
    elif place == "rename":
        monkeypatch.setattr(os, "replace", faulty(os.replace))
    else:
        real_fdopen = os.fdopen

        class Stream:
            """An open file whose `write` is faulty."""

            def __init__(self, *args: Any) -> None:
                self.file = real_fdopen(*args)
                self.write = faulty(self.file.write)
                self.flush, self.fileno = self.file.flush, self.file.fileno

            def __enter__(self) -> Stream:
                return self

            def __exit__(self, *_: object) -> None:
                self.file.close()

        monkeypatch.setattr(os, "fdopen", Stream)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


# Refusals -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("number", REFUSALS, ids=errno.errorcode.get)
def test_a_refusing_disk_leaves_the_old_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch, place: str, number: int
) -> None:
    inject(monkeypatch, place, OSError(number, os.strerror(number), "a name of no interest"))
    answer = ask(AGAIN)
    assert answer == Answer(1, "", f"cupgeom: wrap.pdf: {os.strerror(number)}\n")
    assert contents(folder) == {"wrap.pdf": b"old"}


@pytest.mark.parametrize("place", PLACES[:3])
def test_when_the_second_of_several_files_cannot_be_written_none_appears(
    folder: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    inject(monkeypatch, place, OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)), spared=1)
    answer = ask(TILED)
    assert (answer.code, answer.out) == (1, "")
    assert answer.err == "cupgeom: wrap-A2.svg: No space left on device\n"
    assert contents(folder) == {"wrap.pdf": b"old"}


def test_when_the_second_rename_is_refused_nothing_half_written_stays(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inject(monkeypatch, "rename", OSError(errno.EACCES, os.strerror(errno.EACCES)), spared=1)
    answer = ask(TILED)
    assert (answer.code, answer.out) == (1, "")
    assert answer.err == "cupgeom: wrap-A2.svg: Permission denied\n"
    assert contents(folder).keys() == {"wrap.pdf", "wrap-A1.svg"}
    assert contents(folder)["wrap-A1.svg"].endswith(b"</svg>")


def test_a_limit_on_file_sizes(folder: Path) -> None:
    answer = child(
        SCRIPT,
        *["template", *CUP.split(), "-o", "wrap.pdf", "--force"],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000)),
        env=os.environ | {"PYTHONDONTWRITEBYTECODE": "1"},
    )
    assert (answer.returncode, answer.stdout) == (1, "")
    assert answer.stderr == f"cupgeom: wrap.pdf: {os.strerror(errno.EFBIG)}\n"
    assert contents(folder) == {"wrap.pdf": b"old"}


def test_a_name_too_long_for_the_disk(folder: Path) -> None:
    answer = ask(f"template CUP -o {'a' * 300}.pdf")
    assert (answer.code, answer.out) == (1, "")
    assert answer.err == f"cupgeom: {'a' * 300}.pdf: {os.strerror(errno.ENAMETOOLONG)}\n"
    assert contents(folder) == {"wrap.pdf": b"old"}


def test_the_longest_name_that_the_disk_takes(folder: Path) -> None:
    name = "a" * (os.pathconf(folder, "PC_NAME_MAX") - 4) + ".pdf"
    assert ask(f"template CUP -o {name}").code == 0
    assert contents(folder)[name].startswith(b"%PDF-")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_behind_stdout() -> None:
    with Path("/dev/full").open("w") as full:
        answer = child(SCRIPT, "area", *CUP.split(), stdout=full)
    assert (answer.returncode, answer.stderr) == (1, f"cupgeom: {os.strerror(errno.ENOSPC)}\n")


# Stopping -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES)
def test_stopped_while_writing(folder: Path, monkeypatch: pytest.MonkeyPatch, place: str) -> None:
    inject(monkeypatch, place, KeyboardInterrupt())
    answer = ask(AGAIN)
    assert (answer.code, answer.out) == (130, "")
    assert answer.err.lstrip("\n") == "cupgeom: stopped; nothing was changed\n"
    assert contents(folder) == {"wrap.pdf": b"old"}


def test_stopped_while_drawing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from cupgeom.writers import svg

    def render(document: object) -> bytes:
        raise KeyboardInterrupt

    monkeypatch.setattr(svg, "render", render)
    assert ask("template CUP -o wrap.svg").code == 130
    assert contents(folder) == {"wrap.pdf": b"old"}


def test_a_reader_that_goes_away() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        answer = child(SCRIPT, "area", *CUP.split(), stdout=writing)
    finally:
        os.close(writing)
    assert (answer.returncode, answer.stderr) == (1, "")


# And when all goes well -----------------------------------------------------------------------------------------------


def test_a_file_written_is_open_to_whom_the_umask_lets(folder: Path) -> None:
    umask = os.umask(0o027)
    try:
        assert ask("template CUP -o new.pdf").code == 0
    finally:
        os.umask(umask)
    assert stat.S_IMODE((folder / "new.pdf").stat().st_mode) == 0o640
