"""kill -9 in the middle of the work: what was confirmed is there once, what was not is there once or not at all.

Each client keeps the list of the answers it got; that list, not the server's word, is what the database is held to.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from tests.durability.browser import NO_ANSWER, Browser, Form
from tests.durability.site import Site, Web

KILLS = 2
READERS, DRAFTERS = 3, 2
KILLED_WITHIN_S = 60


@dataclass
class Client:
    """One person at a device: what they sent, in order, and what of it the site confirmed."""

    browser: Browser
    path: str
    with_field: str
    fill: Callable[[Form, int], Form]
    sent: list[Form] = field(default_factory=list)
    confirmed: set[int] = field(default_factory=set)
    odd: list[str] = field(default_factory=list)

    def work_until_the_site_is_gone(self) -> None:
        try:
            while True:
                form = self.fill(self.browser.form(self.path, self.with_field), len(self.sent))
                self.sent.append(form)
                answer = self.browser.send(form)
                if answer.kept:
                    self.confirmed.add(len(self.sent) - 1)
                else:
                    self.odd.append(f"{answer.status}: {answer.page[:500]}")
        except NO_ANSWER:
            return

    @property
    def is_sending(self) -> bool:
        """Whether the newest save has no answer yet."""
        return len(self.sent) - 1 not in self.confirmed

    @property
    def unanswered(self) -> list[int]:
        return [number for number in range(len(self.sent)) if number not in self.confirmed]


@dataclass
class Killed:
    """A site that was killed several times under its people and stands again."""

    site: Site
    web: Web
    readers: list[Client]
    drafters: list[Client]
    plant: dict[str, Any]
    faults: list[list[str]] = field(default_factory=list)


def reading(reader: int) -> Callable[[Form, int], Form]:
    def fill(form: Form, number: int) -> Form:
        return form.filled(entered="7.41", unit="pH", face="display", source=note(reader, number))

    return fill


def note(reader: int, number: int) -> str:
    return f"reader {reader}, number {number}"


def process_value(number: int) -> str:
    return f"7.{number:05d}"


def draft(form: Form, number: int) -> Form:
    return form.filled(process_shown=process_value(number))


@pytest.fixture(scope="module")
def killed(site: Site, plant: dict[str, Any]) -> Iterator[Killed]:
    chance = random.Random(20261125)
    now: list[Web] = [site.serve()]

    def person(number: int) -> Browser:
        return Browser(lambda: now[-1].address).signed_in(plant["names"][number], plant["password"])

    readers = [
        Client(person(n), f"/plant/tags/{plant['tags'][0]}/readings/new/", "entered", reading(n))
        for n in range(READERS)
    ]
    drafters = [
        Client(person(n), f"/checks/draft/{plant['drafts'][n]}/", "process_shown", draft)
        for n in range(READERS, READERS + DRAFTERS)
    ]
    done = Killed(site, now[0], readers, drafters, plant)
    for _ in range(KILLS):
        work_and_be_killed([*readers, *drafters], now[-1], chance.uniform(0, 0.4))
        now.append(site.serve())
        done.web = now[-1]
        done.faults.append(site.asked("faults"))
    yield done
    done.web.kill()


def work_and_be_killed(clients: list[Client], web: Web, moment: float) -> None:
    """Let everybody work, kill the site under a save once each has one confirmed, and wait for all to notice."""
    before = [len(client.confirmed) for client in clients]
    threads = [threading.Thread(target=client.work_until_the_site_is_gone) for client in clients]
    for thread in threads:
        thread.start()
    until = time.monotonic() + KILLED_WITHIN_S
    while any(len(client.confirmed) == then for client, then in zip(clients, before, strict=True)):
        assert time.monotonic() < until, [client.odd for client in clients]
        time.sleep(0.01)
    time.sleep(moment)
    while not any(client.is_sending for client in clients):
        assert time.monotonic() < until, [client.odd for client in clients]
        time.sleep(0.001)
    web.kill()
    for thread in threads:
        thread.join(KILLED_WITHIN_S)
        assert not thread.is_alive()


def test_every_kill_came_between_a_confirmed_save_and_an_unanswered_one(killed: Killed) -> None:
    clients = [*killed.readers, *killed.drafters]
    assert [client.odd for client in clients] == [[]] * len(clients)
    assert [client for client in clients if len(client.confirmed) < KILLS] == []
    assert any(client.unanswered for client in clients), "no save was under way at any kill, so nothing was tried"


def test_every_confirmed_reading_is_there_exactly_once_and_no_unconfirmed_one_twice(killed: Killed) -> None:
    found = killed.site.asked("readings")
    for reader, client in enumerate(killed.readers):
        counted = {number: found.pop(note(reader, number), 0) for number in range(len(client.sent))}
        assert [number for number in client.confirmed if counted[number] != 1] == []
        assert [number for number in client.unanswered if counted[number] > 1] == []
    assert [text for text in found if text.startswith("reader ")] == [], "readings that nobody sent"


def test_a_draft_holds_the_last_confirmed_save_or_the_unanswered_one_after_it(killed: Killed) -> None:
    for number, client in enumerate(killed.drafters, READERS):
        holds = killed.site.asked("typed_in", draft=killed.plant["drafts"][number])
        after = range(max(client.confirmed), len(client.sent))
        assert holds in {process_value(save) for save in after}


def test_the_record_proves_itself_after_every_kill(killed: Killed) -> None:
    assert killed.faults == [[]] * KILLS


def test_what_got_no_answer_can_be_sent_again_and_is_then_there_exactly_once(killed: Killed) -> None:
    for client in killed.readers:
        for number in client.unanswered:
            assert client.browser.send(client.sent[number]).kept
    found = killed.site.asked("readings")
    sent = [note(reader, n) for reader, client in enumerate(killed.readers) for n in range(len(client.sent))]
    assert {text: found.get(text) for text in sent} == dict.fromkeys(sent, 1)
    assert killed.site.asked("faults") == []
