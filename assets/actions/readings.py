"""Numbers read from a position or an asset, kept as typed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets.compute.numbers import NotANumber, read_number
from assets.compute.units import UnknownUnit, canonical_code, convert, same_quantity, unit_of
from assets.errors import Reason, Refusal
from assets.history import Act, act
from assets.models import Asset, Person, Position, Reading
from assets.permissions import OPERATORS, must_have_role


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """One number as typed, its unit, where it was read (display, HMI, report) and when; no time means now."""

    what: str
    entered: str
    unit: str
    face: str
    taken_at: dt.datetime | None = None
    source: str = ""


def record_reading(*, of: Position | Asset, facts: ReadingFacts, by: Person) -> Reading:
    """Keep a number read from a position or an asset: the text as typed, and its value in the canonical unit."""
    must_have_role(by, of.site, OPERATORS, to="write a reading")
    with act(site=of.site, by=by) as opened:
        row = _add(opened, of=of, facts=facts, replaces=None)
        opened.write("reading.recorded", subject=of, facts=_told(row), happened_at=row.taken_at)
    return row


def correct_reading(*, reading: Reading, facts: ReadingFacts, by: Person) -> Reading:
    """Replace a reading by another one that names it; both stay on record."""
    must_have_role(by, reading.site, OPERATORS, to="correct a reading")
    of = reading.position or reading.asset
    assert of is not None
    with act(site=reading.site, by=by) as opened:
        if Reading.objects.filter(replaces=reading).exists():
            raise Refusal("This reading was corrected already; correct the newer one.")
        taken_at = facts.taken_at or reading.taken_at
        row = _add(opened, of=of, facts=facts, replaces=reading, taken_at=taken_at)
        told = {**_told(row), "was": f"{reading.entered} {reading.unit}"}
        opened.write("reading.corrected", subject=of, facts=told, happened_at=row.taken_at)
    return row


def _add(
    opened: Act,
    *,
    of: Position | Asset,
    facts: ReadingFacts,
    replaces: Reading | None,
    taken_at: dt.datetime | None = None,
) -> Reading:
    moment = taken_at or facts.taken_at or opened.at
    # A person who types the minute that has just begun means now.
    if moment > opened.at + dt.timedelta(minutes=1):
        raise Refusal("That moment has not come yet; write when the number was read.", field="taken_at")
    if of.retired_at is not None and moment >= of.retired_at and replaces is None:
        raise Refusal(
            f"{of} is retired; only a reading from before that is still written, with its time.", field="taken_at"
        )
    if not facts.what.strip():
        raise Refusal("Write what was read, like “pH” or “Run hours”.", field="what")
    code, value = _understood(of, facts)
    return opened.add(
        Reading(
            site=of.site,
            position=of if isinstance(of, Position) else None,
            asset=of if isinstance(of, Asset) else None,
            what=facts.what.strip(),
            entered=facts.entered.strip(),
            unit=code,
            value=value,
            face=facts.face,
            taken_at=min(moment, opened.at),
            recorded_at=opened.at,
            recorded_by=opened.by,
            source=facts.source.strip(),
            replaces=replaces,
        )
    )


def _understood(of: Position | Asset, facts: ReadingFacts) -> tuple[str, float]:
    """Return the unit's code and the value in the canonical unit of its quantity."""
    faults: list[Reason] = []
    code = ""
    try:
        code = unit_of(facts.unit).code
    except UnknownUnit as wrong:
        faults.append(Reason(str(wrong), "unit"))
    try:
        number = read_number(facts.entered, decimal_mark=of.site.decimal_mark)
    except NotANumber as wrong:
        faults.append(Reason(str(wrong), "entered"))
    if code and isinstance(of, Position) and _is_its_own(of, facts.what) and not same_quantity(code, of.unit):
        faults.append(Reason(f"{of.tag} reads in {of.unit}; {code} measures something else.", "unit"))
    if faults:
        raise Refusal(faults)
    return code, float(convert(number, code, canonical_code(code)))


def _is_its_own(position: Position, what: str) -> bool:
    return bool(position.unit) and what.strip().casefold() == position.quantity.casefold()


def _told(row: Reading) -> dict[str, object]:
    return {"reading": f"{row.what} {row.entered} {row.unit}", "read at": row.face}
