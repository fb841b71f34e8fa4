"""Django's admin pages: the keeper of the installation reads every table of ours; nobody changes one there."""

from __future__ import annotations

import pytest
from django.contrib import admin
from django.urls import reverse

from assets.admin import ReadOnlyAdmin
from assets.models import Person, Role
from assets.triggers import kept_models
from tests.assets.signed_in import browser_of
from tests.make import make_company, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper():
    site = make_site()
    make_company(site=site)
    make_position(site=site)
    person = make_person(site=site, role=Role.ADMINISTRATOR)
    Person.objects.filter(pk=person.pk).update(is_staff=True)
    person.refresh_from_db()
    return person


def test_every_table_of_every_app_is_registered_read_only() -> None:
    for model in kept_models():
        assert isinstance(admin.site._registry[model], ReadOnlyAdmin), model


@pytest.mark.parametrize("model", list(kept_models()), ids=lambda m: m._meta.label_lower)
def test_a_table_is_listed_and_nothing_is_added_changed_or_deleted(keeper, model) -> None:
    client = browser_of(keeper)
    name = f"admin:{model._meta.app_label}_{model._meta.model_name}"
    listed = client.get(reverse(f"{name}_changelist"))
    assert listed.status_code == 200
    assert b"/add/" not in listed.content and b'name="action"' not in listed.content
    assert client.get(reverse(f"{name}_add")).status_code == 403
    assert client.post(reverse(f"{name}_add"), {"name": "x"}).status_code == 403
    row = model._default_manager.first()
    if row is not None:
        shown = client.get(reverse(f"{name}_change", args=[row.pk]))
        assert shown.status_code == 200 and b'type="submit" value="Save"' not in shown.content
        assert client.post(reverse(f"{name}_change", args=[row.pk]), {"name": "x"}).status_code == 403
        assert client.post(reverse(f"{name}_delete", args=[row.pk]), {"post": "yes"}).status_code == 403
        assert model._default_manager.filter(pk=row.pk).exists()


def test_no_secret_is_shown(keeper) -> None:
    text = browser_of(keeper).get(reverse("admin:assets_person_change", args=[keeper.pk])).content.decode()
    assert keeper.password not in text and keeper.pin_hash not in text and "Pin hash" not in text
    assert keeper.sign_in in text


def test_only_the_keeper_gets_in_and_by_our_own_door(client) -> None:
    site = make_site()
    ruth = browser_of(make_person(site=site, role=Role.SUPERVISOR))
    assert client.get("/admin/")["Location"].startswith("/admin/login/")
    assert client.get("/admin/login/?next=/admin/")["Location"] == "/sign-in/?next=/admin/"
    assert ruth.get("/admin/login/").status_code == 403
    assert ruth.get("/admin/assets/person/", follow=True).status_code == 403


def test_a_password_is_not_changed_past_the_history(keeper) -> None:
    client = browser_of(keeper)
    assert client.get("/admin/password_change/").status_code == 403
    typed = {"old_password": "x", "new_password1": "river-stone-93", "new_password2": "river-stone-93"}
    assert client.post("/admin/password_change/", typed).status_code == 403


@pytest.mark.parametrize(
    "asked", ["pin_hash__startswith=m", "password__contains=a", "id__exact=1", "memberships__id=1"]
)
def test_an_address_asks_for_no_rows_by_a_column(keeper, asked) -> None:
    # How an admin list spells out a hash by its filters: https://docs.djangoproject.com/en/5.2/ref/contrib/admin/
    # (ModelAdmin.lookup_allowed); a refused lookup is answered 400.
    answer = browser_of(keeper).get(f"{reverse('admin:assets_person_changelist')}?{asked}")
    assert answer.status_code == 400
