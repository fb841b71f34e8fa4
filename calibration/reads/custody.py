"""What is away: for the pages of a tag and of its routines, and for the review."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.urls import reverse

from assets.compute.words import day_named
from assets.models import Asset, Position, Site
from calibration.models import Custody


@dataclass(frozen=True, slots=True)
class Away:
    """An instrument that is away: its words, where to and since when, and where to write it back."""

    asset: str
    said: str
    due_back: dt.date
    overdue: int
    url: str


def away_now(asset: Asset) -> Custody | None:
    """Return the open absence of an instrument; None while it is here."""
    return Custody.objects.filter(asset=asset, back_on=None).first()


def _away(row: Custody, today: dt.date) -> Away:
    loaner = f"; {row.loaner} is fitted meanwhile" if row.loaner is not None else ""
    said = f"away at {row.sent_to} since {day_named(row.sent_on)}: {row.why}{loaner}"
    late = max((today - row.due_back).days, 0)
    return Away(str(row.asset), said, row.due_back, late, reverse("calibration:instrument", args=[row.asset_id]))


def away_of_position(position: Position, today: dt.date) -> tuple[Away, ...]:
    """Return what was taken out of a tag and is away: its routines say so."""
    rows = Custody.objects.filter(asset__site=position.site_id, back_on=None, taken_out_of=position.tag)
    return tuple(_away(row, today) for row in rows.select_related("asset", "loaner"))


def away_of_asset(asset: Asset, today: dt.date) -> Away | None:
    """Return where an instrument is, when it is away: routines that follow it say so."""
    row = Custody.objects.filter(asset=asset, back_on=None).select_related("asset", "loaner").first()
    return _away(row, today) if row is not None else None


def away_at(site: Site, today: dt.date, *, overdue: bool = False) -> tuple[Away, ...]:
    """Return everything of a site that is away, soonest due back first; with `overdue` only what should be back."""
    rows = Custody.objects.filter(asset__site=site, back_on=None).select_related("asset", "loaner")
    if overdue:
        rows = rows.filter(due_back__lt=today)
    return tuple(_away(row, today) for row in rows.order_by("due_back", "pk"))
