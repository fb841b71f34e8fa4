"""Pages of routines, work orders and locks."""

from __future__ import annotations

from maintenance.urls import locks, messages, orders, upkeep, walks

app_name = "maintenance"
urlpatterns = [*upkeep.urlpatterns, *orders.urlpatterns, *messages.urlpatterns, *locks.urlpatterns, *walks.urlpatterns]
