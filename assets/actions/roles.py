"""Who has which role from when to when, and people who leave."""

from __future__ import annotations

from django.db.models import QuerySet

from assets import hooks
from assets.errors import Refusal
from assets.history import Act, act
from assets.models import AccessLink, Membership, Person, Role, Site
from assets.permissions import OPERATORS, keepers_of, may_keep, must_keep, must_keep_here


def _open_role(person: Person, site: Site) -> Membership:
    held = Membership.objects.filter(person=person, site=site, to_at__isnull=True).first()
    if held is None:
        raise Refusal(f"{person.name} has no role at this site now.", field="role")
    return held


def _keeps_somebody(site: Site, *, without: Person) -> None:
    if not keepers_of(site).exclude(pk=without.pk).exists():
        raise Refusal(
            f"{without.name} is the last one here who can keep people; make somebody else supervisor or administrator "
            "first.",
            field="role",
        )


def _must_not_be_own(by: Person, person: Person) -> None:
    if by == person:
        raise Refusal("Nobody changes their own role or leaves by their own hand; ask another who keeps people.")


def change_role(*, site: Site, person: Person, role: Role, by: Person) -> Membership:
    """Give a person another role, or one again; the old one ends at the same moment.

    Refused while a lock of theirs is on, if the new role could not take it off.
    """
    _must_not_be_own(by, person)
    must_keep_here(by, site, person, to="change a role")
    if not may_keep(by, site, role):
        raise Refusal(f"The role {role.label} is given by an administrator.", field="role")
    if role != Role.CONTRACTOR and not person.sign_in:
        raise Refusal("Give this person a sign-in name first.", field="role")
    with act(site=site, by=by) as opened:
        held = Membership.objects.filter(person=person, site=site, to_at__isnull=True).first()
        if held is not None and held.role == role:
            raise Refusal(f"{person.name} has the role {role.label} already.", field="role")
        if held is not None and held.role in OPERATORS and role not in OPERATORS:
            _ask_before(person, opened)
        if held is not None:
            if held.role in {Role.SUPERVISOR, Role.ADMINISTRATOR} and role not in {Role.SUPERVISOR, Role.ADMINISTRATOR}:
                _keeps_somebody(site, without=person)
            opened.close(held, to_at=opened.at, to_by=by)
        if not person.is_active:
            opened.change(person, is_active=True)
        row = opened.add(Membership(person=person, site=site, role=role, from_at=opened.at, from_by=by))
        opened.write(
            "role.changed", subject=person, facts={"changes": {"role": [held.role if held else "", role.value]}}
        )
    return row


def end_role(*, site: Site, person: Person, by: Person) -> Membership:
    """End a person's role at one site; refused while a lock of theirs is on."""
    _must_not_be_own(by, person)
    must_keep_here(by, site, person, to="end a role")
    with act(site=site, by=by) as opened:
        held = _open_role(person, site)
        _keeps_somebody(site, without=person)
        _ask_before(person, opened)
        opened.close(held, to_at=opened.at, to_by=by)
        _close_links(opened, AccessLink.objects.filter(person=person, site=site))
        opened.write("role.ended", subject=person, facts={"role": held.role})
    return held


def retire_person(*, site: Site, person: Person, by: Person) -> Person:
    """Note that a person has left: no more sign-in, every role ended. Refused while a lock of theirs is on.

    Nobody is deleted: their records keep their name.
    """
    _must_not_be_own(by, person)
    must_keep(by, site, person, to="retire a person")
    with act(site=site, by=by) as opened:
        if not person.is_active:
            raise Refusal(f"{person.name} was noted as left already.")
        _keeps_somebody(site, without=person)
        _ask_before(person, opened)
        for held in Membership.objects.filter(person=person, to_at__isnull=True).select_related("site"):
            opened.close(held, to_at=opened.at, to_by=by)
        _close_links(opened, AccessLink.objects.filter(person=person))
        opened.change(person, is_active=False, version=person.version + 1)
        opened.write("person.retired", subject=person)
    return person


def _ask_before(person: Person, opened: Act) -> None:
    for ask in hooks.before_retire:
        ask(person, opened.at)


def _close_links(opened: Act, links: QuerySet[AccessLink]) -> None:
    for link in links.filter(closed_at__isnull=True):
        opened.change(link, expect={"closed_at": None}, closed_at=opened.at)
