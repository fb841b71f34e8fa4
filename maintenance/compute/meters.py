"""From the settled readings of a meter to what a routine by use needs: totals by site day, and when it falls due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from assets.compute.readings.forecast import Age, Forecast, age_of, forecast
from assets.compute.readings.series import Totals
from maintenance.compute.clocks import site_day
from maintenance.compute.facts import STALE_DAYS, Metered
from maintenance.compute.usage import Use


def metered_from(totals: Totals, zone: ZoneInfo, *, asset: str = "") -> tuple[Metered, ...]:
    """Totals of one meter with their site days, settled by the zone that holds now; keep the days once told."""
    return tuple(
        Metered(
            at=one.at,
            day=site_day(one.at, zone),
            total=one.total,
            known_on=site_day(one.known_at, zone),
            recorded_at=one.known_at,
            asset=asset,
        )
        for one in totals.known
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """When a turn is expected to be due by use: an estimate that only sorts, with how old its newest reading is."""

    forecast: Forecast
    age: Age


def expected(use: Use, totals: Totals, now: datetime, *, stale_days: int = STALE_DAYS) -> Expected | None:
    """Estimate when the total is reached at which a turn is due; None where the meter was never read.

    `now` in the site's zone. It is the last reading plus what is left over the mean rate of at least two readings.
    """
    if use.next_at is None:
        return None
    found = forecast(totals.known, use.next_at)
    return Expected(forecast=found, age=age_of(found.last_at, now, days=stale_days))
