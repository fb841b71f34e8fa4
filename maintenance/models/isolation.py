"""Where energy can be cut off, and the written procedure that says how, in versions."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper

from assets.models import Asset, Person, Position, Site
from assets.triggers import APPEND_ONLY, CHANGES, Guard, Kept, close_once


class PointKind(models.TextChoices):
    """What an isolation point is. Push buttons, selectors and other control devices isolate nothing: no choice."""

    BREAKER = "breaker", "breaker"
    DISCONNECT = "disconnect", "disconnect switch"
    VALVE = "valve", "valve"
    BLANK = "blank", "blank or slip plate"
    BLOCK = "block", "mechanical block"


class IsolationPoint(models.Model):
    """One place where energy to one or several positions is cut off and a lock can hang."""

    kept: ClassVar[Kept] = CHANGES
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "retired_with_a_lock_on",
            "UPDATE",
            "NEW.retired_at IS NOT NULL AND EXISTS"
            " (SELECT 1 FROM maintenance_application a WHERE a.point_id = NEW.id AND a.removed_at IS NULL)",
            "A lock is on this isolation point; it cannot be retired.",
        ),
    )

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="points")
    name = models.CharField(max_length=24)
    what = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=PointKind)
    energy = models.CharField("energy it cuts off", max_length=80)
    plate_code = models.CharField(max_length=8)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("name"),
                condition=Q(retired_at__isnull=True),
                name="point_name_once_a_site",
                violation_error_message="This site has an isolation point of this name already.",
            ),
            models.UniqueConstraint(
                "site",
                Upper("plate_code"),
                name="point_plate_code_once_a_site",
                violation_error_message="Another point of this site has this plate code; it may be the same point.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=PointKind.values),
                name="point_is_an_isolating_device",
                violation_error_message="An isolation point is a breaker, disconnect switch, valve, blank or block; "
                "control devices isolate nothing.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PointOfPosition(models.Model):
    """An isolation point serves a position, from when to when; one point may serve several."""

    kept: ClassVar[Kept] = close_once("to_at", "to_by")
    # Else the position would look free while somebody relies on that lock.
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "parted_with_a_lock_on",
            "UPDATE",
            "NEW.to_at IS NOT NULL AND OLD.to_at IS NULL AND EXISTS"
            " (SELECT 1 FROM maintenance_application a WHERE a.point_id = NEW.point_id AND a.removed_at IS NULL)",
            "A lock is on this isolation point; it goes on serving the tag until the lock is off.",
        ),
    )

    point = models.ForeignKey(IsolationPoint, on_delete=models.PROTECT, related_name="serves")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="isolation")
    from_at = models.DateTimeField()
    from_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    to_at = models.DateTimeField(null=True, blank=True)
    to_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["point", "position"],
                condition=Q(to_at__isnull=True),
                name="point_serves_a_position_once",
                violation_error_message="This point serves this tag already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.point} for {self.position}"


class EnergyProcedure(models.Model):
    """The written energy procedure of a position."""

    kept: ClassVar[Kept] = APPEND_ONLY

    position = models.OneToOneField(Position, on_delete=models.PROTECT, related_name="procedure")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"energy procedure of {self.position}"


class ProcedureVersion(models.Model):
    """One revision: what it is for, how to shut down, written for the asset that was fitted then."""

    kept: ClassVar[Kept] = APPEND_ONLY

    procedure = models.ForeignKey(EnergyProcedure, on_delete=models.PROTECT, related_name="versions")
    revision = models.PositiveIntegerField()
    purpose = models.TextField()
    shutdown = models.TextField("how it is shut down")
    restore = models.TextField("how it is given back")
    # One question a line, each answered before a lock comes off for good; tools and people are asked always.
    closing = models.TextField("questions before the locks come off", blank=True)
    # One line each, written down when operations take the machine back.
    acceptance = models.TextField("what is written down at acceptance", blank=True)
    written_for = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-revision"]
        constraints = [
            models.UniqueConstraint(fields=["procedure", "revision"], name="revision_once_a_procedure"),
        ]

    def __str__(self) -> str:
        return f"{self.procedure}, revision {self.revision}"


class ProcedureLine(models.Model):
    """One source of energy: a point with its safe state, or stored energy with its relief, and the test of each.

    A revision may be written with gaps; it is not approved while one is left.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    version = models.ForeignKey(ProcedureVersion, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveIntegerField()
    energy = models.CharField(max_length=80)
    point = models.ForeignKey(IsolationPoint, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    safe_state = models.CharField(max_length=80, blank=True)
    relief = models.CharField("how stored energy is let off, or 'none, because'", max_length=200, blank=True)
    test = models.CharField("how its absence is tested", max_length=200, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["version", "number"], name="line_number_once_a_version"),
            models.UniqueConstraint(
                fields=["version", "point"],
                condition=Q(point__isnull=False),
                name="point_once_a_version",
                violation_error_message="This point stands in the procedure already; one line a point.",
            ),
            models.CheckConstraint(
                condition=Q(point__isnull=True) | ~Q(safe_state=""),
                name="point_line_names_its_safe_state",
                violation_error_message="A line with an isolation point names the state that is safe.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.energy}: {self.point or self.relief}"


class ProcedureDecision(models.Model):
    """A version approved by somebody other than its author, or withdrawn as unsafe."""

    kept: ClassVar[Kept] = APPEND_ONLY
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "names_another_author",
            "INSERT",
            "NEW.author_id <> (SELECT v.written_by_id FROM maintenance_procedureversion v WHERE v.id = NEW.version_id)",
            "The author of a procedure is who wrote it.",
        ),
        Guard(
            "approved_with_gaps",
            "INSERT",
            "NEW.kind = 'approved' AND (NOT EXISTS (SELECT 1 FROM maintenance_procedureline n"
            " WHERE n.version_id = NEW.version_id AND n.point_id IS NOT NULL) OR EXISTS"
            " (SELECT 1 FROM maintenance_procedureline n WHERE n.version_id = NEW.version_id"
            " AND (n.test = '' OR n.relief = '')))",
            "A procedure is approved when it has a point and every source of energy has its relief and its test.",
        ),
    )

    version = models.ForeignKey(ProcedureVersion, on_delete=models.PROTECT, related_name="decisions")
    kind = models.CharField(max_length=10, choices=[("approved", "approved"), ("withdrawn", "withdrawn")])
    author = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["version", "kind"],
                name="version_decided_once_each_way",
                violation_error_message="This revision has been decided already.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="approved") | ~Q(author=F("by")),
                name="author_does_not_approve",
                violation_error_message="The author of a procedure does not approve it; another person does.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="withdrawn") | ~Q(why=""),
                name="withdrawn_version_says_why",
                violation_error_message="A withdrawn revision says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.version} {self.kind}"
