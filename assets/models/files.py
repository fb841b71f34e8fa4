"""Files that people hand in: kept byte for byte, known by their hash."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.urls import reverse

from assets.models.plant import Site
from assets.triggers import APPEND_ONLY, Kept


class FileKind(models.TextChoices):
    """What a file is, as its own first bytes say."""

    JPEG = "image/jpeg", "photograph"
    PNG = "image/png", "picture"
    WEBP = "image/webp", "picture"
    PDF = "application/pdf", "PDF"
    TEXT = "text/plain", "text"
    XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "spreadsheet"


class KeptFile(models.Model):
    """One file as it was sent; its bytes lie in the data folder under their hash, this row says whose and when."""

    kept: ClassVar[Kept] = APPEND_ONLY

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    name = models.CharField(max_length=120)
    size = models.PositiveIntegerField()
    kind = models.CharField(max_length=80, choices=FileKind)
    words = models.CharField(max_length=160, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("assets.Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=FileKind.values),
                name="file_kind_is_known",
                violation_error_message="A file is a photograph, a picture, a PDF, a text or a spreadsheet.",
            ),
            models.CheckConstraint(
                condition=models.Q(size__gt=0),
                name="file_is_not_empty",
                violation_error_message="This file is empty.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Where the file can be fetched as it was sent."""
        return reverse("assets:file", args=[self.pk])

    @property
    def is_picture(self) -> bool:
        """Whether it can be shown on a page."""
        return self.kind.startswith("image/")
