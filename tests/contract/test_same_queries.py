"""Every page that is read asks the same number of questions of the database with few rows below it and with many.

Two rows of every table against twenty for every page; twenty against two thousand for every page that is a list.
"""

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

from assets.models import Asset, Fitting, Membership, Person, Position, Production, Qualification, Signature
from calibration.models import Check, Lot, Outcome, ReadingSet
from maintenance.models import (
    Application,
    CheckPoint,
    Handover,
    IsolationPoint,
    Lock,
    LockBox,
    Lockout,
    LockoutLine,
    Occurrence,
    OrderTemplate,
    Override,
    Part,
    PartMove,
    Plan,
    PlanTerm,
    PointOfPosition,
    Round,
    Walk,
    WorkOrder,
)
from tests.contract.more_rows import grow, only, sources
from tests.contract.rare_rows import make_rare_rows
from tests.contract.roles_table import TABLE
from tests.contract.roles_world import World, make_world

pytestmark = pytest.mark.django_db

VISITOR = "supervisor"  # sees what the others see, and what waits to be decided
FEW, SOME, MANY = 2, 20, 2000
COUNTED = (MANY - SOME) // 2  # half of the copies of a child hang on one parent; some lists count to 1,000 only
FORMS_WITH_LISTS = {
    "maintenance:hand-over",
    "maintenance:handover",
    "maintenance:walk-point",
    "maintenance:own-messages",
}
PAGES = [
    name
    for name, row in TABLE.items()
    if name in FORMS_WITH_LISTS or (row.gets and VISITOR in row.gets and row.posts is None and not row.secret)
]
LISTS = [
    "assets:plant",
    "assets:assets",
    "assets:people",
    "assets:labels",
    "assets:running?show=every",
    "maintenance:due",
    "maintenance:routines",
    "maintenance:orders",
    "maintenance:parts",
    "maintenance:order-templates",
    "maintenance:overrides",
    "maintenance:handovers",
    "maintenance:walks",
    "maintenance:rounds",
    "maintenance:points",
    "maintenance:lock-register",
    "maintenance:boxes",
    "calibration:checks",
    "calibration:standards",
]
"""All but the list of what is locked now: it has no pages, so that no lock is on a second one."""
OF_LISTS = {
    *(Position, Asset, Fitting, Person, Membership, Qualification, Production, Signature),
    *(
        Plan,
        PlanTerm,
        Occurrence,
        WorkOrder,
        Part,
        PartMove,
        OrderTemplate,
        Override,
        Round,
        CheckPoint,
        Walk,
        Handover,
    ),
    *(IsolationPoint, PointOfPosition, Lock, LockBox, Lockout, LockoutLine, Application),
    *(Lot, Check, ReadingSet, Outcome),
}
"""The tables whose rows the lists show, with what stands in each row."""


@dataclass(frozen=True)
class Asked:
    """The questions that a page asked with few rows and with many; `rows`: how many a list had then."""

    few: list[str]
    many: list[str]
    rows: int = 0

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
        make_rare_rows(world)
        rows, one_of_each = sources(), sources(1)
        empty = [model._meta.label for model, own in rows.items() if not own]
        assert not empty, f"no row to copy, so nothing is proven of: {empty}"
        grow(rows, FEW)
        few = {name: questions(world, name)[0] for name in PAGES}
        grow(rows, SOME - FEW)
        some = {name: questions(world, name)[0] for name in {*PAGES, *LISTS}}
        found = {name: Asked(few[name], some[name]) for name in PAGES}
        grow(only(one_of_each, OF_LISTS), MANY - SOME)
        yield found | {f"{name} in full": Asked(some[name], *questions(world, name)) for name in LISTS}
        transaction.set_rollback(True)


def questions(world: World, name: str) -> tuple[list[str], int]:
    """Every question that opening a page asks, nothing of it kept from before; and of a list how many rows it has."""
    name, _, query = name.partition("?")
    names = TABLE[name].names
    kwargs: dict[str, Any] | None = names(world, VISITOR) if names else None
    client = world.browser(VISITOR)
    cache.clear()
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(f"{reverse(name, kwargs=kwargs)}?{query}")
    assert answer.status_code in {200, 302}, f"{name}: {answer.status_code}"
    pager = answer.context.get("pager") if answer.context else None
    return [query["sql"] for query in caught], int(pager.total.strip("+")) if pager else 0


@pytest.mark.parametrize("name", PAGES)
def test_a_page_asks_no_more_of_the_database_when_it_has_more_rows(asked: dict[str, Asked], name: str) -> None:
    found = asked[name]
    assert len(found.many) == len(found.few), found.further()


@pytest.mark.parametrize("name", LISTS)
def test_a_list_asks_no_more_of_the_database_for_two_thousand_rows_than_for_twenty(
    asked: dict[str, Asked], name: str
) -> None:
    found = asked[f"{name} in full"]
    assert found.rows >= COUNTED, "the list does not show what was added"
    assert len(found.many) == len(found.few), found.further()
