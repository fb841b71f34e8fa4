"""Spare parts, templates of work orders, time and costs for tests, made by the actions."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from assets.models import Person, Position, Site
from maintenance.actions.labour import TimeTyped, write_cost, write_labour
from maintenance.actions.order_checks import ask_checks
from maintenance.actions.order_steps import NewStep
from maintenance.actions.order_templates import (
    TemplateTyped,
    add_template_part,
    add_template_step,
    register_template,
)
from maintenance.actions.orders import plan_order, start_order
from maintenance.actions.parts import PartTyped, receive_part, register_part
from maintenance.models import (
    Labour,
    OrderCost,
    OrderTemplate,
    Part,
    PartMove,
    ReturnCheck,
    TemplatePart,
    TemplateStep,
    WorkOrder,
)
from tests.make_upkeep import make_order, make_plan

NUMBERS = itertools.count(1)


def make_part(*, site: Site, by: Person, stock: str = "", **other: object) -> Part:
    """A part of the register; `stock` is received at once."""
    facts: dict[str, object] = {"name": f"Seal ring {next(NUMBERS)} mm", "unit": "piece", "bin": "3-C", **other}
    part = register_part(site=site, part=PartTyped(**facts), by=by)  # type: ignore[arg-type]
    if stock:
        receive_part(part=part, amount=stock, expires=None, price="", by=by)
    return part


def in_stock(part: Part) -> int:
    """What the moves of a part come to, in thousandths."""
    return sum(PartMove.objects.filter(part=part).values_list("thousandths", flat=True))


def make_template(
    *, site: Site, by: Person, machine: str = "", steps: tuple[str, ...] = ("Shut the valve",)
) -> OrderTemplate:
    """A template of a title of its own."""
    typed = TemplateTyped(
        machine=machine, title=f"Change the oil {next(NUMBERS)}", type="preventive", reason="The sheet asks for it."
    )
    return register_template(site=site, template=typed, steps=list(steps), by=by)


def make_started(position: Position, *, by: Person, kind: str = "", planner: Person | None = None) -> WorkOrder:
    """A work order under way; `planner` says what kind of work it is."""
    order = make_order(position, by=by, type=kind)
    if planner is not None:
        plan_order(order=order, in_charge=by, wanted_by=None, planned_minutes=60, steps=[], by=planner)
    return start_order(order=order, by=by)


def make_return_check(order: WorkOrder, *, by: Person) -> ReturnCheck:
    """A check of a tag's own that an order needs before it is accepted."""
    assert order.position is not None
    plan = make_plan(order.position, by=by, kind="verify", title=f"Verification {next(NUMBERS)}")
    ask_checks(order=order, checks=[plan], by=by)
    return ReturnCheck.objects.get(order=order, plan=plan)


@dataclass(frozen=True)
class Store:
    """One of everything that addresses of parts, templates and records of an order name."""

    part: Part
    template: OrderTemplate
    step: TemplateStep
    needed: TemplatePart
    labour: Labour
    cost: OrderCost
    check: ReturnCheck


def make_store(order: WorkOrder, *, by: Person, keeper: Person) -> Store:
    """Make them at the site of an order."""
    part = make_part(site=order.site, by=keeper, stock="2")
    template = make_template(site=order.site, by=keeper)
    reads = NewStep("Read the pressure", None, "discharge pressure", "bar", "2", "4")
    return Store(
        part=part,
        template=template,
        step=add_template_step(template=template, step=reads, by=keeper),
        needed=add_template_part(template=template, part=part, amount="1", by=keeper),
        labour=write_labour(order=order, person=by, time=TimeTyped(minutes=20), by=by),
        check=make_return_check(order, by=keeper),
        cost=write_cost(order=order, amount="120", what="Crane", by=keeper),
    )
