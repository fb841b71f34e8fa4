"""Every page that is read asks the same number of questions of the database with few rows below it and with many."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import DjangoDbBlocker

from tests.contract.more_rows import grow, sources
from tests.contract.roles_table import TABLE
from tests.contract.roles_world import World, make_world

pytestmark = pytest.mark.django_db

VISITOR = "supervisor"  # sees what the others see, and what waits to be decided
FEW, MANY = 2, 40
FORMS_WITH_LISTS = {
    "maintenance:hand-over",
    "maintenance:handover",
    "maintenance:walk-point",
    "maintenance:own-messages",
}
LISTS = [
    name
    for name, row in TABLE.items()
    if name in FORMS_WITH_LISTS or (row.gets and VISITOR in row.gets and row.posts is None and not row.secret)
]


@dataclass(frozen=True)
class Asked:
    """The questions that a page asked with few rows and with many."""

    few: list[str]
    many: list[str]

    def further(self) -> str:
        """What was asked that was not asked before, without its columns."""
        new = list(self.many)
        for one in self.few:
            if one in new:
                new.remove(one)
        return "\n".join(one.partition(" FROM ")[2][:200] for one in new[:5])


@pytest.fixture(scope="module")
def asked(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[dict[str, Asked]]:
    """Ask for every page at one site, make the site larger, ask again; gone after this file."""
    with django_db_blocker.unblock(), transaction.atomic():
        world = make_world()
        rows = sources()
        grow(rows, FEW)
        few = {name: questions(world, name) for name in LISTS}
        grow(rows, MANY - FEW)
        yield {name: Asked(few[name], questions(world, name)) for name in LISTS}
        transaction.set_rollback(True)


def questions(world: World, name: str) -> list[str]:
    """Every question that opening a page asks, nothing of it kept from before."""
    names = TABLE[name].names
    kwargs: dict[str, Any] | None = names(world, VISITOR) if names else None
    client = world.browser(VISITOR)
    cache.clear()
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(reverse(name, kwargs=kwargs))
    assert answer.status_code in {200, 302}, f"{name}: {answer.status_code}"
    return [query["sql"] for query in caught]


@pytest.mark.parametrize("name", LISTS)
def test_a_page_asks_no_more_of_the_database_when_it_has_more_rows(asked: dict[str, Asked], name: str) -> None:
    found = asked[name]
    assert len(found.many) == len(found.few), found.further()
