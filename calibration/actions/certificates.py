"""Certificates of carried tools and meters: until when an asset may be relied on."""

from __future__ import annotations

import datetime as dt
import re

from assets import history
from assets.errors import Reason, Refusal
from assets.models import Asset, FitForUse, Person
from assets.permissions import SUPERVISORS, must_have_role

SHA_256 = re.compile(r"[0-9a-f]{64}")


def accept_certificate(
    *, asset: Asset, from_day: dt.date, until: dt.date, issuer: str, number: str, file_hash: str, by: Person
) -> FitForUse:
    """Accept a certificate: the asset is fit for use until its last day.

    `file_hash` is the SHA-256 of the file in hex, empty when there is only paper; the file itself is kept elsewhere.
    """
    must_have_role(by, asset.site, SUPERVISORS, to="accept a certificate")
    with history.act(site=asset.site, by=by) as act:
        today = act.at.astimezone(asset.site.zone).date()
        reasons = _faults(asset, from_day, until, today, issuer, number, file_hash)
        if reasons:
            raise Refusal(reasons)
        row = act.add(
            FitForUse(
                asset=asset,
                fit=True,
                until=until,
                why=f"certificate {number.strip()} of {issuer.strip()}, from {from_day}"[:200],
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        facts = {"from": from_day, "until": until, "issuer": issuer, "number": number, "file_hash": file_hash}
        act.write("certificate.accepted", subject=asset, facts=facts)
    return row


def _faults(
    asset: Asset, from_day: dt.date, until: dt.date, today: dt.date, issuer: str, number: str, file_hash: str
) -> list[Reason]:
    reasons: list[Reason] = []
    if not number.strip():
        reasons.append(Reason("Number: nothing is written. Write the number printed on the certificate.", "number"))
    if not issuer.strip():
        reasons.append(Reason("Issued by: nothing is written. Write who issued the certificate.", "issuer"))
    if from_day > today:
        reasons.append(Reason(f"From: {from_day} has not come yet; a certificate counts from its own day.", "from_day"))
    if until < from_day:
        reasons.append(Reason(f"Until: {until} is before the day it begins, {from_day}.", "until"))
    elif until < today:
        reasons.append(Reason(f"Until: {until} is past, so {asset} is out of date by this certificate.", "until"))
    if file_hash and not SHA_256.fullmatch(file_hash):
        reasons.append(Reason("File: its fingerprint is not a SHA-256 of 64 characters.", "file"))
    if asset.retired_at is not None:
        reasons.append(Reason(f"{asset} is retired; a retired asset is not relied on."))
    return reasons


def withdraw_fitness(*, asset: Asset, why: str, by: Person) -> FitForUse:
    """Record that an asset must not be relied on from now, and why: it fell, failed a check, is being repaired."""
    must_have_role(by, asset.site, SUPERVISORS, to="say that an asset must not be relied on")
    if not why.strip():
        raise Refusal("Because: nothing is written. Say why it must not be relied on.", field="why")
    with history.act(site=asset.site, by=by) as act:
        row = act.add(FitForUse(asset=asset, fit=False, why=why.strip()[:200], recorded_at=act.at, recorded_by=by))
        act.write("asset.not fit", subject=asset, facts={"why": why})
    return row
