"""The test run and the answers before a lock comes off: L16, L22.

Clauses are of 29 CFR 1910.147: basis, second-hand.
"""

from __future__ import annotations

import pytest

from assets.errors import Refusal
from assets.proofs import demo_proof
from maintenance.actions.lockout.ending import close_lockout
from maintenance.actions.lockout.hang import answer_questions
from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run, end_test_run
from maintenance.compute.lockout import PEOPLE, Run, run_over_limit
from maintenance.models import LockoutEntry
from tests.make_locks import (
    SHORT,
    YES,
    Pump,
    names,
)

pytestmark = pytest.mark.django_db


def test_a_test_run_goes_in_its_order_and_ends_in_locks_and_tests_anew(verified: Pump) -> None:
    """L16, (f)(1)(i) to (v), and L1: nobody is on the job from the moment it is asked for."""
    run = {"lockout": verified.lockout, "by": verified.ana}
    with pytest.raises(Refusal, match="Ask for the test run first"):
        begin_test_run(**run, minutes=10, proof=demo_proof(verified.ana))
    ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.kim)
    assert names(verified) == []
    with pytest.raises(Refusal) as refused:
        begin_test_run(**run, minutes=10, proof=demo_proof(verified.ana))
    assert {r.sentence.split(" ")[0] for r in refused.value.reasons} >= {"K-1", "41", "42", "43"}
    verified.take("K-1", answers=SHORT)
    verified.take("41", answers=SHORT)
    with pytest.raises(Refusal, match="42 \\(Ana"):
        begin_test_run(**run, minutes=10, proof=demo_proof(verified.ana))
    verified.take("42", answers=SHORT)
    verified.take("43", answers=SHORT)
    with pytest.raises(Refusal, match="Ana is in charge"):
        begin_test_run(lockout=verified.lockout, minutes=10, by=verified.ben, proof=demo_proof(verified.ben))
    begin_test_run(**run, minutes=10, proof=demo_proof(verified.ana))
    assert verified.stand.run is Run.RUNNING
    with pytest.raises(Refusal, match="test run is under way"):
        verified.hang("41", verified.points["B-2"])
    with pytest.raises(Refusal, match="test run is under way"):
        close_lockout(lockout=verified.lockout, by=verified.ana)
    end_test_run(**run, found="turns the right way")
    with pytest.raises(Refusal, match="not recorded in its safe state"):
        verified.hang("41", verified.points["B-2"])
    verified.set_points()
    verified.lock_points()
    assert not verified.stand.verified
    verified.hang("K-1", verified.box)
    verified.relieve()
    assert names(verified) == [], "locks on, not yet tested"
    verified.test()
    assert names(verified) == ["K"]


def test_a_test_run_that_lasts_too_long_is_an_alarm_and_ends_nothing(verified: Pump, clock) -> None:
    ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.kim)
    for number in ("K-1", "41", "42", "43"):
        verified.take(number, answers=SHORT)
    with pytest.raises(Refusal, match="1 to 60 minutes"):
        begin_test_run(lockout=verified.lockout, minutes=500, by=verified.ana, proof=demo_proof(verified.ana))
    begin_test_run(lockout=verified.lockout, minutes=10, by=verified.ana, proof=demo_proof(verified.ana))
    assert not run_over_limit(verified.story(), clock.forward(minutes=10))
    assert run_over_limit(verified.story(), clock.forward(minutes=1))
    assert verified.stand.run is Run.RUNNING


def test_answers_for_a_test_run_do_not_let_the_locks_off_for_good(verified: Pump) -> None:
    """(e)(1): after a test run the closing questions are asked anew."""
    ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.kim)
    for number in ("K-1", "41", "42", "43"):
        verified.take(number, answers=SHORT)
    begin_test_run(lockout=verified.lockout, minutes=10, by=verified.ana, proof=demo_proof(verified.ana))
    end_test_run(lockout=verified.lockout, found="runs", by=verified.ana)
    with pytest.raises(Refusal, match="Guard and coupling cover on and fast: not answered"):
        close_lockout(lockout=verified.lockout, by=verified.ana)
    answer_questions(lockout=verified.lockout, answers=YES, by=verified.ana)
    assert close_lockout(lockout=verified.lockout, by=verified.ana).closed_at is not None


def test_each_missing_or_negative_answer_stops_the_lock_by_its_name(verified: Pump) -> None:
    """Step 3 of the closing, (e)(1), (e)(2)(i)."""
    for topic in YES:
        with pytest.raises(Refusal) as refused:
            verified.take("K-1", answers={t: a for t, a in YES.items() if t != topic})
        assert [r.sentence for r in refused.value.reasons] == [f"{topic}: not answered."]
        with pytest.raises(Refusal, match="K answered no"):
            verified.take("K-1", answers={**YES, topic: "no"})
    assert verified.application("K-1").removed_at is None
    assert not LockoutEntry.objects.filter(kind="answered").exists()


def test_people_out_counts_for_fifteen_minutes(verified: Pump, clock) -> None:
    """L22: our own limit; the other answers do not grow old."""
    answer_questions(lockout=verified.lockout, answers=YES, by=verified.kim)
    clock.forward(minutes=15, seconds=1)
    with pytest.raises(Refusal) as refused:
        verified.take("K-1", answers={})
    assert [r.sentence for r in refused.value.reasons] == [
        f"{PEOPLE}: answered 15 minutes ago, older than 15 minutes; answer again, now."
    ]
    answer_questions(lockout=verified.lockout, answers={PEOPLE: "yes"}, by=verified.kim)
    clock.forward(minutes=15)
    assert verified.take("K-1", answers={}).removed_at is not None


def test_people_out_from_before_the_last_lock_on_does_not_count(verified: Pump) -> None:
    """L22: somebody may have gone in with that lock."""
    answer_questions(lockout=verified.lockout, answers=YES, by=verified.kim)
    verified.hang("44", verified.box)
    with pytest.raises(Refusal, match="answered before the last lock went on"):
        verified.take("K-1", answers={})


def test_anothers_answers_do_not_take_my_personal_lock_off(verified: Pump) -> None:
    answer_questions(lockout=verified.lockout, answers=YES, by=verified.ana)
    with pytest.raises(Refusal) as refused:
        verified.take("K-1", answers={})
    assert len(refused.value.reasons) == len(YES)


def test_a_question_that_is_not_asked_is_not_answered(verified: Pump) -> None:
    with pytest.raises(Refusal, match="is no question"):
        answer_questions(lockout=verified.lockout, answers={"All good": "yes"}, by=verified.kim)
