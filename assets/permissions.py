"""Who asks, at which site, and what each role may do: the only way a view gets at an object."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, Protocol, TypeVar

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from assets.errors import NotAllowed
from assets.models import (
    Area,
    Asset,
    Company,
    Fitting,
    Holiday,
    KeptFile,
    Limit,
    Membership,
    Person,
    Position,
    Production,
    Qualification,
    Reading,
    Role,
    SignalUse,
    Site,
)

SITE_IN_SESSION = "site"

READERS = frozenset({Role.VIEWER, Role.OPERATOR, Role.SUPERVISOR})
OPERATORS = frozenset({Role.OPERATOR, Role.SUPERVISOR})
SUPERVISORS = frozenset({Role.SUPERVISOR})
ADMINISTRATORS = frozenset({Role.ADMINISTRATOR})
# People and the site are kept by the administrator; the supervisor keeps the people of the shift.
PEOPLE_KEEPERS = frozenset({Role.ADMINISTRATOR, Role.SUPERVISOR})
EVERYBODY = frozenset(Role) - {Role.CONTRACTOR}


@dataclass(frozen=True, slots=True)
class Desk:
    """Who is asking, at which site, in which role."""

    person: Person
    site: Site
    role: Role

    @property
    def today(self) -> dt.date:
        """The site's date now."""
        return timezone.now().astimezone(self.site.zone).date()

    def may(self, roles: frozenset[Role]) -> bool:
        """Whether the asking person's role is one of these."""
        return self.role in roles


class SiteView(Protocol):
    """A view that knows who asks and where."""

    def __call__(self, request: HttpRequest, desk: Desk, **kwargs: Any) -> HttpResponse: ...


def desk_of(request: HttpRequest) -> Desk | None:
    """Return who asks, from the signed-in person and the site of the session; None when nobody is signed in."""
    person = request.user
    if not isinstance(person, Person):
        return None
    roles = Membership.objects.now().filter(person=person).select_related("site").order_by("site__name")
    wanted = request.session.get(SITE_IN_SESSION)
    open_roles = [m for m in roles if m.role != Role.CONTRACTOR]
    chosen = next((m for m in open_roles if m.site_id == wanted), open_roles[0] if open_roles else None)
    if chosen is None:
        raise PermissionDenied("You have no role at any site. Ask your supervisor to give you one.")
    return Desk(person, chosen.site, Role(chosen.role))


def for_roles(roles: frozenset[Role]) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Let a view be reached only by people with one of the roles at the site they are in; it gets their `desk`.

    Nobody signed in: to the sign-in page. Another role: 403. The site's time zone is in force inside the view.
    """

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def entered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            desk = desk_of(request)
            if desk is None:
                return redirect_to_login(request.get_full_path())
            request.desk = desk  # type: ignore[attr-defined]
            with timezone.override(desk.site.zone):
                if desk.role not in roles:
                    raise PermissionDenied(f"Your role, {desk.role.label}, does not include this page.")
                try:
                    return view(request, desk, *args, **kwargs)
                except NotAllowed as refusal:
                    raise PermissionDenied(str(refusal)) from refusal

        entered.roles = roles  # type: ignore[attr-defined]
        return entered

    return decorate


Found = TypeVar("Found", bound=models.Model)


def found(rows: models.QuerySet[Found], **which: Any) -> Found:
    """Return the one row, or say 404: what is not yours looks like what does not exist."""
    row = rows.filter(**which).first()
    if row is None:
        raise Http404("There is no such page at this site.")
    return row


def position_for(desk: Desk, pk: int) -> Position:
    """A position of the asking person's site."""
    return found(Position.objects.at(desk.site).select_related("area", "site"), pk=pk)


def position_by_code(desk: Desk, code: str) -> Position:
    """A position of the asking person's site by the code on its label."""
    return found(Position.objects.at(desk.site).select_related("area", "site"), label_code=code.upper())


def asset_for(desk: Desk, pk: int) -> Asset:
    """An asset of the asking person's site."""
    return found(Asset.objects.at(desk.site).select_related("site"), pk=pk)


def person_for(desk: Desk, pk: int) -> Person:
    """A person with a role at the asking person's site, now or before."""
    return found(Person.objects.filter(memberships__site=desk.site).distinct(), pk=pk)


def company_for(desk: Desk, pk: int) -> Company:
    """A company known at the asking person's site."""
    return found(Company.objects.filter(site=desk.site), pk=pk)


def role_of(person: Person, site: Site) -> Role | None:
    """The role a person has at a site now."""
    role = Membership.objects.now().filter(person=person, site=site).values_list("role", flat=True).first()
    return Role(role) if role else None


def must_have_role(person: Person, site: Site, roles: frozenset[Role], *, to: str) -> None:
    """Refuse, at any door, an act that the person's role at the site does not include."""
    role = role_of(person, site)
    if role not in roles:
        words = " or ".join(sorted(r.label for r in roles))
        raise NotAllowed(f"To {to} takes the role {words}; {person.name} has {role.label if role else 'none'} here.")


def keepers_of(site: Site) -> models.QuerySet[Person]:
    """The people who keep the people of a site now."""
    roles = Membership.objects.now().filter(site=site, role__in=PEOPLE_KEEPERS)
    return Person.objects.filter(pk__in=roles.values("person"))


def may_keep(by: Person, site: Site, role: Role | str) -> bool:
    """Whether a person may register, change or end people of a role at a site.

    Supervisors and administrators are the administrator's; where a site has none, the supervisor's.
    """
    own = role_of(by, site)
    if own == Role.ADMINISTRATOR:
        return True
    if own != Role.SUPERVISOR:
        return False
    if role not in PEOPLE_KEEPERS:
        return True
    return not Membership.objects.now().filter(site=site, role=Role.ADMINISTRATOR).exists()


def must_keep(by: Person, site: Site, person: Person, *, to: str) -> None:
    """Refuse to act on a person whose roles, at whichever site, are not for this keeper to rule over."""
    must_have_role(by, site, PEOPLE_KEEPERS, to=to)
    if by == person:
        return
    if person.is_staff and not by.is_staff:
        raise NotAllowed(f"{person.name} keeps the installation; only another keeper of it can {to} there.")
    for held in Membership.objects.now().filter(person=person).select_related("site"):
        _must_rule(by, held, to=to)


def must_keep_here(by: Person, site: Site, person: Person, *, to: str) -> None:
    """Refuse to act on a person's role at one site, where that role is not for this keeper to rule over."""
    must_have_role(by, site, PEOPLE_KEEPERS, to=to)
    for held in Membership.objects.now().filter(person=person, site=site).select_related("site"):
        _must_rule(by, held, to=to)


def _must_rule(by: Person, held: Membership, *, to: str) -> None:
    if not may_keep(by, held.site, held.role):
        raise NotAllowed(
            f"{held.person.name} is {Role(held.role).label} of {held.site.name}; to {to} there takes that site's "
            "administrator."
        )


def reading_for(desk: Desk, pk: int) -> Reading:
    """A reading of the asking person's site."""
    return found(Reading.objects.filter(site=desk.site).select_related("position", "asset", "site"), pk=pk)


def area_for(desk: Desk, pk: int) -> Area:
    """An area of the asking person's site."""
    return found(Area.objects.at(desk.site).select_related("site"), pk=pk)


def use_for(desk: Desk, pk: int) -> SignalUse:
    """A use of a signal of the asking person's site."""
    return found(SignalUse.objects.filter(position__site=desk.site).select_related("position__site", "target"), pk=pk)


def limit_for(desk: Desk, pk: int) -> Limit:
    """A limit of the asking person's site."""
    return found(Limit.objects.filter(position__site=desk.site).select_related("position__site"), pk=pk)


def fitting_for(desk: Desk, pk: int) -> Fitting:
    """What was fitted somewhere at the asking person's site."""
    return found(Fitting.objects.filter(position__site=desk.site).select_related("position__site", "asset"), pk=pk)


def qualification_for(desk: Desk, pk: int) -> Qualification:
    """A qualification recorded at the asking person's site."""
    return found(Qualification.objects.filter(site=desk.site).select_related("person", "site"), pk=pk)


def holiday_for(desk: Desk, pk: int) -> Holiday:
    """A holiday of the asking person's site that was not withdrawn."""
    return found(Holiday.objects.standing().filter(site=desk.site).select_related("site"), pk=pk)


def running_for(desk: Desk, pk: int) -> Production:
    """A stretch of running of the asking person's site that was not withdrawn."""
    return found(Production.objects.standing().filter(site=desk.site).select_related("position", "site"), pk=pk)


def file_for(desk: Desk, pk: int) -> KeptFile:
    """A file kept at the asking person's site."""
    return found(KeptFile.objects.filter(site=desk.site), pk=pk)


def sites_of(person: Person) -> list[Site]:
    """The sites at which a person has a role that signs in, by name."""
    roles = Membership.objects.now().filter(person=person).exclude(role=Role.CONTRACTOR)
    return [held.site for held in roles.select_related("site").order_by("site__name")]
