"""Due items: the turns of routines as last computed from their facts."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from assets.models import Site
from assets.triggers import SCRATCH, Kept
from maintenance.models.routines import Performance, Plan
from maintenance.queries import OccurrenceQuerySet


class Ended(models.TextChoices):
    """How a due item ended, or that it has not."""

    OPEN = "open", "open"
    DONE = "done", "done"
    MISSED = "missed", "missed"
    WITHDRAWN = "withdrawn", "withdrawn"


SEEN = 400  # letters of what was seen and what it was worked out from
SAID = 60  # letters of what would be good


class Occurrence(models.Model):
    """One turn of a routine as last computed. Written only by one function, compared every night with the facts.

    `raw` is the turn's own due day; `due` and `latest` are moved by blocks that are over. `blocked_from` and
    `missed_from` are the first days on which the item says blocked or missed; `because` names what stops it, or why it
    was withdrawn.
    """

    kept: ClassVar[Kept] = SCRATCH

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="occurrences")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    turn = models.CharField(max_length=80)
    raw = models.DateField()
    due = models.DateField()
    earliest = models.DateField()
    latest = models.DateField()
    blocked_from = models.DateField(null=True, blank=True)
    missed_from = models.DateField(null=True, blank=True)
    deferred_until = models.DateField(null=True, blank=True)
    # For a turn by use `earliest`, `due`, `latest` are the first of its days by date and by its meter, and this is the
    # day that is due by date alone; empty where nothing is counted by use.
    day_due = models.DateField(null=True, blank=True)
    # By use the total at which it is due, and the newest one; on a condition what would be good, and what was seen.
    use_next = models.CharField(max_length=SAID, blank=True)
    use_now = models.CharField(max_length=SEEN, blank=True)
    why = models.CharField(max_length=80, blank=True)
    because = models.CharField(max_length=200, blank=True)
    ended = models.CharField(max_length=10, choices=Ended, default=Ended.OPEN)
    ended_on = models.DateField(null=True, blank=True)
    performance = models.ForeignKey(Performance, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    objects = OccurrenceQuerySet.as_manager()

    class Meta:
        verbose_name = "due item"
        constraints = [
            models.UniqueConstraint(fields=["plan", "turn"], name="turn_once_a_plan"),
            models.CheckConstraint(condition=Q(ended__in=Ended.values), name="occurrence_end_is_known"),
            models.CheckConstraint(
                condition=Q(ended="open", ended_on__isnull=True) | (~Q(ended="open") & Q(ended_on__isnull=False)),
                name="ended_occurrence_has_its_day",
            ),
            models.CheckConstraint(
                condition=Q(earliest__lte=F("due"), due__lte=F("latest"))
                & (Q(day_due__isnull=False) | Q(earliest__lte=F("raw"), raw__lte=F("due"))),
                name="occurrence_days_are_in_order",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "latest", "due"], condition=Q(ended="open"), name="open_by_latest"),
            models.Index(fields=["site", "due", "id"], condition=Q(ended="open"), name="open_by_due"),
            models.Index(fields=["site", "earliest", "id"], condition=Q(ended="open"), name="open_by_earliest"),
            models.Index(fields=["site", "blocked_from"], condition=Q(ended="open"), name="open_by_block"),
            models.Index(fields=["site", "missed_from"], condition=Q(ended="open"), name="open_by_miss"),
            models.Index(fields=["site", "deferred_until"], condition=Q(ended="open"), name="open_by_deferral"),
            models.Index(
                fields=["site", "day_due"], condition=Q(ended="open", day_due__isnull=False), name="open_by_use"
            ),
            models.Index(fields=["site", "ended", "ended_on"], name="ended_by_day"),
        ]

    def __str__(self) -> str:
        return f"{self.plan.title}, due {self.due}"

    def get_absolute_url(self) -> str:
        """Where the work on it begins, whatever kind of work it is."""
        return reverse("do", args=[self.pk])
