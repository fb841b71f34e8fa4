"""Proof of the record: every chain, every event's columns, every kept row against the digest its last event carries.

It finds what was altered, removed, inserted or swapped with the database's own tools. A chain that was cut at its end,
or rewritten with new hashes, is still a chain; it is found by the heads (number and hash of the last event) that were
written outside the database before. Whoever holds the database and every copy of the heads can rewrite both.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models import Max

from assets import filing
from assets.compute.canonical import canonical, chained, plain
from assets.history import START_OF_CHAIN, row_digest
from assets.models import Event, KeptFile, Site
from assets.triggers import kept_models

# A row, as events name it: its model's label and its key; and what the last event said of it: digest, event in words.
Key = tuple[str, str]
Latest = dict[Key, tuple[str, str]]
# Events that may still have been in an open transaction when the walk passed them.
SLACK = 200
HEAD = re.compile(r"(\d+) (\d+) ([0-9a-f]{64})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that does not agree: where (a chain's number, or a table's row) and what is wrong there."""

    where: str
    what: str

    def __str__(self) -> str:
        return f"{self.where}: {self.what}"


@dataclass(frozen=True, slots=True)
class Head:
    """The last event of a chain at some time."""

    chain: int
    number: int
    hash: str


def heads() -> tuple[Head, ...]:
    """Return the last event of every chain now."""
    last = Event.objects.order_by().values("chain").annotate(number=Max("number"))
    numbers = {row["chain"]: row["number"] for row in last}
    found = Event.objects.filter(number__in=set(numbers.values())).values_list("chain", "number", "hash")
    return tuple(Head(*row) for row in sorted(found) if numbers[row[0]] == row[1])


def heads_text() -> str:
    """Return the heads as a file keeps them: a line a chain, `chain number hash`."""
    return "".join(f"{head.chain} {head.number} {head.hash}\n" for head in heads())


def read_heads(text: str) -> tuple[Head, ...]:
    """Return the heads that a file holds; raises ValueError naming the first line that is none."""
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        match = HEAD.fullmatch(line.strip())
        if match is None:
            raise ValueError(f"Line {number} is no head; a head is written “chain number hash”.")
        found.append(Head(int(match[1]), int(match[2]), match[3]))
    return tuple(found)


def check_records(known: Iterable[Head] = ()) -> list[Fault]:
    """Return every disagreement found, the first bad row first; none means that the record proves itself."""
    latest: Latest = {}
    return [*_chains(latest), *_heads(known), *_rows(latest), *_files()]


def _chains(latest: Latest) -> Iterator[Fault]:
    """Walk every chain, and keep for each row the digest of the last event that wrote it."""
    sites = {0, *Site.objects.values_list("pk", flat=True)}
    order: dict[Key, int] = {}
    for chain in Event.objects.order_by("chain").values_list("chain", flat=True).distinct():
        if chain not in sites:
            yield Fault(f"Chain {chain}", "belongs to no site.")
        number, previous, last_id = 0, START_OF_CHAIN, 0
        for event in Event.objects.filter(chain=chain).order_by("number").iterator(chunk_size=2000):
            where = f"Chain {chain}, event {event.number}"
            if event.number != number + 1:
                yield Fault(where, f"event {number + 1} is missing before it.")
            elif event.previous != previous:
                yield Fault(where, "does not follow the event before it: one of the two was altered or exchanged.")
            if event.pk <= last_id:
                yield Fault(where, "was written into the table before an event that it follows.")
            yield from _event(event, where)
            number, previous, last_id = event.number, event.hash, event.pk
            _keep(event, latest, order)


def _event(event: Event, where: str) -> Iterator[Fault]:
    if event.hash != chained(event.previous, event.body):
        yield Fault(where, "its text does not give its hash: the text, the hash or the link before it was altered.")
    try:
        body = json.loads(event.body)
    except ValueError:
        yield Fault(where, "its text is not readable.")
        return
    if canonical(body) != event.body:
        yield Fault(where, "its text is not in the one spelling that the history writes.")
    columns = _columns(event)
    wrong = [name for name, value in columns.items() if _at(body, name) != plain(value)]
    if wrong:
        yield Fault(where, f"its columns say something else than its text: {', '.join(wrong)}.")


def _columns(event: Event) -> dict[str, Any]:
    return {
        "chain": event.chain,
        "number": event.number,
        "verb": event.verb,
        "subject.kind": event.subject_kind,
        "subject.id": event.subject_id,
        "subject.label": event.subject_label,
        "by.id": event.by_id,
        "happened_at": event.happened_at,
        "recorded_at": event.recorded_at,
    }


def _at(body: Any, path: str) -> Any:
    for name in path.split("."):
        body = body.get(name) if isinstance(body, dict) else None
    return body


def _keep(event: Event, latest: Latest, order: dict[Key, int]) -> None:
    """Remember the digests an event carries; of two chains that wrote one row, the later event counts."""
    try:
        rows = json.loads(event.body)["rows"]
        for named, pk, written in rows:
            label = former_names().get(named, named)
            if order.get((label, pk), 0) <= event.pk:
                order[label, pk] = event.pk
                latest[label, pk] = (written, f"chain {event.chain}, event {event.number}")
    except (ValueError, TypeError, KeyError):
        return  # named already as unreadable


def _heads(known: Iterable[Head]) -> Iterator[Fault]:
    for head in known:
        where = f"Chain {head.chain}, event {head.number}"
        found = Event.objects.filter(chain=head.chain, number=head.number).values_list("hash", flat=True).first()
        if found is None:
            yield Fault(where, "stood at the end when the heads were written and is gone: the chain was cut.")
        elif found != head.hash:
            yield Fault(where, "has another hash than when the heads were written: the chain was rewritten.")


def _rows(latest: Latest) -> Iterator[Fault]:
    """Compare every row with its digest; what differs is looked at again, since people write while this runs."""
    upto = Event.objects.aggregate(last=Max("pk"))["last"] or 0
    seen: set[Key] = set()
    suspects: list[Key] = []
    for model in digested_models():
        label = model._meta.label_lower
        for row in model._default_manager.order_by("pk").iterator(chunk_size=2000):
            key = (label, str(row.pk))
            seen.add(key)
            if key not in latest or latest[key][0] != row_digest(row):
                suspects.append(key)
    suspects += sorted(latest.keys() - seen)
    if suspects:
        order: dict[Key, int] = {}
        for event in Event.objects.filter(pk__gt=upto - SLACK).order_by("pk").iterator(chunk_size=2000):
            _keep(event, latest, order)
    yield from (fault for key in suspects if (fault := _row_fault(key, latest)))


def _files() -> Iterator[Fault]:
    """Hold the bytes of every kept file against the hash that its row, proven above, carries."""
    for sha256, name in KeptFile.objects.order_by("pk").values_list("sha256", "name").iterator(chunk_size=2000):
        data = filing.as_kept(sha256)
        if data is None:
            yield Fault(f"File {name} ({sha256[:12]}…)", "its bytes are missing in the data folder.")
        elif hashlib.sha256(data).hexdigest() != sha256:
            yield Fault(
                f"File {name} ({sha256[:12]}…)", "its bytes are not those that were sent: altered from outside."
            )


def _row_fault(key: Key, latest: Latest) -> Fault | None:
    try:
        model = apps.get_model(key[0])
    except LookupError:
        return None  # a table of an earlier release
    row = model._default_manager.filter(pk=key[1]).first()
    where = f"{model._meta.verbose_name} {key[1]} ({key[0]})"
    if row is None:
        return Fault(where, f"was written by {latest[key][1]} and is gone: removed from outside.")
    if key not in latest:
        return Fault(where, "stands in the table, and no event wrote it: inserted from outside.")
    if latest[key][0] != row_digest(row):
        return Fault(where, f"is not what {latest[key][1]} wrote: altered from outside.")
    return None


@cache
def former_names() -> dict[str, str]:
    """Return the label of today for each label that a table bore when earlier events named its rows."""
    return {name: m._meta.label_lower for m in kept_models() for name in getattr(m, "formerly", ())}


def digested_models() -> list[type[models.Model]]:
    """Return every model whose rows the events prove, by label."""
    found = [m for m in kept_models() if m.kept.kind != "scratch" and getattr(m, "digested", True)]  # type: ignore[attr-defined]
    return sorted(found, key=lambda model: model._meta.label_lower)
