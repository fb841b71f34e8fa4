"""What people make of the checks: a baseline, advice that was left, standards withdrawn, a failed check reviewed."""

from __future__ import annotations

from assets.models import Asset
from calibration.actions.recall import withdraw_standard
from calibration.actions.reviews import review_check
from calibration.actions.studies import decide_interval, fix_baseline
from calibration.models import Check, Lot
from calibration.reads.history import advice_named
from calibration.reads.orders import order_of
from calibration.reads.recall import reach_of
from calibration.reads.seen import seen_of
from maintenance.actions.order_steps import finish_step
from maintenance.actions.orders import accept_order, finish_order, plan_order, start_order
from spanwell.demo import cast
from spanwell.demo.ordering import FILMED
from spanwell.demo.plant import Plant
from spanwell.demo.rounds import CHLORINE, FAILED, FLOW, REDOX, requirement
from spanwell.demo.shelf import jar_lot

BASELINE_OF = 11
FIXED_ON = REDOX.days[BASELINE_OF - 1] - 2
DECIDED_ON = FLOW.days[-1] - 1
WITHDRAWN_ON, IN_DOUBT_SINCE = 33, 70
"""A lot of solution: what it put in doubt was done again, the matter is settled."""
CROOKED, LAMP_ON, SEEN_ON = "B-1302", 115, 2
"""The bench photometer: nobody has another one, so what rested on it is owed still."""


def draw_conclusions(plant: Plant) -> None:
    """Write what followed from the checks, each on its day."""
    at, add = plant.days.at, plant.script.add
    add(at(FAILED, "13:30"), _plan_cleaning, plant)
    add(at(FAILED - 1, "11:15"), _review, plant)
    add(at(FAILED - 1, "11:30"), _clean, plant)
    add(at(FAILED - 2, "09:05"), _accept, plant)
    add(at(FIXED_ON, "15:50"), _fix_baseline, plant)
    add(at(WITHDRAWN_ON, "14:20"), _withdraw_lot, plant)
    add(at(SEEN_ON, "15:05"), _withdraw_photometer, plant)
    add(at(DECIDED_ON, "11:00"), _leave_advice, plant)


def _failed(plant: Plant) -> Check:
    rows = Check.objects.filter(site=plant.site, position__tag=CHLORINE.tag, sets__outcome__verdict="fail")
    return rows.order_by("-number")[0]


def _plan_cleaning(plant: Plant) -> None:
    order = order_of(_failed(plant))
    assert order is not None
    plan_order(
        order=order,
        in_charge=plant.person(cast.TOMAS),
        wanted_by=plant.days.back(FAILED - 3),
        planned_minutes=45,
        steps=["Look at reagent, tubing and cell", "Compare with one more grab the next day"],
        by=plant.person(cast.RUTH),
    )


def _review(plant: Plant) -> None:
    note = "Read high since the reagents were changed; adjusted, as left is good. Daily reports of the time looked at."
    review_check(check=_failed(plant), note=note, proof=plant.proof(cast.RUTH), by=plant.person(cast.RUTH))


def _clean(plant: Plant) -> None:
    tomas, order = plant.person(cast.TOMAS), order_of(_failed(plant))
    assert order is not None
    order = start_order(order=order, by=tomas)
    notes = ("a film in the cell, wiped off", "0.02 mg/L apart")
    for step, note in zip(order.steps.order_by("number"), notes, strict=True):
        plant.clock.wait(15)
        finish_step(step=step, note=note, by=tomas)
    found = "Film in the measuring cell; wiped, reads with the grab again."
    finish_order(order=order, found=found, failure=FILMED, by=tomas)


def _accept(plant: Plant) -> None:
    order = order_of(_failed(plant))
    assert order is not None
    accept_order(order=order, by=plant.person(cast.RUTH))


def _fix_baseline(plant: Plant) -> None:
    what = requirement(plant, REDOX)
    seen = seen_of(what, "error")
    fix_baseline(
        requirement=what,
        figure="error",
        first=seen[-BASELINE_OF].set_id,
        last=seen[-1].set_id,
        why="one probe, never adjusted, two lots of solution, nothing unusual at the contact tank",
        by=plant.person(cast.RUTH),
    )


def _withdraw_lot(plant: Plant) -> None:
    because = "its maker wrote that the bottles of this lot were filled too weak, by about 2 %"
    _withdraw(plant, jar_lot(plant, "kcl-b"), IN_DOUBT_SINCE, because)


def _withdraw_photometer(plant: Plant) -> None:
    because = "the lamp put in that day sits crooked: it reads 2 % too low beside a borrowed photometer"
    _withdraw(plant, plant.asset(CROOKED), LAMP_ON, because)


def _withdraw(plant: Plant, standard: Lot | Asset, since: int, because: str) -> None:
    """Withdraw a standard with the checks that its page shows to who signs."""
    lot, asset = (standard, None) if isinstance(standard, Lot) else (None, standard)
    day = plant.days.back(since)
    reach = reach_of(site=plant.site, lot=lot, asset=asset, from_day=day)
    withdraw_standard(
        site=plant.site,
        standard=standard,
        from_day=day,
        because=because,
        seen=[one.check.number for one in reach.checks.values()],
        proof=plant.proof(cast.RUTH),
        by=plant.person(cast.RUTH),
    )


def _leave_advice(plant: Plant) -> None:
    what = requirement(plant, FLOW)
    advice = advice_named(what, "staircase")
    assert advice is not None
    assert advice.days is not None
    decide_interval(
        requirement=what,
        method="staircase",
        days=advice.days,
        taken=False,
        why="the monthly flow report rests on this meter, and its error has grown at every check",
        from_day=plant.day,
        by=plant.person(cast.RUTH),
    )
