"""What the task worker of a running site does at night, for the last week of the story."""

from __future__ import annotations

from django.utils.module_loading import import_string

from maintenance.actions.nightly import at_night
from spanwell import schedules
from spanwell.demo.plant import Plant

NIGHTS = 6
TIME = "02:40"


def keep_nights(plant: Plant) -> None:
    """Let each night compare the due items with the facts; in the last one the worker's whole table is run."""
    nights = [days_back for days_back in range(NIGHTS) if plant.days.at(days_back, TIME) < plant.days.now]
    for days_back in nights:
        what = _whole_table if days_back == nights[0] else _due_items
        plant.script.add(plant.days.at(days_back, TIME), what, plant)


def _due_items(plant: Plant) -> None:
    at_night(plant.site)


def _whole_table(_plant: Plant) -> None:
    for task in schedules.PERIODIC:
        import_string(task.path)()
