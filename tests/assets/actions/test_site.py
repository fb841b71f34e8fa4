"""A site, its first people, and what is changed about it."""

from __future__ import annotations

import pytest

from assets import actions
from assets.actions import NewPerson, SiteFacts
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Event, Person, Role, Site
from assets.permissions import role_of
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


def start(**other) -> Site:
    facts = {"name": "Fern Works", "time_zone": "America/Denver", "address": "https://fern.example.org/"}
    return actions.start_site(
        site=SiteFacts(**{**facts, **other}),
        supervisor=new(name="Ruth", sign_in="ruth"),
        administrator=new(name="Ada", sign_in="ada"),
        by=None,
    )


def test_a_site_starts_with_its_first_people_and_one_keeper_of_the_installation() -> None:
    site = start()
    assert site.address == "https://fern.example.org"
    assert {p.name: (role_of(p, site), p.is_staff) for p in Person.objects.all()} == {
        "Ruth": (Role.SUPERVISOR, False),
        "Ada": (Role.ADMINISTRATOR, True),
    }
    # What the apps above do for a new site writes events of its own.
    ours = Event.objects.filter(verb__in=["site.started", "person.registered"]).order_by("pk")
    assert list(ours.values_list("chain", "verb")) == [
        (0, "site.started"),
        (site.pk, "person.registered"),
        (site.pk, "person.registered"),
    ]
    second = actions.start_site(
        site=SiteFacts("Moss Works", "Europe/Berlin"), supervisor=new(name="Otto", sign_in="otto"), by=None
    )
    assert role_of(Person.objects.get(name="Otto"), second) == Role.SUPERVISOR
    assert Person.objects.filter(is_staff=True).count() == 1


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": " "}, "name"),
        ({"time_zone": "Mountain"}, "time_zone"),
        ({"address": "fern.example.org"}, "address"),
        ({"address": "https://fern.example.org/pages"}, "address"),
        ({"decimal_mark": ";"}, "decimal_mark"),
    ],
)
def test_a_site_that_is_not_described_leaves_nothing(wrong, field) -> None:
    with pytest.raises(Refusal) as refused:
        start(**wrong)
    assert fields(refused) == {field}
    assert not Site.objects.exists() and not Person.objects.exists() and not Event.objects.exists()


def test_a_site_has_no_person_with_a_weak_or_missing_password() -> None:
    for password in ("", "short", "1234567890", "password123", "ruthruthruth"):
        with pytest.raises(Refusal):
            actions.start_site(
                site=SiteFacts("Fern Works", "America/Denver"),
                supervisor=new(name="ruth ruth", sign_in="ruthruth", password=password),
                by=None,
            )
    assert not Site.objects.exists()


def test_a_site_is_changed_by_who_keeps_people_and_by_version(site, ruth) -> None:
    facts = SiteFacts(site.name, "Europe/Berlin", decimal_mark=",")
    actions.change_site(site=site, facts=facts, by=ruth, version=1)
    with pytest.raises(Stale):
        actions.change_site(site=Site.objects.get(), facts=facts, by=ruth, version=1)
    with pytest.raises(NotAllowed):
        actions.change_site(site=site, facts=facts, by=make_person(site=site))
