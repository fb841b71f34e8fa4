"""The work order that a failed check raised, or that was open already when it failed."""

from __future__ import annotations

from django.db.models import Q

from calibration.models import Check
from calibration.reads.consequences import key_of
from maintenance.models import WorkOrder


def order_of(check: Check) -> WorkOrder | None:
    """Return the work order of a failed check; None when it raised none."""
    own = WorkOrder.objects.filter(origin_key=key_of(check, "order")).first()
    if own is not None:
        return own
    if check.replaces is not None:
        return order_of(check.replaces)
    still = Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gte=check.recorded_at)
    undone = Q(done_at__isnull=True) | Q(done_at__gte=check.recorded_at)
    return (
        WorkOrder.objects.filter(position=check.position, plan=check.plan, origin_key__startswith="check-")
        .filter(raised_at__lte=check.recorded_at)
        .filter(still)
        .filter(undone)
        .order_by("-number")
        .first()
    )
