"""Work orders and their steps."""

from __future__ import annotations

from fractions import Fraction
from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from assets.compute.numbers import kept_number
from assets.models import Asset, Person, Position, Reading, Site
from assets.triggers import CHANGES, Kept, close_once
from maintenance.models.routines import Plan
from maintenance.queries import WorkOrderQuerySet


class OrderState(models.TextChoices):
    """Where a work order stands."""

    RAISED = "raised", "Raised"
    PLANNED = "planned", "Planned"
    UNDER_WAY = "under way", "Under way"
    WAITING = "waiting", "Waiting"
    DONE = "done", "Done"
    ACCEPTED = "accepted", "Accepted"
    WITHDRAWN = "withdrawn", "Withdrawn"


class Confirmed(models.TextChoices):
    """Whether the failed check that raised an order has been confirmed by a second buffer."""

    NOT_ASKED = "", "not asked"
    NOT_YET = "not yet confirmed", "not yet confirmed"
    CONFIRMED = "confirmed", "confirmed"


class OrderType(models.TextChoices):
    """What kind of maintenance it is, in the terms of EN 13306; nothing is written on orders older than the types."""

    PREVENTIVE = "preventive", "Preventive"
    CONDITION = "condition-based", "Condition-based"
    IMMEDIATE = "corrective immediate", "Corrective, immediate"
    DEFERRED = "corrective deferred", "Corrective, deferred"
    IMPROVEMENT = "improvement", "Improvement"


CORRECTIVE = frozenset({OrderType.IMMEDIATE, OrderType.DEFERRED})


class WorkOrder(models.Model):
    """One piece of work: what, why, who, when, until somebody else accepts it."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="orders")
    number = models.PositiveIntegerField()
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="orders", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="orders", null=True, blank=True)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="orders", null=True, blank=True)
    title = models.CharField(max_length=140)
    type = models.CharField(max_length=20, choices=OrderType, blank=True)
    reason = models.TextField()
    origin_label = models.CharField(max_length=160, blank=True)
    origin_path = models.CharField(max_length=120, blank=True)
    origin_key = models.CharField(max_length=60, unique=True, null=True, blank=True)
    confirmed = models.CharField(max_length=20, choices=Confirmed, default=Confirmed.NOT_ASKED, blank=True)
    state = models.CharField(max_length=10, choices=OrderState, default=OrderState.RAISED)
    waiting_for = models.CharField(max_length=160, blank=True)
    wanted_by = models.DateField(null=True, blank=True)
    in_charge = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    planned_minutes = models.PositiveIntegerField(null=True, blank=True)
    raised_at = models.DateTimeField()
    raised_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField(null=True, blank=True)
    planned_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    found = models.TextField("what was found and done", blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.CharField(max_length=200, blank=True)

    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        indexes = [models.Index(fields=["site", "state", "number"], name="order_by_state")]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="order_number_once_a_site"),
            models.UniqueConstraint(
                fields=["position", "plan"],
                condition=Q(plan__isnull=False) & ~Q(state__in=["done", "accepted", "withdrawn"]),
                name="one_open_order_a_position_and_routine",
                violation_error_message="This routine has an open work order at this tag already.",
            ),
            models.CheckConstraint(
                condition=Q(state__in=OrderState.values),
                name="order_state_is_known",
                violation_error_message="States of a work order: raised, planned, under way, waiting, done and so on.",
            ),
            models.CheckConstraint(
                condition=Q(type__in=["", *OrderType.values]),
                name="order_type_is_known",
                violation_error_message="Work is preventive, condition-based, corrective or an improvement.",
            ),
            models.CheckConstraint(
                condition=Q(position__isnull=False) | Q(asset__isnull=False),
                name="order_is_for_a_tag_or_an_asset",
                violation_error_message="A work order names a tag or an asset.",
            ),
            models.CheckConstraint(
                condition=~Q(state="waiting") | ~Q(waiting_for=""),
                name="waiting_order_says_for_what",
                violation_error_message="A waiting work order says what it waits for.",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["done", "accepted"]) | Q(done_at__isnull=False, done_by__isnull=False),
                name="done_order_says_who_and_when",
                violation_error_message="A work order that is done says who did it and when.",
            ),
            models.CheckConstraint(
                condition=~Q(state="accepted") | Q(accepted_at__isnull=False, accepted_by__isnull=False),
                name="accepted_order_says_who_and_when",
                violation_error_message="An accepted work order says who accepted it and when.",
            ),
            models.CheckConstraint(
                condition=Q(accepted_by__isnull=True) | Q(done_by__isnull=True) | ~Q(accepted_by=F("done_by")),
                name="nobody_accepts_own_work",
                violation_error_message="The person who did the work does not accept it; another person does.",
            ),
            models.CheckConstraint(
                condition=~Q(state="withdrawn") | (Q(withdrawn_at__isnull=False) & ~Q(withdrawn_because="")),
                name="withdrawn_order_says_why",
                violation_error_message="A withdrawn work order says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"work order {self.number}"

    def get_absolute_url(self) -> str:
        """The page of the work order."""
        return reverse("maintenance:order", args=[self.number])

    @property
    def plan_version(self) -> int:
        """Which plan the order has: a number that each planning changes; 0 while nobody has planned it."""
        return int(self.planned_at.timestamp() * 1_000_000) if self.planned_at else 0

    @property
    def is_open(self) -> bool:
        """Whether it still asks for work."""
        return self.state not in {OrderState.DONE, OrderState.ACCEPTED, OrderState.WITHDRAWN}

    @property
    def is_corrective(self) -> bool:
        """Whether it mends what has failed, at once or later."""
        return self.type in CORRECTIVE


class Step(models.Model):
    """One step of a work order; its text and what it asks to read are fixed, its end is set once.

    `quantity` with its `unit` asks for a value; `low` and `high` are its limits as typed, inclusive, in that unit.
    """

    kept: ClassVar[Kept] = close_once("done_at", "done_by", "note", "reading", "answer")

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveIntegerField()
    text = models.CharField(max_length=200)
    # The routine that the step carries out, if it does.
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="steps", null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    note = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - NULL until set once
    quantity = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    low = models.CharField(max_length=24, blank=True)
    high = models.CharField(max_length=24, blank=True)
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    # What was done about a value outside its limits.
    answer = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - NULL until set once

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["order", "number"], name="step_number_once_an_order"),
            models.CheckConstraint(
                condition=Q(done_at__isnull=True, done_by__isnull=True)
                | Q(done_at__isnull=False, done_by__isnull=False),
                name="done_step_says_who_and_when",
                violation_error_message="A step that is done says who did it and when.",
            ),
            models.CheckConstraint(
                condition=~Q(quantity="") & ~Q(unit="")
                | Q(quantity="", unit="", low="", high="", reading__isnull=True),
                name="step_that_reads_names_quantity_and_unit",
                violation_error_message="A step that asks for a value says of what, and in which unit.",
            ),
            models.CheckConstraint(
                condition=Q(quantity="") | Q(done_at__isnull=True) | Q(reading__isnull=False),
                name="done_step_has_the_value_it_asks_for",
                violation_error_message="This step asks for a value; it is done with the value.",
            ),
        ]

    def __str__(self) -> str:
        return f"step {self.number} of {self.order}"

    @property
    def reads(self) -> bool:
        """Whether it asks for a value."""
        return bool(self.quantity)

    def outside(self, value: Fraction) -> str:
        """On which side of its limits a value in its unit lies, in words; '' inside and at a limit."""
        low, high = kept_number(self.low), kept_number(self.high)
        if low is not None and value < low:
            return f"below {self.low} {self.unit}"
        return f"above {self.high} {self.unit}" if high is not None and value > high else ""
