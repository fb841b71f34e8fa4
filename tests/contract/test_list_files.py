"""Every list as a file: CSV and XLSX hold the rows of its filter, the same in both, and text that looks like a formula
stays text."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Callable, Iterator, Sequence
from urllib.parse import quote, urljoin

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook
from pytest_django import DjangoDbBlocker

from tests.contract.roles_world import World, make_world
from tests.make_checks import make_lot
from tests.make_locks import make_lock
from tests.make_upkeep import make_handover

pytestmark = pytest.mark.django_db

FORMULA = "=1+1"
FIND = f"find={quote(FORMULA)}"


LISTS: dict[str, str | Callable[[World], str]] = {
    "assets:plant": FIND,
    "assets:assets": FIND,
    "assets:people": FIND,
    "assets:running": lambda world: f"show=every&unit={world.pump.position.pk}",
    "maintenance:routines": FIND,
    "maintenance:orders": lambda world: f"tag={world.bench.position.label_code}",
    "maintenance:parts": FIND,
    "maintenance:order-templates": FIND,
    "maintenance:overrides": FIND,
    "maintenance:handovers": FIND,
    "maintenance:walks": lambda world: f"round={world.walk.round.pk}",
    "maintenance:rounds": FIND,
    "maintenance:points": FIND,
    "maintenance:lock-register": FIND,
    "maintenance:boxes": FIND,
    "maintenance:locks": FIND,
    "calibration:checks": lambda world: f"tag={world.bench.position.pk}",
    "calibration:standards": FIND,
}
OTHER_LINES = {"maintenance:rounds", "calibration:checks", "maintenance:locks"}
"""Lists whose files have a line for something else: what a round asks, a set of a check; and the one without pages."""


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    """A site where one thing of each list is named like a formula; gone after this file."""
    with django_db_blocker.unblock(), transaction.atomic():
        made = make_world()
        ruth = made.bench.supervisor
        make_lot(site=made.bench.site, by=ruth, number=FORMULA)
        make_handover(by=made.bench.operator, words=FORMULA)
        make_lock(site=made.bench.site, number=FORMULA, of=made.bench.operator, by=ruth)
        # Written past the actions: what is typed there would be refused or trimmed in some of them.
        for row, column in (
            (made.pump.position, "tag"),
            (made.bench.position, "service"),
            (made.pump.tester, "kind"),
            (made.pump.ben, "name"),
            (made.store.part, "name"),
            (made.store.template, "title"),
            (made.override, "what"),
            (made.order, "title"),
            (made.walk.round, "name"),
            (made.pump.box, "name"),
        ):
            type(row)._base_manager.filter(pk=row.pk).update(**{column: FORMULA})
        yield made
        transaction.set_rollback(True)


def filtered(world: World, name: str) -> str:
    query = LISTS[name]
    return query if isinstance(query, str) else query(world)


def ask(client: Client, name: str, query: str) -> tuple[int, list[list[str]], list[list[str]]]:
    """Return how many rows the page counts, and those of its two files without their headings."""
    path = f"{reverse(name)}?{query}"
    page = client.get(path)
    assert page.status_code == 200
    pager = page.context["pager"]
    files = [page.context.get("csv_url") or pager.csv_url, page.context.get("xlsx_url") or pager.xlsx_url]
    sent = [client.get(urljoin(path, file)) for file in files]
    assert [answer.status_code for answer in sent] == [200, 200]
    as_csv = list(csv.reader(io.StringIO(sent[0].content.decode())))
    sheet = load_workbook(io.BytesIO(sent[1].content)).worksheets[0]
    assert "f" not in {cell.data_type for row in sheet.iter_rows() for cell in row}, "a cell is a formula"
    as_xlsx = [[str(cell.value or "") for cell in row] for row in sheet.iter_rows()]
    assert as_csv[0] == as_xlsx[0]
    return int(pager.total), as_csv[1:], as_xlsx[1:]


def plain(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """Rows of a CSV file without the apostrophe that keeps a cell from being a formula."""
    return [[cell.removeprefix("'") if cell[1:2] in {"=", "+", "-", "@"} else cell for cell in row] for row in rows]


@pytest.mark.parametrize("name", LISTS)
def test_the_files_of_a_list_hold_the_rows_of_its_filter_and_no_formula(world: World, name: str) -> None:
    client = world.browser("supervisor")
    total, as_csv, as_xlsx = ask(client, name, filtered(world, name))
    assert plain(as_csv) == as_xlsx
    assert as_csv and (len(as_csv) == total or name in OTHER_LINES)
    assert all(any(FORMULA in cell for cell in row) for row in as_xlsx), "a row that the filter leaves out"
    assert not any(cell.startswith("=") for row in as_csv for cell in row)


@pytest.mark.parametrize("name", LISTS)
def test_every_choice_of_a_list_opens(world: World, name: str) -> None:
    client, path = world.browser("operator"), reverse(name)
    links = sorted(set(re.findall(r'href="(\?[^"#]*)"', client.get(path).content.decode())))
    assert links
    bad = [link for link in links if client.get(path + html.unescape(link)).status_code != 200]
    assert not bad
