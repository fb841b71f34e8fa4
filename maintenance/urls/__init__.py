"""Pages of routines, work orders and locks."""

from __future__ import annotations

from maintenance.urls import locks, messages, upkeep

app_name = "maintenance"
urlpatterns = [*upkeep.urlpatterns, *messages.urlpatterns, *locks.urlpatterns]
