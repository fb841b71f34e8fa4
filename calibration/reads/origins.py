"""What lots are made from: which inherit a reason not to be used, and which rest on what is withdrawn."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Iterable, Iterator

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


def unfit_by_origin(site: Site) -> dict[int, str]:
    """Return, for each lot made from or with what must not be used, the reason, however long the way. Six queries."""
    made_from = _parts(site)
    bad = dict(_measured_badly(site))
    waiting = deque((pk, why) for pk, why in bad.items())
    waiting.extend(_quarantined(site) if made_from else ())
    while waiting:
        parent, why = waiting.popleft()
        for lot, _ in made_from.get(parent, ()):
            if lot not in bad:
                bad[lot] = why
                waiting.append((lot, why))
    # A lot that was discarded before it was withdrawn is not quarantined; what was made from it is bad all the same.
    made = {lot for lots in made_from.values() for lot, _ in lots}
    for lot in withdrawn_since(site):
        if lot in made:
            bad.setdefault(lot, "made from a lot that is withdrawn")
    return bad


def _quarantined(site: Site) -> Iterator[tuple[int, str]]:
    facts: dict[int, list[LotFact]] = {}
    for fact in LotFact.objects.filter(lot__site=site).select_related("lot").order_by("recorded_at", "pk"):
        facts.setdefault(fact.lot_id, []).append(fact)
    for pk, became in facts.items():
        why = quarantined_because(became)
        if why:
            yield pk, f"made from lot {became[0].lot.number}, which is quarantined: {why}"


def _measured_badly(site: Site) -> Iterator[tuple[int, str]]:
    recalls = {row.asset_id: row for row in Recall.objects.filter(site=site, lot=None).select_related("asset")}
    for made in Dilution.objects.filter(lot__site=site, measured_with__in=list(recalls)):
        recall = recalls[made.measured_with_id]
        if made.made_on >= recall.from_day:
            yield made.lot_id, f"measured with {recall.asset}, which is withdrawn: {recall.because}"


def withdrawn_since(site: Site) -> dict[int, dt.date]:
    """Return the first day since when each lot is withdrawn, itself or by what it was made from. Two queries."""
    since: dict[int, dt.date] = {}
    waiting: deque[tuple[int, dt.date]] = deque(
        Recall.objects.filter(site=site, lot__isnull=False).values_list("lot", "from_day")
    )
    made_from = _parts(site) if waiting else {}
    while waiting:
        lot, day = waiting.popleft()
        if lot in since and since[lot] <= day:
            continue
        since[lot] = day
        waiting.extend((child, made_on) for child, made_on in made_from.get(lot, ()) if made_on >= day)
    return since
