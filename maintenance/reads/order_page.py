"""What the page of one work order shows beside the order itself."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from maintenance.models import Failure, Occurrence, OrderState, Override, ReturnCheck, Step, TemplateStep, WorkOrder
from maintenance.reads.due_rows import rests_on
from maintenance.reads.due_words import Shown, hours, order_state
from maintenance.reads.order_checks import OwedCheck, checks_asked, owed_checks, to_ask
from maintenance.reads.orders import Hanging, hanging


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of an order's way."""

    word: str
    done: bool
    now: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One step as the page shows it; `begin` is the due item to begin instead of saying done.

    `asks` is what it reads with its limits, `value` what was read, `answer` what was done about one outside.
    """

    number: int
    text: str
    state: Shown
    note: str
    by: str
    at: dt.datetime | None
    now: bool
    begin: int | None
    fulfils: str
    quantity: str
    unit: str
    asks: str
    value: str
    answer: str


@dataclass(frozen=True, slots=True)
class OpenLockout:
    """A lockout of this order that is not closed."""

    number: int
    begun_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Forced:
    """Something forced or defeated at the tag or for this order, not yet seen to be restored."""

    name: str
    url: str
    what: str
    owner: str


@dataclass(frozen=True, slots=True)
class CheckRow:
    """A check named for this order: its key, title, how it stands, who asked for it and when."""

    pk: int
    title: str
    state: Shown
    who: str
    at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderView:
    """All that the page of one order shows beside the order itself."""

    stages: tuple[Stage, ...]
    state: Shown
    steps: tuple[StepRow, ...]
    locks: tuple[Hanging, ...]
    lockouts: tuple[OpenLockout, ...]
    forced: tuple[Forced, ...]
    owed: tuple[OwedCheck, ...]
    checks: tuple[CheckRow, ...]
    more_checks: bool
    rests_on_it: str
    planned: str
    failure: Failure | None

    @property
    def next_step(self) -> StepRow | None:
        """First step that is not done."""
        return next((step for step in self.steps if step.now), None)

    @property
    def steps_done(self) -> int:
        """How many steps are done."""
        return sum(1 for step in self.steps if step.at)

    @property
    def blocked(self) -> bool:
        """Whether a lock of other work keeps it from being recorded as done."""
        return any(not lock.own for lock in self.locks)

    @property
    def keeps_open(self) -> bool:
        """Whether anything beside its own steps keeps it open."""
        return bool(self.locks or self.lockouts or self.forced or self.owed)


def order_view(order: WorkOrder) -> OrderView:
    """Collect what one order's page shows."""
    uses = rests_on([order.position_id]) if order.position_id else {}
    ended = order.state in {OrderState.ACCEPTED, OrderState.WITHDRAWN}
    return OrderView(
        stages=_stages(order),
        state=order_state(order.state),
        steps=_steps(order),
        locks=hanging(order.position, order) if order.position else (),
        lockouts=tuple(
            OpenLockout(lockout.number, lockout.begun_at) for lockout in order.lockouts.open().order_by("number")
        ),
        forced=() if ended else _forced(order),
        owed=() if ended else owed_checks(order),
        checks=tuple(_check_row(check) for check in checks_asked(order)),
        more_checks=order.is_open and to_ask(order).exists(),
        rests_on_it=uses.get(order.position_id or 0, ""),
        planned=hours(order.planned_minutes) if order.planned_minutes else "",
        failure=order.failures.filter(replaced_by__isnull=True).first(),
    )


def _check_row(check: ReturnCheck) -> CheckRow:
    state = Shown("Owed", "due") if check.owed else Shown("Recorded", "done")  # type: ignore[attr-defined]
    if check.plan.retired_at is not None:
        state = Shown("Routine retired", "withdrawn")
    return CheckRow(check.pk, check.plan.title, state, check.asked_by.name, check.asked_at)


def _forced(order: WorkOrder) -> tuple[Forced, ...]:
    standing = Override.objects.put_on().filter(site=order.site).select_related("owner").order_by("number")
    return tuple(
        Forced(str(one).capitalize(), one.get_absolute_url(), one.what, one.owner.name)
        for one in standing.filter(Q(order=order) | Q(position=order.position))
    )


def _stages(order: WorkOrder) -> tuple[Stage, ...]:
    way = [OrderState.RAISED, OrderState.PLANNED, OrderState.UNDER_WAY, OrderState.DONE, OrderState.ACCEPTED]
    if order.state == OrderState.WITHDRAWN:
        return (Stage("Raised", True, False), Stage("Withdrawn", False, True))  # noqa: FBT003 - done, now
    at = OrderState.UNDER_WAY if order.state == OrderState.WAITING else OrderState(order.state)
    reached = way.index(at)
    # A stage that was left out, work begun before anybody planned it, gets no tick.
    passed = {OrderState.PLANNED: order.planned_at is not None}
    return tuple(
        Stage(
            "Waiting" if state is at and order.state == OrderState.WAITING else state.label,
            n < reached and passed.get(state, True),
            state is at,
        )
        for n, state in enumerate(way)
    )


def _steps(order: WorkOrder) -> tuple[StepRow, ...]:
    steps = list(order.steps.select_related("done_by", "plan", "reading").order_by("number"))
    first_open = next((step.pk for step in steps if step.done_at is None), None)
    begins = _begins([step.plan_id for step in steps if step.plan and not step.plan.by_hand and not step.done_at])
    return tuple(
        StepRow(
            number=step.number,
            text=step.text,
            state=Shown("Done", "done") if step.done_at else _waiting_step(step.pk == first_open),
            note=step.note or "",
            by=step.done_by.name if step.done_by else "",
            at=step.done_at,
            now=step.pk == first_open and order.state == "under way",
            begin=begins.get(step.plan_id or 0),
            fulfils=step.plan.title if step.plan and step.plan.by_hand else "",
            quantity=step.quantity,
            unit=step.unit,
            asks=asked(step),
            value=f"{step.reading.entered} {step.reading.unit}" if step.reading else "",
            answer=step.answer or "",
        )
        for step in steps
    )


def asked(step: Step | TemplateStep) -> str:
    """What a step reads, in words with its limits; '' where it reads nothing."""
    if not step.quantity:
        return ""
    band = f"{step.low} to {step.high}" if step.low and step.high else ""
    band = band or (f"at least {step.low}" if step.low else f"at most {step.high}" if step.high else "")
    return f"{step.quantity}, {band} {step.unit}" if band else f"{step.quantity}, in {step.unit}"


def _waiting_step(is_next: bool) -> Shown:  # noqa: FBT001 - one flag, named
    return Shown("Next", "now") if is_next else Shown("Not yet", "notyet")


def _begins(plans: list[int | None]) -> dict[int, int]:
    """Open due item of each routine, the earliest one."""
    rows = Occurrence.objects.open().filter(plan__in=[p for p in plans if p]).order_by("-due")
    return dict(rows.values_list("plan_id", "pk"))
