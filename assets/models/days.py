"""What the site itself says with dates: holidays, settings, and when water was made."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from assets.models.plant import Position, Site
from assets.queries import HolidayQuerySet, ProductionQuerySet, SettingQuerySet
from assets.triggers import APPEND_ONLY, Guard, Kept, close_once


class Holiday(models.Model):
    """A day that is no working day at the site; one written by mistake is withdrawn, not deleted."""

    kept: ClassVar[Kept] = close_once("withdrawn_at", "withdrawn_by", "withdrawn_because")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="holidays")
    day = models.DateField()
    name = models.CharField(max_length=60)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_because = models.CharField(max_length=160, null=True, blank=True)  # noqa: DJ001 - NULL until set once

    objects = HolidayQuerySet.as_manager()

    class Meta:
        ordering = ["day"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "day"],
                condition=Q(withdrawn_at__isnull=True),
                name="holiday_once_a_day_and_site",
                violation_error_message="This day is written as a holiday already.",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True, withdrawn_because__isnull=True)
                | (Q(withdrawn_at__isnull=False, withdrawn_because__isnull=False) & ~Q(withdrawn_because="")),
                name="withdrawn_holiday_says_why",
                violation_error_message="A holiday that is withdrawn says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day:%d %B %Y}, {self.name}"


class Setting(models.Model):
    """One rule of the site that its people may set, from a day on; the newest known one of a name counts."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="settings")
    name = models.CharField(max_length=40)
    value = models.CharField(max_length=60)
    source = models.CharField(max_length=160)
    why = models.CharField(max_length=200)
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")

    objects = SettingQuerySet.as_manager()

    class Meta:
        ordering = ["name", "-from_day", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(value=""),
                name="setting_has_a_value",
                violation_error_message="A setting has a value.",
            ),
            models.CheckConstraint(
                condition=~Q(source="") & ~Q(why=""),
                name="setting_says_where_from_and_why",
                violation_error_message="A setting says where it comes from and why it is set.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.value} from {self.from_day:%d %B %Y}"


class Production(models.Model):
    """A stretch in which a unit made water, or the whole plant where no tag is named."""

    kept: ClassVar[Kept] = close_once(
        "to_at", "to_by", "to_recorded_at", "withdrawn_at", "withdrawn_by", "withdrawn_because"
    )
    # Two stretches overlap when each begins before the other ends; an open end is later than every time.
    guards: ClassVar[tuple[Guard, ...]] = tuple(
        Guard(
            f"production_apart_{on.lower()}",
            on,
            "EXISTS (SELECT 1 FROM assets_production p WHERE p.id <> NEW.id AND p.site_id = NEW.site_id"
            " AND p.withdrawn_at IS NULL AND NEW.withdrawn_at IS NULL"
            " AND (p.position_id = NEW.position_id OR (p.position_id IS NULL AND NEW.position_id IS NULL))"
            " AND (NEW.to_at IS NULL OR p.from_at < NEW.to_at) AND (p.to_at IS NULL OR p.to_at > NEW.from_at))",
            "It is written as running in that stretch of time already.",
        )
        for on in ("INSERT", "UPDATE")
    )

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="runs", null=True, blank=True)
    from_at = models.DateTimeField()
    from_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    to_at = models.DateTimeField(null=True, blank=True)
    to_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    to_recorded_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    withdrawn_because = models.CharField(max_length=160, null=True, blank=True)  # noqa: DJ001 - NULL until set once

    objects = ProductionQuerySet.as_manager()

    class Meta:
        verbose_name = "running time"
        ordering = ["-from_at"]
        indexes = [models.Index(fields=["site", "position", "-from_at"], name="production_newest_first")]
        constraints = [
            models.UniqueConstraint(
                fields=["position"],
                condition=Q(to_at__isnull=True, withdrawn_at__isnull=True, position__isnull=False),
                name="unit_runs_once_at_a_time",
                violation_error_message="This unit is written as running already.",
            ),
            models.UniqueConstraint(
                fields=["site"],
                condition=Q(to_at__isnull=True, withdrawn_at__isnull=True, position__isnull=True),
                name="plant_runs_once_at_a_time",
                violation_error_message="The plant is written as running already.",
            ),
            models.CheckConstraint(
                condition=Q(to_at__isnull=True) | Q(to_at__gt=F("from_at")),
                name="running_ends_after_it_begins",
                violation_error_message="A unit stops after it was started, not before.",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at__isnull=True, withdrawn_because__isnull=True)
                | (Q(withdrawn_at__isnull=False, withdrawn_because__isnull=False) & ~Q(withdrawn_because="")),
                name="withdrawn_running_says_why",
                violation_error_message="A stretch that is withdrawn says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.position.tag if self.position else 'the plant'} running from {self.from_at:%Y-%m-%d %H:%M}"
