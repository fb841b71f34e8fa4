"""What a contractor's page shows: the pump, every lock, their own, what is answered, what still stops them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from assets.models import Company
from maintenance.compute.lockout import Fits, Foreign, Hung, Run, Who, run_of
from maintenance.compute.lockout_job import Left, left, own_locks, own_on, read_until, waits_to_put_on
from maintenance.compute.lockout_off import answer_to, counts_after, questions_of, stops_asking, stops_by, stops_off
from maintenance.models import Lock
from maintenance.permissions.locks_job import Job, free_locks
from maintenance.reads.locks import LockoutView
from maintenance.reads.locks_acceptance import checks_before_use
from maintenance.reads.locks_story import locks_of_anyone


@dataclass(frozen=True, slots=True)
class Answered:
    """A question with the answer that counts now."""

    topic: str
    by: str
    at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPage:
    """The page of a contractor's job. `own` is their lock that is on, `was` the last one that came off."""

    view: LockoutView
    own: Hung | None
    own_others: tuple[Hung, ...]
    was: Hung | None
    others: tuple[Hung, ...]
    anyone: tuple[Foreign, ...]
    answered: tuple[Answered, ...]
    asked: int
    stops: tuple[str, ...]
    waits: tuple[str, ...]
    stops_run: tuple[str, ...]
    left: tuple[Left, ...]
    locks: tuple[Lock, ...]
    phones: tuple[Who, ...]
    companies: tuple[Company, ...]
    read_until: dt.datetime | None
    is_working: bool
    swapped: bool

    @property
    def run(self) -> Run:
        """Where a test run stands."""
        return run_of(self.view.story)

    @property
    def is_available(self) -> bool:
        """Whether operations took the machine back."""
        return bool(self.view.story.told("available"))


def job_page(job: Job) -> JobPage:
    """Read the page of a job for the holder of its link."""
    story, person = job.story, job.person.pk
    now = timezone.now()
    view = LockoutView(job.lockout, story, now)
    on = own_on(story, person)
    own = min(on, key=lambda h: (h.box_id is None, h.number), default=None)
    off = [h for h in own_locks(story, person) if not h.is_on]
    others = tuple(h for h in story.on if h.owner.id != person)
    anyone = locks_of_anyone(job.lockout.position, lockout=job.lockout)
    checks = tuple(item.plan.title for item in checks_before_use(job.lockout.position))
    return JobPage(
        view=view,
        own=own,
        own_others=tuple(h for h in on if h != own),
        was=max(off, key=lambda h: h.off_number or 0, default=None),
        others=others,
        anyone=anyone,
        answered=_answered(job, own, now),
        asked=len(questions_of(story)),
        stops=tuple(r.sentence for r in stops_off(story, own, by=person, now=now)) if own else (),
        waits=waits_to_put_on(story),
        stops_run=tuple(r.sentence for r in stops_asking(story)),
        left=left(story, anyone=anyone, checks=checks),
        locks=tuple(free_locks(job)),
        phones=tuple(dict.fromkeys([story.in_charge, *(h.owner for h in others)])),
        companies=(job.person.company,) if job.person.company else (),
        read_until=read_until(story, person) if not job.is_live else None,
        is_working=any(w.id == person for w in view.stand.may_work),
        swapped=view.stand.fits is not Fits.NOT_ASKED,
    )


def _answered(job: Job, own: Hung | None, now: dt.datetime) -> tuple[Answered, ...]:
    if own is None:
        return ()
    after = counts_after(job.story, own)
    found = []
    for topic in questions_of(job.story):
        note = answer_to(job.story, topic, after=after, by=own.owner)
        if note is not None and not stops_by(job.story, topic, after=after, by=own.owner, now=now):
            found.append(Answered(topic, note.by.name, note.at))
    fitted = [n for n in job.story.told("fits") if job.story.fitted and n.fitting_id == job.story.fitted.fitting_id]
    if fitted:
        last = fitted[-1]
        found.append(
            Answered(
                f"Procedure fits {job.story.fitted.name if job.story.fitted else ''}: {last.answer}",
                f"{last.by.name} for the plant",
                last.at,
            )
        )
    return tuple(found)
