"""Instruments that carry a value: which family they serve as standard for, and the certificates they rest on."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.urls import reverse

from assets.models import Asset, Person
from assets.triggers import APPEND_ONLY, Kept, close_once
from calibration.compute.standards import INSTRUMENTS, KINDS


class StandardUse(models.Model):
    """That an instrument serves as standard of a family, from when to when. Its key for a method is 'asset-<id>'."""

    kept: ClassVar[Kept] = close_once("ended_at", "ended_by", "ended_because")

    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="standard_uses")
    family = models.CharField(max_length=24)
    unit = models.CharField(max_length=12)
    # A measured tank is worth what somebody measured: who, and how.
    measured_by = models.CharField(max_length=120, blank=True)
    measured_how = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    ended_because = models.CharField(max_length=200, null=True, blank=True)  # noqa: DJ001 - set once, from NULL

    class Meta:
        ordering = ["family", "asset__kind", "asset__serial"]
        constraints = [
            models.UniqueConstraint(
                fields=["asset"],
                condition=Q(ended_at__isnull=True),
                name="instrument_is_standard_of_one_family",
                violation_error_message="This instrument serves as a standard already; end that first.",
            ),
            models.CheckConstraint(
                condition=Q(family__in=INSTRUMENTS),
                name="standard_use_has_a_known_family",
                violation_error_message="This family of standards is not served by an instrument.",
            ),
            models.CheckConstraint(
                condition=~Q(family="tank") | (~Q(measured_by="") & ~Q(measured_how="")),
                name="measured_tank_says_by_whom_and_how",
                violation_error_message="A measured tank says who measured it and how.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.asset} as {self.family_words}"

    def get_absolute_url(self) -> str:
        """The page of the instrument as a standard."""
        return reverse("calibration:instrument", args=[self.asset_id])

    @property
    def family_words(self) -> str:
        """The family as a page names it."""
        return KINDS[self.family]


class Certificate(models.Model):
    """A certificate of an instrument, looked at and accepted or refused by a person. The file is kept elsewhere.

    `value` is the certified value of what carries one (a mass, a tank); `asked` is canonical JSON: each question of
    the intake with its answer.
    """

    kept: ClassVar[Kept] = APPEND_ONLY

    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=60)
    issuer = models.CharField(max_length=120)
    accreditation = models.CharField(max_length=120, blank=True)
    in_scope = models.BooleanField(default=False)
    method = models.CharField(max_length=200, blank=True)
    as_found_given = models.BooleanField(default=False)
    as_left_given = models.BooleanField(default=False)
    value = models.CharField(max_length=24, blank=True)
    uncertainty = models.CharField(max_length=24, blank=True)
    coverage = models.CharField(max_length=6, blank=True)
    unit = models.CharField(max_length=12)
    calibrated_on = models.DateField()
    until = models.DateField()
    file_hash = models.CharField(max_length=64, blank=True)
    accepted = models.BooleanField()
    because = models.CharField(max_length=200, blank=True)
    asked = models.TextField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-recorded_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["asset", "issuer", "number"],
                name="certificate_taken_in_once",
                violation_error_message="This certificate of this instrument was taken in already.",
            ),
            models.CheckConstraint(
                condition=Q(accepted=True) | ~Q(because=""),
                name="refused_certificate_says_why",
                violation_error_message="A certificate that is refused says why.",
            ),
            models.CheckConstraint(
                condition=(Q(uncertainty="") & Q(coverage="")) | (~Q(uncertainty="") & ~Q(coverage="")),
                name="uncertainty_of_a_certificate_has_its_k",
                violation_error_message="An expanded uncertainty needs its coverage factor k, usually 2.",
            ),
            models.CheckConstraint(
                condition=Q(in_scope=False) | ~Q(accreditation=""),
                name="in_scope_names_the_accreditation",
                violation_error_message="A scope belongs to an accreditation; write its number.",
            ),
        ]

    def __str__(self) -> str:
        return f"certificate {self.number} of {self.issuer}"


class Correction(models.Model):
    """One row of a certificate: at this shown value, this is added to it."""

    kept: ClassVar[Kept] = APPEND_ONLY

    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="corrections")
    shown = models.CharField(max_length=24)
    correction = models.CharField(max_length=24)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["certificate", "shown"],
                name="correction_once_a_shown_value",
                violation_error_message="This shown value has a correction already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.shown}: {self.correction}"
