"""What an instrument's own check does to its use as a standard: fit until its next due day, or not to be relied on."""

from __future__ import annotations

import datetime as dt

from assets import history
from assets.models import FitForUse, Person
from assets.permissions import OPERATORS, must_have_role
from calibration.models import Certificate, Check, Outcome, ReadingSet, StandardUse
from calibration.reads.consequences import owed_by, path_of
from calibration.reads.sheet import FAILING
from maintenance.models import Occurrence


def follow_own_check(*, of: ReadingSet, outcome: Outcome | None, by: Person) -> FitForUse | None:
    """Record whether an instrument that serves as a standard is fit by its own signed set; None where it says nothing.

    To be called after the routine was told, since the next due day follows from it. A failing as found also makes the
    offer to withdraw what was measured with it since its last good check.
    """
    check = of.check_of
    must_have_role(by, check.site, OPERATORS, to="record whether an instrument is fit for use")
    if outcome is None or not outcome.valid or check.asset is None:
        return None
    if not StandardUse.objects.filter(asset=check.asset, ended_at=None).exists():
        return None
    failed = outcome.verdict in FAILING
    until = None if failed else _until(check)
    owed = owed_by(of)
    if not failed and (owed is None or not owed.counts or until is None):
        return None
    with history.act(site=check.site, by=by) as act:
        row = act.add(
            FitForUse(
                asset=check.asset,
                fit=not failed,
                until=until,
                only_for=FitForUse.CALIBRATION,
                why=f"{'fails' if failed else 'passes'} its own check {check.number}, {of.kind}",
                source_path=path_of(check),
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        act.write("asset.own check", subject=check.asset, facts={"fit": row.fit, "until": until, "check": check.number})
    return row


def _until(check: Check) -> dt.date | None:
    """Return the next due day of its routine, but no later than its certificate lasts; None when either has passed."""
    due = Occurrence.objects.filter(plan=check.plan).open().order_by("due").values_list("due", flat=True).first()
    certificate = Certificate.objects.filter(asset=check.asset, accepted=True).first()
    days = [day for day in (due, certificate.until if certificate is not None else None) if day is not None]
    today = check.recorded_at.astimezone(check.site.zone).date()
    return min(days) if days and min(days) >= today else None
