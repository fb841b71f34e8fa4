"""People at a machine with their locks: what each of them does there, step by step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assets.actions.links import IssuedLink
from maintenance.actions.lockout.begin import begin_lockout
from maintenance.actions.lockout.hang import put_on, take_off
from maintenance.actions.lockout.seen import Seen
from maintenance.actions.lockout.steps import (
    close_box,
    let_off,
    put_key_in_box,
    record_shut_down,
    record_test,
    set_point,
    tell_before,
)
from maintenance.models import Application, IsolationPoint, Lock, LockBox, Lockout, LockoutLine, WorkOrder
from spanwell.demo import cast
from spanwell.demo.cast import Part
from spanwell.demo.isolation import GAUGE, OWNERS, TESTER
from spanwell.demo.plant import Plant

DEAD, EMPTY = "0 V on all three poles, did not start", "0 kPa, drain open and dry"


@dataclass(slots=True)
class Job:
    """One lockout with the people around it: which lock goes on which point, and the box (none: own locks only)."""

    plant: Plant
    tag: str
    locks: Mapping[str, str]
    box: str | None
    told: tuple[Part, ...]

    @property
    def lockout(self) -> Lockout:
        """The lockout as it stands now."""
        rows = Lockout.objects.select_related("site", "position__site", "box", "in_charge")
        return rows.filter(site=self.plant.site, position__tag=self.tag).order_by("-number")[0]

    @property
    def lines(self) -> list[LockoutLine]:
        """The sources of energy, in order."""
        return list(LockoutLine.objects.filter(lockout=self.lockout).select_related("point").order_by("number"))

    def lock(self, number: str) -> Lock:
        """A lock by its number."""
        return Lock.objects.select_related("issued_to", "site").get(site=self.plant.site, number=number)

    def owner(self, number: str) -> Part:
        """Whose lock it is."""
        return OWNERS.get(number, cast.DAVOR)

    def place(self, number: str) -> IsolationPoint | LockBox:
        """Where a lock hangs: its point, or the box."""
        if number in self.locks:
            return IsolationPoint.objects.get(site=self.plant.site, name=self.locks[number])
        return LockBox.objects.get(site=self.plant.site, name=self.box)

    def seen(self, number: str) -> Seen:
        """What its owner reads at the lock and on the plate."""
        place = self.place(number)
        stamp, plate = cast.STAMPS[number].characters, cast.PLATES[place.name].characters
        return Seen.at(place, self.lock(number), stamp=stamp, plate=plate)


def begin(job: Job, *, order: WorkOrder, why: str) -> None:
    """Begin: the people concerned are told, the machine is shut down."""
    plant, noor = job.plant, job.plant.person(cast.NOOR)
    box = LockBox.objects.get(site=plant.site, name=job.box) if job.box else None
    begin_lockout(position=plant.tag(job.tag), why=why, in_charge=noor, by=noor, order=order, box=box)
    for part in job.told:
        plant.clock.wait(2)
        tell_before(lockout=job.lockout, name=part.name, how="spoken", by=noor)
    plant.clock.wait(3)
    record_shut_down(lockout=job.lockout, selector="Hand", text="shaft stands still", by=noor)


def isolate(job: Job) -> None:
    """Set each point, hang its lock, and put the keys into the box where one is used."""
    plant = job.plant
    by_point = {name: number for number, name in job.locks.items()}
    for line in job.lines:
        assert line.point is not None
        number = by_point[line.point.name]
        plant.clock.wait(1)
        set_point(lockout=job.lockout, line=line, by=plant.person(job.owner(number)))
        plant.clock.wait(1)
        hang(job, number)
    if job.box is not None:
        plant.clock.wait(1)
        _fill_box(job)


def hang(job: Job, number: str) -> Application:
    """Put a lock on, by its owner."""
    part = job.owner(number)
    return put_on(
        lockout=job.lockout,
        lock=job.lock(number),
        place=job.place(number),
        seen=job.seen(number),
        proof=job.plant.proof(part),
        by=job.plant.person(part),
    )


def _fill_box(job: Job) -> None:
    for number in job.locks:
        put_key_in_box(application=on(job, number), by=job.plant.person(job.owner(number)))
    close_box(lockout=job.lockout, by=job.plant.person(cast.NOOR))


def on(job: Job, number: str) -> Application:
    """The record of a lock that is on."""
    rows = Application.objects.on().select_related("lockout__site", "lock")
    return rows.get(lock=job.lock(number))


def prove_dead(job: Job) -> None:
    """Let stored energy off and test each source, by the person in charge."""
    plant, noor = job.plant, job.plant.person(cast.NOOR)
    electric, suction, discharge = job.lines
    plant.clock.wait(2)
    let_off(lockout=job.lockout, line=suction, found="gauge on the casing at 0 kPa, drain runs dry", by=noor)
    tests = ((suction, GAUGE, EMPTY), (discharge, GAUGE, EMPTY), (electric, TESTER, DEAD))
    for line, serial, reading in tests:
        plant.clock.wait(1)
        record_test(
            lockout=job.lockout,
            line=line,
            tester=plant.asset(serial),
            reading=reading,
            by=noor,
            proof=plant.proof(cast.NOOR),
        )


def off(job: Job, number: str, answers: Mapping[str, str] | None = None) -> None:
    """Take a lock off, by its owner."""
    part = job.owner(number)
    take_off(
        application=on(job, number),
        seen=job.seen(number),
        proof=job.plant.proof(part),
        by=job.plant.person(part),
        answers=answers,
    )


@dataclass(slots=True)
class Invited:
    """The contractor's link and code, shown once by the plant; the demo prints them again."""

    issued: IssuedLink | None = None
