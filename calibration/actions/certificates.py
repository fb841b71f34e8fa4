"""Certificates of carried tools and meters: until when an asset may be relied on."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from assets import history
from assets.compute.canonical import canonical
from assets.compute.units import UnknownUnit, unit_of
from assets.errors import Reason, Refusal
from assets.models import Asset, FitForUse, Person
from assets.permissions import SUPERVISORS, must_have_role
from calibration.models import Certificate, Correction, StandardUse
from calibration.reads.certificates import intake_faults

SHA_256 = re.compile(r"[0-9a-f]{64}")


def accept_certificate(
    *, asset: Asset, from_day: dt.date, until: dt.date, issuer: str, number: str, file_hash: str, by: Person
) -> FitForUse:
    """Accept a certificate: the asset is fit for use until its last day.

    `file_hash` is the SHA-256 of the file in hex, empty when there is only paper; the file itself is kept elsewhere.
    """
    must_have_role(by, asset.site, SUPERVISORS, to="accept a certificate")
    if StandardUse.objects.filter(asset=asset, ended_at=None).exists():
        raise Refusal(f"{asset} serves as a standard: its certificates are taken in there, question by question.")
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


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateTyped:
    """A certificate as it reads, numbers as typed. `corrections`: (shown value, what to add); `asked`: code, answer."""

    number: str
    issuer: str
    calibrated_on: dt.date
    until: dt.date
    unit: str
    accreditation: str = ""
    in_scope: bool = False
    method: str = ""
    as_found_given: bool = False
    as_left_given: bool = False
    value: str = ""
    uncertainty: str = ""
    coverage: str = ""
    file_hash: str = ""
    corrections: Sequence[tuple[str, str]] = ()
    asked: Mapping[str, str] = field(default_factory=dict)


def take_in_certificate(
    *, asset: Asset, read: CertificateTyped, accepted: bool, because: str, by: Person
) -> Certificate:
    """Take in a certificate of an instrument that serves as a standard, accepted or refused by who looked at it.

    Accepted: the instrument is fit for use until its last day. Refused, with a reason: it must not be relied on.
    """
    must_have_role(by, asset.site, SUPERVISORS, to="take in a certificate")
    with history.act(site=asset.site, by=by) as act:
        today = act.at.astimezone(asset.site.zone).date()
        reasons = _faults(
            asset, read.calibrated_on, read.until, today, read.issuer, read.number, read.file_hash, strict=accepted
        )
        reasons += intake_faults(read, asset, accepted=accepted, because=because)
        if reasons:
            raise Refusal(reasons)
        row = act.add(_row(asset, read, because, act.at, by, accepted=accepted))
        act.add_all([Correction(certificate=row, shown=a.strip(), correction=b.strip()) for a, b in read.corrections])
        act.add(
            FitForUse(
                asset=asset,
                fit=accepted,
                until=read.until if accepted else None,
                only_for=FitForUse.CALIBRATION,
                why=_why(row)[:200],
                source_path=f"/standards/instruments/{asset.pk}/",
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        facts = {"number": row.number, "issuer": row.issuer, "accepted": accepted, "why": row.because}
        act.write("certificate.taken in", subject=asset, facts=facts)
    return row


def _row(
    asset: Asset, read: CertificateTyped, because: str, at: dt.datetime, by: Person, *, accepted: bool
) -> Certificate:
    return Certificate(
        asset=asset,
        number=read.number.strip(),
        issuer=read.issuer.strip(),
        accreditation=read.accreditation.strip(),
        in_scope=read.in_scope,
        method=read.method.strip(),
        as_found_given=read.as_found_given,
        as_left_given=read.as_left_given,
        value=read.value.strip(),
        uncertainty=read.uncertainty.strip(),
        coverage=read.coverage.strip(),
        unit=_unit(read.unit),
        calibrated_on=read.calibrated_on,
        until=read.until,
        file_hash=read.file_hash,
        accepted=accepted,
        because=because.strip(),
        asked=canonical(dict(read.asked)),
        recorded_at=at,
        recorded_by=by,
    )


def _why(row: Certificate) -> str:
    if row.accepted:
        return f"certificate {row.number} of {row.issuer}, from {row.calibrated_on}"
    return f"certificate {row.number} of {row.issuer} was refused: {row.because}"


def _faults(
    asset: Asset,
    from_day: dt.date,
    until: dt.date,
    today: dt.date,
    issuer: str,
    number: str,
    file_hash: str,
    *,
    strict: bool = True,
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
    elif until < today and strict:
        reasons.append(Reason(f"Until: {until} is past, so {asset} is out of date by this certificate.", "until"))
    if file_hash and not SHA_256.fullmatch(file_hash):
        reasons.append(Reason("File: its fingerprint is not a SHA-256 of 64 characters.", "file"))
    if asset.retired_at is not None:
        reasons.append(Reason(f"{asset} is retired; a retired asset is not relied on."))
    return reasons


def _unit(typed: str) -> str:
    """The unit of a certificate as it is kept; one that no table knows stays as printed, and counts for no method."""
    try:
        return unit_of(typed).code if typed.strip() else ""
    except UnknownUnit:
        return typed.strip()


def withdraw_fitness(*, asset: Asset, why: str, by: Person) -> FitForUse:
    """Record that an asset must not be relied on from now, and why: it fell, failed a check, is being repaired."""
    must_have_role(by, asset.site, SUPERVISORS, to="say that an asset must not be relied on")
    if not why.strip():
        raise Refusal("Because: nothing is written. Say why it must not be relied on.", field="why")
    with history.act(site=asset.site, by=by) as act:
        row = act.add(FitForUse(asset=asset, fit=False, why=why.strip()[:200], recorded_at=act.at, recorded_by=by))
        act.write("asset.not fit", subject=asset, facts={"why": why})
    return row
