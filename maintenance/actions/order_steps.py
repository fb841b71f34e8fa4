"""Steps of work orders: added, done; a step that carries out a routine fulfils it when it is done."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Max

from assets import history
from assets.errors import Refusal, Stale
from assets.history import UPKEEP, Act
from assets.models import Person
from assets.permissions import OPERATORS, must_have_role
from maintenance.actions.performances import record_performance
from maintenance.compute.orders import OPEN
from maintenance.models import Plan, Step, WorkOrder


@dataclass(frozen=True, slots=True)
class NewStep:
    """What is to be done, and the routine it carries out, if it does."""

    text: str
    plan: Plan | None = None


def add_steps(act: Act, order: WorkOrder, steps: list[str] | list[NewStep]) -> list[Step]:
    """Put steps behind those the order has, as part of another act."""
    newest = order.steps.aggregate(newest=Max("number"))["newest"] or 0
    wanted = [NewStep(step) if isinstance(step, str) else step for step in steps]
    return [
        act.add(Step(order=order, number=number, text=step.text.strip(), plan=step.plan))
        for number, step in enumerate((step for step in wanted if step.text.strip()), start=newest + 1)
    ]


def add_step(*, order: WorkOrder, text: str, by: Person) -> Step:
    """Put one more step behind those the order has."""
    must_have_role(by, order.site, OPERATORS, to="add a step")
    if not text.strip():
        raise Refusal("Step: write what is to be done.", field="text")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        order.refresh_from_db(fields=["state"])
        if order.state not in OPEN:
            raise Refusal(f"Work order {order.number} is {order.state}; it takes no more steps.")
        step = add_steps(act, order, [text])[0]
        act.write("order.step_added", subject=order, facts={"number": step.number, "text": step.text})
    return step


def finish_step(*, step: Step, note: str, by: Person) -> Step:
    """Record a step as done. If it carries out a routine whose work is recorded in words, that routine is fulfilled."""
    order = step.order
    must_have_role(by, order.site, OPERATORS, to="record a step as done")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        order.refresh_from_db(fields=["state"])
        if order.state != "under way":
            raise Refusal(f"Work order {order.number} is {order.state}; a step is done while it is under way.")
        if Step.objects.filter(pk=step.pk, done_at__isnull=False).exists():
            raise Stale(f"Step {step.number} was recorded as done by somebody else meanwhile. Nothing was changed.")
        act.close(step, done_at=act.at, done_by=by, note=note.strip())
        facts = {"number": step.number, "text": step.text, "note": note.strip()}
        act.write("order.step_done", subject=order, facts=facts)
        if step.plan is not None and step.plan.by_hand and step.plan.retired_at is None:
            record_performance(
                plan=step.plan,
                key=f"step-{step.pk}",
                performed_at=act.at,
                counts=True,
                because="",
                asset=None,
                source_label=f"Work order {order.number}, step {step.number}",
                source_path=order.get_absolute_url(),
                by=by,
            )
    return step


def refuse_open_steps(order: WorkOrder) -> None:
    """Refuse the end of an order while one of its steps is not done."""
    left = list(order.steps.filter(done_at__isnull=True).order_by("number"))
    if left:
        words = ", ".join(str(step.number) for step in left)
        raise Refusal(f"Not done yet: step{'s' if len(left) > 1 else ''} {words}. Record each step first.")
