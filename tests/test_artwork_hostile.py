"""Hostile files: one clear line each, within 5 s and 1 GB, in a child process that has no more."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

SECONDS, BYTES = 5.0, 1_000_000_000
PARTS = 2  # children, so that two cores share the work
CASES = tomllib.loads((Path(__file__).parent / "artwork_hostile.toml").read_text("utf-8"))
CHILD = """
import base64, gzip, io, json, resource, struct, sys, time, zlib
resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))
from PIL import Image
from cupgeom.decor.artwork import read_artwork
from cupgeom.errors import CupgeomError

RECT, PATH = '<rect width="9" height="9"/>', '<path id="a0" d="M0 0h1v1z"/>'

def svg(body):
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">{body}</svg>'

def png():
    file = io.BytesIO()
    Image.effect_noise((40, 40), 99).save(file, "PNG")
    return file.getvalue()

def bomb(columns, rows):
    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    head = struct.pack(">IIBBBBB", columns, rows, 8, 0, 0, 0, 0)
    rest = chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    return b"\\x89PNG\\r\\n\\x1a\\n" + chunk(b"IHDR", head) + rest

for name, source in json.load(sys.stdin).items():
    made = eval(source)
    data = made if isinstance(made, bytes) else made.encode()
    begin = time.process_time()
    try:
        said = [str(notice) for notice in read_artwork(data, "art").notices]
    except CupgeomError as error:
        said = str(error)
    print(json.dumps([name, said, time.process_time() - begin]), flush=True)
"""


@pytest.mark.parametrize("part", range(PARTS))
def test_hostile_files_are_one_clear_line_in_time(part: int) -> None:
    cases = dict(list(CASES.items())[part::PARTS])
    sources = json.dumps({name: case["make"] for name, case in cases.items()})
    done = subprocess.run(
        [sys.executable, "-c", CHILD.replace("BYTES", str(BYTES))],
        input=sources,
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
        timeout=600,
        check=False,
    )
    assert done.stderr == ""
    outcome = {name: (said, seconds) for name, said, seconds in map(json.loads, done.stdout.splitlines())}
    assert {name: said for name, (said, _) in outcome.items()} == {name: case["says"] for name, case in cases.items()}
    assert {name: seconds for name, (_, seconds) in outcome.items() if seconds >= SECONDS} == {}
