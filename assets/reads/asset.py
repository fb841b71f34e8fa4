"""Assets: the list of them, and where one has been fitted."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch

from assets.models import Asset, FitForUse, Fitting, Reading
from assets.permissions import SUPERVISORS, Desk

FILTERS = {"all": "All", "fitted": "Fitted", "free": "Fitted nowhere", "retired": "Retired"}
ROWS_A_PAGE = 50


@dataclass(frozen=True, slots=True)
class AssetRow:
    """One asset and where it sits now."""

    asset: Asset
    fitting: Fitting | None


@dataclass(frozen=True, slots=True)
class AssetsPage:
    """One page of the list of assets."""

    which: str
    title: str
    rows: tuple[AssetRow, ...]
    first: int
    more: bool


def assets_page(desk: Desk, which: str = "all", *, start: int = 0) -> AssetsPage:
    """Return up to fifty assets from a row on, by kind and serial."""
    which = which if which in FILTERS else "all"
    rows = Asset.objects.at(desk.site)
    rows = rows.filter(retired_at__isnull=False) if which == "retired" else rows.standing()
    if which == "free":
        rows = rows.free()
    if which == "fitted":
        rows = rows.filter(pk__in=Fitting.objects.now().filter(asset__site=desk.site).values("asset"))
    now = Prefetch("fittings", Fitting.objects.now().select_related("position"), to_attr="now")
    found = list(rows.prefetch_related(now)[start : start + ROWS_A_PAGE + 1])
    shown = tuple(AssetRow(asset, asset.now[0] if asset.now else None) for asset in found[:ROWS_A_PAGE])  # type: ignore[attr-defined]
    return AssetsPage(which, FILTERS[which], shown, start, len(found) > ROWS_A_PAGE)


@dataclass(frozen=True, slots=True)
class AssetPage:
    """One asset: where it is and was fitted, what was read from it, whether it may be relied on."""

    asset: Asset
    fitted: Fitting | None
    fittings: tuple[Fitting, ...]
    readings: tuple[Reading, ...]
    fitness: FitForUse | None
    is_fit: bool
    may_keep: bool


def asset_page(desk: Desk, asset: Asset) -> AssetPage:
    """Return what the plant knows of one asset."""
    fittings = tuple(asset.fittings.select_related("position", "from_by", "to_by"))
    newest = asset.fitness.first()
    readings = Reading.objects.standing().filter(asset=asset).select_related("recorded_by")
    return AssetPage(
        asset=asset,
        fitted=next((fitting for fitting in fittings if fitting.to_at is None), None),
        fittings=fittings,
        readings=tuple(readings[:20]),
        fitness=newest,
        is_fit=bool(newest and newest.fit and newest.until is not None and newest.until >= desk.today),
        may_keep=desk.may(SUPERVISORS) and asset.retired_at is None,
    )
