"""Changing a file that others change too: nothing is lost, and what could not be finished leaves the old file."""

from __future__ import annotations

import builtins
import errno
import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from cli import store
from cupgeom import CupgeomError
from cupgeom.records import Faults
from cupgeom.shelf import read_shelf, with_cup

SHOP = "# the shelf\n[cups.mug]\nrim = 82\nbase = 82\nheight = 95\n"
CUP = {"rim": 88, "base": 70, "height": 170}


def add_cups(path: Path, writer: str, count: int, without_folder_lock: bool) -> None:
    """What one of two programs does at the same time as the other."""
    if without_folder_lock:
        no_fcntl(builtins.__import__)
    for index in range(count):
        store.update(path, lambda text, name=f"{writer} {index}": with_cup(text, name, CUP))


def no_fcntl(genuine: Callable[..., object]) -> None:
    """Make this process one that has no locks on open files."""

    def refuse(name: str, *rest: object, **more: object) -> object:
        if name == "fcntl":
            raise ImportError(name)
        return genuine(name, *rest, **more)

    builtins.__import__ = refuse


def in_two_processes(path: Path, count: int, without_folder_lock: bool = False) -> None:
    context = multiprocessing.get_context("spawn")
    writers = [
        context.Process(target=add_cups, args=(path, name, count, without_folder_lock)) for name in ("left", "right")
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert [writer.exitcode for writer in writers] == [0, 0]


def left_behind(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_two_writers_at_once_lose_no_entry_even_of_a_file_that_was_not_there(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    in_two_processes(shop, 50)
    names = [cup.name for cup in read_shelf(store.text_of(shop)).cups]
    assert sorted(names) == sorted(f"{writer} {index}" for writer in ("left", "right") for index in range(50))
    assert left_behind(tmp_path) == ["shop.toml"]


def test_two_writers_take_turns_where_files_cannot_be_locked(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text(SHOP)
    in_two_processes(shop, 10, without_folder_lock=True)
    assert len(read_shelf(store.text_of(shop)).cups) == 21
    assert left_behind(tmp_path) == ["shop.toml"]


@pytest.mark.parametrize("fault", [errno.EBADF, errno.ENOLCK, errno.ENOTSUP])
def test_a_folder_that_cannot_be_locked_gets_a_lock_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: int
) -> None:
    shop = tmp_path / "shop.toml"
    seen = []

    def refuse(handle: int, operation: int) -> None:
        raise OSError(fault, os.strerror(fault))

    def change(text: str) -> str:
        seen.extend(left_behind(tmp_path))
        return text + SHOP

    monkeypatch.setattr("fcntl.flock", refuse)
    store.update(shop, change)
    assert seen == [".shop.toml.lock"]
    assert left_behind(tmp_path) == ["shop.toml"]


def test_a_lock_that_the_disk_refuses_for_another_reason_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(handle: int, operation: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr("fcntl.flock", refuse)
    with pytest.raises(OSError, match="Input/output error"):
        store.update(tmp_path / "shop.toml", lambda text: SHOP)
    assert left_behind(tmp_path) == []


def test_waiting_for_another_ends_with_a_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = tmp_path / "shop.toml"
    monkeypatch.setattr(store, "LONGEST_WAIT_S", 0.05)

    def inner(text: str) -> str:
        store.update(shop, lambda text: "never")
        return "neither"

    with pytest.raises(TimeoutError) as caught:
        store.update(shop, inner)
    assert (caught.value.strerror, caught.value.filename) == ("kept by another cupgeom for 0 s", str(shop))
    assert left_behind(tmp_path) == []


def test_a_lock_file_that_was_left_over_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = tmp_path / "shop.toml"
    (tmp_path / ".shop.toml.lock").touch()
    monkeypatch.setattr(store, "LONGEST_WAIT_S", 0.05)
    monkeypatch.setattr(builtins, "__import__", builtins.__import__)  # put back afterwards
    no_fcntl(builtins.__import__)
    with pytest.raises(TimeoutError) as caught:
        store.update(shop, lambda text: SHOP)
    assert caught.value.strerror == ("kept by another cupgeom (if none is running, delete .shop.toml.lock) for 0 s")
    assert left_behind(tmp_path) == [".shop.toml.lock"]


def test_two_threads_take_turns(tmp_path: Path) -> None:
    count = tmp_path / "count"

    def one_more(text: str) -> str:
        time.sleep(0.001)
        return str(int(text or "0") + 1)

    threads = [threading.Thread(target=lambda: [store.update(count, one_more) for _ in range(10)]) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert count.read_text() == "30"


def test_what_an_editor_saves_meanwhile_is_not_lost(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text(SHOP)
    calls = []

    def change(text: str) -> str:
        calls.append(text)
        if len(calls) == 1:
            shop.write_text(SHOP + "# by hand\n")
        return with_cup(text, "new", CUP)

    store.update(shop, change)
    assert calls == [SHOP, SHOP + "# by hand\n"]
    assert shop.read_text().startswith(SHOP + "# by hand\n\n[cups.new]\n")


def test_an_editor_that_never_stops_is_left_alone(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    calls = []

    def change(text: str) -> str:
        calls.append(text)
        shop.write_text(f"# {len(calls)}")
        return SHOP

    with pytest.raises(CupgeomError) as caught:
        store.update(shop, change)
    assert str(caught.value) == (f"{shop}: is rewritten by another program all the time; close that and try again")
    assert shop.read_text() == f"# {len(calls)}"


def test_a_damaged_file_is_refused_and_never_rewritten(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    damaged = SHOP.replace("= 82\n", "= 82 mm\n").encode()
    shop.write_bytes(damaged)
    before = shop.stat()
    with pytest.raises(Faults):
        store.update(shop, lambda text: with_cup(text, "new", CUP))
    assert shop.read_bytes() == damaged
    assert (shop.stat().st_ino, shop.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert left_behind(tmp_path) == ["shop.toml"]


@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EACCES, errno.EIO])
@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_disk_that_refuses_keeps_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: int, call: str
) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text(SHOP)

    def refuse(*arguments: object) -> None:
        raise OSError(fault, os.strerror(fault))

    with monkeypatch.context() as patched:
        patched.setattr(os, call, refuse)
        with pytest.raises(OSError, match=os.strerror(fault)) as caught:
            store.update(shop, lambda text: with_cup(text, "new", CUP))
    assert caught.value.filename == str(shop)
    assert (shop.read_text(), left_behind(tmp_path)) == (SHOP, ["shop.toml"])
    store.update(shop, lambda text: with_cup(text, "new", CUP))  # the lock is free again
    assert read_shelf(shop.read_text()).cup("new").height == 170


def test_a_change_that_changes_nothing_leaves_the_file_untouched(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text(SHOP)
    before = shop.stat()
    store.update(shop, lambda text: text)
    assert (shop.stat().st_ino, shop.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def test_the_file_behind_a_link_is_changed_and_the_link_stays(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    shop, link = tmp_path / "kept" / "shop.toml", tmp_path / "shop.toml"
    shop.write_text(SHOP)
    link.symlink_to(shop)
    store.update(link, lambda text: with_cup(text, "new", CUP))
    assert link.is_symlink()
    assert shop.read_text().startswith(SHOP + "\n[cups.new]\n")


def test_line_endings_and_a_byte_order_mark_do_not_disturb(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_bytes(b"\xef\xbb\xbf" + SHOP.replace("\n", "\r\n").encode())
    store.update(shop, lambda text: with_cup(text, "new", CUP))
    added = "\n[cups.new]\nrim = 88\nbase = 70\nheight = 170\n"
    assert shop.read_bytes() == (SHOP + added).replace("\n", "\r\n").encode()


def test_a_folder_that_does_not_exist_is_named(tmp_path: Path) -> None:
    shop = tmp_path / "none" / "shop.toml"
    with pytest.raises(CupgeomError) as caught:
        store.update(shop, lambda text: SHOP)
    assert str(caught.value) == f"{shop}: the folder {shop.parent} does not exist; make it first"


def test_half_a_character_is_not_written(tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    with pytest.raises(CupgeomError) as caught:
        store.update(shop, lambda text: with_cup(text, "new", {**CUP, "notes": "caf\udce9"}))
    assert str(caught.value) == f"{shop}: cannot hold '\\udce9', which is no character; leave it out"
    assert left_behind(tmp_path) == []


def test_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    missing, folder, latin = tmp_path / "none.toml", tmp_path / "folder", tmp_path / "latin.toml"
    folder.mkdir()
    latin.write_bytes("# tea\n# café\n".encode("latin-1"))
    messages = {
        missing: f"{missing}: does not exist; check its name and folder",
        folder: f"{folder}: is a folder; give a file in it",
        latin: f"{latin}:2: is not UTF-8 text; save it as UTF-8",
    }
    for path, message in messages.items():
        with pytest.raises(CupgeomError) as caught:
            store.text_of(path)
        assert str(caught.value) == message
    for path in (folder, latin):
        with pytest.raises(CupgeomError) as caught:
            store.update(path, lambda text: SHOP)
        assert str(caught.value) == messages[path]
