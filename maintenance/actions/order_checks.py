"""Checks that a work order needs before it is accepted: asked for and taken back until the work is handed over."""

from __future__ import annotations

from collections.abc import Sequence

from assets import history
from assets.errors import Refusal
from assets.history import UPKEEP
from assets.models import Person
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from maintenance.actions.order_ends import ask_for_checks
from maintenance.compute.orders import OPEN
from maintenance.models import Plan, ReturnCheck, WorkOrder


def ask_checks(*, order: WorkOrder, checks: Sequence[Plan], by: Person) -> list[Plan]:
    """Name checks whose record the work needs before it is accepted; return those not asked for before.

    Whoever works may: it only makes acceptance stricter.
    """
    must_have_role(by, order.site, OPERATORS, to="ask for a check before acceptance")
    if not checks:
        raise Refusal("Choose at least one check.", field="checks")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        _refuse_handed_over(order)
        asked = ask_for_checks(act, order, checks)
        if not asked:
            raise Refusal("These checks are asked for already.", field="checks")
        act.write("order.checks_asked", subject=order, facts={"checks": [plan.title for plan in asked]})
    return asked


def take_back_check(*, check: ReturnCheck, because: str, by: Person) -> ReturnCheck:
    """Say that the work is accepted without the record of a check after all, and why."""
    order = check.order
    must_have_role(by, order.site, SUPERVISORS, to="take back a check before acceptance")
    if not because.strip():
        raise Refusal("Because: write why the work needs no record of this check.", field="because")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        _refuse_handed_over(order)
        check.refresh_from_db()
        if check.ended_at is not None:
            raise Refusal("This check was taken back already.")
        act.close(check, ended_at=act.at, ended_by=by, because=because.strip())
        act.write(
            "order.check_taken_back", subject=order, facts={"check": check.plan.title, "because": because.strip()}
        )
    return check


def _refuse_handed_over(order: WorkOrder) -> None:
    order.refresh_from_db(fields=["state"])
    if order.state == "done":
        raise Refusal(
            f"Work order {order.number} is done and waits to be accepted; send it back, then change what it needs."
        )
    if order.state not in OPEN:
        raise Refusal(f"Work order {order.number} is {order.state}; only an open one can change what it needs.")
