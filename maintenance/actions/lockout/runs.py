"""The test run, and whether the procedure still fits: what ends everybody's protection for a while.

Order after 29 CFR 1910.147 (f)(1)(i) to (v), second-hand: tools clear, people clear, locks off by their owners, energy
on and run, energy off and every lock on again and tested anew.
"""

from __future__ import annotations

from assets.errors import Refusal
from assets.models import Fitting, Person
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof
from maintenance.actions.lockout.opening import LockAct, Stop
from maintenance.actions.lockout.sharing import Sharing
from maintenance.compute.lockout import Fits, Run, fits, run_of
from maintenance.compute.lockout_off import stops_asking, stops_running
from maintenance.models import Lockout, LockoutEntry
from maintenance.permissions.locks import must_be_on_the_job, must_be_own, must_be_qualified

LONGEST_RUN_MINUTES = 60


def answer_fits(*, lockout: Lockout, answer: str, why: str, by: Person) -> LockoutEntry:
    """Answer for the plant whether the procedure fits what is fitted now; the next swap asks again."""
    must_have_role(by, lockout.site, OPERATORS, to="answer whether the procedure fits")
    if answer not in {"yes", "no"}:
        raise Refusal("Answer yes or no.", field="answer")
    if not why.strip():
        raise Refusal("Write what you looked at: nameplate, heater, drive, stored energy.", field="why")
    with LockAct.on(lockout, by) as opened:
        must_be_qualified(by, lockout.site, at=opened.at, to="answer whether the procedure fits")
        story = opened.story()
        if fits(story) is Fits.NOT_ASKED or story.fitted is None:
            raise Refusal("Nothing is asked: what is fitted is what the procedure was written for.")
        if story.told("available"):
            raise Refusal("This was accepted already.")
        fitting = Fitting.objects.get(pk=story.fitted.fitting_id)
        entry = opened.note("fits", answer=answer, text=why.strip(), fitting=fitting)
        opened.write("lockout.fits_answered", asset=story.fitted.name, answer=answer, why=why.strip())
    return entry


def ask_for_test_run(*, lockout: Lockout, why: str, by: Person) -> LockoutEntry:
    """Ask for a test run: from now on nobody works, and each owner takes off their lock after two answers."""
    if not why.strip():
        raise Refusal("Write what is to be tried: rotation, alignment, leaks.", field="why")
    with LockAct.on(lockout, by) as opened:
        must_be_on_the_job(by, opened.lockout, to="ask for a test run")
        Stop.unless_none(stops_asking(opened.story()))
        entry = opened.note("test run asked", text=why.strip())
        opened.write("lockout.test_run_asked", why=why.strip())
    return entry


def begin_test_run(*, lockout: Lockout, minutes: int, by: Person, proof: Proof) -> LockoutEntry:
    """Begin the test run, by the person in charge: no lock of anyone is on any point, everybody is out."""
    must_have_role(by, lockout.site, OPERATORS, to="begin a test run")
    must_be_own(proof, by)
    if not 1 <= minutes <= LONGEST_RUN_MINUTES:
        raise Refusal(f"A test run lasts 1 to {LONGEST_RUN_MINUTES} minutes; write how long.", field="minutes")
    with LockAct.on(lockout, by) as opened:
        opened.must_be_open()
        must_be_qualified(by, lockout.site, at=opened.at, to="begin a test run")
        if opened.lockout.in_charge_id != by.pk:
            raise Refusal(f"{opened.lockout.in_charge.name} is in charge and begins the test run.")
        story = opened.story()
        Stop.unless_none(stops_running(story, now=opened.at))
        entry = opened.note("test run begun", topic=str(minutes))
        opened.write("lockout.test_run_begun", minutes=str(minutes), proof=proof.kind)
        points = {source.point_id for source in story.points if source.point_id is not None}
        Sharing.release(opened, points, why=f"test run of {opened.lockout} began")
    return entry


def end_test_run(*, lockout: Lockout, found: str, by: Person) -> LockoutEntry:
    """End a test run: energy is off again and controls stand at off. Locks, relief and every test follow anew."""
    must_have_role(by, lockout.site, OPERATORS, to="end a test run")
    if not found.strip():
        raise Refusal("Write what the test run showed, or why it was given up.", field="found")
    with LockAct.on(lockout, by) as opened:
        run = run_of(opened.story())
        if run is Run.NONE:
            raise Refusal("No test run is asked for or under way.")
        entry = opened.note("test run ended", text=found.strip())
        opened.write("lockout.test_run_ended", found=found.strip(), given_up=run is Run.ASKED)
    return entry
