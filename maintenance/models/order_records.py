"""What is written down about a work order: how it had failed, whose time, what it cost, files, checks before use."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from assets.models import KeptFile, Person
from assets.triggers import APPEND_ONLY, Kept, close_once
from maintenance.compute.failures import CAUSES, DETECTIONS, MECHANISMS, MODES
from maintenance.models.orders import WorkOrder
from maintenance.models.routines import Plan


class Failure(models.Model):
    """How something failed, in the words of ISO 14224; a correction is a newer row that names the older one."""

    kept: ClassVar[Kept] = APPEND_ONLY

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="failures")
    shows = models.CharField("how it showed", max_length=24, choices=list(MODES.items()))
    mechanism = models.CharField(max_length=24, choices=list(MECHANISMS.items()))
    cause = models.CharField(max_length=24, choices=list(CAUSES.items()))
    detected = models.CharField("detected by", max_length=24, choices=list(DETECTIONS.items()))
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["order"],
                condition=Q(replaces__isnull=True),
                name="one_failure_an_order",
                violation_error_message="How this failed is written already; correct what stands there.",
            ),
            models.CheckConstraint(
                condition=Q(shows__in=list(MODES)),
                name="failure_shows_in_a_known_way",
                violation_error_message="Choose how the failure showed from the list.",
            ),
            models.CheckConstraint(
                condition=Q(mechanism__in=list(MECHANISMS)),
                name="failure_mechanism_is_known",
                violation_error_message="Choose the mechanism of the failure from the list.",
            ),
            models.CheckConstraint(
                condition=Q(cause__in=list(CAUSES)),
                name="failure_cause_is_known",
                violation_error_message="Choose the cause of the failure from the list.",
            ),
            models.CheckConstraint(
                condition=Q(detected__in=list(DETECTIONS)),
                name="failure_detection_is_known",
                violation_error_message="Choose by what the failure was detected from the list.",
            ),
        ]

    def __str__(self) -> str:
        return f"failure of {self.order}"

    @property
    def words(self) -> str:
        """The four answers in one line."""
        parts = (MODES[self.shows], MECHANISMS[self.mechanism].split(":")[0], CAUSES[self.cause])
        return f"{'; '.join(parts)}; {DETECTIONS[self.detected]}"


class Labour(models.Model):
    """Time of one person on a work order; a correction is a newer row, of 0 to take the older one back."""

    kept: ClassVar[Kept] = APPEND_ONLY

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="labour")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    minutes = models.PositiveIntegerField()
    from_at = models.DateTimeField(null=True, blank=True)
    to_at = models.DateTimeField(null=True, blank=True)
    what = models.CharField(max_length=160, blank=True)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = "time on a work order"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gt=0) | Q(replaces__isnull=False),
                name="labour_has_minutes",
                violation_error_message="Write at least one minute.",
            ),
            models.CheckConstraint(
                condition=Q(from_at__isnull=True, to_at__isnull=True)
                | Q(from_at__isnull=False, to_at__isnull=False, to_at__gt=models.F("from_at")),
                name="labour_ends_after_it_begins",
                violation_error_message="Work ends after it begins; write both times or neither.",
            ),
        ]

    def __str__(self) -> str:
        return f"time of {self.person} on {self.order}"


class OrderCost(models.Model):
    """What was paid to somebody outside for a work order, as typed, in the money of the plant."""

    kept: ClassVar[Kept] = APPEND_ONLY

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="costs")
    amount = models.CharField(max_length=24)
    what = models.CharField(max_length=160)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = "cost of a work order"
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(amount="") & ~Q(what=""),
                name="cost_says_how_much_and_for_what",
                violation_error_message="A cost says how much and for what.",
            )
        ]

    def __str__(self) -> str:
        return f"cost of {self.order}"


class OrderFile(models.Model):
    """A photograph or another file that belongs to a work order."""

    kept: ClassVar[Kept] = APPEND_ONLY

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="files")
    file = models.OneToOneField(KeptFile, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = "file of a work order"
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.file} of {self.order}"


class ReturnCheck(models.Model):
    """A routine whose record, later than this row, the order needs before it is accepted, unless it is taken back."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by", "because")

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="return_checks")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField("taken back at", null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    because = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - NULL until taken back

    class Meta:
        verbose_name = "check before acceptance"
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["order", "plan"],
                condition=Q(ended_at__isnull=True),
                name="return_check_once_an_order",
                violation_error_message="This check is asked for already.",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_by__isnull=True, because__isnull=True)
                | (Q(ended_at__isnull=False, ended_by__isnull=False, because__isnull=False) & ~Q(because="")),
                name="return_check_taken_back_says_why",
                violation_error_message="A check that is taken back says by whom, when and why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan} before {self.order} is accepted"
