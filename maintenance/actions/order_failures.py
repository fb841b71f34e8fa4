"""How something had failed: written with the end of corrective work, corrected by a newer row that names the older."""

from __future__ import annotations

from dataclasses import dataclass

from assets import history
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Person
from assets.permissions import OPERATORS, must_have_role
from maintenance.compute.failures import CAUSES, DETECTIONS, MECHANISMS, MODES, NOT_KNOWN
from maintenance.models import Failure, WorkOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureTyped:
    """How it showed, by which mechanism, from which cause, by what it was detected: words of the four lists."""

    shows: str = NOT_KNOWN
    mechanism: str = NOT_KNOWN
    cause: str = NOT_KNOWN
    detected: str = NOT_KNOWN

    def faults(self) -> list[Reason]:
        """What is in none of the lists."""
        lists = {"shows": MODES, "mechanism": MECHANISMS, "cause": CAUSES, "detected": DETECTIONS}
        return [
            Reason("Choose one; “not known” is an answer too.", name)
            for name, words in lists.items()
            if getattr(self, name) not in words
        ]


def add_failure(act: Act, order: WorkOrder, typed: FailureTyped) -> Failure:
    """Write how it had failed, as part of another act; what stood there before is named and stays on record."""
    faults = typed.faults()
    if faults:
        raise Refusal(faults)
    return act.add(
        Failure(
            order=order,
            shows=typed.shows,
            mechanism=typed.mechanism,
            cause=typed.cause,
            detected=typed.detected,
            replaces=newest_failure(order),
            recorded_at=act.at,
            recorded_by=act.by,
        )
    )


def newest_failure(order: WorkOrder) -> Failure | None:
    """Return what is written of the failure now."""
    return Failure.objects.filter(order=order, replaced_by__isnull=True).first()


def correct_failure(*, order: WorkOrder, failure: FailureTyped, by: Person) -> Failure:
    """Say otherwise how it had failed, once the work is done and more is known."""
    must_have_role(by, order.site, OPERATORS, to="say how something failed")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        order.refresh_from_db(fields=["state", "type"])
        if order.state not in {"done", "accepted"}:
            raise Refusal(f"Work order {order.number} is {order.state}; this is written when the work is done.")
        if not order.is_corrective:
            raise Refusal(f"Work order {order.number} is no corrective work; there is no failure to describe.")
        row = add_failure(act, order, failure)
        act.write("order.failure_corrected", subject=order, facts={"failure": row.words})
    return row
