"""One work order for several due items, a step each."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from assets import history
from assets.errors import Refusal
from assets.models import KeptFile, Person, Site
from maintenance.actions.order_steps import NewStep, add_steps
from maintenance.actions.orders import raise_work_order
from maintenance.compute.overrides import ORDER
from maintenance.models import Occurrence, WorkOrder


def raise_for_due_items(
    *,
    site: Site,
    items: list[Occurrence],
    title: str,
    reason: str,
    wanted_by: dt.date | None,
    by: Person,
    files: Sequence[KeptFile] = (),
) -> WorkOrder:
    """Raise one work order for due items of tags; it stands at the tag that matters most, the first of those alike.

    A single due item whose routine has an open order gives that order.
    """
    tags = [item.plan.position for item in items if item.plan.position is not None]
    if not tags:
        raise Refusal("Choose at least one due item of a tag; a work order names the tag it is for.")
    alone = items[0].plan if len(items) == 1 else None
    with history.act(site=site, by=by) as act:
        order = raise_work_order(
            site=site,
            position=min(tags, key=lambda tag: ORDER.index(tag.matters_for)),
            title=title,
            reason=reason,
            plan=alone,
            type="preventive",
            wanted_by=wanted_by,
            origin_label="Due list",
            files=files,
            by=by,
        )
        if not order.steps.exists():
            steps = [
                NewStep(f"{item.plan.position or item.plan.asset}: {item.plan.title}", item.plan) for item in items
            ]
            add_steps(act, order, steps)
            act.write("order.steps_added", subject=order, facts={"steps": [step.text for step in steps]})
    return order
