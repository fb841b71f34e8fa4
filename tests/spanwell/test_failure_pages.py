"""Pages for what cannot be shown: a way on for who is signed in, and a page even when the database is away."""

from __future__ import annotations

import pytest
from django.db import DatabaseError
from django.test import Client, RequestFactory

from assets.models import Role, Site
from spanwell.pages.failures import not_found
from tests.assets.signed_in import browser_of
from tests.make import make_person, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def test_an_address_that_is_not_there_keeps_the_sections_of_who_is_signed_in(site: Site) -> None:
    ines = make_person(site=site, role=Role.OPERATOR)
    page = browser_of(ines).get("/nothing-here/")
    assert page.status_code == 404
    assert ines.name in page.content.decode()
    assert 'href="/upkeep/"' in page.content.decode()
    nobodys = Client().get("/nothing-here/")
    assert nobodys.status_code == 404
    assert 'href="/upkeep/"' not in nobodys.content.decode()


def test_who_has_no_role_any_more_is_told_that_nothing_is_there(site: Site) -> None:
    gone = make_person(site=site, role=Role.OPERATOR)
    gone.memberships.update(to_at=site.memberships.get().from_at)
    assert browser_of(gone).get("/nothing-here/").status_code == 404


def test_without_a_database_an_address_that_is_not_there_still_has_its_page() -> None:
    class Away:
        """A person behind a database that does not answer."""

        @property
        def __class__(self) -> type:
            raise DatabaseError("the database does not answer")

    request = RequestFactory().get("/nothing-here/")
    request.user = Away()  # type: ignore[assignment]
    page = not_found(request, Exception())
    assert page.status_code == 404
    assert "Nothing is written under this address" in page.content.decode()
