"""Checks that a work order needs before it is accepted, and which of them are still owed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet, Subquery

from maintenance.models import Occurrence, Performance, Plan, ReturnCheck, WorkOrder
from maintenance.models.routines import BY_HAND
from maintenance.queries import PlanQuerySet
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


def to_ask(order: WorkOrder) -> PlanQuerySet:
    """Return the signed checks registered at the tag that may still be asked for before the work is accepted."""
    here = Plan.objects.standing().filter(position=order.position, position__isnull=False)
    asked_for = order.return_checks.filter(ended_at=None).values_list("plan", flat=True)
    return here.exclude(kind__in=BY_HAND).exclude(pk__in=asked_for).order_by("title")


def checks_asked(order: WorkOrder) -> QuerySet[ReturnCheck]:
    """Return the checks that were named and stand, each with `owed`: whether its record is still to come."""
    standing = order.return_checks.filter(ended_at=None).annotate(owed=~Exists(_recorded()))
    return standing.select_related("plan__position", "plan__asset", "asked_by").order_by("pk")


def _recorded() -> QuerySet[Performance]:
    return Performance.objects.standing().filter(
        plan=OuterRef("plan"), counts=True, performed_at__gt=OuterRef("asked_at")
    )


def _named(order: WorkOrder) -> Iterator[OwedCheck]:
    turn = Occurrence.objects.open().filter(plan=OuterRef("plan")).order_by("due", "pk").values("pk")[:1]
    for check in checks_asked(order).filter(plan__retired_at=None).annotate(begin=Subquery(turn)):
        if not check.owed:  # type: ignore[attr-defined]
            continue
        what = str(check.plan.position or check.plan.asset)
        yield OwedCheck(check.plan.title, what, "before this work is accepted", check.begin)
