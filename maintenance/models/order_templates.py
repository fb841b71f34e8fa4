"""Templates of work orders for a kind of machine: title, type, steps with what they read, parts."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper
from django.urls import reverse

from assets.models import Person, Site
from assets.triggers import CHANGES, Kept, close_once
from maintenance.models.orders import OrderType
from maintenance.models.parts import Part
from maintenance.queries import OrderTemplateQuerySet


class OrderTemplate(models.Model):
    """What is done each time at machines of one kind; '' is for any kind."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="order_templates")
    machine = models.CharField("kind of machine", max_length=60, blank=True)
    title = models.CharField(max_length=140)
    reason = models.CharField(max_length=200, blank=True)
    type = models.CharField(max_length=20, choices=OrderType)
    minutes = models.PositiveIntegerField("planned minutes", null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = OrderTemplateQuerySet.as_manager()

    class Meta:
        ordering = ["machine", "title"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("machine"),
                Upper("title"),
                condition=Q(retired_at__isnull=True),
                name="template_title_once_a_machine",
                violation_error_message="There is a template of this title for this kind of machine already.",
            ),
            models.CheckConstraint(
                condition=Q(type__in=OrderType.values),
                name="template_type_is_known",
                violation_error_message="Work is preventive, condition-based, corrective or an improvement.",
            ),
        ]

    def __str__(self) -> str:
        return f"template “{self.title}”"

    def get_absolute_url(self) -> str:
        """The page of the template."""
        return reverse("maintenance:order-template", args=[self.pk])


class TemplateStep(models.Model):
    """One step that an order from the template gets; taken out once."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by")

    template = models.ForeignKey(OrderTemplate, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveIntegerField()
    text = models.CharField(max_length=200)
    quantity = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    low = models.CharField(max_length=24, blank=True)
    high = models.CharField(max_length=24, blank=True)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["template", "number"], name="step_number_once_a_template"),
            models.CheckConstraint(
                condition=~Q(quantity="") & ~Q(unit="") | Q(quantity="", unit="", low="", high=""),
                name="template_step_that_reads_names_quantity_and_unit",
                violation_error_message="A step that asks for a value says of what, and in which unit.",
            ),
        ]

    def __str__(self) -> str:
        return f"step {self.number} of {self.template}"


class TemplatePart(models.Model):
    """One part that an order from the template needs; taken out once."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by")

    template = models.ForeignKey(OrderTemplate, on_delete=models.PROTECT, related_name="parts")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    thousandths = models.PositiveBigIntegerField()
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["template", "part"],
                condition=Q(ended_at__isnull=True),
                name="part_once_a_template",
                violation_error_message="This part stands in the template already.",
            ),
            models.CheckConstraint(
                condition=Q(thousandths__gt=0),
                name="template_part_is_some",
                violation_error_message="Write how much of the part is needed.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} in {self.template}"
