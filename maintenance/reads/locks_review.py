"""What Review says of locks: alarms, people whose training or role ended with a lock on, questions, approvals."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from assets.models import Membership, Person, Qualification
from assets.permissions import Desk
from maintenance.compute.lockout import Hung, Who
from maintenance.models import ProcedureVersion
from maintenance.reads.locks import ListRow, today_locks


@dataclass(frozen=True, slots=True)
class Lapsed:
    """A lock that is on although its owner's role or training ended: it stays, somebody has to see to it."""

    row: ListRow
    hung: Hung
    why: str


@dataclass(frozen=True, slots=True)
class ReviewLocks:
    """What waits for a look or a decision."""

    alarms: tuple[tuple[ListRow, str], ...]
    lapsed: tuple[Lapsed, ...]
    questions: tuple[ListRow, ...]
    to_approve: tuple[ProcedureVersion, ...]

    @property
    def waiting(self) -> int:
        """How many things wait."""
        return len(self.alarms) + len(self.lapsed) + len(self.questions) + len(self.to_approve)


def review_locks(desk: Desk) -> ReviewLocks:
    """Read the locks for Review."""
    today = today_locks(desk)
    return ReviewLocks(
        alarms=today.alarms,
        lapsed=tuple(_lapsed(desk, today.rows)),
        questions=tuple(row for row in today.rows if row.view.question and row.lockout.closed_at is None),
        to_approve=tuple(_undecided(desk)),
    )


def _lapsed(desk: Desk, rows: tuple[ListRow, ...]) -> list[Lapsed]:
    on = [(row, h) for row in rows for h in row.view.story.on]
    owners = {h.owner.id for _, h in on}
    here = Membership.objects.now().filter(site=desk.site, person__in=owners)
    roles = set(here.values_list("person_id", flat=True))
    trained = Qualification.objects.on(desk.today).filter(site=desk.site, kind="lockout", person__in=owners)
    fit = set(trained.values_list("person_id", flat=True))
    active = set(Person.objects.filter(pk__in=owners, is_active=True).values_list("pk", flat=True))
    found = []
    for row, h in on:
        why = _why(h.owner, active=active, roles=roles, trained=fit)
        if why:
            found.append(Lapsed(row, h, why))
    return found


def _why(owner: Who, *, active: set[int], roles: set[int], trained: set[int]) -> str:
    if owner.id not in active or owner.id not in roles:
        return f"{owner.name} has no role here any more"
    return "" if owner.id in trained else f"the lockout training of {owner.name} is not in force"


def _undecided(desk: Desk) -> list[ProcedureVersion]:
    """The newest revision of each procedure, where nobody has approved or withdrawn it."""
    newer = ProcedureVersion.objects.filter(procedure=OuterRef("procedure"), revision__gt=OuterRef("revision"))
    rows = ProcedureVersion.objects.filter(procedure__position__site=desk.site, decisions__isnull=True)
    return list(rows.filter(~Exists(newer)).select_related("procedure__position", "written_by").order_by("written_at"))
