"""Closed and available are two ends, and a point of two machines: L3, L8, L23, L24.

Clauses are of 29 CFR 1910.147: basis, second-hand.
"""

from __future__ import annotations

import pytest

from assets.errors import Refusal
from assets.models import Reading, Role
from assets.proofs import demo_proof
from maintenance.actions.isolation_procedures import (
    LineText,
    approve_procedure,
    write_procedure,
)
from maintenance.actions.lockout.ending import close_lockout, tell_after
from maintenance.actions.lockout.runs import answer_fits, ask_for_test_run, begin_test_run
from maintenance.actions.orders import raise_work_order, withdraw_order
from maintenance.models import Application, WorkOrder
from maintenance.reads.locks_story import locks_of_anyone
from tests.make import make_person, make_position
from tests.make_locks import (
    SHORT,
    Pump,
    make_text,
)

pytestmark = pytest.mark.django_db


def test_a_lockout_with_a_lock_on_is_not_closed_from_the_action_either(verified: Pump) -> None:
    """L3, (e)(3), (f)(3): every lock still on is named with its owner."""
    with pytest.raises(Refusal) as refused:
        close_lockout(lockout=verified.lockout, by=verified.ana)
    assert len(refused.value.reasons) == 4


def test_the_end_of_a_work_order_takes_no_lock_off(pump: Pump) -> None:
    """L3: the action refuses it while its lockout is open; an order ended in the database moves no lock either."""
    order = raise_work_order(site=pump.site, position=pump.position, title="Bearing", reason="noise", by=pump.ana)
    pump.begin(order=order)
    pump.prepare()
    pump.lock_points()
    with pytest.raises(Refusal, match="still open"):
        withdraw_order(order=order, because="asked twice", by=pump.ruth)
    WorkOrder.objects.filter(pk=order.pk).update(
        state="withdrawn", withdrawn_at=order.raised_at, withdrawn_because="by hand"
    )
    assert Application.objects.on().count() == 3
    with pytest.raises(Refusal, match="still on"):
        close_lockout(lockout=pump.lockout, by=pump.ana)


@pytest.fixture
def shared(verified: Pump) -> tuple[Pump, Pump]:
    """P-2 verified, and P-3 locked out too, whose feeder is B-2 as well."""
    from maintenance.actions.isolation import serve_position
    from maintenance.actions.lockout.register import register_box

    p3 = make_position(site=verified.site, tag="P-3", does="moves")
    serve_position(point=verified.points["B-2"], position=p3, by=verified.ruth)
    lines = [
        LineText(
            energy="feeder",
            point=verified.points["B-2"],
            safe_state="open",
            relief="none, because no drive",
            test="V",
        )
    ]
    text = make_text(verified.points, lines=lines)
    version = write_procedure(position=p3, text=text, by=verified.ruth)
    other = make_person(site=verified.site, role=Role.SUPERVISOR)
    approve_procedure(version=version, by=other, proof=demo_proof(other))
    second = Pump(**{f: getattr(verified, f) for f in verified.__dataclass_fields__ if f != "lockout"})
    second.position, second.version = p3, version
    second.box = register_box(site=verified.site, name="4", plate_code="BX4", by=verified.ruth)
    second.begin()
    second.prepare()
    second.hang("44", verified.points["B-2"])
    return verified, second


def test_one_lockout_ends_while_anothers_lock_is_on_the_shared_point(shared: tuple[Pump, Pump]) -> None:
    """L8 and L3: the lockout closes; the position is not available; the point never looks free."""
    first, _ = shared
    first.end()
    assert first.lockout.applications.on().count() == 0
    locks = locks_of_anyone(first.position)
    assert [(f.lock, f.point, f.lockout) for f in locks] == [("44", "breaker B-2", 2)]
    with pytest.raises(Refusal, match="Lock 44 of Ben.*the machine is not available"):
        first.accept()
    second = shared[1]
    second.take("44")
    assert first.accept().pk == first.lockout.pk


def test_a_test_run_waits_for_the_other_jobs_lock_on_a_shared_point(shared: tuple[Pump, Pump]) -> None:
    """L8's mirror, step 4 of the closing: with the owner's name and phone."""
    first, _ = shared
    with pytest.raises(Refusal, match=r"Lock 44 of Ben, 555 .* is on breaker B-2, for lockout 2"):
        ask_for_test_run(lockout=first.lockout, why="rotation", by=first.kim)


def test_a_lock_that_comes_onto_the_shared_point_after_asking_still_stops_the_test_run(verified: Pump) -> None:
    ask_for_test_run(lockout=verified.lockout, why="rotation", by=verified.kim)
    for number in ("K-1", "41", "42", "43"):
        verified.take(number, answers=SHORT)
    from maintenance.actions.isolation import serve_position

    p3 = make_position(site=verified.site, tag="P-3", does="moves")
    serve_position(point=verified.points["B-2"], position=p3, by=verified.ruth)
    lines = [
        LineText(energy="feeder", point=verified.points["B-2"], safe_state="open", relief="none, because dry", test="V")
    ]
    version = write_procedure(position=p3, text=make_text(verified.points, lines=lines), by=verified.ruth)
    other = make_person(site=verified.site, role=Role.SUPERVISOR)
    approve_procedure(version=version, by=other, proof=demo_proof(other))
    second = Pump(**{f: getattr(verified, f) for f in verified.__dataclass_fields__ if f != "lockout"})
    second.position = p3
    second.begin(box=None)
    second.prepare()
    second.hang("44", verified.points["B-2"])
    with pytest.raises(Refusal, match="Lock 44 of Ben"):
        begin_test_run(lockout=verified.lockout, minutes=10, by=verified.ana, proof=demo_proof(verified.ana))


def test_closed_is_not_available(verified: Pump) -> None:
    """L23, (e)(2)(ii), (c)(9): told before start, each of those told before."""
    verified.take_all()
    with pytest.raises(Refusal, match="is not closed"):
        verified.accept()
    with pytest.raises(Refusal, match="Close lockout 1 first"):
        tell_after(lockout=verified.lockout, name="Ines Calder", how="radio", by=verified.ana)
    close_lockout(lockout=verified.lockout, by=verified.ana)
    tell_after(lockout=verified.lockout, name="Ines Calder", how="radio", by=verified.ana)
    with pytest.raises(Refusal, match="Tomas Lind was told before and has not been told"):
        verified.accept()
    tell_after(lockout=verified.lockout, name="tomas lind", how="phone", by=verified.ana)
    assert verified.accept().closed_at is not None
    assert verified.story().told("available")
    with pytest.raises(Refusal, match="accepted already"):
        verified.accept()


def test_whoever_worked_under_it_does_not_accept_it(verified: Pump) -> None:
    """L23: nobody accepts own work; who locked a point for others may."""
    verified.hang("44", verified.box)
    verified.take("44")
    verified.end()
    with pytest.raises(Refusal, match="Whoever worked under this lockout does not accept it"):
        verified.accept(by=verified.ben)
    assert verified.accept(by=verified.ana).closed_at is not None


@pytest.mark.parametrize("line", ["Primed", "Leaks", "Selector left at", "Forced values on its signals"])
def test_each_line_of_the_acceptance_list_is_written(verified: Pump, line: str) -> None:
    """L24 for the selector; the forced value and the others as typed."""
    verified.end()
    lines = {**verified.acceptance().lines, line: "  "}
    with pytest.raises(Refusal, match=f"{line}: nothing is written"):
        verified.accept(lines=lines)
    assert not verified.story().told("acceptance")


def test_the_hour_meter_starts_as_a_reading_of_the_fitted_asset(verified: Pump) -> None:
    verified.swap()
    answer_fits(lockout=verified.lockout, answer="yes", why="nameplate", by=verified.ana)
    verified.end()
    with pytest.raises(Refusal, match="what the hour meter starts from"):
        verified.accept(hours="")
    with pytest.raises(Refusal) as refused:
        verified.accept(hours="12:30")
    assert [r.field for r in refused.value.reasons] == ["hours"]
    assert not Reading.objects.exists()
    verified.accept(hours="12,5")
    reading = Reading.objects.get()
    assert (reading.asset.serial, reading.entered, reading.unit) == ("8-2291", "12,5", "h")


def test_the_selector_is_kept_as_found(verified: Pump) -> None:
    """L24: hand, off, auto as found."""
    assert verified.story().last("selector found").text == "hand"
