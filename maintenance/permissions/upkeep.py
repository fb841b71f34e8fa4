"""Who gets at which routine, due item and work order, and what their role may do with it."""

from __future__ import annotations

from assets.permissions import OPERATORS, SUPERVISORS, Desk, found
from maintenance.compute.orders import OrderAct, acts_from
from maintenance.models import Handover, Occurrence, Override, OverrideExtension, Performance, Plan, Step, WorkOrder

# Which role each act on a work order takes.
_ROLES = {
    OrderAct.PLAN: SUPERVISORS,
    OrderAct.START: OPERATORS,
    OrderAct.WAIT: OPERATORS,
    OrderAct.RESUME: OPERATORS,
    OrderAct.FINISH: OPERATORS,
    OrderAct.ACCEPT: SUPERVISORS,
    OrderAct.SEND_BACK: SUPERVISORS,
    OrderAct.WITHDRAW: SUPERVISORS,
}


def plan_for(desk: Desk, pk: int) -> Plan:
    """A routine of the asking person's site."""
    return found(Plan.objects.at(desk.site).select_related("site", "position__area", "asset"), pk=pk)


def occurrence_for(desk: Desk, pk: int) -> Occurrence:
    """A due item of the asking person's site."""
    rows = Occurrence.objects.at(desk.site).select_related("plan__site", "plan__position__area", "plan__asset")
    return found(rows, pk=pk)


def performance_for(desk: Desk, pk: int) -> Performance:
    """A record of work on a routine of the asking person's site."""
    rows = Performance.objects.filter(plan__site=desk.site).select_related("plan__site", "plan__position", "asset")
    return found(rows, pk=pk)


def order_for(desk: Desk, number: int) -> WorkOrder:
    """A work order of the asking person's site, by its number."""
    rows = WorkOrder.objects.at(desk.site).select_related(
        "site", "position__area", "asset", "plan", "in_charge", "raised_by", "done_by", "accepted_by"
    )
    return found(rows, number=number)


def step_for(desk: Desk, number: int, step: int) -> Step:
    """A step of a work order of the asking person's site."""
    rows = Step.objects.filter(order__site=desk.site).select_related("order__site", "plan__site", "plan__position")
    return found(rows, order__number=number, number=step)


def override_for(desk: Desk, number: int) -> Override:
    """A forced value, hold, bypass or shelved alarm of the asking person's site, by its number."""
    rows = Override.objects.at(desk.site).select_related(
        "site", "position__area", "order", "owner", "asked_by", "approved_by", "refused_by", "removed_by", "restored_by"
    )
    return found(rows, number=number)


def extension_for(desk: Desk, pk: int) -> OverrideExtension:
    """More time asked for at the asking person's site."""
    rows = OverrideExtension.objects.filter(override__site=desk.site)
    return found(rows.select_related("override__site", "override__position", "asked_by"), pk=pk)


def handover_for(desk: Desk, number: int) -> Handover:
    """A handover of the asking person's site, by its number."""
    rows = Handover.objects.filter(site=desk.site).select_related("site", "made_by", "signature")
    return found(rows, number=number)


def may_keep_routines(desk: Desk) -> bool:
    """Whether the person registers, changes and retires routines."""
    return desk.may(SUPERVISORS)


def acts_for(desk: Desk, order: WorkOrder) -> tuple[OrderAct, ...]:
    """What the person may do with the order as it stands; nobody accepts their own work."""
    return tuple(
        act
        for act in acts_from(order.state)
        if desk.may(_ROLES[act]) and not (act is OrderAct.ACCEPT and order.done_by_id == desk.person.pk)
    )
