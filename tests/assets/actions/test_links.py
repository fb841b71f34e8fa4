"""Personal links of contractors: one secret address, one code, both kept only as hashes."""

from __future__ import annotations

import pytest

from assets import actions
from assets.actions import NewPerson
from assets.actions.links import token_hash
from assets.errors import NotAllowed, Refusal
from assets.models import AccessLink, Event, Role
from assets.proofs import prove_by_code
from tests.make import make_person, make_site

pytestmark = pytest.mark.django_db
GOOD = "river-stone-93-x"


@pytest.fixture
def site():
    return make_site()


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


@pytest.fixture
def ada(site):
    return make_person(site=site, role=Role.ADMINISTRATOR)


def fields(refused) -> set[str]:
    return {reason.field for reason in refused.value.reasons}


def new(**other) -> NewPerson:
    return NewPerson(**{"name": "Ines Calder", "sign_in": "Ines", "password": GOOD, "pin": "4829", **other})


def test_a_link_is_found_by_its_hash_and_opened_by_its_code_only(site, ruth) -> None:
    kai = make_person(site=site, role=Role.CONTRACTOR)
    made = actions.make_access_link(site=site, person=kai, path="/locks/14/", by=ruth)
    assert len(made.token) >= 43 and len(made.code) == 8
    assert AccessLink.objects.get(token_hash=token_hash(made.token)) == made.link
    body = Event.objects.latest("pk").body
    assert made.token not in body and made.code not in body
    assert prove_by_code(made.link, f" {made.code[:4].lower()}-{made.code[4:]} ").person_id == kai.pk
    with pytest.raises(Refusal, match="an open link to this job already"):
        actions.make_access_link(site=site, person=kai, path="/locks/14/", by=ruth)


def test_five_wrong_codes_close_the_link_for_good(site, ruth) -> None:
    kai = make_person(site=site, role=Role.CONTRACTOR)
    made = actions.make_access_link(site=site, person=kai, path="/locks/14/", by=ruth)
    for left in ("4 tries left", "3 tries left", "2 tries left", "1 try left", "Tries: none left"):
        with pytest.raises(Refusal, match=f"That code is wrong. {left}"):
            prove_by_code(AccessLink.objects.get(), "WRONG234")
    with pytest.raises(Refusal, match="takes no more"):
        prove_by_code(AccessLink.objects.get(), made.code)
    actions.close_access_link(link=made.link, by=ruth)
    with pytest.raises(Refusal, match="has ended"):
        prove_by_code(AccessLink.objects.get(), made.code)
    assert actions.make_access_link(site=site, person=kai, path="/locks/14/", by=ruth).code != made.code


def test_links_are_for_contractors_and_made_by_supervisors(site, ruth, ada) -> None:
    kai = make_person(site=site, role=Role.CONTRACTOR)
    with pytest.raises(NotAllowed):
        actions.make_access_link(site=site, person=kai, path="/locks/14/", by=ada)
    with pytest.raises(Refusal, match="no contractor"):
        actions.make_access_link(site=site, person=make_person(site=site), path="/locks/14/", by=ruth)


def test_a_contractors_links_end_with_the_role(site, ruth) -> None:
    kai = make_person(site=site, role=Role.CONTRACTOR)
    actions.make_access_link(site=site, person=kai, path="/locks/14/", by=ruth)
    actions.end_role(site=site, person=kai, by=ruth)
    assert AccessLink.objects.get().closed_at is not None
