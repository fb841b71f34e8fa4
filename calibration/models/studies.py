"""What a history says, as far as it is kept: the baseline a person fixed, what they decided, what was worked out."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from assets.models import Person, Site
from assets.triggers import APPEND_ONLY, SCRATCH, Kept
from calibration.models.checks import ReadingSet
from calibration.models.requirements import Requirement


class Baseline(models.Model):
    """The stretch of good checks that the limits of a chart are taken from; the newest of a figure counts."""

    kept: ClassVar[Kept] = APPEND_ONLY

    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="baselines")
    figure = models.CharField(max_length=60)
    first = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="+")
    last = models.ForeignKey(ReadingSet, on_delete=models.PROTECT, related_name="+")
    why = models.CharField(max_length=200)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(why=""),
                name="baseline_says_why",
                violation_error_message="A baseline says why these checks are taken for it.",
            )
        ]

    def __str__(self) -> str:
        return f"baseline of {self.figure}, {self.requirement}"


class IntervalDecision(models.Model):
    """What a person made of advice on an interval: taken or left, with the advice as it was and the reason."""

    kept: ClassVar[Kept] = APPEND_ONLY

    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="decisions")
    method = models.CharField(max_length=40)
    # Canonical JSON of the advice as it was shown.
    advice = models.TextField()
    taken = models.BooleanField()
    days_before = models.PositiveIntegerField()
    days_after = models.PositiveIntegerField()
    why = models.CharField(max_length=200)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(why=""),
                name="interval_decision_says_why",
                violation_error_message="Taking or leaving advice on an interval needs a reason.",
            ),
            models.CheckConstraint(
                condition=Q(taken=True) | Q(days_after=models.F("days_before")),
                name="advice_left_changes_no_interval",
                violation_error_message="Advice that is left changes no interval.",
            ),
        ]

    def __str__(self) -> str:
        return f"{'taken' if self.taken else 'left'}: {self.method}, {self.requirement}"


class PooledStudy(models.Model):
    """What like instruments of a site say together, worked out at night; made anew each time."""

    kept: ClassVar[Kept] = SCRATCH

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    method = models.CharField(max_length=40)
    # Canonical JSON: n, instruments, what each model says, the sentence.
    body = models.TextField()
    made_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "method"], name="pooled_study_once_a_method")]

    def __str__(self) -> str:
        return f"pooled study of {self.method}, {self.site}"
