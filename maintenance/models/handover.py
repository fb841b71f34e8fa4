"""Handover at a change of shift: one generated page, each thing on it taken over by name, once."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from assets.models import Person, Signature, Site
from assets.triggers import APPEND_ONLY, Guard, Kept, close_once


class Handover(models.Model):
    """What one person hands over at the end of a shift, in their own words and as it was written until then."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="handovers")
    number = models.PositiveIntegerField()
    shift_from = models.DateTimeField("on shift from")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="handovers")
    words = models.TextField("in their own words", blank=True)
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="handover_number_once_a_site"),
            models.CheckConstraint(
                condition=Q(shift_from__lt=F("made_at")),
                name="handover_ends_a_shift",
                violation_error_message="A shift began before it is handed over.",
            ),
        ]

    def __str__(self) -> str:
        return f"handover {self.number}"

    def get_absolute_url(self) -> str:
        """Its page."""
        return reverse("maintenance:handover", args=[self.number])


class HandoverItem(models.Model):
    """One thing of a handover as it stood then; what is carried is taken over by one person, once."""

    kept: ClassVar[Kept] = close_once("taken_at", "taken_by")
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "not_by_who_hands_over",
            "UPDATE",
            "EXISTS (SELECT 1 FROM maintenance_handover h WHERE h.id = NEW.handover_id"
            " AND h.made_by_id = NEW.taken_by_id)",
            "Who hands over does not take over; the oncoming person does.",
        ),
        Guard(
            "nothing_that_is_told_only",
            "UPDATE",
            "NEW.carried_key = '' AND NEW.taken_by_id IS NOT NULL",
            "This was only told; there is nothing to take over.",
        ),
    )

    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="items")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=20)
    # What is carried: "override 12", "lockout 58"; empty for what is only told.
    carried_key = models.CharField(max_length=40, blank=True)
    at = models.DateTimeField(null=True, blank=True)
    tag = models.CharField(max_length=24, blank=True)
    code = models.CharField(max_length=12, blank=True)
    machine = models.BooleanField(default=False)
    matters_for = models.CharField(max_length=12, blank=True)
    title = models.CharField(max_length=200)
    text = models.CharField(max_length=400, blank=True)
    path = models.CharField(max_length=120, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["handover", "number"], name="handover_item_number_once"),
            models.CheckConstraint(
                condition=Q(taken_at__isnull=True, taken_by__isnull=True)
                | Q(taken_at__isnull=False, taken_by__isnull=False),
                name="taken_item_says_by_whom",
                violation_error_message="What is taken over is taken by a named person.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} of {self.handover}"


class HandoverNote(models.Model):
    """What the oncoming person saw differently."""

    kept: ClassVar[Kept] = APPEND_ONLY

    handover = models.ForeignKey(Handover, on_delete=models.PROTECT, related_name="notes")
    words = models.CharField(max_length=400)
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"note on {self.handover}"
