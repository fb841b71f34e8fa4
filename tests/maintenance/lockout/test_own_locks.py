"""Own lock, own hand, one place: L1 with key custody, L2, L6, L17.

Clauses are of 29 CFR 1910.147: basis, second-hand.
"""

from __future__ import annotations

import pytest

from assets.errors import NotAllowed, Refusal
from assets.models import Role
from assets.proofs import Proof, demo_proof
from maintenance.actions.lockout.hang import put_on, take_off
from maintenance.actions.lockout.register import mark_lock_lost, register_lock
from maintenance.actions.lockout.seen import Seen
from maintenance.actions.lockout.steps import close_box, put_key_in_box
from maintenance.models import Application
from tests.make import make_person
from tests.make_locks import (
    YES,
    Pump,
    make_lock,
    names,
    stamp_of,
)

pytestmark = pytest.mark.django_db


def test_nobody_works_without_a_lock_of_their_own(verified: Pump) -> None:
    """L1, (f)(3)(ii)(D): Ana locked every point, K hung a lock on the box; only K may work under the box."""
    assert names(verified) == ["K"]


def test_a_personal_lock_goes_on_the_box_only_over_the_key_of_every_point(pump: Pump) -> None:
    """L1 with key custody: each missing key is named with its owner."""
    pump.begin()
    pump.prepare()
    from maintenance.actions.lockout.links import invite

    invite(lockout=pump.lockout, person=pump.kim, by=pump.ruth)
    with pytest.raises(Refusal, match="No lock is on breaker B-2"):
        pump.hang("K-1", pump.box)
    on = [
        pump.hang("41", pump.points["B-2"]),
        pump.hang("42", pump.points["V-21"]),
        pump.hang("43", pump.points["V-22"]),
    ]
    for application in on[:2]:
        put_key_in_box(application=application, by=pump.ana)
    with pytest.raises(Refusal, match="key of lock 43 \\(Ben"):
        pump.hang("K-1", pump.box)
    with pytest.raises(Refusal, match="key of lock 43 \\(Ben"):
        close_box(lockout=pump.lockout, by=pump.ana)
    with pytest.raises(NotAllowed, match="owner's hand"):
        put_key_in_box(application=on[2], by=pump.ana)
    put_key_in_box(application=on[2], by=pump.ben)
    with pytest.raises(Refusal, match="not recorded as closed"):
        pump.hang("K-1", pump.box)
    close_box(lockout=pump.lockout, by=pump.ana)
    assert pump.hang("K-1", pump.box).box == pump.box


def test_a_point_lock_stays_while_the_box_carries_a_personal_lock(verified: Pump) -> None:
    """L1, step 7 of the closing: Ana tries earlier and is told whose lock is still on the box."""
    with pytest.raises(Refusal, match=r"K-1 \(K, 555 .*\) is still on box 3"):
        verified.take("41")
    assert Application.objects.on().count() == 4


def test_without_a_box_a_person_is_protected_by_a_lock_on_every_point(pump: Pump) -> None:
    """L1, (d)(4)(i): two points of three protect nobody."""
    pump.begin(box=None)
    pump.prepare()
    locks = {"B-2": "41", "V-21": "42"}
    for name, number in locks.items():
        pump.hang(number, pump.points[name])
    assert pump.stand.protected == ()
    pump.hang("43", pump.points["V-22"])
    assert pump.stand.protected == (), "Ben's lock on V-22 protects neither him nor Ana alone"
    pump.locks["45"] = make_lock(site=pump.site, number="45", of=pump.ana, by=pump.ruth)
    pump.hang("45", pump.points["V-22"])
    assert [w.name for w in pump.stand.protected] == ["Ana"]


def test_nobody_takes_off_another_persons_lock(verified: Pump) -> None:
    """L2, (e)(3): not the person in charge, not the supervisor, not a colleague of the same company."""
    colleague = make_person(site=verified.site, role=Role.CONTRACTOR, company=verified.company, qualified=True)
    for person in (verified.ana, verified.ruth, colleague):
        with pytest.raises(Refusal, match="Nobody else can take it off"):
            verified.take("K-1", by=person)
    assert verified.application("K-1").removed_at is None


def test_a_proof_of_another_person_takes_no_lock_off_and_puts_none_on(verified: Pump) -> None:
    """L17, (c)(5)(ii)(D): K is signed in, Ana proves; or the other way round."""
    application = verified.application("K-1")
    seen = Seen.at(verified.box, application.lock, stamp="SK1"[-3:], plate="BX3")
    with pytest.raises(Refusal, match="another person's"):
        take_off(application=application, seen=seen, proof=demo_proof(verified.ana), by=verified.kim, answers=YES)
    with pytest.raises(Refusal, match="another person's"):
        put_on(
            lockout=verified.lockout,
            lock=verified.locks["44"],
            place=verified.box,
            seen=seen,
            proof=Proof(verified.ana.pk, "PIN"),
            by=verified.ben,
        )


def test_another_persons_lock_is_not_put_on(pump: Pump) -> None:
    pump.begin()
    pump.prepare()
    lock, place = pump.locks["43"], pump.points["V-22"]
    seen = Seen.at(place, lock, stamp=stamp_of("43")[-3:], plate=place.plate_code)
    with pytest.raises(NotAllowed, match="each puts on their own"):
        put_on(lockout=pump.lockout, lock=lock, place=place, seen=seen, proof=demo_proof(pump.ana), by=pump.ana)


def test_a_lock_that_is_on_is_not_marked_lost(verified: Pump) -> None:
    with pytest.raises(Refusal, match="recorded as on"):
        mark_lock_lost(lock=verified.locks["K-1"], by=verified.ruth)


def test_what_was_read_must_be_the_locks_stamp_and_the_places_plate(verified: Pump) -> None:
    """The stamp is none of the number's characters shown; both faults are named at their fields."""
    lock = verified.locks["K-1"]
    with pytest.raises(Refusal) as refused:
        Seen.at(verified.box, lock, stamp="K-1", plate="3")
    assert {reason.field for reason in refused.value.reasons} == {"stamp", "plate"}
    other = Seen.at(verified.points["B-2"], verified.locks["41"], stamp=stamp_of("41")[-3:], plate="PLB2")
    with pytest.raises(Refusal, match="another lock or place"):
        take_off(
            application=verified.application("K-1"),
            seen=other,
            proof=demo_proof(verified.kim),
            by=verified.kim,
            answers=YES,
        )


def test_a_lock_hangs_in_one_place(verified: Pump) -> None:
    with pytest.raises(Refusal, match="one lock hangs in one place"):
        verified.hang("43", verified.points["V-21"])


def test_the_plants_numbers_and_a_companys_are_each_used_once(pump: Pump) -> None:
    register_lock(site=pump.site, number="41", stamp="Q41", issued_to=pump.kim, issuer=pump.company, by=pump.ruth)
    with pytest.raises(Refusal, match="The plant has a lock of this number"):
        register_lock(site=pump.site, number="41", stamp="Q41", issued_to=pump.ana, by=pump.ruth)
    with pytest.raises(Refusal, match="This company has a lock of this number"):
        register_lock(site=pump.site, number="k-1", stamp="Q41", issued_to=pump.kim, issuer=pump.company, by=pump.ruth)
    with pytest.raises(Refusal, match="is not of Alder"):
        register_lock(site=pump.site, number="9", stamp="Q41", issued_to=pump.ana, issuer=pump.company, by=pump.ruth)


def test_a_wrong_third_lock_leaves_the_two_before_it_and_nothing_else(pump: Pump) -> None:
    pump.begin()
    pump.prepare()
    pump.hang("41", pump.points["B-2"])
    pump.hang("42", pump.points["V-21"])
    with pytest.raises(Refusal, match="stamped on lock 43"):
        Seen.at(pump.points["V-22"], pump.locks["43"], stamp=stamp_of("44")[-3:], plate="PLV22")
    with pytest.raises(Refusal, match="plate of V-22"):
        Seen.at(pump.points["V-22"], pump.locks["43"], stamp=stamp_of("43")[-3:], plate="PLV21")
    with pytest.raises(Refusal, match="one lock hangs in one place"):
        pump.hang("42", pump.points["V-22"])
    assert sorted(Application.objects.on().values_list("lock__number", flat=True)) == ["41", "42"]
    assert [s.point for s in pump.stand.unlocked] == ["valve V-22"]
