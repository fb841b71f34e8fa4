"""What the tool costs beside the least it could cost, both measured in one run; nothing here is a test.

    .venv/bin/python tests/benchmarks/ratios.py                     all three, a minute or two
    .venv/bin/python tests/benchmarks/ratios.py --hundred-thousand  the due list at 100,000 open due items too
    .venv/bin/python tests/benchmarks/ratios.py --only signing --profile

Works in a folder of its own that is thrown away. Milliseconds are this machine's and this minute's; ratios of one round
travel better. Signing needs a real disk: --folder names one where /tmp is memory.
"""

from __future__ import annotations

import argparse
import cProfile
import os
import platform
import pstats
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import place
from tests.benchmarks.measuring import say

PARTS = ("due", "signing", "wire")


def main() -> None:
    """Run what was asked for."""
    asked = arguments()
    folder = place.prepare(asked.folder)
    say(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores, load {load()}")
    try:
        for part in asked.only or PARTS:
            say()
            {"due": due, "signing": sign, "wire": wire}[part](folder, asked)
    finally:
        place.throw_away(folder)
    say(f"\nLoad at the end {load()}; above the number of cores, take the milliseconds with care.")


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", choices=PARTS, action="append", help="may be given more than once")
    parser.add_argument("--rounds", type=int, default=15, help="default: %(default)s")
    parser.add_argument("--calls", type=int, default=5, help="of a page, in a round; default: %(default)s")
    parser.add_argument("--hundred-thousand", action="store_true", help="the due list at 100,000 too")
    parser.add_argument("--profile", action="store_true", help="also say where the time of a page and a signature goes")
    parser.add_argument("--folder", help="where to make the folder; a real disk")
    return parser.parse_args()


def load() -> str:
    """How busy the machine is."""
    return " ".join(f"{one:.1f}" for one in os.getloadavg())


def due(folder: Path, asked: argparse.Namespace) -> None:
    """The due list."""
    from tests.benchmarks import due_list

    say("Due list: the page beside a bare view that draws the same 50 rows by raw SQL into as many bytes")
    sizes = [100, 1_000, 10_000, *([100_000] if asked.hundred_thousand else [])]
    again = due_list.compare(folder, sizes, rounds=asked.rounds, calls=asked.calls)
    if asked.profile:
        profiled(again, times=20)


def sign(folder: Path, asked: argparse.Namespace) -> None:
    """Signing."""
    from tests.benchmarks import signing

    say("Signing a pH check, proof given, beside the same rows by bare SQL in one transaction")
    again = signing.compare(folder, rounds=asked.rounds)
    if asked.profile:
        profiled(again, times=1)


def wire(folder: Path, _asked: argparse.Namespace) -> None:
    """Bytes."""
    from tests.benchmarks import wire as bytes_on_it

    say("Page of a pH check, written to the end, as a phone fetches it")
    bytes_on_it.compare(folder)


def profiled(work: Callable[[], object], *, times: int) -> None:
    """Say where the time goes; the profiler itself makes small functions look slower than they are."""
    seen = cProfile.Profile()
    seen.enable()
    for _ in range(times):
        work()
    seen.disable()
    for order in ("cumulative", "tottime"):
        pstats.Stats(seen).strip_dirs().sort_stats(order).print_stats(45)


if __name__ == "__main__":
    main()
