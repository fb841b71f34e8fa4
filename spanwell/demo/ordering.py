"""How people of the plant raise, plan and accept a work order."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from maintenance.actions.order_failures import FailureTyped
from maintenance.actions.orders import accept_order, plan_order, raise_work_order
from maintenance.models import WorkOrder
from spanwell.demo import cast
from spanwell.demo.cast import Part
from spanwell.demo.plant import Plant

COATED = FailureTyped(shows="reads wrong", mechanism="material", cause="operation", detected="functional test")
FILMED = FailureTyped(shows="drifts", mechanism="instrument", cause="operation", detected="functional test")
WORN = FailureTyped(shows="leaks outside", mechanism="material", cause="operation", detected="inspection")
STRUCK = FailureTyped(shows="leaks inside", mechanism="external", cause="other", detected="upkeep")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A piece of work as somebody asks for it and the supervisor plans it, wanted so many `days` later."""

    tag: str
    title: str
    reason: str
    by: Part
    type: str = "corrective deferred"
    steps: tuple[str, ...] = ()
    in_charge: Part = cast.TOMAS
    days: int = 7


def order_for(plant: Plant, tag: str) -> WorkOrder:
    """The newest work order of a tag."""
    return WorkOrder.objects.select_related("site", "position").filter(position=plant.tag(tag)).order_by("-number")[0]


def ask_for(plant: Plant, wanted: Wanted) -> WorkOrder:
    """Raise an order."""
    return raise_work_order(
        site=plant.site,
        position=plant.tag(wanted.tag),
        title=wanted.title,
        reason=wanted.reason,
        type=wanted.type,
        by=plant.person(wanted.by),
    )


def ask_and_plan(plant: Plant, wanted: Wanted) -> None:
    """Raise an order; the supervisor plans it the same day."""
    order = ask_for(plant, wanted)
    plant.clock.wait(95)
    plan_order(
        order=order,
        in_charge=plant.person(wanted.in_charge),
        wanted_by=plant.day + dt.timedelta(days=wanted.days),
        planned_minutes=150,
        steps=list(wanted.steps),
        by=plant.person(cast.RUTH),
    )


def accept(plant: Plant, tag: str) -> None:
    """The supervisor accepts what is done at a tag."""
    order = WorkOrder.objects.select_related("site", "done_by").get(position=plant.tag(tag), state="done")
    accept_order(order=order, by=plant.person(cast.RUTH))
