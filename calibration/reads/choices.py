"""Which standards a set may be read in, and what a buffer is worth there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from assets.compute.words import count_of, day_named
from calibration.compute.figures import plain, shown
from calibration.compute.method import AnyMethod
from calibration.compute.methods import ph
from calibration.compute.standards import KINDS, why_unfit
from calibration.compute.standards import Standard as StandardInUse
from calibration.compute.temperature_tables import OutsideTable
from calibration.models import Check, Point, Requirement
from calibration.reads.lots import lot_state
from calibration.reads.stored import key_of

Choices = list[tuple[str, list[tuple[str, str]]]]


def choices_of(
    method: AnyMethod,
    requirement: Requirement,
    day: dt.date,
    standards: Collection[StandardInUse],
    *,
    chosen: Collection[str],
) -> dict[tuple[str, ...], Choices]:
    """Return, for each set of kinds that a field of the method asks, the standards to choose from."""
    usual = _used_last(requirement)
    asked = {ask.of for ask in method.asks if ask.kind == "standard"}
    return {
        of: _groups([one for one in standards if one.kind in of], usual, of, day=day, chosen=chosen) for of in asked
    }


def _groups(
    standards: Iterable[StandardInUse], usual: set[str], of: tuple[str, ...], *, day: dt.date, chosen: Collection[str]
) -> Choices:
    """Those used here last first, then by value; discarded ones only when chosen."""
    usable = [one for one in standards if one.discarded is None or one.id in chosen]
    first = [one for one in usable if one.id in usual]
    others = sorted((one for one in usable if one.id not in usual), key=lambda one: (one.nominal, one.expires or day))
    lots = all(one.is_lot for one in usable)
    hand = "Choose the lot in your hand" if lots else "Choose the one in your hand"
    none = f"No {' or '.join(KINDS.get(kind, kind) for kind in of)} is registered"
    groups: Choices = [("", [("", hand if usable else none)])]
    if first:
        groups.append(("Used here last", [(one.id, _choice(one, day)) for one in first]))
    if others:
        all_words, rest = ("Lots", "Other lots") if lots else ("Registered", "Others")
        groups.append((rest if first else all_words, [(one.id, _choice(one, day)) for one in others]))
    return groups


def _used_last(requirement: Requirement) -> set[str]:
    last = Check.objects.filter(requirement=requirement).order_by("-begun_at", "-pk").first()
    return set() if last is None else {key_of(point) for point in Point.objects.filter(set__check_of=last)}


def _choice(one: StandardInUse, day: dt.date) -> str:
    until = f", to {day_named(one.expires)}" if one.expires is not None else ""
    word = lot_state(one, day).word.lower() if one.is_lot and not one.unfit else "not fit"
    bad = f" ({word})" if why_unfit(one, day) else ""
    return f"{standard_words(one)}{until}{bad}"


def standard_words(one: StandardInUse) -> str:
    """Name a standard: 'pH 7.00, lot 2608-A', '1413 µS/cm, lot K-1', or an instrument by its own name."""
    if not one.is_lot:
        return one.label
    value = f"pH {one.nominal_text}" if one.kind == "buffer" else f"{one.nominal_text} {one.unit}".strip()
    return f"{value}, lot {one.label}"


def worths(inputs: object, standards: Mapping[str, StandardInUse], day: dt.date) -> tuple[Worth, ...]:
    """Return what each buffer of a set at a pH probe is worth, as far as lot and temperature are written."""
    return tuple(_worths(inputs, standards, day)) if isinstance(inputs, ph.ReadingSet) else ()


@dataclass(frozen=True, slots=True)
class Worth:
    """What a buffer is worth at the temperature typed, and what its label says of its dates."""

    prefix: str
    value: str
    note: str
    dates: str
    unfit: bool


def _worths(inputs: ph.ReadingSet, lots: Mapping[str, StandardInUse], day: dt.date) -> Iterator[Worth]:
    named = [(f"point{number}_", point) for number, point in enumerate(inputs.points, 1)]
    third = inputs.third if inputs.third is not None else ph.Point()
    for prefix, point in (*named, ("third_", third)):
        lot = lots.get(point.lot)
        if lot is None:
            yield Worth(prefix, "", "Choose the lot and write the temperature.", "", unfit=False)
            continue
        yield _worth(prefix, point, lot, day)


def _worth(prefix: str, point: ph.Point, lot: StandardInUse, day: dt.date) -> Worth:
    until = f"Expires {day_named(lot.expires)}." if lot.expires is not None else ""
    ago = (day - lot.opened).days if lot.opened is not None else 0
    since = "today" if ago == 0 else f"{count_of(ago, 'day')} ago"
    opened = f" Opened {day_named(lot.opened)}, {since}." if lot.opened is not None else " Not written as opened."
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
