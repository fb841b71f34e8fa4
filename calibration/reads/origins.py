"""What lots are made from: which inherit a reason not to be used, and which rest on what is withdrawn."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from assets.models import Site
from calibration.models import Dilution, DilutionPart, LotFact, Recall


def quarantined_because(facts: Iterable[LotFact]) -> str:
    """Return why a lot is quarantined now; empty when it never was or has been released since. Facts in their order."""
    why = ""
    for fact in facts:
        if fact.kind == "quarantined":
            why = fact.why
        elif fact.kind == "released":
            why = ""
    return why


def _parts(site: Site) -> dict[int, list[tuple[int, dt.date]]]:
    """Return, by parent, the lots made from it and the day each was made."""
    made_from: dict[int, list[tuple[int, dt.date]]] = {}
    rows = DilutionPart.objects.filter(dilution__lot__site=site).order_by("pk")
    for parent, lot, day in rows.values_list("parent", "dilution__lot", "dilution__made_on"):
        made_from.setdefault(parent, []).append((lot, day))
    return made_from


@dataclass(frozen=True, slots=True)
class Origins:
    """Of the lots of a site: why one inherits that it must not be used, and since which day one is withdrawn."""

    unfit: Mapping[int, str]
    withdrawn: Mapping[int, dt.date]


def origins_of(site: Site) -> Origins:
    """Return what lots inherit, however long the way. Two queries, up to two more where something is quarantined."""
    made_from = _parts(site)
    recalls = list(Recall.objects.filter(site=site).select_related("asset"))
    withdrawn = _withdrawn(recalls, made_from)
    bad = dict(_measured_badly(site, recalls))
    waiting = deque((pk, why) for pk, why in bad.items())
    waiting.extend(_quarantined(made_from) if made_from else ())
    while waiting:
        parent, why = waiting.popleft()
        for lot, _ in made_from.get(parent, ()):
            if lot not in bad:
                bad[lot] = why
                waiting.append((lot, why))
    # A lot that was discarded before it was withdrawn is not quarantined; what was made from it is bad all the same.
    made = {lot for lots in made_from.values() for lot, _ in lots}
    for lot in withdrawn:
        if lot in made:
            bad.setdefault(lot, "made from a lot that is withdrawn")
    return Origins(bad, withdrawn)


def unfit_by_origin(site: Site) -> Mapping[int, str]:
    """Return, for each lot made from or with what must not be used, the reason."""
    return origins_of(site).unfit


def _quarantined(made_from: Collection[int]) -> Iterator[tuple[int, str]]:
    """Yield those of the lots that others were made from that are quarantined now."""
    facts: dict[int, list[LotFact]] = {}
    for fact in LotFact.objects.filter(lot__in=made_from).select_related("lot").order_by("recorded_at", "pk"):
        facts.setdefault(fact.lot_id, []).append(fact)
    for pk, became in facts.items():
        why = quarantined_because(became)
        if why:
            yield pk, f"made from lot {became[0].lot.number}, which is quarantined: {why}"


def _measured_badly(site: Site, recalls: Iterable[Recall]) -> Iterator[tuple[int, str]]:
    by_asset = {row.asset_id: row for row in recalls if row.lot_id is None}
    for made in Dilution.objects.filter(lot__site=site, measured_with__in=list(by_asset)):
        recall = by_asset[made.measured_with_id]
        if made.made_on >= recall.from_day:
            yield made.lot_id, f"measured with {recall.asset}, which is withdrawn: {recall.because}"


def _withdrawn(recalls: Iterable[Recall], made_from: Mapping[int, list[tuple[int, dt.date]]]) -> dict[int, dt.date]:
    """Return the first day since when each lot is withdrawn, itself or by what it was made from."""
    since: dict[int, dt.date] = {}
    waiting = deque((row.lot_id, row.from_day) for row in recalls if row.lot_id is not None)
    while waiting:
        lot, day = waiting.popleft()
        if lot in since and since[lot] <= day:
            continue
        since[lot] = day
        waiting.extend((child, made_on) for child, made_on in made_from.get(lot, ()) if made_on >= day)
    return since
