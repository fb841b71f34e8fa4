"""The history of one record, as sentences a person can read."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db.models import Q

from assets.models import Event
from assets.permissions import Desk
from assets.queries import EventQuerySet

HASH = re.compile(r"\b[0-9a-f]{64}\b")
LATE = dt.timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One act: when it happened, when it was entered if later, what, by whom, the facts in words, its hash."""

    number: int
    happened_at: dt.datetime
    entered_at: dt.datetime | None
    what: str
    by: str
    lines: tuple[str, ...]
    hash: str
    refused: bool


@dataclass(frozen=True, slots=True)
class Log:
    """The history of one record, or a page of it, newest first."""

    label: str
    kind: str
    entries: tuple[LogEntry, ...]


COLUMNS = ("entry", "happened", "entered", "what", "by", "facts", "hash")


def events_of(desk: Desk, kind: str, pk: str) -> EventQuerySet:
    """Return what happened to a record at this site, newest first (`kind` is like assets.position)."""
    about = Q(subject_kind=kind, subject_id=pk)
    # A register taken from a file is one event about the site; it is also where this record came from.
    taken_in = Q(verb="register.taken in", body__contains=f'["{kind}","{pk}",')
    return Event.objects.filter(about | taken_in, chain=desk.site.pk).order_by("-number")


def log_of(events: EventQuerySet, shown: Iterable[Event], kind: str, pk: str) -> Log:
    """Return some events of `events_of` as sentences, under the name that the record had last."""
    named = events.filter(subject_kind=kind, subject_id=pk).first()
    return Log(
        label=named.subject_label if named else _label_of(kind, pk),
        kind=kind.partition(".")[2],
        entries=tuple(_entry(event) for event in shown),
    )


def log_cells(events: Iterable[Event], zone: dt.tzinfo) -> Iterator[tuple[str, ...]]:
    """Yield the cells of a file for events."""
    for entry in map(_entry, events):
        entered = entry.entered_at or entry.happened_at
        yield (
            *(str(entry.number), _iso(entry.happened_at, zone), _iso(entered, zone), entry.what, entry.by),
            *("; ".join(entry.lines), entry.hash),
        )


def _iso(at: dt.datetime, zone: dt.tzinfo) -> str:
    return at.astimezone(zone).isoformat(timespec="seconds")


def _label_of(kind: str, pk: str) -> str:
    row = apps.get_model(kind)._default_manager.filter(pk=pk).first()
    return str(row) if row else pk


def _entry(event: Event) -> LogEntry:
    body = json.loads(event.body)
    facts = body["facts"]
    refused = event.verb == "refused" or event.verb.endswith(".refused")
    asked = str(facts.pop("asked", "")) if event.verb == "refused" else ""
    what = f"Refused: {_words(asked)}" if asked else _words(event.verb).capitalize()
    return LogEntry(
        number=event.number,
        happened_at=event.happened_at,
        entered_at=event.recorded_at if event.recorded_at - event.happened_at > LATE else None,
        what=what,
        by=body["by"]["name"] if body["by"] else "at the command line",
        lines=(*_changes(facts.pop("changes", {})), *_lines(facts)),
        hash=event.hash,
        refused=refused,
    )


def _words(verb: str) -> str:
    return verb.replace(".", " ").replace("_", " ")


def _changes(changes: dict[str, list[str]]) -> tuple[str, ...]:
    return tuple(f"{_words(name)}: was {was or 'empty'}, is {now or 'empty'}" for name, (was, now) in changes.items())


def _lines(facts: dict[str, Any]) -> tuple[str, ...]:
    written = {name: value for name, value in facts.items() if value not in (None, "", [], {})}
    return tuple(
        _said(value) if name == "reasons" else f"{_words(name)}: {_said(value)}" for name, value in written.items()
    )


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(_said(part) for part in value)
    if isinstance(value, dict):
        return ", ".join(f"{_words(name)} {_said(part)}" for name, part in value.items())
    # A whole hash would not fit a phone; its beginning tells it from any other, and the proof compares all of it.
    return "" if value is None else HASH.sub(lambda found: f"{found[0][:12]}…", str(value))
