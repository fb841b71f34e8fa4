"""Who signed in, and who was refused: on the chain of no site, since nobody is at a site yet."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from assets.history import act
from assets.models import Event, Person

# Names that nobody has are noted, but no more than this an hour: a program that guesses must not fill the disk.
UNKNOWN_AN_HOUR = 60


def record_sign_in(*, by: Person) -> None:
    """Note that a person signed in."""
    with act(site=None, by=by) as opened:
        opened.write("signed in", subject=by)


def record_refused_sign_in(*, sign_in: str, why: str, by: Person | None = None) -> None:
    """Note a refused sign-in; a name that nobody has is not written down, since people type passwords there too."""
    person = by or Person.objects.filter(sign_in=sign_in).first()
    if person is None:
        since = timezone.now() - dt.timedelta(hours=1)
        noted = Event.objects.filter(chain=0, verb="refused", by=None, subject_id="None", recorded_at__gte=since)
        if noted.count() >= UNKNOWN_AN_HOUR:
            return
    with act(site=None, by=person) as opened:
        subject = person or Person(name="unknown sign-in name")
        opened.write("refused", subject=subject, facts={"asked": "sign in", "reasons": [why]})
