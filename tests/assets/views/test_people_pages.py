"""Pages of people, companies and the site: who may see and do what; what is typed stays, but never a secret."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets import actions
from assets.actions import QualificationFacts
from assets.models import Company, Event, Person, Qualification, Role, Site
from assets.permissions import role_of
from tests.assets.signed_in import browser_of, sent
from tests.make import make_company, make_person, make_site

pytestmark = pytest.mark.django_db
GOOD = "river-stone-93-x"


@pytest.fixture
def site(clock):
    return make_site()


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


@pytest.fixture
def ada(site):
    return make_person(site=site, role=Role.ADMINISTRATOR)


@pytest.fixture
def ines(site):
    return make_person(site=site, name="Ines Calder")


NEW = {
    "name": "Tomas Lind",
    "sign_in": "tomas",
    "phone": "555 0133",
    "email": "",
    "company": "",
    "role": "operator",
    "password": GOOD,
    "pin": "4829",
}


def forms_of(site: Site, person: Person, keeper: Person) -> list[str]:
    facts = QualificationFacts("lockout", dt.date(2026, 1, 1), "course record")
    qualification = actions.add_qualification(site=site, person=person, facts=facts, by=keeper)
    company = make_company(site=site)
    acts = ("edit", "role", "password", "pin/clear", "retire", "qualifications/new")
    return [
        *[f"/people/{person.pk}/{act}/" for act in acts],
        f"/people/qualifications/{qualification.pk}/end/",
        f"/people/companies/{company.pk}/edit/",
    ]


def test_every_form_by_role_and_site(site, ruth, ada, ines) -> None:
    other = make_site(name="Other Works")
    theirs = forms_of(other, make_person(site=other), make_person(site=other, role=Role.SUPERVISOR))
    ours = [*forms_of(site, ines, ruth), "/people/new/", "/people/companies/new/", "/site/"]
    for role in (Role.SUPERVISOR, Role.ADMINISTRATOR, Role.OPERATOR, Role.VIEWER):
        client = browser_of(make_person(site=site, role=role))
        may = role in {Role.SUPERVISOR, Role.ADMINISTRATOR}
        for path in ours:
            assert client.get(path).status_code == (200 if may else 403), (role, path)
            assert may or client.post(path, {}).status_code == 403, (role, path)
        for path in theirs:
            assert client.get(path).status_code == (404 if may else 403), (role, path)
            assert client.post(path, {}).status_code == (404 if may else 403), (role, path)
        assert client.get("/people/").status_code == client.get(f"/people/{ines.pk}/").status_code == 200


def test_who_is_not_signed_in_is_asked(client, ines) -> None:
    for path in ("/people/", f"/people/{ines.pk}/", "/people/new/", f"/people/{ines.pk}/retire/", "/site/"):
        assert client.get(path)["Location"] == f"/sign-in/?next={path}"
    for path in ("/people/new/", f"/people/{ines.pk}/retire/", "/site/"):
        assert client.post(path, NEW)["Location"].startswith("/sign-in/")
    assert client.post("/people/").status_code == client.post(f"/people/{ines.pk}/").status_code == 405


def test_a_person_is_registered_and_signs_in(site, ruth, client) -> None:
    answer = sent(browser_of(ruth), "/people/new/", **NEW)
    tomas = Person.objects.get(name="Tomas Lind")
    assert answer["Location"] == f"/people/{tomas.pk}/"
    assert role_of(tomas, site) == Role.OPERATOR
    assert client.post("/sign-in/", {"sign_in": "tomas", "password": GOOD}).status_code == 302


def test_a_refused_person_keeps_what_was_typed_but_no_secret(site, ruth, ines) -> None:
    answer = sent(browser_of(ruth), "/people/new/", **{**NEW, "sign_in": ines.sign_in, "pin": "48291"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "has this sign-in name already" in text and 'value="555 0133"' in text
    assert GOOD not in text and "48291" not in text
    answer = sent(browser_of(ruth), "/people/new/", **{**NEW, "password": "", "name": "", "role": ""})
    assert set(answer.context["form"].errors) == {"name", "role"}
    answer = sent(browser_of(ruth), "/people/new/", **{**NEW, "password": ""})
    assert set(answer.context["form"].errors) == {"password"}


def test_a_supervisor_gives_the_roles_of_the_shift_only_where_there_is_an_administrator(site, ruth) -> None:
    def offered() -> set[str]:
        return {value for value, _ in browser_of(ruth).get("/people/new/").context["form"].fields["role"].choices}

    assert offered() == {role.value for role in Role}
    make_person(site=site, role=Role.ADMINISTRATOR)
    assert offered() == {"operator", "viewer", "contractor"}
    assert sent(browser_of(ruth), "/people/new/", **{**NEW, "role": "administrator"}).status_code == 422


def test_a_contractor_is_registered_with_a_company_and_no_password(site, ruth) -> None:
    client = browser_of(ruth)
    assert sent(client, "/people/companies/new/", name="Alder", phone="555 0190")["Location"] == "/people/"
    company = Company.objects.get()
    typed = {**NEW, "role": "contractor", "sign_in": "", "password": "", "pin": "", "company": str(company.pk)}
    assert sent(client, "/people/new/", **typed).status_code == 302
    text = client.get("/people/").content.decode()
    assert "Contractors" in text and "Alder" in text and 'href="tel:5550190"' in text
    assert sent(client, "/people/new/", **{**typed, "password": GOOD}).status_code == 422


def test_a_person_is_changed_and_an_old_page_is_told(site, ruth, ines) -> None:
    client, path = browser_of(ruth), f"/people/{ines.pk}/edit/"
    shown = client.get(path).context["form"]
    typed = {"name": "Ines Calder-Roe", "sign_in": ines.sign_in, "phone": "", "email": "", "company": ""}
    assert sent(client, path, **typed).status_code == 302
    old = {"key": shown["key"].value(), "version": shown["version"].value()}
    answer = client.post(path, {**old, **typed, "name": "Ines Other"})
    assert answer.status_code == 422 and "changed by somebody else" in answer.content.decode()
    assert Person.objects.get(pk=ines.pk).name == "Ines Calder-Roe"


def test_a_new_password_is_typed_twice_and_a_pin_taken_away(site, ruth, ines, client) -> None:
    keeper = browser_of(ruth)
    path = f"/people/{ines.pk}/password/"
    assert sent(keeper, path, password=GOOD, again="other").status_code == 422
    assert sent(keeper, path, password="password123", again="password123").status_code == 422
    assert sent(keeper, path, password=GOOD, again=GOOD).status_code == 302
    assert client.post("/sign-in/", {"sign_in": ines.sign_in, "password": GOOD}).status_code == 302
    assert sent(keeper, f"/people/{ines.pk}/pin/clear/").status_code == 302
    assert Person.objects.get(pk=ines.pk).pin_hash == ""


def test_a_supervisor_sees_but_does_not_rule_an_administrator(site, ruth, ada) -> None:
    client = browser_of(ruth)
    text = client.get(f"/people/{ada.pk}/").content.decode()
    assert "A new password" not in text and "Change the role" not in text
    assert sent(client, f"/people/{ada.pk}/password/", password=GOOD, again=GOOD).status_code == 422
    assert sent(client, f"/people/{ada.pk}/retire/").status_code == 422
    assert role_of(ada, site) == Role.ADMINISTRATOR


def test_a_role_is_changed_ended_and_a_person_leaves(site, ada, ines) -> None:
    client, path = browser_of(ada), f"/people/{ines.pk}/role/"
    assert sent(client, path).status_code == 422
    assert sent(client, path, role="viewer").status_code == 302
    assert sent(client, path, role="viewer").status_code == 422
    assert sent(client, path, role="none").status_code == 302
    assert role_of(ines, site) is None
    assert "Ines Calder" in client.get("/people/?role=none").content.decode()
    assert sent(client, path, role="operator").status_code == 302
    assert sent(client, f"/people/{ines.pk}/retire/")["Location"] == "/people/"
    assert sent(client, f"/people/{ines.pk}/retire/").status_code == 422
    assert "has left" in client.get(f"/people/{ines.pk}/").content.decode()


def test_a_qualification_is_recorded_shown_and_withdrawn(site, ruth, ines) -> None:
    client, path = browser_of(ruth), f"/people/{ines.pk}/qualifications/new/"
    typed = {"kind": "lockout", "from_day": "2026-01-05", "until_day": "", "proof": "course record 14"}
    bad = sent(client, path, **{**typed, "from_day": "5.1.2026"})
    assert bad.status_code == 422 and "Write the day like 2026-11-25" in bad.content.decode()
    assert sent(client, path, **{**typed, "until_day": "2025-01-01"}).status_code == 422
    assert sent(client, path, **typed).status_code == 302
    assert "course record 14" in client.get(f"/people/{ines.pk}/").content.decode()
    assert "lockout, authorized" in client.get("/people/").content.decode()
    row = Qualification.objects.get()
    assert sent(client, f"/people/qualifications/{row.pk}/end/").status_code == 302
    assert sent(client, f"/people/qualifications/{row.pk}/end/").status_code == 422
    assert "lockout, authorized" not in client.get("/people/").content.decode()


def test_the_site_is_changed_and_refused_with_what_was_typed(site, ada) -> None:
    client = browser_of(ada)
    typed = {
        "name": site.name,
        "time_zone": "America/Denver",
        "unit_system": "US",
        "decimal_mark": ".",
        "address": "kestrel.example.org",
        "ask_name": "Ruth",
        "ask_phone": "",
    }
    answer = sent(client, "/site/", **typed)
    assert answer.status_code == 422 and 'value="kestrel.example.org"' in answer.content.decode()
    assert sent(client, "/site/", **{**typed, "address": "https://kestrel.example.org"}).status_code == 302
    site.refresh_from_db()
    assert (site.address, site.unit_system, site.version) == ("https://kestrel.example.org", "US", 2)
    assert Event.objects.latest("pk").verb == "site.changed"


def test_people_take_as_many_queries_for_two_as_for_twenty(site, ruth) -> None:
    client = browser_of(ruth)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            client.get("/people/")
        return len(seen)

    for _ in range(2):
        make_person(site=site, qualified=True, company=None)
    few = queries()
    for number in range(18):
        make_person(site=site, qualified=True, company=make_company(site=site, name=f"C{number}"))
    assert queries() == few


def test_the_phone_of_a_colleague_is_a_button_for_everybody(site, ruth, ines) -> None:
    text = browser_of(ines).get(f"/people/{ruth.pk}/").content.decode()
    assert f'href="tel:{ruth.phone.replace(" ", "")}"' in text
    assert "To change" not in text and ruth.sign_in not in text
