"""A contractor closes his own lock on a booster pump that was taken out and put back, by a personal link and a code.

Box 3 holds the keys of the plant's locks 41 (Ana, breaker B-2), 42 (Ana, V-21) and 43 (Ben, V-22); K's own lock K-1
hangs on the box. K has a phone, no account and no password. Nobody's lock comes off by anybody else, and the pump is
not available before operations took it back.
"""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from maintenance.compute.lockout import PEOPLE, TOOLS
from maintenance.models import Application, Lockout
from maintenance.reads.locks_acceptance import FORCED, HOURS, SELECTOR
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.journeys.test_ph_check import SCRIPT
from tests.make_locks import ACCEPTANCE, CLOSING, Pump, make_neighbour, make_pump, stamp_of

QUESTIONS = [*CLOSING.splitlines(), TOOLS, PEOPLE]
STAMP, PLATE = "Last three characters stamped on", "Code on the plate of"
CODE = "Your code, 8 letters and digits"


@pytest.fixture
def pump(transactional_db: None, clock: Any) -> Pump:
    """P-2 locked and tested, K-1 on the box; then the pump exchanged for the one that came back from the workshop."""
    made = make_pump()
    made.make_verified()
    clock.forward(hours=6)
    made.swap()
    return made


class Story:
    """Everybody's browser: K and the operators on phones, the supervisor at a desk."""

    def __init__(self, pump: Pump, open_page: OpenPage, *, script: bool) -> None:
        self.pump = pump
        self.kim = Hands(open_page(script=script))
        self.ana, self.ben = (Hands(open_page(script=script)) for _ in range(2))
        self.ruth = Hands(open_page(width=1280, script=script))
        for hands, person in ((self.ana, pump.ana), (self.ben, pump.ben), (self.ruth, pump.ruth)):
            hands.sign_in(person)
        self.code = ""

    def lockout(self, hands: Hands) -> None:
        """Open the page of the lockout."""
        hands.open(f"/locks/{self.pump.lockout.number}/")

    def invite(self) -> None:
        """The supervisor makes link and code; K opens the link, told the code by voice."""
        self.lockout(self.ruth)
        self.ruth.follow("Invite a contractor")
        self.ruth.choose("Contractor", "K")
        self.ruth.press("Make link and code")
        link = self.ruth.value("Copy it whole")
        self.code = self.ruth.page.locator(".num b").inner_text()
        self.kim.page.goto(link)
        expect(self.kim.page).to_have_url(self.kim.page.url.split("/job/")[0] + "/job/")

    def read_at(self, hands: Hands, number: str) -> None:
        """Write what stands on the lock and on the plate of its place."""
        application = self.pump.application(number)
        place = application.point or application.box
        assert place is not None
        hands.write({STAMP: stamp_of(number)[-3:], PLATE: place.plate_code})

    def take_off_own(self) -> None:
        """K writes what he reads at his lock, and proves himself by the code."""
        self.read_at(self.kim, "K-1")
        self.kim.write({CODE: self.code})
        self.kim.press("My lock K-1 is off")

    def off_page(self, hands: Hands, number: str) -> None:
        """Open the page on which a lock of the plant comes off."""
        hands.open(f"/locks/{self.pump.lockout.number}/off/{self.pump.application(number).pk}/")

    def take_off(self, hands: Hands, number: str) -> None:
        """One lock of the plant off, by its owner with a PIN."""
        self.off_page(hands, number)
        for question in (TOOLS, PEOPLE):
            if hands.group(question).count():
                hands.choose(question, "Yes")
        self.read_at(hands, number)
        hands.sign(f"My lock {number} is off")


def link_shows_every_lock(story: Story) -> None:
    story.invite()
    story.kim.sees("P-2", "Locks on: 4 of 4.", "Your lock K-1 is on box 3. You can take off only K-1.")
    story.kim.sees("This page does not prove that P-2 is safe.", "41", "42", "43", "Ana", "Ben")


def plant_answers_whether_the_procedure_fits(story: Story) -> None:
    story.take_off_own()
    story.kim.sees("Refused. Your lock stays recorded as on", "Waiting for Ana", "pump 8-2291 is fitted")
    story.lockout(story.ana)
    story.ana.follow("Answer: does the procedure still fit?")
    story.ana.choose("Does it still fit?", "Yes")
    story.ana.write({"What you looked at": "Nameplate: no heater, no drive"})
    story.ana.press("Answer for the plant")
    story.ana.sees("yes. Nameplate: no heater, no drive")


def each_missing_answer_refuses(story: Story) -> None:
    kim = story.kim
    kim.open("/job/")
    expect(kim.page.locator("input:checked"), "nothing is answered beforehand").to_have_count(0)
    for given, question in enumerate(QUESTIONS):
        story.take_off_own()
        notice = kim.page.get_by_role("alert")
        for missing in QUESTIONS[given:]:
            expect(notice).to_contain_text(f"{missing}: not answered.")
        expect(kim.page.locator("input:checked"), "what was answered is still answered").to_have_count(given)
        kim.choose(question, "Yes")
    assert Application.objects.on().filter(lock__number="K-1").exists()


def box_is_in_use(story: Story) -> None:
    story.take_off(story.ana, "41")
    story.ana.sees("Lock 41 stays recorded as on", f"K-1 (K, {story.pump.kim.phone}) is still on box 3.")


def own_lock_off(story: Story) -> None:
    kim = story.kim
    kim.write({STAMP: "K-1", PLATE: "3", CODE: story.code})
    kim.press("My lock K-1 is off")
    kim.sees(
        "These are not the last three characters stamped on lock K-1", "This is not the code on the plate of box 3"
    )
    story.take_off_own()
    kim.sees("K-1 is off", "P-2 must not be started", "3 plant locks still on: 41, Ana; 42, Ana; 43, Ben.")
    kim.sees("Your part is closed")
    kim.sees_no("button", "is off")


def plant_takes_its_own(story: Story) -> None:
    story.off_page(story.ana, "43")
    story.ana.sees("This is the lock of Ben", "You cannot take it off.")
    for hands, number in ((story.ana, "41"), (story.ana, "42"), (story.ben, "43")):
        story.take_off(hands, number)
        hands.sees(f"Lockout {story.pump.lockout.number}")
    story.kim.open("/job/")
    story.kim.sees("All locks off", "P-2 is NOT in service", "Hour meter", "Forced values", "Selector")


def operations_take_it_back(story: Story) -> None:
    ana, ben = story.ana, story.ben
    story.lockout(ana)
    ana.follow("Close the lockout")
    ana.press("Close the lockout")
    ana.sees("NOT in service")
    ben.open(f"/locks/{story.pump.lockout.number}/accept/")
    ben.sign("Operations take it back")
    ben.sees("P-2 is not available", "Ines Calder was told before and has not been told")
    for name in ("Ines Calder", "Tomas Lind"):
        ana.open(f"/locks/{story.pump.lockout.number}/tell-after/")
        ana.write({"Who was told": name, "How": "radio"})
        ana.press("Record that they were told")
    lines = {line: "good" for line in ACCEPTANCE.splitlines()} | {SELECTOR: "off", FORCED: "PIT-2 removed"}
    ben.open(f"/locks/{story.pump.lockout.number}/accept/")
    ben.write({**lines, "Rotation": ""})
    ben.write({HOURS: "0.0"})
    ben.sign("Operations take it back")
    ben.sees("P-2 is not available", "Rotation: nothing is written.")
    assert ben.value("Vibration") == "good"
    ben.write({"Rotation": "right"})
    ben.sign("Operations take it back")
    ben.sees("Available")
    story.kim.open("/job/")
    story.kim.sees("Available", "accepted by Ben", "Your part is closed.")


@SCRIPT
def test_a_contractor_closes_his_own_lock(pump: Pump, open_page: OpenPage, script: bool) -> None:
    story = Story(pump, open_page, script=script)
    link_shows_every_lock(story)
    plant_answers_whether_the_procedure_fits(story)
    each_missing_answer_refuses(story)
    box_is_in_use(story)
    own_lock_off(story)
    plant_takes_its_own(story)
    assert Lockout.objects.get().closed_at is None, "the last lock off closes nothing by itself"
    operations_take_it_back(story)
    assert not Application.objects.on().exists()


def test_a_rotation_test_ends_the_protection_and_everything_is_tested_again(
    pump: Pump, open_page: OpenPage, clock: Any
) -> None:
    second = make_neighbour(pump)
    theirs = second.hang("44", pump.points["B-2"])
    story = Story(pump, open_page, script=True)
    story.invite()
    plant_answers_whether_the_procedure_fits(story)
    kim = story.kim
    kim.open("/job/")
    kim.unfold("A rotation test is needed")
    kim.sees("That is a test run: your protection ends.", f"Lock 44 of Ben, {pump.ben.phone} is on breaker B-2")
    kim.write({"Why": "Turn by hand, then by motor"})
    kim.press("Ask for the test run")
    kim.sees("No test run was asked for", "44")

    second.take("44")
    assert theirs.lock.number == "44"
    kim.open("/job/")
    kim.unfold("A rotation test is needed")
    kim.write({"Why": "Turn by hand, then by motor"})
    kim.press("Ask for the test run")
    kim.sees("For the test run. Your protection ends when it is off")
    for question in (TOOLS, PEOPLE):
        kim.choose(question, "Yes")
    story.take_off_own()
    for hands, number in ((story.ana, "41"), (story.ana, "42"), (story.ben, "43")):
        story.take_off(hands, number)
    story.lockout(story.ana)
    story.ana.follow("Begin the test run")
    story.ana.write({"For how many minutes": "10"})
    story.ana.sign("Begin the test run")
    kim.open("/job/")
    kim.sees("Do not work")
    clock.forward(minutes=5)
    story.lockout(story.ana)
    story.ana.follow("End the test run")
    story.ana.write({"What it showed": "Turns the right way"})
    story.ana.press("The test run is over")

    pump.set_points()
    pump.lock_points()
    pump.relieve()
    kim.open("/job/")
    kim.choose("Your lock", "lock K-1")
    kim.write({STAMP: stamp_of("K-1")[-3:], PLATE: pump.box.plate_code, CODE: story.code})
    kim.press("My lock is on")
    kim.sees("NOT yet tested", "Do not work")
    pump.test()
    kim.open("/job/")
    kim.sees("Your lock K-1 is on box 3", "Last test")
    expect(kim.page.locator("body")).not_to_contain_text("NOT yet tested")
