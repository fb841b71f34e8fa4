"""A supervisor's Monday at a desk: what is late and what rests on it, what waits for a decision, figures, files."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from fractions import Fraction

import openpyxl
import pytest
from playwright.sync_api import Download, Page, expect

from assets.models import Position
from maintenance.actions.deferrals import ask_deferral
from maintenance.actions.orders import finish_order, start_order
from maintenance.models import Deferral, Plan, WorkOrder
from tests.conftest import Clock
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.make import make_position, make_use
from tests.make_checks import FAILING, Bench
from tests.make_upkeep import floating, make_done, make_order, make_plan, open_item

LATE = {"P-61": "Look at the packing drip", "FIT-101": "Clean the flow tube"}
PUT_OFF = {"P-63": ("Change the oil", dt.date(2026, 11, 20)), "P-71": ("Turn the belt", dt.date(2026, 11, 23))}


class Monday(Bench):
    """AIT-310, whose check failed an hour ago; two turns a week late, two asked to be put off, a work order done."""

    def __init__(self, clock: Clock) -> None:
        clock.set(2026, 11, 23, 14, 5)  # 07:05 at the site
        super().__init__()
        pumps = {tag: self.machine(tag) for tag in ("P-61", *PUT_OFF)}
        flow = make_position(site=self.site, tag="FIT-101", quantity="Flow", unit="L/s", service="Raw water flow")
        make_use(position=flow, target=pumps["P-61"], by=self.supervisor)
        self.places = {**pumps, "FIT-101": flow}
        for tag, title in LATE.items():
            self.routine(tag, title, start=dt.date(2026, 11, 16))
        for tag, (title, day) in PUT_OFF.items():
            self.ask(self.routine(tag, title, start=day))
        self.past_weeks()
        self.check(FAILING)
        order = make_order(pumps["P-61"], by=self.operator)
        start_order(order=order, by=self.operator)
        finish_order(order=order, found="New packing, drips once a second.", by=self.operator)
        clock.forward(hours=1)

    def machine(self, tag: str) -> Position:
        """A pump that matters for production."""
        return make_position(site=self.site, tag=tag, does="moves", service=f"Pump {tag}", matters_for="production")

    def routine(self, tag: str, title: str, *, start: dt.date, days: int = 30) -> Plan:
        """A routine that is owed from a day on."""
        return make_plan(
            self.places[tag], by=self.supervisor, interval=floating(days), kind="inspect", title=title, from_day=start
        )

    def ask(self, plan: Plan) -> None:
        """Ask that its turn is put off by a fortnight."""
        ask_deferral(
            occurrence=open_item(plan),
            to_day=dt.date(2026, 12, 7),
            because="the parts come on 4 December",
            risk="runs warm; looked at daily",
            by=self.operator,
        )

    def past_weeks(self) -> None:
        """A weekly routine done eight times, each on its day."""
        first = dt.date(2026, 10, 1)
        plan = self.routine("P-61", "Weekly look at the pump", start=first, days=7)
        for week in range(8):
            day = dt.datetime.combine(first, dt.time(9), tzinfo=self.site.zone) + dt.timedelta(weeks=week)
            make_done(plan, day, by=self.operator)


@pytest.fixture
def monday(transactional_db: None, clock: Clock) -> Monday:
    """Monday 23 November 2026, 08:05 at the site."""
    return Monday(clock)


def raise_for_two(ruth: Hands) -> None:
    """See in Review what is late and what rests on it; in the due list choose two for one work order."""
    ruth.open("/")
    ruth.follow("Review")
    ruth.sees("5 things wait for a supervisor", "Overdue, 3", "Overdue 7 days", "Paces P-61")
    ruth.page.get_by_role("link", name="in the due list").click()
    ruth.sees("3 due items are overdue here.", "Change the oil")
    ruth.unfold("Other states, what it matters for")
    ruth.follow("Compliance 1")
    ruth.sees("1 due item is overdue here.", "Clean the flow tube", "Paces P-61")
    expect(ruth.page.locator("main")).not_to_contain_text("Look at the packing drip")
    ruth.follow("Any 3")
    for tag, title in LATE.items():
        ruth.page.get_by_label(f"Choose {tag}, {title}").check()
    ruth.press("Raise a work order for the chosen")
    ruth.sees("Its steps, 2", *(f"{tag}: {title}" for tag, title in LATE.items()))
    ruth.write({"What has to be done": "What was left of last week"})
    ruth.press("Raise the work order")
    ruth.sees("The work order was not raised", "Nothing is written here yet; it is needed.")
    assert ruth.value("What has to be done") == "What was left of last week"
    ruth.write({"Because": "Both are a week late."})
    ruth.press("Raise the work order")
    ruth.sees("Work order 3", "Steps, 0 of 2 done", "Next: plan it")


def plan_it(ruth: Hands) -> None:
    """Say who does it and by when; a time that is none is told at its box."""
    ruth.follow("Plan the work")
    ruth.choose("In charge", "Ines Calder")
    ruth.write({"Wanted by": "2026-11-25", "Planned time": "an hour"})
    ruth.press("Plan the work")
    ruth.sees("Work order 3 was not changed", "Write the time in whole minutes, like 45.")
    assert ruth.value("Planned time") == "an hour"
    assert ruth.value("Wanted by") == "2026-11-25"
    ruth.write({"Planned time": "60"})
    ruth.press("Plan the work")
    ruth.sees("Ines Calder is in charge", "25 November 2026", "Next: start the work")


def decide(ruth: Hands) -> None:
    """Refuse one deferral with a reason, approve the other with the PIN."""
    ruth.open("/review/")
    ruth.sees("Deferrals to decide, 2", "runs warm; looked at daily")
    row = ruth.page.locator("li").filter(has_text="Change the oil: from 20 November 2026 to 7 December 2026")
    ruth.follow("Refuse, with a reason", within=row)
    ruth.press("Refuse it")
    ruth.sees("Nothing is written here yet; it is needed.")
    ruth.write({"Because": "the oil is in the store since Friday"})
    ruth.press("Refuse it")
    ruth.sees("Change the oil", "Refused", "the oil is in the store since Friday")
    ruth.open("/review/")
    ruth.sees("Deferrals to decide, 1")
    ruth.follow("Approve to 7 December 2026")
    ruth.sees("the parts come on 4 December")
    ruth.sign("Approve it")
    ruth.sees("Turn the belt", "Put off", "From 23 November 2026 to 7 December 2026")


def look_at_work(ruth: Hands) -> None:
    """Review the failed check, accept what is done."""
    ruth.open("/review/")
    ruth.follow("Review check 1")
    ruth.write({"What you looked at and decided": "Junction looks clogged; Ines cleans it on Wednesday."})
    ruth.sign("Sign as reviewed")
    ruth.sees("I reviewed check 1", "Junction looks clogged")
    ruth.open("/review/")
    ruth.sees("Done, to accept")
    ruth.follow("Replace the packing")
    ruth.sees("New packing, drips once a second.")
    ruth.press("Accept the work")
    ruth.sees("Accepted", "Nothing is left to do.")


def decided_is_gone(ruth: Hands) -> None:
    """What was decided left the page; one order still waits, which nobody planned."""
    ruth.open("/review/")
    ruth.sees("1 thing waits for a supervisor", "pH fails as found", "Checks to review, 0", "Deferrals to decide, 0")
    ruth.sees("Work orders that wait for a supervisor, 1", "Overdue, 3", "Change the oil")
    for words in ("Turn the belt", "Replace the packing", "What was left of last week", "Done, to accept"):
        expect(ruth.page.locator("main")).not_to_contain_text(words)
    ruth.open("/")
    ruth.sees("Change the oil")
    expect(ruth.page.locator("main")).not_to_contain_text("Turn the belt")


def both_files(page: Page) -> list[list[str]]:
    """The rows of the CSV and of the spreadsheet that the page offers, which are the same."""
    rows = []
    for words in ("as a file (CSV)", "as a spreadsheet (XLSX)"):
        with page.expect_download() as sent:
            page.get_by_role("link", name=words).click()
        rows.append(read(sent.value))
    assert rows[0] == rows[1]
    return rows[0]


def read(sent: Download) -> list[list[str]]:
    """Rows of a downloaded file, empty cells as empty text."""
    path = sent.path()
    if sent.suggested_filename.endswith(".csv"):
        return list(csv.reader(io.StringIO(path.read_bytes().decode())))
    sheet = openpyxl.load_workbook(io.BytesIO(path.read_bytes())).active
    assert sheet is not None
    return [["" if cell is None else str(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]


def figures_and_files(ruth: Hands) -> None:
    """What stands on the page stands in both files."""
    ruth.open("/review/")
    ruth.follow("All figures, with what each was made from")
    # By hand: the first look begins the count, 7 after it were on their day, 3 other turns are late: 7 of 10.
    ruth.sees("7 done by their due day ÷ 10 due in the period; n = 10")
    names = ruth.page.locator("h3").all_inner_texts()
    heading, period, *rows = both_files(ruth.page)
    assert heading[:6] == ["figure", "value", "unit", "numerator", "denominator", "n"]
    assert period[1] == "Last 12 months, 24 November 2025 to 23 November 2026"
    assert [row[0] for row in rows] == names
    on_time = next(row for row in rows if row[0] == "Done on time")
    assert on_time[1:6] == ["70", "%", "7 done by their due day", "10 due in the period", "10"]

    ruth.follow("The coming year")
    told = re.search(r"(\d+) jobs, ([\d.]+) planned hours", ruth.page.locator("main").inner_text())
    assert told is not None
    heading, *months = both_files(ruth.page)
    assert heading == ["month", "jobs", "planned hours", "by kind"]
    assert [month[0] for month in months][:2] == ["2026-11", "2026-12"]
    assert len(months) == 12
    assert sum(int(month[1]) for month in months) == int(told[1])
    assert sum(Fraction(month[2]) for month in months) == Fraction(told[2])


def test_what_waits_is_decided_and_leaves_the_page(monday: Monday, open_page: OpenPage) -> None:
    ruth = Hands(open_page(width=1280))
    ruth.sign_in(monday.supervisor)
    raise_for_two(ruth)
    plan_it(ruth)
    decide(ruth)
    look_at_work(ruth)
    decided_is_gone(ruth)
    figures_and_files(ruth)
    order = WorkOrder.objects.get(number=3)
    assert (order.state, order.in_charge, order.wanted_by) == ("planned", monday.operator, dt.date(2026, 11, 25))
    assert dict(Deferral.objects.values_list("plan__title", "approved")) == {
        "Change the oil": False,
        "Turn the belt": True,
    }
