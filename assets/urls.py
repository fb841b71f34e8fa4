"""Pages of the plant, its people and signing in."""

from __future__ import annotations

from django.urls import URLPattern

app_name = "assets"
urlpatterns: list[URLPattern] = []
