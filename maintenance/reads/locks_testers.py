"""Which testers are in date: what the checks of an instrument left behind is compared with the site's day here."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

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
    """Every standing asset of a site of which something is recorded."""
    newest: dict[int, FitForUse] = {}
    for fit in FitForUse.objects.filter(asset__site=site, asset__retired_at=None).select_related("asset"):
        newest.setdefault(fit.asset_id, fit)
    return [_judged(fit.asset, fit, today) for fit in newest.values()]


def _judged(asset: Asset, fit: FitForUse | None, today: dt.date) -> Tester:
    if fit is None:
        return Tester(asset, None, f"{asset}: no record that it is fit to test with. Use a tester that is in date.")
    if not fit.fit:
        return Tester(asset, fit.until, f"{asset} is not fit for use: {fit.why}. Use a tester that is in date.")
    if fit.until is None or fit.until < today:
        until = f"{fit.until:%Y-%m-%d}" if fit.until else "no day"
        return Tester(asset, fit.until, f"{asset} was in date until {until}. Use a tester that is in date.")
    return Tester(asset, fit.until, "")
