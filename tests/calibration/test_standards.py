"""Lots, buffer tables and certificates: what is registered, what is refused and why, what the pages show."""

from __future__ import annotations

import datetime as dt
import json
from fractions import Fraction
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from assets.errors import NotAllowed, Refusal
from assets.models import Event, FitForUse, Role
from calibration.actions.certificates import accept_certificate
from calibration.actions.lots import LotTyped, record_lot_fact, register_lot
from calibration.actions.tables import load_standard_tables, own_files
from calibration.compute.families import usual_life
from calibration.models import Lot, StandardKind, StandardTable
from calibration.reads.lots import lot_rows, relied_on
from calibration.reads.standards import lot_in_use, table_of_kind
from tests.calibration.browser import boxes_of, text_at
from tests.make import make_asset, make_person, make_site
from tests.make_checks import TABLES, Bench, make_lot, make_tables

pytestmark = pytest.mark.django_db


def test_the_tables_come_in_once_with_one_event() -> None:
    text = {"ph_buffers.csv": TABLES.read_text(encoding="utf-8")}
    assert load_standard_tables(files=text, by=None) == StandardKind.objects.count() > 5
    assert load_standard_tables(files=text, by=None) == 0
    assert Event.objects.filter(verb="standard_tables.loaded").count() == 1
    # Labels of the trade; values at 25 degC as in the file: 6.865, 7.000, 4.005 and 10.012.
    labels = dict(StandardKind.objects.values_list("code", "nominal"))
    assert (labels["phosphate"], labels["phosphate-7.00"], labels["phthalate"]) == ("6.86", "7.00", "4.01")
    assert labels["carbonate"] == "10.01"


def test_changed_figures_make_a_further_version_and_keep_the_first() -> None:
    text = {"ph_buffers.csv": TABLES.read_text(encoding="utf-8")}
    load_standard_tables(files=text, by=None)
    changed = {
        name: one.replace("carbonate 0.025 mol/kg each,25,10.012", "carbonate 0.025 mol/kg each,25,10.013")
        for name, one in text.items()
    }
    assert changed != text
    assert load_standard_tables(files=changed, by=None) == 1
    assert list(StandardTable.objects.filter(kind__code="carbonate").values_list("version", flat=True)) == [2, 1]


def test_tables_that_cannot_be_read_change_nothing() -> None:
    with pytest.raises(Refusal, match="lacks the column"):
        load_standard_tables(files={"ph_buffers.csv": "buffer,ph\nx,7\n"}, by=None)
    assert not StandardKind.objects.exists()


def test_the_command_loads_the_projects_own_tables(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("load_standard_tables")
    call_command("load_standard_tables")
    assert "up to date" in capsys.readouterr().out
    assert StandardKind.objects.exists()


def test_the_solutions_that_come_with_the_tool_stand_with_their_values() -> None:
    load_standard_tables(files=own_files(), by=None)
    kinds = {kind.code: kind for kind in StandardKind.objects.prefetch_related("tables")}
    # Potassium chloride 0.01 mol/kg at 25 °C: 1408.23 µS/cm, Pratt et al. 2001, as tabulated in a handbook.
    solution = table_of_kind(kinds["kcl-0.01-mol-kg"])
    assert solution is not None and solution.value(Fraction(25)) == Fraction("1408.23")
    assert solution.unit == "µS/cm"
    # ZoBell's solution at 1 °C: 481 mV against the hydrogen electrode, Standard Methods table 2580:I.
    zobell = table_of_kind(kinds["zobell"])
    assert zobell is not None and zobell.value(Fraction(1)) == 481
    # Light's solution is known at one temperature: no table is made of it.
    assert table_of_kind(kinds["light"]) is None
    assert kinds["light"].nominal == "675"
    assert all("memory" not in table.source for kind in kinds.values() for table in kind.tables.all())


def typed(**other: Any) -> LotTyped:
    given: dict[str, Any] = {
        "kind": StandardKind.objects.get(code="phosphate-7.00"),
        "number": "2608-A",
        "label_value": "7.00",
        "received_on": dt.date(2026, 6, 1),
        "expires_on": dt.date(2027, 6, 1),
    }
    return LotTyped(**(given | other))


# Usual life once opened: 90 days, a high buffer 30: common practice, no source.
@pytest.mark.parametrize(("label", "days"), [("7.00", 90), ("4.01", 90), ("9.18", 30), ("10.01", 30)])
def test_the_usual_life_of_an_opened_bottle(label: str, days: int) -> None:
    assert usual_life("buffer", Fraction(label)) == days


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"expires_on": dt.date(2026, 5, 31)}, "expires_on", "before the day it was received"),
        ({"label_value": "seven"}, "label_value", "is not a number"),
        ({"label_value": "70.0"}, "label_value", "no pH of a buffer"),
        # Labels of the trade: 6.86 and 7.00 are two phosphate buffers, 0.14 pH apart; 4.01 is the phthalate.
        ({"label_value": "4.01"}, "label_value", "not that of the buffer chosen above, pH 7.00"),
        ({"label_value": "6,86"}, "label_value", "not that of the buffer chosen"),
        ({"received_on": dt.date(2027, 1, 1)}, "received_on", "has not come yet"),
        ({"uncertainty": "0.02", "coverage": "0"}, "coverage", "above zero"),
        ({"own_table": "15 7.036\n25 70.0"}, "own_table", "70 is no pH of a buffer"),
        ({"own_table": "15 4.00\n25 4.01"}, "own_table", "gives 4.01 at 25 °C, and the label says 7"),
        ({"uncertainty": "0.02"}, "coverage", "needs its k"),
        ({"uncertainty": "-0.02", "coverage": "2"}, "uncertainty", "below zero"),
        ({"own_table": "15 7.036\n20 abc"}, "own_table", "not a temperature and a value"),
        ({"own_table": "20 7.016\n20 7.02"}, "own_table", "must rise"),
    ],
)
def test_a_lot_that_cannot_be_is_refused_at_its_field(wrong: dict[str, Any], field: str, words: str) -> None:
    make_tables()
    site = make_site()
    by = make_person(site=site, role=Role.SUPERVISOR)
    with pytest.raises(Refusal, match=words) as refused:
        register_lot(site=site, lot=typed(**wrong), by=by)
    assert [reason.field for reason in refused.value.reasons] == [field]
    assert not Lot.objects.exists()


@pytest.mark.parametrize("label", ["7.00", "7,01", "6.98", "7.1"])
def test_labels_of_one_buffer_differ_by_some_hundredths(label: str) -> None:
    make_tables()
    site = make_site()
    by = make_person(site=site, role=Role.SUPERVISOR)
    assert register_lot(site=site, lot=typed(label_value=label), by=by).label_value == label


def test_a_lots_own_table_goes_before_that_of_its_kind() -> None:
    make_tables()
    site = make_site()
    by = make_person(site=site, role=Role.SUPERVISOR)
    plain = lot_in_use(register_lot(site=site, lot=typed(number="1"), by=by))
    own = lot_in_use(register_lot(site=site, lot=typed(number="2", own_table="10 7,07\n25 7,01"), by=by))
    assert plain is not None and own is not None
    assert float(plain.table.value(plain.table.low)) != 7.07
    assert float(own.table.value(own.table.low)) == 7.07


def test_the_same_lot_is_registered_once(bench: Bench) -> None:
    with pytest.raises(Refusal, match="registered already"):
        make_lot(site=bench.site, by=bench.supervisor, kind="7", number="2608-a")


def test_what_becomes_of_a_lot(bench: Bench, today: dt.date) -> None:
    lot = bench.lots["7"]

    def fact(kind: str, why: str = "cloudy", by: Any = bench.operator, day: dt.date = today) -> None:
        record_lot_fact(lot=lot, kind=kind, day=day, why=why, by=by)

    with pytest.raises(Refusal, match="opened already"):
        fact("opened", "")
    with pytest.raises(Refusal, match="not quarantined"):
        fact("released", by=bench.supervisor)
    with pytest.raises(Refusal, match="Because"):
        fact("quarantined", " ")
    with pytest.raises(Refusal, match="not come yet"):
        fact("quarantined", day=today + dt.timedelta(days=1))
    fact("quarantined")
    with pytest.raises(Refusal, match="quarantined already"):
        fact("quarantined")
    with pytest.raises(NotAllowed):
        fact("released")
    fact("released", "maker says it may be cloudy", by=bench.supervisor)
    fact("discarded", "empty")
    with pytest.raises(Refusal, match="nothing more happens"):
        fact("quarantined")
    assert list(lot.facts.values_list("kind", flat=True)) == ["opened", "quarantined", "released", "discarded"]


def test_the_states_of_lots_in_words(bench: Bench, today: dt.date) -> None:
    make_lot(site=bench.site, by=bench.supervisor, number="old", expires_on=today - dt.timedelta(days=1))
    make_lot(site=bench.site, by=bench.supervisor, number="open", opened_on=today - dt.timedelta(days=91))
    record_lot_fact(lot=bench.lots["10"], kind="quarantined", day=today, why="low", by=bench.operator)
    words = {row.number: row.state.word for row in lot_rows(bench.site, today)}
    assert words["2608-A"] == "Open, in date"
    assert words["2607-B"] == "Quarantined"
    assert words["open"] == "Open too long"
    assert [row.number for row in lot_rows(bench.site, today, gone=True)] == ["old"]


def test_a_lot_names_the_checks_that_relied_on_it(bench: Bench) -> None:
    check = bench.check()
    (relied,) = relied_on(bench.lots["7"])
    assert (relied.number, relied.set_kind) == (check.number, "as found")
    assert relied_on(bench.lots["4"]) == ()


def test_the_form_of_a_lot_keeps_what_was_typed(bench: Bench, enter: Any) -> None:
    url = reverse("calibration:lot-new")
    supervisor = enter(bench.supervisor)
    data = {
        "kind": StandardKind.objects.get(code="phthalate").pk,
        "number": "2700-Z",
        "label_value": "4.0.1",
        "received_on": "2026-11-01",
        "expires_on": "2026-10-01",
        "uncertainty": "0.02",
        "key": "lot-1",
    }
    answer = supervisor.post(url, data)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "is not a number" in text_at(html, "label_value")
    assert "before the day it was received" in text_at(html, "expires_on")
    assert boxes_of(html)["label_value"] == "4.0.1"
    assert boxes_of(html)["number"] == "2700-Z"
    good = data | {"label_value": "4,01", "expires_on": "2027-10-01", "coverage": "2"}
    answers = [supervisor.post(url, good) for _ in range(2)]
    assert answers[0]["Location"] == answers[1]["Location"]
    lot = Lot.objects.get(number="2700-Z")
    assert lot.label_value == "4,01"
    assert Lot.objects.filter(number="2700-Z").count() == 1


def test_the_page_of_a_lot_and_its_facts(bench: Bench, operator: Client) -> None:
    bench.check()
    lot = bench.lots["7"]
    html = operator.get(lot.get_absolute_url()).content.decode()
    assert "Check 1" in html
    url = reverse("calibration:lot-fact", args=[lot.pk])
    assert "Released" not in operator.get(url).content.decode()
    answer = operator.post(url, {"kind": "quarantined", "day": "2026-11-25", "why": "", "key": "f1"})
    assert answer.status_code == 422
    assert "Say in words why" in text_at(answer.content.decode(), "why")
    assert (
        operator.post(url, {"kind": "quarantined", "day": "2026-11-25", "why": "cloudy", "key": "f2"}).status_code
        == 302
    )
    assert "cloudy" in operator.get(lot.get_absolute_url()).content.decode()
    refused = Event.objects.get(verb="refused")
    assert json.loads(refused.body)["facts"]["asked"] == "lot.quarantined"


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"until": dt.date(2025, 12, 31)}, "until", "before the day it begins"),
        ({"until": dt.date(2026, 11, 24)}, "until", "out of date"),
        ({"from_day": dt.date(2026, 12, 1), "until": dt.date(2027, 12, 1)}, "from_day", "not come yet"),
        ({"number": " "}, "number", "nothing is written"),
        ({"issuer": ""}, "issuer", "nothing is written"),
        ({"file_hash": "abc"}, "file", "SHA-256"),
    ],
)
def test_a_certificate_that_cannot_be_is_refused(bench: Bench, wrong: dict[str, Any], field: str, words: str) -> None:
    given = {
        "asset": make_asset(site=bench.site, kind="voltage tester", serial="M-4"),
        "from_day": dt.date(2026, 1, 1),
        "until": dt.date(2027, 1, 1),
        "issuer": "County bench",
        "number": "C-17",
        "file_hash": "",
        "by": bench.supervisor,
    }
    with pytest.raises(Refusal, match=words) as refused:
        accept_certificate(**(given | wrong))  # type: ignore[arg-type]
    assert [reason.field for reason in refused.value.reasons] == [field]
    assert not FitForUse.objects.exists()
    accept_certificate(**given)  # type: ignore[arg-type]
    assert FitForUse.objects.get().until == dt.date(2027, 1, 1)


def test_a_certificate_through_its_page_with_the_fingerprint_of_its_file(bench: Bench, enter: Any) -> None:
    tester = make_asset(site=bench.site, kind="voltage tester", serial="M-4")
    url = reverse("calibration:certificate-new", args=[tester.pk])
    supervisor = enter(bench.supervisor)
    data = {
        "do": "accept",
        "number": "C-17",
        "issuer": "County bench",
        "from_day": "2026-01-01",
        "until": "2027-01-01",
        "key": "c1",
    }
    answer = supervisor.post(url, data | {"until": "2026-01-00", "key": "c0"})
    assert answer.status_code == 422
    assert boxes_of(answer.content.decode())["number"] == "C-17"
    file = SimpleUploadedFile("c17.pdf", b"abc")
    assert supervisor.post(url, data | {"file": file}).status_code == 302
    facts = json.loads(Event.objects.get(verb="certificate.accepted").body)["facts"]
    # SHA-256 of "abc": FIPS 180-2, appendix B.1.
    assert facts["file_hash"] == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert supervisor.post(url, {"do": "unfit", "why": "dropped", "key": "c2"}).status_code == 302
    assert not FitForUse.objects.first().fit  # type: ignore[union-attr]
    html = supervisor.get(url).content.decode()
    assert "dropped" in html
    assert enter(bench.operator).get(url).status_code == 403
