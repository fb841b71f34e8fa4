"""The people of a site."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch

from assets.models import Company, Membership, Person, Qualification, Role
from assets.permissions import PEOPLE_KEEPERS, Desk, may_keep

ORDER = (Role.SUPERVISOR, Role.OPERATOR, Role.VIEWER, Role.ADMINISTRATOR, Role.CONTRACTOR)


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person, their role and what they are qualified for today."""

    person: Person
    role: str
    qualified: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PeopleGroup:
    """The people of one role."""

    title: str
    rows: tuple[PersonRow, ...]


@dataclass(frozen=True, slots=True)
class PeoplePage:
    """The people of a site by role, those who left, and the companies known here."""

    groups: tuple[PeopleGroup, ...]
    left: tuple[Person, ...]
    companies: tuple[Company, ...]
    may_keep: bool


def people_page(desk: Desk) -> PeoplePage:
    """Return who has which role here now, and who had one."""
    today = Qualification.objects.on(desk.today).filter(site=desk.site)
    prefetch = Prefetch("person__qualifications", today, to_attr="holding")
    held = Membership.objects.now().filter(site=desk.site).select_related("person__company").prefetch_related(prefetch)
    rows: dict[str, list[PersonRow]] = {role: [] for role in ORDER}
    for membership in held.order_by("person__name"):
        person = membership.person
        kinds = tuple(q.get_kind_display() for q in person.holding)  # type: ignore[attr-defined]
        rows[membership.role].append(PersonRow(person, Role(membership.role).label, kinds))
    groups = tuple(
        PeopleGroup(Role(role).label.capitalize() + "s", tuple(found)) for role, found in rows.items() if found
    )
    here = Membership.objects.now().filter(site=desk.site).values("person")
    left = Person.objects.filter(memberships__site=desk.site).exclude(pk__in=here).distinct()
    return PeoplePage(
        groups=groups,
        left=tuple(left.select_related("company")),
        companies=tuple(Company.objects.filter(site=desk.site)),
        may_keep=desk.may(PEOPLE_KEEPERS),
    )


@dataclass(frozen=True, slots=True)
class PersonPage:
    """One person: roles here from when to when, qualifications, what the asking person may change."""

    person: Person
    role: str
    memberships: tuple[Membership, ...]
    qualifications: tuple[Qualification, ...]
    may_keep: bool
    may_rule: bool


def person_page(desk: Desk, person: Person) -> PersonPage:
    """Return what is known of one person at this site."""
    memberships = tuple(
        person.memberships.filter(site=desk.site).select_related("from_by", "to_by").order_by("-from_at")
    )
    now = next((m for m in memberships if m.to_at is None), None) if person.is_active else None
    qualified = person.qualifications.filter(site=desk.site).select_related("recorded_by", "withdrawn_by")
    return PersonPage(
        person=person,
        role=Role(now.role).label if now else "",
        memberships=memberships,
        qualifications=tuple(qualified),
        may_keep=desk.may(PEOPLE_KEEPERS),
        may_rule=now is None or may_keep(desk.person, desk.site, now.role),
    )
