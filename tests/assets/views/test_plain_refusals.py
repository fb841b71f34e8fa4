"""What a page says when the framework finds the fault: our sentences, whatever was sent, and nothing overwritten."""

from __future__ import annotations

import pytest

from assets.models import Position, Role
from tests.assets.signed_in import browser_of, sent
from tests.assets.views.test_plant_pages import TAG
from tests.make import make_asset, make_fitting, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock):
    return make_site()


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


def test_a_change_sent_without_its_version_overwrites_nothing(site, ruth, probe) -> None:
    path = f"/plant/tags/{probe.pk}/edit/"
    before = Position.objects.values().get(pk=probe.pk)
    for version in ({}, {"version": ""}):
        typed = {**TAG, "tag": "AIT-411", "area": probe.area_id, "key": "k1", **version}
        answer = browser_of(ruth).post(path, typed)
        assert answer.status_code == 422
        assert "which version of the record" in answer.content.decode()
        assert 'value="AIT-411"' in answer.content.decode()
    assert Position.objects.values().get(pk=probe.pk) == before


def test_no_sentence_of_the_framework_reaches_the_screen(site, ruth, probe) -> None:
    typed = {**TAG, "area": probe.area_id, "does": "weird", "unit": "weird", "tag": "A" * 400, "service": "a\x00b"}
    answer = sent(browser_of(ruth), "/plant/tags/new/", **typed)
    text = answer.content.decode()
    assert answer.status_code == 422
    for stock in ("Ensure this value", "Null characters", "Select a valid choice", "not a valid choice"):
        assert stock not in text
    assert "Tag: This is too long: 400 characters, and at most 24 can be kept" in text
    assert "What was chosen, “weird”, is not offered here" in text
    assert "A character that cannot be seen (U+0000) is in it" in text


def test_an_asset_that_was_taken_meanwhile_is_said_plainly(site, ines, probe) -> None:
    asset = make_asset(site=site)
    make_fitting(position=make_position(site=site), asset=asset, by=ines)
    answer = sent(browser_of(ines), f"/plant/tags/{probe.pk}/fit/", asset=asset.pk, at="")
    assert answer.status_code == 422
    assert "is not offered here, or not any more. Choose one of those that are" in answer.content.decode()
    assert "Select a valid choice" not in answer.content.decode()
