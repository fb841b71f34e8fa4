"""Two workers at the same moment, with a connection each: every message is written once and sent once."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from django.db import connection

from assets.models import Role, Site
from maintenance import tasks
from maintenance.models import Message, MessageTry
from tests.conftest import Clock
from tests.maintenance.messages.conftest import DENVER
from tests.maintenance.messages.people import reachable
from tests.maintenance.messages.post_office import PostOffice
from tests.make import make_position, make_site
from tests.make_upkeep import make_order

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]
PEOPLE = 6


def at_once(act: Callable[[], str], workers: int = 3) -> list[str]:
    """Let several workers do the same at the same moment; return what each said."""
    said: list[str] = []
    gate = threading.Barrier(workers)

    def run() -> None:
        try:
            gate.wait(timeout=10)
            said.append(act())
        finally:
            connection.close()

    threads = [threading.Thread(target=run) for _ in range(workers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in threads), "a worker waits for ever"
    return said


@pytest.fixture
def site(morning: Clock, office: PostOffice) -> Site:
    made = make_site()
    people = [reachable(site=made, role=Role.SUPERVISOR, name=f"Person{n} Holm") for n in range(PEOPLE)]
    make_order(make_position(site=made), by=people[0])
    return made


def test_every_message_is_written_and_sent_once(site: Site, office: PostOffice, morning: Clock) -> None:
    for day in (25, 26, 27):
        morning.set(2026, 11, day, 6, 0, tz=DENVER)
        office.letters.clear()
        written = at_once(tasks.write_messages)
        assert len(written) == 3
        assert sorted(written)[-1] == f"{PEOPLE} written"
        sent = at_once(tasks.send_messages)
        assert sum(int(line.split()[0]) for line in sent) == PEOPLE
        assert sorted(letter["To"] for letter in office.letters) == sorted(
            f"person{n}@works.example" for n in range(PEOPLE)
        )
    assert Message.objects.count() == MessageTry.objects.filter(sent=True).count() == 3 * PEOPLE
