"""What the database keeps by itself: raw inserts and updates that break a lockout rule fail, on both databases."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from maintenance.models import Application, LockoutEntry
from tests.maintenance.lockout.raw import insert_application, insert_entry, raw, remove_raw
from tests.make import make_person
from tests.make_locks import Pump

pytestmark = pytest.mark.django_db


@pytest.fixture
def pump(verified: Pump) -> Pump:
    return verified


def test_a_sound_row_goes_in_so_that_the_refusals_below_are_of_what_they_name(pump: Pump) -> None:
    insert_application(pump)
    assert Application.objects.on().count() == 5


BROKEN: dict[str, Callable[[Pump], None]] = {
    # L2, 29 CFR 1910.147 (e)(3), basis, second-hand
    "L2 removed by another": lambda p: remove_raw(p, "K-1", p.ana.pk),
    "L2 removed by nobody": lambda p: raw(
        "UPDATE maintenance_application SET removed_at = %s WHERE id = %s", timezone.now(), p.application("K-1").pk
    ),
    "L2 owner changed": lambda p: raw(
        "UPDATE maintenance_application SET applied_by_id = %s WHERE id = %s", p.ana.pk, p.application("K-1").pk
    ),
    "L2 lock handed on while on": lambda p: raw(
        "UPDATE maintenance_lock SET issued_to_id = %s WHERE id = %s", p.ana.pk, p.locks["K-1"].pk
    ),
    "L2 another's lock put on": lambda p: insert_application(p, applied_by_id=p.ana.pk),
    "L2 lost while on": lambda p: raw(
        "UPDATE maintenance_lock SET lost_at = %s WHERE id = %s", timezone.now(), p.locks["K-1"].pk
    ),
    "L2 record deleted": lambda p: raw("DELETE FROM maintenance_application WHERE id = %s", p.application("K-1").pk),
    # L3, (e)(3): the words of the closing
    "L3 closed with a lock on": lambda p: raw(
        "UPDATE maintenance_lockout SET closed_at = %s WHERE id = %s", timezone.now(), p.lockout.pk
    ),
    "L3 available with a lock on": lambda p: insert_entry(p, "available"),
    # L5, of 29 CFR 1910.147 (c)(4)(i)
    "L5 moved to another revision": lambda p: raw(
        "UPDATE maintenance_lockout SET version_id = version_id + 1 WHERE id = %s", p.lockout.pk
    ),
    "L5 copied line changed": lambda p: raw(
        "UPDATE maintenance_lockoutline SET test = 'none' WHERE lockout_id = %s", p.lockout.pk
    ),
    "L5 procedure line changed": lambda p: raw(
        "UPDATE maintenance_procedureline SET test = 'none' WHERE version_id = %s", p.version.pk
    ),
    "L5 approved by its author": lambda p: raw(
        "INSERT INTO maintenance_proceduredecision (version_id, kind, author_id, by_id, at, why)"
        " VALUES (%s, 'approved', %s, %s, %s, '')",
        p.version.pk,
        p.version.written_by_id,
        p.version.written_by_id,
        timezone.now(),
    ),
    # L6: a device is identified singularly
    "L6 one lock in two places": lambda p: insert_application(p, lock_id=p.locks["43"].pk),
    "L6 lock on point and box": lambda p: insert_application(p, box_id=p.box.pk),
    "L6 number twice with one issuer": lambda p: raw(
        "INSERT INTO maintenance_lock (site_id, issuer_id, number, stamp_hash, issued_to_id, registered_at)"
        " VALUES (%s, %s, 'k-1', 'x', %s, %s)",
        p.site.pk,
        p.company.pk,
        p.kim.pk,
        timezone.now(),
    ),
    # L1 with key custody, (f)(3)(ii)(D)
    "L1 point lock off under a personal lock": lambda p: remove_raw(p, "41", p.ana.pk),
    "L1 lock elsewhere than at the lockout's points": lambda p: insert_application(
        p, point_id=None, box_id=other_box(p)
    ),
    # L10, no clause lets time remove a device
    "L10 put on already off": lambda p: raw(
        "UPDATE maintenance_application SET applied_at = %s WHERE id = %s", timezone.now(), p.application("41").pk
    ),
    # L12
    "L12 person with a lock on deactivated": lambda p: raw(
        "UPDATE assets_person SET is_active = %s WHERE id = %s", False, p.kim.pk
    ),
    "L12 person with a lock on deleted": lambda p: raw("DELETE FROM assets_person WHERE id = %s", p.kim.pk),
    # L14, the lockout stays with the position
    "L14 position with a lock on retired": lambda p: raw(
        "UPDATE assets_position SET retired_at = %s WHERE id = %s", timezone.now(), p.position.pk
    ),
    "L14 asset at a locked position retired": lambda p: raw(
        "UPDATE assets_asset SET retired_at = %s WHERE id = %s", timezone.now(), p.fitted.pk
    ),
    "L14 lockout moved to another position": lambda p: raw(
        "UPDATE maintenance_lockout SET position_id = position_id + 1 WHERE id = %s", p.lockout.pk
    ),
    # L16, of the order in (f)(1)
    "L16 test run with locks on": lambda p: insert_entry(p, "test run begun", topic="10"),
    "L8 point with a lock on retired": lambda p: raw(
        "UPDATE maintenance_isolationpoint SET retired_at = %s WHERE id = %s", timezone.now(), p.points["B-2"].pk
    ),
    "L8 point with a lock on parted from its position": lambda p: raw(
        "UPDATE maintenance_pointofposition SET to_at = %s WHERE point_id = %s", timezone.now(), p.points["B-2"].pk
    ),
    "L4 test without its tester": lambda p: insert_entry(p, "tested", line_id=p.lockout.lines.first().pk, text="0 V"),
    "L4 log line changed": lambda p: raw(
        "UPDATE maintenance_lockoutentry SET number = number + 1000 WHERE lockout_id = %s", p.lockout.pk
    ),
    "L22 answer that is neither yes nor no": lambda p: insert_entry(p, "answered", answer="?"),
}


def other_box(pump: Pump) -> int:
    from maintenance.actions.lockout.register import register_box

    return register_box(site=pump.site, name="4", plate_code="BX4", by=pump.ruth).pk


def test_the_database_refuses_each_of_them_and_changes_nothing(pump: Pump) -> None:
    before = list(Application.objects.order_by("pk").values())
    log = LockoutEntry.objects.count()
    passed = []
    for rule, broken in BROKEN.items():
        try:
            with transaction.atomic():
                broken(pump)
        except IntegrityError:
            continue
        passed.append(rule)
    assert not passed
    assert list(Application.objects.order_by("pk").values()) == before
    assert LockoutEntry.objects.count() == log


def test_during_a_test_run_no_lock_goes_on_by_sql_either(pump: Pump) -> None:
    """L16: 29 CFR 1910.147 (f)(1), basis, second-hand."""
    from assets.proofs import demo_proof
    from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run

    ask_for_test_run(lockout=pump.lockout, why="rotation", by=pump.kim)
    for number in ("K-1", "41", "42", "43"):
        pump.take(number, answers={"Tools out and counted": "yes", "Everybody out and clear of the machine": "yes"})
    begin_test_run(lockout=pump.lockout, minutes=10, by=pump.ana, proof=demo_proof(pump.ana))
    with pytest.raises(IntegrityError, match="test run is under way"):
        insert_application(pump)


def test_a_lock_goes_on_no_more_once_the_lockout_is_closed_or_the_lock_lost(pump: Pump) -> None:
    pump.end()
    with pytest.raises(IntegrityError, match="closed"):
        insert_application(pump)
    from maintenance.actions.lockout.register import mark_lock_lost

    second = make_pump_again(pump)
    mark_lock_lost(lock=pump.locks["44"], by=pump.ruth)
    with pytest.raises(IntegrityError, match="lost"):
        insert_application(pump, lockout_id=second)


def make_pump_again(pump: Pump) -> int:
    pump.begin()
    return pump.lockout.pk


def test_available_needs_somebody_told_and_comes_once(pump: Pump) -> None:
    """L3, L23: (e)(2)(ii), (c)(9), basis, second-hand."""
    pump.take_all()
    from maintenance.actions.lockout.ending import close_lockout, tell_after

    with pytest.raises(IntegrityError, match="becomes available"):
        insert_entry(pump, "available")
    close_lockout(lockout=pump.lockout, by=pump.ana)
    with pytest.raises(IntegrityError, match="told that the locks are off"):
        insert_entry(pump, "available")
    tell_after(lockout=pump.lockout, name="Ines Calder", how="radio", by=pump.ana)
    insert_entry(pump, "available")
    with pytest.raises(IntegrityError):
        insert_entry(pump, "available", number=901)


def test_two_issuers_may_bring_a_lock_of_the_same_number(pump: Pump) -> None:
    """L6: unique with its issuer, since contractors bring a lock 41 too."""
    from maintenance.actions.lockout.register import register_lock

    visitor = register_lock(
        site=pump.site, number="41", stamp="Z41", issued_to=pump.kim, issuer=pump.company, by=pump.ruth
    )
    assert visitor.number == pump.locks["41"].number


def test_a_person_without_a_lock_on_may_leave(pump: Pump) -> None:
    other = make_person(site=pump.site)
    raw("UPDATE assets_person SET is_active = %s WHERE id = %s", False, other.pk)
    other.refresh_from_db()
    assert not other.is_active
