"""What the pages of work orders show: the list by state, and one order with all that keeps it open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from assets.models import Membership, Person, Position, Role, Site
from maintenance.models import Application, Occurrence, OrderType, WorkOrder
from maintenance.queries import WorkOrderQuerySet
from maintenance.reads.due import up_to
from maintenance.reads.due_words import Shown, order_state

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


# Words of the links by type, and what is stored; the last for orders on which none is written.
TYPES: dict[str, tuple[str, str]] = {
    **{one.value.replace(" ", "-"): (one.value, str(one.label)) for one in OrderType},
    "none": ("", "No type written"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFilter:
    """Which work orders are asked for: a group of states, a type ('' is any), whose, at which tag."""

    group: str = ""
    type: str = ""
    mine: Person | None = None
    tag: Position | None = None

    def of(self, site: Site) -> WorkOrderQuerySet:
        """The work orders that are asked for, in no order."""
        rows = WorkOrder.objects.at(site).filter(state__in=GROUPS[self.group][1])
        if self.type:
            rows = rows.filter(type=TYPES[self.type][0])
        if self.mine is not None:
            rows = rows.filter(in_charge=self.mine)
        return rows.filter(position=self.tag) if self.tag is not None else rows


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
    type: str
    blocked: bool


def listed_orders(site: Site, which: OrderFilter) -> WorkOrderQuerySet:
    """The work orders that are asked for, the newest first, with what their rows show."""
    return which.of(site).select_related("position", "asset", "in_charge").order_by("-number")


def group_counts(site: Site, which: OrderFilter) -> dict[str, str]:
    """How many work orders each state of the list shows, the other filters kept."""
    return {group: up_to(replace(which, group=group).of(site)) for group in GROUPS}


def tags_with_orders(site: Site) -> list[Position]:
    """Tags of a site at which a work order was ever raised, by tag."""
    rows = WorkOrder.objects.at(site).filter(position__isnull=False).order_by().values("position")
    return list(Position.objects.filter(pk__in=rows).order_by("tag"))


def order_rows(found: Iterable[WorkOrder], today: dt.date) -> tuple[OrderRow, ...]:
    """Rows to show for work orders whose tag and person in charge are loaded."""
    rows = list(found)
    locked = locked_for_others([order for order in rows if order.is_open])
    return tuple(_row(order, today, blocked=order.pk in locked) for order in rows)


def locked_for_others(orders: list[WorkOrder]) -> set[int]:
    """Keys of the orders at whose tag a lock of other work is on; two questions for all of them."""
    tags = {order.position_id for order in orders if order.position_id}
    if not tags:
        return set()
    on = Application.objects.on()
    at_point = on.filter(point__serves__position__in=tags, point__serves__to_at__isnull=True)
    in_lockout = on.filter(lockout__position__in=tags)
    locks = {
        *at_point.values_list("point__serves__position", "lockout__order"),
        *in_lockout.values_list("lockout__position", "lockout__order"),
    }
    return {order.pk for order in orders if any(at == order.position_id and of != order.pk for at, of in locks)}


def _row(order: WorkOrder, today: dt.date, *, blocked: bool) -> OrderRow:
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
        type=order.get_type_display(),
        blocked=blocked,
    )


@dataclass(frozen=True, slots=True)
class Hanging:
    """One lock that keeps the tag from running; `own` when it belongs to a lockout of this order."""

    lockout: int
    lock: str
    place: str
    who: str
    since: dt.datetime
    own: bool


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
    rows = Occurrence.objects.at(site).open().filter(pk__in=pks)
    rows = rows.select_related("plan__position__area", "plan__asset", "plan__site")
    return list(rows.order_by("plan__position__area__walk_order", "plan__position__walk_order", "due", "id"))


def open_order_of(site: Site, origin_key: str) -> WorkOrder | None:
    """Work order that one record raised, if it is still open."""
    return WorkOrder.objects.at(site).open().filter(origin_key=origin_key).first()
