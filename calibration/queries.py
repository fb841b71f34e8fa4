"""Named sets of rows of standards and checks; models attach them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from assets.models import Position, Site
    from calibration.models import Check, Lot


class LotQuerySet(models.QuerySet["Lot"]):
    """Lots of buffer."""

    def at(self, site: Site) -> LotQuerySet:
        """Lots of one site."""
        return self.filter(site=site)


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
