"""What depends on a position's signal, the limits on it, and the numbers read from it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from assets.models.plant import Asset, Position, Site
from assets.queries import LimitQuerySet, ReadingQuerySet, SignalUseQuerySet
from assets.triggers import APPEND_ONLY, Kept, close_once


class Use(models.TextChoices):
    """What depends on a position's signal."""

    PACES = "paces", "Paces"
    PERMITS = "permits", "Permits"
    TRIPS = "trips", "Trips"
    REPORTS = "reports", "Reports"
    COMPUTES = "computes", "Computes"


class SignalUse(models.Model):
    """What one position's signal does to another position, a report or a computed figure."""

    kept: ClassVar[Kept] = close_once("to_at", "to_by")

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="uses")
    use = models.CharField(max_length=10, choices=Use)
    target = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="used_by", null=True, blank=True)
    text = models.CharField(max_length=120, blank=True)
    from_at = models.DateTimeField()
    from_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    to_at = models.DateTimeField(null=True, blank=True)
    to_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = SignalUseQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(use__in=Use.values),
                name="signal_use_is_known",
                violation_error_message="A signal paces, permits, trips, reports or computes.",
            ),
            models.CheckConstraint(
                condition=(Q(target__isnull=False) & Q(text="")) | (Q(target__isnull=True) & ~Q(text="")),
                name="signal_use_names_a_tag_or_a_text",
                violation_error_message="A use of a signal names a tag, or says in words what depends on it.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_use_display()} {self.on}"

    @property
    def on(self) -> str:
        """What depends on the signal: the tag, or the words."""
        return self.target.tag if self.target is not None else self.text


class Side(models.TextChoices):
    """Which side of a limit is out."""

    HIGH = "high", "high"
    LOW = "low", "low"


class Limit(models.Model):
    """A limit on what a position reads, from a day on. The newest of a name counts; one without a value ends it."""

    kept: ClassVar[Kept] = APPEND_ONLY

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="limits")
    name = models.CharField(max_length=60)
    side = models.CharField(max_length=4, choices=Side)
    value = models.CharField(max_length=24, blank=True)
    unit = models.CharField(max_length=12)
    source = models.CharField(max_length=160)
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")

    objects = LimitQuerySet.as_manager()

    class Meta:
        ordering = ["name", "side", "-from_day", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(side__in=Side.values),
                name="limit_is_high_or_low",
                violation_error_message="A limit is high or low.",
            ),
            models.CheckConstraint(
                condition=~Q(source=""),
                name="limit_names_its_source",
                violation_error_message="A limit names where it comes from.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.side}: {self.value} {self.unit}"


class Face(models.TextChoices):
    """Where a number was read."""

    DISPLAY = "display", "display"
    HMI = "HMI", "HMI"
    REPORT = "report", "report"
    COMPUTED = "computed", "worked out"
    GRAB = "grab", "grab sample"


class Reading(models.Model):
    """A number as typed, read from a position or an asset."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="readings", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="readings", null=True, blank=True)
    what = models.CharField(max_length=60)
    entered = models.CharField(max_length=24)
    unit = models.CharField(max_length=12)
    value = models.FloatField()
    face = models.CharField(max_length=10, choices=Face)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=120, blank=True)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(position__isnull=False, asset__isnull=True) | Q(position__isnull=True, asset__isnull=False),
                name="reading_of_a_position_or_an_asset",
                violation_error_message="A reading belongs to one tag or to one asset.",
            ),
            models.CheckConstraint(
                condition=Q(face__in=Face.values),
                name="reading_face_is_known",
                violation_error_message="A number is read at the display, the HMI or the report, or worked out.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.entered} {self.unit}"


class BreakKind(models.TextChoices):
    """Why a counter shows less than before."""

    ROLLED_OVER = "rolled over", "It went past its last number and began anew"
    REPLACED = "replaced", "Another meter was put in"


class CounterBreak(models.Model):
    """Why a counter does not go on from the reading before: it rolled over, or was replaced. Said, never assumed."""

    kept: ClassVar[Kept] = APPEND_ONLY

    reading = models.OneToOneField(Reading, on_delete=models.PROTECT, related_name="counter_break")
    kind = models.CharField(max_length=12, choices=BreakKind)
    modulus = models.CharField("number at which it begins anew", max_length=24, blank=True)
    old_last = models.CharField("last number of the old one", max_length=24, blank=True)
    new_first = models.CharField("first number of the new one", max_length=24, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="rolled over", old_last="", new_first="") & ~Q(modulus="")
                | Q(kind="replaced", modulus="") & ~Q(old_last="") & ~Q(new_first=""),
                name="counter_break_says_its_numbers",
                violation_error_message=(
                    "A counter that rolled over says at which number; one that was replaced says the last number of "
                    "the old one and the first of the new one."
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} before {self.reading}"
