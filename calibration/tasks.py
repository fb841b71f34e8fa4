"""What runs by itself for checks: sweeps that do the same when run twice or late, and repair nothing."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils import timezone

from assets.actions.night import report_night
from assets.models import Site
from assets.reads.night import night_of
from calibration.actions.studies import store_pooled
from calibration.reads.night import CHECKS, FITNESS, differences, lapsed
from calibration.reads.pooled import pooled_body, pooled_results

NAMED = 50


def nightly() -> str:
    """Compare the checks of every site whose night has begun with what they count for, and name what has lapsed."""
    said = []
    for site in Site.objects.order_by("pk"):
        day = night_of(site, CHECKS, timezone.now())
        if day is not None:
            said.append(_report(site, CHECKS, differences(site)))
        day = night_of(site, FITNESS, timezone.now())
        if day is not None:
            said.append(_report(site, FITNESS, lapsed(site, day)))
            _pool(site)
    return "; ".join(said) or "nothing to do"


def _pool(site: Site) -> None:
    """Work out what like instruments say together, once a night after the comparisons."""
    for pool in pooled_results(site):
        store_pooled(site=site, method=pool.method, body=pooled_body(pool), by=None)


def _report(site: Site, kind: str, found: Iterable[str]) -> str:
    sentences = list(found)
    rest = [f"and {len(sentences) - NAMED} more"] if len(sentences) > NAMED else []
    day = timezone.now().astimezone(site.zone).date()
    text = "\n".join(sentences[:NAMED] + rest)
    report_night(site=site, kind=kind, site_day=day, differences=len(sentences), text=text, by=None)
    return f"{site}, {kind}: {len(sentences)}"
