"""What a signed set does to work orders and routines, in the act that signed it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from assets.models import Person
from calibration.actions.standards_follow import follow_own_check
from calibration.compute.figures import sentence_case, shown
from calibration.compute.method import Band
from calibration.compute.methods import METHODS, short_name
from calibration.compute.working import band_text
from calibration.models import Check, Outcome, ReadingSet
from calibration.reads.consequences import cut, key_of, owed_by, path_of
from calibration.reads.orders import order_of
from calibration.reads.own_fields import is_test, last_stage
from calibration.reads.sheet import FAILING, PASSING
from maintenance.actions.orders import confirm_order, raise_work_order, withdraw_unconfirmed
from maintenance.actions.performances import record_performance
from maintenance.models import Performance, WorkOrder

NOT_YET, CONFIRMED = "not yet confirmed", "confirmed"


def follow(*, of: ReadingSet, outcome: Outcome | None, by: Person) -> None:
    """Let a signed set have its consequences: raise, confirm or withdraw the order, record the performance."""
    check = of.check_of
    if outcome is not None and outcome.valid:
        if of.kind == "as found" and outcome.verdict in FAILING:
            _raise(check, of, outcome, by)
        if of.kind == "as found" and outcome.verdict in PASSING and check.replaces is not None:
            _withdraw(check.replaces, f"corrected by check {check.number}, which passes as found", by)
        if of.kind == "confirming":
            _second_buffer(check, outcome, by)
    _record(of, by)
    follow_own_check(of=of, outcome=outcome, by=by)


def _raise(check: Check, of: ReadingSet, outcome: Outcome, by: Person) -> WorkOrder:
    there = order_of(check.replaces) if check.replaces is not None else None
    if there is not None and there.is_open:
        return there
    if check.plan is None:
        open_here = WorkOrder.objects.open().filter(position=check.position, plan=None, origin_key__startswith="check-")
        there = open_here.first()
        if there is not None:
            return there
    return raise_work_order(
        site=check.site,
        position=check.position,
        plan=check.plan,
        title=_title(check),
        reason=reason_of(check, outcome),
        origin_label=f"Check {check.number}, {_set_words(check, of)}",
        origin_path=path_of(check),
        origin_key=key_of(check, "order"),
        confirmed=NOT_YET if _confirms(check) else CONFIRMED,
        asset=check.asset,
        by=by,
    )


def _title(check: Check) -> str:
    method = METHODS[check.method]
    name = short_name(method)
    return f"{name}: the test fails" if is_test(method) else f"{name} fails as found"


def _set_words(check: Check, of: ReadingSet) -> str:
    return "the test" if is_test(METHODS[check.method]) else of.kind


def reason_of(check: Check, outcome: Outcome) -> str:
    """Say what failed, by how much, and what the signal moves."""
    uses = json.loads(outcome.known)["uses"]
    paces = f" The signal {' and '.join(uses)}." if uses else ""
    waits = " Not yet confirmed by a second buffer from another lot." if _confirms(check) else ""
    return f"{failure_of(outcome)}{waits}{paces}"


def _confirms(check: Check) -> bool:
    """Tell whether a failure of this method waits for a second reading before it counts as confirmed."""
    return "confirming" in METHODS[check.method].stages


def failure_of(outcome: Outcome) -> str:
    """Say which judged values failed."""
    said = []
    for one in json.loads(outcome.judged)["values"]:
        if one["verdict"] not in FAILING:
            continue
        if isinstance(one["value"], bool):
            said.append(one["what"])
            continue
        said.append(_value_said(one))
    return " ".join(said)


def _value_said(one: Mapping[str, Any]) -> str:
    low, high = (Fraction(one[side]) if one[side] is not None else None for side in ("low", "high"))
    value = shown(Fraction(one["value"]), 3 if one["unit"] == "pH" else 2, plus=low is not None and low < 0)
    if one["unit"] == "pH" and high is not None:
        limit = f", limit ±{shown(high, 2)} pH"
    else:
        limit = f", limit {band_text(Band(low=low, high=high, unit=one['unit'], source='', tag='site setting'))}"
    return f"{sentence_case(one['what'])}: {value} {one['unit']}".rstrip() + f"{limit}."


def _second_buffer(check: Check, outcome: Outcome, by: Person) -> None:
    order = order_of(check)
    if order is None or not order.is_open:
        return
    if outcome.verdict in PASSING:
        because = f"a second buffer from another lot passes: check {check.number}"
        withdraw_unconfirmed(order=order, because=because, by=by)
    elif outcome.verdict in FAILING:
        confirm_order(order=order, because=f"check {check.number}: {failure_of(outcome)}", by=by)


def _withdraw(check: Check, because: str, by: Person) -> None:
    order = order_of(check)
    if order is not None and order.is_open:
        withdraw_unconfirmed(order=order, because=because, by=by)


def _record(of: ReadingSet, by: Person) -> None:
    check = of.check_of
    owed = owed_by(of)
    if check.plan is None or owed is None:
        return
    record_performance(
        plan=check.plan,
        key=owed.key,
        performed_at=owed.performed_at,
        counts=owed.counts,
        because=owed.because,
        asset=check.asset,
        source_label=f"Check {check.number}, {_set_words(check, of)}",
        source_path=path_of(check),
        by=by,
        replaces=_standing_before(check) if of.kind == last_stage(METHODS[check.method]) else None,
    )


def _standing_before(check: Check) -> Performance | None:
    """Return the performance that this correction replaces: of the check it corrects, or what stands in for it."""
    if check.replaces is None:
        return None
    keys = [key_of(check.replaces, last_stage(METHODS[check.method])), key_of(check, "withdraws")]
    return Performance.objects.standing().filter(plan=check.plan, key__in=keys).first()


def withdraw_replaced(*, check: Check, by: Person) -> None:
    """Take back at once what the corrected check counted for, while the correction has no as left of its own."""
    old = _standing_before(check)
    if check.plan is None or old is None or check.replaces is None:
        return
    record_performance(
        plan=check.plan,
        key=key_of(check, "withdraws"),
        performed_at=old.performed_at,
        counts=False,
        because=cut(f"check {check.replaces.number} was corrected by check {check.number}; as left is not signed yet"),
        asset=check.asset,
        source_label=f"Check {check.number}",
        source_path=path_of(check),
        by=by,
        replaces=old,
    )
