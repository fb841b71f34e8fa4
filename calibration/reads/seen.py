"""The valid as found results of a place, oldest first, as everything that is said of a history reads them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from assets.compute.words import day_named
from calibration.compute.figures import shown
from calibration.compute.studies import baseline as base
from calibration.compute.studies.drift import DriftPoint
from calibration.compute.studies.proposal import AsFound
from calibration.models import ReadingSet, Requirement

OF_LIMIT = "% of its limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One valid as found set of the history; `error` is from the middle of its limits, `limit` half their width."""

    set_id: int
    check: int
    at: dt.datetime
    value: Fraction
    error: Fraction
    shown: str
    unit: str
    verdict: str
    limit: Fraction | None
    asset: str
    asset_id: int | None
    adjusted_after: bool
    version: str
    term_id: int


def seen_of(requirement: Requirement, figure: str) -> tuple[Seen, ...]:
    """Return the valid as found results of a place, oldest first; corrected and withdrawn checks left out."""
    sets = (
        ReadingSet.objects.filter(check_of__requirement=requirement, kind="as found", outcome__valid=True)
        .filter(check_of__replaced_by__isnull=True, check_of__withdrawals__isnull=True)
        .select_related("outcome", "check_of__asset")
        .prefetch_related("outcome__figures", "check_of__sets__entries")
        .order_by("performed_at", "pk")
    )
    return tuple(one for of in sets if (one := _seen(of, figure)) is not None)


def _seen(of: ReadingSet, figure: str) -> Seen | None:
    found = next((one for one in of.outcome.figures.all() if one.name == figure), None)
    if found is None:
        return None
    judged = next((one for one in json.loads(of.outcome.judged)["values"] if one["name"] == figure), None)
    check = of.check_of
    left = next((one for one in check.sets.all() if one.kind == "as left"), None)
    middle, limit = _middle_and_limit(judged)
    done = {entry.text for entry in left.entries.all() if entry.quantity == "done"} if left is not None else set()
    return Seen(
        set_id=of.pk,
        check=check.number,
        at=of.performed_at,
        value=Fraction(found.exact),
        error=Fraction(found.exact) - middle,
        shown=found.shown,
        unit=found.unit,
        verdict=of.outcome.verdict,
        limit=limit,
        asset=check.asset_label,
        asset_id=check.asset_id,
        adjusted_after=bool(done & {"adjusted", "both"}),
        version=of.outcome.method_version.partition(".")[0],
        term_id=of.outcome.term_id,
    )


def _middle_and_limit(judged: dict[str, str | None] | None) -> tuple[Fraction, Fraction | None]:
    """Return the middle of the limits and half their width; a least value alone leaves no error to speak of."""
    low, high = (judged["low"], judged["high"]) if judged is not None else (None, None)
    if high is None:
        return Fraction(0), None
    if low is None:
        return Fraction(0), Fraction(high)
    return (Fraction(low) + Fraction(high)) / 2, (Fraction(high) - Fraction(low)) / 2


def on_one_scale(seen: Sequence[Seen]) -> tuple[Seen, ...]:
    """Return checks whose errors may be held side by side: as they are, or in % of each check's own limit.

    The limit follows the reading where checks under the same terms have different ones (a percentage of the value, a
    second standard).
    """
    limits = {(one.term_id, one.limit) for one in seen if one.limit is not None}
    if len(limits) == len({term for term, _ in limits}):
        return tuple(seen)
    return tuple(_share(one, 100 * one.error / one.limit) for one in seen if one.limit)


def _share(one: Seen, share: Fraction) -> Seen:
    told = shown(share, 0, plus=True)
    return replace(one, value=share, error=share, limit=Fraction(100), shown=told, unit=OF_LIMIT)


def points_of(seen: Sequence[Seen]) -> tuple[base.ChartPoint, ...]:
    """Return a history as points of a chart: what was changed just before each."""
    points = []
    for before, one in zip((None, *seen), seen, strict=False):
        change: base.Change = ""
        if before is not None and before.asset_id != one.asset_id:
            change = "swapped"
        elif before is not None and before.version != one.version:
            change = "method changed"
        elif before is not None and before.adjusted_after:
            change = "adjusted"
        points.append(base.ChartPoint(value=one.value, good=one.verdict.endswith("pass"), change=change))
    return tuple(points)


def since_adjusted(seen: Sequence[Seen]) -> tuple[DriftPoint, ...]:
    """Return the newest stretch without a change: days since it began, and the as found error."""
    points = points_of(seen)
    begin = max((number for number, point in enumerate(points) if point.change), default=0)
    stretch = seen[begin:]
    if not stretch:
        return ()
    # Just adjusted at the check before the stretch: that is where its days count from.
    start = seen[begin - 1].at if begin else stretch[0].at
    return tuple(DriftPoint(days=_days(start, one.at), error=one.error) for one in stretch)


def as_found_of(seen: Sequence[Seen]) -> tuple[AsFound, ...]:
    """Return as found results with the days since the check before; the first has none and is left out."""
    return tuple(
        AsFound(days=_days(before.at, one.at), error=one.error, limit=one.limit)
        for before, one in zip(seen, seen[1:], strict=False)
        if one.limit is not None and one.asset_id == before.asset_id
    )


def _days(one: dt.datetime, other: dt.datetime) -> Fraction:
    return Fraction(int((other - one).total_seconds()), 86400)


def choices_in(seen: Sequence[Seen], requirement: Requirement) -> tuple[tuple[int, str], ...]:
    """Return results to choose from, as (set, words)."""
    return tuple((one.set_id, f"{_day(one.at, requirement)}, check {one.check}: {one.shown}") for one in seen)


def _day(at: dt.datetime, requirement: Requirement) -> str:
    return day_named(at.astimezone(requirement.site.zone).date())
