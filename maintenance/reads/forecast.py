"""The coming year as the routines ask for it: jobs and hours by month, hours by week, parts as used so far."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count, Q, Sum

from assets.compute.numbers import kept_number
from assets.compute.readings.forecast import forecast
from assets.compute.readings.series import Known
from assets.compute.rounding import shown
from assets.compute.words import day_of_year
from assets.models import Site
from assets.reads.site_rules import rules_on
from maintenance.compute import schedule
from maintenance.compute.figures.ahead import Routine, Week, Year, jobs_of, weeks_from, year_from
from maintenance.compute.stock import amount_text
from maintenance.compute.usage import of_meter
from maintenance.models import MoveKind, Occurrence, Part, PartMove, Plan, PlanTerm, WorkOrder
from maintenance.reads.stretch_facts import term_of
from maintenance.reads.use_facts import looked_at

BY_USE = ("usage", "first of")
YEAR = dt.timedelta(days=365)


@dataclass(frozen=True, slots=True)
class PartAhead:
    """A part as it was used in the last 12 months, and what is there; n moves of use."""

    part: Part
    used: str
    n: int
    stock: str
    short: bool


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its words, jobs and hours; `width` of the drawing, `mark` where the hours there are end, '' for none."""

    word: str
    jobs: int
    hours: str
    width: str
    mark: str = ""
    over: bool = False
    parts: str = ""


def _hours(minutes: int) -> str:
    return shown(Fraction(minutes, 60), 1)


@dataclass(frozen=True, slots=True)
class Ahead:
    """The coming year; `hours_a_week` None: nothing is compared."""

    year: Year
    weeks: tuple[Week, ...]
    hours_a_week: Fraction | None
    parts: tuple[PartAhead, ...]

    @property
    def month_bars(self) -> tuple[Bar, ...]:
        """The months as bars of hours, the longest filling the width."""
        most = max((month.minutes for month in self.year.months), default=0) or 1
        return tuple(
            Bar(
                f"{month.first:%B %Y}",
                month.jobs,
                _hours(month.minutes),
                f"{100 * month.minutes / most:.1f}%",
                parts=", ".join(f"{kind.lower()} {n}" for kind, n in month.by_kind),
            )
            for month in self.year.months
        )

    @property
    def week_bars(self) -> tuple[Bar, ...]:
        """The weeks as bars of hours, with the hours there are as a mark where they are written."""
        there = self.hours_a_week * 60 if self.hours_a_week else Fraction(0)
        most = max([there, *(Fraction(week.minutes) for week in self.weeks)], default=Fraction(0)) or Fraction(1)
        return tuple(
            Bar(
                f"{day_of_year(week.first)} to {day_of_year(week.first + dt.timedelta(days=6))}",
                week.jobs,
                _hours(week.minutes),
                f"{float(100 * week.minutes / most):.1f}%",
                mark=f"{float(100 * there / most):.1f}%" if there else "",
                over=bool(there) and week.minutes > there,
                parts=f"routines {_hours(week.routines)} h, work orders {_hours(week.orders)} h",
            )
            for week in self.weeks
        )

    @property
    def hours(self) -> str:
        """Planned hours of the year."""
        return _hours(self.year.minutes)


def ahead_of(site: Site, today: dt.date) -> Ahead:
    """Return the coming year of a site; the number of queries depends on nothing."""
    routines = routines_of(site, today)
    open_now = WorkOrder.objects.at(site).open().filter(wanted_by__isnull=False, planned_minutes__isnull=False)
    orders = list(open_now.values_list("wanted_by", "planned_minutes"))
    return Ahead(
        year=year_from(routines, today),
        weeks=weeks_from(routines, orders, today),  # type: ignore[arg-type]  # filtered above
        hours_a_week=rules_on(site, today).number("hours_a_week"),
        parts=_parts(site, today),
    )


def routines_of(site: Site, today: dt.date) -> tuple[Routine, ...]:
    """Return the routines that stand, with their newest terms, their open turn and the rate of their meter."""
    plans = list(Plan.objects.at(site).standing().select_related("site", "position", "asset").order_by("title", "pk"))
    terms: dict[int, list[PlanTerm]] = defaultdict(list)
    for term in PlanTerm.objects.filter(plan__in=plans).select_related("plan__site").order_by("from_day", "id"):
        terms[term.plan_id].append(term)
    rows = Occurrence.objects.at(site).open().filter(Q(missed_from__isnull=True) | Q(missed_from__gt=today))
    rows = rows.exclude(why=schedule.READ_THE_METER)  # a reading is asked for, no job
    columns = rows.order_by("-due").values_list("plan_id", "due", "use_next", "day_due")
    # Only what is counted by use has a total there; what a condition raised says what would be good.
    owed = {plan: (due, mark if by_use is not None else "") for plan, due, mark, by_use in columns}
    meters = looked_at(plans, terms)
    return tuple(
        _routine(plan, terms[plan.pk][-1], owed.get(plan.pk), meters[plan.pk].metered if plan.pk in meters else ())
        for plan in plans
        if terms[plan.pk]
    )


def _routine(
    plan: Plan, term: PlanTerm, owed: tuple[dt.date, str] | None, metered: Sequence[schedule.Metered]
) -> Routine:
    due, mark = owed if owed is not None else (schedule.NEVER, "")
    next_due = due if due < schedule.NEVER else None
    days, reached = _by_use(term, mark, metered) if term.mode in BY_USE else (None, None)
    return Routine(
        pk=plan.pk,
        name=f"{plan.position or plan.asset}: {plan.title}",
        kind=plan.get_kind_display(),
        minutes=plan.minutes,
        mode=schedule.Mode(term.mode),
        every=term.every,
        unit=schedule.Unit(term.unit),
        anchor=term.anchor,
        next_due=next_due,
        use_days=days,
        use_due=min((day for day in (next_due, reached) if day), default=None),
        season=term_of(term).season,
    )


def _by_use(term: PlanTerm, mark: str, metered: Sequence[schedule.Metered]) -> tuple[Fraction | None, dt.date | None]:
    """Days that one interval by use takes at the rate so far, and the day on which `mark` of the meter is reached."""
    own = of_meter(metered, "")
    every = kept_number(term.use_every)
    if every is None or not own:
        return None, None
    known = [Known(at=one.at, known_at=one.recorded_at, total=one.total, shown=one.total, n=1) for one in own]
    rate = forecast(known, own[-1].total + every)
    if rate.per_day is None or rate.at is None:
        return None, None
    # The mark stands with its unit: 1700 h. One that is reached already is due by the stored turn.
    next_at = kept_number(mark.split(" ")[0]) if mark else None
    at = forecast(known, next_at).at if next_at is not None else rate.at
    return every / rate.per_day, at.astimezone(term.plan.site.zone).date() if at is not None else own[-1].day


def jobs_by_plan(site: Site, today: dt.date) -> dict[int, int | None]:
    """Return how often each routine is due in the coming 365 days; None where that cannot be told."""
    found = {one.pk: jobs_of(one, today, today + YEAR - dt.timedelta(days=1)) for one in routines_of(site, today)}
    return {pk: None if days is None else len(days) for pk, days in found.items()}


def _parts(site: Site, today: dt.date) -> tuple[PartAhead, ...]:
    begin = dt.datetime.combine(today - YEAR, dt.time(0), tzinfo=site.zone)
    moves = PartMove.objects.filter(part__site=site, part__retired_at__isnull=True).order_by()
    used = moves.filter(kind__in=[MoveKind.USED, MoveKind.RETURNED], recorded_at__gte=begin)
    taken = {part: (-total, n) for part, total, n in used.values_list("part").annotate(Sum("thousandths"), Count("pk"))}
    there = dict(moves.values_list("part").annotate(Sum("thousandths")))
    parts = Part.objects.filter(pk__in=[part for part, (total, _) in taken.items() if total > 0])
    return tuple(_part(part, *taken[part.pk], there.get(part.pk, 0)) for part in parts.order_by("name", "pk"))


def _part(part: Part, used: int, n: int, there: int) -> PartAhead:
    return PartAhead(part, amount_text(used), n, amount_text(there), there < used)


COLUMNS = ("month", "jobs", "planned hours", "by kind")


def rows_of_ahead(found: Ahead) -> list[tuple[str, ...]]:
    """Return the months as rows of a file, the heading first; then what cannot be told."""
    months = [
        (
            f"{month.first:%Y-%m}",
            str(month.jobs),
            f"{month.minutes / 60:.1f}",
            ", ".join(f"{kind} {n}" for kind, n in month.by_kind),
        )
        for month in found.year.months
    ]
    return [COLUMNS, *months, *((name, "cannot be told", "", why) for name, why in found.year.untold)]
