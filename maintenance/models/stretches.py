"""What bears on a routine from a day on: pauses, work that counts for another, what must be so first, deferrals."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from assets.models import Person, Position, Site
from assets.triggers import Kept, close_once
from maintenance.models.routines import Plan


class Pause(models.Model):
    """Days on which nothing is owed: out of season, out of service. `to_day` is the day of return."""

    kept: ClassVar[Kept] = close_once("to_day", "to_recorded_at", "to_recorded_by")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="pauses", null=True, blank=True)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="pauses", null=True, blank=True)
    from_day = models.DateField()
    because = models.CharField(max_length=160)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    to_day = models.DateField(null=True, blank=True)
    to_recorded_at = models.DateTimeField(null=True, blank=True)
    to_recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["-from_day", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(plan__isnull=False, position__isnull=True) | Q(plan__isnull=True, position__isnull=False),
                name="pause_of_a_routine_or_a_tag",
                violation_error_message="A pause is that of one routine, or of all routines of one tag.",
            ),
            models.CheckConstraint(
                condition=~Q(because=""),
                name="pause_says_why",
                violation_error_message="A pause says why: out of season, drained, out of service.",
            ),
            models.CheckConstraint(
                condition=Q(to_day__isnull=True) | Q(to_day__gte=F("from_day")),
                name="pause_ends_after_it_begins",
                violation_error_message="A pause ends on its first day or later.",
            ),
            models.UniqueConstraint(
                fields=["plan"],
                condition=Q(to_day__isnull=True, plan__isnull=False),
                name="routine_pauses_once_at_a_time",
                violation_error_message="This routine pauses already.",
            ),
            models.UniqueConstraint(
                fields=["position"],
                condition=Q(to_day__isnull=True, position__isnull=False),
                name="tag_pauses_once_at_a_time",
                violation_error_message="The routines of this tag pause already.",
            ),
        ]

    def __str__(self) -> str:
        return f"pause from {self.from_day}, {self.because}"


class AlsoFulfils(models.Model):
    """The work of one routine counts for another as well, because somebody said so, from a day on."""

    kept: ClassVar[Kept] = close_once("to_day", "to_recorded_at", "to_recorded_by")

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="fulfils_too")
    fulfils = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="fulfilled_by")
    from_day = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    to_day = models.DateField(null=True, blank=True)
    to_recorded_at = models.DateTimeField(null=True, blank=True)
    to_recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "fulfils"],
                condition=Q(to_day__isnull=True),
                name="also_fulfils_once",
                violation_error_message="The work of this routine counts there already.",
            ),
            models.CheckConstraint(
                condition=~Q(plan=F("fulfils")),
                name="fulfils_another_than_itself",
                violation_error_message="A routine fulfils itself anyway; choose another one.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan.title} also fulfils {self.fulfils.title}"


class NeedKind(models.TextChoices):
    """What must be so before the work of a routine can start."""

    LOCKOUT = "lockout", "A lockout of the tag, tested"
    READING = "reading", "A reading inside its limits"
    ROUTINE = "routine", "Another routine done since"


class Prerequisite(models.Model):
    """Something that must be so before a routine's work can start; it stops nothing, it says why it cannot start."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by")

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="prerequisites")
    kind = models.CharField(max_length=8, choices=NeedKind)
    words = models.CharField(max_length=160)
    routine = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    reads = models.CharField(max_length=60, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    low = models.CharField(max_length=24, blank=True)
    high = models.CharField(max_length=24, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="lockout", routine__isnull=True, reads="")
                | Q(kind="routine", routine__isnull=False, reads="")
                | (Q(kind="reading", routine__isnull=True, position__isnull=False) & ~Q(reads="") & ~Q(unit="")),
                name="prerequisite_says_what_it_needs",
                violation_error_message="Say what must be so first: a lockout, a reading and its limits, or a routine.",
            ),
            models.CheckConstraint(
                condition=~Q(kind="reading") | ~Q(low="") | ~Q(high=""),
                name="needed_reading_has_a_limit",
                violation_error_message="A reading that must be right has a lowest or a highest good value.",
            ),
            models.CheckConstraint(
                condition=~Q(words=""),
                name="prerequisite_says_why",
                violation_error_message="Write in words what must be so first.",
            ),
        ]

    def __str__(self) -> str:
        return self.words


class Deferral(models.Model):
    """A turn asked to be done later, and what another person decided."""

    kept: ClassVar[Kept] = close_once("decided_at", "decided_on", "decided_by", "approved", "refused_because")

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="deferrals")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="deferrals")
    turn = models.CharField(max_length=80)
    due = models.DateField()
    to_day = models.DateField()
    because = models.CharField(max_length=200)
    risk = models.CharField("what it risks, and what is done about it", max_length=300)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_on = models.DateField(null=True, blank=True)
    decided_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    approved = models.BooleanField(null=True, blank=True)
    refused_because = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - NULL until set once

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "turn"],
                condition=Q(decided_at__isnull=True),
                name="one_deferral_waits_a_turn",
                violation_error_message="To put this off was asked for already and waits to be decided.",
            ),
            models.CheckConstraint(
                condition=~Q(because="") & ~Q(risk=""),
                name="deferral_says_why_and_what_it_risks",
                violation_error_message="Write why it is put off, and what that risks.",
            ),
            models.CheckConstraint(
                condition=Q(to_day__gt=F("due")),
                name="deferral_is_to_a_later_day",
                violation_error_message="It is put off to a day after it is due.",
            ),
            models.CheckConstraint(
                condition=Q(decided_by__isnull=True) | ~Q(decided_by=F("asked_by")),
                name="nobody_approves_their_own_deferral",
                violation_error_message="Nobody approves what they asked for themselves; another person does.",
            ),
            models.CheckConstraint(
                condition=Q(decided_at__isnull=True, approved__isnull=True, decided_by__isnull=True)
                | Q(
                    decided_at__isnull=False, approved__isnull=False, decided_by__isnull=False, decided_on__isnull=False
                ),
                name="decided_deferral_says_by_whom",
                violation_error_message="A decision names who decided and on which day.",
            ),
            models.CheckConstraint(
                condition=~Q(approved=False) | (Q(refused_because__isnull=False) & ~Q(refused_because="")),
                name="refused_deferral_says_why",
                violation_error_message="A refusal says why.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plan.title} put off to {self.to_day}"
