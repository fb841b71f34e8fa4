"""Figures of upkeep for a stretch of days, read from their tables; the number of queries depends on nothing."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.core.cache import cache
from django.db.models import Count, Max, Min, Q, Sum
from django.urls import reverse

from assets.compute.canonical import digest
from assets.compute.readings.facts import Span, hours_between
from assets.compute.readings.series import total_over
from assets.compute.words import day_named
from assets.models import Event, Fitting, Position, Reading, Site
from assets.reads.site_rules import rules_on
from maintenance.compute.figures import Figure
from maintenance.compute.figures.turns import Due, days_late, on_time
from maintenance.compute.figures.work import (
    Order,
    Time,
    adherence,
    backlog,
    between_failures,
    hours_by_kind,
    restoration,
)
from maintenance.models import Deferral, Labour, LineKind, Occurrence, OrderState, PlanTerm, PointLine, WorkOrder
from maintenance.models.orders import CORRECTIVE, Confirmed
from maintenance.reads.walks_lines import counts_of

HOURS = ("h", "hours", "hour", "hrs", "hr")
HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True)
class Period:
    """The days that figures are of, both included; `key` is how a link asks for them."""

    key: str
    word: str
    first: dt.date
    last: dt.date

    @property
    def title(self) -> str:
        """The period in words, with its days."""
        return f"{self.word}, {day_named(self.first)} to {day_named(self.last)}"


def periods(site: Site, today: dt.date) -> tuple[Period, ...]:
    """Periods that can be chosen: 30 days, 12 months, and each calendar year since the first due item."""
    begun = Occurrence.objects.at(site).aggregate(first=Min("raw"))["first"] or today
    years = range(today.year, min(max(begun.year, today.year - 9), today.year) - 1, -1)
    return (
        Period("30d", "Last 30 days", today - dt.timedelta(days=29), today),
        Period("12m", "Last 12 months", today - dt.timedelta(days=364), today),
        *(Period(str(year), str(year), dt.date(year, 1, 1), min(dt.date(year, 12, 31), today)) for year in years),
    )


@dataclass(frozen=True, slots=True)
class UpkeepFigures:
    """Figures of one period: those of due items, of work orders, and of failures; machines one by one at the end."""

    due: tuple[Figure, ...]
    orders: tuple[Figure, ...]
    failures: tuple[Figure, ...]
    machines: tuple[Figure, ...]

    @property
    def all(self) -> tuple[Figure, ...]:
        """All of them in the order they are shown."""
        return (*self.due, *self.orders, *self.failures, *self.machines)


def figures_of(site: Site, period: Period, today: dt.date) -> UpkeepFigures:
    """Return the figures of a period; worked out once between two acts of the site, for every act writes an event."""
    newest = Event.objects.filter(chain=site.pk).aggregate(newest=Max("number"))["newest"]
    key = digest(["figures of upkeep", site.pk, newest, today, period.first, period.last])
    kept: UpkeepFigures | None = cache.get(key)
    if kept is None:
        kept = _worked_out(site, period, today)
        cache.set(key, kept, timeout=86_400)
    return kept


def _worked_out(site: Site, period: Period, today: dt.date) -> UpkeepFigures:
    items = list(due_of(site, period, today))
    orders = _orders(site, period)
    open_now = WorkOrder.objects.at(site).open().select_related("position", "asset").order_by("number")
    return UpkeepFigures(
        due=(on_time(items), days_late(items)),
        orders=(
            adherence(_wanted_in(orders, period), today),
            restoration(_done_in(orders, period)),
            backlog([_order(one, site) for one in open_now], rules_on(site, today).number("hours_a_week")),
            *hours_by_kind(_times(site, period)),
        ),
        **_failures(site, period),
    )


# ---------------------------------------------------------------------------------- due items


def due_of(site: Site, period: Period, today: dt.date) -> Iterator[Due]:
    """Due items whose own due day lies in the period; one that is open counts once that day is over."""
    days = (period.first, period.last)
    own = Q(day_due__isnull=True, raw__range=days) | Q(day_due__isnull=False, due__range=days)
    to_come = Q(day_due__isnull=True, raw__gte=today) | Q(day_due__isnull=False, due__gte=today)
    rows = Occurrence.objects.at(site).filter(own).exclude(to_come, ended="open")
    by_rule = _by_rule(site)
    put_off = set(Deferral.objects.filter(site=site, approved=True).values_list("plan_id", "turn"))
    columns = ("plan", "turn", "raw", "due", "latest", "day_due", "ended", "ended_on", "blocked_from", "missed_from")
    named = ("because", "plan__title", "plan__position__tag", "plan__asset__kind", "plan__asset__serial")
    for row in rows.order_by("raw", "id").values(*columns, *named):
        passed = row["ended"] == "open" and row["missed_from"] is not None and row["missed_from"] <= today
        yield Due(
            name=f"{row['plan__position__tag'] or _asset(row)}: {row['plan__title']}",
            own=row["raw"] if row["day_due"] is None else row["due"],
            due=row["due"],
            latest=row["latest"],
            ended="missed" if passed else row["ended"],
            ended_on=row["missed_from"] if passed else row["ended_on"],
            by_rule=row["plan"] in by_rule,
            deferred=(row["plan"], row["turn"]) in put_off,
            blocked=row["blocked_from"] is not None and row["blocked_from"] <= today,
            because=row["because"],
        )


def _asset(row: dict[str, object]) -> str:
    return f"{row['plan__asset__kind']} {row['plan__asset__serial']}"


def _by_rule(site: Site) -> set[int]:
    """Routines whose newest terms say that a rule demands the interval."""
    newest = dict(PlanTerm.objects.filter(plan__site=site).order_by("from_day", "id").values_list("plan_id", "by_rule"))
    return {plan for plan, demanded in newest.items() if demanded}


# ---------------------------------------------------------------------------------- work orders


def _edges(site: Site, period: Period) -> Span:
    begin = dt.datetime.combine(period.first, dt.time(0), tzinfo=site.zone)
    return Span(start=begin, end=dt.datetime.combine(period.last + dt.timedelta(days=1), dt.time(0), tzinfo=site.zone))


def _orders(site: Site, period: Period) -> list[WorkOrder]:
    span = _edges(site, period)
    touched = Q(wanted_by__range=(period.first, period.last)) | Q(done_at__gte=span.start, done_at__lt=span.end)
    return list(
        WorkOrder.objects.at(site).filter(touched).select_related("position", "asset", "site").order_by("number")
    )


def _wanted_in(orders: Iterable[WorkOrder], period: Period) -> list[Order]:
    return [_order(one, one.site) for one in orders if one.wanted_by and period.first <= one.wanted_by <= period.last]


def _done_in(orders: Iterable[WorkOrder], period: Period) -> list[Order]:
    found = [_order(one, one.site) for one in orders if one.state != OrderState.WITHDRAWN]
    return [one for one in found if one.done_on and period.first <= one.done_on <= period.last]


def _order(one: WorkOrder, site: Site) -> Order:
    return Order(
        name=f"{str(one).capitalize()}, {one.position or one.asset}: {one.title}",
        type=one.type,
        state=one.state,
        wanted_by=one.wanted_by,
        done_on=one.done_at.astimezone(site.zone).date() if one.done_at else None,
        hours_to_done=hours_between(one.raised_at, one.done_at) if one.done_at else None,
        planned_minutes=one.planned_minutes,
    )


def _times(site: Site, period: Period) -> list[Time]:
    """Minutes that stand, by type of order: on the day the work began, or on which it was written where none is."""
    span = _edges(site, period)
    began = Q(from_at__gte=span.start, from_at__lt=span.end)
    written = Q(from_at__isnull=True, recorded_at__gte=span.start, recorded_at__lt=span.end)
    rows = Labour.objects.filter(began | written, order__site=site, replaced_by__isnull=True, minutes__gt=0)
    summed = rows.order_by().values_list("order__type").annotate(Sum("minutes"), Count("order", distinct=True))
    return [Time(type_, minutes, orders) for type_, minutes, orders in summed]


# ---------------------------------------------------------------------------------- failures


@dataclass(slots=True)
class _Machine:
    tag: str
    first_fitted: dt.date | None = None
    failures: int = 0
    hours: Fraction = Fraction(0)
    metered: bool = False


def _failures(site: Site, period: Period) -> dict[str, tuple[Figure, ...]]:
    machines = _machines(site)
    _add_hours(site, period, machines)
    _add_failures(site, period, machines)
    metered = [one for one in machines.values() if one.metered]
    others = [(one, days) for one in machines.values() if not one.metered and (days := _days_in(one, period)) > 0]
    by_hours = between_failures(
        "Mean operating time between failures",
        failures=sum(one.failures for one in metered),
        running=sum((one.hours for one in metered), Fraction(0)),
        unit="h",
        items=len(metered),
        calendar=False,
        says="Machines whose hours are read; a standby machine counts only while it runs.",
    )
    by_days = between_failures(
        "Mean calendar time between failures",
        failures=sum(one.failures for one, _ in others),
        running=Fraction(sum(days for _, days in others)),
        unit="d",
        items=len(others),
        calendar=True,
        says="Machines without a read hour meter, from the day the first fitting was written: no operating time.",
    )
    each = sorted((one for one in metered if one.failures), key=lambda one: (-one.failures, one.tag))
    return {
        "failures": (by_hours, by_days),
        "machines": tuple(
            between_failures(one.tag, failures=one.failures, running=one.hours, unit="h", items=1, calendar=False)
            for one in each[:20]
        ),
    }


def _machines(site: Site) -> dict[int, _Machine]:
    rows = Position.objects.at(site).standing().filter(does="moves").annotate(written=Min("fittings__recorded_at"))
    return {
        pk: _Machine(tag, written.astimezone(site.zone).date() if written else None)
        for pk, tag, written in rows.order_by("tag").values_list("pk", "tag", "written")
    }


def _days_in(machine: _Machine, period: Period) -> int:
    if machine.first_fitted is None:
        return 0
    return (period.last - max(period.first, machine.first_fitted)).days


def _add_hours(site: Site, period: Period, machines: dict[int, _Machine]) -> None:
    """Add up what the hour meters of each machine counted in the period; hours over an edge are shared out by time."""
    span = _edges(site, period)
    margin = dt.timedelta(days=45)  # the readings before and after the edges
    lines = PointLine.objects.filter(point__round__site=site, kind=LineKind.COUNTER, unit__in=HOURS)
    terms = PlanTerm.objects.filter(plan__site=site, reads_unit__in=HOURS)
    names = Q(what__icontains="hour") | Q(what__in=lines.values("what")) | Q(what__in=terms.values("reads"))
    rows = Reading.objects.standing().filter(names, site=site, unit__in=HOURS)
    rows = rows.filter(taken_at__gte=span.start - margin, taken_at__lt=span.end + margin)
    fitted = _fitted(site)
    meters: dict[tuple[int, int], list[Reading]] = defaultdict(list)
    for row in rows.select_related("counter_break").order_by("taken_at", "id"):
        place = row.position_id or _place_of(row, fitted)
        if place in machines:
            meters[place, row.asset_id or 0].append(row)
    for (place, _), own in meters.items():
        total = total_over(counts_of(own, "h", site), span, share_out=True)
        if total.value is not None:
            machines[place].metered = True
            machines[place].hours += total.value


def _fitted(site: Site) -> dict[int, list[Fitting]]:
    found: dict[int, list[Fitting]] = defaultdict(list)
    for one in Fitting.objects.filter(position__site=site, position__does="moves").order_by("from_at"):
        found[one.asset_id].append(one)
    return found


def _place_of(row: Reading, fitted: dict[int, list[Fitting]]) -> int:
    """Where a machine stood when its meter was read, 0 where it stood nowhere."""
    for one in fitted.get(row.asset_id or 0, ()):
        if one.from_at <= row.taken_at and (one.to_at is None or row.taken_at <= one.to_at):
            return one.position_id
    return 0


def _add_failures(site: Site, period: Period, machines: dict[int, _Machine]) -> None:
    """Count corrective orders by the day they were raised; several of one day at one tag are one failure."""
    span = _edges(site, period)
    corrective = Q(type__in=CORRECTIVE) | Q(type="", plan=None)
    rows = WorkOrder.objects.at(site).filter(corrective, position__in=machines)
    rows = rows.filter(raised_at__gte=span.start, raised_at__lt=span.end)
    rows = rows.exclude(state=OrderState.WITHDRAWN).exclude(confirmed=Confirmed.NOT_YET)
    found = {
        (place, raised.astimezone(site.zone).date()) for place, raised in rows.values_list("position_id", "raised_at")
    }
    for place, _ in found:
        machines[place or 0].failures += 1


# ---------------------------------------------------------------------------------- as a file

COLUMNS = ("figure", "value", "unit", "numerator", "denominator", "n", "likely", "formula", "says", "left out or apart")


def rows_of_file(figures: Sequence[Figure], period: Period) -> list[tuple[str, ...]]:
    """Return the figures as rows of a file, the heading first and the period under it."""
    return [COLUMNS, ("period", period.title, *[""] * (len(COLUMNS) - 2)), *(_row(one) for one in figures)]


def _row(one: Figure) -> tuple[str, ...]:
    left_out = "; ".join(f"{part.why}: {part.n}" for part in one.left_out)
    value = one.value if one.state == "told" else one.state
    return (
        *(one.name, value, one.unit, one.numerator, one.denominator, str(one.n)),
        *(one.likely, one.formula, one.says, left_out),
    )


def figures_path(period: Period) -> str:
    """Return the address of the figures of a period."""
    return f"{reverse('figures')}?period={period.key}"
