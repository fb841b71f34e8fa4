"""Keep it true: standards, methods, checks."""

from __future__ import annotations

from django.apps import AppConfig


class CalibrationConfig(AppConfig):
    """Keep it true: standards, methods, checks."""

    name = "calibration"
