"""Sites, areas, tagged positions, serial-numbered assets, and what was fitted where and when."""

from __future__ import annotations

from typing import ClassVar
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper

from assets.queries import (
    AreaQuerySet,
    AssetQuerySet,
    FittingQuerySet,
    PositionQuerySet,
)
from assets.triggers import CHANGES, Guard, Kept, close_once


class UnitSystem(models.TextChoices):
    """Which units a site's forms offer first."""

    SI = "SI", "SI"
    US = "US", "US customary"


class DecimalMark(models.TextChoices):
    """What the site writes between units and tenths."""

    POINT = ".", "point"
    COMMA = ",", "comma"


class MattersFor(models.TextChoices):
    """What suffers when a position fails, most serious first."""

    SAFETY = "safety", "Safety"
    COMPLIANCE = "compliance", "Compliance"
    PRODUCTION = "production", "Production"
    OTHER = "other", "Other"


class Does(models.TextChoices):
    """Whether a position measures, or moves water or chemical or is otherwise worked on."""

    MEASURES = "measures", "Measures"
    MOVES = "moves", "Moves water or chemical, or is worked on"


class Site(models.Model):
    """One water works."""

    kept: ClassVar[Kept] = CHANGES

    name = models.CharField(max_length=120, unique=True, error_messages={"unique": "A site of this name exists."})
    time_zone = models.CharField(max_length=60)
    unit_system = models.CharField(max_length=2, choices=UnitSystem, default=UnitSystem.SI)
    decimal_mark = models.CharField(max_length=1, choices=DecimalMark, default=DecimalMark.POINT)
    address = models.CharField("web address", max_length=200, blank=True)
    ask_name = models.CharField("whom to ask", max_length=120, blank=True)
    ask_phone = models.CharField("phone of whom to ask", max_length=40, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(unit_system__in=UnitSystem.values),
                name="site_units_are_known",
                violation_error_message="The units of a site are SI or US customary.",
            ),
            models.CheckConstraint(
                condition=Q(decimal_mark__in=DecimalMark.values),
                name="site_mark_is_point_or_comma",
                violation_error_message="The decimal mark of a site is a point or a comma.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.time_zone)


class Area(models.Model):
    """A part of the works, in walking order."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="areas")
    name = models.CharField(max_length=80)
    walk_order = models.PositiveIntegerField()
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = AreaQuerySet.as_manager()

    class Meta:
        ordering = ["walk_order", "name"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("name"),
                name="area_name_once_a_site",
                violation_error_message="This site has an area of this name already.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Position(models.Model):
    """A tagged place in the process: it measures or does something."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="positions")
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="positions")
    tag = models.CharField(max_length=24)
    label_code = models.CharField(max_length=12, unique=True)
    service = models.CharField(max_length=120)
    does = models.CharField(max_length=10, choices=Does)
    quantity = models.CharField(max_length=40, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    range_low = models.CharField(max_length=24, blank=True)
    range_high = models.CharField(max_length=24, blank=True)
    matters_for = models.CharField(max_length=12, choices=MattersFor)
    compliance_point = models.BooleanField(default=False)
    walk_order = models.PositiveIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = PositionQuerySet.as_manager()

    class Meta:
        ordering = ["area__walk_order", "walk_order", "tag"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("tag"),
                condition=Q(retired_at__isnull=True),
                name="tag_once_a_site",
                violation_error_message="This site has a position with this tag already.",
            ),
            models.CheckConstraint(
                condition=Q(does__in=Does.values),
                name="position_measures_or_moves",
                violation_error_message="A position measures, or moves water or chemical.",
            ),
            models.CheckConstraint(
                condition=Q(matters_for__in=MattersFor.values),
                name="position_matters_for_is_known",
                violation_error_message="A position matters for safety, compliance, production or other.",
            ),
            models.CheckConstraint(
                condition=~Q(does="measures") | ~Q(unit=""),
                name="measuring_position_has_a_unit",
                violation_error_message="A position that measures needs the unit it reads in.",
            ),
        ]

    def __str__(self) -> str:
        return self.tag

    @property
    def measures(self) -> bool:
        """Whether the position measures; else it is a machine."""
        return self.does == Does.MEASURES


class Asset(models.Model):
    """A serial-numbered thing: probe, analyzer, meter, pump, voltage tester."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="assets")
    kind = models.CharField(max_length=60)
    model = models.CharField(max_length=80, blank=True)
    serial = models.CharField(max_length=60)
    note = models.CharField(max_length=200, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = AssetQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "serial"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("kind"),
                Upper("serial"),
                name="serial_once_a_kind_and_site",
                violation_error_message="This site has an asset of this kind with this serial already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.serial}"


class Fitting(models.Model):
    """Which asset sits at which position, from when to when."""

    kept: ClassVar[Kept] = close_once("to_at", "to_by", "to_recorded_at")
    # Two stretches overlap when each begins before the other ends; an open end is later than every time.
    guards: ClassVar[tuple[Guard, ...]] = tuple(
        Guard(
            f"no_overlap_{on.lower()}",
            on,
            "EXISTS (SELECT 1 FROM assets_fitting f WHERE f.id <> NEW.id"
            " AND (f.position_id = NEW.position_id OR f.asset_id = NEW.asset_id)"
            " AND (NEW.to_at IS NULL OR f.from_at < NEW.to_at) AND (f.to_at IS NULL OR f.to_at > NEW.from_at))",
            "Another asset was fitted at this position, or this asset at another, in the same stretch of time.",
        )
        for on in ("INSERT", "UPDATE")
    )

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="fittings")
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="fittings")
    from_at = models.DateTimeField()
    from_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    to_at = models.DateTimeField(null=True, blank=True)
    to_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    to_recorded_at = models.DateTimeField(null=True, blank=True)

    objects = FittingQuerySet.as_manager()

    class Meta:
        ordering = ["-from_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["position"],
                condition=Q(to_at__isnull=True),
                name="one_asset_fitted_at_a_position",
                violation_error_message="An asset is fitted at this position already; take it out first.",
            ),
            models.UniqueConstraint(
                fields=["asset"],
                condition=Q(to_at__isnull=True),
                name="asset_fitted_at_one_position",
                violation_error_message="This asset is fitted at another position; take it out there first.",
            ),
            models.CheckConstraint(
                condition=Q(to_at__isnull=True) | Q(to_at__gt=F("from_at")),
                name="fitting_ends_after_it_begins",
                violation_error_message="An asset is taken out after it was fitted, not before.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.asset} at {self.position}"
