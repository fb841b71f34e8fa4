"""Lots for the pages: what may be chosen at a check, the state of each lot, the checks that relied on one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from assets.models import Site
from calibration.compute.figures import plain, shown
from calibration.compute.methods import ph
from calibration.compute.standards import Standard as StandardInUse
from calibration.compute.standards import why_unfit
from calibration.compute.temperature_tables import OutsideTable
from calibration.models import Check, Lot, Point, Requirement
from calibration.reads.standards import lot_in_use, lots_at
from calibration.reads.words import State, day_words, verdict_state


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot of the list."""

    pk: int
    number: str
    kind: str
    label_value: str
    expires_on: dt.date | None
    opened: dt.date | None
    opened_until: dt.date | None
    state: State
    why: str
    url: str


def lot_state(lot: StandardInUse, day: dt.date) -> State:
    """Return whether a lot may be used on a day, in a word."""
    if lot.discarded is not None:
        return State("Discarded", "withdrawn", "still")
    if lot.quarantined:
        return State("Quarantined", "blocked", "bad")
    if lot.expires is not None and lot.expires < day:
        return State("Expired", "missed", "bad")
    until = lot.opened_until
    if until is not None and until < day:
        return State("Open too long", "missed", "bad")
    return State("Open, in date", "yes", "good") if lot.opened is not None else State("In date, not opened", "notyet")


def _row(lot: Lot, day: dt.date) -> LotRow | None:
    use = lot_in_use(lot)
    if use is None:
        return None
    return LotRow(
        pk=lot.pk,
        number=lot.number,
        kind=lot.kind.name,
        label_value=lot.label_value,
        expires_on=lot.expires_on,
        opened=use.opened,
        opened_until=use.opened_until,
        state=lot_state(use, day),
        why=" ".join(why_unfit(use, day)),
        url=lot.get_absolute_url(),
    )


def lot_rows(site: Site, day: dt.date, *, gone: bool = False) -> tuple[LotRow, ...]:
    """Return the lots of a site; with `gone`, those discarded or expired instead of those still standing there."""
    rows = [row for lot in lots_at(site) if (row := _row(lot, day)) is not None]
    return tuple(row for row in rows if (row.state.word in {"Discarded", "Expired"}) == gone)


@dataclass(frozen=True, slots=True)
class LotView:
    """One lot with what became of it and its values at temperature."""

    lot: Lot
    row: LotRow | None
    table: tuple[tuple[str, str], ...]
    table_source: str
    own_table: bool
    life: int


def lot_view(lot: Lot, day: dt.date) -> LotView:
    """Return a lot for its own page."""
    use = lot_in_use(lot)
    rows = tuple((plain(t), shown(value, 3)) for t, value in use.tabled.rows) if use is not None else ()
    return LotView(
        lot=lot,
        row=_row(lot, day),
        table=rows,
        table_source=use.tabled.source if use is not None else "",
        own_table=bool(lot.own_table.strip()),
        life=use.life if use is not None else lot.opened_life_days,
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


def relied_on(lot: Lot, *, most: int = 100) -> tuple[Relied, ...]:
    """Return the newest checks in which a lot was read, one line a set."""
    points = (
        Point.objects.filter(lot=lot)
        .select_related("set__check_of__position", "set__outcome")
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
            ),  # fmt: skip
        )
    return tuple(seen.values())


Choices = list[tuple[str, list[tuple[str, str]]]]


def lot_choices(requirement: Requirement, day: dt.date, lots: Iterable[StandardInUse], *, chosen: set[str]) -> Choices:
    """Return the lots to choose from: those used here last first, then by value; discarded ones only when chosen."""
    usable = [lot for lot in lots if lot.discarded is None or lot.id in chosen]
    usual = _used_last(requirement)
    first = [lot for lot in usable if lot.id in usual]
    others = sorted((lot for lot in usable if lot.id not in usual), key=lambda lot: (lot.nominal, lot.expires or day))
    groups: Choices = [("", [("", "Choose the lot in your hand")])]
    if first:
        groups.append(("Used here last", [(lot.id, _choice(lot, day)) for lot in first]))
    if others:
        groups.append(("Other lots" if first else "Lots", [(lot.id, _choice(lot, day)) for lot in others]))
    return groups


def _used_last(requirement: Requirement) -> set[str]:
    last = Check.objects.filter(requirement=requirement).order_by("-begun_at", "-pk").first()
    if last is None:
        return set()
    return {str(pk) for pk in Point.objects.filter(set__check_of=last).values_list("lot_id", flat=True)}


def _choice(lot: StandardInUse, day: dt.date) -> str:
    until = f", to {day_words(lot.expires)}" if lot.expires is not None else ""
    bad = f" ({lot_state(lot, day).word.lower()})" if why_unfit(lot, day) else ""
    return f"pH {lot.nominal_text}, lot {lot.label}{until}{bad}"


@dataclass(frozen=True, slots=True)
class Worth:
    """What a buffer is worth at the temperature typed, and what its label says of its dates."""

    prefix: str
    value: str
    note: str
    dates: str
    unfit: bool


def worths(inputs: ph.ReadingSet, known_lots: dict[str, StandardInUse], day: dt.date) -> tuple[Worth, ...]:
    """Return what each buffer of a set is worth, as far as lot and temperature are written."""
    return tuple(_worths(inputs, known_lots, day))


def _worths(inputs: ph.ReadingSet, lots: dict[str, StandardInUse], day: dt.date) -> Iterator[Worth]:
    named = [(f"point{number}_", point) for number, point in enumerate(inputs.points, 1)]
    third = inputs.third if inputs.third is not None else ph.Point()
    for prefix, point in (*named, ("third_", third)):
        lot = lots.get(point.lot)
        if lot is None:
            yield Worth(prefix, "", "Choose the lot and write the temperature.", "", unfit=False)
            continue
        yield _worth(prefix, point, lot, day)


def _worth(prefix: str, point: ph.Point, lot: StandardInUse, day: dt.date) -> Worth:
    until = f"Expires {day_words(lot.expires)}." if lot.expires is not None else ""
    ago = (day - lot.opened).days if lot.opened is not None else 0
    since = "today" if ago == 0 else f"{ago} {'day' if ago == 1 else 'days'} ago"
    opened = f" Opened {day_words(lot.opened)}, {since}." if lot.opened is not None else " Not written as opened."
    dates, unfit = until + opened, bool(why_unfit(lot, day))
    if point.temperature is None:
        return Worth(prefix, "", "Write the temperature.", dates, unfit)
    try:
        value = lot.tabled.value(point.temperature.value)
    except OutsideTable:
        return Worth(prefix, "", "Outside its table.", dates, unfit)
    u = (
        f"± {plain(lot.uncertainty)} (k = {plain(lot.k)}), "
        if lot.uncertainty is not None and lot.k is not None
        else ""
    )
    own = "table of the lot" if lot.tabled.source.startswith("table of lot") else "table of its kind"
    return Worth(prefix, f"pH\u00a0{shown(value, 3)}", f"{u}{own}", dates, unfit)
