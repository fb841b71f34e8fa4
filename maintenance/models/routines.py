"""Recurring obligations, their intervals, and the facts that fulfil them."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from assets.compute.words import day_of_year
from assets.models import Asset, Person, Position, Site
from assets.triggers import APPEND_ONLY, CHANGES, Kept
from maintenance.queries import PerformanceQuerySet, PlanQuerySet


class PlanKind(models.TextChoices):
    """What kind of work a routine asks for."""

    CALIBRATE = "calibrate", "Calibrate"
    VERIFY = "verify", "Verify"
    INSPECT = "inspect", "Inspect"
    UPKEEP = "upkeep", "Upkeep"


# Kinds whose work a person records in words; the others are fulfilled by a signed record of measured values.
BY_HAND = frozenset({PlanKind.INSPECT, PlanKind.UPKEEP})


class Follows(models.TextChoices):
    """Whether a routine is owed anew when another asset is fitted."""

    POSITION = "position", "the tag, whatever is fitted"
    ASSET = "asset", "the asset that is fitted"


class Plan(models.Model):
    """A routine: a recurring obligation on a tag, or on an asset that is carried (a bench meter, a voltage tester)."""

    kept: ClassVar[Kept] = CHANGES
    # No fact of the routine: for which day its due items were last worked out.
    undigested: ClassVar[tuple[str, ...]] = ("computed_on",)

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="plans")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="plans", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="plans", null=True, blank=True)
    kind = models.CharField(max_length=10, choices=PlanKind)
    title = models.CharField(max_length=120)
    minutes = models.PositiveIntegerField("planned minutes", default=30)
    follows = models.CharField(max_length=8, choices=Follows, default=Follows.POSITION)
    activated_on = models.DateField()
    computed_on = models.DateField(null=True, blank=True, editable=False)
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    retired_because = models.CharField(max_length=200, blank=True)

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
            models.CheckConstraint(
                condition=~Q(follows="asset") | Q(position__isnull=False),
                name="plan_that_follows_the_asset_has_a_tag",
                violation_error_message="A routine that follows what is fitted belongs to a tag.",
            ),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True, retired_on__isnull=True)
                | (Q(retired_at__isnull=False, retired_on__isnull=False) & ~Q(retired_because="")),
                name="retired_plan_says_when_and_why",
                violation_error_message="A retired routine says since when and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, {self.position or self.asset}"

    def get_absolute_url(self) -> str:
        """The page of the routine."""
        return reverse("maintenance:routine", args=[self.pk])

    @property
    def by_hand(self) -> bool:
        """Whether its work is recorded in words, not by a signed record of measured values."""
        return self.kind in BY_HAND


class Mode(models.TextChoices):
    """How the next due date follows."""

    FIXED = "fixed", "on fixed dates"
    FLOATING = "floating", "counted from the last time it was done"
    PERIOD = "period", "once in each calendar period"
    RUNNING = "running", "on each day the unit runs"
    USAGE = "usage", "counted by use since it was done"
    FIRST_OF = "first of", "by days or by use, whichever comes first"
    CONDITION = "condition", "when a value is seen outside its limits"


# Modes that look at a reading: by use at a counter, on a condition at a value.
BY_READING = frozenset({Mode.USAGE, Mode.FIRST_OF, Mode.CONDITION})


class Unit(models.TextChoices):
    """Unit of an interval."""

    DAY = "day", "days"
    WEEK = "week", "weeks"
    MONTH = "month", "months"
    YEAR = "year", "years"


class Computes(models.TextChoices):
    """Values that are worked out from readings taken together."""

    STRAINER = "strainer", "A strainer or filter that fouls"
    MEMBRANE = "membrane", "A membrane that declines"
    HEAD = "head", "A pump that loses head"
    TWINS = "twins", "Two machines that share the running"


YEAR_OF_DAYS = (dt.date(2000, 1, 1), dt.date(2000, 12, 31))


class PlanTerm(models.Model):
    """The interval of a routine from a day on; the newest one known counts."""

    kept: ClassVar[Kept] = APPEND_ONLY

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="terms")
    mode = models.CharField(max_length=10, choices=Mode)
    every = models.PositiveIntegerField()
    unit = models.CharField(max_length=5, choices=Unit)
    anchor = models.DateField(null=True, blank=True)
    early = models.PositiveIntegerField("days it may be done early", default=0)
    late = models.PositiveIntegerField("days it may be late", default=0)
    early_percent = models.PositiveSmallIntegerField("early, in % of the period", null=True, blank=True)
    late_percent = models.PositiveSmallIntegerField("late, in % of the period", null=True, blank=True)
    by_rule = models.BooleanField("the interval itself is demanded by a rule", default=False)
    while_running = models.BooleanField("owed only while the unit runs", null=True, blank=True)
    spacing = models.PositiveSmallIntegerField("days between two at least", null=True, blank=True)
    bench = models.BooleanField("work on the bench counts", null=True, blank=True)
    # What is read for a routine by use or on a condition: its name, as written with the readings, and where.
    reads = models.CharField("which reading", max_length=60, blank=True)
    reads_at = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    reads_unit = models.CharField("unit of the reading", max_length=12, blank=True)
    use_every = models.CharField("due after so much use", max_length=24, blank=True)
    use_early = models.CharField("may be done earlier by", max_length=24, blank=True)
    use_late = models.CharField("may be late by", max_length=24, blank=True)
    low = models.CharField("lowest good value", max_length=24, blank=True)
    high = models.CharField("highest good value", max_length=24, blank=True)
    answer_days = models.PositiveSmallIntegerField("days to answer", null=True, blank=True)
    # A value that is worked out: which, from readings so many minutes apart or of one walk, against which baseline.
    computes = models.CharField("what is worked out", max_length=10, choices=Computes, blank=True)
    together = models.PositiveSmallIntegerField("minutes between readings at most", null=True, blank=True)
    same_walk = models.BooleanField("readings of one walk belong together", null=True, blank=True)
    baseline_from = models.CharField("where the baseline comes from", max_length=160, blank=True)
    # The season in which it is owed, both days included; each is a day of every year, kept as one of a leap year.
    season_first = models.DateField("first day of the season", null=True, blank=True)
    season_last = models.DateField("last day of the season", null=True, blank=True)
    source = models.CharField("where the interval comes from", max_length=160)
    why = models.CharField("reason of the change", max_length=200, blank=True)
    from_day = models.DateField()
    # The site's day on which it was decided; a term never works backwards from it.
    decided_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["from_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(mode__in=Mode.values),
                name="term_mode_is_known",
                violation_error_message="Say how the next due day of the routine follows.",
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
            models.CheckConstraint(
                condition=~Q(mode__in=["usage", "first of"]) | (~Q(use_every="") & ~Q(reads="") & ~Q(reads_unit="")),
                name="term_by_use_says_how_much_of_what",
                violation_error_message="A routine by use says after how much of which reading it is due.",
            ),
            models.CheckConstraint(
                condition=~Q(mode="condition") | (~Q(reads="") & ~Q(reads_unit="") & (~Q(low="") | ~Q(high=""))),
                name="term_on_a_condition_says_its_limits",
                violation_error_message="A routine on a condition says which reading has which limits.",
            ),
            models.CheckConstraint(
                condition=Q(computes="")
                | Q(computes__in=Computes.values, mode="condition", together__isnull=False)
                & (Q(computes="twins") | ~Q(baseline_from="")),
                name="worked_out_value_says_from_what",
                violation_error_message="A value that is worked out belongs to a condition, and says how far apart its "
                "readings may be and where its baseline comes from.",
            ),
            models.CheckConstraint(
                condition=Q(season_first__isnull=True, season_last__isnull=True)
                | Q(season_first__isnull=False, season_last__isnull=False)
                & Q(season_first__range=YEAR_OF_DAYS, season_last__range=YEAR_OF_DAYS),
                name="season_has_its_first_and_last_day",
                violation_error_message="A season has a first and a last day, each a day of the year.",
            ),
            models.CheckConstraint(
                condition=~Q(mode="period") | Q(unit__in=["week", "month", "year"]),
                name="period_is_a_calendar_period",
                violation_error_message="A calendar period is a week, a month, a quarter, a half-year or a year.",
            ),
            models.CheckConstraint(
                condition=~Q(source=""),
                name="term_names_its_source",
                violation_error_message="An interval names where it comes from.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.interval}, {self.get_mode_display()}"

    @property
    def season(self) -> str:
        """The season in words: 1 May to 30 September; '' where it is owed all the year."""
        if self.season_first is None or self.season_last is None:
            return ""
        return " to ".join(day_of_year(one) for one in (self.season_first, self.season_last))

    @property
    def interval(self) -> str:
        """The interval in words: every month, every 5 days, every 500 h, above 35 kPa."""
        days = f"every {self.unit}" if self.every == 1 else f"every {self.every} {self.get_unit_display()}"
        use = f"every {self.use_every} {self.reads_unit} of {self.reads.lower()}"
        words = {
            Mode.PERIOD: f"once {days.replace('every', 'each', 1) if self.every == 1 else days}",
            Mode.RUNNING: "each day it runs",
            Mode.USAGE: use,
            Mode.FIRST_OF: f"{days} or {use}",
            Mode.CONDITION: f"when {self.reads.lower()} is {self.outside}",
        }
        return words.get(Mode(self.mode), days) + (f", {self.season}" if self.season else "")

    @property
    def outside(self) -> str:
        """What is outside the limits of a condition, in words."""
        sides = (f"below {self.low}" if self.low else "", f"above {self.high}" if self.high else "")
        return f"{' or '.join(side for side in sides if side)} {self.reads_unit}"


class TermInput(models.Model):
    """What goes into a value that is worked out: a reading at a tag, or a number of the baseline with its unit."""

    kept: ClassVar[Kept] = APPEND_ONLY

    term = models.ForeignKey(PlanTerm, on_delete=models.PROTECT, related_name="inputs")
    name = models.CharField(max_length=20)
    reads = models.CharField("which reading", max_length=60, blank=True)
    reads_at = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    number = models.CharField(max_length=24, blank=True)
    unit = models.CharField(max_length=12, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["term", "name"],
                condition=Q(number=""),
                name="reading_goes_in_once",
                violation_error_message="Each reading goes in once.",
            ),
            models.UniqueConstraint(
                fields=["term", "name"],
                condition=~Q(number=""),
                name="number_goes_in_once",
                violation_error_message="Each number goes in once.",
            ),
            models.CheckConstraint(
                condition=Q(number="", unit="", reads_at__isnull=False) & ~Q(reads="")
                | Q(reads="", reads_at__isnull=True) & ~Q(number="") & ~Q(unit=""),
                name="input_is_a_reading_or_a_number",
                violation_error_message="What goes in is a reading at a tag, or a number with its unit.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {f'{self.number} {self.unit}' if self.number else f'{self.reads} at {self.reads_at}'}"


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
        indexes = [models.Index(fields=["plan", "-performed_at", "-id"], name="performance_newest_first")]
        constraints = [
            models.CheckConstraint(
                condition=Q(counts=True) | ~Q(because=""),
                name="uncounted_performance_says_why",
                violation_error_message="Work that does not fulfil the routine says why.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.plan.title} on {self.performed_on}"

    def get_absolute_url(self) -> str:
        """The record that fulfilled the routine, else the routine it belongs to."""
        return self.source_path or self.plan.get_absolute_url()
