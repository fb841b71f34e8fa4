"""What like instruments of a site say together of their interval: heavy, so worked out at night and kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from assets.models import Site
from calibration.compute.methods import METHODS
from calibration.compute.studies.intervals import interval_test
from calibration.compute.studies.pooled import AgeAtTarget, compare, grouped_by_age
from calibration.compute.studies.proposal import FEWEST, AsFound
from calibration.models import Requirement
from calibration.reads.history import TARGET, second_opinion
from calibration.reads.seen import as_found_of, seen_of

FAR = 10
"""Times the greatest age at which anything was checked; an age beyond is not shown: own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Like instruments of one method: how many places, their as found results, what drift's second opinion says."""

    method: str
    places: int
    results: tuple[AsFound, ...]
    second: Mapping[str, str]


def pooled_results(site: Site) -> Iterator[Pool]:
    """Yield the instruments of each method that can be pooled and is used here."""
    rows = Requirement.objects.filter(site=site).order_by("method", "pk")
    by_method: dict[str, list[Requirement]] = {}
    for row in rows:
        by_method.setdefault(row.method, []).append(row)
    for code, requirements in by_method.items():
        if "pooling" in METHODS[code].skipped_by:
            continue
        seen = {row.pk: seen_of(row, METHODS[code].headline) for row in requirements}
        second = {str(pk): said for pk, history in seen.items() if (said := second_opinion(history))}
        results = tuple(one for history in seen.values() for one in as_found_of(history))
        yield Pool(method=code, places=len(requirements), results=results, second=second)


def pooled_body(pool: Pool) -> dict[str, Any]:
    """Return what pooled as found results say, as the page shows it: n, share inside, each model, or too few to say."""
    results = pool.results
    n, inside = len(results), sum(one.inside for one in results)
    body: dict[str, Any] = {
        "places": pool.places,
        "n": n,
        "inside": inside,
        "models": [],
        "second": dict(pool.second),
    }
    place = "place" if pool.places == 1 else "places"
    if n < FEWEST:
        return {
            **body,
            "says": f"Too few to say: {n} as found results of {pool.places} {place}; at least {FEWEST} are needed.",
        }
    test = interval_test(inside, n, target=TARGET)
    groups = grouped_by_age(_whole_days(results))
    answers = compare(groups, target=TARGET) if inside < n else ()
    furthest = FAR * max(group.age for group in groups)
    return {
        **body,
        "says": test.says if test.rejected else f"{test.says} Not enough evidence to change the interval.",
        "models": [_model_said(one, furthest) for one in answers],
    }


def _model_said(one: AgeAtTarget, furthest: float) -> dict[str, str]:
    told = one.age <= furthest
    return {
        "model": one.fit.model,
        "days": f"{one.age:.0f}" if told else "too far off to say",
        "bounds": f"{one.low:.0f} to {one.high:.0f}" if told and one.low is not None and one.high is not None else "",
        "aic": f"{one.fit.aic:.1f}",
        "says": one.says,
    }


def _whole_days(results: tuple[AsFound, ...]) -> tuple[AsFound, ...]:
    """Count ages in whole days, at least one: two checks of one day are two results of one age."""
    return tuple(
        AsFound(days=max(Fraction(1), Fraction(round(one.days))), error=one.error, limit=one.limit) for one in results
    )
