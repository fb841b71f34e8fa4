"""A contractor at work: who holds the link, which lockout it opens, and what it still lets them do."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.http import Http404
from django.utils import timezone

from assets.errors import NotAllowed
from assets.models import AccessLink, Person, Site
from maintenance.compute.lockout import Story
from maintenance.compute.lockout_job import Life, life_of
from maintenance.models import Application, Lock, Lockout
from maintenance.reads.locks_story import story_of

JOB_IN_SESSION = "job_link"
PATH = re.compile(r"/locks/(\d+)/")


@dataclass(frozen=True, slots=True)
class Job:
    """One contractor's way into one lockout, as it stands now."""

    link: AccessLink
    lockout: Lockout
    story: Story
    life: Life

    @property
    def person(self) -> Person:
        """Whose link it is."""
        return self.link.person

    @property
    def site(self) -> Site:
        """The plant."""
        return self.link.site

    @property
    def is_live(self) -> bool:
        """Whether it still lets its holder do anything."""
        return self.life is Life.LIVE

    def must_be_live(self) -> None:
        """Refuse an act by a link that can only be read."""
        if not self.is_live:
            raise NotAllowed(
                "Your lock is off and your part is closed: this link is for reading only. To go in again, stop and ask "
                f"{self.story.in_charge} for a new one; a lock of yours goes on first."
            )


def link_by_hash(token_hash: str) -> AccessLink:
    """The link that a secret address belongs to; what ended or never was looks the same."""
    link = AccessLink.objects.filter(token_hash=token_hash, closed_at__isnull=True).first()
    if link is None:
        raise Http404("This link has ended or never was. Ask the person in charge of your job for a new one.")
    return link


def job_of(link_id: object) -> Job:
    """The job of the link kept in a browser's session; 404 when it has ended."""
    rows = AccessLink.objects.select_related("person__company", "site")
    link = rows.filter(pk=link_id).first() if isinstance(link_id, int) else None
    named = PATH.fullmatch(link.path) if link is not None else None
    if link is None or named is None:
        raise Http404("Open the link that you were sent for your job.")
    lockouts = Lockout.objects.at(link.site).select_related("site", "position", "version", "box", "in_charge", "order")
    lockout = lockouts.filter(number=int(named.group(1))).first()
    if lockout is None:
        raise Http404("This job is not there any more. Ask the person in charge of it.")
    story = story_of(lockout)
    life = life_of(story, link.person_id, closed=link.closed_at is not None, now=timezone.now())
    if life is Life.ENDED:
        raise Http404("This link has ended. Ask the person in charge of your job for a new one.")
    return Job(link, lockout, story, life)


def own_application(job: Job, pk: int) -> Application:
    """A lock record of this job, whoever's it is: whether it comes off is for the rules to say."""
    rows = Application.objects.filter(lockout=job.lockout, pk=pk)
    row = rows.select_related("lock", "applied_by", "point", "box", "lockout__site").first()
    if row is None:
        raise Http404("There is no such lock on this job.")
    return row


def free_locks(job: Job) -> list[Lock]:
    """The contractor's own registered locks that hang nowhere."""
    own = Lock.objects.filter(site=job.site, issued_to=job.person, lost_at__isnull=True)
    return list(own.exclude(applications__removed_at__isnull=True, applications__isnull=False).order_by("number"))
