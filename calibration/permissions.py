"""Who gets at which check, draft, lot or requirement: the only way a view obtains one."""

from __future__ import annotations

from assets.permissions import OPERATORS, SUPERVISORS, Desk, found
from calibration.models import Check, CheckReview, Draft, Lot, Recall, Requirement, StandardKind


def requirement_for(desk: Desk, pk: int) -> Requirement:
    """A requirement of the asking person's site."""
    which = Requirement.objects.filter(site=desk.site).select_related("site", "position__area", "plan")
    return found(which, pk=pk)


def draft_for(desk: Desk, pk: int) -> Draft:
    """A draft of the asking person at their site: what others have begun is theirs."""
    which = Draft.objects.filter(site=desk.site, person=desk.person).select_related(
        "site", "person", "requirement__site", "requirement__position__area", "requirement__plan",
        "check_begun__site", "check_begun__replaces", "corrects",
    )  # fmt: skip
    return found(which, pk=pk)


def check_for(desk: Desk, number: int) -> Check:
    """A check of the asking person's site by its number."""
    which = Check.objects.at(desk.site).select_related(
        "site", "position__area", "plan", "asset", "requirement__site", "requirement__position", "requirement__plan",
        "recorded_by", "replaces", "replaced_by",
    )  # fmt: skip
    return found(which, number=number)


def lot_for(desk: Desk, pk: int) -> Lot:
    """A lot of the asking person's site."""
    return found(Lot.objects.at(desk.site).select_related("site", "kind", "dilution"), pk=pk)


def kind_for(desk: Desk, pk: int) -> StandardKind:
    """A kind of standard that comes with the tool, or one of the asking person's site."""
    return found(StandardKind.objects.at(desk.site).prefetch_related("tables"), pk=pk)


def recall_for(desk: Desk, pk: int) -> Recall:
    """A withdrawal of the asking person's site."""
    which = Recall.objects.filter(site=desk.site).select_related("lot__kind", "asset", "signature", "recorded_by")
    return found(which, pk=pk)


def may_check(desk: Desk) -> bool:
    """Whether the asking person makes checks."""
    return desk.may(OPERATORS)


def may_review(desk: Desk, check: Check) -> bool:
    """Whether the asking person may review a check: a supervisor who signed no part of it, once, if it stands."""
    if (
        not desk.may(SUPERVISORS)
        or hasattr(check, "replaced_by")
        or CheckReview.objects.filter(check_of=check).exists()
    ):
        return False
    return not check.sets.filter(recorded_by=desk.person).exists()
