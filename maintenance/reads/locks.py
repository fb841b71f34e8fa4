"""What the pages of locks show: the list, one lockout, and what other pages say of a tag's locks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Q, QuerySet
from django.utils import timezone

from assets.compute.words import count_of
from assets.models import AccessLink, Company, Event, Fitting, Person, Position, Site
from assets.permissions import OPERATORS, Desk
from assets.queries import PositionQuerySet
from maintenance.compute.lockout import (
    Fits,
    Foreign,
    Hung,
    Note,
    Run,
    Source,
    Standing,
    Story,
    fits,
    is_locked,
    is_relieved,
    is_set,
    run_of,
    run_over_limit,
    standing,
    test_of,
)
from maintenance.compute.lockout_log import Line, log
from maintenance.compute.lockout_next import Headline, Next, headline, next_act
from maintenance.compute.lockout_off import fits_question
from maintenance.compute.lockout_steps import Step, steps
from maintenance.models import Application, Lockout
from maintenance.permissions.locks import is_qualified, path_of
from maintenance.queries import LockoutQuerySet
from maintenance.reads.locks_procedures import version_in_force
from maintenance.reads.locks_story import hung_of, locks_of_anyone, stories_of, story_of


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One source of energy with what is recorded of it."""

    source: Source
    is_set: bool
    is_locked: bool
    is_relieved: bool
    test: Note | None


@dataclass(frozen=True)
class LockoutView:
    """One lockout as read at one moment; everything shown of it is computed from the story."""

    lockout: Lockout
    story: Story
    now: dt.datetime

    @cached_property
    def stand(self) -> Standing:
        """What it amounts to."""
        return standing(self.story)

    @cached_property
    def headline(self) -> Headline:
        """What is true now, in one line."""
        return headline(self.story)

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """Its steps."""
        return steps(self.story)

    @property
    def steps_done(self) -> int:
        """How many steps are done."""
        return sum(step.is_done for step in self.steps)

    @cached_property
    def rows(self) -> tuple[SourceRow, ...]:
        """Its sources of energy."""
        story = self.story
        return tuple(
            SourceRow(
                s,
                is_set(story, s),
                s.point_id is not None and is_locked(story, s),
                is_relieved(story, s),
                test_of(story, s),
            )
            for s in story.sources
        )

    @property
    def log(self) -> tuple[Line, ...]:
        """Its log, oldest first."""
        return log(self.story)

    @property
    def recent_off(self) -> tuple[Hung, ...]:
        """Locks that came off and did not go on again in this lockout, newest first."""
        on = {h.lock_id for h in self.story.on}
        newest = {h.lock_id: h for h in self.story.hung if not h.is_on and h.lock_id not in on}
        return tuple(sorted(newest.values(), key=lambda h: -(h.off_number or 0)))

    @property
    def point_locks(self) -> tuple[Hung, ...]:
        """Locks on points now."""
        return self.story.points_on

    @property
    def known_locks(self) -> int:
        """How many different locks are on or came off since the locks went on last."""
        return len(self.story.on) + len(self.recent_off)

    @property
    def question(self) -> str:
        """The open question whether the procedure fits, "" when none is open."""
        return fits_question(self.story) if fits(self.story) is Fits.OPEN else ""

    @property
    def run(self) -> Run:
        """Where a test run stands."""
        return run_of(self.story)

    @property
    def alarms(self) -> tuple[str, ...]:
        """What somebody of the plant has to see to at once; none of it takes a lock off."""
        return alarms_of(self.story, self.now)


def alarms_of(story: Story, now: dt.datetime) -> tuple[str, ...]:
    """Alarms of one lockout in sentences."""
    if story.closed_at is not None:
        return ()
    found = []
    if story.withdrawn_because:
        found.append(f"Revision {story.revision} was withdrawn as unsafe: {story.withdrawn_because}. Stop work.")
    if not story.in_charge_may:
        found.append(
            f"{story.in_charge.name} no longer works here. Nobody is in charge: stop work until somebody takes charge."
        )
    if run_over_limit(story, now):
        found.append("The test run lasts longer than was said. Energy is on and nobody is protected.")
    if fits(story) is Fits.NO:
        found.append("The procedure was said not to fit what is fitted. Stop work.")
    return tuple(found)


def view_of(lockout: Lockout, *, now: dt.datetime | None = None) -> LockoutView:
    """Read one lockout for a page."""
    return LockoutView(lockout, story_of(lockout), now or timezone.now())


@dataclass(frozen=True, slots=True)
class Invited:
    """A contractor with an open link to a lockout."""

    person: Person
    made_at: dt.datetime


@dataclass(frozen=True, slots=True)
class LockoutPage:
    """The page of a lockout for one person of the plant."""

    view: LockoutView
    next: Next
    anyone: tuple[Foreign, ...]
    fitted: Fitting | None
    invited: tuple[Invited, ...]
    companies: tuple[Company, ...]
    refusals: tuple[Event, ...]
    qualified: bool
    may_work: bool


def lockout_page(desk: Desk, lockout: Lockout) -> LockoutPage:
    """Read everything the page of a lockout shows."""
    view = view_of(lockout)
    links = AccessLink.objects.filter(site=desk.site, path=path_of(lockout), closed_at=None).select_related(
        "person__company"
    )
    refused = Event.objects.about(lockout).filter(verb="refused").select_related("by")[:20]
    fitted = Fitting.objects.now().filter(position=lockout.position).select_related("asset").first()
    return LockoutPage(
        view=view,
        next=next_act(view.story, desk.person.pk),
        anyone=locks_of_anyone(lockout.position, lockout=lockout),
        fitted=fitted,
        invited=tuple(Invited(link.person, link.made_at) for link in links.order_by("made_at")),
        companies=tuple(_companies_with_locks_on(lockout)),
        refusals=tuple(refused),
        qualified=is_qualified(desk.person, desk.site, desk.today),
        may_work=desk.may(OPERATORS),
    )


def _companies_with_locks_on(lockout: Lockout) -> QuerySet[Company]:
    """Outside employers of those whose lock is on: what happens to a lock left behind is theirs to decide."""
    on = Application.objects.on().filter(lockout=lockout)
    return Company.objects.filter(people__applications__in=on).distinct()


@dataclass(frozen=True, slots=True)
class ListRow:
    """One lockout in the list."""

    lockout: Lockout
    view: LockoutView
    since: dt.datetime
    owners: tuple[str, ...]

    @property
    def age(self) -> str:
        """How long the oldest lock, or else the lockout, has been on."""
        hours = int((self.view.now - self.since).total_seconds() // 3600)
        return f"{hours // 24} days" if hours >= 48 else count_of(hours, "hour") if hours else "under an hour"


@dataclass(frozen=True, slots=True)
class LocksPage:
    """The list of locks: what is locked now, what is closed and not available, alarms."""

    locked: tuple[ListRow, ...]
    begun: tuple[ListRow, ...]
    not_available: tuple[ListRow, ...]
    alarms: tuple[tuple[ListRow, str], ...]


SHOWN = {"": "Now", "ended": "Closed and taken back"}
LOCKOUT_COLUMNS = (
    *("lockout", "tag", "why", "state", "locks on", "in charge", "work order", "begun", "closed", "taken back"),
)


def locks_page(desk: Desk, found: Q | None = None) -> LocksPage:
    """Read the list of now, of lockouts that a condition finds; it has no pages, so that no lock is on a second one.

    The number of queries does not depend on how many lockouts there are.
    """
    rows = list_rows(lockouts_now(desk.site).filter(found or Q()))
    open_rows = [row for row in rows if row.lockout.closed_at is None]
    return LocksPage(
        locked=tuple(row for row in open_rows if row.view.story.on),
        begun=tuple(row for row in open_rows if not row.view.story.on),
        not_available=tuple(row for row in rows if row.lockout.closed_at is not None),
        alarms=tuple((row, alarm) for row in open_rows for alarm in row.view.alarms),
    )


def with_procedure(site: Site, found: Q) -> PositionQuerySet:
    """Tags with a written energy procedure, at which a lockout may be begun, in walking order."""
    return Position.objects.at(site).standing().filter(found, procedure__isnull=False).in_walking_order()


def lockouts_now(site: Site) -> LockoutQuerySet:
    """Open lockouts, and closed ones that had a lock on and are not accepted."""
    hung = Lockout.objects.at(site).filter(closed_at__isnull=False, applications__isnull=False)
    waiting = hung.exclude(entries__kind="available").distinct()
    return Lockout.objects.at(site).filter(
        pk__in=[*Lockout.objects.at(site).open().values_list("pk", flat=True), *waiting.values_list("pk", flat=True)]
    )


def lockouts_ended(site: Site) -> LockoutQuerySet:
    """Lockouts that keep nothing from running any more, the newest first."""
    now = lockouts_now(site).values("pk")
    return Lockout.objects.at(site).exclude(pk__in=now).order_by("-number")


def of_pks(lockouts: Iterable[Lockout]) -> LockoutQuerySet:
    """The same lockouts to be read anew: those of one page of a list."""
    return Lockout.objects.filter(pk__in=[row.pk for row in lockouts])


def list_rows(lockouts: LockoutQuerySet) -> list[ListRow]:
    """Rows of the list for lockouts, the oldest lock first."""
    stories = stories_of(lockouts)
    now = timezone.now()
    found = []
    for lockout in lockouts.select_related("position__area", "box", "in_charge", "order", "version"):
        story = stories[lockout.pk]
        since = min((h.on_at for h in story.on), default=lockout.begun_at)
        owners = tuple(dict.fromkeys(str(h.owner) for h in story.on))
        found.append(ListRow(lockout, LockoutView(lockout, story, now), since, owners))
    return sorted(found, key=lambda row: row.since)


def lockout_cells(rows: Iterable[ListRow], zone: dt.tzinfo) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for rows of the list."""
    for row in rows:
        one, story = row.lockout, row.view.story
        back = max((note.at for note in story.notes if note.kind == "available"), default=None)
        yield (
            *(str(one.number), one.position.tag, one.why, row.view.headline.word),
            "; ".join(f"{h.lock} ({h.owner.name}) on {h.place}" for h in story.on),
            *(story.in_charge.name, str(one.order.number) if one.order else ""),
            *(_iso(at, zone) for at in (one.begun_at, one.closed_at, back)),
        )


def _iso(at: dt.datetime | None, zone: dt.tzinfo) -> str:
    return at.astimezone(zone).strftime("%Y-%m-%d %H:%M") if at is not None else ""


def locks_on_position(position: Position) -> tuple[Hung, ...]:
    """Locks of anyone that keep a position from running, for pages that show work on it."""
    rows = Application.objects.stopping(position).select_related("lock", "applied_by", "point", "box")
    return tuple(hung_of(row) for row in rows.order_by("applied_at", "pk"))


@dataclass(frozen=True, slots=True)
class TagLocks:
    """What the page of a tag says of locks."""

    position: Position
    anyone: tuple[Foreign, ...]
    rows: tuple[ListRow, ...]
    has_procedure: bool
    revision: int | None
    may_begin: bool


def tag_locks(desk: Desk, position: Position) -> TagLocks:
    """Locks of anyone on a tag's points, its open lockouts, and whether a procedure is in force."""
    version = version_in_force(position)
    return TagLocks(
        position=position,
        anyone=locks_of_anyone(position),
        rows=tuple(list_rows(lockouts_now(desk.site).filter(position=position))),
        has_procedure=hasattr(position, "procedure"),
        revision=version.revision if version else None,
        may_begin=version is not None and desk.may(OPERATORS),
    )


@dataclass(frozen=True, slots=True)
class TodayLocks:
    """What Today says of locks: every lockout that is open or not yet accepted, one's own locks first."""

    rows: tuple[ListRow, ...]
    own: tuple[tuple[ListRow, Hung], ...]
    alarms: tuple[tuple[ListRow, str], ...]


def today_locks(desk: Desk) -> TodayLocks:
    """Read the locks for Today."""
    rows = tuple(list_rows(lockouts_now(desk.site)))
    own = tuple((row, h) for row in rows for h in row.view.story.on if h.owner.id == desk.person.pk)
    return TodayLocks(rows, own, tuple((row, alarm) for row in rows for alarm in row.view.alarms))
