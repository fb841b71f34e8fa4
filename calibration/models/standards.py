"""Buffers: their kinds with tables at temperature, their lots, and what became of each lot."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper
from django.urls import reverse

from assets.models import Person, Site
from assets.triggers import APPEND_ONLY, Kept
from calibration.queries import LotQuerySet


class BufferKind(models.Model):
    """A kind of pH buffer; the same for every site."""

    kept: ClassVar[Kept] = APPEND_ONLY

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    nominal = models.CharField(max_length=8)

    class Meta:
        ordering = ["nominal", "code"]

    def __str__(self) -> str:
        return self.name


class BufferTable(models.Model):
    """pH of a kind at temperature, with its source. `rows` is text: one 'temperature pH' a line. The newest counts."""

    kept: ClassVar[Kept] = APPEND_ONLY

    kind = models.ForeignKey(BufferKind, on_delete=models.PROTECT, related_name="tables")
    version = models.PositiveIntegerField()
    source = models.CharField(max_length=200)
    rows = models.TextField()
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-version"]
        constraints = [models.UniqueConstraint(fields=["kind", "version"], name="table_version_once_a_kind")]

    def __str__(self) -> str:
        return f"{self.kind}, table {self.version}"


class Lot(models.Model):
    """One lot of buffer as received: its label, certificate and dates. What became of it are facts beside it."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="lots")
    kind = models.ForeignKey(BufferKind, on_delete=models.PROTECT, related_name="lots")
    number = models.CharField("lot", max_length=40)
    label_value = models.CharField("value on the label at 25 °C", max_length=12)
    uncertainty = models.CharField("expanded uncertainty", max_length=12, blank=True)
    coverage = models.CharField("coverage factor k", max_length=6, blank=True)
    certificate = models.CharField(max_length=80, blank=True)
    issuer = models.CharField("issued by", max_length=120, blank=True)
    received_on = models.DateField()
    expires_on = models.DateField()
    opened_life_days = models.PositiveIntegerField("days it may be used once opened")
    # The lot's own table at temperature, as printed on its label; empty: the table of its kind.
    own_table = models.TextField(blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["kind__nominal", "expires_on", "number"]
        constraints = [
            models.UniqueConstraint(
                "site",
                "kind",
                Upper("number"),
                name="lot_number_once_a_kind_and_site",
                violation_error_message="This site has this lot of this buffer registered already.",
            ),
            models.CheckConstraint(
                condition=Q(opened_life_days__gte=1),
                name="opened_life_is_at_least_a_day",
                violation_error_message="The days a lot may be used once opened are at least 1.",
            ),
        ]

    def __str__(self) -> str:
        return f"lot {self.number}"

    def get_absolute_url(self) -> str:
        """The page of the lot."""
        return reverse("calibration:lot", args=[self.pk])


class LotFact(models.Model):
    """What became of a lot: opened, quarantined, released again, discarded."""

    kept: ClassVar[Kept] = APPEND_ONLY

    KINDS: ClassVar[list[str]] = ["opened", "quarantined", "released", "discarded"]

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="facts")
    kind = models.CharField(max_length=12, choices=[(k, k) for k in KINDS])
    day = models.DateField()
    why = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["lot"],
                condition=Q(kind="opened"),
                name="lot_opened_once",
                violation_error_message="This lot has been opened already.",
            ),
            models.UniqueConstraint(
                fields=["lot"],
                condition=Q(kind="discarded"),
                name="lot_discarded_once",
                violation_error_message="This lot has been discarded already.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["opened", "quarantined", "released", "discarded"]),
                name="lot_fact_is_known",
                violation_error_message="A lot is opened, quarantined, released or discarded.",
            ),
            models.CheckConstraint(
                condition=Q(kind="opened") | ~Q(why=""),
                name="lot_fact_says_why",
                violation_error_message="Quarantine, release and discarding of a lot each need a reason.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lot} {self.kind}"
