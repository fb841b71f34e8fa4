"""Parts on work orders: needed, used, put back."""

from __future__ import annotations

from django.db.models import Sum

from assets import history
from assets.errors import Refusal
from assets.history import UPKEEP, Act
from assets.models import Person
from assets.permissions import OPERATORS, must_have_role
from maintenance.actions.parts import amount_wanted, refuse_more_than_there_is
from maintenance.compute.stock import amount_text, in_unit
from maintenance.models import MoveKind, NeededPart, Part, PartMove, WorkOrder


def need_part(*, order: WorkOrder, part: Part, amount: str, by: Person) -> NeededPart:
    """Say that an order needs a part, so that it lies ready or is ordered in time."""
    must_have_role(by, order.site, OPERATORS, to="say which part a work order needs")
    thousandths = amount_wanted(part, amount)
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        _refuse_another_site(order, part)
        order.refresh_from_db(fields=["state"])
        if not order.is_open:
            raise Refusal(f"Work order {order.number} is {order.state}; it needs no more parts.")
        row = act.add(NeededPart(order=order, part=part, thousandths=thousandths))
        facts = {"part": part.name, "amount": amount_text(thousandths), "unit": part.unit}
        act.write("order.part_needed", subject=order, facts=facts)
    return row


def use_part(*, order: WorkOrder, part: Part, amount: str, by: Person) -> PartMove:
    """Take a part out of stock for an order; the last one is had by who takes it first, the other is told."""
    must_have_role(by, order.site, OPERATORS, to="use a part")
    thousandths = amount_wanted(part, amount)
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        _refuse_another_site(order, part)
        _must_be_going_on(order)
        refuse_more_than_there_is(part, thousandths)
        move = _move(act, order, part, MoveKind.USED, -thousandths)
        act.write("order.part_used", subject=order, facts=_told(part, thousandths))
    return move


def put_part_back(*, order: WorkOrder, part: Part, amount: str, by: Person) -> PartMove:
    """Put back into stock what an order did not need after all."""
    must_have_role(by, order.site, OPERATORS, to="put a part back")
    thousandths = amount_wanted(part, amount)
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        _refuse_another_site(order, part)
        _must_be_going_on(order)
        moved = PartMove.objects.filter(order=order, part=part).aggregate(sum=Sum("thousandths"))["sum"] or 0
        if thousandths > -moved:
            raise Refusal(
                f"This work order has used {in_unit(max(-moved, 0), part.unit)} of {part.name}; no more can be "
                "put back.",
                field="amount",
            )
        move = _move(act, order, part, MoveKind.RETURNED, thousandths)
        act.write("order.part_put_back", subject=order, facts=_told(part, thousandths))
    return move


def _told(part: Part, thousandths: int) -> dict[str, object]:
    return {"part": part.name, "amount": amount_text(thousandths), "unit": part.unit}


def _move(act: Act, order: WorkOrder, part: Part, kind: MoveKind, thousandths: int) -> PartMove:
    return act.add(
        PartMove(
            part=part,
            kind=kind,
            thousandths=thousandths,
            order=order,
            price=part.price,
            recorded_at=act.at,
            recorded_by=act.by,
        )
    )


def _refuse_another_site(order: WorkOrder, part: Part) -> None:
    part.refresh_from_db()
    if part.site_id != order.site_id:
        raise Refusal("This part belongs to another site.", field="part")
    if part.retired_at is not None:
        raise Refusal(f"{part.name} is retired; choose another part.", field="part")


def _must_be_going_on(order: WorkOrder) -> None:
    order.refresh_from_db(fields=["state"])
    if order.state not in {"under way", "waiting", "done"}:
        raise Refusal(f"Work order {order.number} is {order.state}; parts are used once it is under way.")
