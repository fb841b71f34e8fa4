"""Proof that a person is who signs: built here only, before any transaction is opened.

Checking a secret takes tens of milliseconds on purpose; inside a transaction it would hold the only write lock.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.db.models import F
from django.utils import timezone

from assets.compute.words import count_of
from assets.errors import Refusal
from assets.history import Act, act
from assets.models import AccessLink, Event, Person, Signature, Site

TRIES = 5
PAUSE = dt.timedelta(minutes=15)
ProofKind = Literal["password", "PIN", "code", "demo"]


@dataclass(frozen=True, slots=True)
class Proof:
    """One person has proven who they are for one act, and how."""

    person_id: int
    kind: ProofKind


def _refuse(site: Site | None, person: Person, sentence: str, *, how: str) -> Refusal:
    with act(site=site, by=person) as wrong:
        wrong.write("proof.refused", subject=person, facts={"how": how, "reasons": [sentence]})
    refusal = Refusal(sentence, field="proof")
    refusal.recorded = True
    return refusal


def _tries(left: int, then: str) -> str:
    """Say how many tries are left and what comes after them."""
    if left < 1:
        return f"Tries: none left; now {then}."
    return f"{count_of(left, 'try', 'tries')} left, then {then}."


def prove(person: Person, typed: str, *, site: Site | None) -> Proof:
    """Check a typed PIN or password; raises Refusal, recorded in the history, when it is wrong or tried too often."""
    if not typed:
        raise Refusal("Type your PIN or your password to sign.", field="proof")
    wrong = Event.objects.refused_proofs(person, timezone.now() - PAUSE).count()
    if wrong >= TRIES:
        raise Refusal(f"{TRIES} wrong tries in 15 minutes: wait 15 minutes, then sign again.", field="proof")
    if person.is_active and person.pin_hash and check_password(typed, person.pin_hash):
        return Proof(person.pk, "PIN")
    if person.is_active and person.has_usable_password() and person.check_password(typed):
        return Proof(person.pk, "password")
    left = TRIES - wrong - 1
    tries = _tries(left, f"a pause of {PAUSE // dt.timedelta(minutes=1)} minutes")
    raise _refuse(site, person, f"That is neither your PIN nor your password. {tries}", how="sign")


def must_be_by_password(proof: Proof | None, person: Person) -> None:
    """Raise Refusal unless a person is proven by their own present password; a PIN is not enough."""
    if proof is None or proof.person_id != person.pk or proof.kind not in {"password", "demo"}:
        raise Refusal("Type your present password first.", field="proof")


def prove_by_code(link: AccessLink, typed: str) -> Proof:
    """Check the code told apart from a personal link; after five wrong ones the person in charge makes a new link."""
    if link.closed_at is not None:
        raise Refusal("This link has ended. Ask the person in charge for a new one.", field="proof")
    if link.wrong_codes >= TRIES:
        raise Refusal(
            "Five wrong codes: this link takes no more. Ask the person in charge for a new one.", field="proof"
        )
    code = typed.strip().upper().replace(" ", "").replace("-", "")
    if not code:
        raise Refusal("Type the code that you were told, 8 letters and digits.", field="proof")
    if check_password(code, link.code_hash):
        return Proof(link.person_id, "code")
    with act(site=link.site, by=link.person) as wrong:
        # Counted in the database, so that two phones trying at once count as two tries.
        AccessLink.objects.filter(pk=link.pk).update(wrong_codes=F("wrong_codes") + 1)
        link.refresh_from_db()
        wrong.change(link)
        left = max(TRIES - link.wrong_codes, 0)
        sentence = f"That code is wrong. {_tries(left, 'the person in charge makes a new link')}"
        wrong.write("proof.refused", subject=link, facts={"how": "code", "reasons": [sentence]})
    refusal = Refusal(sentence, field="proof")
    refusal.recorded = True
    raise refusal


def demo_proof(person: Person) -> Proof:
    """Stand in for a person's PIN while the invented plant's past is written; refused outside demo and tests."""
    if not (settings.DEMO or settings.TESTING):
        raise Refusal("Only the demo plant may be written without a person's proof.")
    return Proof(person.pk, "demo")


def sign(opened: Act, *, site: Site, person: Person, proof: Proof, meaning: str, digest: str) -> Signature:
    """Add a person's signature to an open act: its meaning and the SHA-256 of what is signed (compute.canonical).

    Raises Refusal when the proof is another person's.
    """
    if proof.person_id != person.pk:
        raise Refusal("The proof is another person's: each signs for themselves.", field="proof")
    row = Signature(site=site, person=person, meaning=meaning, digest=digest, proof=proof.kind, signed_at=opened.at)
    return opened.add(row)
