"""The list of checks, and where one may be begun."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Max, Min, Prefetch, Q

from assets.models import Asset, Position, Site
from calibration.compute.methods import ALL, METHODS, short_name
from calibration.models import Check, Lot, Outcome, ReadingSet, Requirement
from calibration.queries import CheckQuerySet
from calibration.reads.own_fields import is_test
from calibration.reads.sheet import FAILING
from calibration.reads.words import KIND_WORDS, State, hardest_words, state_of
from maintenance.models import Occurrence

VERDICTS = {
    "pass": "Passed as found",
    "fail": "Failed as found",
    "not valid": "Not valid",
    "open": "As left not signed",
}


def tests_only() -> list[str]:
    """Return the methods that nothing is read again after: their checks are never open."""
    return [code for code, method in METHODS.items() if is_test(method)]


@dataclass(frozen=True, slots=True)
class CheckFilter:
    """Which checks are asked for; None and '' ask for all."""

    position: Position | None = None
    verdict: str = ""
    lot: Lot | None = None
    reference: Asset | None = None
    method: str = ""


@dataclass(frozen=True, slots=True)
class SetState:
    """One set of a check in a word."""

    word: str
    state: State


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One check of a list."""

    number: int
    url: str
    tag: str
    code: str
    service: str
    matters: str
    at: dt.datetime
    by: str
    method: str
    sets: tuple[SetState, ...]
    short: str
    corrected_by: int | None
    corrects: int | None
    late: bool
    withdrawn: str = ""


def with_sets(checks: CheckQuerySet) -> CheckQuerySet:
    """Checks with their sets and results, for lists."""
    sets = Prefetch(
        "sets", queryset=ReadingSet.objects.select_related("outcome", "check_of").prefetch_related("outcome__figures")
    )
    return checks.select_related("position", "recorded_by", "replaces", "replaced_by").prefetch_related(
        sets, "withdrawals"
    )


def chosen(site: Site, which: CheckFilter) -> CheckQuerySet:
    """Checks of a site as a filter asks."""
    checks = _with_standards(Check.objects.at(site), which)
    if which.position is not None:
        checks = checks.of(which.position)
    if which.method:
        checks = checks.filter(method=which.method)
    found = {"sets__kind": "as found"}
    match which.verdict:
        case "pass":
            checks = checks.filter(**found, sets__outcome__verdict__in=["pass", "conditional pass"])
        case "fail":
            checks = checks.filter(**found, sets__outcome__verdict__in=list(FAILING))
        case "not valid":
            checks = checks.filter(sets__outcome__valid=False).distinct()
        case "open":
            checks = checks.standing().exclude(sets__kind="as left").exclude(method__in=tests_only())
    return checks


def _with_standards(checks: CheckQuerySet, which: CheckFilter) -> CheckQuerySet:
    if which.lot is not None:
        checks = checks.filter(sets__points__lot=which.lot).distinct()
    if which.reference is not None:
        checks = checks.filter(sets__points__reference=which.reference).distinct()
    return checks


def listed_checks(site: Site, which: CheckFilter) -> CheckQuerySet:
    """Return the checks that a filter asks for with what their rows show, newest first."""
    return with_sets(chosen(site, which)).order_by("-begun_at", "-pk")


def rows_of(checks: Iterable[Check]) -> Iterator[CheckRow]:
    """Return checks as rows; they come from `with_sets`."""
    for check in checks:
        sets = sorted(check.sets.all(), key=lambda of: of.pk)
        replaced_by = getattr(check, "replaced_by", None)
        yield CheckRow(
            number=check.number,
            url=check.get_absolute_url(),
            tag=check.position.tag,
            code=check.position.label_code,
            service=check.position.service,
            matters=check.position.matters_for,
            at=check.begun_at,
            by=check.recorded_by.name,
            method=short_name(METHODS[check.method]),
            sets=tuple(_set_states(check, sets)),
            short=_short(sets),
            corrected_by=replaced_by.number if replaced_by is not None else None,
            corrects=check.replaces.number if check.replaces is not None else None,
            late=any(of.late_because for of in sets),
            withdrawn="; ".join(f"{one.standard}, {one.because}" for one in check.withdrawals.all()),
        )


def _set_states(check: Check, sets: Iterable[ReadingSet]) -> Iterator[SetState]:
    test = is_test(METHODS[check.method])
    for of in sets:
        yield SetState("Test" if test else KIND_WORDS[of.kind], state_of(of))


def methods_used(site: Site) -> tuple[tuple[str, str], ...]:
    """Return the methods by which a site has signed checks, as (code, words), in the order pages offer them."""
    used = set(Check.objects.at(site).order_by().values_list("method", flat=True).distinct())
    return tuple((method.code, short_name(method)) for method in ALL if method.code in used)


def _short(sets: Iterable[ReadingSet]) -> str:
    for of in sets:
        outcome: Outcome | None = getattr(of, "outcome", None)
        if outcome is None:
            return f"as found lost, because {of.lost_because}" if of.lost_because else ""
        if not outcome.valid:
            return outcome.because[:160]
        return hardest_words(of)
    return ""


@dataclass(frozen=True, slots=True)
class Place:
    """A tag where a check can be begun."""

    requirement: int
    tag: str
    code: str
    service: str
    method: str
    matters: str
    due: dt.date | None
    last: dt.datetime | None


def places(site: Site) -> tuple[Place, ...]:
    """Return the tags that are checked, in walking order, with their next due day and their last check."""
    requirements = list(
        Requirement.objects.filter(site=site, position__retired_at__isnull=True)
        .select_related("position__area")
        .order_by("position__area__walk_order", "position__walk_order", "position__tag")
    )
    plans = [row.plan_id for row in requirements if row.plan_id is not None]
    open_items = Occurrence.objects.open().filter(plan_id__in=plans).order_by()
    due = dict(open_items.values_list("plan_id").annotate(Min("due")))
    signed = Check.objects.at(site).standing().filter(requirement__in=requirements)
    last = dict(signed.order_by().values_list("requirement_id").annotate(Max("begun_at")))
    return tuple(
        Place(
            requirement=row.pk,
            tag=row.position.tag,
            code=row.position.label_code,
            service=row.position.service,
            method=short_name(METHODS[row.method]),
            matters=row.position.matters_for,
            due=due.get(row.plan_id) if row.plan_id is not None else None,
            last=last.get(row.pk),
        )
        for row in requirements
    )


def failing_or_not_valid(site: Site) -> CheckQuerySet:
    """Checks that a supervisor looks at: any part failed or is not valid, not corrected, not reviewed yet."""
    wrong = Q(sets__outcome__verdict__in=list(FAILING)) | Q(sets__outcome__valid=False)
    return Check.objects.at(site).standing().filter(wrong, review__isnull=True).distinct()
