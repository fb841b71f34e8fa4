"""A booster pump with its points, procedure, locks and box, brought through a lockout by the tool's own actions."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, fields

from django.utils import timezone

from assets.actions.fittings import exchange_asset
from assets.history import act
from assets.models import Asset, Company, FitForUse, Fitting, Person, Position, Role, Site
from assets.proofs import demo_proof
from maintenance.actions.isolation import register_point, serve_position
from maintenance.actions.isolation_procedures import LineText, ProcedureText, approve_procedure, write_procedure
from maintenance.actions.lockout.begin import begin_lockout
from maintenance.actions.lockout.ending import Acceptance, accept, close_lockout, tell_after
from maintenance.actions.lockout.hang import put_on, take_off
from maintenance.actions.lockout.links import invite
from maintenance.actions.lockout.register import register_box, register_lock
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
from maintenance.compute.lockout import PEOPLE, TOOLS, Story, standing
from maintenance.models import Application, IsolationPoint, Lock, LockBox, Lockout, ProcedureVersion
from maintenance.reads.locks_acceptance import FORCED, SELECTOR
from maintenance.reads.locks_story import story_of
from tests.make import make_asset, make_company, make_fitting, make_person, make_position, make_site

CLOSING = """Guard and coupling cover on and fast
Bolts tightened to the sheet
Suction and discharge flanges tight
Drain closed
Seal water on
Alignment sheet, photograph"""
ACCEPTANCE = """Primed
Valve line-up
Rotation
Running current
Discharge pressure
Vibration
Leaks"""
SHORT = {TOOLS: "yes", PEOPLE: "yes"}
YES = dict.fromkeys([*CLOSING.splitlines(), TOOLS, PEOPLE], "yes")


def make_fit(
    *, asset: Asset, until: dt.date | None = None, fit: bool = True, why: str = "certificate 88", only_for: str = ""
) -> FitForUse:
    """A record that an asset may be relied on, as a check of it leaves it behind."""
    day = until or (timezone.now() + dt.timedelta(days=100)).date()
    with act(site=asset.site, by=None) as made:
        row = made.add(FitForUse(asset=asset, fit=fit, until=day, only_for=only_for, why=why, recorded_at=made.at))
        made.write("asset.fitness recorded", subject=asset)
    return row


def make_point(
    *, site: Site, by: Person, name: str, positions: list[Position], kind: str = "valve", energy: str = "pressure"
) -> IsolationPoint:
    """An isolation point with the plate code PL- and its name."""
    return register_point(
        site=site,
        name=name,
        what=f"of {positions[0].tag}",
        kind=kind,
        energy=energy,
        plate_code=f"PL{name.replace('-', '')}",
        positions=positions,
        by=by,
    )


def make_lock(*, site: Site, number: str, of: Person, by: Person, issuer: Company | None = None) -> Lock:
    """A lock whose stamp ends in S and the last two signs of its number."""
    return register_lock(site=site, number=number, stamp=stamp_of(number), issued_to=of, issuer=issuer, by=by)


def stamp_of(number: str) -> str:
    """The stamp that `make_lock` gives: it ends in S and the last two signs of the number."""
    return f"XX-S{number.replace('-', '')[-2:].rjust(2, '0')}"


@dataclass
class Pump:
    """P-2 with breaker B-2, valves V-21 and V-22; Ana in charge, Ben, Ruth the supervisor, K the contractor."""

    site: Site
    ruth: Person
    ana: Person
    ben: Person
    kim: Person
    company: Company
    position: Position
    fitted: Asset
    points: dict[str, IsolationPoint]
    box: LockBox
    locks: dict[str, Lock]
    tester: Asset
    version: ProcedureVersion
    lockout: Lockout = field(init=False)

    def story(self) -> Story:
        """Everything recorded of the lockout now."""
        return story_of(self.lockout)

    @property
    def stand(self):
        """What the lockout amounts to now."""
        return standing(self.story())

    def application(self, number: str) -> Application:
        """The newest record of a lock, by its number."""
        return Application.objects.filter(lock__number=number).order_by("-pk")[0]

    def begin(self, **other) -> Lockout:
        """Begin the lockout, Ana in charge, with the box."""
        given = {"why": "bearing change", "in_charge": self.ana, "box": self.box, "by": self.ana, **other}
        self.lockout = begin_lockout(position=self.position, **given)
        return self.lockout

    def prepare(self) -> None:
        """Two operators told, shut down, points in their safe state."""
        for name in ("Ines Calder", "Tomas Lind"):
            tell_before(lockout=self.lockout, name=name, how="radio", by=self.ana)
        record_shut_down(lockout=self.lockout, selector="hand", by=self.ana)
        self.set_points()

    def set_points(self) -> None:
        """Each point in its safe state."""
        for line in self.lockout.lines.exclude(point=None):
            set_point(lockout=self.lockout, line=line, by=self.ana)

    def hang(self, number: str, place: IsolationPoint | LockBox) -> Application:
        """One lock on, by its owner, its stamp and the plate read."""
        lock = self.locks[number]
        owner = lock.issued_to
        seen = Seen.at(place, lock, stamp=stamp_of(number)[-3:], plate=place.plate_code)
        return put_on(lockout=self.lockout, lock=lock, place=place, seen=seen, proof=demo_proof(owner), by=owner)

    def lock_points(self) -> None:
        """41 on the breaker and 42 on the suction by Ana, 43 on the discharge by Ben; keys in the box, box closed."""
        for number, name in (("41", "B-2"), ("42", "V-21"), ("43", "V-22")):
            put_key_in_box(application=self.hang(number, self.points[name]), by=self.locks[number].issued_to)
        close_box(lockout=self.lockout, by=self.ana)

    def relieve(self) -> None:
        """Stored pressure let off."""
        for line in self.lockout.lines.exclude(relief__startswith="none"):
            let_off(lockout=self.lockout, line=line, found="gauge PI-72 at 0 kPa", by=self.ana)

    def test(self) -> None:
        """Each source tested."""
        for line in self.lockout.lines.all():
            record_test(
                lockout=self.lockout,
                line=line,
                tester=self.tester,
                reading="0 V",
                by=self.ana,
                proof=demo_proof(self.ana),
            )

    def make_verified(self) -> None:
        """From the beginning to tested, with K's own lock on the box."""
        self.begin()
        self.prepare()
        self.lock_points()
        self.relieve()
        invite(lockout=self.lockout, person=self.kim, by=self.ruth)
        self.hang("K-1", self.box)
        self.test()

    def take(self, number: str, *, answers: dict[str, str] | None = None, by: Person | None = None) -> Application:
        """One lock off, by its owner unless said otherwise."""
        application = self.application(number)
        place = application.point or application.box
        seen = Seen.at(place, application.lock, stamp=stamp_of(number)[-3:], plate=place.plate_code)
        person = by or application.applied_by
        return take_off(
            application=application,
            seen=seen,
            proof=demo_proof(person),
            by=person,
            answers=YES if answers is None else answers,
        )

    def take_all(self) -> None:
        """K's lock off, then the plant's."""
        for number in ("K-1", "41", "42", "43"):
            self.take(number)

    def end(self) -> None:
        """All locks off, closed, both operators told."""
        self.take_all()
        close_lockout(lockout=self.lockout, by=self.ana)
        for name in ("Ines Calder", "Tomas Lind"):
            tell_after(lockout=self.lockout, name=name, how="radio", by=self.ana)

    def acceptance(self, **other) -> Acceptance:
        """Every line written."""
        lines = {line: "good" for line in ACCEPTANCE.splitlines()}
        lines |= {SELECTOR: "off", FORCED: "PIT-2 forced value removed"}
        return Acceptance(**{"lines": lines, "hours": "0.0", **other})

    def accept(self, *, by: Person | None = None, **other) -> Lockout:
        """Operations take it back."""
        person = by or self.ben
        return accept(lockout=self.lockout, acceptance=self.acceptance(**other), by=person, proof=demo_proof(person))

    def swap(self, serial: str = "8-2291") -> Fitting:
        """The pump taken out and another one fitted."""
        asset = make_asset(site=self.site, kind="pump", serial=serial)
        return exchange_asset(position=self.position, asset=asset, by=self.ruth)


def make_neighbour(pump: Pump, *, box: bool = False) -> Pump:
    """P-3, whose feeder is B-2 as well: its lockout begun, told, shut down, the point set, no lock on yet."""
    position = make_position(site=pump.site, tag="P-3", does="moves")
    serve_position(point=pump.points["B-2"], position=position, by=pump.ruth)
    line = LineText(
        energy="feeder", point=pump.points["B-2"], safe_state="open", relief="none, because no drive", test="V"
    )
    version = write_procedure(position=position, text=make_text(pump.points, lines=[line]), by=pump.ruth)
    noor = pump.version.written_by
    approve_procedure(version=version, by=noor, proof=demo_proof(noor))
    made = {f.name: getattr(pump, f.name) for f in fields(pump) if f.init}
    second = Pump(**{**made, "position": position, "version": version})
    if box:
        second.box = register_box(site=pump.site, name="4", plate_code="BX4", by=pump.ruth)
    second.begin(box=second.box if box else None)
    second.prepare()
    return second


def make_pump(*, site: Site | None = None) -> Pump:
    """The pump with everything registered and its procedure approved, no lockout yet."""
    here = site or make_site()
    ruth = make_person(site=here, role=Role.SUPERVISOR, name="Ruth", qualified=True)
    author = make_person(site=here, role=Role.SUPERVISOR, name="Noor", qualified=True)
    ana = make_person(site=here, name="Ana", qualified=True)
    ben = make_person(site=here, name="Ben", qualified=True)
    company = make_company(site=here)
    kim = make_person(site=here, role=Role.CONTRACTOR, name="K", company=company, qualified=True)
    position = make_position(site=here, tag="P-2", does="moves")
    pump = make_asset(site=here, kind="pump", serial="8-2214")
    make_fitting(position=position, asset=pump, by=ruth)
    tester = make_asset(site=here, kind="voltage tester", serial="M-4")
    make_fit(asset=tester)
    points = {
        "B-2": make_point(
            site=here, by=ruth, name="B-2", positions=[position], kind="breaker", energy="400 V motor supply"
        ),
        "V-21": make_point(site=here, by=ruth, name="V-21", positions=[position], energy="suction pressure"),
        "V-22": make_point(site=here, by=ruth, name="V-22", positions=[position], energy="discharge pressure"),
    }
    version = write_procedure(position=position, text=make_text(points), by=author)
    approve_procedure(version=version, by=ruth, proof=demo_proof(ruth))
    locks = {
        n: make_lock(site=here, number=n, of=p, by=ruth)
        for n, p in (("41", ana), ("42", ana), ("43", ben), ("44", ben))
    }
    locks["K-1"] = make_lock(site=here, number="K-1", of=kim, issuer=company, by=ruth)
    box = register_box(site=here, name="3", plate_code="BX3", by=ruth)
    return Pump(
        site=here,
        ruth=ruth,
        ana=ana,
        ben=ben,
        kim=kim,
        company=company,
        position=position,
        fitted=pump,
        points=points,
        box=box,
        locks=locks,
        tester=tester,
        version=version,
    )


def make_text(points: dict[str, IsolationPoint], **other) -> ProcedureText:
    """A procedure without gaps: motor supply, suction, discharge with its stored pressure."""
    given = {
        "purpose": "Work on the pump, its coupling or its seal",
        "shutdown": "Stop at the panel, selector to off",
        "restore": "Open V-22 slowly, prime, selector to auto",
        "closing": CLOSING,
        "acceptance": ACCEPTANCE,
        "lines": [
            LineText(
                energy="400 V motor supply",
                point=points["B-2"],
                safe_state="open",
                relief="none, because the drive has no capacitors",
                test="Try to start; voltage at the terminals",
            ),
            LineText(
                energy="suction pressure",
                point=points["V-21"],
                safe_state="shut",
                relief="none, because the casing drain lets it off with the discharge",
                test="Gauge PI-71",
            ),
            LineText(
                energy="discharge pressure",
                point=points["V-22"],
                safe_state="shut",
                relief="Open the casing drain until nothing runs",
                test="Gauge PI-72",
            ),
        ],
    }
    return ProcedureText(**{**given, **other})


def names(pump: Pump) -> list[str]:
    """Who may work under the lockout now."""
    return [who.name for who in pump.stand.may_work]


def end_membership(person: Person) -> None:
    """A role that ended although a lock was on: the actions refuse it, a row may still say so."""
    membership = person.memberships.get()
    with act(site=membership.site, by=None) as made:
        made.close(membership, to_at=made.at)
        made.write("role.ended", subject=person)
