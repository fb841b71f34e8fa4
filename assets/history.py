"""The history: the only opener of a writing transaction, the only writer of events, and the doors that record refusals.

An act collects what it wrote; its events join the site's chain as the last statements of the outermost transaction, so
that the chain's lock is always taken last and no two acts wait for each other in a ring.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, models, transaction
from django.utils import timezone

from assets.compute.canonical import canonical, chained, digest
from assets.errors import AlreadyDone, Reason, Refusal, Stale, plainly
from assets.models import Event, Person, Site, Submission

START_OF_CHAIN = "0" * 64
CHAIN = 7_301  # first key of the advisory lock on one chain
PLANT = 7_302  # ... on what is fitted at one site
LOCKOUT = 7_303  # ... on the locks of one site
UPKEEP = 7_304  # ... on the routines and work orders of one site

Row = TypeVar("Row", bound=models.Model)


def lock_site(what: int, site: Site | None) -> None:
    """Let only one act at a time do `what` at a site, until its transaction ends (PostgreSQL).

    SQLite needs nothing: its transactions begin IMMEDIATE, so only one of them writes at a time.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", [what, site.pk if site else 0])


def row_digest(row: models.Model) -> str:
    """Return the hash of every kept column of a row as it stands in the database.

    Columns in which nothing is written are left out, so that a later release may add one without breaking the proof of
    older rows: what is added must begin empty (NULL or blank text).
    """
    left_out: tuple[str, ...] = getattr(row, "undigested", ())
    columns = {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields if f.name not in left_out}
    return digest({name: value for name, value in columns.items() if value is not None and value != ""})


@dataclass
class _Pending:
    site: Site | None
    body: dict[str, Any]
    by: Person | None


@dataclass
class _Journal:
    """The events of one transaction, in the order their acts wrote them."""

    at: dt.datetime
    events: list[_Pending] = field(default_factory=list)


_journal: ContextVar[_Journal | None] = ContextVar("journal", default=None)


@dataclass
class Act:
    """One act in progress: rows go through it so that its event carries their digests."""

    site: Site | None
    by: Person | None
    journal: _Journal
    rows: list[list[str]] = field(default_factory=list)

    @property
    def at(self) -> dt.datetime:
        """The moment of entry: one for the whole transaction."""
        return self.journal.at

    def add(self, row: Row) -> Row:
        """Insert a row; broken constraints come back as a Refusal in the constraint's own words."""
        _clean(row)
        row.save(force_insert=True)
        self._note(row)
        return row

    def add_all(self, rows: Sequence[Row]) -> None:
        """Insert many rows of one table in one statement, each checked and digested as `add` does."""
        for row in rows:
            _clean(row)
        if rows:
            type(rows[0])._default_manager.bulk_create(rows)
        for row in rows:
            self._note(row)

    def close(self, row: Row, **ends: Any) -> Row:
        """Set end columns that are still empty; raises Stale when somebody has set them before."""
        return self.change(row, expect=dict.fromkeys(ends), **ends)

    def change(self, row: Row, *, expect: Mapping[str, Any] | None = None, **new: Any) -> Row:
        """Update columns if the row still has the expected values; raises Stale when it has not."""
        for name, value in new.items():
            column = row._meta.get_field(name)
            if not column.is_relation:
                try:
                    value = column.clean(value, row)  # type: ignore[union-attr]
                except ValidationError as wrong:
                    raise _refusal_of(ValidationError({name: wrong})) from wrong
            setattr(row, name, value)
            new[name] = value
        matches = {f"{k}__isnull" if v is None else k: True if v is None else v for k, v in (expect or {}).items()}
        # The person who asks may be a lazy stand-in for the row, so its class is asked of the row itself.
        same = row._meta.model._default_manager.filter(pk=row.pk, **matches)
        found = same.update(**new) if new else same.count()
        if found != 1:
            raise Stale(f"{row} was changed by somebody else meanwhile. Nothing was changed; look again and repeat it.")
        row.refresh_from_db()
        self._note(row)
        return row

    def write(
        self,
        verb: str,
        *,
        subject: models.Model,
        facts: Mapping[str, Any] | None = None,
        happened_at: dt.datetime | None = None,
    ) -> None:
        """Write the act's event: who, when it happened and was entered, on what, the facts, the rows it wrote."""
        body = {
            "verb": verb,
            "subject": {"kind": subject._meta.label_lower, "id": str(subject.pk), "label": str(subject)[:160]},
            "by": {"id": self.by.pk, "name": self.by.name} if self.by else None,
            "happened_at": happened_at or self.at,
            "recorded_at": self.at,
            "facts": facts or {},
            "rows": self.rows,
        }
        self.journal.events.append(_Pending(self.site, body, self.by))
        self.rows = []

    def _note(self, row: models.Model) -> None:
        if getattr(row, "digested", True) and row.kept.kind != "scratch":  # type: ignore[attr-defined]
            self.rows.append([row._meta.label_lower, str(row.pk), row_digest(row)])


@contextmanager
def act(*, site: Site | None, by: Person | None) -> Iterator[Act]:
    """Open an act: the outermost one is the transaction, an inner one joins it.

    An act that wrote rows must write an event; one that refuses raises and leaves nothing behind.
    """
    outer = _journal.get()
    try:
        if outer is not None:
            yield from _inside(Act(site, by, outer))
            return
        with transaction.atomic():
            journal = _Journal(at=timezone.now())
            token = _journal.set(journal)
            try:
                yield from _inside(Act(site, by, journal))
            finally:
                _journal.reset(token)
            _append(journal)
    except IntegrityError as broken:
        raise Refusal(sentence_of(broken)) from broken


def _inside(opened: Act) -> Iterator[Act]:
    yield opened
    if opened.rows:
        raise RuntimeError(f"An act wrote {opened.rows} and no event.")


def _append(journal: _Journal) -> None:
    """Chain the events, site by site; the last statements of the transaction."""
    by_chain: dict[int, list[_Pending]] = {}
    for pending in journal.events:
        by_chain.setdefault(pending.site.pk if pending.site else 0, []).append(pending)
    for chain in sorted(by_chain):
        lock_site(CHAIN, by_chain[chain][0].site)
        last = Event.objects.filter(chain=chain).order_by("-number").values_list("number", "hash").first()
        number, previous = last or (0, START_OF_CHAIN)
        made = []
        for pending in by_chain[chain]:
            number += 1
            event = _event(chain, number, previous, pending)
            previous = event.hash
            made.append(event)
        Event.objects.bulk_create(made)


def _event(chain: int, number: int, previous: str, pending: _Pending) -> Event:
    body = canonical({"chain": chain, "number": number, **pending.body})
    subject = pending.body["subject"]
    return Event(
        chain=chain,
        number=number,
        previous=previous,
        hash=chained(previous, body),
        body=body,
        verb=pending.body["verb"],
        subject_kind=subject["kind"],
        subject_id=subject["id"],
        subject_label=subject["label"],
        by=pending.by,
        happened_at=pending.body["happened_at"],
        recorded_at=pending.body["recorded_at"],
    )


@contextmanager
def door(*, site: Site | None, by: Person | None, verb: str, subject: models.Model) -> Iterator[None]:
    """Let an act through; when it refuses, write one `refused` event after the rollback, by itself."""
    try:
        yield
    except Refusal as refusal:
        if not refusal.recorded:
            with act(site=site, by=by) as refused:
                facts = {"asked": verb, "reasons": [reason.sentence for reason in refusal.reasons]}
                refused.write("refused", subject=subject, facts=facts)
            refusal.recorded = True
        raise


def submit(
    *, site: Site | None, by: Person | None, verb: str, subject: models.Model, key: str, do: Callable[[], str]
) -> str:
    """Do what one sent form asks, once: a repeat of its key gets the first answer (a path) and changes nothing.

    Raises Refusal after writing it into the history, as `door` does.
    """
    if not key or len(key) > 40:
        raise Refusal("This page is incomplete: its key is missing. Open it again; nothing was changed.")
    answered = Submission.objects.filter(key=key).first()
    if answered is not None:
        return answered.answer
    with door(site=site, by=by, verb=verb, subject=subject):
        try:
            with act(site=site, by=by) as sent:
                # Under the write lock once more: the same form may have arrived twice at the same moment.
                earlier = Submission.objects.filter(key=key).first()
                if earlier is not None:
                    raise AlreadyDone(earlier.answer)
                answer = do()
                sent.add(Submission(key=key, person=by, act=verb, answer=answer, recorded_at=sent.at))
                return answer
        except AlreadyDone as done:
            return done.answer
        except Refusal:
            # On PostgreSQL the twin commits first and this one meets its key, or finds the work done already.
            twin = Submission.objects.filter(key=key).first()
            if twin is not None:
                return twin.answer
            raise


def _clean(row: models.Model) -> None:
    try:
        row.clean_fields(exclude=[f.name for f in row._meta.fields if f.is_relation])
    except ValidationError as wrong:
        raise _refusal_of(wrong) from wrong


def _refusal_of(wrong: ValidationError) -> Refusal:
    return Refusal(
        Reason(plainly(str(one.code or ""), one.params) or text, name)
        for name, faults in wrong.error_dict.items()
        for one in faults
        for text in one.messages
    )


CHECK_NAME = re.compile(r"CHECK constraint failed: (\w+)")
INDEX_NAME = re.compile(r"UNIQUE constraint failed: index '(\w+)'")
COLUMN_NAMES = re.compile(r"UNIQUE constraint failed: (\w+\.[\w., ]+)")
KEY_COLUMN = re.compile(r"Key \((\w+)\)=")


def sentence_of(broken: IntegrityError) -> str:
    """Return the sentence of the constraint or trigger that the database kept, whichever database it is."""
    text = str(broken)
    diag = getattr(broken.__cause__, "diag", None)
    name = getattr(diag, "constraint_name", None)
    for pattern in (CHECK_NAME, INDEX_NAME):
        found = pattern.search(text)
        name = found.group(1) if found else name
    columns = _columns_of(text, diag)
    for model in apps.get_models():
        for constraint in model._meta.constraints:
            if constraint.name == name or (name is None and columns and _same_columns(model, constraint, columns)):
                return str(constraint.violation_error_message or constraint.name)
        for column in model._meta.concrete_fields:
            if column.unique and columns == f"{model._meta.db_table}.{column.column}":
                return str(column.error_messages["unique"])
    primary = getattr(diag, "message_primary", None)
    return str(primary or text)


def _columns_of(text: str, diag: Any) -> str | None:
    """Return the columns of a broken unique rule as table.column, in the words of whichever database it is."""
    found = COLUMN_NAMES.search(text)
    if found:
        return found.group(1)
    key = KEY_COLUMN.match(getattr(diag, "message_detail", None) or "")
    return f"{diag.table_name}.{key.group(1)}" if key else None


def _same_columns(model: type[models.Model], constraint: models.BaseConstraint, named: str) -> bool:
    if not isinstance(constraint, models.UniqueConstraint) or not constraint.fields:
        return False
    columns = [f"{model._meta.db_table}.{model._meta.get_field(f).column}" for f in constraint.fields]  # type: ignore[union-attr]
    return ", ".join(columns) == named
