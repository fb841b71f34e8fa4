"""What is temporarily not as it should be: forced values, holds, bypasses, shelved alarms, until proven restored."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from assets.models import Person, Position, Site
from assets.triggers import APPEND_ONLY, CHANGES, Kept, close_once
from maintenance.models.orders import WorkOrder
from maintenance.queries import OverrideQuerySet


class OverrideKind(models.TextChoices):
    """By which name it goes."""

    FORCED = "forced value", "Forced value"
    HOLD = "hold", "Hold"
    BYPASS = "bypass", "Bypass"
    SHELVED = "shelved alarm", "Shelved alarm"


class OverrideWay(models.TextChoices):
    """How, and so where, a function was defeated."""

    HMI = "HMI", "At the HMI"
    PLC = "PLC", "In the PLC"
    INSTRUMENT = "instrument", "At the instrument itself"
    WIRE = "wire", "A wire or a jumper"
    VALVE = "valve", "A valve or a pipe around it"
    ALARM_LIST = "alarm list", "In the alarm list"


class Restoration(models.TextChoices):
    """By what a second person saw that the function works again."""

    MOVED = "value moved", "The live value moved with the process"
    ALARM = "alarm tested", "The alarm or the trip was tested and acted"
    LOOP = "loop checked", "The loop was checked from end to end"


class Override(models.Model):
    """One function that is defeated, or one value that is not measured, for a limited time."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="overrides")
    number = models.PositiveIntegerField()
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="overrides")
    kind = models.CharField(max_length=14, choices=OverrideKind)
    what = models.CharField("what is forced or defeated", max_length=160)
    way = models.CharField("how", max_length=12, choices=OverrideWay)
    place = models.CharField("where exactly", max_length=160, blank=True)
    value = models.CharField(max_length=24, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    basis = models.CharField("what the value rests on", max_length=200, blank=True)
    last_good = models.CharField("last good value", max_length=24, blank=True)
    last_good_at = models.DateTimeField(null=True, blank=True)
    # As it stood when it was put on: what the signal did, and what it mattered for.
    rests_on_it = models.CharField(max_length=300, blank=True)
    matters_for = models.CharField(max_length=12)
    reason = models.CharField(max_length=300)
    measures = models.CharField("what is done instead", max_length=200)
    every_hours = models.PositiveSmallIntegerField(null=True, blank=True)
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="overrides", null=True, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField(null=True, blank=True)
    limit_at = models.DateTimeField()
    needs_approval = models.BooleanField()
    cannot_wait = models.CharField("why it was put on before it was approved", max_length=200, blank=True)
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    refused_at = models.DateTimeField(null=True, blank=True)
    refused_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    refused_because = models.CharField(max_length=200, blank=True)
    owner = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    owned_since = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    removed_words = models.CharField(max_length=200, blank=True)
    restored_at = models.DateTimeField(null=True, blank=True)
    restored_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    restored_how = models.CharField(max_length=14, choices=Restoration, blank=True)
    restored_words = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = OverrideQuerySet.as_manager()

    class Meta:
        verbose_name = "forced value, hold, bypass or shelved alarm"
        ordering = ["-number"]
        indexes = [
            models.Index(fields=["site", "limit_at"], condition=Q(restored_at__isnull=True), name="override_standing"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="override_number_once_a_site"),
            models.CheckConstraint(
                condition=Q(kind__in=OverrideKind.values, way__in=OverrideWay.values),
                name="override_kind_and_way_are_known",
                violation_error_message="Say by which name it goes, and how it was done.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="forced value") | (~Q(value="") & ~Q(unit="") & ~Q(basis="")),
                name="forced_value_says_value_and_basis",
                violation_error_message="A forced value says the value, its unit and what it rests on.",
            ),
            models.CheckConstraint(
                condition=~Q(reason="") & ~Q(measures="") & ~Q(what=""),
                name="override_says_why_and_what_instead",
                violation_error_message="Write what is defeated, why, and what is done instead.",
            ),
            models.CheckConstraint(
                condition=Q(limit_at__gt=F("asked_at")),
                name="override_has_a_time_limit_to_come",
                violation_error_message="The time limit lies after the moment it is asked for.",
            ),
            models.CheckConstraint(
                condition=Q(approved_by__isnull=True) | ~Q(approved_by=F("asked_by")),
                name="nobody_approves_their_own_override",
                violation_error_message="Nobody approves what they asked for themselves; another person does.",
            ),
            models.CheckConstraint(
                condition=Q(approved_at__isnull=True) | Q(refused_at__isnull=True),
                name="override_is_approved_or_refused",
                violation_error_message="It was decided already.",
            ),
            models.CheckConstraint(
                condition=Q(begun_at__isnull=True)
                | Q(needs_approval=False)
                | Q(approved_at__isnull=False)
                | ~Q(cannot_wait=""),
                name="override_begins_approved_or_says_why_not",
                violation_error_message="It is put on after it was approved, or says why that could not wait.",
            ),
            models.CheckConstraint(
                condition=Q(refused_at__isnull=True) | ~Q(refused_because=""),
                name="refused_override_says_why",
                violation_error_message="A refusal says why.",
            ),
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True) | Q(removed_by__isnull=False, begun_at__isnull=False),
                name="removed_override_says_by_whom",
                violation_error_message="What was put on is taken off by a named person.",
            ),
            models.CheckConstraint(
                condition=Q(restored_at__isnull=True)
                | (
                    Q(removed_at__isnull=False, restored_by__isnull=False) & ~Q(restored_how="") & ~Q(restored_words="")
                ),
                name="restored_override_says_how_it_was_seen",
                violation_error_message="After it was taken off, somebody sees that it works again, and writes how.",
            ),
            models.CheckConstraint(
                condition=Q(restored_by__isnull=True) | ~Q(restored_by=F("removed_by")),
                name="another_person_sees_it_restored",
                violation_error_message="Another person than the one who took it off sees that it works again.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"

    def get_absolute_url(self) -> str:
        """Its page."""
        return reverse("maintenance:override", args=[self.number])


class OverrideExtension(models.Model):
    """More time asked for, and what another person decided."""

    kept: ClassVar[Kept] = close_once("decided_at", "decided_by", "granted", "because")

    override = models.ForeignKey(Override, on_delete=models.PROTECT, related_name="extensions")
    number = models.PositiveSmallIntegerField()
    to_at = models.DateTimeField()
    reason = models.CharField(max_length=300)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    granted = models.BooleanField(null=True, blank=True)
    because = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - NULL until set once

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["override", "number"], name="extension_number_once"),
            models.UniqueConstraint(
                fields=["override"],
                condition=Q(decided_at__isnull=True),
                name="one_extension_waits_at_a_time",
                violation_error_message="More time was asked for already and waits to be decided.",
            ),
            models.CheckConstraint(
                condition=Q(decided_by__isnull=True) | ~Q(decided_by=F("asked_by")),
                name="nobody_grants_their_own_extension",
                violation_error_message="Nobody approves what they asked for themselves; another person does.",
            ),
            models.CheckConstraint(
                condition=~Q(granted=False) | (Q(because__isnull=False) & ~Q(because="")),
                name="refused_extension_says_why",
                violation_error_message="A refusal says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"extension {self.number} of {self.override}"


class OverrideLook(models.Model):
    """One look at it against evidence that does not come from the forced signal itself."""

    kept: ClassVar[Kept] = APPEND_ONLY

    override = models.ForeignKey(Override, on_delete=models.PROTECT, related_name="looks")
    value = models.CharField(max_length=24)
    unit = models.CharField(max_length=12, blank=True)
    source = models.CharField("where the value comes from", max_length=160)
    taken_at = models.DateTimeField()
    agrees = models.BooleanField()
    words = models.CharField(max_length=200, blank=True)
    looked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-taken_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(value="") & ~Q(source=""),
                name="look_has_a_value_and_its_source",
                violation_error_message="A look says an independent value and where it comes from.",
            ),
            models.CheckConstraint(
                condition=Q(agrees=True) | ~Q(words=""),
                name="look_that_disagrees_says_what_was_done",
                violation_error_message="Where it does not agree, write what was done.",
            ),
        ]

    def __str__(self) -> str:
        return f"look at {self.override}"
