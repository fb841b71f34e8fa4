"""A lock of the demo plant taken off by its owner, with the stamp and the plate that the demo prints."""

from __future__ import annotations

from assets.models import Person
from assets.proofs import Proof
from maintenance.actions.lockout import hang
from maintenance.actions.lockout.seen import Seen
from maintenance.models import Application, Lock
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
