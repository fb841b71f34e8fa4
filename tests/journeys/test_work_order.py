"""A failed check through Review, plan and work to acceptance: a supervisor at a desk, an operator on a phone.

As left the probe shows 7.05 and 10.15 in buffers worth 7.0475 and 10.1485, that is an error below 0.01 anywhere near
the process: inside 0.10.
"""

from __future__ import annotations

from typing import Any

import pytest

from maintenance.models import Performance, WorkOrder
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.journeys.test_ph_check import FIRST, SCRIPT, SECOND, is_told
from tests.make_checks import FAILING, Bench


@pytest.fixture
def bench(transactional_db: None, clock: Any) -> Bench:
    """AIT-310 with its routine, and an as found by Ines that failed an hour ago."""
    made = Bench()
    made.check(FAILING)
    clock.forward(hours=1)
    return made


def read_as_left(hands: Hands, *, script: bool) -> None:
    """Clean the probe, read both buffers again, take the hold off, sign."""
    hands.choose("The signal is on hold or forced", "On hold")
    hands.write({"Put on hold at": "06:40"})
    hands.choose("What was done to it?", "Cleaned and adjusted")
    for legend, boxes in (("Point 1", FIRST | {"Display shows": "7.05"}), ("Point 2", SECOND)):
        point = hands.group(legend)
        hands.write(boxes, within=point)
        hands.choose("Steady for 30 s", "Yes", within=point)
    is_told(hands, "Pass", script=script)
    hands.write({"Hold taken off at": "08:04"})
    hands.sign("Sign as left")


def plan(ruth: Hands) -> None:
    """Review what failed, and plan the work."""
    ruth.open("/")
    ruth.follow("Review")
    ruth.sees("2 things wait for a supervisor", "+0.122", "AIT-310", "Ines Calder")
    ruth.follow("Review check 1")
    ruth.write({"What you looked at and decided": "Junction looks clogged; clean it and read again."})
    ruth.sign("Sign as reviewed")
    ruth.sees("I reviewed check 1", "Junction looks clogged")
    ruth.follow("Upkeep")
    ruth.sees("AIT-310", "Calibrate pH", "Due today")
    ruth.follow("Review")
    ruth.sees("1 thing waits for a supervisor", "pH fails as found", "Not yet confirmed")
    ruth.open("/upkeep/orders/1/")
    ruth.follow("Plan the work")
    ruth.press("Plan the work")
    ruth.sees("Work order 1 was not changed", "Choose who is in charge of the work.")
    ruth.choose("In charge", "Ines Calder")
    ruth.write({"Planned time": "45", "Further steps": "Clean the junction\nRead the buffers again"})
    ruth.press("Plan the work")
    ruth.sees("Ines Calder is in charge", "Clean the junction")


def work(ines: Hands, *, script: bool) -> None:
    """Do the steps; between them the probe is read as left and passes."""
    ines.open("/upkeep/orders/?whose=mine")
    ines.page.get_by_role("link", name="pH fails as found").first.click()
    ines.press("Start the work")
    ines.sees("Next: Clean the junction")
    ines.write({"Note": "White crust, gone after ten minutes in acid"})
    ines.press("Record step 1 as done")
    ines.sees("Next: Read the buffers again", "1 of 2 done", "White crust")
    ines.follow("Check 1, as found")
    ines.press("Go on to as left")
    read_as_left(ines, script=script)
    ines.sees("Check 1, 25 November 2026", "Calibrate pH, fulfilled; next due 25 December 2026", "Fail", "Pass")
    ines.open("/upkeep/orders/1/")
    ines.press("Record step 2 as done")
    ines.follow("Record the work as done")
    ines.write({"What was found and done": "Clogged junction, cleaned; reads right again."})
    ines.press("Record the work as done")
    ines.sees("Tap one; “not known” is an answer too.")
    for question, answer in (
        ("How it showed", "Reads wrong"),
        ("Mechanism", "Material"),
        ("Cause", "Not known"),
        ("Detected by", "Test or calibration"),
    ):
        ines.choose(question, answer)
    ines.press("Record the work as done")
    ines.sees("Next: accept it", "You did the work")


@SCRIPT
def test_from_a_failed_check_to_accepted_work(bench: Bench, open_page: OpenPage, clock: Any, script: bool) -> None:
    ruth, ines = Hands(open_page(width=1280, script=script)), Hands(open_page(script=script))
    ruth.sign_in(bench.supervisor)
    ines.sign_in(bench.operator)
    plan(ruth)
    clock.forward(minutes=5)
    work(ines, script=script)
    ines.sees_no("button", "Accept the work")
    clock.forward(minutes=30)
    ruth.open("/review/")
    ruth.sees("Done, to accept", "pH fails as found")
    ruth.open("/upkeep/orders/1/")
    ruth.sees("Clogged junction, cleaned; reads right again.", "White crust")
    ruth.press("Accept the work")
    ruth.sees("Accepted", "Ruth Penhall", "Nothing is left to do.")
    ruth.open("/review/")
    ruth.sees("Nothing waits for a supervisor.")
    order = WorkOrder.objects.get()
    assert (order.state, order.done_by, order.accepted_by) == ("accepted", bench.operator, bench.supervisor)
    assert [done.counts for done in Performance.objects.filter(plan=bench.plan)] == [True]
