"""Steps of work orders: added, done; a step that carries out a routine fulfils it when it is done."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Max

from assets import history
from assets.actions.readings import ReadingFacts, add_reading
from assets.compute.numbers import NotANumber, read_number
from assets.compute.units import UnknownUnit, same_quantity, unit_of
from assets.errors import Reason, Refusal, Stale
from assets.history import UPKEEP, Act
from assets.models import Asset, Face, Person, Position, Reading, Site
from assets.permissions import OPERATORS, must_have_role
from maintenance.actions.performances import record_performance
from maintenance.compute.orders import OPEN
from maintenance.models import Plan, Step, WorkOrder


@dataclass(frozen=True, slots=True)
class NewStep:
    """What is to be done, the routine it carries out if it does, and the value it asks for with its limits as typed."""

    text: str
    plan: Plan | None = None
    quantity: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""


def add_steps(act: Act, order: WorkOrder, steps: list[str] | list[NewStep]) -> list[Step]:
    """Put steps behind those the order has, as part of another act."""
    newest = order.steps.aggregate(newest=Max("number"))["newest"] or 0
    wanted = [NewStep(step) if isinstance(step, str) else step for step in steps]
    return [
        act.add(
            Step(
                order=order,
                number=number,
                text=step.text.strip(),
                plan=step.plan,
                quantity=step.quantity,
                unit=step.unit,
                low=step.low,
                high=step.high,
            )
        )
        for number, step in enumerate((step for step in wanted if step.text.strip()), start=newest + 1)
    ]


def checked_step(step: NewStep, site: Site, of: Position | Asset | None = None) -> NewStep:
    """Return a step as it is kept: trimmed, its unit by its code. Refuses limits that are none and a wrong unit.

    Part of the acts that write steps; opens none itself.
    """
    text, quantity, unit, low, high = (
        part.strip() for part in (step.text, step.quantity, step.unit, step.low, step.high)
    )
    faults = [] if text else [Reason("Step: write what is to be done.", "text")]
    if not (quantity or unit or low or high):
        if faults:
            raise Refusal(faults)
        return NewStep(text, step.plan)
    if not quantity:
        faults.append(Reason("Write what is read, like “discharge pressure”.", "quantity"))
    try:
        unit = unit_of(unit).code
    except UnknownUnit as wrong:
        faults.append(Reason(str(wrong) if unit else "Choose the unit it is read in.", "unit"))
    else:
        faults += _other_quantity(of, quantity, unit)
    faults += _limit_faults(low, high, site)
    if faults:
        raise Refusal(faults)
    return NewStep(text, step.plan, quantity, unit, low, high)


def _other_quantity(of: Position | Asset | None, quantity: str, unit: str) -> list[Reason]:
    own = isinstance(of, Position) and of.unit and quantity.casefold() == of.quantity.casefold()
    if own and isinstance(of, Position) and not same_quantity(unit, of.unit):
        return [Reason(f"{of.tag} reads in {of.unit}; {unit} measures something else.", "unit")]
    return []


def _limit_faults(low: str, high: str, site: Site) -> list[Reason]:
    faults, values = [], {}
    for name, text in (("low", low), ("high", high)):
        try:
            values[name] = read_number(text, decimal_mark=site.decimal_mark) if text else None
        except NotANumber as wrong:
            faults.append(Reason(str(wrong), name))
    bottom, top = values.get("low"), values.get("high")
    if bottom is not None and top is not None and bottom > top:
        faults.append(Reason(f"The lowest allowed value, {low}, is above the highest, {high}.", "high"))
    return faults


def add_step(*, order: WorkOrder, text: str, by: Person, asks: NewStep | None = None) -> Step:
    """Put one more step behind those the order has; `asks` says which value it asks for."""
    must_have_role(by, order.site, OPERATORS, to="add a step")
    step = NewStep(text) if asks is None else asks
    wanted = checked_step(step, order.site, order.position or order.asset)
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        order.refresh_from_db(fields=["state"])
        if order.state not in OPEN:
            raise Refusal(f"Work order {order.number} is {order.state}; it takes no more steps.")
        added = add_steps(act, order, [wanted])[0]
        act.write("order.step_added", subject=order, facts={"number": added.number, "text": added.text})
    return added


def finish_step(*, step: Step, note: str, by: Person, entered: str = "", answer: str = "") -> Step:
    """Record a step as done. If it carries out a routine whose work is recorded in words, that routine is fulfilled.

    `entered` is the value a step asks for, as typed; `answer` what is done about one outside its limits.
    """
    order = step.order
    must_have_role(by, order.site, OPERATORS, to="record a step as done")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        order.refresh_from_db(fields=["state"])
        if order.state != "under way":
            raise Refusal(f"Work order {order.number} is {order.state}; a step is done while it is under way.")
        if Step.objects.filter(pk=step.pk, done_at__isnull=False).exists():
            raise Stale(f"Step {step.number} was recorded as done by somebody else meanwhile. Nothing was changed.")
        facts = {"number": step.number, "text": step.text, "note": note.strip()}
        read: dict[str, object] = {}
        if step.reads:
            row, said = _read_value(act, step, entered, answer)
            read, facts = {"reading": row, "answer": said}, {**facts, "value": f"{row.entered} {row.unit}"}
            facts |= {"answer": said} if said else {}
        act.close(step, done_at=act.at, done_by=by, note=note.strip(), **read)
        act.write("order.step_done", subject=order, facts=facts)
        _fulfil(act, step, by)
    return step


def _read_value(act: Act, step: Step, entered: str, answer: str) -> tuple[Reading, str]:
    """Keep the value a step asks for as a reading of its tag; outside its limits it asks what is done about it."""
    order = step.order
    if not entered.strip():
        raise Refusal(f"Write the {step.quantity} that is read, in {step.unit}.", field="entered")
    try:
        value = read_number(entered, decimal_mark=order.site.decimal_mark)
    except NotANumber as wrong:
        raise Refusal(str(wrong), field="entered") from wrong
    outside = step.outside(value)
    if outside and not answer.strip():
        raise Refusal(
            f"{entered.strip()} {step.unit} is {outside}. Read it once more; if it stays, write here what is done "
            "about it.",
            field="answer",
        )
    of = (step.plan.position if step.plan else None) or order.position or order.asset
    assert of is not None
    facts = ReadingFacts(
        what=step.quantity,
        entered=entered,
        unit=step.unit,
        face=Face.DISPLAY,
        source=f"Work order {order.number}, step {step.number}",
    )
    return add_reading(act, of=of, facts=facts), answer.strip() if outside else ""


def _fulfil(act: Act, step: Step, by: Person) -> None:
    if step.plan is None or not step.plan.by_hand or step.plan.retired_at is not None:
        return
    record_performance(
        plan=step.plan,
        key=f"step-{step.pk}",
        performed_at=act.at,
        counts=True,
        because="",
        asset=None,
        source_label=f"Work order {step.order.number}, step {step.number}",
        source_path=step.order.get_absolute_url(),
        by=by,
    )


def refuse_open_steps(order: WorkOrder) -> None:
    """Refuse the end of an order while one of its steps is not done."""
    left = list(order.steps.filter(done_at__isnull=True).order_by("number"))
    if left:
        words = ", ".join(str(step.number) for step in left)
        raise Refusal(f"Not done yet: step{'s' if len(left) > 1 else ''} {words}. Record each step first.")
