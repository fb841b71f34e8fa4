"""Checks that a work order needs before it is accepted, and which of them are still owed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Subquery

from maintenance.models import Occurrence, Performance, WorkOrder
from maintenance.reads.locks_acceptance import BEFORE_USE


@dataclass(frozen=True, slots=True)
class OwedCheck:
    """A check not recorded yet: its routine, the tag, why it is owed, the due item to begin (None: none is open)."""

    title: str
    tag: str
    why: str
    begin: int | None


def owed_checks(order: WorkOrder) -> tuple[OwedCheck, ...]:
    """Return what is owed: of corrective work what the fitted asset owes before use; of any work the checks it names.

    A named check counts when its record counts and was made after the check was asked for.
    """
    before_use = list(_before_use(order))
    named = [check for check in _named(order) if (check.title, check.tag) not in {(c.title, c.tag) for c in before_use}]
    return (*before_use, *named)


def _before_use(order: WorkOrder) -> Iterator[OwedCheck]:
    if not order.is_corrective or order.position is None:
        return
    rows = Occurrence.objects.open().filter(plan__position=order.position, plan__retired_at=None, why=BEFORE_USE)
    for item in rows.filter(plan__follows="asset").select_related("plan").order_by("due", "pk"):
        yield OwedCheck(item.plan.title, order.position.tag, "before use", item.pk)


def _named(order: WorkOrder) -> Iterator[OwedCheck]:
    recorded = Performance.objects.standing().filter(
        plan=OuterRef("plan"), counts=True, performed_at__gt=OuterRef("asked_at")
    )
    turn = Occurrence.objects.open().filter(plan=OuterRef("plan")).order_by("due", "pk").values("pk")[:1]
    rows = order.return_checks.filter(~Exists(recorded), plan__retired_at=None).annotate(begin=Subquery(turn))
    for check in rows.select_related("plan__position", "plan__asset").order_by("pk"):
        what = str(check.plan.position or check.plan.asset)
        yield OwedCheck(check.plan.title, what, "before this work is accepted", check.begin)
