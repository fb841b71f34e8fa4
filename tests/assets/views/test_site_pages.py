"""The history of a record as people read it, and the labels that lead to a tag."""

from __future__ import annotations

import pytest
from django.test import Client

from assets.models import Position, Role
from tests.assets.signed_in import browser_of, sent
from tests.make import make_area, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock):
    return make_site(address="https://kestrel.example.org")


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


@pytest.fixture
def ines(site):
    return make_person(site=site)


@pytest.fixture
def probe(site):
    """A pH position."""
    return make_position(site=site, tag="AIT-410")


TAG = {
    "tag": "AIT-310",
    "service": "pH, filtered water",
    "does": "measures",
    "matters_for": "compliance",
    "quantity": "pH",
    "unit": "pH",
    "range_low": "0",
    "range_high": "14",
    "compliance_point": "yes",
    "walk_order": "",
}


def test_the_history_of_a_record_reads_as_sentences(site, ruth, ines) -> None:
    client, area = browser_of(ruth), make_area(site=site)
    sent(client, "/plant/tags/new/", area=str(area.pk), **TAG)
    position = Position.objects.get()
    sent(client, f"/plant/tags/{position.pk}/edit/", area=str(area.pk), **{**TAG, "service": "pH, treated water"})
    sent(client, f"/plant/tags/{position.pk}/edit/", area=str(area.pk), **{**TAG, "range_low": "20"})
    path = f"/history/assets.position/{position.pk}/"
    text = client.get(path).content.decode()
    assert "service: was pH, filtered water, is pH, treated water" in text
    assert "Refused: position changed" in text and "does not" in text
    assert "Position registered" in text and ruth.name in text
    assert browser_of(ines).get(path).status_code == 200


def test_the_history_of_people_is_for_who_keeps_them_and_no_other_sites_is_shown(site, ruth, ines) -> None:
    other = make_site(name="Other Works")
    theirs = make_position(site=other)
    assert browser_of(ruth).get(f"/history/assets.person/{ines.pk}/").status_code == 200
    assert browser_of(ines).get(f"/history/assets.person/{ines.pk}/").status_code == 404
    admin = browser_of(make_person(site=site, role=Role.ADMINISTRATOR))
    ours = make_position(site=site)
    assert admin.get(f"/history/assets.position/{ours.pk}/").status_code == 404
    for kind in ("assets.position", "nothing.here"):
        assert browser_of(ruth).get(f"/history/{kind}/{theirs.pk}/").status_code == 404


# Labels


def test_labels_carry_the_sites_address_in_capitals(site, ines, probe) -> None:
    text = browser_of(ines).get("/plant/labels/").content.decode()
    assert text.count('class="qr"') == 1 and "AIT-410" in text
    [one] = browser_of(ines).get("/plant/labels/").context["labels"]
    assert one["label"].address == f"HTTPS://KESTREL.EXAMPLE.ORG/T/{probe.label_code}"
    answer = browser_of(ines).get(f"/T/{probe.label_code}")
    assert answer["Location"] == f"/tag/{probe.label_code}/"
    assert browser_of(ines).get("/T/NOTHING").status_code == 404


def test_no_label_is_printed_before_the_address_is_set(ruth) -> None:
    bare = make_site(name="Bare Works")
    make_position(site=bare, tag="AIT-1")
    text = browser_of(make_person(site=bare, role=Role.SUPERVISOR)).get("/plant/labels/").content.decode()
    assert 'class="qr"' not in text and "AIT-1" not in text and "/site/" in text


def test_chosen_labels_only(site, ines, probe) -> None:
    other = make_position(site=site)
    elsewhere = make_position(site=make_site(name="Other Works"))
    shown = browser_of(ines).get(f"/plant/labels/?tag={other.pk}&tag={elsewhere.pk}&tag=x").context["labels"]
    assert [one["label"].tag for one in shown] == [other.tag]


def test_a_scan_without_signing_in_is_led_back_after_it(probe) -> None:
    assert Client().get(f"/T/{probe.label_code}")["Location"] == f"/sign-in/?next=/T/{probe.label_code}"
