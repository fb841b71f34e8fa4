"""Closed and available are two ends, and a point of two machines: L3, L8, L23, L24.

Clauses are of 29 CFR 1910.147: basis, second-hand.
"""

from __future__ import annotations

import pytest

from assets.errors import Refusal
from assets.models import Reading
from maintenance.actions.lockout.ending import close_lockout, tell_after
from maintenance.actions.lockout.runs import answer_fits
from maintenance.actions.orders import raise_work_order, withdraw_order
from maintenance.models import Application, WorkOrder
from tests.make_locks import (
    Pump,
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
