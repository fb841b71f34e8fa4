"""What the checks of one instrument say together: charts, drift, advice on the interval, each with its n."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.chart import Picture
from assets.compute.chart_time import Limit, TimeFigures, time_picture
from assets.compute.chart_time import Result as Mark
from assets.compute.words import day_named
from calibration.compute.figures import shown
from calibration.compute.methods import METHODS
from calibration.compute.studies import baseline as base
from calibration.compute.studies.control_charts import cusum, ewma, in_sds, individuals_limits
from calibration.compute.studies.drift import Drift, MedianDrift, TooFew, drift, median_drift
from calibration.compute.studies.drift_advice import advise_from_drift
from calibration.compute.studies.intervals import advise_from_share
from calibration.compute.studies.proposal import Clamps, Proposal
from calibration.compute.studies.run_rules import signals
from calibration.compute.studies.staircase import staircase
from calibration.models import Baseline, IntervalDecision, PooledStudy, Requirement
from calibration.reads.line_kept import LineKept, line_kept
from calibration.reads.seen import (
    OF_LIMIT,
    Seen,
    as_found_of,
    choices_in,
    on_one_scale,
    points_of,
    seen_of,
    since_adjusted,
)
from calibration.reads.words import SHAPES
from maintenance.models import PlanTerm

TARGET = 0.95
"""Share of as found results inside the limit that is aimed at: common practice, no source."""

SHORTEST, LONGEST = Fraction(1, 4), Fraction(4)
"""How far one proposal may take an interval, as a share of it: a quarter to four times; own judgement."""

RULES = ("WE1", "WE2", "WE3", "WE4")
SLACK, DECISION = Fraction(1, 2), Fraction(5)
"""Slack and decision limit of the cumulative sums, in standard deviations: common practice, no source."""

SHARED = "The limit follows what was measured, so errors are taken in % of each check's own limit."

UNIT_DAYS = {"day": 1, "week": 7, "month": 30, "year": 365}


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """One advice on the interval in words, with what a person may do with it."""

    method: str
    days: int | None
    now: int
    n: int
    why: str
    model: str
    bounds: str
    clamped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Charted:
    """The charts of a figure, what the rules say, and where their limits come from."""

    pictures: tuple[Picture, ...]
    says: str
    signals: tuple[str, ...]
    baseline: Baseline | None


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Everything the page of a history shows."""

    figure: str
    unit: str
    seen: tuple[Seen, ...]
    charted: Charted | None
    drift_says: tuple[str, ...]
    advice: tuple[Advised, ...]
    advice_says: str
    pooled: dict[str, object] | None
    line: LineKept | None
    decisions: tuple[IntervalDecision, ...]
    choices: tuple[tuple[int, str], ...]


def history_of(requirement: Requirement) -> History:
    """Return what the history of a place says, by the headline of its method."""
    method = METHODS[requirement.method]
    seen = seen_of(requirement, method.headline)
    unit = seen[-1].unit if seen else ""
    scaled = on_one_scale(seen)
    study = PooledStudy.objects.filter(site=requirement.site, method=requirement.method).first()
    charted = None if "chart" in method.skipped_by else _charted(requirement, method.headline, scaled)
    advice, says = _advice(requirement, seen)
    return History(
        figure=method.headline.replace("_", " "),
        unit=unit,
        seen=seen,
        charted=charted,
        drift_says=() if "drift" in method.skipped_by else (*_drift_says(scaled), *_second_of(study, requirement)),
        advice=advice,
        advice_says=says,
        pooled={**json.loads(study.body), "made_at": study.made_at} if study is not None else None,
        line=line_kept(requirement),
        decisions=tuple(requirement.decisions.select_related("recorded_by").order_by("-recorded_at", "-pk")[:20]),
        choices=choices_in(seen, requirement),
    )


def _second_of(study: PooledStudy | None, requirement: Requirement) -> tuple[str, ...]:
    """Return the second opinion on drift as it was worked out last night."""
    said = json.loads(study.body).get("second", {}).get(str(requirement.pk), "") if study is not None else ""
    return (said,) if said else ()


def _charted(requirement: Requirement, figure: str, seen: Sequence[Seen]) -> Charted | None:
    if len(seen) < 2:
        return None
    row = Baseline.objects.filter(requirement=requirement, figure=figure).order_by("-recorded_at", "-pk").first()
    places = {one.set_id: number for number, one in enumerate(seen)}
    if row is None or row.first_id not in places or row.last_id not in places:
        says = "No limits are drawn: a person fixes a baseline of at least ten good checks first."
        return Charted(pictures=(_plain(requirement, seen, ()),), says=says, signals=(), baseline=None)
    points = points_of(seen)
    found = base.baseline(points, first=places[row.first_id], last=places[row.last_id])
    if isinstance(found, base.NoLimits):
        return Charted(pictures=(_plain(requirement, seen, ()),), says=found.says, signals=(), baseline=row)
    return _judged(requirement, seen, points, found, row)


def _judged(
    requirement: Requirement,
    seen: Sequence[Seen],
    points: Sequence[base.ChartPoint],
    found: base.Baseline,
    row: Baseline,
) -> Charted:
    limits = individuals_limits(found)
    if limits.mean_range == 0:
        says = "Every check of the baseline read the same: there is no spread to take limits from."
        return Charted(pictures=(_plain(requirement, seen, ()),), says=says, signals=(), baseline=row)
    watched = base.watched(points, found)
    after = list(watched.values)
    sd = (limits.high - limits.centre) / 3
    lines = (
        Limit(value=float(limits.high), name=f"{shown(limits.high, 3)} upper"),
        Limit(value=float(limits.centre), name=f"{shown(limits.centre, 3)} centre", advice=True),
        Limit(value=float(limits.low), name=f"{shown(limits.low, 3)} lower"),
    )
    broken = signals(in_sds(after, limits), rules=RULES)
    said = [f"{_which(seen, found.last + 1 + one.at)}: {one.says}." for one in broken]
    if sd > 0 and after:
        for number, sums in enumerate(cusum(after, target=limits.centre, slack=SLACK * sd, decision=DECISION * sd)):
            if sums.signal:
                said.append(f"{_which(seen, found.last + 1 + number)}: the cumulative sum runs off, {sums.signal}.")
                break
        mean = ewma(after, target=float(limits.centre), sd=float(sd))
        said += [
            f"{_which(seen, found.last + 1 + number)}: the moving mean is outside its limits."
            for number, one in enumerate(mean)
            if not one.low <= one.value <= one.high
        ][:1]
    ended = f" It ended when the instrument was {watched.ended}: fix a new one." if watched.ended else ""
    says = (
        f"Limits from the baseline of {limits.n} good checks, individuals and moving range; judged is what comes after "
        f"it, n = {len(after)}, never its own.{ended}"
    )
    return Charted(pictures=(_plain(requirement, seen, lines),), says=says, signals=tuple(said), baseline=row)


def _which(seen: Sequence[Seen], place: int) -> str:
    return f"Check {seen[place].check}"


def _plain(requirement: Requirement, seen: Sequence[Seen], limits: tuple[Limit, ...]) -> Picture:
    marks: list[Mark] = []
    before: Seen | None = None
    for one in seen:
        here = one.at.astimezone(requirement.site.zone)
        marks.append(
            Mark(
                at=here,
                value=float(one.value),
                shown=f"{one.shown} {one.unit}".strip(),
                when=day_named(here.date()),
                shape=SHAPES[one.verdict][1] if one.verdict in SHAPES else "notvalid",
                anew=f"{one.asset or 'none'} fitted" if before is not None and before.asset_id != one.asset_id else "",
            )
        )
        before = one
    caption = f"As found, check by check, n = {len(seen)}"
    return time_picture(
        TimeFigures(name="history", caption=caption, figure="As found", results=tuple(marks), limits=limits)
    )


def _drift_says(seen: Sequence[Seen]) -> tuple[str, ...]:
    limit = seen[-1].limit if seen else None
    if limit is None:
        return ("Nothing is judged by a limit here, so no drift towards one can be said.",)
    found = drift(since_adjusted(seen), limit=limit)
    said = [SHARED] if seen[-1].unit == OF_LIMIT else []
    if isinstance(found, TooFew):
        said.append(found.says)
    elif isinstance(found, Drift):
        said.append(f"Least squares, n = {found.n}: {_rate(found, seen[-1].unit)} in 30 days. {found.says}")
    return tuple(said)


def _rate(found: Drift, unit: str) -> str:
    places = 1 if unit == OF_LIMIT else 4
    return f"{shown(found.slope * 30, places, plus=True)} {unit}".strip()


def second_opinion(seen: Sequence[Seen]) -> str:
    """Say what the median of slopes makes of the newest stretch; heavy to begin with, so asked at night only."""
    second = median_drift(since_adjusted(on_one_scale(seen)))
    if not isinstance(second, MedianDrift):
        return ""
    return f"Second opinion by the median of slopes, n = {second.n}: {second.says}"


def interval_days(requirement: Requirement) -> int | None:
    """Return the interval of the routine that asks for a check, in days; None without one."""
    if requirement.plan_id is None:
        return None
    term = PlanTerm.objects.filter(plan_id=requirement.plan_id).order_by("-from_day", "-pk").first()
    return term.every * UNIT_DAYS.get(term.unit, 1) if term is not None else None


def _advice(requirement: Requirement, seen: Sequence[Seen]) -> tuple[tuple[Advised, ...], str]:
    now = interval_days(requirement)
    if now is None:
        return (), "No routine asks for this check, so there is no interval to advise on."
    results = as_found_of(seen)
    if not results:
        return (), "Too few checks to say: an interval is advised from as found results, two at least."
    current = Fraction(now)
    clamps = Clamps(shortest=current * SHORTEST, longest=current * LONGEST)
    found = [staircase(results, current=current, clamps=clamps)]
    found.append(advise_from_share(results, current=current, target=TARGET, clamps=clamps))
    scaled = on_one_scale(seen)
    limit = scaled[-1].limit if scaled else None
    if limit is not None:
        points = since_adjusted(scaled)
        found.append(advise_from_drift(points, limit=limit, expanded=Fraction(0), current=current, clamps=clamps))
    return tuple(_advised(one) for one in found if one is not None), ""


def _advised(one: Proposal) -> Advised:
    bounds = ""
    if one.low is not None and one.high is not None and one.confidence is not None:
        bounds = f"{100 * one.confidence:.0f} % limits {one.low:.0f} to {one.high:.0f} days"
    return Advised(
        method=one.method,
        days=None if one.days is None else max(1, int(one.days)),
        now=int(one.current),
        n=one.n,
        why=one.why,
        model=one.model,
        bounds=bounds,
        clamped=one.clamped,
    )


def advice_named(requirement: Requirement, method: str) -> Advised | None:
    """Return the advice of one method as it is now; None where it has none."""
    advice, _ = _advice(requirement, seen_of(requirement, METHODS[requirement.method].headline))
    return next((one for one in advice if one.method == method), None)
