"""An instrument leaves the plant and comes back: to whom, why, with what, and in what condition."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets import history
from assets.actions.fittings import exchange_asset, take_out_asset
from assets.errors import Reason, Refusal
from assets.history import PLANT, Act, lock_site
from assets.models import Asset, FitForUse, Fitting, Person
from assets.permissions import OPERATORS, must_have_role
from calibration.models import Custody, StandardUse
from calibration.reads.custody import away_now


@dataclass(frozen=True, slots=True, kw_only=True)
class SendingTyped:
    """An instrument sent out: `sent_with` is the carrier or person; `loaner` takes its place where it was fitted."""

    sent_to: str
    why: str
    sent_with: str
    sent_on: dt.date
    due_back: dt.date
    loaner: Asset | None = None


def send_out(*, asset: Asset, sending: SendingTyped, by: Person) -> Custody:
    """Send an instrument out. Where it is fitted it is taken out in the same act, or exchanged for the loaner."""
    must_have_role(by, asset.site, OPERATORS, to="send an instrument out")
    with history.act(site=asset.site, by=by) as act:
        lock_site(PLANT, asset.site)
        fitted = Fitting.objects.filter(asset=asset).now().select_related("position").first()
        reasons = _faults(asset, sending, act.at.astimezone(asset.site.zone).date(), fitted)
        if reasons:
            raise Refusal(reasons)
        if fitted is not None and sending.loaner is not None:
            exchange_asset(position=fitted.position, asset=sending.loaner, by=by)
        elif fitted is not None:
            take_out_asset(position=fitted.position, by=by)
        row = act.add(
            Custody(
                asset=asset,
                sent_to=sending.sent_to.strip(),
                why=sending.why.strip(),
                sent_with=sending.sent_with.strip(),
                sent_on=sending.sent_on,
                due_back=sending.due_back,
                loaner=sending.loaner,
                taken_out_of=fitted.position.tag if fitted is not None else "",
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        _not_fit(act, asset, f"away at {row.sent_to} since {row.sent_on}")
        facts = {"to": row.sent_to, "why": row.why, "with": row.sent_with, "due_back": row.due_back}
        act.write("asset.sent out", subject=asset, facts=facts)
    return row


def _faults(asset: Asset, sending: SendingTyped, today: dt.date, fitted: Fitting | None) -> list[Reason]:
    reasons: list[Reason] = []
    for field, words, text in (
        ("sent_to", "Sent to", sending.sent_to),
        ("why", "Why", sending.why),
        ("sent_with", "Sent with", sending.sent_with),
    ):
        if not text.strip():
            reasons.append(Reason(f"{words}: nothing is written.", field))
    if sending.sent_on > today:
        reasons.append(Reason(f"Sent on: {sending.sent_on} has not come yet; write the day it left.", "sent_on"))
    if sending.due_back < sending.sent_on:
        reasons.append(Reason(f"Due back: {sending.due_back} is before the day it left.", "due_back"))
    if asset.retired_at is not None:
        reasons.append(Reason(f"{asset} is retired."))
    there = away_now(asset)
    if there is not None:
        reasons.append(Reason(f"{asset} is away already, at {there.sent_to}; write it back first."))
    return [*reasons, *_faults_of_loaner(asset, sending.loaner, fitted)]


def _faults_of_loaner(asset: Asset, loaner: Asset | None, fitted: Fitting | None) -> list[Reason]:
    if loaner is None:
        return []
    if loaner == asset:
        return [Reason("Fitted meanwhile: an instrument does not stand in for itself.", "loaner")]
    if fitted is None:
        return [Reason(f"Fitted meanwhile: {asset} is fitted nowhere, so nothing takes its place.", "loaner")]
    return []


def _not_fit(act: Act, asset: Asset, why: str) -> None:
    """What others rely on is not fit meanwhile; a probe or a pump nobody relies on needs no such word."""
    relied_on = StandardUse.objects.filter(asset=asset, ended_at=None).exists()
    if relied_on or FitForUse.objects.filter(asset=asset).exists():
        act.add(FitForUse(asset=asset, fit=False, why=why[:200], recorded_at=act.at, recorded_by=act.by))


def take_back(*, absence: Custody, back_on: dt.date, condition: str, certificate: str, by: Person) -> Custody:
    """Write that an instrument is back. It serves as a standard again once its certificate is accepted."""
    must_have_role(by, absence.asset.site, OPERATORS, to="write an instrument back")
    with history.act(site=absence.asset.site, by=by) as act:
        reasons: list[Reason] = []
        if back_on > act.at.astimezone(absence.asset.site.zone).date():
            reasons.append(Reason(f"Back on: {back_on} has not come yet; write the day it came.", "back_on"))
        if back_on < absence.sent_on:
            reasons.append(Reason(f"Back on: {back_on} is before the day it left, {absence.sent_on}.", "back_on"))
        if not condition.strip():
            sentence = "Condition: nothing is written. Look at it, and say how it came back."
            reasons.append(Reason(sentence, "condition"))
        if reasons:
            raise Refusal(reasons)
        act.close(
            absence,
            back_on=back_on,
            condition=condition.strip(),
            back_certificate=certificate.strip() or None,
            back_by=by,
            back_recorded_at=act.at,
        )
        _not_fit(act, absence.asset, f"back from {absence.sent_to} on {back_on}, not yet shown to be right")
        facts = {"on": back_on, "condition": condition, "certificate": certificate}
        act.write("asset.back", subject=absence.asset, facts=facts)
    return absence


def refuse_while_away(act: Act, fitting: Fitting) -> None:
    """Refuse to fit what is away; asked of every fitting, in the act that makes it."""
    there = away_now(fitting.asset)
    if there is not None:
        raise Refusal(
            f"{fitting.asset} is away at {there.sent_to} since {there.sent_on}; write it back before it is fitted.",
            field="asset",
        )
