"""Two people at the same moment, on PostgreSQL, with threads that hold connections of their own.

Each story is run several times; a pause after the deciding read or write makes the crossing certain where nothing
keeps the two apart.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from assets.actions import retire_position, take_out_asset
from assets.errors import Refusal
from assets.history import Act, submit
from assets.models import Event
from assets.proofs import demo_proof
from maintenance.actions.lockout.hang import put_on
from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run
from maintenance.actions.lockout.seen import Seen
from maintenance.models import Application, Lockout, LockoutEntry
from tests.make_locks import SHORT, Pump, make_lock, make_neighbour, make_pump, stamp_of

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
PAUSE = 0.6  # how long an act lingers before its commit
LATER = 0.25  # how much later than the first the second act begins


def together(*acts: Callable[[], Any], later: float = 0) -> list[Any]:
    """Do the acts at the same moment, or each a little later, in threads; give what each returned, or its refusal."""
    answers: list[Any] = [None] * len(acts)
    start = threading.Barrier(len(acts))

    def run(place: int, act: Callable[[], Any]) -> None:
        try:
            start.wait(10)
            time.sleep(later * place)
            answers[place] = act()
        except Exception as wrong:  # noqa: BLE001 - whatever it is, the test judges it
            answers[place] = wrong
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place, act)) for place, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert not any(thread.is_alive() for thread in threads), "two acts wait for each other"
    return answers


def pause_after(monkeypatch: pytest.MonkeyPatch, verb: str) -> None:
    """Let the act of one verb linger between its last row and its commit."""
    write = Act.write

    def slow(self: Act, written: str, **facts: Any) -> None:
        write(self, written, **facts)
        if written == verb:
            time.sleep(PAUSE)

    monkeypatch.setattr(Act, "write", slow)


def verbs() -> list[str]:
    return list(Event.objects.order_by("chain", "number").values_list("verb", flat=True))


def refusals(answers: list[Any]) -> list[Refusal]:
    others = [a for a in answers if isinstance(a, BaseException) and not isinstance(a, Refusal)]
    assert not others, others
    return [a for a in answers if isinstance(a, Refusal)]


def prepared() -> Pump:
    pump = make_pump()
    pump.begin()
    pump.prepare()
    return pump


def test_two_phones_put_one_lock_on_two_points(monkeypatch: pytest.MonkeyPatch) -> None:
    """L6: one wins, the other is told where it hangs; ten locks, ten times."""
    pump = prepared()
    for number in range(50, 60):
        lock = make_lock(site=pump.site, number=str(number), of=pump.ana, by=pump.ruth)
        pump.locks[str(number)] = lock
        answers = together(
            lambda n=str(number): pump.hang(n, pump.points["V-21"]),
            lambda n=str(number): pump.hang(n, pump.points["V-22"]),
        )
        assert [str(r) for r in refusals(answers)] == [
            "This lock is recorded as on elsewhere; one lock hangs in one place."
        ]
        assert Application.objects.on().filter(lock=lock).count() == 1


def test_the_same_form_from_two_phones_counts_once() -> None:
    """L13: a double tap whose two posts arrive together gets one row and the same answer twice."""
    pump = prepared()
    lock, place = pump.locks["41"], pump.points["B-2"]
    seen = Seen.at(place, lock, stamp=stamp_of("41")[-3:], plate=place.plate_code)

    def send() -> str:
        def do() -> str:
            put_on(lockout=pump.lockout, lock=lock, place=place, seen=seen, proof=demo_proof(pump.ana), by=pump.ana)
            return "/locks/1/"

        return submit(site=pump.site, by=pump.ana, verb="lock.put_on", subject=pump.lockout, key="one", do=do)

    assert together(send, send, send) == ["/locks/1/"] * 3
    assert Application.objects.count() == 1
    assert verbs().count("lock.put_on") == 1


def test_a_lock_is_taken_off_once_by_two_taps() -> None:
    pump = make_pump()
    pump.make_verified()
    answers = together(lambda: pump.take("K-1"), lambda: pump.take("K-1"))
    assert len(refusals(answers)) == 1
    assert verbs().count("lock.taken_off") == 1


def test_a_point_lock_never_comes_off_under_a_personal_lock_that_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """L1 with key custody: K hangs a lock on the box while Ana takes 41 off its point."""
    pump = make_pump()
    pump.make_verified()
    pump.take("K-1")
    pause_after(monkeypatch, "lock.taken_off")
    answers = together(lambda: pump.take("41"), lambda: pump.hang("K-1", pump.box), later=LATER)
    assert len(refusals(answers)) == 1
    on = set(Application.objects.on().values_list("lock__number", flat=True))
    assert on in ({"41", "42", "43", "K-1"}, {"42", "43"})


@pytest.mark.parametrize("first", ["lockout.available", "lock.put_on"])
def test_available_and_a_lock_of_another_job_on_the_shared_point_never_cross(
    monkeypatch: pytest.MonkeyPatch, first: str
) -> None:
    """L3, L8: either the lock is there first and the machine is not available, or it was available before."""
    pump = make_pump()
    pump.make_verified()
    second = make_neighbour(pump)
    pump.end()
    second.set_points()
    pause_after(monkeypatch, first)
    acts = {
        "lockout.available": lambda: pump.accept(by=pump.ana),
        "lock.put_on": lambda: second.hang("44", pump.points["B-2"]),
    }
    answers = together(acts.pop(first), *acts.values(), later=LATER)
    order = verbs()
    if first == "lock.put_on":
        assert ["Lock 44 of Ben" in str(r) for r in refusals(answers)] == [True]
        assert "lockout.available" not in order
    else:
        assert not refusals(answers)
        assert order.index("lockout.available") < max(n for n, verb in enumerate(order) if verb == "lock.put_on")


@pytest.mark.parametrize("first", ["lockout.test_run_begun", "lock.put_on"])
def test_a_test_run_and_a_lock_of_another_job_never_cross(monkeypatch: pytest.MonkeyPatch, first: str) -> None:
    """L8's mirror, L16."""
    pump = make_pump()
    pump.make_verified()
    second = make_neighbour(pump)
    ask_for_test_run(lockout=pump.lockout, why="rotation", by=pump.kim)
    for number in ("K-1", "41", "42", "43"):
        pump.take(number, answers=SHORT)
    second.set_points()
    pause_after(monkeypatch, first)
    run = {"lockout": pump.lockout, "minutes": 10, "by": pump.ana, "proof": demo_proof(pump.ana)}
    acts = {
        "lockout.test_run_begun": lambda: begin_test_run(**run),
        "lock.put_on": lambda: second.hang("44", pump.points["B-2"]),
    }
    answers = together(acts.pop(first), *acts.values(), later=LATER)
    assert len(refusals(answers)) == 1
    running = LockoutEntry.objects.filter(kind="test run begun").exists()
    assert running is (first == "lockout.test_run_begun")
    assert running is not Application.objects.on().exists()


@pytest.mark.parametrize("first", ["lockout.begun", "position.retired"])
def test_a_position_is_not_retired_while_a_lockout_of_it_begins(monkeypatch: pytest.MonkeyPatch, first: str) -> None:
    """L12, L14: either there is a lockout and the position stays, or it is retired and no lockout begins."""
    pump = make_pump()
    take_out_asset(position=pump.position, by=pump.ruth)
    pause_after(monkeypatch, first)
    acts = {
        "lockout.begun": pump.begin,
        "position.retired": lambda: retire_position(position=pump.position, by=pump.ruth),
    }
    answers = together(acts.pop(first), *acts.values(), later=LATER)
    assert len(refusals(answers)) == 1
    pump.position.refresh_from_db()
    assert (pump.position.retired_at is None) is Lockout.objects.exists()
