"""The facts of terms, pauses, running time, declared fulfilment and deferrals, read for the one formula."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from fractions import Fraction
from zoneinfo import ZoneInfo

from django.utils import timezone

from assets.compute.numbers import kept_number
from assets.compute.rounding import as_typed
from assets.models import Production, Site
from assets.reads.site_rules import rules_on
from maintenance.compute import schedule
from maintenance.models import AlsoFulfils, Deferral, Pause, Plan, PlanTerm
from maintenance.models.routines import Mode


def term_of(row: PlanTerm) -> schedule.Term:
    """One version of the terms of a routine."""
    return schedule.Term(
        mode=schedule.Mode(row.mode),
        every=row.every,
        unit=schedule.Unit(row.unit),
        from_day=row.from_day,
        decided_on=row.decided_on,
        recorded_at=row.recorded_at,
        anchor=row.anchor,
        early=schedule.days(row.early) if row.early_percent is None else schedule.percent(row.early_percent),
        late=schedule.days(row.late) if row.late_percent is None else schedule.percent(row.late_percent),
        by_rule=row.by_rule,
        while_running=bool(row.while_running),
        spacing=row.spacing or 0,
        bench=bool(row.bench),
        use=_use(row),
        limits=limits_of(row) if row.mode == Mode.CONDITION else None,
        season=season_of(row),
    )


def season_of(row: PlanTerm) -> schedule.Season | None:
    """The season of a term, None where it is owed all the year."""
    if row.season_first is None or row.season_last is None:
        return None
    return schedule.Season(
        first=(row.season_first.month, row.season_first.day), last=(row.season_last.month, row.season_last.day)
    )


def _use(row: PlanTerm) -> schedule.ByUse | None:
    every = kept_number(row.use_every)
    if every is None:
        return None
    early, late = (kept_number(text) or Fraction(0) for text in (row.use_early, row.use_late))
    return schedule.ByUse(every=every, unit=row.reads_unit, early=early, late=late)


def limits_of(row: PlanTerm) -> schedule.Limits:
    """The limits of a term on a condition. Raises ValueError for limits that nothing can be held against."""
    return schedule.Limits(
        low=kept_number(row.low), high=kept_number(row.high), answer_days=row.answer_days or 0, told=_good(row)
    )


def _good(row: PlanTerm) -> str:
    """What is good, in words: 2 to 35 kPa, up to 35 kPa, 90 % or more."""
    low, high = as_typed(row.low), as_typed(row.high)
    if low and high:
        return f"{low} to {high} {row.reads_unit}"
    return f"up to {high} {row.reads_unit}" if high else f"{low} {row.reads_unit} or more"


def pauses_of(plans: Sequence[Plan]) -> dict[int, list[schedule.Pause]]:
    """Pauses of routines, and of all routines of their tags."""
    found: dict[int, list[schedule.Pause]] = defaultdict(list)
    at = defaultdict(list)
    for plan in plans:
        at[plan.position_id or 0].append(plan.pk)
    places = [place for place in at if place]
    own = Pause.objects.filter(plan__in=[plan.pk for plan in plans])
    for row in (own | Pause.objects.filter(position__in=places)).order_by("id"):
        pause = schedule.Pause(
            key=str(row.pk),
            from_day=row.from_day,
            because=row.because,
            recorded_at=row.recorded_at,
            to_day=row.to_day,
            to_recorded_at=row.to_recorded_at,
        )
        for plan_id in [row.plan_id] if row.plan_id else at[row.position_id or 0]:
            found[plan_id].append(pause)
    return found


def runs_of(plans: Sequence[Plan], terms: Mapping[int, Sequence[PlanTerm]]) -> dict[int, list[schedule.Run]]:
    """Running time of the unit of each routine that asks for it: of its tag, else of the whole plant."""
    asking = [plan for plan in plans if any(t.mode == Mode.RUNNING or t.while_running for t in terms[plan.pk])]
    found: dict[int, list[schedule.Run]] = defaultdict(list)
    if not asking:
        return found
    sites = {plan.site_id for plan in asking}
    by_unit: dict[tuple[int, int], list[Production]] = defaultdict(list)
    for row in Production.objects.standing().filter(site__in=sites).order_by("from_at", "id"):
        by_unit[row.site_id, row.position_id or 0].append(row)
    for plan in asking:
        own = by_unit[plan.site_id, plan.position_id or 0] or by_unit[plan.site_id, 0]
        found[plan.pk] = [_run(row, plan.site.zone) for row in own]
    return found


def runs_of_plant(site: Site) -> tuple[schedule.Run, ...] | None:
    """When the whole plant ran; None where nobody has ever written it, so that it counts as running always."""
    rows = Production.objects.standing().filter(site=site, position=None).order_by("from_at", "id")
    return tuple(_run(row, site.zone) for row in rows) or None


def _run(row: Production, zone: ZoneInfo) -> schedule.Run:
    # A run that ends at midnight did not run on the day that begins then.
    last = (row.to_at - dt.timedelta(microseconds=1)).astimezone(zone).date() if row.to_at is not None else None
    return schedule.Run(
        key=str(row.pk),
        from_at=row.from_at,
        from_day=row.from_at.astimezone(zone).date(),
        recorded_at=row.recorded_at,
        to_at=row.to_at,
        last_day=last,
        to_recorded_at=row.to_recorded_at,
    )


def off_blocks(plan: Plan, terms: Sequence[PlanTerm], runs: Sequence[schedule.Run]) -> tuple[schedule.Block, ...]:
    """Days on which the unit did not run, for a routine that is owed only while it does."""
    if not any(term.while_running for term in terms):
        return ()
    return schedule.off_stretches(runs, first=plan.activated_on)


def also_of(plans: Sequence[int]) -> dict[int, list[schedule.AlsoFulfils]]:
    """Whose work counts for each routine as well."""
    found: dict[int, list[schedule.AlsoFulfils]] = defaultdict(list)
    for row in AlsoFulfils.objects.filter(fulfils__in=plans).order_by("id"):
        found[row.fulfils_id].append(
            schedule.AlsoFulfils(
                routine=str(row.plan_id),
                from_day=row.from_day,
                recorded_at=row.recorded_at,
                to_day=row.to_day,
                to_recorded_at=row.to_recorded_at,
            )
        )
    return found


def deferrals_of(plans: Sequence[int]) -> dict[int, list[schedule.Deferral]]:
    """What was put off with another person's approval."""
    found: dict[int, list[schedule.Deferral]] = defaultdict(list)
    for row in Deferral.objects.filter(plan__in=plans, approved=True).order_by("decided_at", "id"):
        assert row.decided_on is not None
        assert row.decided_at is not None
        found[row.plan_id].append(
            schedule.Deferral(
                key=str(row.pk),
                turn=row.turn,
                to_day=row.to_day,
                approved_on=row.decided_on,
                approved_at=row.decided_at,
                requested_by=str(row.asked_by_id),
                approved_by=str(row.decided_by_id),
                because=row.because,
                recorded_at=row.decided_at,
            )
        )
    return found


def stale_days_of(plans: Sequence[Plan]) -> dict[int, int]:
    """Days without a reading after which a meter must be read, by site."""
    sites = {plan.site_id: plan.site for plan in plans}
    now = timezone.now()
    return {
        pk: int(rules_on(site, now.astimezone(site.zone).date()).hours("stale_meter_days"))
        for pk, site in sites.items()
    }
