"""Time of people on work orders, and what was paid to somebody outside."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets import history
from assets.compute.numbers import NotANumber, read_number
from assets.errors import NotAllowed, Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Person, Role
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role, role_of
from maintenance.models import Labour, OrderCost, WorkOrder

DAY = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeTyped:
    """Minutes, or from and to; what was done."""

    minutes: int | None = None
    from_at: dt.datetime | None = None
    to_at: dt.datetime | None = None
    what: str = ""

    def in_minutes(self, now: dt.datetime) -> int:
        """Return the minutes, rounded to whole ones. Raises Refusal where both or neither is given or it is absurd."""
        spans = self.from_at is not None or self.to_at is not None
        if (self.minutes is not None) == spans:
            raise Refusal("Write the minutes, or from when to when: one of the two.", field="minutes")
        if self.minutes is not None:
            if not 0 <= self.minutes <= 7 * DAY:
                raise Refusal("Write the time in minutes, 1 to 10080 (a week).", field="minutes")
            return self.minutes
        if self.from_at is None or self.to_at is None:
            raise Refusal("Write both, from when and to when.", field="to_at" if self.from_at else "from_at")
        if self.to_at <= self.from_at:
            raise Refusal("The end is not after the beginning; look at both.", field="to_at")
        if self.to_at > now + dt.timedelta(minutes=1):
            raise Refusal("That moment has not come yet; write time that was worked.", field="to_at")
        minutes = round((self.to_at - self.from_at).total_seconds() / 60)
        if minutes > DAY:
            raise Refusal("More than 24 hours without a break; write a row a day.", field="to_at")
        return max(minutes, 1)


def write_labour(*, order: WorkOrder, person: Person, time: TimeTyped, by: Person) -> Labour:
    """Write time on a work order: one's own, or as a supervisor anybody's who works at the site."""
    must_have_role(by, order.site, OPERATORS, to="write time on a work order")
    _must_be_own(person, order, by)
    with history.act(site=order.site, by=by) as act:
        _must_take_records(act, order)
        minutes = time.in_minutes(act.at)
        if minutes == 0:
            raise Refusal("Write at least one minute.", field="minutes")
        row = act.add(_labour(act, order, person, time, minutes))
        facts = {"who": person.name, "own": person.pk == by.pk, "minutes": minutes, "what": row.what}
        act.write("order.time_written", subject=order, facts=facts)
    return row


def correct_labour(*, labour: Labour, time: TimeTyped, by: Person) -> Labour:
    """Replace time that was written wrong by a newer row; 0 minutes take it back."""
    order = labour.order
    must_have_role(by, order.site, OPERATORS, to="correct time on a work order")
    _must_be_own(labour.person, order, by)
    with history.act(site=order.site, by=by) as act:
        _must_take_records(act, order)
        if Labour.objects.filter(replaces=labour).exists():
            raise Refusal("This time was corrected already; correct the newer row.")
        minutes = time.in_minutes(act.at)
        row = act.add(_labour(act, order, labour.person, time, minutes, replaces=labour))
        facts = {"who": labour.person.name, "was": labour.minutes, "minutes": minutes, "what": row.what}
        act.write("order.time_corrected", subject=order, facts=facts)
    return row


def _labour(
    act: Act, order: WorkOrder, person: Person, time: TimeTyped, minutes: int, replaces: Labour | None = None
) -> Labour:
    return Labour(
        order=order,
        person=person,
        minutes=minutes,
        from_at=time.from_at,
        to_at=time.to_at,
        what=time.what.strip(),
        replaces=replaces,
        recorded_at=act.at,
        recorded_by=act.by,
    )


def _must_be_own(person: Person, order: WorkOrder, by: Person) -> None:
    if person.pk == by.pk:
        return
    if role_of(by, order.site) not in SUPERVISORS:
        raise NotAllowed(f"{by.name} writes their own time; a supervisor writes that of {person.name}.")
    if role_of(person, order.site) not in OPERATORS | {Role.CONTRACTOR}:
        raise Refusal(f"{person.name} does no work at this site; choose somebody who does.", field="person")


def _must_take_records(act: Act, order: WorkOrder) -> None:
    history.lock_site(UPKEEP, act.site)
    order.refresh_from_db(fields=["state"])
    if order.state in {"accepted", "withdrawn"}:
        raise Refusal(f"Work order {order.number} is {order.state}; nothing more is written on it.")


def write_cost(*, order: WorkOrder, amount: str, what: str, by: Person, replaces: OrderCost | None = None) -> OrderCost:
    """Write what was paid to somebody outside; `replaces` names a row that was wrong, and 0 takes it back."""
    must_have_role(by, order.site, SUPERVISORS, to="write what a work order cost")
    faults = [] if what.strip() else [Reason("For what: write who was paid for what.", "what")]
    try:
        value = read_number(amount, decimal_mark=order.site.decimal_mark)
    except NotANumber as wrong:
        faults.append(Reason(str(wrong), "amount"))
    else:
        if value < 0 or (value == 0 and replaces is None):
            faults.append(Reason("Write what was paid, more than 0.", "amount"))
    if faults:
        raise Refusal(faults)
    with history.act(site=order.site, by=by) as act:
        _must_take_records(act, order)
        if replaces is not None and OrderCost.objects.filter(replaces=replaces).exists():
            raise Refusal("This cost was corrected already; correct the newer row.")
        row = act.add(
            OrderCost(
                order=order,
                amount=amount.strip(),
                what=what.strip(),
                replaces=replaces,
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        was = {"was": replaces.amount} if replaces else {}
        act.write("order.cost_written", subject=order, facts={"amount": row.amount, "what": row.what, **was})
    return row
