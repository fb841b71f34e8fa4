"""What time, people, swaps and routines do to a lock, nothing: L10, L12, L14, L15, L21; order and history.

Clauses are of 29 CFR 1910.147: basis, second-hand.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.utils import timezone

import maintenance
from assets.actions import exchange_asset, retire_asset, retire_person, retire_position, take_out_asset
from assets.errors import NotAllowed, Refusal
from assets.models import Event, Role
from assets.proofs import demo_proof
from maintenance.actions.lockout.begin import begin_lockout, take_charge
from maintenance.actions.lockout.hooks import keep_while_locked
from maintenance.actions.lockout.runs import answer_fits, ask_for_test_run
from maintenance.actions.lockout.steps import let_off, set_point, tell_before
from maintenance.compute.lockout import Fits
from maintenance.models import Application
from maintenance.reads.locks_story import locks_of_anyone
from tests.make import make_person
from tests.make_locks import (
    Pump,
    end_membership,
    make_lock,
    names,
)

pytestmark = pytest.mark.django_db


def test_time_takes_no_lock_off(verified: Pump, clock) -> None:
    """L10: a year later everything is on; nothing in the schedule ends a lock."""
    clock.forward(days=366)
    assert Application.objects.on().count() == 4


def test_no_task_and_no_command_reaches_the_acts_that_take_a_lock_off() -> None:
    """L10: nothing that runs by itself can call them."""
    root = Path(maintenance.__file__).parents[1]
    runs_by_itself = [
        *root.glob("*/tasks*.py"),
        *root.glob("*/tasks/**/*.py"),
        *root.glob("*/management/commands/*.py"),
        root / "spanwell/schedules.py",
    ]
    assert len(runs_by_itself) > 1
    reach = re.compile(r"lockout\.(hang|ending|runs)|\btake_off\b|\bclose_lockout\b")
    assert not [path for path in runs_by_itself if reach.search(path.read_text()) and path.stem != "demo"]


def test_a_position_an_asset_and_a_person_with_a_lock_on_stay(verified: Pump) -> None:
    """L12, L14, L3: each door of retiring refuses with lock and owner."""
    with pytest.raises(Refusal):
        retire_asset(asset=verified.fitted, by=verified.ruth)
    with pytest.raises(Refusal, match="Lock 41 of Ana"):
        keep_while_locked(verified.fitted, timezone.now())
    take_out_asset(position=verified.position, by=verified.ruth)
    with pytest.raises(Refusal, match="Lock 41 of Ana"):
        retire_position(position=verified.position, by=verified.ruth)
    keeper = make_person(site=verified.site, role=Role.ADMINISTRATOR)
    with pytest.raises(Refusal, match="Lock K-1 of K is on, at P-2"):
        retire_person(site=verified.site, person=verified.kim, by=keeper)
    assert Application.objects.on().count() == 4


def test_training_lapsed_yesterday_takes_off_and_puts_nothing_on(verified: Pump, clock) -> None:
    """L12, (c)(8): qualification gates putting on, never taking off."""
    from assets.actions import withdraw_qualification

    withdraw_qualification(qualification=verified.kim.qualifications.get(), by=verified.ruth)
    with pytest.raises(NotAllowed, match="takes lockout training in force"):
        verified.locks["K-2"] = make_lock(
            site=verified.site, number="K-2", of=verified.kim, by=verified.ruth, issuer=verified.company
        )
        verified.hang("K-2", verified.box)
    assert verified.take("K-1").removed_by == verified.kim


def test_a_role_that_ended_leaves_the_lock_and_its_owner_can_take_it_off(verified: Pump) -> None:
    """L12: no right is asked of who takes off their own lock."""
    end_membership(verified.kim)
    assert verified.application("K-1").removed_at is None
    assert verified.take("K-1").removed_at is not None


def test_a_swap_leaves_every_lock_and_asks_whether_the_procedure_fits(verified: Pump) -> None:
    """L14, (c)(4)(i), (c)(7)(iii)(A): step 2 of the closing; the plant answers, not the contractor."""
    assert verified.stand.fits is Fits.NOT_ASKED
    verified.swap()
    assert Application.objects.on().count() == 4
    assert verified.stand.fits is Fits.OPEN
    with pytest.raises(Refusal, match="Waiting for Ana, 555 .* to answer for the plant: pump 8-2291 is fitted"):
        verified.take("K-1")
    with pytest.raises(NotAllowed):
        answer_fits(lockout=verified.lockout, answer="yes", why="looked", by=verified.kim)
    with pytest.raises(Refusal, match="what you looked at"):
        answer_fits(lockout=verified.lockout, answer="yes", why="", by=verified.ana)
    answer_fits(lockout=verified.lockout, answer="yes", why="nameplate: no heater", by=verified.ana)
    assert verified.stand.fits is Fits.YES
    assert verified.stand.verified
    verified.swap("8-3000")
    assert verified.stand.fits is Fits.OPEN, "an answer counts for the fitting it was given for"


def test_an_answer_that_it_does_not_fit_ends_work_and_the_way_to_available(verified: Pump) -> None:
    verified.swap()
    answer_fits(lockout=verified.lockout, answer="no", why="this one has a heater", by=verified.ana)
    assert not verified.stand.verified
    with pytest.raises(Refusal, match="may be missing"):
        verified.test()
    with pytest.raises(Refusal, match="not to fit"):
        ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.kim)
    verified.end()
    with pytest.raises(Refusal, match="was answered no"):
        verified.accept()
    answer_fits(lockout=verified.lockout, answer="yes", why="heater removed", by=verified.ana)
    verified.accept()


def test_the_pump_it_was_written_for_coming_back_asks_nothing(verified: Pump) -> None:
    verified.swap()
    exchange_asset(position=verified.position, asset=verified.fitted, by=verified.ruth)
    assert verified.stand.fits is Fits.NOT_ASKED


def test_a_lock_blocks_what_is_due_at_the_tag_and_fulfils_nothing(pump: Pump) -> None:
    """L15: the routine stays owed, with its reason, and comes back by itself."""
    from maintenance.models import Performance

    pump.begin()
    pump.prepare()
    before = Performance.objects.count()
    pump.hang("41", pump.points["B-2"])
    assert locks_of_anyone(pump.position)
    pump.take("41")
    assert Performance.objects.count() == before
    assert not locks_of_anyone(pump.position)


def test_steps_are_taken_in_their_order(pump: Pump) -> None:
    """(c)(9), (d)(2) to (d)(6): told, down, set, locked, let off, tested."""
    from maintenance.actions.lockout.steps import record_shut_down

    pump.begin()
    line = pump.lockout.lines.first()
    with pytest.raises(Refusal, match="Tell those concerned first"):
        record_shut_down(lockout=pump.lockout, selector="off", by=pump.ana)
    with pytest.raises(Refusal, match="Shut down first"):
        set_point(lockout=pump.lockout, line=line, by=pump.ana)
    tell_before(lockout=pump.lockout, name="Ines", how="spoken", by=pump.ana)
    with pytest.raises(Refusal, match="is not recorded in its safe state"):
        pump.hang("41", pump.points["B-2"])
    record_shut_down(lockout=pump.lockout, selector="off", by=pump.ana)
    set_point(lockout=pump.lockout, line=line, by=pump.ana)
    pump.hang("41", pump.points["B-2"])
    with pytest.raises(Refusal, match="a locked point is not moved"):
        set_point(lockout=pump.lockout, line=line, by=pump.ana)
    with pytest.raises(Refusal, match="none, because"):
        let_off(lockout=pump.lockout, line=line, found="0", by=pump.ana)


def test_charge_is_taken_by_the_incoming_person_and_no_lock_changes_owner(verified: Pump) -> None:
    """L21 as far as it goes here."""
    take_charge(lockout=verified.lockout, by=verified.ben, proof=demo_proof(verified.ben))
    assert verified.story().in_charge.name == "Ben"
    assert verified.application("41").applied_by == verified.ana
    with pytest.raises(Refusal, match="in charge already"):
        take_charge(lockout=verified.lockout, by=verified.ben, proof=demo_proof(verified.ben))


def test_nobody_in_charge_is_stop_work(verified: Pump) -> None:
    """L21: the role of the person in charge ended; until somebody takes charge nobody may work."""
    end_membership(verified.ana)
    assert names(verified) == []
    take_charge(lockout=verified.lockout, by=verified.ben, proof=demo_proof(verified.ben))
    assert names(verified) == ["K"]


def test_each_act_leaves_one_event_of_its_verb_with_presence_said(verified: Pump) -> None:
    verbs = list(Event.objects.filter(verb="lock.put_on").values_list("body", flat=True))
    assert len(verbs) == 4
    facts = json.loads(verbs[-1])["facts"]
    assert facts["presence"] == "entered, presence not proven"
    text = " ".join(Event.objects.values_list("body", flat=True))
    assert "SK1" not in text and "BX3" not in text and "PLB2" not in text


def test_no_lockout_of_a_person_untrained_or_of_another_role_in_charge(pump: Pump) -> None:
    untrained = make_person(site=pump.site)
    with pytest.raises(NotAllowed, match="lockout training"):
        pump.begin(in_charge=untrained)
    viewer = make_person(site=pump.site, role=Role.VIEWER, qualified=True)
    with pytest.raises(NotAllowed):
        begin_lockout(position=pump.position, why="x", in_charge=pump.ana, by=viewer)
    with pytest.raises(NotAllowed):
        pump.begin(in_charge=viewer)


def test_a_contractor_who_is_not_invited_puts_nothing_on(pump: Pump) -> None:
    pump.begin()
    pump.prepare()
    pump.lock_points()
    with pytest.raises(NotAllowed, match="invited to this lockout"):
        pump.hang("K-1", pump.box)
