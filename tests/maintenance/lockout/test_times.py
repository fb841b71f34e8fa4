"""When a thing was done under a lockout is compared with the lockout; a shutdown is recorded once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from assets.errors import Refusal
from assets.models import Event
from assets.proofs import demo_proof
from maintenance.actions.lockout import ending, hang, runs, steps
from maintenance.actions.lockout.seen import Seen
from maintenance.models import Application, LockoutEntry
from maintenance.reads.locks_acceptance import fields_of
from tests.maintenance.lockout.browsers import browser_of, send, words
from tests.make_locks import SHORT, Pump, stamp_of

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)
DAY = dt.timedelta(days=1)


def put_on(pump: Pump, at: dt.datetime) -> Application:
    lock, place = pump.locks["41"], pump.points["B-2"]
    seen = Seen.at(place, lock, stamp=stamp_of("41")[-3:], plate=place.plate_code)
    proof = demo_proof(pump.ana)
    return hang.put_on(
        lockout=pump.lockout, lock=lock, place=place, seen=seen, proof=proof, by=pump.ana, happened_at=at
    )


def relieve(pump: Pump, at: dt.datetime) -> LockoutEntry:
    line = pump.lockout.lines.exclude(relief__startswith="none").get()
    return steps.let_off(lockout=pump.lockout, line=line, found="0 kPa", by=pump.ana, happened_at=at)


def keys_in(pump: Pump) -> None:
    for number, name in (("41", "B-2"), ("42", "V-21"), ("43", "V-22")):
        on = pump.hang(number, pump.points[name])
        steps.put_key_in_box(application=on, by=pump.locks[number].issued_to)


def told(pump: Pump) -> None:
    steps.tell_before(lockout=pump.lockout, name="Ines", how="radio", by=pump.ana)


def told_and_down(pump: Pump) -> None:
    told(pump)
    steps.record_shut_down(lockout=pump.lockout, selector="hand", by=pump.ana)


ACTS: dict[str, tuple[Callable[[Pump], Any], Callable[[Pump, dt.datetime], Any]]] = {
    "shut down": (
        told,
        lambda p, at: steps.record_shut_down(lockout=p.lockout, selector="hand", by=p.ana, happened_at=at),
    ),
    "point set": (
        told_and_down,
        lambda p, at: steps.set_point(lockout=p.lockout, line=p.lockout.lines.all()[0], by=p.ana, happened_at=at),
    ),
    "lock on": (Pump.prepare, put_on),
    "let off": (lambda p: (p.prepare(), p.lock_points()), relieve),
    "box closed": (
        lambda p: (p.prepare(), keys_in(p)),
        lambda p, at: steps.close_box(lockout=p.lockout, by=p.ana, happened_at=at),
    ),
}


@pytest.mark.parametrize("name", ACTS)
def test_nothing_of_a_lockout_was_done_before_it_began(pump: Pump, clock, name: str) -> None:
    before, do = ACTS[name]
    begun = pump.begin().begun_at
    clock.forward(hours=1)
    before(pump)
    kept = (LockoutEntry.objects.count(), Application.objects.count(), Event.objects.count())
    with pytest.raises(Refusal) as refused:
        do(pump, begun - MINUTE)
    here = begun.astimezone(pump.site.zone)
    (reason,) = refused.value.reasons
    assert reason.field == "happened_at"
    assert f"is before {here.day} {here:%B %Y, %H:%M}, when lockout 1 began" in reason.sentence
    assert (LockoutEntry.objects.count(), Application.objects.count(), Event.objects.count()) == kept
    do(pump, begun.replace(second=0, microsecond=0))  # people write no seconds


def test_people_are_told_a_day_ahead_at_most(pump: Pump) -> None:
    begun = pump.begin().begun_at

    def tell(at: dt.datetime) -> LockoutEntry:
        return steps.tell_before(lockout=pump.lockout, name="Ines", how="radio", by=pump.ana, happened_at=at)

    with pytest.raises(Refusal, match="a day before lockout 1 began"):
        tell(begun - DAY - MINUTE)
    assert tell(begun - DAY).happened_at == begun - DAY


def test_a_year_long_gone_is_refused_at_its_box_and_stays_there(pump: Pump) -> None:
    pump.begin()
    typed = {"name": "Ines", "how": "radio", "happened_at": "2019-03-01 08:00"}
    refused = send(browser_of(pump.ana), "/locks/1/tell-before/", **typed)
    assert refused.status_code == 422
    assert "The time it happened, 1 March 2019, 08:00, is before" in words(refused)
    assert 'value="2019-03-01 08:00"' in refused.content.decode()
    assert "happened_at" in refused.context["form"].errors
    assert not pump.story().told("told before")


def test_nobody_is_told_that_locks_are_off_before_the_last_one_is(verified: Pump, clock) -> None:
    clock.forward(hours=1)
    verified.take("K-1")
    for number in ("41", "42"):
        verified.take(number)
    early = clock.now
    clock.forward(minutes=10)
    last = verified.take("43").removed_at
    ending.close_lockout(lockout=verified.lockout, by=verified.ana)

    def tell(at: dt.datetime) -> LockoutEntry:
        return ending.tell_after(lockout=verified.lockout, name="Ines", how="radio", by=verified.ana, happened_at=at)

    with pytest.raises(Refusal, match="when the last lock came off") as refused:
        tell(early)
    here = last.astimezone(verified.site.zone)
    assert f"{here:%H:%M}" in str(refused.value)
    assert refused.value.reasons[0].field == "happened_at"
    assert tell(last.replace(second=0, microsecond=0))


def test_a_lockout_without_a_lock_is_told_of_from_its_beginning(pump: Pump) -> None:
    begun = pump.begin().begun_at
    ending.close_lockout(lockout=pump.lockout, by=pump.ana)
    with pytest.raises(Refusal, match="when lockout 1 began"):
        ending.tell_after(lockout=pump.lockout, name="Ines", how="radio", by=pump.ana, happened_at=begun - MINUTE)


# The shutdown


def test_a_shutdown_is_recorded_once_and_what_was_found_stays(verified: Pump) -> None:
    before = verified.story().last("shut down")
    refused = send(browser_of(verified.ben), "/locks/1/down/", selector="auto")
    assert refused.status_code == 422
    assert "The shutdown is recorded already" in words(refused)
    assert 'value="auto"' in refused.content.decode()
    assert verified.story().told("shut down") == (before,)
    assert [n.text for n in verified.story().told("selector found")] == ["hand"]


def test_a_run_that_was_only_asked_for_moves_no_shutdown(verified: Pump) -> None:
    runs.ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.ana)
    runs.end_test_run(lockout=verified.lockout, found="given up", by=verified.ana)
    with pytest.raises(Refusal, match="recorded already"):
        steps.record_shut_down(lockout=verified.lockout, selector="auto", by=verified.ana)


def test_after_a_test_run_it_is_shut_down_anew_and_not_once_a_lock_is_on(verified: Pump) -> None:
    runs.ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.ana)
    for number in ("K-1", "41", "42", "43"):
        verified.take(number, answers=SHORT)
    runs.begin_test_run(lockout=verified.lockout, minutes=10, by=verified.ana, proof=demo_proof(verified.ana))
    runs.end_test_run(lockout=verified.lockout, found="turns right", by=verified.ana)
    verified.set_points()
    verified.hang("41", verified.points["B-2"])
    with pytest.raises(Refusal, match="Lock 41 of Ana.* is on already"):
        steps.record_shut_down(lockout=verified.lockout, selector="hand", by=verified.ana)
    verified.take("41")
    steps.record_shut_down(lockout=verified.lockout, selector="off", by=verified.ana)
    # L24: what is restored at the end is what was found before anybody touched it, not what the test run left.
    asked = {field.name: field.hint for field in fields_of(verified.lockout, verified.story())}
    assert asked["selector"].startswith("Found at: hand")
    with pytest.raises(Refusal, match="recorded already"):
        steps.record_shut_down(lockout=verified.lockout, selector="hand", by=verified.ana)
