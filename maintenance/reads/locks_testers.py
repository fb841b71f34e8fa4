"""Which testers are in date: what the checks of an instrument left behind is compared with the site's day here.

What is fit to calibrate with only (a bench meter, a measured tank) proves no absence of energy and is no tester.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from assets.compute.words import day_named
from assets.models import Asset, FitForUse, Site


@dataclass(frozen=True, slots=True)
class Tester:
    """An asset that may be named in a test, or why not (`refused` "" when it may)."""

    asset: Asset
    until: dt.date | None
    refused: str

    def __str__(self) -> str:
        return str(self.asset)


def tester_of(asset: Asset, *, today: dt.date) -> Tester:
    """Judge one asset on the site's day: the newest record counts, no record is no proof."""
    return _judged(asset, _of_testers().filter(asset=asset).first(), today)


def testers(site: Site, *, today: dt.date) -> list[Tester]:
    """Every standing asset of a site of which it was ever recorded that it is fit to test with."""
    once = FitForUse.objects.filter(fit=True, only_for="").values("asset")
    newest: dict[int, FitForUse] = {}
    rows = _of_testers().filter(asset__site=site, asset__retired_at=None, asset__in=once)
    for fit in rows.select_related("asset"):
        newest.setdefault(fit.asset_id, fit)
    return [_judged(fit.asset, fit, today) for fit in newest.values()]


def _of_testers() -> QuerySet[FitForUse]:
    """What is recorded of testers; whatever is not fit, by whichever check, is not fit to test with either."""
    return FitForUse.objects.filter(Q(only_for="") | Q(fit=False))


def _judged(asset: Asset, fit: FitForUse | None, today: dt.date) -> Tester:
    if fit is None:
        return Tester(asset, None, f"{asset}: no record that it is fit to test with. Use a tester that is in date.")
    if not fit.fit:
        return Tester(asset, fit.until, f"{asset} is not fit for use: {fit.why}. Use a tester that is in date.")
    if fit.until is None or fit.until < today:
        until = day_named(fit.until) if fit.until else "no day"
        return Tester(asset, fit.until, f"{asset} was in date until {until}. Use a tester that is in date.")
    return Tester(asset, fit.until, "")
