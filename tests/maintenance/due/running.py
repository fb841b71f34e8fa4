"""What the stories of due items that move share: days and moments of one spring, readings, the open item."""

from __future__ import annotations

import datetime as dt

from assets.actions import ReadingFacts, record_reading
from assets.models import Asset, Person, Position, Reading, Site
from maintenance.actions.routines import Interval
from maintenance.models import Occurrence, Plan
from maintenance.reads.due_words import state_of


def on(month: int, day: int) -> dt.date:
    return dt.date(2026, month, day)


def at(site: Site, month: int, day: int, hour: int = 12) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, tzinfo=site.zone)


def read(of: Position | Asset, text: str, by: Person, *, what: str = "Run hours", unit: str = "h", **other) -> Reading:  # type: ignore[no-untyped-def]
    return record_reading(of=of, facts=ReadingFacts(what, text, unit, "display", **other), by=by)


def by_hours(**other: object) -> Interval:
    facts: dict[str, object] = {"use_every": "500", "use_early": "50", "use_late": "20", **other}
    return Interval(mode="usage", source="maker", reads="Run hours", reads_unit="h", **facts)  # type: ignore[arg-type]


def open_item(plan: Plan) -> Occurrence:
    """The earliest open due item of a routine that is not about reading its meter."""
    return Occurrence.objects.open().filter(plan=plan).exclude(why="read the meter").order_by("due", "id")[0]


def word(item: Occurrence, day: dt.date) -> str:
    item.refresh_from_db()
    return state_of(item, day).value
