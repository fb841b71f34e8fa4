"""When a test counts and what a revision holds: L4, L5.

Clauses are of 29 CFR 1910.147: basis, second-hand.
"""

from __future__ import annotations

import datetime as dt

import pytest

from assets.errors import Refusal
from assets.models import FitForUse, Role
from assets.proofs import demo_proof
from maintenance.actions.isolation_procedures import (
    LineText,
    approve_procedure,
    withdraw_procedure,
    write_procedure,
)
from maintenance.actions.lockout.begin import add_point
from maintenance.actions.lockout.steps import close_box, let_off, put_key_in_box, record_test, set_point
from maintenance.reads import locks_testers
from tests.make import make_asset, make_person
from tests.make_locks import (
    Pump,
    make_fit,
    make_lock,
    make_point,
    make_text,
    names,
)

pytestmark = pytest.mark.django_db


def test_a_personal_lock_after_the_test_leaves_the_test_standing(verified: Pump) -> None:
    """L4 as it holds: later than the last device on an isolation point and the last relief, not the last device."""
    verified.hang("44", verified.box)
    assert verified.stand.verified
    assert names(verified) == ["K", "Ben"]


def test_another_lock_on_a_point_voids_the_tests(verified: Pump) -> None:
    verified.hang("44", verified.points["V-22"])
    assert not verified.stand.verified
    assert len(verified.stand.untested) == 3
    assert names(verified) == []


def test_relief_after_the_test_voids_it(verified: Pump) -> None:
    verified.relieve()
    assert not verified.stand.verified
    verified.test()
    assert verified.stand.verified


def test_a_point_added_later_voids_the_tests_until_it_is_set_locked_and_all_is_tested(verified: Pump) -> None:
    """L4, (d)(3), (d)(6)."""
    drain = make_point(site=verified.site, by=verified.ruth, name="V-29", positions=[verified.position])
    line = add_point(
        lockout=verified.lockout,
        line=LineText(energy="seal water", point=drain, safe_state="shut", relief="none, because open", test="look"),
        by=verified.ana,
    )
    assert not verified.stand.verified
    with pytest.raises(Refusal, match="No lock is on valve V-29"):
        verified.test()
    set_point(lockout=verified.lockout, line=line, by=verified.ana)
    verified.locks["45"] = make_lock(site=verified.site, number="45", of=verified.ana, by=verified.ruth)
    put_key_in_box(application=verified.hang("45", drain), by=verified.ana)
    assert not verified.stand.verified
    verified.test()
    assert verified.stand.verified
    assert names(verified) == [], "the box is not closed over the new key"
    close_box(lockout=verified.lockout, by=verified.ana)
    assert names(verified) == ["K"]


def test_equal_minutes_do_not_matter_since_numbers_tell_the_order(pump: Pump, clock) -> None:
    """L4: everything within one standing minute; order is by number, times are evidence."""
    pump.make_verified()
    times = {n.recorded_at for n in pump.story().notes}
    assert len(times) == 1
    assert pump.stand.verified
    pump.hang("44", pump.points["V-22"])
    assert not pump.stand.verified


def test_a_test_takes_a_tester_in_date(verified: Pump, clock) -> None:
    """(d)(6): no record, unfit and out of date are each refused in words; the last day still counts."""
    line = verified.lockout.lines.first()

    def test_with(tester, reading="0 V") -> None:
        record_test(
            lockout=verified.lockout,
            line=line,
            tester=tester,
            reading=reading,
            by=verified.ana,
            proof=demo_proof(verified.ana),
        )

    today = clock.now.astimezone(verified.site.zone).date()
    fresh = make_asset(site=verified.site, kind="voltage tester", serial="M-5")
    with pytest.raises(Refusal, match="no record"):
        test_with(fresh)
    make_fit(asset=fresh, fit=False, why="fails by 4 %")
    with pytest.raises(Refusal, match="not fit for use: fails by 4 %"):
        test_with(fresh)
    make_fit(asset=fresh, until=today - dt.timedelta(days=1))
    with pytest.raises(Refusal, match="was in date until"):
        test_with(fresh)
    make_fit(asset=fresh, until=today)
    with pytest.raises(Refusal, match="what the tester read"):
        test_with(fresh, reading=" ")
    test_with(fresh)
    clock.forward(days=1)
    with pytest.raises(Refusal, match="was in date until"):
        test_with(fresh)


def test_what_is_fit_to_calibrate_with_only_is_no_tester(verified: Pump, clock) -> None:
    """A bench meter in date proves no absence of energy; one that failed its own check proves nothing at all."""
    today = clock.now.astimezone(verified.site.zone).date()
    meter = make_asset(site=verified.site, kind="bench chlorine meter", serial="B-1")
    make_fit(asset=meter, only_for=FitForUse.CALIBRATION)
    assert [one.asset for one in locks_testers.testers(verified.site, today=today)] == [verified.tester]
    assert "no record" in locks_testers.tester_of(meter, today=today).refused
    make_fit(asset=meter)
    make_fit(asset=meter, only_for=FitForUse.CALIBRATION, fit=False, why="failed check 3")
    assert "failed check 3" in locks_testers.tester_of(meter, today=today).refused
    assert {one.asset for one in locks_testers.testers(verified.site, today=today) if one.refused} == {meter}


def test_a_later_revision_leaves_the_running_lockout_as_it_began(verified: Pump) -> None:
    """L5, (c)(4)(i)."""
    lines = list(verified.lockout.lines.values_list("energy", "test"))
    text = make_text(verified.points, shutdown="another way")
    newer = write_procedure(position=verified.position, text=text, by=verified.ruth)
    other = make_person(site=verified.site, role=Role.SUPERVISOR)
    approve_procedure(version=newer, by=other, proof=demo_proof(other))
    verified.lockout.refresh_from_db()
    assert verified.lockout.version == verified.version
    assert list(verified.lockout.lines.values_list("energy", "test")) == lines
    assert verified.stand.verified


def test_every_point_of_the_revision_has_to_be_locked(pump: Pump) -> None:
    """L5, (d)(3): none is skipped."""
    pump.begin()
    pump.prepare()
    pump.hang("41", pump.points["B-2"])
    assert [s.point for s in pump.stand.unlocked] == ["valve V-21", "valve V-22"]
    with pytest.raises(Refusal, match="No lock is on valve V-21"):
        let_off(lockout=pump.lockout, line=pump.lockout.lines.last(), found="0", by=pump.ana)


def test_a_revision_withdrawn_as_unsafe_stops_work_in_running_lockouts(verified: Pump) -> None:
    """L5: an alarm on those that run, and none begins."""
    withdraw_procedure(version=verified.version, why="second feed found", by=verified.ana)
    assert names(verified) == []
    assert verified.story().withdrawn_because == "second feed found"
    with pytest.raises(Refusal, match="no approved energy procedure in force"):
        verified.begin(box=None)


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ({"relief": ""}, "does not say how stored energy is let off"),
        ({"relief": "none, because"}, "not because of what"),
        ({"test": ""}, "has no test"),
        ({"point": None, "safe_state": ""}, "has no isolation point and no relief"),
    ],
)
def test_a_procedure_with_a_gap_is_not_approved(pump: Pump, line: dict[str, object], sentence: str) -> None:
    """(c)(4)(ii): every source has its point or relief, and its test."""
    given = {"energy": "heater", "point": None, "safe_state": "", "relief": "none, because cold", "test": "touch"}
    lines = [*make_text(pump.points).lines[1:]]
    first = {**given, "point": pump.points["B-2"], "safe_state": "open", **line}
    version = write_procedure(
        position=pump.position, text=make_text(pump.points, lines=[LineText(**first), *lines]), by=pump.ruth
    )
    other = make_person(site=pump.site, role=Role.SUPERVISOR)
    with pytest.raises(Refusal, match=sentence):
        approve_procedure(version=version, by=other, proof=demo_proof(other))
    assert not version.decisions.exists()


def test_its_author_does_not_approve_a_procedure(pump: Pump) -> None:
    version = write_procedure(position=pump.position, text=make_text(pump.points), by=pump.ruth)
    with pytest.raises(Refusal, match="author"):
        approve_procedure(version=version, by=pump.ruth, proof=demo_proof(pump.ruth))


def test_a_registered_point_that_stands_in_no_line_stops_approval_and_beginning(pump: Pump) -> None:
    """A duplicate or forgotten point would be left open by whoever follows the procedure."""
    make_point(site=pump.site, by=pump.ruth, name="V-29", positions=[pump.position])
    with pytest.raises(Refusal, match="V-29 serves P-2 and does not stand in revision 1"):
        pump.begin()
    version = write_procedure(position=pump.position, text=make_text(pump.points), by=pump.ruth)
    other = make_person(site=pump.site, role=Role.SUPERVISOR)
    with pytest.raises(Refusal, match="V-29: registered as serving P-2"):
        approve_procedure(version=version, by=other, proof=demo_proof(other))


def test_control_devices_are_no_isolation_points(pump: Pump) -> None:
    """(b), energy isolating device: push buttons and selector switches are none."""
    with pytest.raises(Refusal):
        make_point(site=pump.site, by=pump.ruth, name="S-2", positions=[pump.position], kind="selector")
