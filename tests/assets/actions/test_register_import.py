"""Taking in a register: looked through first, then whole or not at all, as one event; an export comes back the same."""

from __future__ import annotations

import datetime as dt
import hashlib
import json

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assets import actions, hooks, reads
from assets.actions import AssetFacts, LimitFacts
from assets.compute.register_cells import write_sheet
from assets.errors import NotAllowed, Refusal, Stale
from assets.models import Area, Asset, Event, Fitting, Limit, Position, Role, SignalUse
from assets.reads.records import check_records
from tests.make import make_asset, make_fitting, make_person, make_position, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock):
    return make_site()


@pytest.fixture
def ruth(site):
    return make_person(site=site, role=Role.SUPERVISOR)


def row(tag: str, **other: str) -> dict[str, str]:
    known = {"tag": tag, "area": "Filters", "service": "Water", "does": "moves", "matters for": "production"}
    return {**known, **{name.replace("_", " "): value for name, value in other.items()}}


def measuring(tag: str, **other: str) -> dict[str, str]:
    known = {"does": "measures", "quantity": "pH", "unit": "pH", "low": "0", "high": "14", "matters_for": "compliance"}
    return row(tag, **{**known, **other})


def content(*rows: dict[str, str]) -> bytes:
    return write_sheet(rows).encode()


def take(site, ruth, file: bytes, **other):
    looked = actions.look_through(site=site, content=file)
    given = {"file_hash": looked.file_hash, "register_hash": looked.register_hash, "name": "tags.csv", "by": ruth}
    return actions.take_register(site=site, content=file, **{**given, **other})


def states(site, file: bytes) -> dict[str, tuple[str, tuple[str, ...]]]:
    return {step.row.tag: (step.state, step.columns) for step in actions.look_through(site=site, content=file).steps}


PLANT = (
    measuring(
        "AIT-310",
        compliance_point="yes",
        kind="pH probe",
        serial="40-1",
        model="A",
        fitted_from="2026-03-04",
        uses="paces P-41; reports daily report",
        limits="high 8.50 pH (site permit); alarm low 6.5 pH (site setting)",
    ),
    row("P-41", area="Dosing", kind="Metering pump", serial="8-1", fitted_from="2026-03-04 14:05"),
    row("P-2", service="=cmd, Booster"),
)


def test_a_register_is_taken_as_one_event_with_hash_and_counts(site, ruth, clock) -> None:
    before = Event.objects.latest("pk").pk
    file = content(*PLANT)
    take(site, ruth, file)
    [event] = Event.objects.filter(pk__gt=before)
    body = json.loads(event.body)
    assert (event.verb, event.by) == ("register.taken in", ruth)
    assert body["facts"] == {
        "file": "tags.csv",
        "hash": hashlib.sha256(file).hexdigest(),
        "added": "3",
        "changed": "0",
        "same": "0",
    }
    assert len(body["rows"]) == 2 + 3 + 2 + 2 + 2 + 2  # areas, tags, assets, fittings, uses, limits
    position = Position.objects.get(tag="AIT-310")
    assert position.compliance_point and position.area.name == "Filters"
    fitting = Fitting.objects.get(position=position)
    assert fitting.from_at == dt.datetime(2026, 3, 4, 7, 0, tzinfo=dt.UTC)  # midnight in Denver
    assert Fitting.objects.get(position__tag="P-41").from_at == dt.datetime(2026, 3, 4, 21, 5, tzinfo=dt.UTC)
    assert SignalUse.objects.get(use="paces").target == Position.objects.get(tag="P-41")
    assert SignalUse.objects.get(use="reports").text == "daily report"
    assert {(x.name, x.side, x.value, x.source) for x in Limit.objects.all()} == {
        ("Limit", "high", "8.50", "site permit"),
        ("alarm", "low", "6.5", "site setting"),
    }
    assert check_records() == []


def test_what_goes_out_comes_back_as_the_same(site, ruth) -> None:
    take(site, ruth, content(*PLANT))
    out = reads.register_text(site, today=dt.date(2026, 11, 25))
    assert "'=cmd, Booster" in out
    file = out.encode("utf-8-sig")
    assert set(states(site, file).values()) == {("same", ())}
    before = Event.objects.count()
    take(site, ruth, file)
    assert Event.objects.count() == before + 1
    assert json.loads(Event.objects.latest("pk").body)["rows"] == []
    assert reads.register_text(site, today=dt.date(2026, 11, 25)) == out


def test_a_plant_written_by_hand_comes_back_as_the_same_too(site, ruth, clock) -> None:
    position = make_position(site=site, tag="AIT-1")
    asset = actions.register_asset(site=site, facts=AssetFacts("pH probe", "@7", "-x"), by=ruth)
    clock.set(2026, 11, 26, 8, 17, 31)
    actions.fit_asset(position=position, asset=asset, by=ruth)
    facts = LimitFacts("alarm high", "high", "8,5", "pH", "rule 4 (1); annex", dt.date(2026, 11, 1))
    actions.set_limit(position=position, facts=facts, by=ruth)
    actions.register_use(position=position, use="computes", text="log removal", by=ruth)
    file = reads.register_text(site, today=dt.date(2026, 11, 26)).encode("utf-8-sig")
    assert states(site, file) == {"AIT-1": ("same", ())}


def test_each_changed_cell_is_named_and_only_that_is_written(site, ruth) -> None:
    take(site, ruth, content(*PLANT))
    changed = (
        {**PLANT[0], "service": "pH, treated water", "high": "12", "limits": "high 8.4 pH (new permit)", "model": "B"},
        {**PLANT[1], "area": "New hut", "uses": "permits P-2"},
        row("P-2", service="=cmd, Booster", kind="Pump", serial="9", fitted_from="2026-11-01"),
    )
    assert states(site, content(*changed)) == {
        "AIT-310": ("changed", ("service", "high", "model", "limits")),
        "P-41": ("changed", ("area", "uses")),
        "P-2": ("changed", ("serial",)),
    }
    assert actions.look_through(site=site, content=content(*changed)).new_areas == ("New hut",)
    take(site, ruth, content(*changed))
    assert Position.objects.get(tag="AIT-310").service == "pH, treated water"
    assert Position.objects.get(tag="AIT-310").version == 2
    assert Asset.objects.get(serial="40-1").model == "B"
    assert [x.value for x in Limit.objects.in_force(dt.date(2026, 11, 25))] == ["8.4", "6.5"]
    assert Fitting.objects.get(position__tag="P-2").asset.serial == "9"
    # Nothing is ended by a file that leaves it out.
    assert SignalUse.objects.now().count() == 3
    assert set(states(site, content(*changed)).values()) == {("same", ())}
    assert check_records() == []


def test_hooks_hear_of_every_fitting_and_one_that_refuses_leaves_nothing(site, ruth, monkeypatch) -> None:
    heard = []
    monkeypatch.setattr(hooks, "after_fit", [lambda opened, fitting: heard.append(fitting.position.tag)])
    take(site, ruth, content(*PLANT))
    assert heard == ["AIT-310", "P-41"]

    def no(opened, fitting) -> None:
        raise Refusal("Not today.")

    monkeypatch.setattr(hooks, "after_fit", [no])
    before = counts()
    with pytest.raises(Refusal, match="Not today"):
        take(site, ruth, content(row("P-9", kind="Pump", serial="77", fitted_from="2026-11-01")))
    assert counts() == before


def test_a_file_or_register_that_changed_since_is_refused(site, ruth) -> None:
    file = content(*PLANT)
    looked = actions.look_through(site=site, content=file)
    before = counts()
    with pytest.raises(Stale, match="not the one that was looked through"):
        take(site, ruth, content(*PLANT[1:]), file_hash=looked.file_hash)
    actions.register_area(site=site, name="Filters", by=ruth)
    position = make_position(site=site, tag="AIT-1")
    with pytest.raises(Stale, match="register was changed since"):
        take(site, ruth, file, register_hash=looked.register_hash)
    actions.retire_position(position=position, by=ruth)
    written = {"assets.Area": 1, "assets.Position": 1, "assets.Event": counts()["assets.Event"]}
    assert counts() == {**before, **written}


@pytest.mark.parametrize("role", [Role.OPERATOR, Role.VIEWER, Role.ADMINISTRATOR])
def test_only_a_supervisor_takes_one_in(site, role) -> None:
    with pytest.raises(NotAllowed):
        take(site, make_person(site=site, role=role), content(*PLANT))


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("tag;µ".encode("latin-1"), "not in UTF-8"),
        (b"\x01\0", "no table of text"),
        (b"PK\x03\x04\0\0", "no spreadsheet of the kind XLSX"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\0", "older kind XLS, or one with a password"),
        (b"%PDF-1.7", "This is a PDF"),
        (b"\x89PNG\r\n", "This is a picture"),
        (b"\xef\xbb\xbf\n<html><table>", "page of the web"),
    ],
)
def test_a_file_that_is_no_text_is_refused_at_its_field(site, file, words) -> None:
    with pytest.raises(Refusal, match=words) as refused:
        actions.look_through(site=site, content=file)
    assert refused.value.reasons[0].field == "file"


# Sixty rows with each fault once


def counts() -> dict[str, int]:
    return {m._meta.label: m._default_manager.count() for m in apps.get_app_config("assets").get_models()}


FAULTY: list[tuple[dict[str, str], str, str]] = [
    (row("", service="no tag"), "tag", "empty"),
    (row("AIT-41O"), "tag", "letter where a digit belongs"),
    (row("pump three"), "tag", "no tag"),
    (row("P-100"), "tag", "stands in row"),
    (row("P-203", area=""), "area", "empty"),
    (row("P-204", service=""), "service", "empty"),
    (row("P-205", does="pumps"), "does", "none of the words"),
    (measuring("AIT-206", unit="l/m"), "unit", "Did you mean L/min"),
    (measuring("AIT-207", unit=""), "unit", "no unit"),
    (measuring("AIT-208", low="zero"), "low", "not a number"),
    (measuring("AIT-209", high="1,400"), "high", "can mean two numbers"),
    (measuring("AIT-210", low="14", high="0"), "high", "not above"),
    (row("P-211", matters_for="money"), "matters for", "none of the words"),
    (row("P-212", compliance_point="perhaps"), "compliance point", "no answer"),
    (row("P-213", serial="1"), "kind", "empty"),
    (row("P-214", kind="Pump"), "serial", "empty"),
    (row("P-215", kind="Pump", serial="215"), "fitted from", "without the day"),
    (row("P-216", kind="Pump", serial="216", fitted_from="03/04/2026"), "fitted from", "no day"),
    (row("P-217", kind="Pump", serial="217", fitted_from="2027-01-01"), "fitted from", "not come yet"),
    (row("P-218", fitted_from="2026-01-01"), "fitted from", "without an asset"),
    (row("P-219", kind="Pump", serial="100", fitted_from="2026-01-01"), "serial", "stands in row"),
    (row("P-220", kind="Pump", serial="HERE", fitted_from="2026-01-01"), "serial", "is fitted at P-901"),
    (row("P-900", kind="Pump", serial="221", fitted_from="2026-01-01"), "serial", "has Pump OLD fitted"),
    (row("P-902", kind="Pump", serial="ELSE", fitted_from="2020-01-01"), "fitted from", "is here from"),
    (row("P-224", kind="Pump", serial="GONE", fitted_from="2026-01-01"), "serial", "is retired"),
    (row("P-225", uses="steers P-100"), "uses", "no use"),
    (row("P-226", uses="paces P-999"), "uses", "neither in this file nor in the register"),
    (row("P-227", uses="paces P-227"), "uses", "cannot act on itself"),
    (measuring("AIT-228", limits="8.5 at most"), "limits", "no limit"),
    (measuring("AIT-229", limits="high 8,500 pH (permit)"), "limits", "can mean two numbers"),
    (measuring("AIT-230", limits="high 8.5 mg/L (permit)"), "limits", "different things"),
    (measuring("AIT-231", limits="high 8.5 parts (permit)"), "limits", "not a unit"),
    (row("P-232", model="x" * 81), "model", "81 letters"),
]


def faulty_file() -> list[dict[str, str]]:
    """Twenty-seven good rows with every faulty one between them: sixty in all."""
    good = [row(f"P-{100 + n}") for n in range(27)]
    good[0] |= {"kind": "Pump", "serial": "100", "fitted from": "2026-01-01"}
    mixed = []
    for n, (bad, _, _) in enumerate(FAULTY):
        mixed += [*good[n : n + 1], bad]
    return mixed


def test_sixty_rows_with_each_fault_once(site, ruth, clock) -> None:
    for tag, serial in (("P-900", "OLD"), ("P-901", "HERE"), ("P-902", "ELSE")):
        position = make_position(site=site, does="moves", tag=tag)
        make_fitting(position=position, asset=make_asset(site=site, kind="Pump", serial=serial), by=ruth)
    actions.retire_asset(asset=make_asset(site=site, kind="Pump", serial="GONE"), by=ruth)
    table = faulty_file()
    assert len(table) == 60
    file = content(*table)
    looked = actions.look_through(site=site, content=file)
    wanted = [(table.index(bad) + 2, column, words) for bad, column, words in FAULTY]
    for number, column, words in wanted:
        found = [str(f) for f in looked.faults if f.row == number and f.column == column]
        assert len(found) == 1 and words in found[0], (number, column, words, found)
    assert len(looked.faults) == len(FAULTY)
    assert len(looked.steps) == 27
    before = counts()
    with pytest.raises(Refusal) as refused:
        take(site, ruth, file)
    assert len(refused.value.reasons) == len(FAULTY)
    assert counts() == before


def test_a_row_with_two_faults_of_different_kinds_names_both(site) -> None:
    file = content(row("P-1", does="pumps", uses="paces P-999; steers P-2", kind="Pump", serial="1"))
    found = [(fault.row, fault.column) for fault in actions.look_through(site=site, content=file).faults]
    assert found == [(2, "does"), (2, "fitted from"), (2, "uses"), (2, "uses")]


def test_the_same_rows_without_the_faulty_ones_are_taken(site, ruth) -> None:
    good = [r for r in faulty_file() if r not in [bad for bad, _, _ in FAULTY]]
    take(site, ruth, content(*good))
    assert Position.objects.count() == 27 and Area.objects.count() == 1
    order = list(Position.objects.in_walking_order().values_list("tag", flat=True))
    assert order == [r["tag"] for r in good]


def test_a_register_is_compared_in_as_many_queries_for_two_as_for_twenty_rows(site, ruth) -> None:
    def queries(file: bytes) -> int:
        with CaptureQueriesContext(connection) as seen:
            actions.look_through(site=site, content=file)
        return len(seen)

    pumps = [row(f"P-{n}", kind="Pump", serial=str(n), fitted_from="2026-01-01") for n in range(300, 320)]
    take(site, ruth, content(*PLANT, *pumps[:2]))
    few = queries(content(*pumps[:2]))
    take(site, ruth, content(*pumps))
    assert queries(content(*pumps)) == few
