"""Templates of work orders for a kind of machine: kept by supervisors, turned into orders."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from django.db.models import Max

from assets import history
from assets.errors import Reason, Refusal
from assets.history import UPKEEP
from assets.models import KeptFile, Person, Position, Site
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from maintenance.actions.order_steps import NewStep, add_steps, checked_step
from maintenance.actions.orders import raise_work_order
from maintenance.actions.parts import amount_wanted
from maintenance.compute.stock import amount_text
from maintenance.models import NeededPart, OrderTemplate, OrderType, Part, TemplatePart, TemplateStep, WorkOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateTyped:
    """Kind of machine ('' is any), title, usual reason, type of the work, planned minutes."""

    machine: str
    title: str
    type: str
    reason: str = ""
    minutes: int | None = None

    def columns(self) -> dict[str, object]:
        """Return the columns of the row. Raises Refusal with every fault at its field."""
        faults = [] if self.title.strip() else [Reason("What is done: write it in a few words.", "title")]
        if self.type not in OrderType.values:
            faults.append(Reason("Choose what kind of work it is.", "type"))
        if faults:
            raise Refusal(faults)
        said = asdict(self)
        return {name: value.strip() if isinstance(value, str) else value for name, value in said.items()}


def register_template(*, site: Site, template: TemplateTyped, steps: list[str], by: Person) -> OrderTemplate:
    """Register a template with steps that read nothing; steps with values are added one by one."""
    must_have_role(by, site, SUPERVISORS, to="keep templates")
    columns = template.columns()
    with history.act(site=site, by=by) as act:
        row = act.add(OrderTemplate(site=site, **columns))
        for number, text in enumerate((text.strip() for text in steps if text.strip()), 1):
            act.add(TemplateStep(template=row, number=number, text=text, added_at=act.at, added_by=by))
        act.write("template.registered", subject=row, facts={**columns, "steps": steps})
    return row


def change_template(*, template: OrderTemplate, typed: TemplateTyped, version: int, by: Person) -> OrderTemplate:
    """Change the head of a template; orders that came from it stay as they are."""
    must_have_role(by, template.site, SUPERVISORS, to="keep templates")
    columns = typed.columns()
    with history.act(site=template.site, by=by) as act:
        act.change(template, expect={"version": version, "retired_at": None}, version=version + 1, **columns)
        act.write("template.changed", subject=template, facts=columns)
    return template


def retire_template(*, template: OrderTemplate, because: str, by: Person) -> OrderTemplate:
    """Offer a template no longer."""
    must_have_role(by, template.site, SUPERVISORS, to="keep templates")
    if not because.strip():
        raise Refusal("Because: write why it is not used any more.", field="because")
    with history.act(site=template.site, by=by) as act:
        act.change(template, expect={"retired_at": None}, retired_at=act.at)
        act.write("template.retired", subject=template, facts={"because": because.strip()})
    return template


def add_template_step(*, template: OrderTemplate, step: NewStep, by: Person) -> TemplateStep:
    """Put one more step behind those the template has."""
    must_have_role(by, template.site, SUPERVISORS, to="keep templates")
    wanted = checked_step(step, template.site)
    with history.act(site=template.site, by=by) as act:
        history.lock_site(UPKEEP, template.site)
        _must_stand(template)
        newest = template.steps.aggregate(newest=Max("number"))["newest"] or 0
        row = act.add(
            TemplateStep(
                template=template,
                number=newest + 1,
                text=wanted.text,
                quantity=wanted.quantity,
                unit=wanted.unit,
                low=wanted.low,
                high=wanted.high,
                added_at=act.at,
                added_by=by,
            )
        )
        act.write("template.step_added", subject=template, facts={"number": row.number, "text": row.text})
    return row


def end_template_step(*, step: TemplateStep, by: Person) -> TemplateStep:
    """Take a step out of a template; orders that came from it keep theirs."""
    must_have_role(by, step.template.site, SUPERVISORS, to="keep templates")
    with history.act(site=step.template.site, by=by) as act:
        act.close(step, ended_at=act.at, ended_by=by)
        act.write("template.step_taken_out", subject=step.template, facts={"number": step.number, "text": step.text})
    return step


def add_template_part(*, template: OrderTemplate, part: Part, amount: str, by: Person) -> TemplatePart:
    """Say which part an order from the template needs."""
    must_have_role(by, template.site, SUPERVISORS, to="keep templates")
    thousandths = amount_wanted(part, amount)
    if part.site_id != template.site_id:
        raise Refusal("This part belongs to another site.", field="part")
    with history.act(site=template.site, by=by) as act:
        _must_stand(template)
        row = act.add(TemplatePart(template=template, part=part, thousandths=thousandths, added_at=act.at, added_by=by))
        facts = {"part": part.name, "amount": amount_text(thousandths), "unit": part.unit}
        act.write("template.part_added", subject=template, facts=facts)
    return row


def end_template_part(*, part: TemplatePart, by: Person) -> TemplatePart:
    """Take a part out of a template."""
    must_have_role(by, part.template.site, SUPERVISORS, to="keep templates")
    with history.act(site=part.template.site, by=by) as act:
        act.close(part, ended_at=act.at, ended_by=by)
        act.write("template.part_taken_out", subject=part.template, facts={"part": part.part.name})
    return part


def _must_stand(template: OrderTemplate) -> None:
    template.refresh_from_db(fields=["retired_at"])
    if template.retired_at is not None:
        raise Refusal("This template is retired; nothing is added to it.")


def raise_from_template(
    *,
    template: OrderTemplate,
    position: Position,
    title: str,
    reason: str,
    wanted_by: dt.date | None,
    by: Person,
    files: Sequence[KeptFile] = (),
) -> WorkOrder:
    """Raise a work order with the steps and parts of a template as they stand now."""
    must_have_role(by, template.site, OPERATORS, to="raise a work order")
    with history.act(site=template.site, by=by) as act:
        _must_stand(template)
        order = raise_work_order(
            site=template.site,
            position=position,
            title=title,
            reason=reason,
            type=template.type,
            wanted_by=wanted_by,
            origin_label=f"Template “{template.title}”",
            origin_path=template.get_absolute_url(),
            files=files,
            by=by,
        )
        if template.minutes:
            act.change(order, planned_minutes=template.minutes)
        lines = template.steps.filter(ended_at=None).order_by("number")
        steps = [NewStep(line.text, None, line.quantity, line.unit, line.low, line.high) for line in lines]
        add_steps(act, order, steps)
        parts = template.parts.filter(ended_at=None, part__retired_at=None).select_related("part")
        for line in parts:
            act.add(NeededPart(order=order, part=line.part, thousandths=line.thousandths))
        facts = {"steps": [step.text for step in steps], "parts": [line.part.name for line in parts]}
        act.write("order.steps_added", subject=order, facts=facts)
    return order
