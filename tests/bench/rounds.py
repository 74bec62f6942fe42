"""Times of several works in one run, taken by turns so that a slow moment of the machine falls on all of them alike."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

SLACK = 1.5  # a ratio fails at this many times its bar: a busy machine is no fault of the code


def best_seconds(works: Mapping[str, Callable[[], object]], rounds: int = 15) -> dict[str, float]:
    """Shortest time of each work over interleaved rounds, after one round to warm up."""
    for work in works.values():
        work()
    best = dict.fromkeys(works, float("inf"))
    for _ in range(rounds):
        for name, work in works.items():
            start = time.perf_counter()
            work()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def judged(what: str, ratio: float, bar: float | None) -> bool:
    """Print a ratio beside its bar, and say whether it is good enough; without a bar it always is."""
    if bar is None:
        print(f"{what:<62}{ratio:6.2f}   not judged")
        return True
    verdict = "ok" if ratio <= bar else f"over the bar, fails from {bar * SLACK:.2f}"
    print(f"{what:<62}{ratio:6.2f}   bar {bar:.2f}: {verdict}")
    return ratio <= bar * SLACK
