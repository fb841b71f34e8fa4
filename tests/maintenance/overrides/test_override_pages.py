"""The pages of forced values and holds: written down, approved, seen restored, with wrong input at each door."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assets.models import Person, Position, Role
from maintenance.models import Override
from tests.calibration.browser import boxes_of, text_at
from tests.conftest import Clock
from tests.make import PIN, make_person, make_position, make_site
from tests.make_upkeep import make_extension, make_override

pytestmark = pytest.mark.django_db
GOOD = {
    "kind": "forced value",
    "what": "pH on the HMI",
    "value": "7.4",
    "unit": "pH",
    "basis": "bench reading",
    "way": "HMI",
    "reason": "the probe is cracked",
    "measures": "bench reading twice a shift",
    "limit_at": "2026-11-25 18:00",
    "on_since": "2026-11-25 06:50",
    "cannot_wait": "the dose would run away",
}


@pytest.fixture
def tag(clock: Clock) -> Position:
    return make_position(site=make_site(), tag="AIT-410", matters_for="compliance")


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def ines(tag: Position) -> Person:
    return make_person(site=tag.site, name="Ines Calder")


@pytest.fixture
def ruth(tag: Position) -> Person:
    return make_person(site=tag.site, role=Role.SUPERVISOR, name="Ruth Penhall")


def new(tag: Position) -> str:
    return reverse("maintenance:override-new", args=[tag.label_code])


def sent(client: Client, url: str, **fields: str) -> Any:
    return client.post(url, {"key": f"k{len(fields)}{sorted(fields.items())}"[:30], **fields})


def test_a_value_is_forced_approved_and_seen_restored_through_the_pages(
    tag: Position, ines: Person, ruth: Person
) -> None:
    operator, supervisor = signed_in(ines), signed_in(ruth)
    assert sent(operator, new(tag), **GOOD).status_code == 302
    forced = Override.objects.get()
    page = operator.get(forced.get_absolute_url()).content.decode()
    assert "In force, not yet approved" in page
    assert "Approve it" not in page
    for url in ("/", "/review/", f"/tag/{tag.label_code}/", reverse("maintenance:overrides")):
        assert "pH on the HMI: 7.4" in operator.get(url).content.decode().replace("\u00a0", " "), url
    approve = reverse("maintenance:override-approve", args=[1])
    shown = supervisor.get(approve).context["form"]
    version = str(shown["version"].value())
    wrong = sent(supervisor, approve, version=version, proof="0000")
    assert wrong.status_code == 422
    assert "neither your PIN nor your password" in wrong.content.decode()
    assert sent(supervisor, approve, version=version, proof=PIN).status_code == 302
    assert sent(operator, reverse("maintenance:override-off", args=[1]), words="cleared").status_code == 302
    works = reverse("maintenance:override-restored", args=[1])
    own = sent(operator, works, how="value moved", words="7.40 to 7.52", proof=PIN)
    assert "another person sees that it works again" in own.content.decode()
    assert sent(supervisor, works, how="value moved", words="7.40 to 7.52", proof=PIN).status_code == 302
    assert "Nothing is left to do" in operator.get(forced.get_absolute_url()).content.decode()
    assert "pH on the HMI" in operator.get(f"{reverse('maintenance:overrides')}?show=ended").content.decode()
    assert "None now" in operator.get(f"/tag/{tag.label_code}/").content.decode()


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"kind": ""}, "kind", "Choose one"),
        ({"limit_at": "tomorrow"}, "limit_at", "is no day and time"),
        ({"limit_at": "2026-11-25 07:00"}, "limit_at", "has passed"),
        ({"limit_at": "2026-12-25 07:00"}, "limit_at", "72 hours at most"),
        ({"on_since": "2026-11-26 06:50"}, "on_since", "has not come yet"),
        ({"value": "7,4.1"}, "value", "is not a number"),
        ({"basis": ""}, "basis", "rests on"),
        ({"every_hours": "often"}, "every_hours", "whole number"),
        ({"cannot_wait": ""}, "cannot_wait", "could not wait"),
    ],
)
def test_wrong_input_is_said_at_its_field_and_nothing_typed_is_lost(
    tag: Position, ines: Person, typed: dict[str, str], field: str, says: str
) -> None:
    fields = GOOD | typed
    answer = sent(signed_in(ines), new(tag), **fields)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert says in text_at(html, field)
    boxes = boxes_of(html)
    kept = {name: text for name, text in fields.items() if text}
    # A text area begins with a line break that browsers drop (HTML Living Standard, 4.10.11).
    assert {name: boxes.get(name, "").removeprefix("\n") for name in kept} == kept
    assert not Override.objects.exists()


def test_a_look_and_more_time_through_the_pages(tag: Position, ines: Person, ruth: Person, clock: Clock) -> None:
    forced = make_override(tag, by=ines)
    operator, supervisor = signed_in(ines), signed_in(ruth)
    look = reverse("maintenance:override-look", args=[1])
    wrong = sent(operator, look, value="7.3", unit="pH", source="", taken_at="", agrees="no")
    assert wrong.status_code == 422
    assert "This field is required" in text_at(wrong.content.decode(), "source") or "required" in wrong.content.decode()
    good = {"value": "7.3", "unit": "pH", "source": "bench meter", "taken_at": "2026-11-25 07:05", "agrees": "yes"}
    assert sent(operator, look, **good).status_code == 302
    assert "bench meter" in operator.get(forced.get_absolute_url()).content.decode()
    extension = make_extension(forced, by=ines)
    review = supervisor.get("/review/").content.decode()
    assert "the new probe comes tomorrow" in review
    grant = reverse("maintenance:extension-grant", args=[extension.pk])
    assert sent(supervisor, grant, proof=PIN).status_code == 302
    forced.refresh_from_db()
    assert forced.limit_at == extension.to_at
    clock.forward(hours=9)
    assert timezone.now() > forced.limit_at
    assert "Over its time limit" in operator.get("/").content.decode()


def test_an_address_that_is_none_is_not_there(tag: Position, ines: Person) -> None:
    client = signed_in(ines)
    for url in ("/upkeep/forced/99/", "/upkeep/forced/?show=all", "/upkeep/forced/at/NOCODE/"):
        assert client.get(url).status_code == 404, url
    assert client.get("/upkeep/forced/?page=x").status_code == 200
    assert dt.date(2026, 11, 25) == timezone.now().date()
