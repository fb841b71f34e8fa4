"""Rows of the tables that no address names, one of each: a page shows them beside what it is about.

They come without a history, as the copies that are made of them; what a page costs depends on its rows alone.
"""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from assets.models import CounterBreak, NightReport, Setting
from calibration.actions.reviews import review_check
from calibration.models import (
    Answer,
    Assignment,
    Baseline,
    Certificate,
    Correction,
    Custody,
    Dilution,
    DilutionPart,
    IntervalDecision,
    PooledStudy,
    RelianceWithdrawal,
)
from maintenance.models import (
    Failure,
    HandoverNote,
    Message,
    MessageAbout,
    MessageChoice,
    MessageTry,
    Morning,
    NeededPart,
    OrderFile,
    OverrideLook,
    TermInput,
)
from tests.contract.roles_world import World
from tests.make import proof_of


def make_rare_rows(world: World) -> None:
    """Add one row of each table that the world of the addresses leaves empty."""
    now = timezone.now()
    of_the_plant(world, now)
    of_upkeep(world, now)
    of_messages(world, now)
    of_checks(world, now)
    of_standards(world, now)


def of_the_plant(world: World, now: dt.datetime) -> None:
    """Night reports, a rule that was set, a counter that began anew."""
    site, ruth = world.bench.site, world.bench.supervisor
    for kind in ("records", "due", "worked out"):
        NightReport(site=site, kind=kind, site_day=now.date(), differences=1, text="one", recorded_at=now).save()
    Setting(
        site=site,
        name="grab_hours",
        value="2",
        source="made up for a test",
        why="the sampler is slow",
        from_day=dt.date(2026, 1, 1),
        recorded_at=now,
        recorded_by=ruth,
    ).save()
    CounterBreak(
        reading=world.reading, kind="replaced", old_last="18460", new_first="0", recorded_at=now, recorded_by=ruth
    ).save()


def of_upkeep(world: World, now: dt.datetime) -> None:
    """What is written on orders, at a change of shift, of a forced value, of what an interval counts."""
    order, ines = world.order, world.bench.operator
    Failure(
        order=order,
        shows="reads wrong",
        mechanism="instrument",
        cause="operation",
        detected="monitoring",
        recorded_at=now,
        recorded_by=ines,
    ).save()
    OrderFile(order=order, file=world.file).save()
    NeededPart(order=order, part=world.store.part, thousandths=1000).save()
    HandoverNote(handover=world.handover, words="heard", written_by=ines, recorded_at=now).save()
    OverrideLook(
        override=world.override,
        value="7.2",
        unit="pH",
        source="grab sample",
        taken_at=now,
        agrees=True,
        looked_by=ines,
        recorded_at=now,
    ).save()
    TermInput(term=world.plan.terms.latest("pk"), name="flow", number="40", unit="m³/h").save()


def of_messages(world: World, now: dt.datetime) -> None:
    """A morning, a message about a routine, a try to send it, what a person wants to be told."""
    site, ines = world.bench.site, world.bench.operator
    Morning(site=site, day=now.date(), made_at=now).save()
    message = Message(
        site=site,
        person=ines,
        kind="digest",
        key="digest of a test",
        address="ines@example.org",
        subject="The morning",
        text="Nothing is overdue.",
        made_at=now,
        until_at=now + dt.timedelta(days=1),
    )
    message.save()
    MessageAbout(message=message, person=ines, about=f"{world.plan.pk}").save()
    MessageTry(message=message, number=1, begun_at=now).save()
    MessageChoice(person=ines, kind="digest", wanted=True, recorded_at=now, recorded_by=ines).save()


def of_checks(world: World, now: dt.datetime) -> None:
    """What was answered, decided and taken back of signed checks; what the checks of a kind say together."""
    bench, ruth = world.bench, world.bench.supervisor
    own = world.check.sets.first()
    assert own is not None
    review_check(check=world.check, note="the junction is old", proof=proof_of(ruth), by=ruth)
    Answer(set=own, asked="drift", sentence="It drifts.", choice="yes", answer="Yes, it is old.").save()
    Baseline(
        requirement=bench.requirement,
        figure="percent_slope",
        first=own,
        last=own,
        why="a new probe",
        recorded_at=now,
        recorded_by=ruth,
    ).save()
    IntervalDecision(
        requirement=bench.requirement,
        method="common practice",
        advice="{}",
        taken=False,
        days_before=30,
        days_after=30,
        why="too few checks",
        recorded_at=now,
        recorded_by=ruth,
    ).save()
    RelianceWithdrawal(
        recall=world.recall, check_of=world.check, standard="lot 4", because="cloudy", recorded_at=now
    ).save()
    PooledStudy(site=bench.site, method="turbidity", body="{}", made_at=now).save()


def of_standards(world: World, now: dt.datetime) -> None:
    """Certificates, an absence, a dilution and a value that was given to a block."""
    bench, ruth, asset = world.bench, world.bench.supervisor, world.pump.tester
    today = now.astimezone(bench.site.zone).date()
    certificate = Certificate(
        asset=asset,
        number="C-118",
        issuer="County bench",
        unit="mA",
        calibrated_on=today,
        until=today + dt.timedelta(days=365),
        accepted=True,
        asked="{}",
        recorded_at=now,
        recorded_by=ruth,
    )
    certificate.save()
    Correction(certificate=certificate, shown="4", correction="0.01").save()
    Custody(
        asset=asset,
        sent_to="County bench",
        why="calibration",
        sent_with="carrier",
        sent_on=today,
        due_back=today + dt.timedelta(days=14),
        recorded_at=now,
        recorded_by=ruth,
    ).save()
    made = Dilution(lot=bench.lots["7"], made_on=today, made_up="1000", volume_unit="mL", exact="7", working="[]")
    made.save()
    DilutionPart(dilution=made, parent=bench.lots["4"], taken="10", exact="10").save()
    Assignment(
        lot=bench.lots["7"], asset=asset, value="7", on=today, primary=world.check, recorded_at=now, recorded_by=ruth
    ).save()
