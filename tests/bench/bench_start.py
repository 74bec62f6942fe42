"""Whole processes against `python -c pass`: how long the maker waits for help, for numbers, for a wrap on the disk.

The installed script runs in the interpreter that runs this file, with compiled modules as a second call finds them.
Medians of interleaved rounds: a process has no shortest time that repeats.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rounds import judged

SCRIPT = str(Path(sys.executable).with_name("cupgeom"))
CUP = ["--rim", "88mm", "--base", "70mm", "--height", "170mm"]
COMMANDS: dict[str, tuple[list[str], float]] = {
    "cupgeom --help": ([SCRIPT, "--help"], 6),
    "cupgeom area": ([SCRIPT, "area", *CUP], 6),
    "cupgeom template -o wrap.pdf": ([SCRIPT, "template", *CUP, "-o", "wrap.pdf", "--force"], 16),
}
NOTHING = "python -c pass"
ROUNDS = 15
# the installed package is measured, not the folder we happen to stand in, and its bytecode may be kept
SETTINGS = {name: value for name, value in os.environ.items() if name not in {"PYTHONPATH", "PYTHONDONTWRITEBYTECODE"}}


def seconds(command: list[str], folder: str) -> float:
    """Time of one process from start to end."""
    start = time.perf_counter()
    subprocess.run(command, cwd=folder, env=SETTINGS, capture_output=True, check=True)
    return time.perf_counter() - start


def main() -> bool:
    works = {NOTHING: [sys.executable, "-c", "pass"]} | {name: command for name, (command, _) in COMMANDS.items()}
    with tempfile.TemporaryDirectory() as folder:
        rounds = [{name: seconds(command, folder) for name, command in works.items()} for _ in range(ROUNDS + 1)]
    del rounds[0]  # it warmed up
    median = {name: statistics.median(times[name] for times in rounds) for name in works}
    for name, time_taken in median.items():
        print(f"  {name:<40}{time_taken * 1e3:7.1f} ms")
    if any(name.startswith("__editable__") for name in sys.modules):
        print("  an editable install makes python -c pass itself slower: a plain one shows higher ratios")
    good = True
    for name, (_, bar) in COMMANDS.items():
        good &= judged(f"{name} / {NOTHING}", median[name] / median[NOTHING], bar)
    return good


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
