"""Signing in and out: throttled, refused in the history, never led away; one's own PIN, password and site."""

from __future__ import annotations

import json

import pytest
from django.test import Client

from assets import actions
from assets.models import Event, Person, Role
from tests.assets.signed_in import browser_of
from tests.make import PASSWORD, PIN, make_person, make_site

pytestmark = pytest.mark.django_db
PATH = "/sign-in/"


@pytest.fixture
def site():
    return make_site()


@pytest.fixture
def ines(site):
    return make_person(site=site)


def sign_in(client: Client, name: str, password: str, **more: str):
    return client.post(PATH, {"sign_in": name, "password": password, **more})


def test_the_page_asks_for_name_and_password_and_names_whom_to_ask(client, site) -> None:
    page = client.get(PATH)
    assert page.status_code == 200
    text = page.content.decode()
    assert "Your sign-in name" in text and 'type="password"' in text
    assert site.name in text and "555 0110" in text


def test_the_right_password_signs_in_and_is_written_down(client, ines) -> None:
    answer = sign_in(client, f" {ines.sign_in.upper()} ", PASSWORD)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    event = Event.objects.latest("pk")
    assert (event.chain, event.verb, event.by) == (0, "signed in", ines)
    assert client.get("/me/").status_code == 200


@pytest.mark.parametrize("name", ["", "nobody"])
def test_a_wrong_password_is_refused_keeps_the_name_and_is_written_down(client, ines, name) -> None:
    answer = sign_in(client, name or ines.sign_in, "wrong-" + PASSWORD)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "do not belong together" in text
    assert f'value="{name or ines.sign_in}"' in text
    assert PASSWORD not in text
    event = Event.objects.latest("pk")
    assert (event.chain, event.verb, event.by) == (0, "refused", None if name else ines)
    assert json.loads(event.body)["facts"]["asked"] == "sign in"
    assert "nobody" not in event.body and PASSWORD not in event.body
    assert client.get("/me/").status_code == 302


def test_nothing_typed_is_said_at_each_field(client, ines) -> None:
    answer = sign_in(client, "", "")
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"sign_in", "password"}


def test_five_wrong_tries_close_the_name_even_for_the_right_password(client, ines, site) -> None:
    for _ in range(4):
        assert sign_in(client, ines.sign_in, "wrong-word-9").status_code == 422
    fifth = sign_in(client, ines.sign_in, "wrong-word-9")
    assert fifth.status_code == 429
    assert "quarter of an hour" in fifth.content.decode()
    assert sign_in(client, ines.sign_in, PASSWORD).status_code == 429
    assert client.get("/me/").status_code == 302
    other = make_person(site=site)
    assert sign_in(client, other.sign_in, PASSWORD).status_code == 302
    reasons = [json.loads(e.body)["facts"]["reasons"][0] for e in Event.objects.filter(verb="refused").order_by("pk")]
    assert len(reasons) == 6 and "closed for 15 minutes" in reasons[-1]


def test_a_program_that_guesses_names_does_not_fill_the_history(client, site, monkeypatch) -> None:
    monkeypatch.setattr("assets.actions.signing_in.UNKNOWN_AN_HOUR", 3)
    for number in range(5):
        sign_in(client, f"guess{number}", "wrong-word-9")
    assert Event.objects.filter(verb="refused").count() == 3


@pytest.mark.parametrize(
    ("wanted", "leads_to"),
    [
        ("/plant/", "/plant/"),
        ("/tag/ABC/?show=all", "/tag/ABC/?show=all"),
        ("https://elsewhere.example.org/", "/"),
        ("//elsewhere.example.org/", "/"),
        ("/\\elsewhere.example.org/", "/"),
        ("javascript:alert(1)", "/"),
        ("plant/", "/"),
        ("", "/"),
    ],
)
def test_after_signing_in_only_an_own_path_is_gone_to(client, ines, wanted, leads_to) -> None:
    assert sign_in(client, ines.sign_in, PASSWORD, next=wanted)["Location"] == leads_to


def test_the_wanted_page_is_carried_by_the_form(client, ines) -> None:
    away = client.get("/me/")
    assert away["Location"] == "/sign-in/?next=/me/"
    assert 'name="next" value="/me/"' in client.get(away["Location"]).content.decode()


def test_who_is_signed_in_is_led_on(ines) -> None:
    assert browser_of(ines).get(f"{PATH}?next=/plant/")["Location"] == "/plant/"


def test_who_has_no_role_or_has_left_does_not_get_in(client, site, ines) -> None:
    ruth = make_person(site=site, role=Role.SUPERVISOR)
    actions.end_role(site=site, person=ines, by=ruth)
    answer = sign_in(client, ines.sign_in, PASSWORD)
    assert answer.status_code == 422 and "no role at any site" in answer.content.decode()
    tom = make_person(site=site)
    theirs = browser_of(tom)
    assert theirs.get("/me/").status_code == 200
    actions.retire_person(site=site, person=tom, by=ruth)
    assert theirs.get("/me/").status_code == 302
    assert sign_in(client, tom.sign_in, PASSWORD).status_code == 422


def test_a_contractor_has_no_way_in_here(client, site) -> None:
    kai = make_person(site=site, role=Role.CONTRACTOR)
    assert kai.sign_in is None
    assert sign_in(client, "", "").status_code == 422
    assert sign_in(client, kai.name, "").status_code == 422


def test_signing_out_is_a_post(ines) -> None:
    theirs = browser_of(ines)
    assert theirs.get("/sign-out/").status_code == 405
    assert theirs.post("/sign-out/")["Location"] == PATH
    assert theirs.get("/me/").status_code == 302


# One's own page


def own(client: Client, do: str, **typed: str):
    key = client.get("/me/").context["own"]
    form = {"pin": key.pin, "password": key.password}.get(do)
    keys = {f"{do}-key": form["key"].value()} if form else {}
    return client.post(
        "/me/", {"do": do, **keys, **{name if do == "site" else f"{do}-{name}": v for name, v in typed.items()}}
    )


def test_a_new_pin_takes_the_present_password(ines) -> None:
    theirs = browser_of(ines)
    wrong = own(theirs, "pin", proof=PIN, pin="4829", again="4829")
    assert wrong.status_code == 422 and "present password" in wrong.content.decode()
    wrong = own(theirs, "pin", proof="nonsense", pin="4829", again="4829")
    assert wrong.status_code == 422 and "4 tries left" in wrong.content.decode()
    wrong = own(theirs, "pin", proof=PASSWORD, pin="4829", again="4828")
    assert wrong.status_code == 422 and "not the same" in wrong.content.decode()
    wrong = own(theirs, "pin", proof=PASSWORD, pin="1234", again="1234")
    assert wrong.status_code == 422 and "Anybody would try" in wrong.content.decode()
    assert own(theirs, "pin", proof=PASSWORD, pin="4829", again="4829").status_code == 302
    assert "Your new PIN holds" in theirs.get("/me/").content.decode()
    assert Event.objects.filter(verb="pin.set", by=ines).count() == 1


def test_a_new_password_signs_the_other_devices_out(client, ines) -> None:
    here, there = browser_of(ines), browser_of(ines)
    assert there.get("/me/").status_code == 200
    done = own(here, "password", proof=PASSWORD, password="river-stone-93-x", again="river-stone-93-x")
    assert done.status_code == 302
    assert here.get("/me/").status_code == 200
    assert there.get("/me/").status_code == 302
    assert sign_in(client, ines.sign_in, "river-stone-93-x").status_code == 302


def test_a_site_is_chosen_among_ones_own(ines, site) -> None:
    other, foreign = make_site(name="Other Works"), make_site(name="Foreign Works")
    boss = make_person(site=other, role=Role.SUPERVISOR)
    actions.change_role(site=other, person=ines, role=Role.VIEWER, by=boss)
    theirs = browser_of(ines)
    assert own(theirs, "site", site=str(other.pk)).status_code == 302
    assert theirs.get("/me/").context["desk"].site == other
    assert own(theirs, "site", site=str(foreign.pk)).status_code == 422
    assert theirs.get("/me/").context["desk"].site == other


def test_the_page_never_shows_a_secret(ines) -> None:
    text = browser_of(ines).get("/me/").content.decode()
    person = Person.objects.get(pk=ines.pk)
    assert person.password not in text and person.pin_hash not in text
