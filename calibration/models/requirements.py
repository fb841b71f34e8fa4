"""What a position's checks are held against: method, limits, their source, decision rule; from a day on."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from assets.models import Person, Position, Site
from assets.triggers import APPEND_ONLY, CHANGES, Kept
from maintenance.models import Plan


class Requirement(models.Model):
    """A method that a position is checked by, and the routine that asks for it (none: checked on demand)."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="requirements")
    method = models.CharField(max_length=40)
    plan = models.OneToOneField(Plan, on_delete=models.PROTECT, related_name="requirement", null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["position", "method"],
                name="method_once_a_position",
                violation_error_message="This tag has this method already; change its limits instead.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.method}, {self.position}"

    def get_absolute_url(self) -> str:
        """The page of the requirement."""
        return reverse("calibration:requirement", args=[self.pk])


class RequirementTerm(models.Model):
    """Limits and rule of a requirement from a day on, each as typed; the newest one known counts.

    `limits` is canonical JSON: name of the limit in the method -> {"low", "high", "unit", "source", "tag"}.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="terms")
    limits = models.TextField()
    rule = models.CharField(
        max_length=10, choices=[("plain", "plain: the limit alone"), ("guarded", "guarded by the uncertainty")]
    )
    uncertainty = models.CharField(max_length=12, blank=True)
    uncertainty_source = models.CharField(max_length=160, blank=True)
    # The value checks are judged at when the process shows none (plant off), with its unit.
    working_value = models.CharField(max_length=12, blank=True)
    # Canonical JSON of what the method asks once of a place, name -> text as typed; pH keeps its two in own columns.
    settings = models.TextField(blank=True)
    # A differential probe may count upwards: its slope is positive by design.
    slope_sign = models.CharField(
        max_length=8, choices=[("falling", "falling"), ("rising", "rising")], default="falling"
    )
    source = models.CharField("where the limits come from", max_length=160)
    why = models.CharField("reason of the change", max_length=200, blank=True)
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["from_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(rule__in=["plain", "guarded"]),
                name="decision_rule_is_known",
                violation_error_message="A decision rule is plain or guarded by the uncertainty.",
            ),
            models.CheckConstraint(
                condition=~Q(rule="guarded") | ~Q(uncertainty_source=""),
                name="guarded_rule_states_its_uncertainty",
                violation_error_message="A guarded rule says where its uncertainty comes from.",
            ),
        ]

    def __str__(self) -> str:
        return f"limits of {self.requirement} from {self.from_day}"
