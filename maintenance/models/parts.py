"""Spare parts: the register, and every move of the stock, from which what is there is counted."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper
from django.urls import reverse

from assets.models import Person, Site
from assets.triggers import APPEND_ONLY, CHANGES, Guard, Kept
from maintenance.models.orders import WorkOrder
from maintenance.queries import PartQuerySet


class Part(models.Model):
    """A spare part or a consumable. Amounts are whole thousandths of its unit, so that sums are exact."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="parts")
    name = models.CharField(max_length=80)
    bin = models.CharField(max_length=24, blank=True)
    unit = models.CharField(max_length=12)
    least = models.PositiveBigIntegerField("least stock, thousandths", null=True, blank=True)
    lead_days = models.PositiveIntegerField(null=True, blank=True)
    shelf_days = models.PositiveIntegerField(null=True, blank=True)
    price = models.CharField(max_length=24, blank=True)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = PartQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("name"),
                condition=Q(retired_at__isnull=True),
                name="part_name_once_a_site",
                violation_error_message="This site has a part of this name already.",
            ),
            models.CheckConstraint(
                condition=~Q(name="") & ~Q(unit=""),
                name="part_has_a_name_and_a_unit",
                violation_error_message="A part has a name and the unit it is counted in.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The page of the part."""
        return reverse("maintenance:part", args=[self.pk])


class MoveKind(models.TextChoices):
    """Why the stock changed."""

    RECEIVED = "received", "received"
    USED = "used", "used"
    RETURNED = "returned", "put back"
    COUNTED = "counted", "counted"
    SCRAPPED = "scrapped", "scrapped"


class PartMove(models.Model):
    """One change of a part's stock, plus or minus; `counted` is what a person counted, in thousandths."""

    kept: ClassVar[Kept] = APPEND_ONLY
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "not_below_nothing",
            "INSERT",
            "NEW.thousandths < 0 AND NEW.thousandths + (SELECT COALESCE(SUM(m.thousandths), 0)"
            " FROM maintenance_partmove m WHERE m.part_id = NEW.part_id AND m.id <> NEW.id) < 0",
            "There is not so much of this part in stock.",
        ),
    )

    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=8, choices=MoveKind)
    thousandths = models.BigIntegerField()
    counted = models.PositiveBigIntegerField(null=True, blank=True)
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="part_moves", null=True, blank=True)
    expires = models.DateField(null=True, blank=True)
    price = models.CharField("price of one then", max_length=24, blank=True)
    because = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = "move of a part"
        ordering = ["id"]
        indexes = [models.Index(fields=["part", "recorded_at"], name="move_of_part")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=["received", "returned"], thousandths__gt=0)
                | Q(kind__in=["used", "scrapped"], thousandths__lt=0)
                | Q(kind="counted"),
                name="move_has_the_sign_of_its_kind",
                violation_error_message="What is received adds to the stock; what is used or scrapped takes from it.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="counted") & Q(counted__isnull=True) | Q(kind="counted", counted__isnull=False),
                name="only_a_count_says_what_was_counted",
                violation_error_message="A count says how much was counted.",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["used", "returned"]) | Q(order__isnull=False),
                name="used_part_names_its_order",
                violation_error_message="A part is used on a work order.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="scrapped") | ~Q(because=""),
                name="scrapped_part_says_why",
                violation_error_message="Write why the part is scrapped.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.part}"


class NeededPart(models.Model):
    """A part that a work order is planned to use."""

    kept: ClassVar[Kept] = APPEND_ONLY

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="needed")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    thousandths = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["order", "part"],
                name="needed_part_once_an_order",
                violation_error_message="This part stands in the list of the work order already.",
            ),
            models.CheckConstraint(
                condition=Q(thousandths__gt=0),
                name="needed_part_is_some",
                violation_error_message="Write how much of the part is needed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} for {self.order}"
