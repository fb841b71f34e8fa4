"""Who may see and change locks: fetchers of the pages, and predicates the actions ask again themselves."""

from __future__ import annotations

import datetime as dt

from assets.errors import NotAllowed, Refusal
from assets.models import AccessLink, Person, Qualification, Role, Site
from assets.permissions import OPERATORS, Desk, found, role_of
from assets.proofs import Proof
from maintenance.models import (
    Application,
    IsolationPoint,
    Lock,
    LockBox,
    Lockout,
    LockoutLine,
    PointOfPosition,
    ProcedureVersion,
)


def lockout_for(desk: Desk, number: int) -> Lockout:
    """A lockout of the asking person's site, by its number."""
    rows = Lockout.objects.at(desk.site).select_related(
        "site", "position__area", "version", "box", "in_charge", "order"
    )
    return found(rows, number=number)


def line_of(lockout: Lockout, pk: int) -> LockoutLine:
    """A line of a lockout."""
    return found(LockoutLine.objects.filter(lockout=lockout).select_related("point"), pk=pk)


def application_of(lockout: Lockout, pk: int) -> Application:
    """A lock record of a lockout."""
    rows = Application.objects.filter(lockout=lockout)
    return found(rows.select_related("lock", "applied_by", "point", "box", "lockout__site"), pk=pk)


def point_for(desk: Desk, pk: int) -> IsolationPoint:
    """An isolation point of the asking person's site."""
    return found(IsolationPoint.objects.filter(site=desk.site).select_related("site"), pk=pk)


def service_for(desk: Desk, pk: int) -> PointOfPosition:
    """That a point of the asking person's site serves a position."""
    rows = PointOfPosition.objects.filter(point__site=desk.site).select_related("point__site", "position")
    return found(rows, pk=pk)


def version_for(desk: Desk, pk: int) -> ProcedureVersion:
    """A revision of a procedure of the asking person's site."""
    rows = ProcedureVersion.objects.filter(procedure__position__site=desk.site)
    return found(rows.select_related("procedure__position__site", "written_by", "written_for"), pk=pk)


def lock_for(desk: Desk, pk: int) -> Lock:
    """A lock of the register of the asking person's site."""
    return found(Lock.objects.filter(site=desk.site).select_related("site", "issued_to", "issuer"), pk=pk)


def box_for(desk: Desk, pk: int) -> LockBox:
    """A lock box of the asking person's site."""
    return found(LockBox.objects.filter(site=desk.site), pk=pk)


def is_qualified(person: Person, site: Site, day: dt.date) -> bool:
    """Whether a lockout qualification of the person is in force on a day at the site."""
    return Qualification.objects.on(day).filter(person=person, site=site, kind="lockout").exists()


def must_be_qualified(person: Person, site: Site, *, at: dt.datetime, to: str) -> None:
    """Refuse an act that takes lockout training to somebody whose training is not in force on the site's day."""
    day = at.astimezone(site.zone).date()
    if not is_qualified(person, site, day):
        raise NotAllowed(f"To {to} takes lockout training in force; for {person.name} none is recorded on {day}.")


def open_link(person: Person, lockout: Lockout) -> AccessLink | None:
    """The contractor's open link to this lockout."""
    rows = AccessLink.objects.filter(site=lockout.site, person=person, closed_at__isnull=True)
    return rows.filter(path=path_of(lockout)).first()


def path_of(lockout: Lockout) -> str:
    """The path a contractor's link opens: that of the lockout."""
    return f"/locks/{lockout.number}/"


def must_be_on_the_job(person: Person, lockout: Lockout, *, to: str) -> None:
    """Refuse at any door what takes an operator of the plant, or a contractor invited to this very lockout."""
    role = role_of(person, lockout.site)
    if role in OPERATORS:
        return
    if role != Role.CONTRACTOR or open_link(person, lockout) is None:
        raise NotAllowed(f"To {to} takes an operator or supervisor, or a contractor invited to this lockout.")


def must_be_own(proof: Proof, person: Person) -> None:
    """Refuse a proof that is another person's: a lock is a person's, never a sign-in's."""
    if proof.person_id != person.pk:
        raise Refusal("The proof is another person's: each proves who they are for themselves.", field="proof")


def is_on_the_job(person: Person, lockout: Lockout) -> bool:
    """Whether a person may act in a lockout now, for what a page offers; the actions ask again."""
    return role_of(person, lockout.site) in OPERATORS or open_link(person, lockout) is not None
