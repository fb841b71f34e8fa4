"""Lots for the pages: what may be chosen at a check, the state of each lot, the checks that relied on one."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from assets.models import Site
from calibration.compute.families import FAMILIES, NO_LIFE
from calibration.compute.figures import plain, shown
from calibration.compute.standards import Standard as StandardInUse
from calibration.compute.standards import why_unfit
from calibration.models import Assignment, Dilution, DilutionPart, Lot, LotFact, Point, StandardKind
from calibration.reads.origins import unfit_by_origin
from calibration.reads.standards import lot_in_use, lots_at, table_of_kind
from calibration.reads.words import State, verdict_state

KEEPS_OPEN = frozenset(code for code, family in FAMILIES.items() if family.life == NO_LIFE)
"""Families that opening does not spoil."""


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot of the list."""

    pk: int
    number: str
    kind: str
    valued: str
    family: str
    expires_on: dt.date | None
    opened: dt.date | None
    opened_until: dt.date | None
    state: State
    why: str
    url: str
    keeps_open: bool


def lot_state(lot: StandardInUse, day: dt.date) -> State:
    """Return whether a lot may be used on a day, in a word."""
    if lot.discarded is not None:
        return State("Discarded", "withdrawn", "still")
    if lot.quarantined:
        return State("Quarantined", "blocked", "bad")
    if lot.unfit:
        return State("Not to be used", "blocked", "bad")
    if lot.expires is not None and lot.expires < day:
        return State("Expired", "missed", "bad")
    until = lot.opened_until
    if until is not None and until < day:
        return State("Open too long", "missed", "bad")
    if lot.opened is None and lot.kind in KEEPS_OPEN:
        return State("In use", "yes", "good")
    return State("Open, in date", "yes", "good") if lot.opened is not None else State("In date, not opened", "notyet")


def _row(lot: Lot, day: dt.date, unfit: str) -> LotRow | None:
    use = lot_in_use(lot, unfit=unfit)
    if use is None:
        return None
    return LotRow(
        pk=lot.pk,
        number=lot.number,
        kind=lot.kind.name,
        valued=lot.valued,
        family=lot.kind.of_family,
        expires_on=lot.expires_on,
        opened=use.opened,
        opened_until=use.opened_until,
        state=lot_state(use, day),
        why=" ".join(why_unfit(use, day)),
        url=lot.get_absolute_url(),
        keeps_open=use.kind in KEEPS_OPEN,
    )


GONE = frozenset({"Discarded", "Expired"})
"""Words of lots that no longer stand on the shelf."""


def lot_rows(
    site: Site, day: dt.date, *, gone: bool = False, family: str = "", found: Q | None = None
) -> tuple[LotRow, ...]:
    """Return the lots of a site, of a family and a condition; with `gone`, those discarded or expired instead."""
    wanted = found or Q()
    if family:
        wanted &= Q(pk__in=Lot.objects.of_families([family]).values("pk"))
    # What was thrown away grows without end: rows that cannot be shown are not read.
    discarded = Q(pk__in=LotFact.objects.filter(lot__site=site, kind="discarded").values("lot"))
    wanted &= discarded | Q(expires_on__lt=day) if gone else ~discarded
    bad = unfit_by_origin(site)
    rows = [row for lot in lots_at(site, wanted) if (row := _row(lot, day, bad.get(lot.pk, ""))) is not None]
    return tuple(row for row in rows if (row.state.word in GONE) == gone)


@dataclass(frozen=True, slots=True)
class LotView:
    """One lot with what became of it, its values at temperature, how it was made and what was given to it."""

    lot: Lot
    row: LotRow | None
    table: tuple[tuple[str, str], ...]
    table_source: str
    own_table: bool
    life: int
    keeps_open: bool
    caution: str
    working: tuple[dict[str, str], ...]
    parts: tuple[DilutionPart, ...]
    taken: tuple[DilutionPart, ...]
    assignments: tuple[Assignment, ...]


def lot_view(lot: Lot, day: dt.date) -> LotView:
    """Return a lot for its own page."""
    unfit = unfit_by_origin(lot.site).get(lot.pk, "")
    use = lot_in_use(lot, unfit=unfit)
    table = use.table if use is not None else None
    made: Dilution | None = getattr(lot, "dilution", None)
    places = 3 if lot.kind.in_unit == "pH" else 2
    return LotView(
        lot=lot,
        row=_row(lot, day, unfit),
        table=tuple((plain(t), shown(value, places)) for t, value in table.rows) if table is not None else (),
        table_source=table.source if table is not None else "",
        own_table=bool(lot.own_table.strip()),
        life=use.life if use is not None else lot.opened_life_days,
        keeps_open=lot.kind.of_family in KEEPS_OPEN,
        caution=FAMILIES[lot.kind.of_family].caution,
        working=tuple(json.loads(made.working)) if made is not None else (),
        parts=tuple(made.parts.select_related("parent__kind")) if made is not None else (),
        taken=tuple(lot.taken.select_related("dilution__lot__kind")),
        assignments=tuple(lot.assignments.select_related("asset", "primary", "primary_lot", "recorded_by")),
    )


@dataclass(frozen=True, slots=True)
class KindView:
    """One kind of standard: its value at temperature with its source, what can hurt, and its lots at a site."""

    kind: StandardKind
    table: tuple[tuple[str, str], ...]
    source: str
    caution: str
    lots: tuple[Lot, ...]


def kind_view(kind: StandardKind, site: Site) -> KindView:
    """Return a kind of standard for its own page."""
    table = table_of_kind(kind)
    places = 3 if kind.in_unit == "pH" else 2
    return KindView(
        kind=kind,
        table=tuple((plain(t), shown(value, places)) for t, value in table.rows) if table is not None else (),
        source=table.source if table is not None else "",
        caution=FAMILIES[kind.of_family].caution,
        lots=tuple(Lot.objects.at(site).filter(kind=kind)),
    )


@dataclass(frozen=True, slots=True)
class Relied:
    """A check that a lot was used in."""

    number: int
    tag: str
    code: str
    set_kind: str
    at: dt.datetime
    state: State
    url: str
    withdrawn: bool = False


def relied_on(lot: Lot, *, most: int = 100) -> tuple[Relied, ...]:
    """Return the newest checks in which a lot was read, one line a set."""
    return relied_in(Point.objects.filter(lot=lot), most=most)


def relied_in(which: QuerySet[Point], *, most: int = 100) -> tuple[Relied, ...]:
    """Return the newest checks of some points, one line a set."""
    points = (
        which.select_related("set__check_of__position", "set__outcome")
        .prefetch_related("set__check_of__withdrawals")
        .order_by("-set__performed_at", "-set__pk")[:most]
    )
    seen: dict[int, Relied] = {}
    for point in points:
        of, check = point.set, point.set.check_of
        outcome = getattr(of, "outcome", None)
        state = verdict_state(outcome.verdict, valid=outcome.valid) if outcome is not None else verdict_state("")
        seen.setdefault(
            of.pk,
            Relied(
                check.number,
                check.position.tag,
                check.position.label_code,
                of.get_kind_display(),
                of.performed_at,
                state,
                check.get_absolute_url(),
                withdrawn=bool(check.withdrawals.all()),
            ),  # fmt: skip
        )
    return tuple(seen.values())
