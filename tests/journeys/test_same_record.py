"""The same record in two browsers at once: whoever comes second is told, and nothing that either typed is lost."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from calibration.models import Draft
from maintenance.models import WorkOrder
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.journeys.test_ph_check import SCRIPT
from tests.make import Role, make_person
from tests.make_checks import Bench
from tests.make_upkeep import make_order


@pytest.fixture
def bench(transactional_db: None, clock: Any) -> Bench:
    """AIT-310, nothing begun."""
    return Bench()


@SCRIPT
def test_one_draft_on_a_phone_and_at_a_desk(bench: Bench, open_page: OpenPage, script: bool) -> None:
    path = bench.draft().get_absolute_url()
    phone, desk = Hands(open_page(script=script)), Hands(open_page(width=1280, script=script))
    for hands in (phone, desk):
        hands.sign_in(bench.operator)
        hands.open(path)
    phone.write({"Display shows": "7.11"}, within=phone.group("Point 1"))
    phone.press("Work it out")
    expect(phone.page.locator("#part-pen")).to_contain_text("Saved")

    desk.write({"Display shows": "10.19"}, within=desk.group("Point 2"))
    if script:
        expect(desk.page.locator("#part-conflict")).to_contain_text("another device")
    desk.press("Work it out")
    desk.sees("Saved on another device")
    # Its own figure stands in the box, the other version beside it.
    assert desk.value("Display shows", within=desk.group("Point 2")) == "10.19"
    both = desk.page.get_by_role("region", name="Both versions").get_by_role("row")
    expect(both.filter(has_text="10.19")).to_contain_text("10.15")
    expect(both.filter(has_text="7.11")).to_contain_text("7.08")
    assert Draft.objects.get().typed["fields"]["point1_shown"] == "7.11", "nothing is kept before a person looked"

    desk.write({"Display shows": "7.11"}, within=desk.group("Point 1"))
    desk.press("Work it out")
    desk.sees("The other version of this draft")
    phone.page.reload()
    assert phone.value("Display shows", within=phone.group("Point 1")) == "7.11"
    assert phone.value("Display shows", within=phone.group("Point 2")) == "10.19"


def test_two_supervisors_plan_one_order(bench: Bench, open_page: OpenPage) -> None:
    noor = make_person(site=bench.site, role=Role.SUPERVISOR, name="Noor Haddad")
    order = make_order(bench.position, by=bench.operator)
    first, second = Hands(open_page(width=1280)), Hands(open_page(width=1280, script=False))
    for hands, person in ((first, bench.supervisor), (second, noor)):
        hands.sign_in(person)
        hands.open(f"/upkeep/orders/{order.number}/plan/")
        hands.choose("In charge", "Ines Calder" if hands is first else "Noor Haddad")
    first.write({"Further steps": "Take the pump out"})
    first.press("Plan the work")
    first.sees("Ines Calder is in charge")
    second.write({"Further steps": "Look at the packing"})
    second.press("Plan the work")
    second.sees("Work order 1 was not changed")
    assert second.value("Further steps") == "Look at the packing", "what the second typed is still there"
    order = WorkOrder.objects.get()
    assert order.in_charge == bench.operator
    assert [step.text for step in order.steps.all()] == ["Take the pump out"]


def test_the_same_sheet_signed_twice_is_one_check(bench: Bench, open_page: OpenPage) -> None:
    """The button pressed again while the first answer is still on its way: a person sees one check, and it is one."""
    path = bench.draft().get_absolute_url()
    page = open_page(script=False)
    hands = Hands(page)
    hands.sign_in(bench.operator)
    hands.open(path)
    hands.write({"Hold taken off at": "07:05", "Your PIN or password": "483920"})
    with page.expect_request(lambda request: request.method == "POST") as sent:
        hands.press("Sign as found")
    hands.sees("Check 1, 25 November 2026")
    again = page.request.post(
        sent.value.url,
        data=sent.value.post_data,
        headers={"content-type": "application/x-www-form-urlencoded"},
    )
    assert again.ok
    assert "Check 1, 25 November 2026" in again.text()
    assert bench.requirement.checks.count() == 1
