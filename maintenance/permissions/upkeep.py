"""Who gets at which routine, due item and work order, and what their role may do with it."""

from __future__ import annotations

from assets.permissions import OPERATORS, SUPERVISORS, Desk, found
from maintenance.compute.orders import OrderAct, acts_from
from maintenance.models import (
    AlsoFulfils,
    Deferral,
    Handover,
    Labour,
    Occurrence,
    OrderCost,
    OrderTemplate,
    Override,
    OverrideExtension,
    Part,
    Pause,
    Performance,
    Plan,
    Prerequisite,
    ReturnCheck,
    Step,
    TemplatePart,
    TemplateStep,
    WorkOrder,
)

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


def labour_for(desk: Desk, number: int, pk: int) -> Labour:
    """Time written on a work order of the asking person's site."""
    rows = Labour.objects.filter(order__site=desk.site, order__number=number)
    return found(rows.select_related("order__site", "order__position", "person"), pk=pk)


def cost_for(desk: Desk, number: int, pk: int) -> OrderCost:
    """A cost written on a work order of the asking person's site."""
    rows = OrderCost.objects.filter(order__site=desk.site, order__number=number)
    return found(rows.select_related("order__site", "order__position"), pk=pk)


def check_for(desk: Desk, number: int, pk: int) -> ReturnCheck:
    """A check that a work order of the asking person's site needs before it is accepted, and is still asked."""
    rows = ReturnCheck.objects.filter(order__site=desk.site, order__number=number, ended_at__isnull=True)
    return found(rows.select_related("order__site", "order__position", "order__asset", "plan", "asked_by"), pk=pk)


def part_for(desk: Desk, pk: int) -> Part:
    """A spare part of the asking person's site."""
    return found(Part.objects.at(desk.site).select_related("site"), pk=pk)


def template_for(desk: Desk, pk: int) -> OrderTemplate:
    """A template of work orders of the asking person's site."""
    return found(OrderTemplate.objects.at(desk.site).select_related("site"), pk=pk)


def template_step_for(desk: Desk, pk: int, line: int) -> TemplateStep:
    """A step of a template of the asking person's site."""
    rows = TemplateStep.objects.filter(template__site=desk.site, template=pk)
    return found(rows.select_related("template__site"), pk=line)


def template_part_for(desk: Desk, pk: int, line: int) -> TemplatePart:
    """A part of a template of the asking person's site."""
    rows = TemplatePart.objects.filter(template__site=desk.site, template=pk)
    return found(rows.select_related("template__site", "part"), pk=line)


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


def pause_for(desk: Desk, pk: int) -> Pause:
    """A pause of the asking person's site that has not ended."""
    rows = Pause.objects.filter(site=desk.site, to_day__isnull=True)
    return found(rows.select_related("site", "plan__site", "plan__position", "position__site"), pk=pk)


def fulfils_for(desk: Desk, pk: int) -> AlsoFulfils:
    """A declared fulfilment of the asking person's site that has not ended."""
    rows = AlsoFulfils.objects.filter(plan__site=desk.site, to_day__isnull=True)
    return found(rows.select_related("plan__site", "plan__position", "fulfils__site", "fulfils__position"), pk=pk)


def need_for(desk: Desk, pk: int) -> Prerequisite:
    """Something that must be so first, at the asking person's site, and is still asked."""
    rows = Prerequisite.objects.filter(plan__site=desk.site, ended_at__isnull=True)
    return found(rows.select_related("plan__site", "plan__position"), pk=pk)


def deferral_for(desk: Desk, pk: int) -> Deferral:
    """A deferral asked for at the asking person's site."""
    rows = Deferral.objects.filter(site=desk.site)
    return found(rows.select_related("plan__site", "plan__position", "plan__asset", "asked_by"), pk=pk)


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
