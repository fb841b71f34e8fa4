"""Strapping tables of tanks: what a tag's level means in volume, from a day on."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from assets.compute.readings.strapping import Strapping, strapping
from assets.models import Person, Position
from assets.triggers import APPEND_ONLY, Kept
from maintenance.queries import StrappingQuerySet


class StrappingTable(models.Model):
    """One table of a tag and the level read there, from a day on. The newest counts; one without rows ends it.

    `rows`: a row a line, level and volume as typed with a tab between them, see `assets.compute.readings.strapping`.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="strapping_tables")
    what = models.CharField("level as the walk calls it", max_length=60)
    level_unit = models.CharField(max_length=12, blank=True)
    volume_unit = models.CharField(max_length=12, blank=True)
    rows = models.TextField(blank=True)
    share = models.CharField("standard uncertainty of a difference, %", max_length=24, blank=True)
    source = models.CharField("where the table comes from", max_length=160, blank=True)
    why = models.CharField(max_length=200)
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = StrappingQuerySet.as_manager()

    class Meta:
        ordering = ["position__tag", "what", "-from_day", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(why="") & ~Q(what=""),
                name="strapping_table_says_why_and_of_what",
                violation_error_message="A strapping table says of which level it is, and why it is written.",
            ),
            models.CheckConstraint(
                condition=Q(rows="") | (~Q(source="") & ~Q(level_unit="") & ~Q(volume_unit="")),
                name="strapping_table_names_units_and_source",
                violation_error_message="A strapping table names its units and where it comes from.",
            ),
        ]

    def __str__(self) -> str:
        return f"strapping table of {self.position.tag}, {self.what}"

    def get_absolute_url(self) -> str:
        """Its page."""
        return reverse("maintenance:strapping", args=[self.pk])

    @property
    def exact(self) -> Strapping:
        """Its rows as exact numbers."""
        return strapping(self.rows, self.level_unit, self.volume_unit)
