"""Sites, areas, tagged positions, serial-numbered assets, and what was fitted, read and set where and when."""

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
    LimitQuerySet,
    PositionQuerySet,
    ReadingQuerySet,
    SignalUseQuerySet,
)
from assets.triggers import APPEND_ONLY, CHANGES, Guard, Kept, close_once


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


class Use(models.TextChoices):
    """What depends on a position's signal."""

    PACES = "paces", "Paces"
    PERMITS = "permits", "Permits"
    TRIPS = "trips", "Trips"
    REPORTS = "reports", "Reports"
    COMPUTES = "computes", "Computes"


class SignalUse(models.Model):
    """What one position's signal does to another position, a report or a computed figure."""

    kept: ClassVar[Kept] = close_once("to_at", "to_by")

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="uses")
    use = models.CharField(max_length=10, choices=Use)
    target = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="used_by", null=True, blank=True)
    text = models.CharField(max_length=120, blank=True)
    from_at = models.DateTimeField()
    from_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    to_at = models.DateTimeField(null=True, blank=True)
    to_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = SignalUseQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(use__in=Use.values),
                name="signal_use_is_known",
                violation_error_message="A signal paces, permits, trips, reports or computes.",
            ),
            models.CheckConstraint(
                condition=(Q(target__isnull=False) & Q(text="")) | (Q(target__isnull=True) & ~Q(text="")),
                name="signal_use_names_a_tag_or_a_text",
                violation_error_message="A use of a signal names a tag, or says in words what depends on it.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_use_display()} {self.on}"

    @property
    def on(self) -> str:
        """What depends on the signal: the tag, or the words."""
        return self.target.tag if self.target is not None else self.text


class Side(models.TextChoices):
    """Which side of a limit is out."""

    HIGH = "high", "high"
    LOW = "low", "low"


class Limit(models.Model):
    """A limit on what a position reads, from a day on, with its source. The newest of a name counts; no value ends it."""

    kept: ClassVar[Kept] = APPEND_ONLY

    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="limits")
    name = models.CharField(max_length=60)
    side = models.CharField(max_length=4, choices=Side)
    value = models.CharField(max_length=24, blank=True)
    unit = models.CharField(max_length=12)
    source = models.CharField(max_length=160)
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")

    objects = LimitQuerySet.as_manager()

    class Meta:
        ordering = ["name", "side", "-from_day", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(side__in=Side.values),
                name="limit_is_high_or_low",
                violation_error_message="A limit is high or low.",
            ),
            models.CheckConstraint(
                condition=~Q(source=""),
                name="limit_names_its_source",
                violation_error_message="A limit names where it comes from.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.side}: {self.value} {self.unit}"


class Face(models.TextChoices):
    """Where a number was read."""

    DISPLAY = "display", "display"
    HMI = "HMI", "HMI"
    REPORT = "report", "report"


class Reading(models.Model):
    """A number as typed, read from a position or an asset."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="readings", null=True, blank=True)
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="readings", null=True, blank=True)
    what = models.CharField(max_length=60)
    entered = models.CharField(max_length=24)
    unit = models.CharField(max_length=12)
    value = models.FloatField()
    face = models.CharField(max_length=10, choices=Face)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    source = models.CharField(max_length=120, blank=True)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(position__isnull=False, asset__isnull=True) | Q(position__isnull=True, asset__isnull=False),
                name="reading_of_a_position_or_an_asset",
                violation_error_message="A reading belongs to one tag or to one asset.",
            ),
            models.CheckConstraint(
                condition=Q(face__in=Face.values),
                name="reading_face_is_known",
                violation_error_message="A number is read at the display, the HMI or the report.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.entered} {self.unit}"
