"""Which asset sits where: fitted, taken out, exchanged; one act is the record of both sides."""

from __future__ import annotations

import datetime as dt

from assets import hooks
from assets.errors import Refusal
from assets.history import PLANT, Act, act, lock_site
from assets.models import Asset, Fitting, Person, Position
from assets.permissions import OPERATORS, must_have_role


def fit_asset(*, position: Position, asset: Asset, by: Person, at: dt.datetime | None = None) -> Fitting:
    """Fit an asset at a position, now or at an earlier moment (aware); refused where either is taken."""
    must_have_role(by, position.site, OPERATORS, to="fit an asset")
    with act(site=position.site, by=by) as opened:
        lock_site(PLANT, position.site)
        fitting = add_fitting(opened, position=position, asset=asset, at=at)
        opened.write("asset.fitted", subject=position, facts=_told(asset), happened_at=fitting.from_at)
        tell_fitted(opened, fitting)
    return fitting


def take_out_asset(*, position: Position, by: Person, at: dt.datetime | None = None) -> Fitting:
    """Take out what is fitted at a position, now or at an earlier moment (aware)."""
    must_have_role(by, position.site, OPERATORS, to="take an asset out")
    with act(site=position.site, by=by) as opened:
        lock_site(PLANT, position.site)
        fitting = _close(opened, position, by=by, at=at)
        opened.write("asset.taken out", subject=position, facts=_told(fitting.asset), happened_at=fitting.to_at)
        _tell_taken_out(opened, fitting)
    return fitting


def exchange_asset(*, position: Position, asset: Asset, by: Person, at: dt.datetime | None = None) -> Fitting:
    """Take out what is fitted and fit another asset at the same moment."""
    must_have_role(by, position.site, OPERATORS, to="exchange an asset")
    with act(site=position.site, by=by) as opened:
        lock_site(PLANT, position.site)
        old = _close(opened, position, by=by, at=at)
        fitting = add_fitting(opened, position=position, asset=asset, at=old.to_at)
        facts = {"out": str(old.asset), "in": str(asset)}
        opened.write("asset.exchanged", subject=position, facts=facts, happened_at=fitting.from_at)
        _tell_taken_out(opened, old)
        tell_fitted(opened, fitting)
    return fitting


def add_fitting(opened: Act, *, position: Position, asset: Asset, at: dt.datetime | None) -> Fitting:
    """Add a fitting to an open act under the plant's lock, without an event of its own and without the hooks."""
    moment = _moment(opened, at)
    if asset.site_id != position.site_id:
        raise Refusal("This asset belongs to another site.", field="asset")
    if asset.retired_at is not None:
        raise Refusal(f"{asset} is retired.", field="asset")
    if position.retired_at is not None:
        raise Refusal(f"{position.tag} is retired.")
    here = Fitting.objects.filter(position=position).now().select_related("asset").first()
    if here is not None:
        raise Refusal(f"{here.asset} is fitted at {position.tag} already; take it out, or exchange it.", field="asset")
    there = Fitting.objects.filter(asset=asset).now().select_related("position").first()
    if there is not None:
        raise Refusal(f"{asset} is fitted at {there.position.tag}; take it out there first.", field="asset")
    row = Fitting(position=position, asset=asset, from_at=moment, from_by=opened.by, recorded_at=opened.at)
    return opened.add(row)


def _close(opened: Act, position: Position, *, by: Person, at: dt.datetime | None) -> Fitting:
    here = Fitting.objects.filter(position=position).now().select_related("asset", "position").first()
    if here is None:
        raise Refusal(f"Nothing is fitted at {position.tag}.")
    moment = _moment(opened, at)
    if moment <= here.from_at:
        raise Refusal(f"{here.asset} was fitted only after that moment; look at the day and the time.", field="at")
    return opened.close(here, to_at=moment, to_by=by, to_recorded_at=opened.at)


def _moment(opened: Act, at: dt.datetime | None) -> dt.datetime:
    # A person who types the minute that has just begun means now.
    if at is not None and at > opened.at + dt.timedelta(minutes=1):
        raise Refusal("That moment has not come yet; write when it was done.", field="at")
    return min(at or opened.at, opened.at)


def _told(asset: Asset) -> dict[str, object]:
    return {"asset": str(asset)}


def tell_fitted(opened: Act, fitting: Fitting) -> None:
    """Let the apps above act on a new fitting, in the same transaction."""
    for tell in hooks.after_fit:
        tell(opened, fitting)


def _tell_taken_out(opened: Act, fitting: Fitting) -> None:
    for tell in hooks.after_take_out:
        tell(opened, fitting)
