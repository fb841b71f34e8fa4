"""Two lockouts: one of P-61 that is long over, and that of P-72, which a visitor closes."""

from __future__ import annotations

from assets.actions import AssetFacts, fit_asset, register_asset, take_out_asset
from maintenance.actions.lockout.ending import Acceptance, accept, close_lockout, tell_after
from maintenance.actions.lockout.links import invite
from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run, end_test_run
from maintenance.actions.order_steps import finish_step
from maintenance.actions.orders import finish_order, start_order
from maintenance.compute.lockout import PEOPLE, TOOLS
from maintenance.reads.locks_acceptance import FORCED, SELECTOR
from spanwell.demo import cast
from spanwell.demo.isolation import ACCEPTANCE, CLOSING
from spanwell.demo.locking import Invited, Job, begin, hang, isolate, off, prove_dead
from spanwell.demo.ordering import WORN, Wanted, ask_and_plan, order_for
from spanwell.demo.ordering import accept as accept_order
from spanwell.demo.plant import Plant

OLD_PUMP, NEW_PUMP = "8-2214", "8-2291"
PACKING = Wanted(
    tag="P-61",
    title="Replace packing",
    reason="Drip above 60 a minute on three walks; the gland is at its end.",
    by=cast.TOMAS,
    steps=("Old packing out, sleeve looked at", "Five new rings in, gland evenly set"),
    in_charge=cast.NOOR,
)
NEW_BOOSTER = Wanted(
    tag="P-72",
    title="Replace the pump",
    reason="Bearing loud, seal leaks a litre an hour; repair costs more than the pump in the store.",
    by=cast.TOMAS,
    steps=(
        "Old pump out and away",
        "Motor uncoupled: direction of rotation tried",
        "New pump set, coupled, aligned; guard on",
        "Every lock off, people told, pump taken back",
    ),
    in_charge=cast.NOOR,
    days=18,
)
CLEAR = {TOOLS: "yes", PEOPLE: "yes"}
TEST_RUN_MINUTES_AGO = 74
FITTED_MINUTES_AGO = 24


def lock_out(plant: Plant) -> Invited:
    """Write both lockouts; returns where the contractor's link will stand once the story is played."""
    _tell_packing(plant)
    return _tell_booster(plant)


def _tell_packing(plant: Plant) -> None:
    """P-61: packing replaced under own locks, given back, accepted."""
    job = Job(plant, "P-61", {"17": "B-61", "18": "V-611", "19": "V-612"}, None, (cast.INES, cast.TOMAS))
    days, add = plant.days, plant.script.add
    add(days.at(46, "09:10"), ask_and_plan, plant, PACKING)
    add(days.at(41, "07:50"), _pack, plant, job)
    add(days.at(40, "13:30"), accept_order, plant, "P-61")


def _pack(plant: Plant, job: Job) -> None:
    noor = plant.person(cast.NOOR)
    order = start_order(order=order_for(plant, "P-61"), by=noor)
    begin(job, order=order, why="packing")
    isolate(job)
    prove_dead(job)
    for step, note in zip(
        order.steps.order_by("number"), ("sleeve smooth", "five rings, cut ends turned"), strict=True
    ):
        plant.clock.wait(48)
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
    _take_back(plant, job)
    found = "Packing hard and grooved; replaced, drips 20 a minute."
    finish_order(order=order, found=found, failure=WORN, by=noor)


def _take_back(plant: Plant, job: Job) -> None:
    lines = dict.fromkeys(ACCEPTANCE[:2], "yes") | {ACCEPTANCE[2]: "690 kPa"}
    lines |= {SELECTOR: "Auto, as told by the day plan", FORCED: "none"}
    accept(
        lockout=job.lockout,
        acceptance=Acceptance(lines=lines, hours="18422"),
        by=plant.person(cast.INES),
        proof=plant.proof(cast.INES),
    )


def _tell_booster(plant: Plant) -> Invited:
    """P-72: locked, the old pump taken out, the motor tried this morning, locked and tested again, the new pump in."""
    job = Job(plant, "P-72", {"14": "B-72", "15": "V-721", "16": "V-722"}, "3", (cast.INES, cast.TOMAS))
    invited = Invited()
    days, add = plant.days, plant.script.add
    add(days.at(18, "09:20"), ask_and_plan, plant, NEW_BOOSTER)
    add(days.at(16, "07:55"), _lock_booster, plant, job)
    add(days.at(16, "09:40"), _invite, plant, job, invited)
    add(days.at(15, "08:30"), _old_pump_out, plant, job)
    add(days.at(6, "13:15"), _new_pump, plant)
    add(days.ago(TEST_RUN_MINUTES_AGO), _try_motor, plant, job)
    add(days.ago(FITTED_MINUTES_AGO), _new_pump_in, plant)
    return invited


def _lock_booster(plant: Plant, job: Job) -> None:
    order = start_order(order=order_for(plant, "P-72"), by=plant.person(cast.NOOR))
    begin(job, order=order, why="the pump is replaced")
    isolate(job)
    prove_dead(job)


def _invite(plant: Plant, job: Job, invited: Invited) -> None:
    invited.issued = invite(lockout=job.lockout, person=plant.person(cast.DAVOR), by=plant.person(cast.RUTH))


def _old_pump_out(plant: Plant, job: Job) -> None:
    hang(job, "DM-4")
    plant.clock.wait(160)
    noor = plant.person(cast.NOOR)
    take_out_asset(position=plant.tag("P-72"), by=noor)
    step = order_for(plant, "P-72").steps.get(number=1)
    finish_step(step=step, note=f"{OLD_PUMP} out, flanges blanked", by=noor)


def _new_pump(plant: Plant) -> None:
    facts = AssetFacts(kind="Booster pump", serial=NEW_PUMP, note="from the store, papers in the office")
    register_asset(site=plant.site, facts=facts, by=plant.person(cast.RUTH))


def _try_motor(plant: Plant, job: Job) -> None:
    noor = plant.person(cast.NOOR)
    ask_for_test_run(lockout=job.lockout, why="direction of rotation, motor uncoupled", by=plant.person(cast.DAVOR))
    plant.clock.wait(2)
    off(job, "DM-4", CLEAR)
    for number in job.locks:
        plant.clock.wait(1)
        off(job, number)
    begin_test_run(lockout=job.lockout, minutes=15, by=noor, proof=plant.proof(cast.NOOR))
    plant.clock.wait(7)
    end_test_run(lockout=job.lockout, found="turns as the arrow on the casing shows", by=noor)
    isolate(job)
    prove_dead(job)
    plant.clock.wait(3)
    hang(job, "DM-4")
    finish_step(step=order_for(plant, "P-72").steps.get(number=2), note="as the arrow shows", by=noor)


def _new_pump_in(plant: Plant) -> None:
    """The new pump is fitted; whether the procedure fits it is left for the person in charge to answer."""
    fit_asset(position=plant.tag("P-72"), asset=plant.asset(NEW_PUMP), by=plant.person(cast.NOOR))
