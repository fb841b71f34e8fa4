"""Pages of checks and standards."""

from __future__ import annotations

from django.urls import URLPattern

app_name = "calibration"
urlpatterns: list[URLPattern] = []
