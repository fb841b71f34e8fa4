"""What else happened before: a mended or prevented fault each month, a deferral that was refused, a forced level."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Mapping

from django.conf import settings

from maintenance.actions.deferrals import ask_deferral, decide_deferral
from maintenance.actions.labour import TimeTyped, write_labour
from maintenance.actions.order_failures import FailureTyped
from maintenance.actions.order_parts import use_part
from maintenance.actions.order_steps import finish_step
from maintenance.actions.orders import finish_order, start_order
from maintenance.actions.overrides import OverrideTyped, approve_override, ask_override
from maintenance.actions.overrides_end import see_restored, take_off
from maintenance.actions.overrides_time import LookTyped, look_at_override
from maintenance.actions.parts import PartTyped, receive_part, register_part
from maintenance.models import Deferral, Occurrence, Override, Part, Plan
from spanwell.demo import cast
from spanwell.demo.ordering import Wanted, accept, ask_and_plan, order_for
from spanwell.demo.plant import Plant

TABLE = settings.BASE_DIR / "fixtures" / "demo" / "orders.csv"
PARTS = settings.BASE_DIR / "fixtures" / "demo" / "parts.csv"
STOCKED = 545
PEOPLE = {part.sign_in: part for part in cast.STAFF}
PUT_OFF = ("P-62", "Grease bearings")
ASKED, FORCED = 183, 415


def tell_of_before(plant: Plant) -> None:
    """Write each mended fault, the deferral and the forced level."""
    at, add = plant.days.at, plant.script.add
    for row in csv.DictReader(PARTS.read_text(encoding="utf-8").splitlines()):
        add(at(STOCKED, "16:20"), _stock, plant, row)
    for row in csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()):
        add(at(int(row["asked"]), "08:40"), ask_and_plan, plant, _wanted(row))
        add(at(int(row["begun"]), "10:30"), _mend, plant, row)
        add(at(int(row["accepted"]), "08:20"), accept, plant, row["tag"])
    add(at(ASKED, "15:40"), _ask_to_put_off, plant)
    add(at(ASKED - 1, "09:05"), _refuse, plant)
    add(at(FORCED, "07:20"), _force, plant)
    add(at(FORCED, "11:30"), _look, plant)
    add(at(FORCED, "16:40"), _take_off, plant)


def _wanted(row: Mapping[str, str]) -> Wanted:
    return Wanted(
        tag=row["tag"],
        title=row["title"],
        reason=row["reason"],
        by=PEOPLE[row["by"]],
        type=row["type"],
        steps=tuple(row["steps"].split(";")),
        in_charge=PEOPLE[row["in charge"]],
        days=int(row["days"]),
    )


def _mend(plant: Plant, row: Mapping[str, str]) -> None:
    who = plant.person(PEOPLE[row["in charge"]])
    order = start_order(order=order_for(plant, row["tag"]), by=who)
    notes, minutes = row["notes"].split(";"), int(row["minutes"])
    for step, note in zip(order.steps.order_by("number"), notes, strict=True):
        plant.clock.wait(minutes / len(notes))
        finish_step(step=step, note=note, by=who)
    for word in row["parts"].split(";") if row["parts"] else ():
        name, _, amount = word.partition(" x ")
        use_part(order=order, part=Part.objects.get(site=plant.site, name=name), amount=amount, by=who)
    write_labour(order=order, person=who, time=TimeTyped(minutes=minutes), by=who)
    finish_order(order=order, found=row["found"], failure=_failure(row), by=who)


def _stock(plant: Plant, row: Mapping[str, str]) -> None:
    """Register a part and put what came of it on its shelf."""
    typed = PartTyped(
        name=row["name"],
        unit=row["unit"],
        bin=row["bin"],
        least=row["least"],
        lead_days=int(row["lead days"]),
        price=row["price"],
    )
    part = register_part(site=plant.site, part=typed, by=plant.person(cast.RUTH))
    receive_part(part=part, amount=row["received"], expires=None, price=row["price"], by=plant.person(cast.TOMAS))


def _failure(row: Mapping[str, str]) -> FailureTyped | None:
    """How it had failed; None for work that mended nothing."""
    if not row["shows"]:
        return None
    return FailureTyped(shows=row["shows"], mechanism=row["mechanism"], cause=row["cause"], detected=row["detected"])


def _ask_to_put_off(plant: Plant) -> None:
    plan = Plan.objects.select_related("site", "position").get(
        site=plant.site, position__tag=PUT_OFF[0], title=PUT_OFF[1]
    )
    item = Occurrence.objects.open().select_related("plan__site", "plan__position").filter(plan=plan).order_by("due")[0]
    ask_deferral(
        occurrence=item,
        to_day=plant.days.back(150),
        because="the grease gun is out on loan",
        risk="dry bearings at full summer flow: felt by hand on each round",
        by=plant.person(cast.JOSS),
    )


def _refuse(plant: Plant) -> None:
    asked = Deferral.objects.select_related("plan__site").get(site=plant.site, decided_at=None)
    decide_deferral(
        deferral=asked,
        approved=False,
        because="a bearing lasts longer than a loan: fetch the grease gun and do it this week",
        proof=None,
        by=plant.person(cast.RUTH),
    )


def _force(plant: Plant) -> None:
    now = plant.clock.now
    typed = OverrideTyped(
        kind="forced value",
        what="level of the clearwell on the HMI",
        way="HMI",
        place="HMI, clearwell faceplate",
        value="3.10",
        unit="m",
        basis="tape at seven this morning",
        last_good="3.12",
        last_good_at=now - dt.timedelta(minutes=15),
        reason="the level jumps when the pumps start, and the high-lift pumps stop each time",
        measures="level by tape, rate of the high-lift pumps left alone",
        every_hours=6,
        limit_at=now + dt.timedelta(hours=12),
        on_since=now,
        cannot_wait="the pumps stopped four times in the night",
    )
    ask_override(position=plant.tag("LIT-610"), typed=typed, by=plant.person(cast.INES))
    plant.clock.wait(20)
    approve_override(override=_newest(plant), proof=plant.proof(cast.RUTH), by=plant.person(cast.RUTH))


def _newest(plant: Plant) -> Override:
    return Override.objects.select_related("site", "position").filter(site=plant.site).order_by("-number")[0]


def _look(plant: Plant) -> None:
    looked = LookTyped(value="3.04", unit="m", source="tape", taken_at=plant.clock.now, agrees=True)
    look_at_override(override=_newest(plant), typed=looked, by=plant.person(cast.TOMAS))


def _take_off(plant: Plant) -> None:
    take_off(override=_newest(plant), words="damping set to 30 s, value live again", by=plant.person(cast.INES))
    plant.clock.wait(25)
    see_restored(
        override=_newest(plant),
        how="value moved",
        words="moved from 3.02 to 2.96 m while both pumps ran",
        proof=plant.proof(cast.TOMAS),
        by=plant.person(cast.TOMAS),
    )
