"""Every address against every role, with what is theirs and with what is another site's."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest
from django.db import connection, transaction
from django.http import HttpResponse
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pytest_django import DjangoDbBlocker

from tests.contract.roles_table import TABLE, Row
from tests.contract.roles_world import LINK, SIGNED_OUT, VISITORS, World, make_world

pytestmark = pytest.mark.django_db

WRITES = ("INSERT", "UPDATE", "DELETE", "REPLACE")
KEPT_APART = ("django_session", "axes_")  # who is signed in and how often somebody tried: not the record


def named(resolver: URLResolver, space: str = "") -> Iterator[str]:
    """Yield the name of every address, with its namespace; one without a name by its pattern."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from named(entry, f"{entry.namespace}:" if entry.namespace else space)
        elif isinstance(entry, URLPattern):
            yield f"{space}{entry.name or entry.pattern}"


@pytest.fixture(scope="module")
def worlds(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[tuple[World, World]]:
    """One site that is asked, another that owns what must not be found; made once, gone after this file."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield make_world(), make_world(ahead=True)
        transaction.set_rollback(True)


@pytest.fixture
def here(worlds: tuple[World, World]) -> World:
    """The site that is asked."""
    return worlds[0]


@pytest.fixture
def there(worlds: tuple[World, World]) -> World:
    """The other site."""
    return worlds[1]


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    """Two thousand refusals are expected here; without their tracebacks the file takes half the time."""
    logging.disable(logging.WARNING)
    yield
    logging.disable(logging.NOTSET)


def address(name: str, world: World, visitor: str) -> str:
    names = TABLE[name].names
    return reverse(name, kwargs=names(world, visitor) if names else None)


def ask(world: World, visitor: str, method: str, path: str) -> HttpResponse:
    """Send one request and undo what it changed."""
    client = world.browser(visitor)
    with transaction.atomic():
        answer = client.get(path) if method == "GET" else client.post(path)
        transaction.set_rollback(True)
    return answer


def expected(row: Row, visitor: str, method: str) -> str:
    """What the table says that a visitor gets; an address that knows no such request may say so before it asks who."""
    roles = row.gets if method == "GET" else row.posts
    if row.job:
        return "no such request" if roles is None else "in" if visitor == LINK else "not there"
    if row.public:
        return "no such request" if roles is None else "in"
    if visitor in {SIGNED_OUT, LINK}:
        return "no such request" if roles is None else "sign in"
    if roles is None:
        return "no such request"
    return "in" if visitor in roles else "not there" if visitor in row.unseen else "forbidden"


def got(answer: HttpResponse, row: Row) -> str:
    """What an answer amounts to; anything else by its number."""
    if answer.status_code == 302 and answer["Location"].startswith(reverse("assets:sign-in")) and not row.public:
        return "sign in"
    words = {200: "in", 302: "in", 409: "in", 422: "in", 403: "forbidden", 404: "not there", 405: "no such request"}
    return words.get(answer.status_code, str(answer.status_code))


def test_every_address_has_a_row_and_every_row_an_address() -> None:
    ours = {name for name in named(get_resolver()) if not name.startswith("admin:")}
    assert ours - set(TABLE) == set(), "addresses without a row in tests/contract/roles_table.py"
    assert set(TABLE) - ours == set(), "rows without an address"


@pytest.mark.parametrize("name", TABLE)
def test_each_role_gets_what_the_table_says(here: World, name: str) -> None:
    row = TABLE[name]
    wrong = []
    for visitor in VISITORS:
        path = address(name, here, visitor)
        for method in ("GET", "POST"):
            found, wanted = got(ask(here, visitor, method, path), row), expected(row, visitor, method)
            if found != wanted:
                wrong.append(f"{method} by {visitor}: {found}; the table says {wanted}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize(
    "name", [name for name, row in TABLE.items() if row.names and not (row.secret or row.everywhere)]
)
def test_what_is_another_sites_does_not_exist(here: World, there: World, name: str) -> None:
    row = TABLE[name]
    wrong = []
    for visitor in VISITORS:
        path = address(name, there, visitor)
        assert path != address(name, here, visitor), f"{path} exists at both sites"
        for method in ("GET", "POST"):
            own = expected(row, visitor, method)
            if own not in {"in", "forbidden"}:
                continue
            found = got(ask(here, visitor, method, path), row)
            # A role that may not come here at all is told so whatever the record is, and so learns nothing of it.
            if found not in {"not there", "forbidden" if own == "forbidden" else ""}:
                wrong.append(f"{method} by {visitor}: {found}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("name", TABLE)
def test_opening_an_address_changes_nothing(here: World, name: str) -> None:
    row = TABLE[name]
    wrong = []
    # What opens for an operator or a viewer opens for the supervisor as well.
    for visitor in ("supervisor", "administrator", SIGNED_OUT, LINK):
        if expected(row, visitor, "GET") not in {"in", "no such request"}:
            continue
        with CaptureQueriesContext(connection) as asked:
            ask(here, visitor, "GET", address(name, here, visitor))
        sentences = [query["sql"] for query in asked if query["sql"].startswith(WRITES)]
        wrong += [f"{visitor}: {sql[:80]}" for sql in sentences if not any(table in sql for table in KEPT_APART)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("visitor", VISITORS)
def test_the_tables_of_the_installation_are_for_its_keeper(here: World, visitor: str) -> None:
    answer = here.browser(visitor).get(reverse("admin:index"))
    assert answer.status_code == 302
    assert "sign-in" in answer["Location"] or "login" in answer["Location"]
