"""The works, its people, its register and its standards, as they were set up a year and a half ago."""

from __future__ import annotations

import datetime as dt

from django.conf import settings

from assets.actions import (
    NewPerson,
    QualificationFacts,
    SiteFacts,
    add_qualification,
    look_through,
    register_company,
    register_person,
    start_site,
    take_register,
)
from assets.errors import Reason, Refusal
from assets.models import Asset, Company, Person, Position, Role, Site
from assets.proofs import Proof, demo_proof
from spanwell.demo import cast
from spanwell.demo.cast import Part
from spanwell.demo.clock import Days, Script, StoryClock

FIRST_DAY = 548
GROWN = 184
"""Days back since when everything is written; in the year before that, people wrote less."""
REGISTER = settings.BASE_DIR / "fixtures" / "demo" / "register.csv"


class Plant:
    """What every part of the story works with: the site, its people and tags by name, the clock and the script."""

    def __init__(self, days: Days, script: Script, *, address: str) -> None:
        self.days = days
        self.script = script
        self.address = address
        self.people: dict[str, Person] = {}
        self._tags: dict[str, Position] = {}
        self.site: Site

    @property
    def clock(self) -> StoryClock:
        """The clock of the story."""
        return self.script.clock

    @property
    def day(self) -> dt.date:
        """The plant's date in the story."""
        return self.clock.now.astimezone(self.days.zone).date()

    def time_written(self, minutes: float = 0) -> str:
        """So many minutes from now, as people write it: a time of day, around midnight with its day."""
        moments = [self.clock.now + dt.timedelta(minutes=more) for more in (minutes, -60, 60)]
        then, before, after = (moment.astimezone(self.days.zone) for moment in moments)
        return f"{then:%H:%M}" if before.date() == after.date() else f"{then:%Y-%m-%d %H:%M}"

    @property
    def days_back(self) -> int:
        """How many days before today the story stands."""
        return (self.days.today - self.day).days

    def person(self, part: Part) -> Person:
        """The person who plays a part."""
        return self.people[part.name]

    def proof(self, part: Part) -> Proof:
        """Stand in for a person's PIN."""
        return demo_proof(self.person(part))

    def tag(self, tag: str) -> Position:
        """A position by its tag."""
        if tag not in self._tags:
            self._tags[tag] = Position.objects.select_related("site").get(site=self.site, tag=tag)
        return self._tags[tag]

    def asset(self, serial: str) -> Asset:
        """An asset by its serial."""
        return Asset.objects.select_related("site").get(site=self.site, serial=serial)

    def on_shift(self, days_back: int) -> Part:
        """Who has the day, in turn."""
        return cast.SHIFT[self.days.back(days_back).toordinal() % len(cast.SHIFT)]


def _new(part: Part, company: Company | None = None) -> NewPerson:
    signs_in = bool(part.sign_in)
    return NewPerson(
        name=part.name,
        sign_in=part.sign_in,
        phone=part.phone,
        email=part.email,
        company=company,
        password=cast.PASSWORD if signs_in else "",
        pin=part.pin,
    )


def set_up(plant: Plant) -> None:
    """Write the first day: the site with its first two people, the others, their training."""
    at = plant.days.at
    plant.script.add(at(FIRST_DAY, "08:10"), _start, plant)
    plant.script.add(at(FIRST_DAY, "08:40"), _hire, plant)
    plant.script.add(at(FIRST_DAY, "09:05"), _train, plant)
    plant.script.add(at(FIRST_DAY, "09:30"), take_in_register, plant)


def _start(plant: Plant) -> None:
    plant.site = start_site(
        site=SiteFacts(
            name=cast.SITE,
            time_zone=cast.ZONE,
            address=plant.address,
            ask_name=cast.RUTH.name,
            ask_phone=cast.RUTH.phone,
        ),
        supervisor=_new(cast.RUTH),
        administrator=_new(cast.MINA),
        by=None,
    )
    for part in (cast.RUTH, cast.MINA):
        plant.people[part.name] = Person.objects.get(sign_in=part.sign_in)


def _hire(plant: Plant) -> None:
    for part in cast.STAFF:
        if part.name not in plant.people:
            plant.people[part.name] = register_person(
                site=plant.site, new=_new(part), role=part.role, by=plant.person(cast.MINA)
            )
            plant.clock.wait(2)


def _train(plant: Plant) -> None:
    days = plant.days
    for part in cast.QUALIFIED:
        facts = QualificationFacts(
            kind="lockout",
            from_day=days.back(FIRST_DAY + 30),
            until_day=days.back(-550),
            proof=f"course record of {days.back(FIRST_DAY + 30):%Y}, kept in the office",
        )
        add_qualification(site=plant.site, person=plant.person(part), facts=facts, by=plant.person(cast.MINA))


def take_in_register(plant: Plant) -> None:
    """Take in the register of the plant from its file, as the page of the importer does: looked through, then taken."""
    content = REGISTER.read_bytes()
    looked = look_through(site=plant.site, content=content)
    if looked.faults:
        raise Refusal(Reason(str(fault)) for fault in looked.faults)
    take_register(
        site=plant.site,
        content=content,
        file_hash=looked.file_hash,
        register_hash=looked.register_hash,
        name=REGISTER.name,
        by=plant.person(cast.RUTH),
    )


def bring_in_contractor(plant: Plant) -> Person:
    """Register the contractor's company and person, with the training record they brought."""
    mina = plant.person(cast.MINA)
    company = register_company(site=plant.site, name=cast.COMPANY, phone="555 0190", by=mina)
    person = register_person(site=plant.site, new=_new(cast.DAVOR, company), role=Role.CONTRACTOR, by=mina)
    facts = QualificationFacts(kind="lockout", from_day=plant.day, proof="course record shown at the gate, site talk")
    add_qualification(site=plant.site, person=person, facts=facts, by=mina)
    plant.people[person.name] = person
    return person
