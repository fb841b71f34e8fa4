"""When a counter will reach a number, as an estimate: at the mean rate so far, with a second opinion by its median.

A forecast only sorts and warns. What is due is told by readings.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from statistics import median

from assets.compute.readings.facts import about, days_between, hours_between, utc
from assets.compute.readings.series import Known
from assets.compute.words import count_of, day_said

WINDOW_DAYS = 90
"""How far back readings count towards the rate: own judgement, a season."""

STALE_DAYS = 30
"""Days without a reading after which a total says nothing of today: own judgement."""

FARTHEST_DAYS = 3650
"""Nothing is forecast farther off: own judgement, ten years."""

HOURS_A_DAY = 24
LEAST = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """When a mark will be reached.

    at: by the mean rate; by_median: by the median of the rates between all pairs of readings; None where it cannot be
    told, and `says` why. per_day: the mean rate; n: readings it rests on; last_at: the newest of them.
    """

    at: dt.datetime | None
    by_median: dt.datetime | None
    per_day: Fraction | None
    n: int
    last_at: dt.datetime | None
    says: str


def forecast(known: Sequence[Known], mark: Fraction, *, window_days: int = WINDOW_DAYS) -> Forecast:
    """Return when a mark is reached: the last reading plus what is left over the mean rate.

    known: totals in order of time; mark: in their unit. The mean is over the readings of the window, at least two,
    older ones if the window has fewer. Needs two readings with time between them.
    """
    newest = _window(known, window_days)
    last = newest[-1] if newest else None
    if last is None:
        return _cannot(newest, "There is no reading yet.")
    if last.total >= mark:
        return _cannot(newest, "Reached already.")
    hours = hours_between(newest[0].at, last.at)
    if len(newest) < LEAST or hours == 0:
        return _cannot(newest, "One reading tells no rate; two are needed.")
    mean = (last.total - newest[0].total) / hours
    if mean == 0:
        return _cannot(newest, "It has not moved, so no day can be told.")
    left = mark - last.total
    at = _later(last.at, left, mean)
    if at is None:
        return _cannot(newest, "More than ten years off at this rate.")
    return Forecast(
        at=at,
        by_median=_later(last.at, left, middle_rate(newest)),
        per_day=mean * HOURS_A_DAY,
        n=len(newest),
        last_at=last.at,
        says=(
            f"About {day_said(at.date(), last.at.date())}, an estimate: {about(mean * HOURS_A_DAY)} a day by "
            f"{count_of(len(newest), 'reading')}, the last on {day_said(last.at.date(), last.at.date())}."
        ),
    )


def middle_rate(known: Sequence[Known]) -> Fraction:
    """Return the median of the rates between all pairs of totals, an hour: one wild reading hardly moves it.

    Source: Theil 1950, Sen 1968. Raises StatisticsError where no two lie at different moments.
    """
    pairs = [(hours_between(one.at, other.at), other.total - one.total) for one, other in combinations(known, 2)]
    return median([counted / hours for hours, counted in pairs if hours > 0])


def _window(known: Sequence[Known], days: int) -> Sequence[Known]:
    if not known:
        return known
    begin = utc(known[-1].at) - dt.timedelta(days=days)
    recent = [one for one in known if utc(one.at) >= begin]
    return recent if len(recent) >= LEAST else known[-LEAST:]


def _later(start: dt.datetime, left: Fraction, an_hour: Fraction) -> dt.datetime | None:
    if an_hour <= 0 or left / an_hour > FARTHEST_DAYS * HOURS_A_DAY:
        return None
    seconds = int(left / an_hour * 3600)
    return (utc(start) + dt.timedelta(seconds=seconds)).astimezone(start.tzinfo)


def _cannot(known: Sequence[Known], why: str) -> Forecast:
    last_at = known[-1].at if known else None
    return Forecast(at=None, by_median=None, per_day=None, n=len(known), last_at=last_at, says=why)


@dataclass(frozen=True, slots=True, kw_only=True)
class Age:
    """How many days ago a counter was last read, None for never, and whether that is too long."""

    days: int | None
    stale: bool
    says: str


def age_of(last_at: dt.datetime | None, now: dt.datetime, *, days: int = STALE_DAYS) -> Age:
    """Return how many calendar days old the newest reading is, stale after `days`; moments in the site's zone."""
    if last_at is None:
        return Age(days=None, stale=True, says="Never read.")
    ago = days_between(last_at, now)
    read = "Read today." if ago == 0 else f"Last read {count_of(ago, 'day')} ago."
    stale = ago > days
    return Age(
        days=ago, stale=stale, says=f"{read} Read the meter: what hangs on it cannot be told." if stale else read
    )
