"""The lockout of P-72, which a visitor closes; those that are long over stand with the repairs they were for."""

from __future__ import annotations

from assets.actions import AssetFacts, fit_asset, register_asset, take_out_asset
from maintenance.actions.lockout.links import invite
from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run, end_test_run
from maintenance.actions.order_steps import finish_step
from maintenance.actions.orders import start_order
from maintenance.compute.lockout import PEOPLE, TOOLS
from spanwell.demo import cast
from spanwell.demo.locking import Invited, Job, begin, hang, isolate, off, prove_dead
from spanwell.demo.ordering import Wanted, ask_and_plan, order_for
from spanwell.demo.plant import Plant
from spanwell.demo.repairs import tell_repairs

OLD_PUMP, NEW_PUMP = "8-2214", "8-2291"
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
    """Write the lockouts; returns where the contractor's link will stand once the story is played."""
    tell_repairs(plant)
    return _tell_booster(plant)


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
