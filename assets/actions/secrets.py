"""Setting passwords and PINs: one's own after proving who one is, another's by who keeps the people."""

from __future__ import annotations

from django.contrib.auth.hashers import make_password

from assets.actions.secret_words import fit_password, fit_pin
from assets.errors import Refusal
from assets.history import act
from assets.models import Person, Role, Site
from assets.permissions import must_keep, role_of
from assets.proofs import Proof, must_be_by_password


def _must_set(by: Person, site: Site, person: Person, proof: Proof | None, *, to: str) -> None:
    if by == person:
        must_be_by_password(proof, person)
    else:
        must_keep(by, site, person, to=to)
    if role_of(person, site) == Role.CONTRACTOR:
        raise Refusal("A contractor comes in by the link and code of the job, without password or PIN.")


def set_password(*, site: Site, person: Person, password: str, by: Person, proof: Proof | None = None) -> Person:
    """Set a person's password; their other devices are signed out. One's own takes `proof` by the present one."""
    _must_set(by, site, person, proof, to="set a password")
    if not person.sign_in:
        raise Refusal("Give this person a sign-in name first.", field="sign_in")
    # Hashed before the transaction: it takes tens of milliseconds on purpose.
    hashed = make_password(fit_password(password, person=person))
    with act(site=site, by=by) as opened:
        opened.change(person, password=hashed)
        opened.write("password.set", subject=person, facts={"own": by == person})
    return person


def set_pin(*, site: Site, person: Person, pin: str, by: Person, proof: Proof | None = None) -> Person:
    """Set the PIN a person signs with. One's own takes `proof` by the present password."""
    _must_set(by, site, person, proof, to="set a PIN")
    hashed = make_password(fit_pin(pin))
    with act(site=site, by=by) as opened:
        opened.change(person, pin_hash=hashed)
        opened.write("pin.set", subject=person, facts={"own": by == person})
    return person


def clear_pin(*, site: Site, person: Person, by: Person) -> Person:
    """Take a person's PIN away, so that they sign with their password until they set a new one."""
    must_keep(by, site, person, to="take a PIN away")
    with act(site=site, by=by) as opened:
        opened.change(person, pin_hash="")
        opened.write("pin.cleared", subject=person)
    return person
