"""An operator's cold pH check on a phone: typed as a person types it, told at once what it means, signed with a PIN.

Two buffers at 12.5 degC, pH 7.0475 and 10.1485 from the project's tables. The process reads 7.80. The line through the
buffers, shown against true, worked by hand:

    shown 7.08 and 10.15:  k = (10.15 - 7.08) / (10.1485 - 7.0475) = 0.99000, process 7.0475 + 0.72 / k = 7.7748
                           error 7.80 - 7.7748 = +0.0252, inside 0.10
    shown 7.20 and 10.15:  k = 2.95 / 3.101 = 0.95131, process 7.0475 + 0.60 / k = 7.6782
                           error 7.80 - 7.6782 = +0.1218, outside 0.10
"""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from maintenance.models import WorkOrder
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.make import PIN, make_asset, make_fitting, make_position, make_use
from tests.make_checks import Bench

SCRIPT = pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
FIRST = {
    "Temperature of the buffer": "12.5",
    "Electrode shows": "-4.8",
    "Display shows": "7.08",
    "Seconds to settle": "40",
}
SECOND = {
    "Temperature of the buffer": "12,5",
    "Electrode shows": "-178.6",
    "Display shows": "10.15",
    "Seconds to settle": "55",
}


@pytest.fixture
def bench(transactional_db: None, clock: Any) -> Bench:
    """AIT-310 with a probe, its routine owed today, and a dosing pump that its signal paces."""
    made = Bench()
    probe = make_asset(site=made.site, serial="40-7718")
    make_fitting(position=made.position, asset=probe, by=made.supervisor)
    pump = make_position(site=made.site, tag="P-41", does="moves", service="Caustic dosing")
    make_use(position=made.position, target=pump, by=made.supervisor)
    return made


def begin(hands: Hands) -> None:
    """From Today to the empty sheet of the check."""
    hands.open("/")
    hands.sees("AIT-310: Calibrate pH")
    hands.follow("Begin")
    hands.sees("Put what this signal paces or trips on hold", "±0.10 pH")
    hands.press("Begin as found")


def write_down(hands: Hands, *, first_shown: str = "7.08") -> None:
    """Write what the probe shows in both buffers."""
    hands.choose("The signal is on hold or forced", "On hold")
    hands.write({"Put on hold at": "06:40", "Display in the process, before": "7.80"})
    hands.write({"Temperature of the process": "11.0"})
    for legend, lot, boxes in (("Point 1", "pH 7.00, lot 2608-A", FIRST), ("Point 2", "pH 10.01, lot 2607-B", SECOND)):
        point = hands.group(legend)
        hands.choose("Lot of the buffer", f"{lot}, to 25 March 2027", within=point)
        hands.write(boxes, within=point)
        hands.choose("Steady for 30 s", "Yes", within=point)
    hands.write({"Display shows": first_shown}, within=hands.group("Point 1"))


def is_told(hands: Hands, *words: str, script: bool) -> None:
    """Read what it means: by itself while typing, or after asking for it where no script runs."""
    if not script:
        hands.press("Work it out")
    for text in words:
        expect(hands.page.locator("#part-meaning")).to_contain_text(text)


@SCRIPT
def test_a_passing_check_fulfils_its_routine_and_moves_the_due_day(
    bench: Bench, open_page: OpenPage, script: bool
) -> None:
    hands = Hands(open_page(script=script))
    hands.sign_in(bench.operator)
    begin(hands)
    write_down(hands)
    is_told(hands, "Pass", "+0.025", "98.9", "pH 7.77", script=script)
    hands.choose("What comes next?", "Nothing is cleaned or adjusted")
    hands.write({"Hold taken off at": "07:05"})
    hands.sign("Sign as found")
    hands.sees("Check 1, 25 November 2026", "Pass", "+0.025", "Calibrate pH, fulfilled; next due 25 December 2026")
    hands.sees("Nothing was cleaned or adjusted: as left is as found", "Ines Calder")
    hands.open("/upkeep/")
    expect(hands.page.locator("main")).not_to_contain_text("Calibrate pH")
    hands.open(f"/tag/{bench.position.label_code}/")
    hands.sees("25 December 2026")
    assert not WorkOrder.objects.exists()


@SCRIPT
def test_a_failing_check_raises_one_order_that_names_what_the_signal_paces(
    bench: Bench, open_page: OpenPage, script: bool
) -> None:
    hands = Hands(open_page(script=script))
    hands.sign_in(bench.operator)
    begin(hands)
    write_down(hands, first_shown="7.20")
    is_told(hands, "Fail", "+0.122", "pH 7.68", script=script)
    hands.choose("What comes next?", "It is cleaned or adjusted now")
    hands.sign("Sign as found")
    hands.sees("Check 1, 25 November 2026", "Fail", "+0.122", "Second buffer", "paces P-41")
    hands.follow("1", within=hands.page.locator(".next"))
    hands.sees("Work order 1", "not yet confirmed", "P-41")
    hands.open("/upkeep/")
    hands.sees("AIT-310", "Calibrate pH")
    order = WorkOrder.objects.get()
    assert (order.state, order.position, order.confirmed) == ("raised", bench.position, "not yet confirmed")


def test_what_stands_in_the_way_of_signing_is_said_at_its_box_and_nothing_typed_is_lost(
    bench: Bench, open_page: OpenPage
) -> None:
    hands = Hands(open_page(script=False))
    hands.sign_in(bench.operator)
    begin(hands)
    write_down(hands)
    point = hands.group("Point 2")
    hands.write({"Temperature of the buffer": "twelve"}, within=point)
    hands.sign("Sign as found")
    hands.sees("Not signed", "twelve")
    assert hands.value("Temperature of the buffer", within=point) == "twelve"
    assert hands.value("Display shows", within=point) == "10.15"
    assert hands.value("Your PIN or password") == "", "a PIN is never sent back to a page"
    hands.write({"Temperature of the buffer": "12.5"}, within=point)
    hands.choose("What comes next?", "Nothing is cleaned or adjusted")
    hands.write({"Hold taken off at": "07:05", "Your PIN or password": PIN[::-1]})
    hands.press("Sign as found")
    hands.sees("Not signed")
    hands.sign("Sign as found")
    hands.sees("Check 1, 25 November 2026", "Pass")
