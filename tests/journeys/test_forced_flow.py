"""A week of a flow meter that reads zero and is substituted: asked for, approved, handed on, extended, seen to work.

The limits are the site rules as they come: 72 h for what matters for compliance, a look every 24 h.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Locator, expect

from assets.models import Event, Person, Position, Role
from maintenance.models import Override
from tests.conftest import Clock
from tests.journeys.conftest import OpenPage
from tests.journeys.hands import Hands
from tests.make import make_person, make_position, make_site, make_use

PROOF = "Your PIN or password"
HERE = ZoneInfo("America/Denver")
FORCED = "Flow on the HMI: 38.0 L/s"
TYPED = {
    "What is forced or defeated": "Flow on the HMI",
    "Value it is forced to": "38.0",
    "What the value rests on": "weir at the intake, read at 06:50",
    "Because": "maintenance",
    "What is done instead": "weir read at 08:00 and 14:00",
    "Until when at the latest": "2026-12-02 18:00",
}


@dataclass
class Plant:
    """The raw water flow meter, whose signal paces the coagulant pump, and who works there."""

    flow: Position
    ruth: Person
    ines: Person
    joss: Person
    mina: Person


@pytest.fixture
def plant(transactional_db: None, clock: Clock) -> Plant:
    """Wednesday 25 November 2026, 07:05 at the site."""
    site = make_site(name="Kestrel Hollow Water Works")
    ruth = make_person(site=site, role=Role.SUPERVISOR, name="Ruth Penhall")
    people = {name: make_person(site=site, name=f"{name} {last}") for name, last in (("Ines", "Calder"), *OTHERS)}
    flow = make_position(site=site, tag="FIT-101", quantity="Flow", unit="L/s", service="Raw water flow")
    pump = make_position(site=site, tag="P-31", does="moves", service="Coagulant pump")
    make_use(position=flow, target=pump, by=ruth)
    return Plant(flow, ruth, people["Ines"], people["Joss"], people["Mina"])


OTHERS = (("Joss", "Amadi"), ("Mina", "Aldous"))


def field_of(hands: Hands, label: str) -> Locator:
    """One box with its label, its hint and what is wrong with it."""
    return hands.page.locator("p.fill, fieldset").filter(has=hands.page.get_by_label(re.compile(f"^{label}")))


def told(hands: Hands, label: str, sentence: str) -> None:
    """The sentence stands at the box it speaks of."""
    expect(field_of(hands, label).first).to_contain_text(sentence)


def ask(ines: Hands, plant: Plant) -> None:
    """Ask for it, wrong at first."""
    ines.open(f"/tag/{plant.flow.label_code}/")
    ines.follow("Write a forced value, hold, bypass or shelved alarm")
    ines.sees("FIT-101", "it changes nothing at the plant")
    ines.choose("What it is", "Forced value")
    ines.choose("How", "At the HMI")
    ines.write(TYPED)
    offered = ines.page.get_by_label("Unit").locator("option").all_text_contents()
    assert {"L/s", "m³/h"} <= set(offered)
    assert not {"pH", "mg/L", "kPa"} & set(offered), "a unit of another quantity is not offered"
    ines.choose("Unit", "no unit")
    ines.press("Write it down")
    ines.sees("Nothing was written")
    told(ines, "Because", "“maintenance” alone tells the next shift nothing")
    told(ines, "Until when", "lasts 72 hours at most here: until 28 November 2026, 07:05")
    told(ines, "Unit", "Choose the unit of the value, like L/s.")
    for label, text in TYPED.items():
        assert ines.value(label) == text, "what was typed stays"
    assert not Override.objects.exists()
    ines.write({"Because": "reads zero since 06:20, liner lifted", "Until when at the latest": "2026-11-28 06:00"})
    ines.choose("Unit", "L/s")
    ines.press("Write it down")
    ines.sees(FORCED, "Asked for", "Next: another person approves it", "Paces P-31")
    ines.sees_no("link", "Approve it")


def approve(ruth: Hands) -> None:
    """Find it in Review, look at it and approve it; a wrong PIN is told at its box."""
    ruth.open("/review/")
    ruth.sees("1 thing waits for a supervisor", "You never approve what you asked for yourself.")
    ruth.follow(FORCED)
    ruth.sees("reads zero since 06:20, liner lifted", "weir at the intake, read at 06:50")
    ruth.follow("Approve it")
    ruth.write({PROOF: "0000"})
    ruth.press("Approve it")
    told(ruth, PROOF, "neither your PIN nor your password")
    ruth.sign("Approve it")
    ruth.sees("Next: put it on", "Ruth Penhall, 25 November 2026, 07:15")
    ruth.open("/review/")
    ruth.sees("Nothing waits for a supervisor.")


def stands(hands: Hands, plant: Plant, *words: str) -> None:
    """It stands in Today and on the page of its tag, with these words."""
    for path in ("/", f"/tag/{plant.flow.label_code}/"):
        hands.open(path)
        hands.sees(FORCED, *words)


def look(hands: Hands, value: str, at: str, *, agrees: str = "Yes", did: str = "") -> None:
    """Hold it against the weir."""
    hands.open("/upkeep/forced/1/")
    hands.follow("Hold it against evidence")
    hands.sees("never the forced signal itself")
    hands.write({"What the independent evidence reads": value, "Read when": at, "Where that value comes from": "weir"})
    hands.choose("Does it agree", agrees)
    hands.write({"What you did about it": did})
    hands.press("Write this look")


def hand_over(hands: Hands, words: str) -> None:
    """Sign what the shift leaves."""
    hands.open("/")
    hands.follow("Hand over the shift")
    hands.sees(FORCED, "to take over", "you go on carrying it")
    hands.write({"In your own words": words})
    hands.sign("Hand over")
    hands.sees("Not taken over yet", "1 of 1", words)


def takes_nothing(hands: Hands, plant: Plant, *, was: str) -> None:
    """Sign without a tick: told in words, and who hands over goes on carrying it."""
    hands.open("/handover/1/")
    hands.sees("35.1 L/s at 14:00, which does not agree; 38.2 L/s at 14:05")
    hands.sign("Take over what I ticked")
    hands.sees("Nothing was taken over", "Choose what you take over.")
    stands(hands, plant, f"{was} carries it.")


def take_over(hands: Hands, *, was: str, number: int, words: str = "") -> None:
    """See who carries it still, then tick it, sign and carry it."""
    hands.open("/")
    hands.sees(FORCED, f"{was} carries it.")
    hands.follow(f"Handover {number} of {was}")
    hands.sees(f"what you leave stays with {was}", "Not taken over yet")
    hands.page.get_by_text("I take it").click()
    hands.write({"Anything you saw differently": words})
    hands.sign("Take over what I ticked")
    hands.sees("Everything is taken over.", "You, ")
    hands.open("/")
    hands.sees(FORCED, "You carry it.")


def over_its_limit(mina: Hands, ruth: Hands, plant: Plant) -> None:
    """The time has passed: it says so, and says nothing of an end."""
    stands(mina, plant, "Over its time limit of 28 November 2026, 06:00")
    mina.open("/upkeep/forced/1/")
    mina.sees("Over its time limit: restore it, or ask for more time", "Over its time limit of 28 November 2026, 06:00")
    for words in ("Taken off", "Ended", "Works again"):
        expect(mina.page.locator("main")).not_to_contain_text(words)
    ruth.open("/review/")
    ruth.sees("Over the time limit, or not looked at in time", FORCED)


def extend(mina: Hands, ruth: Hands) -> None:
    """More time is asked for by who carries it, wrong at first, and granted by another."""
    mina.open("/upkeep/forced/1/")
    mina.follow("Ask for more time")
    mina.write({"Until when": "2026-12-05 06:00", "Because": "liner comes on Monday"})
    mina.press("Ask for more time")
    told(mina, "Until when", "At most 72 hours from now: until 1 December 2026, 09:00")
    assert mina.value("Because").strip() == "liner comes on Monday"
    mina.write({"Until when": "2026-12-01 06:00"})
    mina.press("Ask for more time")
    mina.sees("Mina Aldous asks for more time", "Another person decides.", "Over its time limit")
    mina.sees_no("link", "Grant it")
    ruth.open("/review/")
    ruth.sees("More time asked for", "liner comes on Monday")
    ruth.open("/upkeep/forced/1/")
    ruth.follow("Grant it")
    ruth.sign("Grant it")
    ruth.sees("In force until 1 December 2026, 06:00", "1 time")
    mina.open("/")
    mina.sees("extended 1 time")
    expect(mina.page.locator("main")).not_to_contain_text("Over its time limit")


def take_off(ines: Hands, plant: Plant) -> None:
    """Taken off; who took it off is not the one who sees it restored."""
    ines.open("/upkeep/forced/1/")
    ines.follow("It was taken off")
    ines.sees("until then it stays in the list")
    ines.write({"What you did and saw": "HMI back to the live signal, new liner in"})
    ines.press("Write that it was taken off")
    ines.sees("Taken off, not yet seen to work since 1 December 2026, 05:30", "Next: another person sees that it works")
    ines.sees_no("link", "I see that it works")
    stands(ines, plant, "Taken off, not yet seen to work")
    ines.open("/upkeep/forced/1/works/")
    ines.choose("What you saw", "The live value moved")
    ines.write({"With which values": "36.4 to 38.1 L/s"})
    ines.sign("Sign that it works again")
    ines.sees("You took it off; another person sees that it works again.")


def see_restored(joss: Hands, plant: Plant) -> None:
    """Another person saw it move: it is gone from Today and from its tag, and stands among what ended."""
    joss.open("/")
    joss.follow(FORCED)
    joss.follow("I see that it works")
    joss.choose("What you saw", "The live value moved")
    joss.sign("Sign that it works again")
    told(joss, "With which values", "Nothing is written here yet")
    joss.write({"With which values": "moved from 36.4 to 38.1 L/s as the valve opened"})
    joss.sign("Sign that it works again")
    joss.sees("Ended", "Nothing is left to do.", "moved from 36.4 to 38.1 L/s", "Joss Amadi")
    for path in ("/", "/review/", f"/tag/{plant.flow.label_code}/"):
        joss.open(path)
        expect(joss.page.locator("main")).not_to_contain_text("Flow on the HMI")
    joss.open("/upkeep/forced/?show=ended")
    joss.sees(FORCED)


def test_a_flow_is_forced_for_a_week_handed_on_extended_and_seen_to_work(
    plant: Plant, open_page: OpenPage, clock: Clock
) -> None:
    ines, joss, mina = (Hands(open_page()) for _ in range(3))
    ruth = Hands(open_page(width=1280))
    people = ((ines, plant.ines), (joss, plant.joss), (mina, plant.mina), (ruth, plant.ruth))
    for hands, person in people:
        hands.sign_in(person)
    ask(ines, plant)
    clock.set(2026, 11, 25, 7, 15, tz=HERE)
    approve(ruth)
    ines.open("/upkeep/forced/1/")
    ines.follow("Write that it was put on")
    ines.press("Write that it was put on")
    ines.sees("In force until 28 November 2026, 06:00", "Next: look at it by 26 November 2026, 07:15")
    stands(ines, plant, "You carry it.", "In force")

    clock.set(2026, 11, 25, 14, 10, tz=HERE)
    look(ines, "35.1", "2026-11-25 14:00", agrees="No")
    told(ines, "What you did about it", "It does not agree: write what you did about it.")
    assert ines.value("What the independent evidence reads") == "35.1"
    ines.write({"What you did about it": "told Ruth, weir cleared of leaves"})
    ines.press("Write this look")
    ines.sees("Does not agree", "35.1 L/s", "weir cleared of leaves")
    look(ines, "38.2", "2026-11-25 14:05")
    ines.sees("Agrees", "38.2 L/s", "Held against independent evidence, 2")

    clock.set(2026, 11, 25, 18, 30, tz=HERE)
    hand_over(ines, "weir clogs with leaves, look before you read it")
    takes_nothing(joss, plant, was="Ines Calder")
    take_over(joss, was="Ines Calder", number=1, words="weir is clear now")
    ines.open("/")
    ines.sees("Joss Amadi carries it.")
    clock.set(2026, 11, 26, 6, 30, tz=HERE)
    hand_over(joss, "quiet night")
    clock.set(2026, 11, 26, 14, 30, tz=HERE)
    stands(mina, plant, "Joss Amadi carries it.", "Not held against independent evidence since")
    joss.open("/")
    joss.sees("until then you carry it")
    take_over(mina, was="Joss Amadi", number=2)
    look(mina, "38.0", "2026-11-26 14:25")
    mina.sees("Next: look at it by 27 November 2026, 14:25")

    clock.set(2026, 11, 28, 9, 0, tz=HERE)
    over_its_limit(mina, ruth, plant)
    extend(mina, ruth)
    clock.set(2026, 11, 28, 18, 30, tz=HERE)
    hand_over(mina, "liner comes on Monday")
    take_over(ines, was="Mina Aldous", number=3)

    clock.set(2026, 12, 1, 5, 30, tz=HERE)
    take_off(ines, plant)
    see_restored(joss, plant)
    verbs = Event.objects.about(Override.objects.get()).values_list("verb", flat=True)
    assert sorted(verbs).count("override.taken_over") == 3
