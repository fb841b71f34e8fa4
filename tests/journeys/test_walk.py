"""A morning walk on a phone: eight check points, one number over its limit, a dead spot in the middle."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from assets.models import Event, Person, Reading, Role
from maintenance.models import Performance, Plan, Round, StopAnswer, Walk, WorkOrder
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.make import make_person, make_position, make_site
from tests.make_upkeep import make_plan
from tests.make_walks import make_gauge, make_line, make_point, make_round, read_before


@dataclass
class Plant:
    """A plant with a morning walk of eight check points and what was read there yesterday."""

    ruth: Person
    ines: Person
    round: Round
    plan: Plan


@pytest.fixture
def plant(transactional_db: None) -> Plant:
    """Readings of yesterday at the real time, since a browser has a clock of its own."""
    site = make_site(name="Kestrel Hollow Water Works")
    ruth = make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    ines = make_person(site=site, name="Ines Calder")
    plan = make_plan(make_position(site=site, tag="GEN"), by=ruth, title="The morning walk")
    made = make_round(site=site, by=ruth, plan=plan, name="Morning walk")
    make_line(make_point(made, by=ruth, name="Intake screen"), by=ruth, what="Screen", hint="Clear of leaves")
    flow = make_position(site=site, tag="FIT-101", quantity="Raw water flow", unit="L/s")
    asked = {"kind": "reading", "what": "Raw water flow", "unit": "L/s"}
    make_line(make_point(made, by=ruth, name="Raw water", position=flow), by=ruth, **asked)
    dose = make_position(site=site, tag="P-31", does="moves", service="Coagulant pump")
    make_line(
        make_point(made, by=ruth, name="Coagulant store", position=dose), by=ruth, kind="drawdown", what="Coagulant"
    )
    make_line(make_point(made, by=ruth, name="Flotation 1"), by=ruth, what="Float", hint="Even, no breaks")
    light = make_position(site=site, tag="AIT-310")
    make_line(make_point(made, by=ruth, name="pH, treated", position=light), by=ruth, kind="lamp", what="Messages")
    make_line(make_point(made, by=ruth, name="Plant exit"), by=ruth, what="Door", hint="Locked")
    pump = make_position(site=site, tag="P-61", does="moves", service="High-lift pump 1")
    gauge = make_gauge(site=site, by=ruth)
    point = make_point(made, by=ruth, name="High-lift pump 1", position=pump)
    make_line(point, by=ruth, kind="reading", what="Discharge pressure", unit="kPa", position=gauge)
    make_line(point, by=ruth, kind="counter", what="Run hours", unit="h")
    make_line(point, by=ruth, what="Packing drip", hint="About 60 drops a minute is right")
    make_line(make_point(made, by=ruth, name="High-lift pump 2"), by=ruth, what="Noise")
    read_before(flow, "38.1", "38.4", "38.0", by=ines, what="Raw water flow", unit="L/s")
    read_before(gauge, "690", "686", "688", by=ines, what="Discharge pressure", unit="kPa")
    read_before(pump, "18378.4", "18402.6", by=ines, what="Run hours", unit="h")
    return Plant(ruth=ruth, ines=ines, round=made, plan=plan)


def save(hands: Hands, number: int | None, *, goes: bool = True) -> None:
    """Save one check point and come to the next."""
    hands.press(f"Save, go to check point {number}" if number else "Save, that was the last")
    if number and goes:
        hands.sees(f"Check point {number} of 8")


def good(hands: Hands, group: str, answer: str = "Good") -> None:
    """Choose what a look is."""
    hands.page.get_by_role("group", name=group).locator("label", has_text=answer).first.click()


def begin(hands: Hands) -> None:
    """Press what begins the walk; its unseen words name the round."""
    hands.page.get_by_role("button", name=re.compile("^Begin the walk")).click()


def walk_to_seven(hands: Hands) -> None:
    """Write the first six check points; the float could not be seen."""
    hands.open("/")
    hands.sees("Next: Morning walk, 8 check points")
    hands.follow("Walk")
    begin(hands)
    hands.sees("Check point 1 of 8", "Clear of leaves")
    good(hands, "Screen")
    save(hands, 2)
    hands.sees("Raw water", "Yesterday", "38.0 L/s, Ines Calder")
    hands.write({"Raw water flow": "38.2"})
    save(hands, 3)
    hands.write({"Coagulant": "50", "In how many seconds": "41.2"})
    save(hands, 4)
    hands.unfold("Skip with a reason")
    hands.page.get_by_role("group", name="It is").locator("label", has_text="Could not").click()
    hands.write({"Because": "the cover is bolted down"}, within=hands.page.get_by_role("group", name="It is"))
    hands.press("Skip, go to check point 5")
    hands.sees("Check point 5 of 8")
    good(hands, "Messages", "None is on")
    save(hands, 6)
    good(hands, "Door")
    save(hands, 7)
    hands.sees("Check point 7 of 8", "Limits 560 to 720 kPa", "5 done, 1 skipped with a reason, 2 to go.")


CUT_OFF = """(() => {
  const send = globalThis.fetch;
  const cut = () => Promise.reject(new TypeError("no signal"));
  globalThis.fetch = (...asked) => (localStorage.getItem("cut off") ? cut() : send(...asked));
})()"""


def on_a_phone(open_page: OpenPage, person: Person) -> Hands:
    """Somebody signed in on a phone that can lose its signal."""
    page = open_page()
    page.context.add_init_script(CUT_OFF)
    hands = Hands(page)
    hands.sign_in(person)
    return hands


def kept_pages(page: Page) -> int:
    """How many pages this phone keeps."""
    return int(page.evaluate("async () => (await (await caches.open('spanwell-walk-pages')).keys()).length"))


def is_script_kept(page: Page) -> bool:
    """Whether this phone keeps the program of the pages it keeps."""
    stills = "async () => (await (await caches.open('spanwell-walk-stills')).keys()).map((one) => one.url)"
    return any("/js/walk." in url for url in page.evaluate(stills))


def until(page: Page, holds: Callable[[], bool]) -> bool:
    """Wait for what a phone does unseen; return whether it holds in the end."""
    for _ in range(100):
        if holds():
            return True
        page.wait_for_timeout(100)
    return False


def until_kept(page: Page, many: int) -> None:
    """Wait until the phone keeps the pages of the walk."""
    assert until(page, lambda: kept_pages(page) >= many), f"the phone keeps {kept_pages(page)} pages of {many}"


def lose_signal(page: Page) -> None:
    """Cut a phone off. What the program of a page sends is cut by hand: now and then the emulation lets it through."""
    page.evaluate("localStorage.setItem('cut off', 'yes')")
    page.context.set_offline(True)


def find_signal(page: Page) -> None:
    """Connect a phone again."""
    page.evaluate("localStorage.removeItem('cut off')")
    page.context.set_offline(False)


def until_forgotten(page: Page) -> None:
    """Wait until the phone keeps no page of the walk any more."""
    assert until(page, lambda: not page.evaluate("caches.has('spanwell-walk-pages')")), "the phone still keeps pages"


def test_a_walk_loses_the_network_at_point_seven_is_reloaded_closed_finished_and_arrives_once(
    plant: Plant, open_page: OpenPage, axe: Callable[[Page], None]
) -> None:
    ines = on_a_phone(open_page, plant.ines)
    walk_to_seven(ines)
    until_kept(ines.page, 10)  # eight check points, the walk, and whose they are
    phone = ines.page.context
    lose_signal(ines.page)
    ines.write({"Discharge pressure": "742", "Run hours": "18426.1"})
    ines.page.reload()
    ines.sees("Check point 7 of 8")
    expect(ines.page.get_by_text("No signal", exact=True)).to_be_visible()
    assert ines.value("Discharge pressure") == "742", "what was typed outlives a reload"
    ines.page.get_by_label("Discharge pressure").first.dispatch_event("change")
    ines.sees("Above the operating limit, 720 kPa", "Still 742")
    axe(ines.page)
    good(ines, "Packing drip")
    save(ines, 8, goes=False)
    ines.sees("Look again, then choose.")
    ines.page.get_by_text("Still 742").click()
    ines.write({"What you did about it": "closed the recirculation, told Ruth"})
    ines.page.get_by_text("Raise a work order for it").first.click()
    save(ines, 8)
    ines.sees("Check point 8 of 8", "Kept on this phone", "1 check point")
    ines.page.close()
    assert not StopAnswer.objects.filter(stop__number=7).exists()

    ines = Hands(phone.new_page())
    walk = Walk.objects.get()
    ines.page.goto(f"/walk/{walk.number}/8/")
    ines.sees("Check point 8 of 8", "Kept on this phone")
    good(ines, "Noise")
    save(ines, None)
    ines.sees("Kept on this phone", "2 check points", "You can finish the walk without signal.")
    find_signal(ines.page)
    ines.page.evaluate("dispatchEvent(new Event('online'))")
    expect(ines.page.locator("[data-kept]")).to_be_hidden()
    ines.sees(
        "Next: end the walk", "Over its limit", "Above the operating limit, 720 kPa: Still 742 kPa.", "Work order 1"
    )
    ines.press("End the walk")
    ines.sees("All 8 check points done.", "The morning walk")

    answers = StopAnswer.objects.filter(stop__walk=walk)
    assert sorted(answers.values_list("stop__number", flat=True)) == list(range(1, 9)), "each came once"
    assert Event.objects.filter(verb="walk.point_written").count() == 8
    assert not answers.filter(beside__isnull=False).exists()
    late = answers.get(stop__number=7)
    assert late.written_at < late.recorded_at
    assert Reading.objects.filter(entered="742").get().taken_at == late.written_at
    order = WorkOrder.objects.get()
    assert (order.position.tag if order.position else "", order.raised_by) == ("PI-611", plant.ines)
    assert Performance.objects.get(plan=plant.plan).counts is True


def test_an_answer_that_was_lost_on_the_way_back_is_sent_again_and_counts_once(
    plant: Plant, open_page: OpenPage
) -> None:
    ines = Hands(open_page())
    ines.sign_in(plant.ines)
    ines.open("/walk/")
    begin(ines)
    ines.sees("Check point 1 of 8")
    until_kept(ines.page, 2)
    assert is_script_kept(ines.page), "a page without its program would lose what is typed on it"
    until_kept(ines.page, 10)
    lost: list[Any] = []

    def lose(route: Any) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch(max_redirects=0))  # it arrives, and its answer does not
            route.abort()
        else:
            route.continue_()

    ines.page.context.route("**/walk/*/1/", lose)
    good(ines, "Screen")
    save(ines, 2)
    ines.sees("Check point 2 of 8")
    expect(ines.page.locator("[data-kept]")).to_be_hidden()
    assert lost[0].status == 302
    assert StopAnswer.objects.filter(stop__number=1).count() == 1


def test_without_script_the_plant_asks_and_two_people_on_one_walk_are_told_plainly(
    plant: Plant, open_page: OpenPage
) -> None:
    ines, ruth = Hands(open_page(script=False)), Hands(open_page(width=1280, script=False))
    ines.sign_in(plant.ines)
    ruth.sign_in(plant.ruth)
    ines.open("/walk/")
    begin(ines)
    for hands in (ines, ruth):
        hands.open("/walk/1/7/")
    ines.write({"Discharge pressure": "742", "Run hours": "1842.6"})
    good(ines, "Packing drip")
    save(ines, 8, goes=False)
    ines.sees("This check point is not written yet", "Above the operating limit, 720 kPa", "742 kPa is 22 over.")
    ines.sees("It shows less than before")
    assert ines.value("Discharge pressure") == "742"
    ines.page.get_by_text("Still 742").click()
    ines.write({"What you did about it": "told Ruth", "Run hours": "18426.1"})
    save(ines, 8)
    ruth.write({"Discharge pressure": "700", "Run hours": "18426.1"})
    good(ruth, "Packing drip", "Not good")
    ruth.write({"Because": "a drop a second"}, within=ruth.page.get_by_role("group", name="Packing drip"))
    save(ruth, 8, goes=False)
    ruth.sees("Ines Calder wrote this check point first", "700 kPa", "kept beside it")
    ruth.press("Let this one count instead")
    ruth.open("/walk/1/")
    ruth.sees("700 kPa", "not good: a drop a second")
    assert StopAnswer.objects.counting().get().written_by == plant.ruth


def test_what_one_person_wrote_without_signal_is_not_sent_by_another(plant: Plant, open_page: OpenPage) -> None:
    ines = on_a_phone(open_page, plant.ines)
    ines.open("/walk/")
    begin(ines)
    ines.sees("Check point 1 of 8")
    until_kept(ines.page, 10)
    phone = ines.page.context
    lose_signal(ines.page)
    good(ines, "Screen")
    save(ines, 2)
    ines.sees("Kept on this phone", "No signal")
    phone.clear_cookies(name="sessionid")
    find_signal(ines.page)
    ines.page.get_by_role("button", name="Send now").click()
    ines.sees("Sign in again to send it.")
    assert ines.page.evaluate("caches.has('spanwell-walk-pages')")
    ines.open("/sign-in/")
    until_forgotten(ines.page)
    ruth = Hands(ines.page)
    ruth.sign_in(plant.ruth)
    ruth.open("/walk/1/")
    ruth.sees("What somebody else wrote lies on this phone too; it is sent when they sign in here again.")
    arrived = StopAnswer.objects.values_list("written_by__name", "recorded_by__name", "written_at", "recorded_at")
    assert list(arrived) == []
    until_kept(ruth.page, 10)
    phone.clear_cookies(name="sessionid")
    ines.sign_in(plant.ines)
    ines.open("/walk/1/")
    ines.sees("1 done")
    assert StopAnswer.objects.get().written_by == plant.ines
