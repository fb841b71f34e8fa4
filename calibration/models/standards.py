"""Lots of every family: their kinds with tables at temperature, and what became of each lot."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.db.models.functions import Upper
from django.urls import reverse

from assets.models import Asset, Person, Site
from assets.triggers import APPEND_ONLY, Kept
from calibration.compute.standards import BUFFER, IN_LOTS, KINDS
from calibration.queries import KindQuerySet, LotQuerySet


class StandardKind(models.Model):
    """A kind of standard that comes in lots. Those that come with the tool are every site's, the others one site's.

    `family` is a code of `compute.standards.KINDS`; empty: a pH buffer, which is all the first release knew, and then
    an empty `unit` is pH. `nominal` is empty where each lot has a value of its own (a gas).
    """

    kept: ClassVar[Kept] = APPEND_ONLY
    formerly: ClassVar[tuple[str, ...]] = ("calibration.bufferkind",)

    code = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    nominal = models.CharField(max_length=8, blank=True)
    family = models.CharField(max_length=24, blank=True)
    quantity = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = KindQuerySet.as_manager()

    class Meta:
        ordering = ["family", "nominal", "code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(family="") | Q(family__in=IN_LOTS),
                name="kind_of_standard_has_a_known_family",
                violation_error_message="A kind of standard belongs to a family that comes in lots.",
            ),
            models.CheckConstraint(
                condition=Q(family="") | ~Q(unit=""),
                name="kind_of_standard_says_its_unit",
                violation_error_message="A kind of standard says the unit of its value.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The page of the kind."""
        return reverse("calibration:kind", args=[self.pk])

    @property
    def of_family(self) -> str:
        """Its family as the methods name it."""
        return self.family or BUFFER

    @property
    def family_words(self) -> str:
        """Its family as a page names it."""
        return KINDS[self.of_family]

    @property
    def in_unit(self) -> str:
        """The unit of its values."""
        return self.unit or "pH"


class StandardTable(models.Model):
    """Value of a kind at temperature, with its source. `rows` is text: one 'degC value' a line. The newest counts."""

    kept: ClassVar[Kept] = APPEND_ONLY
    formerly: ClassVar[tuple[str, ...]] = ("calibration.buffertable",)

    kind = models.ForeignKey(StandardKind, on_delete=models.PROTECT, related_name="tables")
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
    """One lot as received or made: its label, certificate and dates. What became of it are facts beside it."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="lots")
    kind = models.ForeignKey(StandardKind, on_delete=models.PROTECT, related_name="lots")
    number = models.CharField("lot", max_length=40)
    label_value = models.CharField("value on the label", max_length=12)
    uncertainty = models.CharField("expanded uncertainty", max_length=12, blank=True)
    coverage = models.CharField("coverage factor k", max_length=6, blank=True)
    certificate = models.CharField(max_length=80, blank=True)
    issuer = models.CharField("issued by", max_length=120, blank=True)
    received_on = models.DateField()
    # Empty only for solid standards, which do not spoil: a mass, a filter glass, a block.
    expires_on = models.DateField(null=True, blank=True)
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
                violation_error_message="This site has this lot of this kind registered already.",
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

    @property
    def valued(self) -> str:
        """What it is worth by its label, with the unit: 'pH 7.00', '1413 µS/cm'."""
        unit = self.kind.in_unit
        return f"pH {self.label_value}" if unit == "pH" else f"{self.label_value} {unit}"


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


class Dilution(models.Model):
    """How a lot was made here from others: what was taken is in its parts, all made up to one volume.

    `exact` is the computed value as a fraction, `u` the standard uncertainty as a fraction, empty while any is not
    known. Volumes are as typed; `made_up_tolerance` is what stands on the flask.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, related_name="dilution")
    made_on = models.DateField()
    made_up = models.CharField(max_length=24)
    made_up_tolerance = models.CharField(max_length=24, blank=True)
    volume_unit = models.CharField(max_length=4)
    measured_with = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    exact = models.CharField(max_length=200)
    u = models.CharField(max_length=200, blank=True)
    # Canonical JSON: the lines of the working, as they were shown when it was made.
    working = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(volume_unit__in=["mL", "L"]),
                name="dilution_is_in_millilitres_or_litres",
                violation_error_message="Volumes of a dilution are in mL or L.",
            )
        ]

    def __str__(self) -> str:
        return f"dilution {self.lot}"


class DilutionPart(models.Model):
    """A volume taken from a lot for a dilution, with what that lot was worth then."""

    kept: ClassVar[Kept] = APPEND_ONLY

    dilution = models.ForeignKey(Dilution, on_delete=models.PROTECT, related_name="parts")
    parent = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="taken")
    taken = models.CharField(max_length=24)
    tolerance = models.CharField(max_length=24, blank=True)
    exact = models.CharField(max_length=200)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["dilution", "parent"],
                name="lot_taken_once_a_dilution",
                violation_error_message="Each lot stands once in a dilution; add its volumes together.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.taken} of {self.parent}"


class Assignment(models.Model):
    """The value a block was given on one instrument, after that instrument's primary calibration."""

    kept: ClassVar[Kept] = APPEND_ONLY

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="assignments")
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="assignments")
    value = models.CharField(max_length=24)
    on = models.DateField()
    # The check that calibrated the instrument; or, where it stands on paper, the lot used and words that name it.
    primary = models.ForeignKey("Check", on_delete=models.PROTECT, related_name="assignments", null=True, blank=True)
    primary_lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="assigned_by", null=True, blank=True)
    primary_words = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(primary__isnull=False) | (Q(primary_lot__isnull=False) & ~Q(primary_words="")),
                name="assigned_value_rests_on_a_primary_calibration",
                violation_error_message="A value is given to a block after a primary calibration of that instrument: "
                "name the check, or the lot that was used and where it is written.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.lot} on {self.asset}"
