"""What the pages of a tag, of today and of the review show of checks."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from fractions import Fraction

from django.urls import reverse

from assets.models import Position
from assets.permissions import OPERATORS, SUPERVISORS, Desk
from calibration.compute.figures import sentence_case
from calibration.compute.method import Ask, Band
from calibration.compute.methods import METHODS, short_name
from calibration.compute.working import band_text
from calibration.models import Check, Draft, Requirement, RequirementTerm
from calibration.reads.checks import CheckRow, failing_or_not_valid, rows_of, tests_only, with_sets
from calibration.reads.custody import Away, away_at, away_of_position
from calibration.reads.drafts import title_of
from calibration.reads.known import term_in_force
from maintenance.models import Occurrence

LAST = 5
WAITING = 50


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit in force with where it comes from."""

    what: str
    said: str
    source: str
    tag: str


@dataclass(frozen=True, slots=True)
class RequirementRow:
    """What a tag is checked by."""

    pk: int
    method: str
    short: str
    url: str
    begin_url: str
    limits: tuple[LimitRow, ...]
    rule: str
    from_day: dt.date | None


@dataclass(frozen=True, slots=True)
class TagPanel:
    """Checks on the page of a tag."""

    requirements: tuple[RequirementRow, ...]
    checks: tuple[CheckRow, ...]
    more_url: str
    csv_url: str
    may_check: bool
    may_set: bool
    set_url: str
    away: tuple[Away, ...] = ()


def limit_rows(term: RequirementTerm) -> tuple[LimitRow, ...]:
    """Return the limits of a term in words."""
    kept = json.loads(term.limits)
    return tuple(
        LimitRow(limit.what, _said(kept[limit.name]), kept[limit.name]["source"], kept[limit.name]["tag"])
        for limit in METHODS[term.requirement.method].limits
        if limit.name in kept
    )


def _said(limit: dict[str, str]) -> str:
    return band_text(_band(limit)) if limit["low"] or limit["high"] else "as the method works it out"


def _band(limit: dict[str, str]) -> Band:
    low, high = (Fraction(limit[side]) if limit[side] else None for side in ("low", "high"))
    return Band(low=low, high=high, unit=limit["unit"], source=limit["source"], tag="site setting")


def setting_rows(term: RequirementTerm) -> tuple[tuple[str, str], ...]:
    """Return what the method was told of the place, in words: ('Reference electrode of the probe', 'calomel')."""
    kept = json.loads(term.settings or "{}")
    return tuple(
        (sentence_case(ask.label), _setting(ask, kept[ask.name]))
        for ask in METHODS[term.requirement.method].settings
        if ask.name in kept
    )


def _setting(ask: Ask, text: str) -> str:
    said = dict(ask.choices).get(text, text.replace("-", "\u2212") if ask.kind == "number" else text)
    return f"{said} {ask.units[0]}" if ask.units else said


def others_here(requirement: Requirement) -> list[tuple[str, str, bool]]:
    """Return where a check by each method of the same tag is begun, with this one marked; none where it is the only."""
    rows = list(Requirement.objects.filter(position=requirement.position_id).order_by("pk"))
    links = [
        (reverse("calibration:check-start", args=[row.pk]), METHODS[row.method].name, row.pk == requirement.pk)
        for row in rows
    ]
    return links if len(links) > 1 else []


def rule_words(term: RequirementTerm) -> str:
    """Say by which rule a value is judged."""
    if term.rule == "guarded" and not term.uncertainty:
        return f"pass when inside by more than the uncertainty the method works out ({term.uncertainty_source})"
    if term.rule == "guarded":
        return f"pass when inside by more than the uncertainty, {term.uncertainty} ({term.uncertainty_source})"
    return "the limit alone; uncertainty not stated" if not term.uncertainty else "the limit alone"


def tag_panel(desk: Desk, position: Position) -> TagPanel:
    """Return the checks of one tag: what it is checked by, the last ones, where to begin."""
    requirements = Requirement.objects.filter(position=position).prefetch_related("terms__requirement")
    checks = with_sets(Check.objects.at(desk.site).of(position)).order_by("-begun_at", "-pk")[:LAST]
    listed = reverse("calibration:checks")
    return TagPanel(
        requirements=tuple(_requirement(row, desk) for row in requirements),
        checks=tuple(rows_of(checks)),
        more_url=f"{listed}?tag={position.pk}",
        csv_url=f"{reverse('calibration:checks-csv')}?tag={position.pk}",
        may_check=desk.may(OPERATORS) and position.retired_at is None,
        may_set=desk.may(SUPERVISORS) and position.retired_at is None,
        set_url=reverse("calibration:requirement-new", args=[position.pk]),
        away=away_of_position(position, desk.today),
    )


def _requirement(row: Requirement, desk: Desk) -> RequirementRow:
    term = term_in_force(row, desk.today)
    return RequirementRow(
        pk=row.pk,
        method=METHODS[row.method].name,
        short=short_name(METHODS[row.method]),
        url=row.get_absolute_url(),
        begin_url=reverse("calibration:check-start", args=[row.pk]),
        limits=limit_rows(term) if term is not None else (),
        rule=rule_words(term) if term is not None else "",
        from_day=term.from_day if term is not None else None,
    )


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A draft of one's own, or a check whose as left is not signed."""

    tag: str
    code: str
    what: str
    since: dt.datetime
    url: str
    word: str


@dataclass(frozen=True, slots=True)
class TodayPanel:
    """Checks begun and not finished, for the person who began them."""

    unfinished: tuple[Unfinished, ...]


def today_panel(desk: Desk) -> TodayPanel:
    """Return what the asking person has begun and not signed, and their checks without as left."""
    if not desk.may(OPERATORS):
        return TodayPanel(())
    drafts = list(
        Draft.objects.filter(site=desk.site, person=desk.person)
        .select_related("requirement__position")
        .order_by("begun_at")
    )
    begun = {draft.check_begun_id for draft in drafts}
    checks = (
        Check.objects.at(desk.site)
        .standing()
        .filter(recorded_by=desk.person)
        .exclude(sets__kind="as left")
        .exclude(method__in=tests_only())
        .exclude(pk__in=[pk for pk in begun if pk is not None])
        .select_related("position")
        .order_by("begun_at")[:WAITING]
    )
    rows = [
        Unfinished(
            tag=draft.requirement.position.tag,
            code=draft.requirement.position.label_code,
            what=title_of(draft),
            since=draft.begun_at,
            url=draft.get_absolute_url(),
            word="not signed",
        )
        for draft in drafts
    ]
    rows += [
        Unfinished(
            tag=check.position.tag,
            code=check.position.label_code,
            what=f"Check {check.number}",
            since=check.begun_at,
            url=check.get_absolute_url(),
            word="as left not signed",
        )
        for check in checks
    ]
    return TodayPanel(tuple(rows))


@dataclass(frozen=True, slots=True)
class ReviewPanel:
    """Checks that failed or are not valid and wait for a supervisor."""

    rows: tuple[CheckRow, ...]
    more: bool
    own: tuple[int, ...]
    overdue_back: tuple[Away, ...] = ()


def review_panel(desk: Desk) -> ReviewPanel:
    """Return the checks that wait for a review, oldest first; `own` are those the asking person may not review."""
    found = list(with_sets(failing_or_not_valid(desk.site)).order_by("begun_at", "pk")[: WAITING + 1])
    own = [
        check.number
        for check in found
        if desk.person.pk in {check.recorded_by_id, *(of.recorded_by_id for of in check.sets.all())}
    ]
    late = away_at(desk.site, desk.today, overdue=True)
    return ReviewPanel(tuple(rows_of(found[:WAITING])), len(found) > WAITING, tuple(own), late)


def begin_path(occurrence: Occurrence) -> str:
    """Return where the work of a due item is begun when it is a check; empty when no check fulfils it."""
    requirement = Requirement.objects.filter(plan_id=occurrence.plan_id).first()
    return reverse("calibration:check-start", args=[requirement.pk]) if requirement is not None else ""
