"""People with addresses."""

from __future__ import annotations

from assets.actions.people import PersonFacts, change_person
from assets.models import Person, Role, Site
from tests.make import make_person


def reachable(*, site: Site, role: Role = Role.OPERATOR, name: str = "Ines Calder") -> Person:
    """A person with an e-mail address, who wrote it down themself or had it written."""
    person = make_person(site=site, role=role, name=name)
    keeper = make_person(site=site, role=Role.ADMINISTRATOR)
    address = f"{name.split()[0].lower()}@works.example"
    facts = PersonFacts(name=name, sign_in=person.sign_in or "", email=address)
    return change_person(site=site, person=person, facts=facts, by=keeper)
