"""Work orders that checks and lockouts did not raise, so that one stands in every state an order can be in."""

from __future__ import annotations

from assets.compute.words import day_of_year
from maintenance.actions.labour import TimeTyped, write_labour
from maintenance.actions.order_steps import finish_step
from maintenance.actions.orders import finish_order, start_order, wait_order, withdraw_order
from spanwell.demo import cast
from spanwell.demo.ordering import STRUCK, Wanted, ask_and_plan, ask_for, order_for
from spanwell.demo.plant import Plant

DOUBTFUL = Wanted(
    tag="LIT-601",
    title="Level jumps at night",
    reason="Two steps of 5 cm on the trend, both at 02:00.",
    by=cast.JOSS,
)
SCREEN = Wanted(
    tag="STR-05",
    title="Straighten the bent screen panel",
    reason="Found when cleaning: lower panel bent, a finger's gap at the frame.",
    by=cast.JOSS,
    steps=("Panel out, straightened or replaced", "Panel back, gap closed all around"),
    days=9,
)
DISPLAY = Wanted(
    tag="FIT-330",
    title="Replace the dim display",
    reason="Display can hardly be read in daylight; the signal itself is good.",
    by=cast.INES,
    steps=("Fit the new display", "Compare display and HMI at two flows"),
    in_charge=cast.INES,
    days=14,
)
COUPLING = Wanted(
    tag="P-62",
    title="Replace the coupling element",
    reason="Rubber cracked, seen through the guard with the pump at rest.",
    by=cast.TOMAS,
    steps=("Lock out P-62", "New element in, gap measured", "Guard on, locks off"),
    days=13,
)
DRIP = Wanted(
    tag="P-41",
    title="Outlet valve drips",
    reason="A crust of soda ash below the outlet valve; about a drop a minute.",
    by=cast.JOSS,
)


def order_work(plant: Plant) -> None:
    """Write the orders: withdrawn, done, waiting, planned, raised."""
    days, add = plant.days, plant.script.add
    add(days.at(52, "10:15"), ask_for, plant, DOUBTFUL)
    add(days.at(51, "09:00"), _withdraw, plant)
    add(days.at(9, "08:30"), ask_and_plan, plant, SCREEN)
    add(days.at(2, "13:00"), _mend_screen, plant)
    add(days.at(8, "09:30"), ask_and_plan, plant, DISPLAY)
    add(days.at(5, "08:20"), _wait_for_display, plant)
    add(days.at(4, "10:10"), ask_and_plan, plant, COUPLING)
    add(days.at(1, "16:40"), ask_for, plant, DRIP)


def _withdraw(plant: Plant) -> None:
    because = "the steps are the booster pumps starting together; seen again by hand"
    withdraw_order(order=order_for(plant, "LIT-601"), because=because, by=plant.person(cast.RUTH))


def _mend_screen(plant: Plant) -> None:
    tomas = plant.person(cast.TOMAS)
    order = start_order(order=order_for(plant, "STR-05"), by=tomas)
    for step, note in zip(order.steps.order_by("number"), ("straightened on the bench", "no gap left"), strict=True):
        plant.clock.wait(35)
        finish_step(step=step, note=note, by=tomas)
    write_labour(order=order, person=tomas, time=TimeTyped(minutes=80), by=tomas)
    found = "Panel bent by a branch; straightened, frame sound."
    finish_order(order=order, found=found, failure=STRUCK, by=tomas)


def _wait_for_display(plant: Plant) -> None:
    ines = plant.person(cast.INES)
    order = start_order(order=order_for(plant, "FIT-330"), by=ines)
    plant.clock.wait(20)
    promised = plant.days.back(-5)
    wait_order(order=order, waiting_for=f"display board, promised for {day_of_year(promised)}", by=ines)
