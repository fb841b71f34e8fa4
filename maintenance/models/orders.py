"""Work orders and their steps."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from assets.models import Asset, Person, Position, Site
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


class WorkOrder(models.Model):
    """One piece of work: what, why, who, when, until somebody else accepts it."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="orders")
    number = models.PositiveIntegerField()
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="orders", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="orders", null=True, blank=True)
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="orders", null=True, blank=True)
    title = models.CharField(max_length=140)
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


class Step(models.Model):
    """One step of a work order; its text is fixed, its end is set once."""

    kept: ClassVar[Kept] = close_once("done_at", "done_by", "note")

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveIntegerField()
    text = models.CharField(max_length=200)
    # The routine that the step carries out, if it does.
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="steps", null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    note = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - NULL until set once

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
        ]

    def __str__(self) -> str:
        return f"step {self.number} of {self.order}"
