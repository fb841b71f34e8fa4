"""Where an instrument is when it is not at the plant: sent out, to whom and why, and how it came back."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from assets.models import Asset, Person
from assets.triggers import Kept, close_once


class Custody(models.Model):
    """One absence of an instrument: from the day it left until the day it came back. One open an instrument."""

    kept: ClassVar[Kept] = close_once("back_on", "condition", "back_certificate", "back_by", "back_recorded_at")

    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="absences")
    sent_to = models.CharField(max_length=120)
    why = models.CharField(max_length=200)
    sent_with = models.CharField(max_length=120)
    sent_on = models.DateField()
    due_back = models.DateField()
    # What sits in its place meanwhile, and the tag it was taken out of, as text for the record.
    loaner = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    taken_out_of = models.CharField(max_length=60, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    back_on = models.DateField(null=True, blank=True)
    condition = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - set once, from NULL
    back_certificate = models.CharField(max_length=80, null=True, blank=True)  # noqa: DJ001 - set once, from NULL
    back_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    back_recorded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-sent_on", "-id"]
        verbose_name = "absence"
        constraints = [
            models.UniqueConstraint(
                fields=["asset"],
                condition=Q(back_on__isnull=True),
                name="instrument_is_away_once",
                violation_error_message="This instrument is away already; write it back first.",
            ),
            models.CheckConstraint(
                condition=Q(back_on__isnull=True) | Q(back_on__gte=F("sent_on")),
                name="instrument_comes_back_after_it_left",
                violation_error_message="An instrument comes back on the day it left or later.",
            ),
            models.CheckConstraint(
                condition=Q(due_back__gte=F("sent_on")),
                name="instrument_is_due_back_after_it_left",
                violation_error_message="The day it is due back is not before the day it leaves.",
            ),
            models.CheckConstraint(
                condition=(Q(back_on__isnull=True) & Q(condition__isnull=True))
                | (Q(back_on__isnull=False) & Q(condition__isnull=False) & ~Q(condition="")),
                name="instrument_comes_back_in_some_condition",
                violation_error_message="An instrument that is back says in what condition.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.asset} at {self.sent_to}"
