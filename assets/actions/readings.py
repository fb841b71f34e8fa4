"""Numbers read from a position or an asset, kept as typed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets import hooks
from assets.compute.numbers import NotANumber, read_number
from assets.compute.units import UnknownUnit, canonical_code, convert, same_quantity, unit_of
from assets.errors import Reason, Refusal
from assets.history import Act, act
from assets.models import Asset, BreakKind, CounterBreak, Person, Position, Reading
from assets.permissions import OPERATORS, must_have_role


@dataclass(frozen=True, slots=True)
class CounterBroken:
    """Why a counter shows less than before, all numbers as typed in the reading's own unit.

    Either it rolled over at `modulus`, or it was replaced: `old_last` on the old one, `new_first` on the new one.
    """

    modulus: str = ""
    old_last: str = ""
    new_first: str = ""

    @property
    def kind(self) -> BreakKind:
        """Rolled over or replaced, by what was typed."""
        return BreakKind.ROLLED_OVER if self.modulus.strip() else BreakKind.REPLACED


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """One number as typed, its unit, where it was read (display, HMI, report) and when; no time means now.

    `broken` says why a counter does not go on from the reading before.
    """

    what: str
    entered: str
    unit: str
    face: str
    taken_at: dt.datetime | None = None
    source: str = ""
    broken: CounterBroken | None = None


def record_reading(*, of: Position | Asset, facts: ReadingFacts, by: Person) -> Reading:
    """Keep a number read from a position or an asset: the text as typed, and its value in the canonical unit."""
    must_have_role(by, of.site, OPERATORS, to="write a reading")
    with act(site=of.site, by=by) as opened:
        row = add_reading(opened, of=of, facts=facts)
        opened.write("reading.recorded", subject=of, facts=told_of(row), happened_at=row.taken_at)
    return row


def add_reading(opened: Act, *, of: Position | Asset, facts: ReadingFacts) -> Reading:
    """Add a reading to an open act, without an event of its own; the apps above are told of it."""
    row = _add(opened, of=of, facts=facts, replaces=None)
    for taker in hooks.after_reading:
        taker(opened, row)
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
        for taker in hooks.after_reading:
            taker(opened, row)
        told = {**told_of(row), "was": f"{reading.entered} {reading.unit}"}
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
    row = opened.add(
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
    if facts.broken is not None:
        _add_break(opened, row, facts.broken)
    return row


def _add_break(opened: Act, row: Reading, broken: CounterBroken) -> CounterBreak:
    typed = {"modulus": broken.modulus, "old_last": broken.old_last, "new_first": broken.new_first}
    wanted = ["modulus"] if broken.kind is BreakKind.ROLLED_OVER else ["old_last", "new_first"]
    faults = (
        [Reason("Either it rolled over or it was replaced, not both.", "modulus")]
        if broken.modulus and (broken.old_last or broken.new_first)
        else []
    )
    for name in wanted:
        try:
            read_number(typed[name], decimal_mark=row.site.decimal_mark)
        except NotANumber as wrong:
            faults.append(Reason(str(wrong), name))
    if faults:
        raise Refusal(faults)
    return opened.add(
        CounterBreak(
            reading=row,
            kind=broken.kind,
            recorded_at=opened.at,
            recorded_by=opened.by,
            **{name: text.strip() for name, text in typed.items()},
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


def told_of(row: Reading) -> dict[str, object]:
    """What an event says of a reading."""
    return {"reading": f"{row.what} {row.entered} {row.unit}", "read at": row.face}
