"""Named sets of rows of standards and checks; models attach them."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from django.db import models

from calibration.compute.standards import BUFFER

if TYPE_CHECKING:
    from assets.models import Position, Site
    from calibration.models import Check, Lot, StandardKind


class KindQuerySet(models.QuerySet["StandardKind"]):
    """Kinds of standards that come in lots."""

    def at(self, site: Site) -> KindQuerySet:
        """Kinds a site may register lots of: those that come with the tool, and its own."""
        return self.filter(models.Q(site=None) | models.Q(site=site))


class LotQuerySet(models.QuerySet["Lot"]):
    """Lots of every kind."""

    def at(self, site: Site) -> LotQuerySet:
        """Lots of one site."""
        return self.filter(site=site)

    def of_families(self, families: Collection[str]) -> LotQuerySet:
        """Lots of some families; a buffer's family is kept as empty text."""
        return self.filter(kind__family__in=["" if family == BUFFER else family for family in families])


class CheckQuerySet(models.QuerySet["Check"]):
    """Signed checks."""

    def at(self, site: Site) -> CheckQuerySet:
        """Checks of one site."""
        return self.filter(site=site)

    def of(self, position: Position) -> CheckQuerySet:
        """Checks of one position."""
        return self.filter(position=position)

    def standing(self) -> CheckQuerySet:
        """Checks that no correction replaces."""
        return self.filter(replaced_by__isnull=True)
