"""A point of two machines: L8 and its mirror. Clauses are of 29 CFR 1910.147: basis, second-hand."""

from __future__ import annotations

import pytest

from assets.errors import Refusal
from assets.models import Event
from assets.proofs import demo_proof
from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run, end_test_run
from maintenance.actions.lockout.steps import set_point
from maintenance.models import Application
from maintenance.reads.locks_story import locks_of_anyone
from tests.make_locks import SHORT, Pump, make_neighbour

pytestmark = pytest.mark.django_db


def test_one_lockout_ends_while_anothers_lock_is_on_the_shared_point(verified: Pump) -> None:
    """L8 and L3: the lockout closes; the position is not available; the point never looks free."""
    second = make_neighbour(verified)
    second.hang("44", verified.points["B-2"])
    verified.end()
    assert verified.lockout.applications.on().count() == 0
    locks = locks_of_anyone(verified.position)
    assert [(f.lock, f.point, f.lockout) for f in locks] == [("44", "breaker B-2", 2)]
    with pytest.raises(Refusal, match="Lock 44 of Ben.*the machine is not available"):
        verified.accept(by=verified.ana)
    second.take("44")
    assert verified.accept(by=verified.ana).pk == verified.lockout.pk


def test_both_positions_show_the_lock_on_their_common_point(verified: Pump) -> None:
    """L8: computed for each point, not for each lockout."""
    second = make_neighbour(verified)
    assert [f.lock for f in locks_of_anyone(second.position)] == ["41"]


def test_a_test_run_waits_for_the_other_jobs_lock_on_a_shared_point(verified: Pump) -> None:
    """L8's mirror, step 4 of the closing: with the owner's name and phone."""
    second = make_neighbour(verified)
    second.hang("44", verified.points["B-2"])
    with pytest.raises(Refusal, match=r"Lock 44 of Ben, 555 .* is on breaker B-2, for lockout 2"):
        ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.kim)


def ask_and_take_off(pump: Pump) -> None:
    ask_for_test_run(lockout=pump.lockout, why="rotation", by=pump.kim)
    for number in ("K-1", "41", "42", "43"):
        pump.take(number, answers=SHORT)


def begin(pump: Pump) -> None:
    begin_test_run(lockout=pump.lockout, minutes=10, by=pump.ana, proof=demo_proof(pump.ana))


def test_a_lock_that_comes_onto_the_shared_point_after_asking_still_stops_the_test_run(verified: Pump) -> None:
    ask_and_take_off(verified)
    second = make_neighbour(verified)
    second.hang("44", verified.points["B-2"])
    with pytest.raises(Refusal, match="Lock 44 of Ben"):
        begin(verified)


def test_no_lock_of_the_other_job_goes_on_while_a_test_run_keeps_the_point_energized(verified: Pump) -> None:
    """L8's mirror: its record of the open breaker is from before the run and no longer true."""
    second = make_neighbour(verified)
    ask_and_take_off(verified)
    begin(verified)
    with pytest.raises(Refusal, match="test run of lockout 1 keeps breaker B-2 energized"):
        second.hang("44", verified.points["B-2"])
    with pytest.raises(Refusal, match="test run of lockout 1 keeps breaker B-2 energized"):
        set_point(lockout=second.lockout, line=second.lockout.lines.get(), by=second.ana)
    end_test_run(lockout=verified.lockout, found="turns", by=verified.ana)
    with pytest.raises(Refusal, match="not recorded in its safe state"):
        second.hang("44", verified.points["B-2"])
    second.set_points()
    assert second.hang("44", verified.points["B-2"]).removed_at is None


def test_a_lock_that_comes_off_a_shared_point_voids_the_others_record_of_its_state(verified: Pump) -> None:
    """Unless the other job has its own lock there, which keeps the point where it is."""
    second = make_neighbour(verified)
    verified.end()
    assert [n.text for n in second.story().told("point released")] == ["lock 41 of lockout 1 came off"]
    assert Event.objects.filter(verb="lockout.point_released").count() == 1
    with pytest.raises(Refusal, match="not recorded in its safe state"):
        second.hang("44", verified.points["B-2"])


def test_with_its_own_lock_there_the_other_jobs_tests_go_on_counting(verified: Pump) -> None:
    second = make_neighbour(verified)
    second.hang("44", verified.points["B-2"])
    second.test()
    assert second.stand.verified
    verified.end()
    assert second.stand.verified
    assert [a.lock.number for a in Application.objects.on()] == ["44"]
