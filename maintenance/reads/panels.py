"""What upkeep says on the pages that set the apps side by side: the page of a tag, Today, Review."""

from __future__ import annotations

from dataclasses import dataclass

from assets.models import Position
from assets.permissions import OPERATORS, SUPERVISORS, Desk
from maintenance.models import OrderState, WorkOrder
from maintenance.reads.due import DueFilter, DuePage, Visit, blocked_rows, due_page, how_many, missed_rows
from maintenance.reads.due_rows import DueRow
from maintenance.reads.nightly import Night, last_night
from maintenance.reads.orders import OrderRow, order_rows
from maintenance.reads.routines import RoutineRow, plans_at, routine_rows

SHOWN = 20  # rows of each list on a page that shows several lists; the full lists are one link away


@dataclass(frozen=True, slots=True)
class TagPanel:
    """Routines and open work orders of one tag."""

    code: str
    routines: tuple[RoutineRow, ...]
    orders: tuple[OrderRow, ...]
    may_work: bool
    may_keep: bool


@dataclass(frozen=True, slots=True)
class TodayPanel:
    """What the day asks, by visit, and what the asking person has in charge."""

    visits: tuple[Visit, ...]
    shown: int
    total: str
    hours: str
    blocked: tuple[DueRow, ...]
    blocked_total: str
    mine: tuple[OrderRow, ...]
    to_accept: tuple[OrderRow, ...]
    may_work: bool


@dataclass(frozen=True, slots=True)
class ReviewPanel:
    """What is overdue and what it endangers, what was missed, which work orders wait for a supervisor."""

    overdue: DuePage
    overdue_total: str
    missed: tuple[DueRow, ...]
    missed_total: str
    to_plan: tuple[OrderRow, ...]
    to_accept: tuple[OrderRow, ...]
    night: Night | None
    may_decide: bool

    @property
    def waiting(self) -> int:
        """How many work orders wait to be planned or accepted, as far as they are shown."""
        return len(self.to_plan) + len(self.to_accept)


def tag_panel(desk: Desk, position: Position) -> TagPanel:
    """Routines, due items and open work orders of one tag."""
    orders = WorkOrder.objects.open().filter(position=position).select_related("position", "asset", "in_charge")
    return TagPanel(
        code=position.label_code,
        routines=routine_rows(plans_at(position), desk.today),
        orders=order_rows(orders.order_by("-number")[:SHOWN], desk.today),
        may_work=desk.may(OPERATORS),
        may_keep=desk.may(SUPERVISORS),
    )


def today_panel(desk: Desk) -> TodayPanel:
    """What today asks: due, late but allowed and overdue, by visit; what is blocked; work in the person's charge."""
    page = due_page(desk.site, DueFilter(), desk.today)
    orders = WorkOrder.objects.at(desk.site).select_related("position", "asset", "in_charge")
    mine = orders.open().filter(in_charge=desk.person).order_by("wanted_by", "number")
    return TodayPanel(
        visits=page.visits,
        shown=page.rows,
        total=how_many(desk.site, DueFilter(), desk.today),
        hours=page.hours,
        blocked=blocked_rows(desk.site, DueFilter(), desk.today, SHOWN),
        blocked_total=how_many(desk.site, DueFilter(state="blocked"), desk.today),
        mine=order_rows(mine[:SHOWN], desk.today),
        to_accept=_to_accept(desk) if desk.may(SUPERVISORS) else (),
        may_work=desk.may(OPERATORS),
    )


def review_panel(desk: Desk) -> ReviewPanel:
    """What a supervisor looks at: lateness with what rests on it, missed turns, orders that wait, the last night."""
    late = DueFilter(state="overdue")
    missed, missed_total = missed_rows(desk.site, desk.today, SHOWN)
    raised = WorkOrder.objects.at(desk.site).filter(state=OrderState.RAISED).order_by("number")
    rows = raised.select_related("position", "asset", "in_charge")[:SHOWN]
    return ReviewPanel(
        overdue=due_page(desk.site, late, desk.today),
        overdue_total=how_many(desk.site, late, desk.today),
        missed=missed,
        missed_total=missed_total,
        to_plan=order_rows(rows, desk.today),
        to_accept=_to_accept(desk),
        night=last_night(desk.site, desk.today),
        may_decide=desk.may(SUPERVISORS),
    )


def _to_accept(desk: Desk) -> tuple[OrderRow, ...]:
    """Work that is done and waits for somebody other than who did it."""
    done = WorkOrder.objects.at(desk.site).filter(state=OrderState.DONE).exclude(done_by=desk.person)
    rows = done.select_related("position", "asset", "in_charge").order_by("number")[:SHOWN]
    return order_rows(rows, desk.today)
