"""Strapping tables of tanks: kept by a supervisor, read on the walk, counted in the balance of the day."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from assets.errors import NotAllowed, Refusal
from assets.models import Event, Person, Position, Role, Site
from maintenance.actions.walks import begin_walk
from maintenance.actions.walks_strapping import end_strapping
from maintenance.models import StrappingTable
from tests.assets.signed_in import browser_of, sent
from tests.conftest import Clock
from tests.make import make_person, make_position, make_site
from tests.make_walks import make_line, make_part, make_point, make_round, make_strapping, read_before

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


@pytest.fixture
def level(site: Site, ruth: Person) -> Position:
    """A tank level read today and on the two days before."""
    made = make_position(site=site, tag="LI-501", quantity="Level", unit="m")
    read_before(made, "3.00", "3.10", "3.25", by=ruth, what="Level", unit="m", hours=0)
    return made


def meter(site: Site, tag: str, *values: str, by: Person) -> Position:
    made = make_position(site=site, tag=tag, quantity="Flow", unit="m³/h")
    read_before(made, *values, by=by, what="Totalizer", unit="m³", hours=0)
    return made


FACTS = {
    "what": "Level",
    "level_unit": "m",
    "volume_unit": "m³",
    "rows": "0 0\n3 900\n4 1400",
    "source": "survey 12/2019",
    "why": "the floor is a cone",
    "from_day": "2026-11-01",
}


def test_a_table_is_written_with_its_source_its_reason_and_its_first_day(ruth: Person, level: Position) -> None:
    client = browser_of(ruth)
    answer = sent(client, "/walk/tables/new/", position=str(level.pk), **FACTS)
    table = StrappingTable.objects.get()
    assert answer.url == f"/walk/tables/{table.pk}/"
    said = client.get(answer.url).content.decode()
    for words in ("survey 12/2019", "the floor is a cone", "since 1 November 2026", "Ruth Penhall", "<td>900</td>"):
        assert words in said, words
    assert Event.objects.filter(verb="strapping.written").count() == 1
    assert "0 to 4 m" in client.get("/walk/tables/").content.decode()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"rows": "0 0\n3 900\n2 1400"}, "Line 3: level 2 is not above 3 before it"),
        ({"rows": "0 0\n3 900\n4 800"}, "Line 3: volume 800 is less than 900 before it"),
        ({"rows": "0 0"}, "at least two rows"),
        ({"source": ""}, "Where it comes from"),
        ({"why": ""}, "Why it is written"),
        ({"level_unit": "m³"}, "Unit of the levels"),
        ({"share": "0"}, "Write a number above zero."),
        ({"from_day": "31.02.2026"}, "From the day"),
    ],
)
def test_what_is_no_table_is_refused_at_its_field_and_stays(
    ruth: Person, level: Position, typed: dict[str, str], says: str
) -> None:
    answer = sent(browser_of(ruth), "/walk/tables/new/", position=str(level.pk), **{**FACTS, **typed})
    said = answer.content.decode()
    assert answer.status_code == 422
    assert says in said
    assert ("3 900" in said) == ("3 900" in typed.get("rows", FACTS["rows"]))
    assert not StrappingTable.objects.exists()


def test_what_a_level_holds_and_what_was_drawn_is_asked_of_its_table(ruth: Person, level: Position) -> None:
    table = make_strapping(level, by=ruth)
    client = browser_of(ruth)
    # 3.5 m: 900 + 0.5 * 500 = 1150; 3.2 m: 1000; 150 in 90 min are 100 an hour
    said = client.get(table.get_absolute_url(), {"level": "3.5", "then": "3,2", "minutes": "90"}).content.decode()
    for words in ("1150 m³", "1000 m³", "150 m³ drawn", "100 m³ an hour"):
        assert words in said, words
    assert "4.1 m is above the last row" in client.get(table.get_absolute_url(), {"level": "4.1"}).content.decode()
    wrong = client.get(table.get_absolute_url(), {"level": "high"})
    assert (wrong.status_code, "“high” is not a number" in wrong.content.decode()) == (422, True)


def test_the_walk_shows_the_volume_beside_the_numbers_read_before(ruth: Person, level: Position) -> None:
    made = make_round(site=level.site, by=ruth)
    make_line(make_point(made, by=ruth, position=level), by=ruth, kind="reading", what="Level", unit="m")
    begin_walk(round=made, by=ruth)
    client = browser_of(ruth)
    assert "m (" not in client.get("/walk/1/1/").content.decode()
    make_strapping(level, by=ruth)
    # 3.25 m: 900 + 0.25 * 500
    assert "3.25 m (1025 m³)" in client.get("/walk/1/1/").content.decode()


def test_the_balance_of_the_day_counts_the_store_by_its_table(ruth: Person, level: Position, site: Site) -> None:
    make_part(meter(site, "FQI-101", "8600", "10000", "11500", by=ruth), by=ruth)
    make_part(meter(site, "FQI-201", "18700", "20000", "21300", by=ruth), by=ruth, kind="out")
    with pytest.raises(Refusal, match="or has a strapping table"):
        make_part(level, by=ruth, kind="store", what="Level")
    make_strapping(level, by=ruth, from_day=dt.date(2026, 11, 24))
    part = make_part(level, by=ruth, kind="store", what="Level", from_day=dt.date(2026, 11, 24))
    said = browser_of(ruth).get("/walk/day/").content.decode()
    # rise: 1025 - 950 = 75; (1500 - 1300 - 75) / 1500 = 8.33 %
    assert "8.33 % of what came in is not accounted for" in said
    for words in ("3.10 m at 07:05, ", ">950 m³<", "3.25 m at 07:05, ", ">1025 m³<", "<b>75 m³ filled</b>"):
        assert words in said, words
    end_strapping(table=StrappingTable.objects.get(), from_day=dt.date(2026, 11, 25), why="repainted", by=ruth)
    assert "8.33 %" in browser_of(ruth).get("/walk/day/").content.decode()
    StrappingTable.objects.filter(rows="").get()
    assert part.area == ""


def test_a_day_with_a_level_beyond_the_table_has_no_balance_and_says_why(
    ruth: Person, level: Position, site: Site
) -> None:
    make_part(meter(site, "FQI-101", "8600", "10000", "11500", by=ruth), by=ruth)
    make_strapping(level, by=ruth, rows="0 0\n3.2 980")
    make_part(level, by=ruth, kind="store", what="Level")
    said = " ".join(browser_of(ruth).get("/walk/day/").content.decode().split())
    assert "LI-501 Level: The strapping table does not reach to 3.25 m; nothing is guessed beyond it." in said
    assert "3.25 m is above the last row of the strapping table, 3.2 m" in said


def test_the_newest_table_counts_and_one_that_is_ended_no_more(ruth: Person, level: Position, site: Site) -> None:
    first = make_strapping(level, by=ruth, from_day=dt.date(2026, 1, 1))
    second = make_strapping(level, by=ruth, from_day=dt.date(2026, 11, 10))
    of = StrappingTable.objects.filter(position=level)
    days = [dt.date(2025, 12, 31), dt.date(2026, 1, 1), dt.date(2026, 11, 9), dt.date(2026, 11, 10)]
    assert [of.in_force(day) for day in days] == [[], [first], [first], [second]]
    client = browser_of(ruth)
    early = sent(client, f"/walk/tables/{second.pk}/end/", from_day="2026-11-10", why="tank rebuilt")
    assert "ends on a later day" in early.content.decode()
    assert sent(client, f"/walk/tables/{second.pk}/end/", from_day="2026-11-11", why="tank rebuilt").status_code == 302
    assert [of.in_force(dt.date(2026, 11, day)) for day in (10, 11)] == [[second], []]
    assert "No table counts" in client.get(first.get_absolute_url()).content.decode()


def test_only_supervisors_keep_tables_and_the_database_wants_a_reason(ruth: Person, level: Position) -> None:
    with pytest.raises(NotAllowed):
        make_strapping(level, by=make_person(site=level.site))
    table = make_strapping(level, by=ruth)
    for wrong in ({"why": ""}, {"source": ""}, {"level_unit": ""}):
        table.pk = None
        copy = StrappingTable(**{f.attname: getattr(table, f.attname) for f in table._meta.concrete_fields} | wrong)
        with pytest.raises(IntegrityError), transaction.atomic():
            copy.save()


def test_few_and_many_tables_take_the_same_number_of_queries(ruth: Person, level: Position, site: Site) -> None:
    client = browser_of(ruth)
    client.get("/walk/day/")
    counted: dict[str, set[int]] = {}
    for many in (1, 6):
        for n in range(many):
            make_strapping(make_position(site=site, tag=f"LI-{many}{n}", quantity="Level", unit="m"), by=ruth)
        for path in ("/walk/day/", "/walk/tables/"):
            with CaptureQueriesContext(connection) as seen:
                client.get(path)
            counted.setdefault(path, set()).add(len(seen))
    assert {len(numbers) for numbers in counted.values()} == {1}
