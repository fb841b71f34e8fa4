"""Keep it running: routines, due list, work orders, lockout."""

from __future__ import annotations

from django.apps import AppConfig


class MaintenanceConfig(AppConfig):
    """Keep it running: routines, due list, work orders, lockout."""

    name = "maintenance"
