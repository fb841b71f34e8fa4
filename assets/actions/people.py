"""People, companies and qualifications."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password

from assets.actions.changing import amend
from assets.actions.secret_words import fit_password, fit_pin
from assets.errors import Refusal
from assets.history import Act, act
from assets.models import Company, Membership, Person, Qualification, Role, Site
from assets.permissions import EVERYBODY, PEOPLE_KEEPERS, keepers_of, may_keep, must_have_role, must_keep
from assets.proofs import Proof, must_be_by_password


@dataclass(frozen=True, slots=True)
class PersonFacts:
    """What is known about a person; a contractor needs no sign-in name."""

    name: str
    sign_in: str = ""
    phone: str = ""
    email: str = ""
    company: Company | None = None

    def columns(self) -> dict[str, object]:
        """Return the columns of the person; an empty sign-in name is none at all."""
        if not self.name.strip():
            raise Refusal("Write the person's name, first and last.", field="name")
        return {
            "name": self.name.strip(),
            "sign_in": self.sign_in.strip().casefold() or None,
            "phone": self.phone.strip(),
            "email": self.email.strip(),
            "company": self.company,
        }


@dataclass(frozen=True, slots=True)
class NewPerson(PersonFacts):
    """A person to register, with the first password and PIN where they get some."""

    password: str = ""
    pin: str = ""


def register_person(*, site: Site, new: NewPerson, role: Role, by: Person) -> Person:
    """Register a person and give them a role at the site; outside contractors get neither password nor PIN."""
    must_have_role(by, site, PEOPLE_KEEPERS, to="register people")
    if not may_keep(by, site, role):
        raise Refusal(f"The role {role.label} is given by an administrator.", field="role")
    with act(site=site, by=by) as opened:
        return add_person(opened, site=site, new=new, role=role)


def add_person(opened: Act, *, site: Site, new: NewPerson, role: Role, is_staff: bool = False) -> Person:
    """Add a person with a role to an open act, and write its event."""
    outside = role == Role.CONTRACTOR
    if outside and (new.password or new.pin or new.sign_in):
        raise Refusal(
            "A contractor comes in by the link and code of the job; leave sign-in name, password and PIN empty.",
            field="sign_in",
        )
    if not outside and not new.sign_in.strip():
        raise Refusal("Write the name this person signs in with.", field="sign_in")
    if new.company is not None and new.company.site_id != site.pk:
        raise Refusal("This company belongs to another site.", field="company")
    columns = new.columns()
    _sign_in_is_free(columns["sign_in"])
    person = Person(**columns, is_staff=is_staff)
    person.password = make_password(fit_password(new.password, person=person) if new.password else None)
    person.pin_hash = make_password(fit_pin(new.pin)) if new.pin else ""
    opened.add(person)
    opened.add(Membership(person=person, site=site, role=role, from_at=opened.at, from_by=opened.by))
    facts = {"role": role.value, "company": str(person.company or ""), "keeper of the installation": is_staff}
    opened.write("person.registered", subject=person, facts=facts)
    return person


def _sign_in_is_free(sign_in: object, *, but: Person | None = None) -> None:
    # The constraint says the same; asked before, the sentence stands at its field.
    holders = Person.objects.filter(sign_in=sign_in) if sign_in else Person.objects.none()
    if (holders.exclude(pk=but.pk) if but else holders).exists():
        raise Refusal("Somebody has this sign-in name already. Choose another.", field="sign_in")


def change_person(*, site: Site, person: Person, facts: PersonFacts, by: Person, version: int | None = None) -> Person:
    """Change a person's name, sign-in name, phone, e-mail or company."""
    must_keep(by, site, person, to="change a person")
    columns = facts.columns()
    if not columns["sign_in"] and person.has_usable_password():
        raise Refusal("This person signs in with a password, so they need a sign-in name.", field="sign_in")
    _sign_in_is_free(columns["sign_in"], but=person)
    with act(site=site, by=by) as opened:
        changes = amend(opened, person, version=version, **columns)
        opened.write("person.changed", subject=person, facts={"changes": changes})
    return person


def set_own_email(*, site: Site, email: str, by: Person, proof: Proof, version: int | None = None) -> Person:
    """Set or take away one's own e-mail address; messages written from now on go there.

    `proof` is by one's password. Raises Refusal when it is not or the address is none, Stale when the version is old.
    """
    must_have_role(by, site, EVERYBODY, to="change your e-mail address")
    must_be_by_password(proof, by)
    with act(site=site, by=by) as opened:
        changes = amend(opened, by, version=version, email=email.strip())
        opened.write("email.set", subject=by, facts={"changes": changes})
    return by


def register_company(*, site: Site, name: str, phone: str = "", by: Person) -> Company:
    """Register an outside employer."""
    must_have_role(by, site, PEOPLE_KEEPERS, to="register a company")
    if not name.strip():
        raise Refusal("Write the company's name.", field="name")
    with act(site=site, by=by) as opened:
        company = opened.add(Company(site=site, name=name.strip(), phone=phone.strip()))
        opened.write("company.registered", subject=company)
    return company


def change_company(*, company: Company, name: str, phone: str, by: Person, version: int | None = None) -> Company:
    """Change a company's name or phone."""
    must_have_role(by, company.site, PEOPLE_KEEPERS, to="change a company")
    with act(site=company.site, by=by) as opened:
        changes = amend(opened, company, version=version, name=name.strip(), phone=phone.strip())
        opened.write("company.changed", subject=company, facts={"changes": changes})
    return company


@dataclass(frozen=True, slots=True)
class QualificationFacts:
    """What a person is trained for, from a day to a day (or until withdrawn), and what shows it."""

    kind: str
    from_day: dt.date
    proof: str
    until_day: dt.date | None = None


def add_qualification(*, site: Site, person: Person, facts: QualificationFacts, by: Person) -> Qualification:
    """Record that a person is trained; where somebody else keeps people too, nobody records their own."""
    must_have_role(by, site, PEOPLE_KEEPERS, to="record a qualification")
    if person == by and keepers_of(site).exclude(pk=by.pk).exists():
        raise Refusal("Your own qualification is recorded by somebody else who keeps the people here.")
    if not facts.proof.strip():
        raise Refusal("Write what shows it: the course record, the certificate and its date.", field="proof")
    with act(site=site, by=by) as opened:
        row = opened.add(
            Qualification(
                person=person,
                site=site,
                kind=facts.kind,
                from_day=facts.from_day,
                until_day=facts.until_day,
                proof=facts.proof.strip(),
                recorded_at=opened.at,
                recorded_by=by,
            )
        )
        known = {"kind": row.kind, "from": row.from_day, "until": row.until_day, "shown by": row.proof}
        opened.write("qualification.added", subject=person, facts=known)
    return row


def withdraw_qualification(*, qualification: Qualification, by: Person) -> Qualification:
    """End a qualification now; it never keeps a lock that is on from coming off."""
    must_have_role(by, qualification.site, PEOPLE_KEEPERS, to="withdraw a qualification")
    with act(site=qualification.site, by=by) as opened:
        opened.close(qualification, withdrawn_at=opened.at, withdrawn_by=by)
        opened.write("qualification.withdrawn", subject=qualification.person, facts={"kind": qualification.kind})
    return qualification
