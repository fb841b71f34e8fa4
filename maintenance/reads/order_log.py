"""The log of a work order or routine, told from the history in sentences, newest first."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Model

from assets.models import Event

LINES = 100


@dataclass(frozen=True, slots=True)
class LogLine:
    """One thing that happened; `entered_at` when it was written down clearly later."""

    at: dt.datetime
    who: str
    sentence: str
    entered_at: dt.datetime | None
    refused: bool


Facts = Mapping[str, Any]
LATE = dt.timedelta(minutes=15)


def _raised(facts: Facts) -> str:
    origin = f", {facts['origin']}" if facts.get("origin") else ""
    doubt = ", not yet confirmed" if facts.get("confirmed") == "not yet confirmed" else ""
    return f"raised it{origin}{doubt}: {facts['reason']}"


def _day(iso: str) -> str:
    """Day of the history in the words of the screen: 25 November 2026."""
    day = dt.date.fromisoformat(iso[:10])
    return f"{day.day} {day:%B %Y}"


def _planned(facts: Facts) -> str:
    by = f", wanted by {_day(facts['wanted_by'])}" if facts.get("wanted_by") else ""
    return f"planned it: {facts['in_charge']} in charge{by}"


def _performed(facts: Facts) -> str:
    if not facts["counts"]:
        return f"recorded work that does not count: {facts['because']}"
    return f"recorded it as done: {facts['source']}"


SENTENCES: dict[str, Callable[[Facts], str]] = {
    "order.raised": _raised,
    "order.asked_again": lambda f: f"asked for it again: {f.get('reason', '')}",
    "order.confirmed": lambda f: f"confirmed the failure: {f['because']}",
    "order.doubted": lambda f: f"found no failure after the work had begun: {f['because']}",
    "order.planned": _planned,
    "order.started": lambda _: "started the work",
    "order.waiting": lambda f: f"set it to waiting: {f['for']}",
    "order.resumed": lambda f: f"went on with it; it had waited for {f['waited_for']}",
    "order.done": lambda f: f"recorded it as done: {f['found']}",
    "order.accepted": lambda _: "accepted it",
    "order.sent_back": lambda f: f"sent it back: {f['because']}",
    "order.withdrawn": lambda f: f"withdrew it: {f['because']}",
    "order.step_added": lambda f: f"added step {f['number']}: {f['text']}",
    "order.steps_added": lambda f: f"added {len(f['steps'])} steps",
    "order.step_done": lambda f: f"did step {f['number']}, {f['text']}{': ' + f['note'] if f['note'] else ''}",
    "routine.registered": lambda f: f"registered it, {f['interval']}; source: {f['source']}",
    "routine.term_changed": lambda f: f"changed it from {_day(f['from'])} to {f['interval']}: {f['why']}",
    "routine.retired": lambda f: f"retired it: {f['because']}",
    "performance.recorded": _performed,
    "performance.corrected": lambda f: f"corrected a record; {_performed(f)}",
    "refused": lambda f: f"was refused: {' '.join(f['reasons'])}",
}


def log_of(subject: Model) -> tuple[LogLine, ...]:
    """What happened to one record, newest first."""
    return tuple(_line(event) for event in Event.objects.about(subject).select_related("by")[:LINES])


def _line(event: Event) -> LogLine:
    facts = json.loads(event.body)["facts"]
    told = SENTENCES.get(event.verb)
    late = event.recorded_at - event.happened_at > LATE
    return LogLine(
        at=event.happened_at,
        who=event.by.name if event.by else "The tool",
        sentence=told(facts) if told else event.verb.replace(".", " ").replace("_", " "),
        entered_at=event.recorded_at if late else None,
        refused=event.verb == "refused",
    )
