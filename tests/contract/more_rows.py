"""More rows of every table at once, as a plant that is kept for years has them: copies of the rows that a world holds.

Half of the copies of a child hang on the copies of its parent and half on the parent itself, so that a list has rows
with something below each, and a page of one record has much below it. They come without a history: what a page costs
depends on its rows, not on how they came.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections import defaultdict
from collections.abc import Collection, Iterator
from functools import cache

from django.apps import apps
from django.db import models

from assets.models import AccessLink, Event, Site, Submission
from maintenance.models import ProcedureDecision

NUMBERS = itertools.count(1000)
NEVER_COPIED: frozenset[type[models.Model]] = frozenset({Site, Event, Submission, AccessLink, ProcedureDecision})
"""The site that is asked, the chained history, keys of forms, links; and approvals, which want a whole procedure."""
KNOWN_WORDS = frozenset({"method", "quantity", "what", "name", "asked", "machine"})
"""Columns whose text the code looks up; a copy has another parent before another word."""
SOURCES = 2  # rows of a table that are copied, and those that a copied child must have for itself

Key = tuple[type[models.Model], object]
Sources = dict[type[models.Model], dict[object, models.Model]]


def own_models() -> list[type[models.Model]]:
    """Every table of the three apps that is copied, parents before children."""
    left = [m for app in ("assets", "maintenance", "calibration") for m in apps.get_app_config(app).get_models()]
    left = [model for model in left if model not in NEVER_COPIED]
    found: list[type[models.Model]] = []
    while left:
        free = [model for model in left if not any(field.related_model in left for field in keys_of(model))]
        found += free
        left = [model for model in left if model not in free]
    return found


def keys_of(model: type[models.Model]) -> list[models.ForeignKey[models.Model, models.Model]]:
    """The keys of a table that point at another one."""
    keys = [field for field in model._meta.concrete_fields if isinstance(field, models.ForeignKey)]
    return [field for field in keys if field.related_model is not model]


@cache
def told_apart(model: type[models.Model]) -> set[str]:
    """The columns in which copies must differ: of each rule of uniqueness one, a plain column before a key."""
    rules = [(field.name,) for field in model._meta.concrete_fields if field.unique and not field.primary_key]
    for rule in model._meta.constraints:
        if isinstance(rule, models.UniqueConstraint):
            rules.append(rule.fields or tuple(_named(rule)))
    return {min(rule, key=lambda name: _rank(model, name)) for rule in rules}


def _named(rule: models.UniqueConstraint) -> Iterator[str]:
    for whole in rule.expressions:
        for one in (whole,) if isinstance(whole, models.F) else whole.get_source_expressions():
            if isinstance(one, models.F):
                yield one.name


def _rank(model: type[models.Model], name: str) -> int:
    field = model._meta.get_field(name)
    if isinstance(field, models.ForeignKey):
        return 9 if field.related_model in NEVER_COPIED else 3
    if name in KNOWN_WORDS or field.choices:  # type: ignore[union-attr]
        return 5
    return 0 if field.get_internal_type() in {"CharField", "PositiveIntegerField"} else 1  # type: ignore[union-attr]


def sources(each: int = SOURCES) -> Sources:
    """The rows that are copied, by table, parents first; empty where the world has none."""
    found: Sources = defaultdict(dict)
    order = own_models()
    for model in reversed(order):
        own = [field.name for field in model._meta.concrete_fields if field.related_model is model]
        free = model._base_manager.filter(**dict.fromkeys(own))
        found[model] |= {row.pk: row for row in free.order_by("pk")[:each]}
        apart = told_apart(model)
        for field in keys_of(model):
            if field.name in apart:
                wanted = {getattr(row, field.attname) for row in found[model].values()} - {None}
                parent: type[models.Model] = field.related_model  # type: ignore[assignment]
                found[parent] |= parent._base_manager.in_bulk(wanted) if parent not in NEVER_COPIED else {}
    return {model: found[model] for model in order}


def only(rows: Sources, kinds: Collection[type[models.Model]]) -> Sources:
    """Return of the rows that are copied those of some tables."""
    return {model: own for model, own in rows.items() if model in kinds}


def grow(rows: Sources, count: int) -> None:
    """Add so many copies of each of these rows."""
    made: dict[Key, list[models.Model]] = {}
    for model, own in rows.items():
        for pk, row in own.items():
            made[model, pk] = model._base_manager.bulk_create([_copied(row, turn, made) for turn in range(count)])


def _copied(row: models.Model, turn: int, made: dict[Key, list[models.Model]]) -> models.Model:
    apart = told_apart(type(row))
    # As copy.copy does it, without taking each row apart and putting it together again: there are a hundred thousand.
    found = type(row).__new__(type(row))
    found.__dict__ = {**row.__dict__, "_state": models.base.ModelState()}
    found.pk = None
    for field in row._meta.concrete_fields:
        if isinstance(field, models.ForeignKey):
            copies = made.get((field.related_model, getattr(row, field.attname)))  # type: ignore[arg-type]
            if copies and (field.name in apart or turn % 2):
                setattr(found, field.attname, copies[turn].pk)
        elif field.name in apart:
            setattr(found, field.name, _other(field, getattr(row, field.name)))
    return found


def _other(field: models.Field[object, object], value: object) -> object:
    number = next(NUMBERS)
    if isinstance(value, str):
        return f"{value[: (field.max_length or 200) - 6]}{number}" if value else value
    if isinstance(value, dt.date):
        return value - dt.timedelta(days=number)
    return value + number if isinstance(value, int) else value
