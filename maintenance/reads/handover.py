"""What upkeep and the plant tell at a change of shift, and the page of a handover."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Prefetch
from django.urls import reverse

from assets.compute.numbers import read_number
from assets.compute.units import convert
from assets.compute.words import moment_named
from assets.models import Limit, Person, Production, Reading, Site
from assets.permissions import OPERATORS, Desk
from assets.reads.site_rules import rules_on
from maintenance import hooks
from maintenance.compute.handover import CARRIED, HAPPENED, LEFT, Told, in_order
from maintenance.models import (
    Application,
    Handover,
    HandoverItem,
    Lockout,
    Override,
    OverrideLook,
    Performance,
    WorkOrder,
)
from maintenance.reads.due import DueFilter, due_page
from maintenance.reads.due_words import Shown
from maintenance.reads.walks_lines import limit_named

MOST = 40  # lines of one kind; a shift that has more is read in its lists
KINDS = {
    "Forced value": ("forced", "standin"),
    "Hold": ("hold", "standin"),
    "Bypass": ("bypass", "standin"),
    "Shelved alarm": ("shelved", "standin"),
    "Locked": ("lockon", ""),
    "Failed check": ("fail", "bad"),
    "Out of limit": ("over", "bad"),
    "Monitor out": ("due", ""),
    "Time is up": ("overdue", "bad"),
}


def told_at(site: Site, by: Person, since: dt.datetime, until: dt.datetime) -> tuple[Told, ...]:
    """Everything that a handover by this person tells, from all apps, in the order it is read."""
    return in_order(one for teller in hooks.handover_tellers for one in teller(site, by, since, until))


def tell_upkeep(site: Site, by: Person, since: dt.datetime, until: dt.datetime) -> Iterator[Told]:
    """What is carried, what was done, what is left undone."""
    yield from _overrides(site, by)
    yield from _lockouts(site)
    yield from _orders(site, since, until)
    yield from _work(site, since, until)
    yield from _left(site, until)


def tell_plant(site: Site, by: Person, since: dt.datetime, until: dt.datetime) -> Iterator[Told]:
    """Readings outside their limits, and what was started or stopped."""
    yield from _odd_readings(site, since, until)
    for run in Production.objects.within(since, until).filter(site=site).select_related("position"):
        called = run.position.tag if run.position else "The plant"
        if run.from_at >= since:
            yield Told(part=HAPPENED, kind="Running", title=f"{called} was started", at=run.from_at)
        if run.to_at is not None and since <= run.to_at <= until:
            yield Told(part=HAPPENED, kind="Running", title=f"{called} stopped", at=run.to_at)


def _overrides(site: Site, by: Person) -> Iterator[Told]:
    rows = Override.objects.at(site).put_on().select_related("position", "owner")
    looks: dict[int, list[str]] = {}
    for look in OverrideLook.objects.filter(override__in=rows).order_by("taken_at"):
        here = look.taken_at.astimezone(site.zone)
        agrees = "" if look.agrees else ", which does not agree"
        looks.setdefault(look.override_id, []).append(f"{look.value} {look.unit} at {here:%H:%M}{agrees}")
    for one in rows:
        mine = one.owner_id == by.pk
        seen = f"Held against evidence: {'; '.join(looks[one.pk][-3:])}." if one.pk in looks else "Not looked at yet."
        value = f" {one.value} {one.unit}" if one.value else ""
        rests = f" {one.rests_on_it[0].upper()}{one.rests_on_it[1:]}." if one.rests_on_it else ""
        limit = one.limit_at.astimezone(site.zone)
        yield Told(
            part=CARRIED if mine else LEFT,
            kind=one.get_kind_display(),
            key=f"override {one.number}" if mine else "",
            tag=one.position.tag,
            code=one.position.label_code,
            machine=not one.position.measures,
            matters_for=one.matters_for,
            title=f"{one.what}:{value}, ends {moment_named(limit)}"[:200],
            text=f"{'' if mine else f'{one.owner.name} carries it. '}{seen}{rests}"[:400],
            path=one.get_absolute_url(),
        )


def _lockouts(site: Site) -> Iterator[Told]:
    hung = Application.objects.on().select_related("lock", "applied_by").order_by("id")
    rows = Lockout.objects.at(site).open().select_related("position").order_by("number")
    for one in rows.prefetch_related(Prefetch("applications", queryset=hung, to_attr="hung")):
        owners = ", ".join(f"{lock.lock.number} {lock.applied_by.name}" for lock in one.hung)  # type: ignore[attr-defined]
        yield Told(
            part=CARRIED,
            kind="Locked",
            key=f"lockout {one.number}",
            tag=one.position.tag,
            code=one.position.label_code,
            machine=not one.position.measures,
            matters_for="safety",
            title="Do not start",
            text=(f"Locks stay with their owners: {owners}. " if owners else "No lock hangs yet. ")[:360]
            + "You take over that nobody starts it.",
            path=reverse("maintenance:lockout", args=[one.number]),
        )


def _orders(site: Site, since: dt.datetime, until: dt.datetime) -> Iterator[Told]:
    raised = WorkOrder.objects.at(site).filter(raised_at__range=(since, until)).select_related("position", "raised_by")
    done = WorkOrder.objects.at(site).filter(done_at__range=(since, until)).select_related("position", "done_by")
    for order in raised[:MOST]:
        yield _of_order(order, "raised", order.raised_at, order.raised_by.name)
    for order in done[:MOST]:
        assert order.done_at is not None
        yield _of_order(order, "done", order.done_at, order.done_by.name if order.done_by else "")


def _of_order(order: WorkOrder, word: str, at: dt.datetime, who: str) -> Told:
    return Told(
        part=HAPPENED,
        kind="Work order",
        title=f"Work order {order.number} {word}: {order.title}"[:200],
        text=who,
        at=at,
        tag=order.position.tag if order.position else "",
        path=order.get_absolute_url(),
    )


def _work(site: Site, since: dt.datetime, until: dt.datetime) -> Iterator[Told]:
    rows = Performance.objects.standing().filter(plan__site=site, performed_at__range=(since, until))
    for row in rows.select_related("plan__position", "plan__asset", "recorded_by").order_by("-performed_at")[:MOST]:
        yield Told(
            part=HAPPENED,
            kind="Routine",
            title=f"{row.plan.title}{'' if row.counts else f': does not count, {row.because}'}"[:200],
            text=row.recorded_by.name,
            at=row.performed_at,
            tag=row.plan.position.tag if row.plan.position else str(row.plan.asset),
            path=row.get_absolute_url(),
        )


def _left(site: Site, until: dt.datetime) -> Iterator[Told]:
    page = due_page(site, DueFilter(), until.astimezone(site.zone).date())
    for visit in page.visits:
        for row in visit.rows[:MOST]:
            yield Told(
                part=LEFT,
                kind=row.state.word,
                title=row.what[:200],
                text=f"Cannot start, because {row.because}"[:400] if row.because else "",
                tag=row.tag,
                code=row.code,
                machine=row.machine,
                matters_for=row.matters,
                path=row.url,
            )


def _odd_readings(site: Site, since: dt.datetime, until: dt.datetime) -> Iterator[Told]:
    rows = list(
        Reading.objects.standing()
        .filter(site=site, position__isnull=False, taken_at__range=(since, until))
        .select_related("position", "recorded_by")
    )
    limits: dict[int, list[Limit]] = {}
    day = until.astimezone(site.zone).date()
    for limit in Limit.objects.filter(position__in={row.position_id for row in rows}).in_force(day):
        limits.setdefault(limit.position_id, []).append(limit)
    for row in rows:
        position = row.position
        assert position is not None
        if row.what.casefold() != position.quantity.casefold():
            continue
        for limit in limits.get(position.pk, []):
            value = convert(read_number(row.entered, decimal_mark=","), row.unit, limit.unit)
            bound = read_number(limit.value, decimal_mark=",")
            if value > bound if limit.side == "high" else value < bound:
                beyond = "above" if limit.side == "high" else "below"
                side = f"{beyond} the {limit_named(limit.name)}, {limit.value} {limit.unit}"
                yield Told(
                    part=HAPPENED,
                    kind="Out of limit",
                    title=f"{position.quantity} {row.entered} {row.unit}, {side}",
                    text=f"{row.recorded_by.name}, read at {row.get_face_display()}",
                    at=row.taken_at,
                    tag=position.tag,
                    code=position.label_code,
                    matters_for=position.matters_for,
                )


def began(site: Site, now: dt.datetime) -> dt.datetime | None:
    """When the shift that runs now began by the site's own times; None where it has written none."""
    here = now.astimezone(site.zone)
    times = rules_on(site, here.date()).times("shift_times")
    if not times:
        return None
    today = [dt.datetime.combine(here.date(), one, tzinfo=site.zone) for one in times]
    before = [dt.datetime.combine(here.date() - dt.timedelta(days=1), one, tzinfo=site.zone) for one in times]
    return max(moment for moment in (*before, *today) if moment <= here)


def shift_of(site: Site, now: dt.datetime) -> dt.datetime:
    """When the shift that is handed over now began: the last handover's end, else by the site's times, else 12 h ago.

    Handed over a little after the change, the shift that has just begun is not the one that ends.
    """
    last = Handover.objects.filter(site=site).order_by("-number").values_list("made_at", flat=True).first()
    if last is not None and now - last < dt.timedelta(hours=36):
        return last
    start = began(site, now - dt.timedelta(hours=1))
    return start or now - dt.timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverRow:
    """One line of a handover as its page shows it."""

    item: HandoverItem
    kind: Shown
    mine: bool


@dataclass(frozen=True, slots=True)
class HandoverView:
    """One handover: what is to be taken over, what happened, what is left; and whether the person may take it."""

    handover: Handover
    carried: tuple[HandoverRow, ...]
    happened: tuple[HandoverRow, ...]
    left: tuple[HandoverRow, ...]
    may_take: bool

    @property
    def open(self) -> int:
        """How many things nobody has taken over yet."""
        return sum(row.item.taken_at is None for row in self.carried)


def handover_view(desk: Desk, handover: Handover) -> HandoverView:
    """Return one handover for its page."""
    items = list(handover.items.select_related("taken_by"))
    rows = [HandoverRow(item=one, kind=shown_kind(one.kind), mine=one.taken_by_id == desk.person.pk) for one in items]
    carried = tuple(row for row in rows if row.item.carried_key)
    told = [row for row in rows if not row.item.carried_key]
    view = HandoverView(
        handover,
        carried,
        tuple(row for row in told if row.item.at is not None),
        tuple(row for row in told if row.item.at is None),
        may_take=False,
    )
    may = desk.may(OPERATORS) and handover.made_by_id != desk.person.pk and view.open > 0
    return HandoverView(handover, view.carried, view.happened, view.left, may_take=may)


def shown_kind(kind: str) -> Shown:
    """Word and shape of a line."""
    shape, ink = KINDS.get(kind, ("", ""))
    return Shown(kind, shape, ink)


@dataclass(frozen=True, slots=True)
class Untaken:
    """A handover of which something is not taken over yet."""

    handover: Handover
    left: int
    total: int
    mine: bool


def untaken(desk: Desk) -> tuple[Untaken, ...]:
    """Handovers of the site of which somebody still has to take something over, the oldest first."""
    open_items = HandoverItem.objects.filter(handover__site=desk.site, taken_at__isnull=True).exclude(carried_key="")
    found = Handover.objects.filter(pk__in=open_items.values("handover")).select_related("made_by").order_by("number")
    rows = HandoverItem.objects.filter(handover__in=found).exclude(carried_key="").values_list("handover", "taken_at")
    counts: dict[int, list[bool]] = {}
    for handover_id, taken in rows:
        counts.setdefault(handover_id, []).append(taken is None)
    return tuple(
        Untaken(one, sum(counts[one.pk]), len(counts[one.pk]), one.made_by_id == desk.person.pk) for one in found
    )


def handovers(site: Site) -> Iterable[Handover]:
    """The newest handovers; all of them stand in their own list."""
    return Handover.objects.filter(site=site).select_related("made_by")[:5]
