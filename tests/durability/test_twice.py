"""One form that arrives more than once counts once: from a double tap, from a device that repeats, all at once."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

import pytest

from tests.durability.browser import Answer, Browser, Form, forms_of
from tests.durability.site import Site, Web

THREADS, ROUNDS = 8, 6


@pytest.fixture
def reading(plant: dict[str, Any]) -> Callable[[Browser, str], Form]:
    """The form of a reading as a person fills it in, told apart by its note."""

    def filled(browser: Browser, note: str) -> Form:
        form = browser.form(f"/plant/tags/{plant['tags'][0]}/readings/new/", "entered")
        return form.filled(entered="7.41", unit="pH", face="display", source=note)

    return filled


def all_at_once(*sends: Callable[[], Answer]) -> list[Answer]:
    """Send everything in the same moment and return the answers in order."""
    gate = threading.Barrier(len(sends))

    def through(send: Callable[[], Answer]) -> Answer:
        gate.wait(20)
        return send()

    with ThreadPoolExecutor(len(sends)) as pool:
        return [done.result(60) for done in [pool.submit(through, send) for send in sends]]


def test_the_same_form_sent_again_gets_the_first_answer_and_counts_once(
    site: Site, device: Callable[[int], Browser], reading: Callable[[Browser, str], Form]
) -> None:
    browser = device(0)
    form = reading(browser, "sent twice")
    first, second = browser.send(form), browser.send(form)
    assert first.kept, first.page
    assert (second.status, second.leads_to) == (first.status, first.leads_to)
    assert site.asked("readings")["sent twice"] == 1


def test_other_words_on_a_page_that_the_browser_brought_back_are_kept_as_another_reading(
    site: Site, device: Callable[[int], Browser], reading: Callable[[Browser, str], Form]
) -> None:
    """The browser shows the sent page again, key and all; answering it with the first reading would lose the second."""
    browser = device(0)
    form = reading(browser, "first words")
    again = form.filled(source="other words")
    assert browser.send(form).kept
    assert all(browser.send(again).kept for _ in range(2))
    found = site.asked("readings")
    assert (found["first words"], found["other words"]) == (1, 1)


def test_two_forms_opened_apart_count_twice(
    site: Site, device: Callable[[int], Browser], reading: Callable[[Browser, str], Form]
) -> None:
    browser = device(0)
    assert all(browser.send(reading(browser, "the same number")).kept for _ in range(2))
    assert site.asked("readings")["the same number"] == 2


def test_the_same_form_from_eight_connections_to_two_processes_at_once_counts_once(
    site: Site, webs: list[Web], device: Callable[[int], Browser], reading: Callable[[Browser, str], Form]
) -> None:
    phone = device(0)
    paths = [phone, phone.towards(lambda: webs[1].address)] * (THREADS // 2)
    before = site.asked("events", verb="reading.recorded")
    for number in range(ROUNDS):
        form = reading(phone, f"round {number}")
        answers = all_at_once(*(partial(path.send, form) for path in paths))
        assert {(answer.status, answer.leads_to) for answer in answers} == {(302, answers[0].leads_to)}, [
            answer.page[:500] for answer in answers
        ]
    found = site.asked("readings")
    assert [found[f"round {number}"] for number in range(ROUNDS)] == [1] * ROUNDS
    assert site.asked("events", verb="reading.recorded") - before == ROUNDS
    assert site.asked("faults") == []


def test_a_check_signed_from_eight_connections_to_two_processes_at_once_is_signed_once(
    site: Site, webs: list[Web], plant: dict[str, Any], device: Callable[[int], Browser]
) -> None:
    signer = 2
    phone = device(signer)
    path = f"/checks/draft/{plant['drafts'][signer]}/"
    form = phone.form(path, "proof").filled(**plant["set"])
    signing = Form(f"{path}sign/", form.fields)
    paths = [phone, phone.towards(lambda: webs[1].address)] * (THREADS // 2)
    before = site.asked("checks")
    answers = all_at_once(*(partial(path.send, signing) for path in paths))
    after = site.asked("checks")
    assert {name: after[name] - before[name] for name in after} == {"checks": 1, "sets": 2, "signatures": 2}
    assert {(answer.status, answer.leads_to) for answer in answers} == {(302, answers[0].leads_to)}, [
        (answer.status, forms_of(answer.page), answer.page[1000:3000]) for answer in answers if not answer.kept
    ]
    again = phone.send(signing)
    assert (again.status, again.leads_to) == (302, answers[0].leads_to)
    assert site.asked("faults") == []
