"""The command line as tests use it: a command in this process, or the installed script in a child."""

from __future__ import annotations

import io
import shlex
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from cli.main import run

SCRIPT = Path(sys.executable).with_name("cupgeom")
CUP = "--rim 88 --base 70 --height 170"


@dataclass(frozen=True)
class Answer:
    """What a command left behind."""

    code: int
    out: str
    err: str


def ask(line: str) -> Answer:
    """Run ``cupgeom <line>`` in this process; CUP in the line stands for the three measures of a tumbler."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(shlex.split(line.replace("CUP", CUP)))
    return Answer(code, out.getvalue(), err.getvalue())


def child(
    *command: str | Path, stdout: int | IO[str] = subprocess.PIPE, **settings: Any
) -> subprocess.CompletedProcess[str]:
    """Run a program to its end; what it says is text."""
    return subprocess.run(
        [str(word) for word in command],
        stdout=stdout,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        check=False,
        **settings,
    )
