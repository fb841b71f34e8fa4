"""Drafts that change freely, and checks that are written only when signed and never again.

Every typed figure is a row (quantity, text as typed, unit), every result likewise, so that a further method needs no
further column.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from assets.models import Asset, Person, Position, Signature, Site
from assets.triggers import APPEND_ONLY, SCRATCH, Kept
from calibration.models.requirements import Requirement, RequirementTerm
from calibration.models.standards import Lot
from calibration.queries import CheckQuerySet
from maintenance.models import Plan


class SetKind(models.TextChoices):
    """Which reading set of a check."""

    AS_FOUND = "as found", "as found"
    CONFIRMING = "confirming", "second buffer"
    AS_LEFT = "as left", "as left"


class Draft(models.Model):
    """What a person has typed and not signed: kept on the server, never expires, one a person and requirement."""

    kept: ClassVar[Kept] = SCRATCH

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="drafts")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # The check whose next set this draft is; empty while the first set is being written.
    check_begun = models.ForeignKey("Check", on_delete=models.PROTECT, related_name="drafts", null=True, blank=True)
    stage = models.CharField(max_length=12, choices=SetKind, default=SetKind.AS_FOUND)
    # The signed check that this draft will correct by a new one.
    corrects = models.ForeignKey("Check", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    typed = models.JSONField(default=dict)
    version = models.PositiveIntegerField(default=1)
    begun_at = models.DateTimeField()
    first_saved_at = models.DateTimeField(null=True, blank=True)
    saved_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["requirement", "person"],
                name="one_draft_a_person_and_requirement",
                violation_error_message="You have begun this check already; go on with it.",
            ),
            models.CheckConstraint(
                condition=Q(stage__in=SetKind.values),
                name="draft_stage_is_known",
                violation_error_message="A draft is of as found, a second buffer, or as left.",
            ),
        ]

    def __str__(self) -> str:
        return f"draft of {self.person}, {self.requirement}"

    def get_absolute_url(self) -> str:
        """The page on which it is written."""
        return reverse("calibration:draft", args=[self.pk])


class Check(models.Model):
    """One check of a position: its reading sets, each signed by itself. Its overall state is computed."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="checks")
    number = models.PositiveIntegerField()
    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="checks")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="checks")
    position_label = models.CharField(max_length=160)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="checks", null=True, blank=True)
    asset_label = models.CharField(max_length=160, blank=True)
    method = models.CharField(max_length=40)
    begun_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    replaces_because = models.CharField(max_length=200, blank=True)

    objects = CheckQuerySet.as_manager()

    class Meta:
        ordering = ["-begun_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="check_number_once_a_site"),
            models.CheckConstraint(
                condition=Q(replaces__isnull=True) | ~Q(replaces_because=""),
                name="correction_says_why",
                violation_error_message="A correction says what was wrong with the check it replaces.",
            ),
        ]

    def __str__(self) -> str:
        return f"check {self.number}"

    def get_absolute_url(self) -> str:
        """The page of the check, for ever."""
        return reverse("calibration:check", args=[self.number])


class ReadingSet(models.Model):
    """As found, second buffer or as left: signed once, then fixed."""

    kept: ClassVar[Kept] = APPEND_ONLY

    check_of = models.ForeignKey(Check, on_delete=models.PROTECT, related_name="sets")
    kind = models.CharField(max_length=12, choices=SetKind)
    # As found may be lost (cleaned, changed or dead first): then it has a reason and no points.
    lost_because = models.CharField(max_length=200, blank=True)
    # As left of a probe that was neither cleaned nor adjusted is its as found, said so and not typed again.
    same_as_found = models.BooleanField(default=False)
    performed_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # Why the time performed is not the time of the first save: "it was earlier", as typed.
    late_because = models.CharField(max_length=200, blank=True)
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="reading_set")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["check_of", "kind"],
                name="set_once_a_check",
                violation_error_message="This part of the check is signed already; correct it by a new check.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=SetKind.values),
                name="set_kind_is_known",
                violation_error_message="A reading set is as found, a second buffer, or as left.",
            ),
            models.CheckConstraint(
                condition=Q(lost_because="") | Q(kind="as found"),
                name="only_as_found_is_lost",
                violation_error_message="Only the as found readings can be lost.",
            ),
            models.CheckConstraint(
                condition=Q(same_as_found=False) | Q(kind="as left"),
                name="only_as_left_equals_as_found",
                violation_error_message="Only as left can be the same as as found.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.check_of}"


class Point(models.Model):
    """One standard used in a set, with a copy of it as it was at that minute.

    At a pH probe each point of the line is one, with its own entries. Elsewhere `field` names the field of the form
    that the standard was chosen in, and the entries stand under their full names.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="points")
    number = models.PositiveSmallIntegerField()
    role = models.CharField(
        max_length=10, choices=[("point", "point"), ("third", "third buffer"), ("standard", "standard")]
    )
    field = models.CharField(max_length=60, blank=True)
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="points", null=True, blank=True)
    reference = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="points", null=True, blank=True)
    # Canonical JSON of what the lot was worth: number, label value, expiry, opened, U, k, table and its source.
    lot_copy = models.TextField()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["set", "number"], name="point_number_once_a_set"),
            models.CheckConstraint(
                condition=Q(lot__isnull=False, reference__isnull=True) | Q(lot__isnull=True, reference__isnull=False),
                name="point_is_a_lot_or_an_instrument",
                violation_error_message="A standard is either a lot or an instrument.",
            ),
        ]

    def __str__(self) -> str:
        return f"point {self.number} of {self.set}"


class Entry(models.Model):
    """One figure or word as typed."""

    kept: ClassVar[Kept] = APPEND_ONLY

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="entries")
    point = models.ForeignKey(Point, on_delete=models.PROTECT, related_name="entries", null=True, blank=True)
    quantity = models.CharField(max_length=60)
    text = models.CharField(max_length=300)
    unit = models.CharField(max_length=12, blank=True)
    value = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["set", "point", "quantity"],
                condition=Q(point__isnull=False),
                name="quantity_once_a_point",
            ),
            models.UniqueConstraint(
                fields=["set", "quantity"], condition=Q(point__isnull=True), name="quantity_once_a_set"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.text} {self.unit}"


class Answer(models.Model):
    """What a person answered when the check asked about something odd, and why."""

    kept: ClassVar[Kept] = APPEND_ONLY

    set = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="answers")
    asked = models.CharField(max_length=60)
    sentence = models.TextField()
    choice = models.CharField(max_length=40)
    answer = models.CharField(max_length=160)
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["set", "asked"], name="asked_once_a_set")]

    def __str__(self) -> str:
        return f"{self.asked}: {self.answer}"


class Outcome(models.Model):
    """What followed from a set, as computed and stored when it was signed: an old record shows these lines for ever."""

    kept: ClassVar[Kept] = APPEND_ONLY

    set = models.OneToOneField(ReadingSet, on_delete=models.PROTECT, related_name="outcome")
    valid = models.BooleanField()
    because = models.TextField(blank=True)
    verdict = models.CharField(
        max_length=16,
        choices=[(v, v) for v in ["pass", "conditional pass", "conditional fail", "fail", "no verdict"]],
    )
    term = models.ForeignKey(RequirementTerm, on_delete=models.PROTECT, related_name="+")
    # Canonical JSON: what was known (limits, lots, settings), the judged values, the working lines, the advice.
    known = models.TextField()
    judged = models.TextField()
    working = models.TextField()
    advice = models.TextField()
    method_version = models.CharField(max_length=12)
    libraries = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(verdict__in=["pass", "conditional pass", "conditional fail", "fail", "no verdict"]),
                name="verdict_is_known",
                violation_error_message="A verdict is pass, conditional pass, conditional fail, fail or no verdict.",
            ),
            models.CheckConstraint(
                condition=Q(valid=True) | (~Q(because="") & Q(verdict="no verdict")),
                name="not_valid_says_why_and_has_no_verdict",
                violation_error_message="A check that is not valid says why, and has no verdict.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.verdict}, {self.set}"


class Figure(models.Model):
    """One computed figure: exact as a fraction or 28 digits, and as shown."""

    kept: ClassVar[Kept] = APPEND_ONLY

    outcome = models.ForeignKey(Outcome, on_delete=models.PROTECT, related_name="figures")
    name = models.CharField(max_length=60)
    exact = models.CharField(max_length=200)
    shown = models.CharField(max_length=40)
    unit = models.CharField(max_length=12, blank=True)
    value = models.FloatField()

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["outcome", "name"], name="figure_once_an_outcome")]

    def __str__(self) -> str:
        return f"{self.name} {self.shown} {self.unit}"


class CheckReview(models.Model):
    """A supervisor's signature under a check: reviewed, with a note. Nobody reviews their own work."""

    kept: ClassVar[Kept] = APPEND_ONLY

    check_of = models.OneToOneField(Check, on_delete=models.PROTECT, related_name="review")
    note = models.TextField()
    checked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="review")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(checked_by=F("by")),
                name="nobody_reviews_own_check",
                violation_error_message="The person who made the check does not review it; another person does.",
            )
        ]

    def __str__(self) -> str:
        return f"review of {self.check_of}"
