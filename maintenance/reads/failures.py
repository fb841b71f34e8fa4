"""Failures of the last twelve months by mechanism and by tag, from what is written at the end of corrective work."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from assets.models import Site
from maintenance.compute.failures import MECHANISMS, MODES
from maintenance.models import Failure, OrderState

YEAR = dt.timedelta(days=365)
MOST = 10


@dataclass(frozen=True, slots=True)
class Count:
    """A word and how often; `url` leads to what is counted."""

    word: str
    n: int
    url: str = ""
    shows: str = ""


@dataclass(frozen=True, slots=True)
class FailurePanel:
    """Failures counted; `n` is all of them, `more` how many tags are left out of the list."""

    since: dt.date
    n: int
    by_mechanism: tuple[Count, ...]
    by_tag: tuple[Count, ...]
    more: int


def failure_panel(site: Site, today: dt.date) -> FailurePanel:
    """Count the failures of work recorded as done in the last 365 days; one question."""
    since = today - YEAR
    begin = dt.datetime.combine(since, dt.time(0), tzinfo=site.zone)
    rows = (
        Failure.objects.filter(order__site=site, replaced_by__isnull=True, order__done_at__gte=begin)
        .exclude(order__state=OrderState.WITHDRAWN)
        .values_list("mechanism", "shows", "order__position__tag", "order__position__label_code", "order__asset__kind")
    )
    found = list(rows)
    mechanisms = Counter(mechanism for mechanism, *_ in found)
    tags = Counter((tag or kind or "", code or "") for _, _, tag, code, kind in found)
    ways: dict[str, Counter[str]] = {}
    for _, shows, tag, _, kind in found:
        ways.setdefault(tag or kind or "", Counter())[MODES[shows]] += 1
    by_tag = tuple(
        Count(tag, n, code, ", ".join(f"{way.lower()} {times}" for way, times in ways[tag].most_common()))
        for (tag, code), n in sorted(tags.items(), key=lambda one: (-one[1], one[0]))[:MOST]
    )
    return FailurePanel(
        since=since,
        n=len(found),
        by_mechanism=tuple(
            Count(MECHANISMS[word].split(":")[0], n)
            for word, n in sorted(mechanisms.items(), key=lambda one: (-one[1], list(MECHANISMS).index(one[0])))
        ),
        by_tag=by_tag,
        more=max(len(tags) - MOST, 0),
    )
