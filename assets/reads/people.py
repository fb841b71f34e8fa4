"""The people of a site."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Case, OuterRef, Prefetch, Q, QuerySet, Subquery, When

from assets.models import Company, Membership, Person, Qualification, Role
from assets.permissions import PEOPLE_KEEPERS, Desk, may_keep

ORDER = (Role.SUPERVISOR, Role.OPERATOR, Role.VIEWER, Role.ADMINISTRATOR, Role.CONTRACTOR)
LEFT = "none"


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


ROLES = {
    "": "Everybody with a role",
    **{str(role): f"{role.label.capitalize()}s" for role in ORDER},
    LEFT: "Without a role now",
}
COLUMNS = ("name", "role", "phone", "company", "trained for")


def people_of(desk: Desk, role: str, found: Q) -> QuerySet[Person]:
    """Return people of a filter (a word of ROLES, a condition): by role, then by name."""
    held = Membership.objects.now().filter(site=desk.site)
    today = Qualification.objects.on(desk.today).filter(site=desk.site)
    people = Person.objects.filter(found)
    if role == LEFT:
        people = people.filter(memberships__site=desk.site).exclude(pk__in=held.values("person"))
    else:
        people = people.filter(pk__in=held.filter(**({"role": role} if role else {})).values("person"))
    own = held.filter(person=OuterRef("pk")).values("role")[:1]
    place = Case(*(When(now=one, then=n) for n, one in enumerate(ORDER)), default=len(ORDER))
    rows = people.distinct().select_related("company").annotate(now=Subquery(own)).annotate(place=place)
    return rows.order_by("place", "name", "pk").prefetch_related(Prefetch("qualifications", today, to_attr="holding"))


def companies_of(desk: Desk) -> tuple[Company, ...]:
    """Return the companies known here."""
    return tuple(Company.objects.filter(site=desk.site))


def people_groups(people: Iterable[Person]) -> tuple[PeopleGroup, ...]:
    """Return people of `people_of` by role."""
    groups = groupby(map(_person_row, people), key=lambda row: row.role)
    return tuple(PeopleGroup(f"{role.capitalize()}s" if role else ROLES[LEFT], tuple(rows)) for role, rows in groups)


def people_cells(people: Iterable[Person]) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for people of `people_of`."""
    for row in map(_person_row, people):
        company = row.person.company.name if row.person.company else ""
        yield row.person.name, row.role, row.person.phone, company, "; ".join(row.qualified)


def _person_row(person: Person) -> PersonRow:
    role = person.now  # type: ignore[attr-defined]
    kinds = tuple(one.get_kind_display() for one in person.holding)  # type: ignore[attr-defined]
    return PersonRow(person, Role(role).label if role else "", kinds)


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
