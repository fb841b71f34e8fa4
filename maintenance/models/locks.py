"""Locks, boxes, lockouts and what hangs where: that something is locked out is computed from these, never stored."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper

from assets.models import Asset, Company, Fitting, Person, Position, Site
from assets.triggers import APPEND_ONLY, CHANGES, Guard, Kept, close_once
from maintenance.models.isolation import IsolationPoint, ProcedureVersion
from maintenance.models.lock_guards import APPLICATION_GUARDS, ENTRY_GUARDS
from maintenance.models.orders import WorkOrder
from maintenance.queries import ApplicationQuerySet, LockoutQuerySet


class Lock(models.Model):
    """One padlock of one owner. Its number is shown; its stamp is on the lock alone and kept hashed."""

    kept: ClassVar[Kept] = CHANGES
    # A lock that hangs somewhere is not lost: it comes off first.
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "lost_while_on",
            "UPDATE",
            "NEW.lost_at IS NOT NULL AND OLD.lost_at IS NULL AND EXISTS"
            " (SELECT 1 FROM maintenance_application a WHERE a.lock_id = NEW.id AND a.removed_at IS NULL)",
            "This lock is recorded as on; it cannot be marked lost.",
        ),
        Guard(
            "handed_on_while_on",
            "UPDATE",
            "NEW.issued_to_id <> OLD.issued_to_id AND EXISTS"
            " (SELECT 1 FROM maintenance_application a WHERE a.lock_id = NEW.id AND a.removed_at IS NULL)",
            "This lock is recorded as on; its owner stays who put it on.",
        ),
    )

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="locks")
    issuer = models.ForeignKey(
        Company, verbose_name="whose lock", on_delete=models.PROTECT, related_name="locks", null=True, blank=True
    )
    number = models.CharField(max_length=16)
    stamp_hash = models.CharField(max_length=128)
    issued_to = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="own_locks")
    registered_at = models.DateTimeField()
    lost_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("number"),
                condition=Q(issuer__isnull=True),
                name="plant_lock_number_once_a_site",
                violation_error_message="The plant has a lock of this number already.",
            ),
            models.UniqueConstraint(
                "issuer",
                Upper("number"),
                condition=Q(issuer__isnull=False),
                name="lock_number_once_an_issuer",
                violation_error_message="This company has a lock of this number registered already.",
            ),
        ]

    def __str__(self) -> str:
        return f"lock {self.number}"


class LockBox(models.Model):
    """A box that holds the keys of the locks on the points; personal locks hang on it."""

    kept: ClassVar[Kept] = CHANGES

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="boxes")
    name = models.CharField(max_length=16)
    plate_code = models.CharField(max_length=8)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                "site",
                Upper("name"),
                name="box_name_once_a_site",
                violation_error_message="This site has a box of this name already.",
            ),
            models.UniqueConstraint(
                "site",
                Upper("plate_code"),
                name="box_plate_code_once_a_site",
                violation_error_message="Another box of this site has this plate code.",
            ),
        ]

    def __str__(self) -> str:
        return f"box {self.name}"


class Lockout(models.Model):
    """One lockout of one position for one job. Its truth is the applications; it has no state column."""

    kept: ClassVar[Kept] = CHANGES
    guards: ClassVar[tuple[Guard, ...]] = (
        Guard(
            "closed_with_a_lock_on",
            "UPDATE",
            "NEW.closed_at IS NOT NULL AND EXISTS"
            " (SELECT 1 FROM maintenance_application a WHERE a.lockout_id = NEW.id AND a.removed_at IS NULL)",
            "A lockout is not closed while one of its locks is on.",
        ),
        Guard(
            "reopened",
            "UPDATE",
            "OLD.closed_at IS NOT NULL AND NEW.closed_at IS DISTINCT FROM OLD.closed_at",
            "A closed lockout stays closed; begin a new one.",
        ),
        Guard(
            "moved",
            "UPDATE",
            "NEW.position_id <> OLD.position_id OR NEW.version_id <> OLD.version_id"
            " OR NEW.box_id IS DISTINCT FROM OLD.box_id",
            "A lockout stays at its position and box, under the procedure revision it began with.",
        ),
    )

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="lockouts")
    number = models.PositiveIntegerField()
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="lockouts")
    version = models.ForeignKey(ProcedureVersion, on_delete=models.PROTECT, related_name="lockouts")
    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="lockouts", null=True, blank=True)
    box = models.ForeignKey(LockBox, on_delete=models.PROTECT, related_name="lockouts", null=True, blank=True)
    why = models.CharField(max_length=200)
    in_charge = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    # The next number of an application, removal, relief, test ...: order is by number, times are evidence.
    next_number = models.PositiveIntegerField(default=1)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    objects = LockoutQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="lockout_number_once_a_site"),
            models.UniqueConstraint(
                fields=["box"],
                condition=Q(closed_at__isnull=True, box__isnull=False),
                name="box_of_one_lockout_at_a_time",
                violation_error_message="This box serves another open lockout.",
            ),
        ]

    def __str__(self) -> str:
        return f"lockout {self.number}"


class LockoutLine(models.Model):
    """A line of the procedure as copied into the lockout at its start, or added later: later edits change nothing."""

    kept: ClassVar[Kept] = APPEND_ONLY

    lockout = models.ForeignKey(Lockout, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveIntegerField()
    energy = models.CharField(max_length=80)
    point = models.ForeignKey(IsolationPoint, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    safe_state = models.CharField(max_length=80, blank=True)
    relief = models.CharField(max_length=200)
    test = models.CharField(max_length=200)
    # Number of the act that added it; 0 for what was copied at the start.
    added_number = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["lockout", "number"], name="line_number_once_a_lockout"),
            models.UniqueConstraint(
                fields=["lockout", "point"],
                condition=Q(point__isnull=False),
                name="point_once_a_lockout",
                violation_error_message="This point belongs to this lockout already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.energy}: {self.point or self.relief}"


class Application(models.Model):
    """One lock on one point or one box: put on by its owner, taken off by its owner, each once."""

    kept: ClassVar[Kept] = close_once(
        "key_in_box_number", "removed_at", "removed_by", "removed_number", "removed_recorded_at"
    )
    guards: ClassVar[tuple[Guard, ...]] = APPLICATION_GUARDS

    lockout = models.ForeignKey(Lockout, on_delete=models.PROTECT, related_name="applications")
    number = models.PositiveIntegerField()
    lock = models.ForeignKey(Lock, on_delete=models.PROTECT, related_name="applications")
    point = models.ForeignKey(
        IsolationPoint, on_delete=models.PROTECT, related_name="applications", null=True, blank=True
    )
    box = models.ForeignKey(LockBox, on_delete=models.PROTECT, related_name="applications", null=True, blank=True)
    applied_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="applications")
    applied_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    key_in_box_number = models.PositiveIntegerField(null=True, blank=True)
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    removed_number = models.PositiveIntegerField(null=True, blank=True)
    removed_recorded_at = models.DateTimeField(null=True, blank=True)

    objects = ApplicationQuerySet.as_manager()

    class Meta:
        verbose_name = "lock record"
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(
                fields=["lock"],
                condition=Q(removed_at__isnull=True),
                name="lock_is_on_in_one_place",
                violation_error_message="This lock is recorded as on elsewhere; one lock hangs in one place.",
            ),
            models.UniqueConstraint(fields=["lockout", "number"], name="application_number_once_a_lockout"),
            models.CheckConstraint(
                condition=Q(point__isnull=False, box__isnull=True) | Q(point__isnull=True, box__isnull=False),
                name="lock_hangs_on_a_point_or_a_box",
                violation_error_message="A lock hangs on one isolation point or on one box.",
            ),
            models.CheckConstraint(
                condition=Q(removed_at__isnull=True, removed_by__isnull=True, removed_number__isnull=True)
                | Q(removed_at__isnull=False, removed_by__isnull=False, removed_number__isnull=False),
                name="removed_lock_says_who_and_when",
                violation_error_message="A lock that came off says by whom and when.",
            ),
            models.CheckConstraint(
                condition=Q(removed_by__isnull=True) | Q(removed_by=F("applied_by")),
                name="lock_comes_off_by_who_put_it_on",
                violation_error_message="A lock is taken off by the person who put it on, and by nobody else.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lock} on {self.point or self.box}"


class EntryKind(models.TextChoices):
    """What a line in the log of a lockout says."""

    TOLD_BEFORE = "told before", "Told before the locks go on"
    SHUT_DOWN = "shut down", "Shut down"
    SELECTOR = "selector found", "Selector as found"
    POINT_SET = "point set", "Point in its safe state"
    RELIEVED = "relieved", "Stored energy let off"
    BOX_CLOSED = "box closed", "Keys in the box, box closed"
    TESTED = "tested", "Tested: no energy found"
    FITS = "fits", "Procedure still fits the fitted asset"
    ANSWERED = "answered", "Answered"
    POINT_ADDED = "point added", "Isolation point added"
    RELEASED = "point released", "Point moved or freed by another job"
    TEST_ASKED = "test run asked", "Test run asked for"
    TEST_BEGUN = "test run begun", "Test run begun"
    TEST_ENDED = "test run ended", "Test run ended"
    IN_CHARGE = "in charge", "Took charge"
    CLOSED = "closed", "Lockout closed"
    TOLD_AFTER = "told after", "Told that the locks are off"
    ACCEPTANCE = "acceptance", "Line of the acceptance list"
    AVAILABLE = "available", "Available"


class LockoutEntry(models.Model):
    """One line in a lockout's log, numbered together with its applications."""

    kept: ClassVar[Kept] = APPEND_ONLY
    guards: ClassVar[tuple[Guard, ...]] = ENTRY_GUARDS

    lockout = models.ForeignKey(Lockout, on_delete=models.PROTECT, related_name="entries")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=16, choices=EntryKind)
    # Which question, line of the acceptance list, or person told the entry is about.
    topic = models.CharField(max_length=120, blank=True)
    answer = models.CharField(max_length=3, blank=True)
    text = models.CharField(max_length=300, blank=True)
    line = models.ForeignKey(LockoutLine, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    tester = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["lockout", "number"], name="entry_number_once_a_lockout"),
            models.CheckConstraint(
                condition=Q(kind__in=EntryKind.values),
                name="entry_kind_is_known",
                violation_error_message="This is no kind of entry in a lockout's log.",
            ),
            models.UniqueConstraint(
                fields=["lockout"],
                condition=Q(kind="available"),
                name="lockout_ends_in_available_once",
                violation_error_message="This was accepted already.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="tested") | (Q(line__isnull=False, tester__isnull=False) & ~Q(text="")),
                name="test_names_line_tester_and_reading",
                violation_error_message="A test names what was tested, the tester and its reading.",
            ),
            models.CheckConstraint(
                condition=Q(answer__in=["", "yes", "no"]),
                name="entry_answer_is_yes_or_no",
                violation_error_message="An answer is yes or no.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.lockout}, {self.get_kind_display()}"
