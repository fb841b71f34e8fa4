"""What checks tell a person in the morning message."""

from __future__ import annotations

from collections.abc import Iterator

from assets.models import Person, Role, Site
from assets.permissions import SUPERVISORS
from calibration.models import Draft
from calibration.reads.checks import failing_or_not_valid
from calibration.reads.drafts import title_of
from maintenance.hooks import DigestLine

MOST = 20


def tell_checks_of(site: Site, person: Person, role: Role) -> Iterator[DigestLine]:
    """Checks a person has begun and not signed; for supervisors also those that wait for their review."""
    drafts = Draft.objects.filter(site=site, person=person).select_related("requirement__position")
    for draft in drafts.order_by("begun_at")[:MOST]:
        yield DigestLine(f"{draft.requirement.position.tag}: {title_of(draft)}, begun and not signed")
    if role not in SUPERVISORS:
        return
    failed = failing_or_not_valid(site).exclude(recorded_by=person).exclude(sets__recorded_by=person)
    for check in failed.select_related("position").order_by("begun_at", "pk")[:MOST]:
        yield DigestLine(f"To review: {check}, {check.position.tag}", decide=True)
