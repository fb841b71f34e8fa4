"""Locks of the demo plant taken off by their owners, with the stamps and plates that the demo prints."""

from __future__ import annotations

from assets.models import Person
from assets.proofs import Proof, prove
from maintenance.actions.lockout import ending, hang, runs
from maintenance.actions.lockout.seen import Seen
from maintenance.compute.lockout_off import not_told, questions_of
from maintenance.models import Application, Lock, Lockout
from maintenance.reads.locks_acceptance import HOURS, fields_of
from maintenance.reads.locks_story import story_of
from spanwell.demo import cast
from spanwell.demo.cast import Part


def take_off(number: str, part: Part, proof: Proof, answers: dict[str, str]) -> None:
    lock = Lock.objects.get(number=number)
    application = Application.objects.on().select_related("lockout__site").get(lock=lock)
    place = application.point or application.box
    assert place is not None
    seen = Seen.at(place, lock, stamp=cast.STAMPS[number].characters, plate=cast.PLATES[place.name].characters)
    person = Person.objects.get(name=part.name)
    hang.take_off(application=application, seen=seen, proof=proof, by=person, answers=answers)


def close_the_story(lockout: Lockout, contractor: Proof) -> None:
    """Answer, take every lock off, close, tell everybody and accept the machine, as a visitor of the demo can."""
    noor, ines = Person.objects.get(sign_in="noor"), Person.objects.get(sign_in="ines")
    runs.answer_fits(lockout=lockout, answer="yes", why="nameplate read, no heater, no drive", by=noor)
    yes = dict.fromkeys(questions_of(story_of(lockout)), "yes")
    take_off("DM-4", cast.DAVOR, contractor, yes)
    for number, part in (("14", cast.NOOR), ("15", cast.NOOR), ("16", cast.TOMAS)):
        take_off(number, part, prove(Person.objects.get(name=part.name), part.pin, site=lockout.site), yes)
        yes = {}
    ending.close_lockout(lockout=lockout, by=noor)
    for name in not_told(story_of(lockout)):
        ending.tell_after(lockout=lockout, name=name, how="spoken", by=noor)
    asked = [field.topic for field in fields_of(lockout, story_of(lockout)) if field.topic != HOURS]
    given = ending.Acceptance(lines=dict.fromkeys(asked, "yes, seen"), hours="0")
    ending.accept(lockout=lockout, acceptance=given, by=ines, proof=prove(ines, cast.INES.pin, site=lockout.site))
