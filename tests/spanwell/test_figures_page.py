"""Figures and the coming year from facts written through the actions, on the page, in files, and in Review."""

from __future__ import annotations

import datetime as dt
import io

import openpyxl
import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assets.actions.readings import ReadingFacts, record_reading
from assets.actions.site_rules import RuleTyped, set_rule
from assets.models import Person, Position
from calibration.reads.figures import passed_as_found, standards_ahead
from maintenance.actions.labour import TimeTyped, write_labour
from maintenance.actions.orders import finish_order, plan_order, start_order
from maintenance.models import OrderType
from maintenance.reads.figures import Period, figures_of
from maintenance.reads.forecast import ahead_of
from tests.assets.signed_in import browser_of
from tests.conftest import Clock
from tests.make import make_person, make_position
from tests.make_checks import Bench
from tests.make_standards import make_check_with
from tests.make_upkeep import fixed, make_done, make_order, make_plan

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 11, 25)
FIRST = dt.date(2026, 1, 7)


@pytest.fixture
def bench(clock: Clock) -> Bench:
    return Bench()


@pytest.fixture
def ruth(bench: Bench) -> Person:
    return bench.supervisor


@pytest.fixture
def browser(ruth: Person) -> Client:
    return browser_of(ruth)


def year() -> Period:
    return Period("12m", "Last 12 months", DAY - dt.timedelta(days=364), DAY)


def weekly(place: Position, by: Person, lateness: list[int], *, allowed: int = 1) -> None:
    """A look each Wednesday from 7 January, done so many days after its day; then no more."""
    plan = make_plan(place, by=by, interval=fixed(FIRST, unit="week", late=allowed), from_day=FIRST)
    for n, late in enumerate(lateness):
        on = FIRST + dt.timedelta(days=7 * n + late)
        make_done(plan, dt.datetime.combine(on, dt.time(9), tzinfo=place.site.zone), by=by)


def corrective(place: Position, by: Person, other: Person, *, hours: int, clock: Clock) -> None:
    """A corrective order that is done so many hours after it was raised, with an hour of time on it."""
    order = make_order(place, by=by, type=OrderType.IMMEDIATE)
    plan_order(order=order, in_charge=by, wanted_by=None, planned_minutes=60, steps=[], by=other)
    start_order(order=order, by=by)
    write_labour(order=order, person=by, time=TimeTyped(minutes=60), by=by)
    clock.forward(hours=hours)
    finish_order(order=order, found="Worn seal, replaced.", by=by)


def test_due_items_by_hand(bench: Bench, ruth: Person) -> None:
    # The first Wednesday begins the routine. Of nine more six on their day, two a day later as is allowed, one later.
    weekly(make_position(site=bench.site, tag="P-61"), ruth, [0, 0, 1, 0, 0, 3, 0, 0, 1, 0])
    months = Period("q", "First ten weeks", FIRST, FIRST + dt.timedelta(days=64))
    on_time, late = figures_of(bench.site, months, DAY).due
    assert (on_time.numerator, on_time.denominator, on_time.shown) == (
        "6 done by their due day",
        "9 due in the period",
        "67 %",
    )
    assert on_time.says == "Within the days allowed: 89 %, 8 of 9."
    # 1, 1 and 3 days: fewer than five.
    assert (late.shown, late.n, late.likely) == ("too few", 3, "longest 3 d")


def test_work_orders_and_failures_by_hand(bench: Bench, ruth: Person, clock: Clock) -> None:
    ines = make_person(site=bench.site, name="Ines Calder")
    pump = make_position(site=bench.site, tag="P-61", does="moves", matters_for="production")
    start = timezone.now() - dt.timedelta(days=200)
    for days, shown in ((0, "1000"), (200, "3400")):
        facts = ReadingFacts("Run hours", shown, "h", "display", start + dt.timedelta(days=days))
        record_reading(of=pump, facts=facts, by=ines)
    for hours in (2, 4, 6, 8, 30):
        corrective(pump, ines, ruth, hours=hours, clock=clock)
        clock.forward(days=1)
    today = clock.now.astimezone(bench.site.zone).date()
    period = Period("12m", "Last 12 months", today - dt.timedelta(days=364), today)
    found = figures_of(bench.site, period, today)
    by_name = {one.name: one for one in found.all}
    assert by_name["Mean time to restoration"].shown == "10 h"
    assert by_name["Corrective share of the hours"].shown == "100 %"
    between = by_name["Mean operating time between failures"]
    # 2400 h by the meter, 5 failures on 5 days.
    assert (between.numerator, between.denominator, between.shown) == ("2400 h", "5 failures", "480 h")
    assert [one.name for one in found.machines] == ["P-61"]
    assert by_name["Backlog"].shown == "n/a"


def test_passed_as_found_counts_what_has_a_verdict(bench: Bench) -> None:
    lot = bench.lots["7"]
    for back in range(6):
        make_check_with(bench, back=back, lot=lot, verdict="fail" if back == 2 else "pass")
    make_check_with(bench, back=400, lot=lot, verdict="fail")
    found = passed_as_found(bench.site, year())
    assert (found.numerator, found.denominator) == ("5 passed as found", "6 valid, with a verdict as found")
    assert found.shown == "83 %"
    ahead = standards_ahead(bench.site, DAY)
    assert [(one.n, one.checks > 0) for one in ahead] == [(6, True)]


def test_the_page_says_of_each_figure_what_it_was_made_from(bench: Bench, browser: Client, ruth: Person) -> None:
    weekly(make_position(site=bench.site, tag="=P-61"), ruth, [0, 0, 1, 0, 0, 3])
    page = browser.get("/review/figures/?period=2026").content.decode()
    assert "2026, 1 January 2026 to 25 November 2026" in page
    assert "done by their due day ÷" in page
    assert "Due items done by their own due day ÷ all due items whose due day lies in the period." in page
    assert "cannot be told" in page
    assert "n/a" in page
    review = browser.get("/review/").content.decode()
    assert "Figures, last 12 months" in review
    assert "late by 3 days" not in review  # in January: not of the last 30 days
    csv = browser.get("/review/figures.csv?period=2026").content.decode()
    assert csv.splitlines()[0].startswith("figure,value,unit,numerator,denominator,n,likely,formula")
    assert "Done on time" in csv
    book = openpyxl.load_workbook(io.BytesIO(browser.get("/review/figures.xlsx?period=2026").content))
    names = [row[0].value for row in book.worksheets[0].iter_rows()]
    assert names[:3] == ["figure", "period", "Passed as found"]
    assert browser.get("/review/figures/?period=nonsense").status_code == 200


def test_the_coming_year_compares_only_with_hours_that_are_written(bench: Bench, browser: Client, ruth: Person) -> None:
    weekly(make_position(site=bench.site, tag="P-61"), ruth, [])
    page = browser.get("/review/ahead/").content.decode()
    assert "No hours a week are written among the rules of the site, so nothing is compared." in page
    assert 'class="limit"' not in page
    set_rule(site=bench.site, typed=RuleTyped("hours_a_week", "20", "our own", "first roster", DAY), by=ruth)
    page = browser.get("/review/ahead/").content.decode()
    assert "The dashed line is 20 h a week" in page
    assert page.count('class="limit"') == 8
    # Five Wednesdays, and the calibration of the bench's own routine.
    assert '2026-12,6,3.0,"Calibrate 1, Inspect 5"' in browser.get("/review/ahead.csv").content.decode()


def test_the_same_number_of_queries_for_few_and_many(bench: Bench, browser: Client, ruth: Person) -> None:
    ines = make_person(site=bench.site)

    def fill(number: int) -> None:
        for n in range(number):
            place = make_position(site=bench.site, tag=f"P-{number}{n}", does="moves")
            weekly(place, ruth, [0, 1])
            make_order(place, by=ines, type=OrderType.IMMEDIATE)
            record_reading(of=place, facts=ReadingFacts("Run hours", "100", "h", "display"), by=ines)

    def queries(path: str) -> int:
        cache.clear()
        with CaptureQueriesContext(connection) as asked:
            assert browser.get(path).status_code == 200
        return len(asked)

    paths = ("/review/figures/", "/review/ahead/", "/review/")
    fill(2)
    few = [queries(path) for path in paths]
    fill(12)
    assert [queries(path) for path in paths] == few
    assert ahead_of(bench.site, DAY).year.n == 15
