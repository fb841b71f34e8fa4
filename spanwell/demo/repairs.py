"""Repairs under own locks that are long over: two breakdowns of a year ago, a seal, and new packing."""

from __future__ import annotations

from dataclasses import dataclass

from maintenance.actions.lockout.ending import Acceptance, accept, close_lockout, tell_after
from maintenance.actions.order_failures import FailureTyped
from maintenance.actions.order_steps import finish_step
from maintenance.actions.orders import finish_order, start_order
from maintenance.compute.lockout import PEOPLE, TOOLS
from maintenance.reads.locks_acceptance import FORCED, SELECTOR
from spanwell.demo import cast
from spanwell.demo.isolation import ACCEPTANCE, CLOSING
from spanwell.demo.locking import Job, begin, isolate, off, prove_dead
from spanwell.demo.ordering import WORN, Wanted, ask_and_plan, order_for
from spanwell.demo.ordering import accept as accept_order
from spanwell.demo.plant import Plant


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """One repair: asked for so many days back, done and accepted later; a note for each of its steps."""

    wanted: Wanted
    why: str
    days: tuple[int, int, int]
    time: str
    notes: tuple[str, ...]
    minutes: int
    full: str
    hours: str
    found: str
    failure: FailureTyped


SEIZED = FailureTyped(shows="stops by itself", mechanism="material", cause="operation", detected="production")
NO_WATER = FailureTyped(shows="low output", mechanism="mechanical", cause="other", detected="production")
REPAIRS = (
    Repair(
        wanted=Wanted(
            tag="P-01",
            title="Pump tripped, shaft does not turn",
            reason="Motor protection tripped at 04:20; shaft cannot be turned by hand. P-02 carries the plant.",
            by=cast.JOSS,
            type="corrective immediate",
            steps=("Coupling apart, which side is stiff", "Drive end bearing out, shaft looked at", "New bearing in"),
            in_charge=cast.NOOR,
            days=2,
        ),
        why="bearing seized",
        days=(402, 401, 400),
        time="08:10",
        notes=("pump side", "blue from heat, cage broken, shaft sound", "6312, greased, turns by hand"),
        minutes=95,
        full="410 kPa",
        hours="31240",
        found="Drive end bearing seized, no grease left; replaced, both bearings on the greasing list.",
        failure=SEIZED,
    ),
    Repair(
        wanted=Wanted(
            tag="P-71",
            title="Gives no pressure after a start",
            reason="Discharge stays at 280 kPa with the valve open; P-72 carries the hillside.",
            by=cast.INES,
            type="corrective immediate",
            steps=("Casing open, impeller looked at", "Free, close, vent"),
            in_charge=cast.NOOR,
            days=1,
        ),
        why="no pressure",
        days=(227, 226, 225),
        time="09:40",
        notes=("a rag in the eye of the impeller", "vented, gasket new"),
        minutes=60,
        full="690 kPa",
        hours="22105",
        found="Rag from the work on the main in May; taken out, impeller whole, suction strainer put back.",
        failure=NO_WATER,
    ),
    Repair(
        wanted=Wanted(
            tag="P-61",
            title="Replace packing",
            reason="Drip above 60 a minute on three walks; the gland is at its end.",
            by=cast.TOMAS,
            steps=("Old packing out, sleeve looked at", "Five new rings in, gland evenly set"),
            in_charge=cast.NOOR,
        ),
        why="packing",
        days=(46, 41, 40),
        time="07:50",
        notes=("sleeve smooth", "five rings, cut ends turned"),
        minutes=48,
        full="690 kPa",
        hours="18422",
        found="Packing hard and grooved; replaced, drips 20 a minute.",
        failure=WORN,
    ),
)


def tell_repairs(plant: Plant) -> None:
    """Write each repair: work under own locks, given back, accepted."""
    at, add = plant.days.at, plant.script.add
    for repair in REPAIRS:
        asked, done, accepted = repair.days
        number = repair.wanted.tag.removeprefix("P-")
        locks = {"17": f"B-{number}", "18": f"V-{number}1", "19": f"V-{number}2"}
        job = Job(plant, repair.wanted.tag, locks, None, (cast.INES, cast.TOMAS))
        add(at(asked, "09:10"), ask_and_plan, plant, repair.wanted)
        add(at(done, repair.time), _mend, plant, job, repair)
        add(at(accepted, "13:30"), accept_order, plant, repair.wanted.tag)


def _mend(plant: Plant, job: Job, repair: Repair) -> None:
    noor = plant.person(cast.NOOR)
    order = start_order(order=order_for(plant, repair.wanted.tag), by=noor)
    begin(job, order=order, why=repair.why)
    isolate(job)
    prove_dead(job)
    for step, note in zip(order.steps.order_by("number"), repair.notes, strict=True):
        plant.clock.wait(repair.minutes)
        finish_step(step=step, note=note, by=noor)
    plant.clock.wait(6)
    answers = {question: "yes" for question in (*CLOSING[:2], TOOLS, PEOPLE)}
    for number in ("17", "18", "19"):
        off(job, number, answers)
        answers = {}
        plant.clock.wait(1)
    close_lockout(lockout=job.lockout, by=noor)
    for part in job.told:
        tell_after(lockout=job.lockout, name=part.name, how="spoken", by=noor)
    plant.clock.wait(14)
    _take_back(plant, job, repair)
    finish_order(order=order, found=repair.found, failure=repair.failure, by=noor)


def _take_back(plant: Plant, job: Job, repair: Repair) -> None:
    lines = dict.fromkeys(ACCEPTANCE[:2], "yes") | {ACCEPTANCE[2]: repair.full}
    lines |= {SELECTOR: "Auto, as told by the day plan", FORCED: "none"}
    accept(
        lockout=job.lockout,
        acceptance=Acceptance(lines=lines, hours=repair.hours),
        by=plant.person(cast.INES),
        proof=plant.proof(cast.INES),
    )
