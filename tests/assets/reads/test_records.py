"""The proof of the record: what is altered, removed, inserted or exchanged with the database's own tools is named.

Each fault is made in raw SQL with the triggers dropped, in every table whose rows the events prove.
"""

from __future__ import annotations

import datetime as dt
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, models

from assets import actions, filing, tasks, triggers
from assets.actions import CounterBroken, LimitFacts, QualificationFacts, ReadingFacts, RuleTyped
from assets.compute.canonical import chained
from assets.history import act
from assets.models import Event, FitForUse, KeptFile, NightReport, Role, Site
from assets.proofs import demo_proof, sign
from assets.reads.records import Fault, check_records, digested_models, heads, heads_text, read_heads
from tests.make import (
    make_area,
    make_asset,
    make_company,
    make_file,
    make_fitting,
    make_person,
    make_position,
    make_site,
    make_use,
    picture,
)

pytestmark = pytest.mark.django_db
OURS = [model for model in digested_models() if model._meta.app_label == "assets"]


def fill() -> Site:
    """At least two rows in every table of the plant, through the actions."""
    site = make_site()
    ruth, ines = make_person(site=site, role=Role.SUPERVISOR, qualified=True), make_person(site=site)
    for number in (1, 2):
        make_site(name=f"Works {number}")
        make_company(site=site, name=f"Company {number}")
        make_area(site=site)
        position, pump = make_position(site=site), make_position(site=site, does="moves")
        asset = make_asset(site=site)
        make_fitting(position=position, asset=asset, by=ruth)
        make_use(position=position, target=pump, by=ruth)
        facts = LimitFacts("permit", "high", f"8.{number}", "pH", "permit 12", dt.date(2026, 11, 25))
        actions.set_limit(position=position, facts=facts, by=ruth)
        actions.record_reading(of=position, facts=ReadingFacts("pH", f"7.0{number}", "pH", "HMI"), by=ines)
        broken = CounterBroken(modulus="100000")
        rolled = ReadingFacts("Run hours", f"1{number}.5", "h", "display", broken=broken)
        actions.record_reading(of=pump, facts=rolled, by=ines)
        rule = RuleTyped("grab_hours", str(3 + number), "permit 12", "asked for by the state", dt.date(2026, 11, 25))
        actions.set_rule(site=site, typed=rule, by=ruth)
        actions.add_holiday(site=site, day=dt.date(2027, 1, number), name="New Year", by=ruth)
        actions.start_running(site=site, unit=pump, by=ines)
        make_file(site=site, by=ines, data=picture(size=(number, 5)), name=f"picture {number}.png")
        qualified = QualificationFacts("lockout", dt.date(2026, 1, number), "course record")
        actions.add_qualification(site=site, person=ines, facts=qualified, by=ruth)
        kai = make_person(site=site, role=Role.CONTRACTOR)
        actions.make_access_link(site=site, person=kai, path="/locks/1/", by=ruth)
        actions.report_night(site=site, kind=f"kind {number}", site_day=dt.date(2026, 11, 25), differences=0)
        with act(site=site, by=ruth) as opened:
            opened.add(FitForUse(asset=asset, fit=False, why=f"dropped {number}", recorded_at=opened.at))
            sign(
                opened, site=site, person=ruth, proof=demo_proof(ruth), meaning="I read this.", digest=str(number) * 64
            )
            opened.write("asset.judged", subject=asset)
    return site


@pytest.fixture
def site() -> Site:
    made = fill()
    assert check_records() == []
    triggers.drop(connection)
    return made


def raw(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def texts() -> list[str]:
    return [str(fault) for fault in check_records()]


def two_of(model: type[models.Model]) -> list[int]:
    rows = list(model._default_manager.order_by("-pk").values_list("pk", flat=True)[:2])
    assert len(rows) == 2, f"fill() puts two rows into {model._meta.label}"
    return rows


def alteration(model: type[models.Model]) -> str:
    """One column and another value for it that breaks no other rule of the table."""
    left_out = getattr(model, "undigested", ())
    free = [
        f
        for f in model._meta.concrete_fields
        if not (f.is_relation or f.primary_key or f.unique or f.choices or f.name in left_out)
    ]
    text = next((f for f in free if isinstance(f, models.CharField | models.TextField)), None)
    moment = next((f for f in free if isinstance(f, models.DateTimeField)), None)
    return f"\"{moment.column}\" = '2000-01-01 00:00:00'" if moment else f"\"{text.column}\" = 'q'"


@pytest.mark.parametrize("model", OURS, ids=lambda m: m._meta.model_name)
def test_an_altered_row_is_named(site, model) -> None:
    pk = two_of(model)[0]
    raw(f"UPDATE {model._meta.db_table} SET {alteration(model)} WHERE id = %s", pk)
    [text] = texts()
    assert text.startswith(f"{model._meta.verbose_name} {pk} ({model._meta.label_lower})")
    assert "altered from outside" in text and "event" in text


@pytest.mark.parametrize("model", OURS, ids=lambda m: m._meta.model_name)
def test_a_removed_row_is_named(site, model) -> None:
    pk = two_of(model)[0]
    with connection.constraint_checks_disabled():
        raw(f"DELETE FROM {model._meta.db_table} WHERE id = %s", pk)
        found = texts()
        # The test's own end would check the references that the deletion left hanging.
        connection.needs_rollback = True
    assert f"{model._meta.verbose_name} {pk} ({model._meta.label_lower}): " in " ".join(found)
    assert any("gone: removed from outside" in text for text in found)


@pytest.mark.parametrize("model", OURS, ids=lambda m: m._meta.model_name)
def test_an_inserted_row_is_named(site, model) -> None:
    pk = two_of(model)[0]
    table = model._meta.db_table
    columns = [f for f in model._meta.concrete_fields if not f.primary_key]
    chosen = ", ".join(_fresh(f, pk) for f in columns)
    named = ", ".join(f'"{f.column}"' for f in columns)
    raw(f"INSERT INTO {table} (id, {named}) SELECT 99999, {chosen} FROM {table} WHERE id = %s", pk)
    [text] = texts()
    assert text.startswith(f"{model._meta.verbose_name} 99999 ({model._meta.label_lower})")
    assert "inserted from outside" in text


def _fresh(column: models.Field, pk: int) -> str:
    """The column of the copied row, changed where another rule of the table asks for it."""
    if column.name in {"to_at", "closed_at", "retired_at", "withdrawn_at"}:
        return f"COALESCE(\"{column.column}\", '2099-01-01 00:00:00')"
    if column.name == "withdrawn_because":
        return "'made up'"
    if column.name == "reading":
        return "(SELECT min(id) FROM assets_reading WHERE id NOT IN (SELECT reading_id FROM assets_counterbreak))"
    if column.name == "from_at" and column.model._meta.model_name in {"fitting", "production"}:
        return "'2098-01-01 00:00:00'"
    if column.name in {"name", "serial", "tag", "kind", "token_hash", "label_code", "sign_in", "path"}:
        return "'fresh'" if not column.choices else f'"{column.column}"'
    return f'"{column.column}"'


def test_a_file_whose_bytes_were_altered_or_removed_is_named(site) -> None:
    one, other = KeptFile.objects.order_by("pk")
    filing.place_of(one.sha256).write_bytes(b"another picture")
    filing.place_of(other.sha256).unlink()
    found = texts()
    filing.place_of(one.sha256).unlink()
    assert found == [
        f"File {one.name} ({one.sha256[:12]}…): its bytes are not those that were sent: altered from outside.",
        f"File {other.name} ({other.sha256[:12]}…): its bytes are missing in the data folder.",
    ]


@pytest.mark.parametrize("model", OURS, ids=lambda m: m._meta.model_name)
def test_two_exchanged_rows_are_both_named(site, model) -> None:
    one, other = two_of(model)
    table = model._meta.db_table
    with connection.constraint_checks_disabled():
        for pk, new in ((one, 88888), (other, one), (88888, other)):
            raw(f"UPDATE {table} SET id = %s WHERE id = %s", new, pk)
        found = texts()
        connection.needs_rollback = True
    for pk in (one, other):
        assert any(text.startswith(f"{model._meta.verbose_name} {pk} ") for text in found), found


# The chain itself


def test_an_altered_event_is_named_and_so_is_its_follower_when_its_hash_is_mended(site) -> None:
    event = Event.objects.get(chain=site.pk, number=5)
    body = event.body.replace("permit", "pardon").replace("registered", "recovered")
    assert body != event.body
    raw("UPDATE assets_event SET body = %s WHERE id = %s", body, event.pk)
    assert f"Chain {site.pk}, event 5: its text does not give its hash" in texts()[0]
    raw("UPDATE assets_event SET hash = %s WHERE id = %s", chained(event.previous, body), event.pk)
    found = texts()
    assert any("event 5: its columns say something else than its text: verb" in text for text in found)
    assert any("event 6: does not follow the event before it" in text for text in found)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("verb", "'x'"),
        ("subject_id", "'9'"),
        ("subject_kind", "'x'"),
        ("subject_label", "'x'"),
        ("by_id", "NULL"),
        ("happened_at", "'2020-01-01 00:00:00'"),
        ("recorded_at", "'2020-01-01 00:00:00'"),
    ],
)
def test_a_column_of_an_event_that_says_something_else_is_named(site, column, value) -> None:
    event = Event.objects.filter(chain=site.pk, by__isnull=False)[0]
    raw(f"UPDATE assets_event SET {column} = {value} WHERE id = %s", event.pk)
    [text] = texts()
    assert f"event {event.number}: its columns say something else" in text


def test_a_removed_event_is_named(site) -> None:
    raw("DELETE FROM assets_event WHERE chain = %s AND number = 6", site.pk)
    assert texts()[0] == f"Chain {site.pk}, event 7: event 6 is missing before it."


def test_two_exchanged_events_are_named(site) -> None:
    for number, new in ((6, 900), (7, 6), (900, 7)):
        raw("UPDATE assets_event SET number = %s WHERE chain = %s AND number = %s", new, site.pk, number)
    found = texts()
    assert any(f"Chain {site.pk}, event 6: does not follow" in text for text in found)
    assert any("its columns say something else than its text: number" in text for text in found)


def test_an_inserted_event_is_named(site) -> None:
    event = Event.objects.get(chain=site.pk, number=6)
    raw(
        "INSERT INTO assets_event (chain, number, previous, hash, body, verb, subject_kind, subject_id, subject_label,"
        " by_id, happened_at, recorded_at) SELECT chain, 9000, 'x', hash, body, verb, subject_kind, subject_id,"
        " subject_label, by_id, happened_at, recorded_at FROM assets_event WHERE id = %s",
        event.pk,
    )
    assert any(f"Chain {site.pk}, event 9000: event" in text and "is missing before it" in text for text in texts())


def test_a_chain_of_no_site_is_named(site) -> None:
    raw("UPDATE assets_event SET chain = 777 WHERE chain = 0")
    assert texts()[0] == "Chain 777: belongs to no site."


def test_what_is_not_readable_is_named_and_does_not_stop_the_rest(site) -> None:
    raw("UPDATE assets_event SET body = 'torn' WHERE chain = %s AND number = 3", site.pk)
    raw("DELETE FROM assets_event WHERE chain = %s AND number = 9", site.pk)
    found = texts()
    assert any("event 3: its text is not readable" in text for text in found)
    assert any("event 10: event 9 is missing" in text for text in found)


# The heads


def last_number(site: Site) -> int:
    return Event.objects.filter(chain=site.pk).latest("number").number


def test_a_cut_end_shows_only_beside_the_heads(site) -> None:
    known = read_heads(heads_text())
    number = last_number(site)
    assert check_records(known) == []
    raw("DELETE FROM assets_event WHERE chain = %s AND number = %s", site.pk, number)
    alone, beside = check_records(), check_records(known)
    gone = Fault(
        f"Chain {site.pk}, event {number}",
        "stood at the end when the heads were written and is gone: the chain was cut.",
    )
    assert gone in beside and gone not in alone


def test_a_chain_rewritten_with_new_hashes_shows_only_beside_the_heads(site) -> None:
    known = heads()
    last = Event.objects.get(chain=site.pk, number=last_number(site))
    body = last.body.replace("I read", "I saw").replace('"facts":{}', '"facts":{"x":"y"}')
    assert body != last.body
    raw("UPDATE assets_event SET body = %s, hash = %s WHERE id = %s", body, chained(last.previous, body), last.pk)
    assert check_records() == []
    [fault] = check_records(known)
    assert "has another hash than when the heads were written" in str(fault)


def test_heads_are_read_back_and_nonsense_is_refused() -> None:
    make_area(site=make_site())
    assert read_heads(heads_text() + "\n") == heads()
    with pytest.raises(ValueError, match="Line 2 is no head"):
        read_heads(f"1 2 {'a' * 64}\nnonsense\n")


# The commands and the night


def run(*arguments: str) -> str:
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def test_the_command_says_that_nothing_is_wrong_or_fails_naming_the_first(site, tmp_path) -> None:
    path = tmp_path / "heads.txt"
    assert str(path) in run("write_heads", str(path))
    assert "No fault" in run("check_records") and "no heads given" in run("check_records")
    assert "heads agree" in run("check_records", "--heads", str(path))
    with pytest.raises(CommandError, match="is not overwritten"):
        run("write_heads", str(path))
    raw("UPDATE assets_area SET walk_order = walk_order + 1")
    with pytest.raises(CommandError, match="altered from outside"):
        run("check_records")
    with pytest.raises(CommandError, match="cannot be read as heads"):
        run("check_records", "--heads", str(tmp_path / "missing.txt"))


def test_the_night_reports_once_a_site_and_day_and_writes_the_heads(clock, settings, tmp_path) -> None:
    settings.DATA = tmp_path
    site, far = make_site(), make_site(name="Far Works", time_zone="Pacific/Auckland")
    make_area(site=site)
    clock.set(2026, 11, 26, 8, 30)  # 01:30 in Denver, 21:30 in Auckland
    tasks.nightly_records()
    assert list(NightReport.objects.values_list("site", "site_day")) == [(far.pk, dt.date(2026, 11, 26))]
    clock.set(2026, 11, 26, 9, 30)
    for _ in range(3):
        tasks.nightly_records()
    assert NightReport.objects.get(site=site).site_day == dt.date(2026, 11, 26)
    assert NightReport.objects.count() == 2
    [file] = (tmp_path / "heads").iterdir()
    assert read_heads(file.read_text())
    clock.forward(days=1)
    tasks.nightly_records()
    assert NightReport.objects.filter(site=site, differences=0).count() == 2


def test_the_night_names_what_it_finds_and_repairs_nothing(clock, settings, tmp_path) -> None:
    settings.DATA = tmp_path
    site = make_site()
    area = make_area(site=site)
    tasks.nightly_records()
    triggers.drop(connection)
    raw("UPDATE assets_area SET name = 'q' WHERE id = %s", area.pk)
    newest = max((tmp_path / "heads").iterdir())
    newest.write_text(newest.read_text() + f"{site.pk} 4000 {'a' * 64}\n")
    clock.forward(days=1)
    tasks.nightly_records()
    report = NightReport.objects.latest("pk")
    assert report.differences == 2
    assert "altered from outside" in report.text and "the chain was cut" in report.text
    area.refresh_from_db()
    assert area.name == "q"


def test_unreadable_heads_are_a_fault_of_their_own(clock, settings, tmp_path) -> None:
    settings.DATA = tmp_path
    make_site()
    (tmp_path / "heads").mkdir()
    (tmp_path / "heads" / "2026-01-01.txt").write_text("torn")
    tasks.nightly_records()
    assert "is no head" in NightReport.objects.get().text
