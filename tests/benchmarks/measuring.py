"""Times of one run beside one another: cases take turns, so that what else the machine does falls on all of them."""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable, Mapping, Sequence

Case = Callable[[], float]
"""Does the work once or several times and returns seconds for one time."""


def say(line: str = "") -> None:
    """Write a line for whoever runs this."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def timed(work: Callable[[], object], calls: int = 1) -> float:
    """Seconds for one call: the median of several in a row."""
    taken = []
    for _ in range(calls):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def take_turns(cases: Mapping[str, Case], *, rounds: int) -> dict[str, list[float]]:
    """Run every case once a round, each round in another order; the first round warms up and is not counted."""
    order = random.Random(1)
    times: dict[str, list[float]] = {name: [] for name in cases}
    for number in range(rounds + 1):
        for name in order.sample(list(cases), len(cases)):
            taken = cases[name]()
            if number:
                times[name].append(taken)
    return times


def spread(values: Sequence[float], unit: str = "", scale: float = 1.0) -> str:
    """Median, then the quartiles: half of the rounds lay between them."""
    low, middle, high = (scale * one for one in statistics.quantiles(values, n=4, method="inclusive"))
    return f"{middle:.2f}{unit} (quartiles {low:.2f} to {high:.2f})"


def ratios(times: Sequence[float], beside: Sequence[float]) -> list[float]:
    """How many times longer, round by round."""
    return [one / other for one, other in zip(times, beside, strict=True)]


def verdict(value: float, aim: float) -> str:
    """Say whether an aim (at most) is met."""
    return "met" if value <= aim else f"MISSED, {value / aim:.1f} times the aim"
