"""Recurring obligations, the facts that fulfil them, and the due items computed from both."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from assets.models import Asset, Person, Position, Site
from assets.triggers import APPEND_ONLY, CHANGES, SCRATCH, Kept
from maintenance.queries import OccurrenceQuerySet, PerformanceQuerySet, PlanQuerySet


class PlanKind(models.TextChoices):
    """What kind of work a routine asks for."""

    CALIBRATE = "calibrate", "Calibrate"
    VERIFY = "verify", "Verify"
    INSPECT = "inspect", "Inspect"
    UPKEEP = "upkeep", "Upkeep"


class Follows(models.TextChoices):
    """Whether a routine is owed anew when another asset is fitted."""

    POSITION = "position", "the tag, whatever is fitted"
    ASSET = "asset", "the asset that is fitted"


class Plan(models.Model):
    """A routine: a recurring obligation on a tag, or on an asset that is carried (a bench meter, a voltage tester)."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="plans")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="plans", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="plans", null=True, blank=True)
    kind = models.CharField(max_length=10, choices=PlanKind)
    title = models.CharField(max_length=120)
    minutes = models.PositiveIntegerField("planned minutes", default=30)
    follows = models.CharField(max_length=8, choices=Follows, default=Follows.POSITION)
    activated_on = models.DateField()
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = PlanQuerySet.as_manager()

    class Meta:
        verbose_name = "routine"
        ordering = ["title"]
        constraints = [
            models.CheckConstraint(
                condition=Q(position__isnull=False, asset__isnull=True) | Q(position__isnull=True, asset__isnull=False),
                name="plan_of_a_position_or_an_asset",
                violation_error_message="A routine belongs to one tag or to one carried asset.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=PlanKind.values),
                name="plan_kind_is_known",
                violation_error_message="A routine calibrates, verifies, inspects or keeps up.",
            ),
            models.CheckConstraint(
                condition=Q(follows__in=Follows.values),
                name="plan_follows_position_or_asset",
                violation_error_message="A routine follows the tag or the asset.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, {self.position or self.asset}"


class Mode(models.TextChoices):
    """How the next due date follows."""

    FIXED = "fixed", "on fixed dates"
    FLOATING = "floating", "counted from the last time it was done"


class Unit(models.TextChoices):
    """Unit of an interval."""

    DAY = "day", "days"
    WEEK = "week", "weeks"
    MONTH = "month", "months"
    YEAR = "year", "years"


class PlanTerm(models.Model):
    """The interval of a routine from a day on; the newest one known counts."""

    kept: ClassVar[Kept] = APPEND_ONLY

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="terms")
    mode = models.CharField(max_length=8, choices=Mode)
    every = models.PositiveIntegerField()
    unit = models.CharField(max_length=5, choices=Unit)
    anchor = models.DateField(null=True, blank=True)
    early = models.PositiveIntegerField("days it may be done early", default=0)
    late = models.PositiveIntegerField("days it may be late", default=0)
    by_rule = models.BooleanField("the interval itself is demanded by a rule", default=False)
    source = models.CharField("where the interval comes from", max_length=160)
    why = models.CharField("reason of the change", max_length=200, blank=True)
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["from_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(mode__in=Mode.values),
                name="term_mode_is_known",
                violation_error_message="A routine falls due on fixed dates or counted from the last time.",
            ),
            models.CheckConstraint(
                condition=Q(unit__in=Unit.values),
                name="term_unit_is_known",
                violation_error_message="An interval counts days, weeks, months or years.",
            ),
            models.CheckConstraint(
                condition=Q(every__gte=1),
                name="term_interval_is_at_least_one",
                violation_error_message="An interval is at least 1.",
            ),
            models.CheckConstraint(
                condition=~Q(mode="fixed") | Q(anchor__isnull=False),
                name="fixed_term_has_an_anchor",
                violation_error_message="A routine on fixed dates needs the first of these dates.",
            ),
            models.CheckConstraint(
                condition=Q(by_rule=False) | Q(late=0),
                name="interval_of_a_rule_allows_no_lateness",
                violation_error_message="An interval demanded by a rule allows no days late.",
            ),
        ]

    def __str__(self) -> str:
        return f"every {self.every} {self.get_unit_display()}, {self.get_mode_display()}"


class Performance(models.Model):
    """One time a routine's work was done, counting or not and why not: what every due date is recomputed from."""

    kept: ClassVar[Kept] = APPEND_ONLY

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="performances")
    key = models.CharField(max_length=60, unique=True)
    performed_at = models.DateTimeField()
    performed_on = models.DateField()
    counts = models.BooleanField()
    because = models.CharField(max_length=200, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    source_label = models.CharField(max_length=160)
    source_path = models.CharField(max_length=120, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = PerformanceQuerySet.as_manager()

    class Meta:
        ordering = ["-performed_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(counts=True) | ~Q(because=""),
                name="uncounted_performance_says_why",
                violation_error_message="Work that does not fulfil the routine says why.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.plan.title} on {self.performed_on}"


class Ended(models.TextChoices):
    """How a due item ended, or that it has not."""

    OPEN = "open", "open"
    DONE = "done", "done"
    MISSED = "missed", "missed"
    WITHDRAWN = "withdrawn", "withdrawn"


class Occurrence(models.Model):
    """One turn of a routine as last computed. Written only by one function, compared every night with the facts."""

    kept: ClassVar[Kept] = SCRATCH

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="occurrences")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    turn = models.CharField(max_length=80)
    due = models.DateField()
    earliest = models.DateField()
    latest = models.DateField()
    blocked_from = models.DateField(null=True, blank=True)
    why = models.CharField(max_length=80, blank=True)
    ended = models.CharField(max_length=10, choices=Ended, default=Ended.OPEN)
    ended_on = models.DateField(null=True, blank=True)
    performance = models.ForeignKey(Performance, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = OccurrenceQuerySet.as_manager()

    class Meta:
        verbose_name = "due item"
        constraints = [
            models.UniqueConstraint(fields=["plan", "turn"], name="turn_once_a_plan"),
            models.CheckConstraint(condition=Q(ended__in=Ended.values), name="occurrence_end_is_known"),
            models.CheckConstraint(
                condition=Q(ended="open", ended_on__isnull=True) | (~Q(ended="open") & Q(ended_on__isnull=False)),
                name="ended_occurrence_has_its_day",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "latest", "due"], condition=Q(ended="open"), name="open_by_latest"),
            models.Index(fields=["site", "due"], condition=Q(ended="open"), name="open_by_due"),
        ]

    def __str__(self) -> str:
        return f"{self.plan.title}, due {self.due}"
