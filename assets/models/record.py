"""What proves the record: the chained history, signatures, submissions and what the night found."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q

from assets.models.people import Person
from assets.models.plant import Asset, Site
from assets.queries import EventQuerySet
from assets.triggers import APPEND_ONLY, Kept


class Event(models.Model):
    """One act, chained to the act before it at the same site (chain 0: acts of no site). `body` is canonical JSON."""

    kept: ClassVar[Kept] = APPEND_ONLY
    digested: ClassVar[bool] = False

    chain = models.PositiveBigIntegerField()
    number = models.PositiveBigIntegerField()
    previous = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)
    body = models.TextField()
    verb = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=60)
    subject_id = models.CharField(max_length=40)
    subject_label = models.CharField(max_length=160)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["chain", "number"]
        constraints = [
            models.UniqueConstraint(fields=["chain", "number"], name="event_number_once_a_chain"),
            models.UniqueConstraint(fields=["chain", "previous"], name="event_follows_one_event"),
        ]
        indexes = [
            models.Index(fields=["subject_kind", "subject_id"], name="event_by_subject"),
            models.Index(fields=["by", "verb", "recorded_at"], name="event_by_person"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.verb} {self.subject_label}"


class Signature(models.Model):
    """A person's signature, its meaning, and the hash of what was signed."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="signatures")
    meaning = models.CharField(max_length=160)
    digest = models.CharField(max_length=64)
    proof = models.CharField(max_length=10)
    signed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(proof__in=["password", "PIN", "code", "demo"]),
                name="signature_proof_is_known",
                violation_error_message="A person signs with a password, a PIN or the code of a personal link.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.meaning}"


class FitForUse(models.Model):
    """Whether an asset may be relied on, until when, and why; the newest row counts, no row means no record.

    `only_for` narrows what it is fit for: a bench meter fit to calibrate with proves no absence of energy.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    CALIBRATION: ClassVar[str] = "calibration"

    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="fitness")
    fit = models.BooleanField()
    until = models.DateField(null=True, blank=True)
    only_for = models.CharField(max_length=20, blank=True)
    why = models.CharField(max_length=200)
    source_path = models.CharField(max_length=120, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["-recorded_at", "-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(fit=False) | Q(until__isnull=False),
                name="fit_asset_has_an_end",
                violation_error_message="An asset is fit for use until a day.",
            ),
            models.CheckConstraint(
                condition=Q(only_for__in=["", "calibration"]),
                name="fit_for_everything_or_calibration",
                violation_error_message="An asset is fit for everything it does, or for calibration only.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.asset}: {'fit' if self.fit else 'not fit'}"


class Submission(models.Model):
    """One form sent once: a repeat of its key gets the first answer."""

    kept: ClassVar[Kept] = APPEND_ONLY
    digested: ClassVar[bool] = False

    key = models.CharField(max_length=40, unique=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    act = models.CharField(max_length=60)
    answer = models.CharField(max_length=200)
    recorded_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.act} {self.key}"


class NightReport(models.Model):
    """What one nightly comparison found; it repairs nothing."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    kind = models.CharField(max_length=20)
    site_day = models.DateField()
    differences = models.PositiveIntegerField()
    text = models.TextField(blank=True)
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-recorded_at"]
        constraints = [
            models.UniqueConstraint(fields=["site", "kind", "site_day"], name="one_night_report_a_day_and_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.site_day}: {self.differences} differences"
