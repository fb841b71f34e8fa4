"""The due list: what it shows, how many queries it takes, what its links and its file give."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from assets.compute.csv_text import harmless
from assets.models import Person, Position, Role, Site
from maintenance.models import Occurrence, Plan
from maintenance.reads.due import DueFilter, beside, due_page
from tests.conftest import Clock
from tests.make import make_area, make_asset, make_person, make_position, make_site, make_use
from tests.make_upkeep import floating, make_done, make_plan

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 11, 25)


@pytest.fixture
def site(clock: Clock) -> Site:
    return make_site()


@pytest.fixture
def ruth(site: Site) -> Person:
    return make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def late_by(days: int, position: Position, by: Person, title: str = "Look at the drip", **other: object) -> Plan:
    """A routine of 30 days that fell due `days` ago and was not done."""
    start = TODAY - dt.timedelta(days=days)
    plan = make_plan(position, by=by, title=title, from_day=start - dt.timedelta(days=60), **other)
    done = dt.datetime.combine(start - dt.timedelta(days=30), dt.time(12), tzinfo=position.site.zone)
    make_done(plan, done, by=by)
    return plan


def rows_of(number: int, position: Position, ruth: Person) -> None:
    """Many due items of one routine, as a busy plant would have of many."""
    plan = late_by(3, position, ruth)
    Occurrence.objects.bulk_create(
        Occurrence(
            plan=plan,
            site=position.site,
            turn=f"more {n}",
            raw=TODAY,
            due=TODAY,
            earliest=TODAY,
            latest=TODAY,
        )
        for n in range(number - 1)
    )


def test_it_says_what_how_late_and_what_rests_on_it(site: Site, ruth: Person) -> None:
    make_area(site=site, name="Filter hall")
    position = make_position(site=site, tag="AIT-310")
    make_use(position=position, target=make_position(site=site, tag="P-41", does="moves"), by=ruth)
    late_by(4, position, ruth, title="Verify turbidity")
    page = client_of(ruth).get(reverse("maintenance:due")).content.decode()
    for said in ("AIT-310", "Verify turbidity", "Overdue 4 days", "Compliance", "Paces P-41.", "Filter hall", "0:30"):
        assert said in page, said
    assert "Last done 22 October 2026" in page  # 25 November less 4 days less 30 days


def test_only_who_may_work_is_led_to_the_work(site: Site, ruth: Person) -> None:
    late_by(4, make_position(site=site), ruth, title="Verify turbidity")
    ((row,),) = [visit.rows for visit in due_page(site, DueFilter(), TODAY).visits]
    work = reverse("do", args=[row.pk])
    reader = client_of(make_person(site=site, role=Role.VIEWER))
    page = reader.get(reverse("maintenance:due")).content.decode()
    assert "Verify turbidity" in page
    assert f'href="{work}"' not in page
    assert reader.get(work).status_code == 403
    assert f'href="{work}"' in client_of(ruth).get(reverse("maintenance:due")).content.decode()


def test_lateness_is_said_after_the_last_allowed_day_and_counts_from_the_due_day(site: Site, ruth: Person) -> None:
    position = make_position(site=site)
    inside = late_by(4, position, ruth, title="Inside", interval=floating(30, late=7))
    beyond = late_by(9, position, ruth, title="Beyond", interval=floating(30, late=7))
    rows = {r.what: r for v in due_page(site, DueFilter(), TODAY).visits for r in v.rows}
    assert rows[inside.title].state.word == "Late but allowed"
    assert rows[inside.title].late == 0
    assert rows[beyond.title].state.word == "Overdue 9 days"


def test_a_page_groups_by_area_in_walking_order_then_by_what_it_matters_for(site: Site, ruth: Person) -> None:
    second = make_area(site=site, name="Filter hall", walk_order=2)
    first = make_area(site=site, name="Intake", walk_order=1)
    late_by(9, make_position(site=site, area=second, matters_for="production"), ruth, title="c")
    late_by(2, make_position(site=site, area=second, matters_for="safety"), ruth, title="b")
    late_by(1, make_position(site=site, area=first, matters_for="other"), ruth, title="a")
    page = due_page(site, DueFilter(), TODAY)
    assert [(v.name, [r.what for r in v.rows]) for v in page.visits] == [("Intake", ["a"]), ("Filter hall", ["b", "c"])]
    assert page.hours == "1:30"


def test_a_carried_asset_stands_in_its_own_visit(site: Site, ruth: Person) -> None:
    make_plan(make_asset(site=site, kind="Voltage tester"), by=ruth, title="Prove it")
    assert [v.name for v in due_page(site, DueFilter(), TODAY).visits] == ["Carried"]


@pytest.mark.parametrize("link", ["", "?as=csv", "?page=all"])
def test_the_number_of_rows_adds_no_query(site: Site, ruth: Person, link: str) -> None:
    position = make_position(site=site)
    client = client_of(ruth)
    taken = []
    for number in (2, 20, 49):
        Occurrence.objects.all().delete()
        rows_of(number, position, ruth)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(f"{reverse('maintenance:due')}{link}").status_code == 200
        taken.append(len(queries))
    assert len(set(taken)) == 1, taken


def test_two_thousand_rows_take_the_queries_of_two(site: Site, ruth: Person) -> None:
    position = make_position(site=site)
    client = client_of(ruth)
    taken = []
    for number in (2, 2000):
        Occurrence.objects.all().delete()
        rows_of(number, position, ruth)
        with CaptureQueriesContext(connection) as queries:
            page = client.get(reverse("maintenance:due")).content.decode()
        taken.append(len(queries))
    assert taken[0] == taken[1]
    assert "of 999+" in page
    assert page.count('name="line"') == 50


def test_pages_follow_one_another_without_gap(site: Site, ruth: Person) -> None:
    position = make_position(site=site)
    rows_of(120, position, ruth)
    seen = [r.pk for n in (0, 50, 100) for v in due_page(site, DueFilter(), TODAY, start=n).visits for r in v.rows]
    assert len(seen) == len(set(seen)) == 120
    assert due_page(site, DueFilter(), TODAY, start=150).rows == 0


def test_links_count_what_they_show(site: Site, ruth: Person) -> None:
    make_area(site=site)
    late_by(4, make_position(site=site, matters_for="safety"), ruth)
    late_by(0, make_position(site=site, matters_for="production"), ruth, kind="verify")
    late_by(-3, make_position(site=site, matters_for="production"), ruth)
    numbers = beside(site, DueFilter(), TODAY).counts
    assert numbers["state"] == {
        "": "2",
        "overdue": "1",
        "due": "1",
        "late but allowed": "0",
        "blocked": "0",
        "can be done now": "1",
        "not yet": "0",
        "deferred": "0",
        "missed": "0",
    }
    assert numbers["matters"] == {"": "2", "safety": "1", "compliance": "0", "production": "1", "other": "0"}
    assert numbers["kind"] == {"": "2", "measure": "1", "keep": "1"}
    page = client_of(ruth).get(reverse("maintenance:due"), {"matters": "safety"}).content.decode()
    assert "Overdue 4 days" in page
    assert "Due today" not in page


def test_another_sites_items_are_not_shown(site: Site, ruth: Person) -> None:
    other = make_site(name="Elsewhere")
    late_by(4, make_position(site=other, tag="AIT-999"), make_person(site=other, role=Role.SUPERVISOR))
    assert "AIT-999" not in client_of(ruth).get(reverse("maintenance:due")).content.decode()


def test_the_file_has_iso_days_and_no_formula(site: Site, ruth: Person) -> None:
    # First characters that make a formula: OWASP, CSV injection.
    make_area(site=site, name="=cmd()")
    late_by(4, make_position(site=site, tag="AIT-310"), ruth, title="@sum")
    answer = client_of(ruth).get(reverse("maintenance:due"), {"as": "csv"})
    assert answer["Content-Disposition"] == 'attachment; filename="due-2026-11-25.csv"'
    head, row = list(csv.reader(io.StringIO(answer.content.decode())))
    line = dict(zip(head, row, strict=True))
    assert line["due"] == "2026-11-21"
    assert line["days late"] == "4"
    assert line["area"] == "'=cmd()"
    assert line["what"] == "'@sum"
    assert line["last done"] == "2026-10-22"


@pytest.mark.parametrize("link", ["?state=often", "?matters=nobody", "?kind=x", "?area=one", "?as=pdf"])
def test_a_link_that_asks_for_what_is_not_there_is_refused(site: Site, ruth: Person, link: str) -> None:
    assert client_of(ruth).get(f"{reverse('maintenance:due')}{link}").status_code == 404


def test_who_sees_it(site: Site, ruth: Person) -> None:
    url = reverse("maintenance:due")
    assert client_of(make_person(site=site, role=Role.VIEWER)).get(url).status_code == 200
    assert client_of(make_person(site=site, role=Role.ADMINISTRATOR)).get(url).status_code == 403
    assert Client().get(url).status_code == 302
    assert client_of(ruth).post(url).status_code == 405


def test_an_empty_list_says_so(site: Site, ruth: Person) -> None:
    assert (
        "No due item here is due, late or overdue" in client_of(ruth).get(reverse("maintenance:due")).content.decode()
    )


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_what_a_spreadsheet_would_run_is_text_in_the_file(start: str) -> None:
    # First characters that make a formula: OWASP, CSV injection.
    assert harmless(f"{start}1+1") == f"'{start}1+1"
    assert harmless(f"1{start}1") == f"1{start}1"


def test_a_negative_number_stays_a_number_in_the_file() -> None:
    assert harmless("-4.5") == "-4.5"


def test_what_people_wrote_stays_text(site: Site, ruth: Person) -> None:
    make_area(site=site, name="Hall <i>one</i> & two")
    position = make_position(site=site, tag="AIT <310>")
    make_use(position=position, target=make_position(site=site, tag="P<41>", does="moves"), by=ruth)
    late = late_by(4, position, ruth, title='Look <script>alert("x")</script>')
    stopped = late_by(4, position, ruth, title="Open it")
    make_done(late, dt.datetime(2026, 11, 24, 12, tzinfo=site.zone), by=ruth, because="seal <b>gone</b>")
    Occurrence.objects.filter(plan=stopped).update(blocked_from=TODAY, because="lock <u>7</u> is on")
    page = client_of(ruth).get(reverse("maintenance:due")).content.decode()
    by_people = ("AIT <310>", "P<41>", "Hall <i>one</i> & two", late.title, "seal <b>gone</b>")
    for wrote in by_people:
        assert wrote not in page
        assert escape(wrote) in page, wrote
    assert "Lock &lt;u&gt;7&lt;/u&gt; is on" in page
