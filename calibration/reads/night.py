"""Nightly comparisons: each signed check against what it counts for, and what may no longer be relied on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from assets.models import FitForUse, Site
from calibration.models import Check, ReadingSet
from calibration.reads.consequences import key_of, owed_by
from calibration.reads.recall import recall_keys
from maintenance.models import Performance

CHECKS = "checks"
FITNESS = "fit for use"
TOGETHER = 500


def differences(site: Site) -> Iterator[str]:
    """Yield a sentence for each check that counts for something else than its signed sets say. Changes nothing."""
    performances = {
        row.key: row
        for row in Performance.objects.filter(plan__site=site, key__startswith="check-").select_related("plan")
    }
    replaced = set(
        Performance.objects.filter(plan__site=site, replaces__isnull=False).values_list("replaces_id", flat=True)
    )
    sets = (
        ReadingSet.objects.filter(check_of__site=site, check_of__plan__isnull=False)
        .select_related("check_of__plan", "check_of__replaced_by", "outcome")
        .prefetch_related("check_of__withdrawals")
        .order_by("pk")
    )
    for of in sets.iterator(TOGETHER):
        yield from _of_set(of, performances, replaced)
    yield from _asked_by_none(site, performances)


def _of_set(of: ReadingSet, performances: dict[str, Performance], replaced: set[int]) -> Iterator[str]:
    check = of.check_of
    key = key_of(check, of.kind)
    owed, there = owed_by(of), performances.get(key)
    name = f"check {check.number}, {of.kind}"
    if owed is None:
        if there is not None:
            yield f"{name}: is counted for {there.plan.title}, but a set like this counts for nothing"
        return
    if there is None:
        yield f"{name}: {check.plan} was told nothing of it"
        return
    if (there.counts, there.performed_at, there.plan_id) != (owed.counts, owed.performed_at, check.plan_id):
        yield f"{name}: is recorded at {check.plan} with another time or another word whether it counts"
    if hasattr(check, "replaced_by") and there.counts and there.pk not in replaced:
        yield f"{name}: was corrected by check {check.replaced_by.number}, but still counts"
    if there.counts and there.pk not in replaced and check.withdrawals.all():
        yield f"{name}: what it relied on was withdrawn, but it still counts"


def _asked_by_none(site: Site, performances: dict[str, Performance]) -> Iterator[str]:
    """Yield performances in a check's name that belongs to no signed part of one."""
    checks = Check.objects.at(site).prefetch_related("sets")
    known = {key_of(check, of.kind) for check in checks.iterator(TOGETHER) for of in check.sets.all()}
    known |= {key_of(check, "withdraws") for check in Check.objects.at(site).filter(replaces__isnull=False)}
    known |= recall_keys(site)
    for key in sorted(set(performances) - known):
        yield f"{performances[key].source_label}: stands at {performances[key].plan}, but no check signed it"


def lapsed(site: Site, today: dt.date) -> Iterator[str]:
    """Yield each asset in use whose newest certificate ended before a day."""
    newest: dict[int, FitForUse] = {}
    rows = FitForUse.objects.filter(asset__site=site, asset__retired_at__isnull=True).select_related("asset")
    for row in rows.order_by("recorded_at", "pk"):
        newest[row.asset_id] = row
    for row in newest.values():
        if row.fit and row.until is not None and row.until < today:
            yield f"{row.asset}: may not be relied on since {row.until}, the last day of its {row.why}"
