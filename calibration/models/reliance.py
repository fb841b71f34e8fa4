"""A lot or an instrument withdrawn from a day on, and every check that relied on it."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from assets.models import Asset, Person, Signature, Site
from assets.triggers import APPEND_ONLY, Kept
from calibration.models.checks import Check
from calibration.models.standards import Lot


class Recall(models.Model):
    """A standard that must not have been relied on since a day, signed by who says so."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="recalls")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="recalls", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="recalls", null=True, blank=True)
    from_day = models.DateField()
    because = models.CharField(max_length=200)
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="recall")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-recorded_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(lot__isnull=False, asset__isnull=True) | Q(lot__isnull=True, asset__isnull=False),
                name="recall_is_of_a_lot_or_an_instrument",
                violation_error_message="A lot or an instrument is withdrawn, one of the two.",
            ),
            models.CheckConstraint(
                condition=~Q(because=""),
                name="recall_says_why",
                violation_error_message="A standard is withdrawn with a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot or self.asset} withdrawn from {self.from_day}"

    def get_absolute_url(self) -> str:
        """The page of the withdrawal."""
        return reverse("calibration:recall", args=[self.pk])


class RelianceWithdrawal(models.Model):
    """One check that relied on what was withdrawn. The check stays as signed; this stands beside it.

    `through` names the way from the withdrawn standard to the check: a dilution, a block, a bench meter.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="withdrawals")
    check_of = models.ForeignKey(Check, on_delete=models.PROTECT, related_name="withdrawals")
    standard = models.CharField(max_length=160)
    because = models.CharField(max_length=200)
    through = models.CharField(max_length=400, blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["recall", "check_of"],
                name="check_withdrawn_once_a_recall",
                violation_error_message="This check is withdrawn by this recall already.",
            )
        ]

    def __str__(self) -> str:
        return f"reliance of {self.check_of} withdrawn"
