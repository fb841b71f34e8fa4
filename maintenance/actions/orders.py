"""Work orders: raised, confirmed, planned, carried out, accepted by somebody else, or withdrawn."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.db.models import Max

from assets import history
from assets.errors import Refusal, Stale
from assets.history import UPKEEP, Act
from assets.models import Asset, KeptFile, Person, Position, Role, Site
from assets.permissions import OPERATORS, READERS, SUPERVISORS, must_have_role, role_of
from maintenance.actions.order_ends import ask_for_checks, refuse_locks_of_others, refuse_owed_checks
from maintenance.actions.order_failures import FailureTyped, add_failure
from maintenance.actions.order_files import files_told, put_files
from maintenance.actions.order_steps import add_steps, refuse_open_steps
from maintenance.actions.overrides_end import refuse_open_overrides
from maintenance.compute.orders import OPEN, NotNow, OrderAct, next_state, usual_type
from maintenance.models import Plan, WorkOrder

NOT_YET_CONFIRMED, CONFIRMED = "not yet confirmed", "confirmed"


def raise_work_order(  # noqa: PLR0913 - one order, each part of it named by its caller in another app
    *,
    site: Site,
    position: Position,
    title: str,
    reason: str,
    by: Person,
    plan: Plan | None = None,
    asset: Asset | None = None,
    type: str = "",
    origin_label: str = "",
    origin_path: str = "",
    origin_key: str | None = None,
    confirmed: str = "",
    wanted_by: dt.date | None = None,
    files: Sequence[KeptFile] = (),
) -> WorkOrder:
    """Raise one work order and return it.

    The same `origin_key` again, or an order open for the same tag and routine, gives that order instead of a second.
    `confirmed`: "", "not yet confirmed" or "confirmed". `type`: chosen by a person; else it follows from the origin.
    `files`: what was seen, read before by `read_file`; kept in the same act.
    """
    must_have_role(by, site, OPERATORS, to="raise a work order")
    _must_be_said(site, position, title, reason)
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        key = origin_key or None
        there = WorkOrder.objects.filter(origin_key=key).first() if key else None
        if there is not None:
            return there
        there = WorkOrder.objects.open().filter(position=position, plan=plan).first() if plan else None
        if there is not None:
            return _asked_again(act, there, reason, origin_label, origin_path, files)
        usual = usual_type(origin_key=key, has_plan=plan is not None, matters_for=position.matters_for)
        order = WorkOrder(
            site=site,
            position=position,
            asset=asset,
            plan=plan,
            title=title,
            reason=reason,
            type=type or usual,
            origin_label=origin_label,
            origin_path=origin_path,
            origin_key=key,
            confirmed=confirmed,
            wanted_by=wanted_by,
        )
        _add(act, order, by)
        facts = {"title": order.title, "reason": order.reason, "origin": origin_label, "confirmed": confirmed}
        act.write("order.raised", subject=order, facts={**facts, "type": order.type, **_kept(act, order, files)})
    return order


def ask_for_work(
    *, site: Site, position: Position, title: str, reason: str, by: Person, files: Sequence[KeptFile] = ()
) -> WorkOrder:
    """Ask for work at a tag, as anybody who may read may; the order is raised in their name and waits to be planned."""
    must_have_role(by, site, READERS, to="ask for work")
    _must_be_said(site, position, title, reason)
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        order = WorkOrder(
            site=site, position=position, title=title, reason=reason, origin_label=f"Asked for by {by.name}"
        )
        _add(act, order, by)
        facts = {"title": order.title, "reason": order.reason, **_kept(act, order, files)}
        act.write("order.asked_for", subject=order, facts=facts)
    return order


def _must_be_said(site: Site, position: Position, title: str, reason: str) -> None:
    if not title.strip():
        raise Refusal("What has to be done: write it in a few words.", field="title")
    if not reason.strip():
        raise Refusal("Because: write what was found, or why the work is needed.", field="reason")
    if position.site_id != site.pk:
        raise Refusal("This tag belongs to another site.", field="position")


def _add(act: Act, order: WorkOrder, by: Person) -> None:
    order.number = _next_number(order.site)
    order.title, order.reason = order.title.strip(), order.reason.strip()
    order.raised_at, order.raised_by = act.at, by
    act.add(order)


def _kept(act: Act, order: WorkOrder, files: Sequence[KeptFile]) -> dict[str, Any]:
    """Keep what was handed in with a new order, told by what has to be done; return what its event says of it."""
    return {"files": files_told(put_files(act, order, files, words=order.title))} if files else {}


def _asked_again(
    act: Act, order: WorkOrder, reason: str, label: str = "", path: str = "", files: Sequence[KeptFile] = ()
) -> WorkOrder:
    """Write into the log of an order that somebody asked for the same again."""
    facts = {"reason": reason, "origin": label, "path": path, **_kept(act, order, files)}
    act.write("order.asked_again", subject=order, facts=facts)
    return order


def _next_number(site: Site) -> int:
    newest = WorkOrder.objects.filter(site=site).aggregate(newest=Max("number"))["newest"]
    return int(newest or 0) + 1


def confirm_order(*, order: WorkOrder, because: str, by: Person) -> WorkOrder:
    """Say that a second record, with another standard, found the same failure."""
    must_have_role(by, order.site, OPERATORS, to="confirm a failure")
    with history.act(site=order.site, by=by) as act:
        if order.confirmed == CONFIRMED:
            return _asked_again(act, order, because)
        _refuse_ended(order, "be confirmed")
        act.change(order, expect={"state": order.state, "confirmed": order.confirmed}, confirmed=CONFIRMED)
        act.write("order.confirmed", subject=order, facts={"because": because})
    return order


def withdraw_unconfirmed(*, order: WorkOrder, because: str, by: Person) -> WorkOrder:
    """Withdraw an order whose failure a second record, with another standard, did not find.

    Once somebody has begun the work, or the failure was confirmed, the order stays: the doubt is written in its log
    and a person decides.
    """
    must_have_role(by, order.site, OPERATORS, to="withdraw a failure that was not confirmed")
    with history.act(site=order.site, by=by) as act:
        begun = order.state not in {"raised", "planned"} or order.lockouts.open().exists()
        if order.confirmed == NOT_YET_CONFIRMED and not begun:
            _withdraw(act, order, because)
        else:
            act.write("order.doubted", subject=order, facts={"because": because})
    return order


def plan_order(  # noqa: PLR0913 - one plan, each part of it named by the form
    *,
    order: WorkOrder,
    in_charge: Person,
    wanted_by: dt.date | None,
    planned_minutes: int | None,
    steps: list[str],
    by: Person,
    version: int | None = None,
    type: str = "",
    checks: Sequence[Plan] = (),
) -> WorkOrder:
    """Say who does the work, by when, how long it takes, in which steps, and which checks it needs to be accepted.

    `type`: what kind of work it is; '' leaves what stands there. `checks` are added to those asked for before.
    `version`: the plan that was shown; raises Stale when another one has been made meanwhile.
    """
    must_have_role(by, order.site, SUPERVISORS, to="plan a work order")
    if role_of(in_charge, order.site) not in OPERATORS | {Role.CONTRACTOR}:
        raise Refusal(
            f"In charge: {in_charge.name} does no work at this site; choose somebody who does.", field="in_charge"
        )
    if version is not None and version != order.plan_version:
        who = order.planned_by.name if order.planned_by else "somebody"
        raise Stale(
            f"Work order {order.number} was planned by {who} while you had it open. Nothing was changed; open it again "
            "beside this page and carry over what is still right."
        )
    with history.act(site=order.site, by=by) as act:
        facts = {"in_charge": in_charge.name, "wanted_by": wanted_by, "minutes": planned_minutes}
        new = {
            "in_charge": in_charge,
            "wanted_by": wanted_by,
            "planned_minutes": planned_minutes,
            "planned_at": act.at,
            "planned_by": by,
            "type": type or order.type,
        }
        _move(act, order, OrderAct.PLAN, seen={"planned_at": order.planned_at}, **new)
        add_steps(act, order, steps)
        asked = ask_for_checks(act, order, checks)
        more = {"checks": [plan.title for plan in asked]} if asked else {}
        act.write("order.planned", subject=order, facts={**facts, "type": order.type, "steps": steps, **more})
    return order


def start_order(*, order: WorkOrder, by: Person) -> WorkOrder:
    """Begin the work; whoever begins an order of nobody is in charge of it."""
    must_have_role(by, order.site, OPERATORS, to="start a work order")
    with history.act(site=order.site, by=by) as act:
        _move(act, order, OrderAct.START, in_charge=order.in_charge or by)
        act.write("order.started", subject=order)
    return order


def wait_order(*, order: WorkOrder, waiting_for: str, by: Person) -> WorkOrder:
    """Say that the work cannot go on, and for what it waits."""
    must_have_role(by, order.site, OPERATORS, to="set a work order to waiting")
    if not waiting_for.strip():
        raise Refusal("Waiting for: write what the work waits for.", field="waiting_for")
    with history.act(site=order.site, by=by) as act:
        _move(act, order, OrderAct.WAIT, waiting_for=waiting_for.strip())
        act.write("order.waiting", subject=order, facts={"for": order.waiting_for})
    return order


def resume_order(*, order: WorkOrder, by: Person) -> WorkOrder:
    """Go on with the work."""
    must_have_role(by, order.site, OPERATORS, to="go on with a work order")
    with history.act(site=order.site, by=by) as act:
        waited_for = order.waiting_for
        _move(act, order, OrderAct.RESUME, waiting_for="")
        act.write("order.resumed", subject=order, facts={"waited_for": waited_for})
    return order


def finish_order(*, order: WorkOrder, found: str, by: Person, failure: FailureTyped | None = None) -> WorkOrder:
    """Record the work as done: what was found and what was done. Its own lockout is closed and its steps done first.

    `failure` says how it had failed, for corrective work; where nothing is said, *not known* is written four times.
    """
    must_have_role(by, order.site, OPERATORS, to="record a work order as done")
    if not found.strip():
        raise Refusal("Found and done: write what was found and what was done.", field="found")
    with history.act(site=order.site, by=by) as act:
        # The locks of the site stand still while this is decided: none goes on between the look and the word "done".
        history.lock_site(history.LOCKOUT, order.site)
        history.lock_site(UPKEEP, order.site)
        _refuse_own_lockout(order)
        refuse_locks_of_others(order)
        refuse_open_steps(order)
        _move(act, order, OrderAct.FINISH, found=found.strip(), done_at=act.at, done_by=by)
        coded = add_failure(act, order, failure or FailureTyped()) if order.is_corrective else None
        more = {"failure": coded.words} if coded else {}
        act.write("order.done", subject=order, facts={"found": order.found, **more})
    return order


def accept_order(*, order: WorkOrder, by: Person) -> WorkOrder:
    """Accept work that somebody else did."""
    must_have_role(by, order.site, SUPERVISORS, to="accept a work order")
    if order.done_by_id == by.pk:
        raise Refusal(f"{by.name} did the work and does not accept it; another supervisor does.")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(UPKEEP, order.site)
        refuse_open_overrides(order)
        refuse_owed_checks(order)
        _move(act, order, OrderAct.ACCEPT, accepted_at=act.at, accepted_by=by)
        act.write("order.accepted", subject=order, facts={"done_by": order.done_by.name if order.done_by else ""})
    return order


def send_back_order(*, order: WorkOrder, because: str, by: Person) -> WorkOrder:
    """Do not accept the work yet; it is under way again, with the reason in its log."""
    must_have_role(by, order.site, SUPERVISORS, to="send a work order back")
    if not because.strip():
        raise Refusal("Because: write what is missing.", field="because")
    with history.act(site=order.site, by=by) as act:
        _move(act, order, OrderAct.SEND_BACK, done_at=None, done_by=None)
        act.write("order.sent_back", subject=order, facts={"because": because.strip(), "found": order.found})
    return order


def withdraw_order(*, order: WorkOrder, because: str, by: Person) -> WorkOrder:
    """End an order whose work is not needed, with the reason."""
    must_have_role(by, order.site, SUPERVISORS, to="withdraw a work order")
    if not because.strip():
        raise Refusal("Because: write why the work is not needed.", field="because")
    with history.act(site=order.site, by=by) as act:
        history.lock_site(history.LOCKOUT, order.site)
        history.lock_site(UPKEEP, order.site)
        _refuse_own_lockout(order)
        _withdraw(act, order, because)
    return order


def _withdraw(act: Act, order: WorkOrder, because: str) -> None:
    because = because.strip()
    _move(act, order, OrderAct.WITHDRAW, withdrawn_at=act.at, withdrawn_because=because, waiting_for="")
    act.write("order.withdrawn", subject=order, facts={"because": because})


def _move(act: Act, order: WorkOrder, how: OrderAct, *, seen: dict[str, Any] | None = None, **new: Any) -> None:
    """Lead the order to its next state, if it is still in the one that was seen."""
    try:
        state = next_state(order.state, how)
    except NotNow as wrong:
        raise Refusal(f"Work order {order.number}: {wrong}") from wrong
    act.change(order, expect={"state": order.state, **(seen or {})}, state=state, **new)


def _refuse_ended(order: WorkOrder, what: str) -> None:
    if order.state not in OPEN:
        raise Refusal(f"Work order {order.number} is {order.state}; only an open one can {what}.")


def _refuse_own_lockout(order: WorkOrder) -> None:
    still = order.lockouts.open().order_by("number").first()
    if still is not None:
        raise Refusal(f"{str(still).capitalize()} of this work order is still open; close it first.")
