"""Which testers are in date: what the checks of an instrument left behind is compared with the site's day here."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

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
    return _judged(asset, FitForUse.objects.filter(asset=asset).first(), today)


def testers(site: Site, *, today: dt.date) -> list[Tester]:
    """Every asset of a site of which something is recorded, in one query for them and one for the records."""
    newest = FitForUse.objects.filter(asset=OuterRef("pk")).values("pk")[:1]
    rows = Asset.objects.at(site).standing().annotate(newest_fit=Subquery(newest)).exclude(newest_fit=None)
    fit = FitForUse.objects.in_bulk([row.newest_fit for row in rows])
    return [_judged(row, fit[row.newest_fit], today) for row in rows]


def _judged(asset: Asset, fit: FitForUse | None, today: dt.date) -> Tester:
    if fit is None:
        return Tester(asset, None, f"{asset}: no record that it is fit to test with. Use a tester that is in date.")
    if not fit.fit:
        return Tester(asset, fit.until, f"{asset} is not fit for use: {fit.why}. Use a tester that is in date.")
    if fit.until is None or fit.until < today:
        until = f"{fit.until:%Y-%m-%d}" if fit.until else "no day"
        return Tester(asset, fit.until, f"{asset} was in date until {until}. Use a tester that is in date.")
    return Tester(asset, fit.until, "")
