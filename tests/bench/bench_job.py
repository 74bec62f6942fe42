"""The whole job of the demo: cold and warm, the share of each output, against the start of an empty program."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rounds import judged

from cupgeom.job import read_job
from cupgeom.shelf import read_shelf
from cupgeom.workshop import made, outputs
from cupgeom.writers import glb, html, ics, pdf, png, svg

DEMO = Path(__file__).parents[2] / "templates-demo" / "comet-night"
WRITERS = {"pdf": pdf, "svg": svg, "png": png, "glb": glb, "html": html, "ics": ics}
BAR = 0.3  # of a run that makes everything, for one that finds nothing to make


def read(name: str) -> bytes:
    if name == "GreatVibes-Latin":
        return (DEMO.parent / "fonts" / "GreatVibes-Latin.ttf").read_bytes()
    return (DEMO / name).read_bytes()


def shares() -> None:
    """Print what each output takes of one run in this process."""
    shelf = read_shelf((DEMO / "shop.toml").read_text(), "shop.toml")
    job = read_job((DEMO / "comet-night.toml").read_text(), "comet-night.toml", shelf, rates=shelf.rates)
    taken: dict[str, float] = {}
    for output in outputs(made(job, read)):
        start = time.perf_counter()
        for part in output.make():
            ending = str(part.kind)
            if ending in WRITERS:
                WRITERS[ending].render(part.value)
        taken[output.name] = time.perf_counter() - start
    whole = sum(taken.values())
    for name, seconds in sorted(taken.items(), key=lambda pair: -pair[1]):
        print(f"  {name:<24}{seconds:7.2f} s {seconds / whole:6.0%}")


def main() -> int:
    """Time the command from outside, once cold and three times warm."""
    shares()
    command = [sys.executable, "-c", "import sys; from cli.main import main; main(sys.argv[1:])"]
    with tempfile.TemporaryDirectory() as folder:
        times = []
        for _ in range(4):
            start = time.perf_counter()
            line = [*command, "job", str(DEMO / "comet-night.toml"), "-o", str(Path(folder) / "made")]
            subprocess.run(line, check=True, capture_output=True)
            times.append(time.perf_counter() - start)
    print(f"  cold {times[0]:.1f} s, warm {min(times[1:]):.1f} s")
    return 0 if judged("job, nothing changed / everything made", min(times[1:]) / times[0], BAR) else 1


if __name__ == "__main__":
    sys.exit(main())
