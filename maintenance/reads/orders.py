"""What the pages of work orders show: the list by state, and one order with all that keeps it open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from assets.models import Membership, Person, Position, Role, Site
from maintenance.models import Application, Occurrence, OrderState, WorkOrder
from maintenance.queries import WorkOrderQuerySet
from maintenance.reads.due import MOST, rests_on
from maintenance.reads.due_words import Shown, hours, order_state

PAGE = 50
# Words of the list's links, and the states behind each.
GROUPS: dict[str, tuple[str, tuple[str, ...]]] = {
    "": ("Open", ("raised", "planned", "under way", "waiting")),
    "raised": ("Raised", ("raised",)),
    "planned": ("Planned", ("planned",)),
    "under-way": ("Under way", ("under way",)),
    "waiting": ("Waiting", ("waiting",)),
    "done": ("Done, to accept", ("done",)),
    "accepted": ("Accepted", ("accepted",)),
    "withdrawn": ("Withdrawn", ("withdrawn",)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRow:
    """One work order as a list shows it."""

    number: int
    url: str
    tag: str
    code: str
    machine: bool
    title: str
    matters: str
    state: Shown
    doubtful: bool
    in_charge: str
    wanted_by: dt.date | None
    late: bool
    raised_at: dt.datetime
    waiting_for: str


@dataclass(frozen=True, slots=True)
class OrderPage:
    """One page of the list of work orders."""

    rows: tuple[OrderRow, ...]
    first: int
    last: int
    total: str
    more: bool


def orders_page(site: Site, group: str, mine: Person | None, today: dt.date, *, number: int = 1) -> OrderPage:
    """One page of the work orders of a group, the newest first."""
    wanted = _in_group(site, group, mine)
    start = (number - 1) * PAGE
    found = list(_for_rows(wanted).order_by("-number")[start : start + PAGE + 1])
    rows = order_rows(found[:PAGE], today)
    return OrderPage(rows, start + 1 if rows else 0, start + len(rows), counted_to(wanted), len(found) > PAGE)


def group_counts(site: Site, mine: Person | None) -> dict[str, str]:
    """How many work orders each link of the list shows."""
    return {group: counted_to(_in_group(site, group, mine)) for group in GROUPS}


def counted_to(rows: WorkOrderQuerySet, most: int = MOST) -> str:
    """How many rows there are, counted no further than `most`."""
    number = rows.order_by()[: most + 1].count()
    return f"{most}+" if number > most else str(number)


def _in_group(site: Site, group: str, mine: Person | None) -> WorkOrderQuerySet:
    rows = WorkOrder.objects.at(site).filter(state__in=GROUPS[group][1])
    return rows.filter(in_charge=mine) if mine else rows


def _for_rows(rows: WorkOrderQuerySet) -> WorkOrderQuerySet:
    return rows.select_related("position", "asset", "in_charge")


def order_rows(found: Iterable[WorkOrder], today: dt.date) -> tuple[OrderRow, ...]:
    """Rows to show for work orders whose tag and person in charge are loaded."""
    return tuple(_row(order, today) for order in found)


def _row(order: WorkOrder, today: dt.date) -> OrderRow:
    position = order.position
    return OrderRow(
        number=order.number,
        url=order.get_absolute_url(),
        tag=position.tag if position else str(order.asset),
        code=position.label_code if position else "",
        machine=bool(position and not position.measures),
        title=order.title,
        matters=position.matters_for if position else "other",
        state=order_state(order.state),
        doubtful=order.confirmed == "not yet confirmed" and order.is_open,
        in_charge=order.in_charge.name if order.in_charge else "",
        wanted_by=order.wanted_by,
        late=bool(order.is_open and order.wanted_by and order.wanted_by < today),
        raised_at=order.raised_at,
        waiting_for=order.waiting_for,
    )


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of an order's way."""

    word: str
    done: bool
    now: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One step as the page shows it; `begin` is the due item to begin instead of saying done."""

    number: int
    text: str
    state: Shown
    note: str
    by: str
    at: dt.datetime | None
    now: bool
    begin: int | None
    fulfils: str


@dataclass(frozen=True, slots=True)
class Hanging:
    """One lock that keeps the tag from running; `own` when it belongs to a lockout of this order."""

    lockout: int
    lock: str
    place: str
    who: str
    since: dt.datetime
    own: bool


@dataclass(frozen=True, slots=True)
class OpenLockout:
    """A lockout of this order that is not closed."""

    number: int
    begun_at: dt.datetime


@dataclass(frozen=True, slots=True)
class OrderView:
    """All that the page of one order shows beside the order itself."""

    stages: tuple[Stage, ...]
    state: Shown
    steps: tuple[StepRow, ...]
    locks: tuple[Hanging, ...]
    lockouts: tuple[OpenLockout, ...]
    rests_on_it: str
    planned: str

    @property
    def next_step(self) -> StepRow | None:
        """First step that is not done."""
        return next((step for step in self.steps if step.now), None)

    @property
    def steps_done(self) -> int:
        """How many steps are done."""
        return sum(1 for step in self.steps if step.at)


def order_view(order: WorkOrder) -> OrderView:
    """Collect what one order's page shows."""
    uses = rests_on([order.position_id]) if order.position_id else {}
    return OrderView(
        stages=_stages(order),
        state=order_state(order.state),
        steps=_steps(order),
        locks=hanging(order.position, order) if order.position else (),
        lockouts=tuple(
            OpenLockout(lockout.number, lockout.begun_at) for lockout in order.lockouts.open().order_by("number")
        ),
        rests_on_it=uses.get(order.position_id or 0, ""),
        planned=hours(order.planned_minutes) if order.planned_minutes else "",
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
    steps = list(order.steps.select_related("done_by", "plan").order_by("number"))
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
        )
        for step in steps
    )


def _waiting_step(is_next: bool) -> Shown:  # noqa: FBT001 - one flag, named
    return Shown("Next", "now") if is_next else Shown("Not yet", "notyet")


def _begins(plans: list[int | None]) -> dict[int, int]:
    """Open due item of each routine, the earliest one."""
    rows = Occurrence.objects.open().filter(plan__in=[p for p in plans if p]).order_by("-due")
    return dict(rows.values_list("plan_id", "pk"))


def hanging(position: Position, order: WorkOrder | None = None) -> tuple[Hanging, ...]:
    """Locks of anyone that keep a tag from running."""
    rows = Application.objects.stopping(position).select_related("lockout", "lock", "point", "box", "applied_by")
    return tuple(
        Hanging(
            lockout=row.lockout.number,
            lock=row.lock.number,
            place=str(row.point or row.box),
            who=row.applied_by.name,
            since=row.applied_at,
            own=order is not None and row.lockout.order_id == order.pk,
        )
        for row in rows.order_by("applied_at", "id")
    )


def workers(site: Site) -> list[Person]:
    """People who may be in charge of work at the site."""
    members = Membership.objects.now().filter(site=site, role__in=[Role.OPERATOR, Role.SUPERVISOR])
    return list(Person.objects.filter(memberships__in=members).distinct().order_by("name"))


def chosen_items(site: Site, pks: list[int]) -> list[Occurrence]:
    """Open due items of the site that were chosen in the list, in walking order."""
    rows = Occurrence.objects.at(site).open().filter(pk__in=pks[:PAGE])
    rows = rows.select_related("plan__position__area", "plan__asset", "plan__site")
    return list(rows.order_by("plan__position__area__walk_order", "plan__position__walk_order", "due", "id"))


def open_order_of(site: Site, origin_key: str) -> WorkOrder | None:
    """Work order that one record raised, if it is still open."""
    return WorkOrder.objects.at(site).open().filter(origin_key=origin_key).first()
