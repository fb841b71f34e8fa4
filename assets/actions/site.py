"""Sites: the first one with its first people, and what is changed about one."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, available_timezones

from assets import hooks
from assets.actions.changing import amend
from assets.actions.people import NewPerson, add_person
from assets.errors import Refusal
from assets.history import act
from assets.models import Person, Role, Site
from assets.permissions import PEOPLE_KEEPERS, must_have_role


@dataclass(frozen=True, slots=True)
class SiteFacts:
    """What is known about a site; `address` is where its pages are reached, needed before labels can be printed."""

    name: str
    time_zone: str
    unit_system: str = "SI"
    decimal_mark: str = "."
    address: str = ""
    ask_name: str = ""
    ask_phone: str = ""

    def columns(self) -> dict[str, str]:
        """Return the columns of the site, after making sure of zone and address."""
        return {
            "name": _named(self.name),
            "time_zone": _zone(self.time_zone).key,
            "unit_system": self.unit_system,
            "decimal_mark": self.decimal_mark,
            "address": _address(self.address),
            "ask_name": self.ask_name.strip(),
            "ask_phone": self.ask_phone.strip(),
        }


def _named(name: str) -> str:
    if not name.strip():
        raise Refusal("A site needs a name, like “Kestrel Hollow Water Works”.", field="name")
    return name.strip()


def _zone(name: str) -> ZoneInfo:
    if name not in available_timezones():
        raise Refusal(
            f"“{name}” is not a time zone; write a place of the zone list, like America/Denver.", field="time_zone"
        )
    return ZoneInfo(name)


def _address(typed: str) -> str:
    text = typed.strip().rstrip("/")
    if not text:
        return ""
    parts = urlsplit(text)
    if parts.scheme not in {"http", "https"} or not parts.hostname or parts.path or parts.query or parts.username:
        raise Refusal(
            f"“{text}” is not the address of the pages; write it like https://spanwell.example.org, without a path.",
            field="address",
        )
    return text


def start_site(
    *, site: SiteFacts, supervisor: NewPerson, administrator: NewPerson | None = None, by: Person | None
) -> Site:
    """Register a site with its first supervisor, and an administrator where one is named.

    The administrator, or else the supervisor, becomes keeper of the installation if there is none yet. `by` is None
    at the command line of the server, whose reader holds the whole database anyway.
    """
    if by is not None and not by.is_staff:
        raise Refusal("A site is started at the command line, or by the keeper of the installation.")
    for new, role in ((supervisor, "supervisor"), (administrator, "administrator")):
        if new is not None and not (new.sign_in and new.password):
            raise Refusal(f"The first {role} needs a sign-in name and a password.", field="sign_in")
    with act(site=None, by=by) as started:
        made = started.add(Site(**site.columns()))
        started.write("site.started", subject=made, facts={"name": made.name, "time_zone": made.time_zone})
        keeper = None if Person.objects.filter(is_staff=True).exists() else administrator or supervisor
        with act(site=made, by=by) as staffed:
            for new, role in ((supervisor, Role.SUPERVISOR), (administrator, Role.ADMINISTRATOR)):
                if new is not None:
                    add_person(staffed, site=made, new=new, role=role, is_staff=new is keeper)
        for taker in hooks.after_start_site:
            taker(started, made)
    return made


def change_site(*, site: Site, facts: SiteFacts, by: Person, version: int | None = None) -> Site:
    """Change what is known about a site. Moments stay what they are when the zone changes; days are counted anew."""
    must_have_role(by, site, PEOPLE_KEEPERS, to="change the site")
    with act(site=site, by=by) as opened:
        changes = amend(opened, site, version=version, **facts.columns())
        opened.write("site.changed", subject=site, facts={"changes": changes})
    return site
