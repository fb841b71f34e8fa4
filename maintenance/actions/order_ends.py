"""What keeps a work order from its end beside its own steps: locks of other work, checks before it is accepted."""

from __future__ import annotations

from collections.abc import Sequence

from assets.errors import Reason, Refusal
from assets.history import Act
from maintenance.models import Application, Plan, ReturnCheck, WorkOrder
from maintenance.reads.order_checks import owed_checks


def refuse_locks_of_others(order: WorkOrder) -> None:
    """Refuse to record work as done while locks of other work are on at its tag."""
    if order.position is None:
        return
    rows = Application.objects.stopping(order.position).exclude(lockout__order=order)
    others = list(rows.select_related("lockout", "lock", "point", "box", "applied_by").order_by("applied_at", "id"))
    if not others:
        return
    named = "; ".join(
        f"lock {row.lock.number} on {row.point or row.box}, {row.applied_by.name}, lockout {row.lockout.number}"
        for row in others
    )
    raise Refusal(
        f"{order.position.tag} is locked for other work: {named}. This work is recorded as done when those locks are "
        "off, or under a lockout of its own."
    )


def ask_for_checks(act: Act, order: WorkOrder, plans: Sequence[Plan]) -> list[Plan]:
    """Name routines whose record the order needs before it is accepted, as part of another act; return the new ones."""
    there = set(order.return_checks.filter(ended_at=None).values_list("plan_id", flat=True))
    new = [plan for plan in plans if plan.pk not in there]
    foreign = [plan for plan in new if plan.site_id != order.site_id or plan.retired_at is not None]
    if foreign:
        raise Refusal(f"{foreign[0].title} is no routine in force at this site.", field="checks")
    for plan in new:
        act.add(ReturnCheck(order=order, plan=plan, asked_at=act.at, asked_by=act.by))
    return new


def refuse_owed_checks(order: WorkOrder) -> None:
    """Refuse to accept work while a check that puts the tag back into service is owed."""
    owed = owed_checks(order)
    if owed:
        raise Refusal([Reason(f"{check.title} is owed at {check.tag} {check.why}; record it first.") for check in owed])
