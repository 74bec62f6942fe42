"""Real files: our drawing of each, written back to SVG, looks like the file itself, both drawn by resvg.

A file may leave when a notice names what of it is not drawn; at most 3 in 100 may.
"""

from __future__ import annotations

import gzip
import importlib.util
import io
import zipfile
from pathlib import Path

import pytest

from cupgeom.decor.artwork import read_svg

from .artwork_pictures import is_alike

CORPUS = Path(__file__).parents[2] / "shared" / "corpus" / "svg"
SETS = {  # files of each, the first by name
    "feather": 60,
    "flag-icons": 20,
    "openclipart-dev": 20,
    "resvg-shapes": 100,
    "tabler-outline": 60,
    "tango": 50,
}
BEYOND_THE_RENDERER = {
    "candied_apples_ganson.svg",  # shades of hundreds of lines 0.036 units wide: far below a pixel at any size
    "q-values.svg",  # in quarter millimetres, a unit that resvg does not know
}
MOST_LEAVERS = 0.03


def package(name: str) -> Path:
    spec = importlib.util.find_spec(name)
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parent


def solid_icons() -> dict[str, bytes]:
    found = sorted(package("fontawesomefree").rglob("svgs/solid/*.svg"))[:100]
    return {file.name: file.read_bytes() for file in found}


def outlined_icons() -> dict[str, bytes]:
    data = (package("heroicons") / "heroicons.zip").read_bytes()
    with zipfile.ZipFile(io.BytesIO(data)) as folder:
        names = sorted(name for name in folder.namelist() if name.startswith("outline/") and name.endswith(".svg"))
        return {name: folder.read(name) for name in names[:100]}


def judged(files: dict[str, bytes]) -> None:
    leavers, wrong = [], []
    for name, data in files.items():
        text = gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data
        if is_alike(text.decode()) or Path(name).name in BEYOND_THE_RENDERER:
            continue
        notices = [str(notice) for notice in read_svg(data, name).notices]
        (leavers if notices else wrong).append((name, notices))
    assert wrong == []
    assert len(leavers) <= MOST_LEAVERS * len(files), leavers


@pytest.mark.parametrize("icons", [solid_icons, outlined_icons])
def test_icons_of_packages(icons) -> None:
    files = icons()
    assert len(files) == 100
    judged(files)


@pytest.mark.parametrize("name", SETS)
def test_files_of_the_corpus(name: str) -> None:
    if not CORPUS.is_dir():
        pytest.skip("the shared corpus is not beside this repository")
    found = sorted(file for file in (CORPUS / name).rglob("*") if file.suffix in (".svg", ".svgz"))[: SETS[name]]
    assert len(found) == SETS[name]
    judged({str(file.relative_to(CORPUS)): file.read_bytes() for file in found})
