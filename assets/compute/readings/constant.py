"""A signal that looks healthy but stands still: the same value for longer than its own noise ever left it.

Standing still is no proof of a fault. It is called so only when something else on the same water moved meanwhile; else
it is said how long the value has been unchanged, and what that cannot tell. To be asked only of a unit that runs and a
signal that is not on hold, forced or under maintenance.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise
from statistics import median
from typing import Literal

from assets.compute.readings.facts import Taken, about, hours_between, in_order, plain
from assets.compute.words import count_of

LEAST_HOURS = Fraction(1)
"""Hours that the value must be unchanged, more than these: own judgement."""

LEAST_READINGS = 5
"""Readings that must show it where no baseline says more: own judgement, an hour of readings every 15 minutes."""

BY_CHANCE = 1e-6
"""Probability at which so many equal neighbours are no longer taken for chance: own judgement."""

RUNS = 3
"""How many times the longest run of the baseline must be outlasted, as real noise hangs together: own judgement."""

WITNESS_STEPS = 3
"""Steps of its own display by which a second signal must have moved to be a witness: own judgement."""

SILENT_INTERVALS = 3
"""Usual intervals without a new reading after which a signal is silent, not still: own judgement."""

State = Literal["moves", "unchanged", "stands still", "at the end of its range", "silent", "too few readings"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """Whether a signal stands still: its state, since when and in how many readings, how many were asked for.

    says: the sentence; cannot: what this cannot tell.
    """

    state: State
    since: dt.datetime | None
    n: int
    needed: int | None
    hours: Fraction
    says: str
    cannot: str

    @property
    def flagged(self) -> bool:
        """Whether a person should look at it."""
        return self.state not in ("moves", "too few readings")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """The ends of what a signal can show, in its unit; a value at one of them is there for a reason of its own."""

    low: Fraction | None = None
    high: Fraction | None = None

    def hold(self, value: Fraction) -> bool:
        """Whether a value lies at an end or beyond it."""
        return (self.low is not None and value <= self.low) or (self.high is not None and value >= self.high)


NO_ENDS = Ends()


def standing_still(
    readings: Iterable[Taken],
    now: dt.datetime,
    *,
    witness: Sequence[Taken] = (),
    ends: Ends = NO_ENDS,
    needed: int | None = LEAST_READINGS,
    least_hours: Fraction = LEAST_HOURS,
) -> Still:
    """Return whether a signal stands still up to its newest reading.

    readings: in one unit, each with the step of its display; witness: readings of another signal on the same water;
    needed: how many equal readings it takes, from `needed_run`; None where the baseline itself never moved.
    """
    found = in_order(readings)
    if len(found) < 2:
        return _said("too few readings", found, needed, f"Too few readings to say: {len(found)}.")
    run = _last_run(found)
    if _silent(found, now):
        return _said("silent", run, needed, f"No new reading for {about(hours_between(found[-1].at, now))} h.")
    if needed is None or len(run) < needed or hours_between(run[0].at, run[-1].at) <= least_hours:
        return _said("moves", run, needed, "It moves, or has not been unchanged for long.")
    shown = f"{run[-1].told} for {about(hours_between(run[0].at, run[-1].at))} h, {count_of(len(run), 'reading')}"
    if ends.hold(run[-1].value):
        return _said("at the end of its range", run, needed, f"At the end of its range: {shown}.")
    if _moved(witness, run[0].at, run[-1].at):
        return _said("stands still", run, needed, f"Stands still at {shown}, while the signal beside it moved.")
    return _said("unchanged", run, needed, f"Unchanged at {shown}. Nothing beside it shows that it should have moved.")


def needed_run(baseline: Iterable[Taken]) -> int | None:
    """Return how many equal readings in a row are more than chance, from readings of a time when the signal was good.

    max(1 + ceil(ln 1e-6 / ln p), 3 times the longest run), p the share of equal neighbours; own judgement. None where
    the baseline never moved, or has fewer than two readings: then nothing can be told. Floats: a statistic.
    """
    values = [one.value for one in in_order(baseline)]
    if len(values) < 2:
        return None
    equal = sum(one == other for one, other in pairwise(values))
    if equal == len(values) - 1:
        return None
    longest = max(sum(1 for _ in run) for _, run in groupby(values))
    by_chance = 1 if equal == 0 else 1 + math.ceil(math.log(BY_CHANCE) / math.log(equal / (len(values) - 1)))
    return max(by_chance, RUNS * longest)


def _last_run(found: Sequence[Taken]) -> Sequence[Taken]:
    """Return the newest readings that lie within half a step of the display."""
    half = found[-1].step / 2
    low = high = found[-1].value
    begin = len(found) - 1
    while begin > 0:
        value = found[begin - 1].value
        low, high = min(low, value), max(high, value)
        if high - low > half:
            break
        begin -= 1
    return found[begin:]


def _silent(found: Sequence[Taken], now: dt.datetime) -> bool:
    usual = median([hours_between(one.at, other.at) for one, other in pairwise(found)])
    return usual > 0 and hours_between(found[-1].at, now) > SILENT_INTERVALS * usual


def _moved(witness: Sequence[Taken], start: dt.datetime, end: dt.datetime) -> bool:
    during = [one for one in witness if hours_between(start, one.at) >= 0 and hours_between(one.at, end) >= 0]
    if len(during) < 2:
        return False
    values = [one.value for one in during]
    return max(values) - min(values) > WITNESS_STEPS * max(one.step for one in during)


def _said(state: State, run: Sequence[Taken], needed: int | None, says: str) -> Still:
    step = f" A display in steps of {plain(run[-1].step)} hides what is smaller." if run and run[-1].step else ""
    return Still(
        state=state,
        since=run[0].at if run else None,
        n=len(run),
        needed=needed,
        hours=hours_between(run[0].at, run[-1].at) if run else Fraction(0),
        says=says,
        cannot=(
            f"It cannot tell a dead signal from water that is steady.{step} A store of values that keeps only changes, "
            "or a value held while maintenance goes on, repeats itself and is no fault."
        ),
    )
