"""Assets: the list of them, and where one has been fitted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Prefetch, Q

from assets.models import Asset, FitForUse, Fitting, Reading
from assets.permissions import SUPERVISORS, Desk
from assets.queries import AssetQuerySet

FILTERS = {"": "All", "fitted": "Fitted", "free": "Fitted nowhere", "retired": "Retired"}
COLUMNS = ("kind", "serial", "model", "fitted at", "fitted from", "retired", "note")


@dataclass(frozen=True, slots=True)
class AssetRow:
    """One asset and where it sits now."""

    asset: Asset
    fitting: Fitting | None


def assets_of(desk: Desk, which: str, found: Q) -> AssetQuerySet:
    """Return the assets of a filter (a word of FILTERS, a condition) by kind and serial."""
    rows = Asset.objects.at(desk.site).filter(found)
    rows = rows.filter(retired_at__isnull=False) if which == "retired" else rows.standing()
    if which == "free":
        rows = rows.free()
    if which == "fitted":
        rows = rows.filter(pk__in=Fitting.objects.now().filter(asset__site=desk.site).values("asset"))
    return rows.prefetch_related(Prefetch("fittings", Fitting.objects.now().select_related("position"), to_attr="now"))


def asset_rows(rows: Iterable[Asset]) -> tuple[AssetRow, ...]:
    """Return assets of `assets_of` as rows of the list."""
    return tuple(AssetRow(asset, asset.now[0] if asset.now else None) for asset in rows)  # type: ignore[attr-defined]


def asset_cells(rows: Iterable[Asset], zone: dt.tzinfo) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for assets of `assets_of`."""
    for row in asset_rows(rows):
        at = row.fitting
        yield (
            *(row.asset.kind, row.asset.serial, row.asset.model, at.position.tag if at else ""),
            at.from_at.astimezone(zone).date().isoformat() if at else "",
            row.asset.retired_at.astimezone(zone).date().isoformat() if row.asset.retired_at else "",
            row.asset.note,
        )


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
