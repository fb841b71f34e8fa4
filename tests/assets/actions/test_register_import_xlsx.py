"""A register from a spreadsheet: the demo plant's gives the same register as its CSV; all of it or nothing."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import io
import json

import pytest
from django.conf import settings
from openpyxl import Workbook

from assets import actions, reads
from assets.compute.register_cells import COLUMNS
from assets.compute.register_workbook import write_workbook
from assets.errors import Refusal, Stale
from assets.models import Area, Event, Position, Role
from assets.reads.records import check_records
from tests.make import make_person, make_site

pytestmark = pytest.mark.django_db
DEMO = settings.BASE_DIR / "fixtures" / "demo" / "register.csv"


@pytest.fixture
def site(clock):
    return make_site()


def demo_rows() -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(DEMO.read_text("utf-8-sig"), newline="")))


def as_a_person_types_it() -> bytes:
    """The demo register with numbers as numbers and days as days, as far as a number keeps what the text says."""
    book = Workbook()
    book.active.title = "Tags"
    book.active.append([name.upper() for name in COLUMNS])
    kinds: set[type] = set()
    for row in demo_rows():
        cells = [typed(column, row[column]) for column in COLUMNS]
        kinds |= {type(cell) for cell in cells}
        book.active.append(cells)
    assert {int, dt.datetime} <= kinds
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def typed(column: str, text: str) -> str | float | dt.datetime | None:
    if column == "fitted from" and text:
        return dt.datetime.fromisoformat(text)
    if column in {"low", "high"} and text and f"{float(text):g}" == text:
        return int(text) if text.lstrip("-").isdigit() else float(text)
    return text or None


def taken(site, content: bytes) -> str:
    """Take a file in and return the hash of the register that stands then."""
    looked = actions.look_through(site=site, content=content)
    assert looked.faults == ()
    by = make_person(site=site, role=Role.SUPERVISOR)
    hashes = {"file_hash": looked.file_hash, "register_hash": looked.register_hash}
    actions.take_register(site=site, content=content, name="plant", by=by, **hashes)
    again = actions.look_through(site=site, content=content)
    assert {step.state for step in again.steps} == {"same"}
    return again.register_hash


def test_the_demo_register_is_the_same_from_csv_and_from_a_spreadsheet(site) -> None:
    others = [make_site(name=name) for name in ("Second Works", "Third Works")]
    files = [DEMO.read_bytes(), write_workbook(demo_rows()), as_a_person_types_it()]
    hashes = [taken(place, file) for place, file in zip([site, *others], files, strict=True)]
    assert len(set(hashes)) == 1
    assert Position.objects.at(site).count() == len(demo_rows()) > 30
    facts = [json.loads(one.body)["facts"] for one in Event.objects.filter(verb="register.taken in").order_by("pk")]
    assert [one["hash"] for one in facts] == [hashlib.sha256(file).hexdigest() for file in files]
    assert {one["added"] for one in facts} == {str(len(demo_rows()))}
    assert check_records() == []


def test_what_goes_out_as_a_spreadsheet_comes_back_as_the_same(site) -> None:
    rows = [*demo_rows(), {**demo_rows()[0], "tag": "P-999", "serial": "007", "service": "=1+1", "model": "'-x"}]
    before = taken(site, write_workbook(rows))
    out = reads.register_workbook(site, today=dt.date(2026, 11, 25))
    assert taken(site, out) == before
    asset = Position.objects.get(tag="P-999").fittings.get().asset
    assert (asset.serial, asset.model) == ("007", "'-x")


def test_one_formula_stops_the_whole_file_and_leaves_nothing(site) -> None:
    good = as_a_person_types_it()
    looked = actions.look_through(site=site, content=good)
    book = Workbook()
    for row in (list(COLUMNS), ["P-1", "New", "Pump", "moves", *[""] * 4, "other"], ["P-2", "New", '="x"', "moves"]):
        book.active.append(row)
    file = io.BytesIO()
    book.save(file)
    by = make_person(site=site, role=Role.SUPERVISOR)
    faulty = actions.look_through(site=site, content=file.getvalue())
    assert {(one.row, one.column) for one in faulty.faults} == {(3, "service"), (3, "matters for")}
    hashes = {"file_hash": faulty.file_hash, "register_hash": faulty.register_hash, "name": "x", "by": by}
    with pytest.raises(Refusal, match="Row 3, service: The cell holds a formula"):
        actions.take_register(site=site, content=file.getvalue(), **hashes)
    with pytest.raises(Stale, match="not the one that was looked through"):
        actions.take_register(site=site, content=good, **hashes)
    assert not Position.objects.exists() and not Area.objects.exists()
    assert looked.title == "Tags"
