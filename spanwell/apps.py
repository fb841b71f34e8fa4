"""The composition root as a Django app: its system checks, and what third parties must not offer."""

from __future__ import annotations

from django.apps import AppConfig


class SpanwellConfig(AppConfig):
    """Registers the checks when the site starts."""

    name = "spanwell"
    verbose_name = "Spanwell"

    def ready(self) -> None:
        """Register the system checks by importing them."""
        from spanwell import checks  # noqa: F401
