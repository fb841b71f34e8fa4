"""Figures of checks for a stretch of days, checks that came late, and the standards that the coming year opens."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass

from django.db.models import Count, F

from assets.models import Site
from calibration.compute.families import FAMILIES, NO_LIFE
from calibration.compute.standards import BUFFER
from calibration.models import Check, Lot, LotFact, Point, ReadingSet, Requirement, StandardKind
from calibration.reads.sheet import FAILING
from maintenance.compute.figures import Figure, LeftOut, share
from maintenance.compute.figures.ahead import lots_needed
from maintenance.reads.figures import Period
from maintenance.reads.forecast import jobs_by_plan
from maintenance.reads.late import LATE_AFTER, LateRow

YEAR = dt.timedelta(days=365)
NAMED = 40
PASSING = frozenset({"pass", "conditional pass"})


def passed_as_found(site: Site, period: Period) -> Figure:
    """Share of the checks of a period that passed as they were found, before anybody adjusted anything."""
    begin = dt.datetime.combine(period.first, dt.time(0), tzinfo=site.zone)
    end = dt.datetime.combine(period.last + dt.timedelta(days=1), dt.time(0), tzinfo=site.zone)
    sets = ReadingSet.objects.filter(check_of__site=site, kind="as found", performed_at__gte=begin)
    rows = sets.filter(performed_at__lt=end).order_by("performed_at", "pk")
    columns = ("check_of__number", "check_of__position__tag", "check_of__replaced_by", "lost_because")
    found: dict[str, list[str]] = defaultdict(list)
    for number, tag, replaced, lost, valid, verdict in rows.values_list(*columns, "outcome__valid", "outcome__verdict"):
        found[_sort(replaced, lost, valid, verdict)].append(f"check {number}, {tag}")
    passed, failed = len(found["pass"]), len(found["fail"])
    return share(
        "Passed as found",
        "checks passed as found ÷ valid checks with a verdict as found",
        kept=passed,
        of=passed + failed,
        words=("passed as found", "valid, with a verdict as found"),
        left_out=[
            LeftOut(f"{why}; stands in neither number", len(found[why]), tuple(found[why][:NAMED]))
            for why in ("not valid", "as found was lost", "no verdict", "corrected by a later check")
        ],
    )


def _sort(replaced: int | None, lost: str, valid: bool | None, verdict: str | None) -> str:  # noqa: FBT001 - a column
    if replaced is not None:
        return "corrected by a later check"
    if lost:
        return "as found was lost"
    if valid is False:
        return "not valid"
    if verdict in PASSING:
        return "pass"
    return "fail" if verdict in FAILING else "no verdict"


def checks_entered_late(site: Site, since: dt.datetime, most: int) -> tuple[LateRow, ...]:
    """Reading sets written down more than a quarter of an hour after they were taken, the newest first."""
    rows = ReadingSet.objects.filter(check_of__site=site, recorded_at__gte=since, check_of__replaced_by__isnull=True)
    rows = rows.filter(recorded_at__gt=F("performed_at") + LATE_AFTER).order_by("-recorded_at", "-pk")
    return tuple(
        LateRow(
            tag=row.check_of.position.tag,
            code=row.check_of.position.label_code,
            what=f"{str(row.check_of).capitalize()}, {row.kind}",
            url=row.check_of.get_absolute_url(),
            performed_at=row.performed_at,
            recorded_at=row.recorded_at,
            by=row.recorded_by.name,
            because=row.late_because,
        )
        for row in rows.select_related("check_of__position", "recorded_by")[:most]
    )


@dataclass(frozen=True, slots=True)
class StandardAhead:
    """One kind of standard: checks of the coming year that use it, lots they open, what is there unopened.

    lots None: opening does not spoil it. n: checks of the last year that this rests on.
    """

    kind: str
    url: str
    checks: int
    lots: int | None
    life: int | None
    unopened: int
    n: int

    @property
    def short(self) -> bool:
        """Whether fewer lots are there than the year opens."""
        return self.lots is not None and self.unopened < self.lots


def standards_ahead(site: Site, today: dt.date) -> tuple[StandardAhead, ...]:
    """Return the standards that the checks of the coming year open, by what the checks of the last year used."""
    begin = dt.datetime.combine(today - YEAR, dt.time(0), tzinfo=site.zone)
    used = Point.objects.filter(set__check_of__site=site, set__performed_at__gte=begin, lot__isnull=False)
    pairs = used.order_by().values_list("lot__kind", "set__check_of__requirement")
    counted = {(kind, req): n for kind, req, n in pairs.annotate(Count("set__check_of", distinct=True))}
    plans = dict(Requirement.objects.filter(site=site).values_list("pk", "plan_id"))
    jobs = jobs_by_plan(site, today)
    checks: Counter[int] = Counter()
    rests: Counter[int] = Counter()
    for (kind, req), n in counted.items():
        ahead = jobs.get(plans.get(req) or 0)
        checks[kind] += n if ahead is None else ahead
        rests[kind] += n
    kinds = StandardKind.objects.filter(pk__in=checks).order_by("family", "name")
    lives, unopened = _lives(site), _unopened(site, today)
    return tuple(_ahead(kind, checks[kind.pk], rests[kind.pk], lives.get(kind.pk), unopened[kind.pk]) for kind in kinds)


def _ahead(kind: StandardKind, checks: int, n: int, life: int | None, unopened: int) -> StandardAhead:
    family = kind.family or BUFFER
    spoils = family not in FAMILIES or FAMILIES[family].life != NO_LIFE
    lasts = life if spoils else None
    return StandardAhead(str(kind), kind.get_absolute_url(), checks, lots_needed(checks, lasts), lasts, unopened, n)


def _lives(site: Site) -> dict[int, int]:
    """Days that the newest lot of each kind may be used once opened."""
    rows = Lot.objects.at(site).order_by("received_on", "id")
    return dict(rows.values_list("kind_id", "opened_life_days"))


def _unopened(site: Site, today: dt.date) -> Counter[int]:
    touched = LotFact.objects.filter(lot__site=site, kind__in=["opened", "discarded", "quarantined"]).values("lot")
    rows = Lot.objects.at(site).exclude(pk__in=touched).exclude(expires_on__lt=today)
    return Counter(rows.values_list("kind_id", flat=True))


def checks_on(site: Site) -> int:
    """Return how many signed checks a site has; an empty site has no figures of checks."""
    return Check.objects.at(site).count()
