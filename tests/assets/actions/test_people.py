"""People, roles, secrets, qualifications: who may do what to whom."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from assets import actions, hooks
from assets.actions import NewPerson, PersonFacts, QualificationFacts
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Membership, Person, Qualification, Role
from assets.permissions import role_of
from assets.proofs import Proof, demo_proof, prove
from tests.make import PASSWORD, PIN, make_company, make_person, make_site

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


# Registering


def test_a_person_is_registered_with_role_password_and_pin(site, ruth) -> None:
    person = actions.register_person(site=site, new=new(), role=Role.OPERATOR, by=ruth)
    assert (person.sign_in, role_of(person, site)) == ("ines", Role.OPERATOR)
    assert prove(person, "4829", site=site) == Proof(person.pk, "PIN")
    assert prove(person, GOOD, site=site) == Proof(person.pk, "password")
    body = Event.objects.filter(verb="person.registered").latest("pk").body
    assert GOOD not in body and "4829" not in body and person.password not in body


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": " "}, "name"),
        ({"sign_in": ""}, "sign_in"),
        ({"password": "short"}, "password"),
        ({"pin": "123"}, "pin"),
        ({"pin": "12a4"}, "pin"),
        ({"pin": "1111"}, "pin"),
        ({"pin": "3456"}, "pin"),
        ({"pin": "9876"}, "pin"),
        ({"email": "nowhere"}, "email"),
    ],
)
def test_a_person_that_is_not_described_is_refused_at_the_field(site, ruth, wrong, field) -> None:
    before = Event.objects.count()
    with pytest.raises(Refusal) as refused:
        actions.register_person(site=site, new=new(**wrong), role=Role.OPERATOR, by=ruth)
    assert fields(refused) == {field}
    assert Event.objects.count() == before


def test_a_sign_in_name_is_taken_once(site, ruth) -> None:
    actions.register_person(site=site, new=new(), role=Role.OPERATOR, by=ruth)
    with pytest.raises(Refusal, match="has this sign-in name already") as refused:
        actions.register_person(site=site, new=new(sign_in="INES"), role=Role.OPERATOR, by=ruth)
    assert [reason.field for reason in refused.value.reasons] == ["sign_in"]
    with pytest.raises(Refusal, match="has this sign-in name already") as refused:
        actions.change_person(site=site, person=ruth, facts=PersonFacts(name=ruth.name, sign_in="ines"), by=ruth)
    assert [reason.field for reason in refused.value.reasons] == ["sign_in"]
    assert Person.objects.filter(sign_in="ines").count() == 1


def test_a_contractor_has_neither_password_nor_pin(site, ruth) -> None:
    company = make_company(site=site)
    with pytest.raises(Refusal, match="link and code"):
        actions.register_person(site=site, new=new(), role=Role.CONTRACTOR, by=ruth)
    kai = actions.register_person(
        site=site, new=NewPerson(name="Kai Brandt", company=company), role=Role.CONTRACTOR, by=ruth
    )
    assert kai.sign_in is None and not kai.has_usable_password() and kai.pin_hash == ""
    other = make_company(site=make_site(name="Other Works"))
    with pytest.raises(Refusal, match="another site"):
        actions.register_person(site=site, new=NewPerson(name="X", company=other), role=Role.CONTRACTOR, by=ruth)
    with pytest.raises(Refusal, match="without password or PIN"):
        actions.set_pin(site=site, person=kai, pin="4829", by=ruth)


def test_supervisors_are_made_by_the_administrator_where_there_is_one(site, ruth) -> None:
    first = actions.register_person(site=site, new=new(sign_in="a"), role=Role.SUPERVISOR, by=ruth)
    ada = make_person(site=site, role=Role.ADMINISTRATOR)
    with pytest.raises(Refusal, match="given by an administrator"):
        actions.register_person(site=site, new=new(sign_in="b"), role=Role.SUPERVISOR, by=ruth)
    with pytest.raises(NotAllowed, match="administrator"):
        actions.change_role(site=site, person=first, role=Role.OPERATOR, by=ruth)
    with pytest.raises(NotAllowed):
        actions.set_password(site=site, person=ada, password=GOOD, by=ruth)
    actions.change_role(site=site, person=first, role=Role.OPERATOR, by=ada)
    assert role_of(first, site) == Role.OPERATOR


@pytest.mark.parametrize("role", [Role.OPERATOR, Role.VIEWER])
def test_who_keeps_no_people_changes_none(site, role) -> None:
    by, person = make_person(site=site, role=role), make_person(site=site)
    for act in (
        lambda: actions.register_person(site=site, new=new(), role=Role.VIEWER, by=by),
        lambda: actions.change_person(site=site, person=person, facts=PersonFacts("X"), by=by),
        lambda: actions.set_password(site=site, person=person, password=GOOD, by=by),
        lambda: actions.change_role(site=site, person=person, role=Role.VIEWER, by=by),
        lambda: actions.retire_person(site=site, person=person, by=by),
        lambda: actions.register_company(site=site, name="X", by=by),
        lambda: actions.add_qualification(
            site=site, person=person, facts=QualificationFacts("lockout", dt.date(2026, 1, 1), "x"), by=by
        ),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_a_keeper_of_one_site_does_not_reach_an_administrator_of_another(site, ruth) -> None:
    other = make_site(name="Other Works")
    person = make_person(site=site)
    boss = make_person(site=other, role=Role.ADMINISTRATOR)
    actions.change_role(site=other, person=person, role=Role.ADMINISTRATOR, by=boss)
    for act in (
        lambda: actions.set_password(site=site, person=person, password=GOOD, by=ruth),
        lambda: actions.clear_pin(site=site, person=person, by=ruth),
        lambda: actions.retire_person(site=site, person=person, by=ruth),
    ):
        with pytest.raises(NotAllowed, match="Other Works"):
            act()


def test_the_keeper_of_the_installation_is_only_changed_by_another(site, ada) -> None:
    keeper = make_person(site=site)
    Person.objects.filter(pk=keeper.pk).update(is_staff=True)
    keeper.refresh_from_db()
    with pytest.raises(NotAllowed, match="keeps the installation"):
        actions.set_password(site=site, person=keeper, password=GOOD, by=ada)


def test_a_person_is_changed_by_version_and_says_what(site, ruth) -> None:
    ines = actions.register_person(site=site, new=new(), role=Role.OPERATOR, by=ruth)
    facts = PersonFacts(name="Ines Calder-Roe", sign_in="ines", phone="555 0134")
    actions.change_person(site=site, person=ines, facts=facts, by=ruth, version=1)
    changes = json.loads(Event.objects.latest("pk").body)["facts"]["changes"]
    assert changes == {"name": ["Ines Calder", "Ines Calder-Roe"], "phone": ["", "555 0134"]}
    with pytest.raises(Stale):
        actions.change_person(site=site, person=Person.objects.get(pk=ines.pk), facts=facts, by=ruth, version=1)
    with pytest.raises(Refusal, match="need a sign-in name"):
        actions.change_person(site=site, person=ines, facts=PersonFacts(name="Ines"), by=ruth)


# Secrets


def test_ones_own_secrets_take_the_present_password(site) -> None:
    ines = make_person(site=site)
    with pytest.raises(Refusal, match="present password"):
        actions.set_pin(site=site, person=ines, pin="4829", by=ines)
    with pytest.raises(Refusal, match="present password"):
        actions.set_password(site=site, person=ines, password=GOOD, by=ines, proof=prove(ines, PIN, site=site))
    with pytest.raises(Refusal, match="present password"):
        actions.set_pin(site=site, person=ines, pin="4829", by=ines, proof=demo_proof(make_person(site=site)))
    proof = prove(ines, PASSWORD, site=site)
    actions.set_pin(site=site, person=ines, pin="4829", by=ines, proof=proof)
    actions.set_password(site=site, person=ines, password=GOOD, by=ines, proof=proof)
    assert prove(ines, "4829", site=site).kind == "PIN"
    assert prove(ines, GOOD, site=site).kind == "password"


def test_a_forgotten_pin_is_taken_away(site, ruth) -> None:
    ines = make_person(site=site)
    actions.clear_pin(site=site, person=ines, by=ruth)
    with pytest.raises(Refusal, match="neither your PIN nor your password"):
        prove(ines, PIN, site=site)
    assert [e.verb for e in Event.objects.order_by("pk")][-2:] == ["pin.cleared", "proof.refused"]


def test_five_wrong_proofs_pause_even_the_right_one(site, clock) -> None:
    ines = make_person(site=site)
    for _ in range(5):
        with pytest.raises(Refusal):
            prove(ines, "0000", site=site)
    with pytest.raises(Refusal, match="wait 15 minutes"):
        prove(ines, PIN, site=site)
    clock.forward(minutes=16)
    assert prove(ines, PIN, site=site).kind == "PIN"


# Roles


def test_a_role_is_ended_and_begun_in_one_act(site, ruth, clock) -> None:
    ines = make_person(site=site)
    clock.forward(days=1)
    actions.change_role(site=site, person=ines, role=Role.VIEWER, by=ruth)
    ended, begun = Membership.objects.filter(person=ines).order_by("pk")
    assert ended.to_at == begun.from_at == clock.now
    assert json.loads(Event.objects.latest("pk").body)["facts"] == {"changes": {"role": ["operator", "viewer"]}}
    with pytest.raises(Refusal, match="already"):
        actions.change_role(site=site, person=ines, role=Role.VIEWER, by=ruth)


def test_nobody_changes_their_own_role_or_leaves_by_their_own_hand(site, ruth) -> None:
    for act in (
        lambda: actions.change_role(site=site, person=ruth, role=Role.ADMINISTRATOR, by=ruth),
        lambda: actions.end_role(site=site, person=ruth, by=ruth),
        lambda: actions.retire_person(site=site, person=ruth, by=ruth),
    ):
        with pytest.raises(Refusal, match="Nobody changes their own role"):
            act()


def test_a_site_keeps_one_who_keeps_people(site, ruth, ada) -> None:
    actions.end_role(site=site, person=ruth, by=ada)
    keeper = make_person(site=site, role=Role.ADMINISTRATOR)
    actions.retire_person(site=site, person=ada, by=keeper)
    assert role_of(keeper, site) == Role.ADMINISTRATOR
    assert not Person.objects.get(pk=ada.pk).is_active


def test_a_lock_that_is_on_keeps_a_person_until_it_is_off(site, ruth, monkeypatch) -> None:
    ines = make_person(site=site)

    def locked(what, at) -> None:
        raise Refusal(f"A lock of {what} is on.")

    monkeypatch.setattr(hooks, "before_retire", [locked])
    for act in (
        lambda: actions.retire_person(site=site, person=ines, by=ruth),
        lambda: actions.end_role(site=site, person=ines, by=ruth),
        lambda: actions.change_role(site=site, person=ines, role=Role.VIEWER, by=ruth),
    ):
        with pytest.raises(Refusal, match="is on"):
            act()
    assert role_of(ines, site) == Role.OPERATOR
    ines.refresh_from_db()
    assert ines.is_active


def test_who_left_signs_nothing_keeps_their_name_and_may_come_back(site, ruth) -> None:
    ines = make_person(site=site)
    actions.retire_person(site=site, person=ines, by=ruth)
    ines.refresh_from_db()
    assert role_of(ines, site) is None
    with pytest.raises(Refusal):
        prove(ines, PIN, site=site)
    with pytest.raises(Refusal, match="left already"):
        actions.retire_person(site=site, person=ines, by=ruth)
    actions.change_role(site=site, person=ines, role=Role.OPERATOR, by=ruth)
    ines.refresh_from_db()
    assert prove(ines, PIN, site=site).kind == "PIN"


# Qualifications


def test_a_qualification_is_recorded_by_another_and_withdrawn_once(site, ruth, ada, clock) -> None:
    facts = QualificationFacts("lockout", dt.date(2026, 1, 1), "course record 14", dt.date(2026, 12, 31))
    with pytest.raises(Refusal, match="recorded by somebody else"):
        actions.add_qualification(site=site, person=ruth, facts=facts, by=ruth)
    row = actions.add_qualification(site=site, person=ruth, facts=facts, by=ada)
    assert list(Qualification.objects.on(dt.date(2026, 12, 31))) == [row]
    assert not Qualification.objects.on(dt.date(2027, 1, 1)).exists()
    actions.withdraw_qualification(qualification=row, by=ada)
    assert not Qualification.objects.on(dt.date(2026, 12, 31)).exists()
    with pytest.raises(Stale):
        actions.withdraw_qualification(qualification=row, by=ada)


def test_the_only_keeper_of_people_records_their_own(site, ruth) -> None:
    facts = QualificationFacts("lockout", dt.date(2026, 1, 1), "course record 14")
    assert actions.add_qualification(site=site, person=ruth, facts=facts, by=ruth).person == ruth


def test_a_qualification_says_what_shows_it_and_ends_after_it_begins(site, ruth) -> None:
    ines = make_person(site=site)
    for facts in (
        QualificationFacts("lockout", dt.date(2026, 1, 1), " "),
        QualificationFacts("welding", dt.date(2026, 1, 1), "x"),
        QualificationFacts("lockout", dt.date(2026, 1, 2), "x", dt.date(2026, 1, 1)),
    ):
        with pytest.raises(Refusal):
            actions.add_qualification(site=site, person=ines, facts=facts, by=ruth)


def test_a_company_is_registered_once_and_changed_by_version(site, ruth) -> None:
    company = actions.register_company(site=site, name=" Alder ", phone="555 0190", by=ruth)
    assert company.name == "Alder"
    for name in ("Alder", " "):
        with pytest.raises(Refusal):
            actions.register_company(site=site, name=name, by=ruth)
    actions.change_company(company=company, name="Alder & Co", phone="", by=ruth, version=1)
    with pytest.raises(Stale):
        actions.change_company(company=company, name="Elm", phone="", by=ruth, version=1)
