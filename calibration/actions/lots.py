"""Lots of buffer: registered as received, then what became of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

from django.utils import timezone

from assets import history
from assets.compute.numbers import NotANumber, read_number
from assets.errors import Reason, Refusal
from assets.models import Person, Site
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from calibration.compute.figures import plain
from calibration.compute.standards import HIGH_BUFFER, HIGH_BUFFER_LIFE_DAYS, OPENED_LIFE_DAYS
from calibration.compute.temperature_tables import table_from_rows
from calibration.models import Lot, LotFact, StandardKind
from calibration.reads.standards import rows_of

SAME_BUFFER = Fraction(1, 10)  # pH; own: labels of one buffer differ by some hundredths, 6.86 and 7.00 are two buffers
LABELLED_AT = Fraction(25)  # degC


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTyped:
    """A lot as its label and certificate say, numbers as typed. `opened_life_days` None: the usual one."""

    kind: StandardKind
    number: str
    label_value: str
    received_on: dt.date
    expires_on: dt.date
    uncertainty: str = ""
    coverage: str = ""
    certificate: str = ""
    issuer: str = ""
    opened_life_days: int | None = None
    own_table: str = ""


def usual_life(label_value: str, *, decimal_mark: str = ".") -> int:
    """Return the days an opened bottle is used, by its label: common practice, no source."""
    high = read_number(label_value, decimal_mark=decimal_mark) >= HIGH_BUFFER
    return HIGH_BUFFER_LIFE_DAYS if high else OPENED_LIFE_DAYS


def register_lot(*, site: Site, lot: LotTyped, by: Person) -> Lot:
    """Register a lot as received."""
    must_have_role(by, site, SUPERVISORS, to="register a lot")
    reasons = _faults(lot, site)
    if reasons:
        raise Refusal(reasons)
    life = lot.opened_life_days or usual_life(lot.label_value, decimal_mark=site.decimal_mark)
    with history.act(site=site, by=by) as act:
        row = act.add(
            Lot(
                site=site,
                kind=lot.kind,
                number=lot.number.strip(),
                label_value=lot.label_value.strip(),
                uncertainty=lot.uncertainty.strip(),
                coverage=lot.coverage.strip(),
                certificate=lot.certificate.strip(),
                issuer=lot.issuer.strip(),
                received_on=lot.received_on,
                expires_on=lot.expires_on,
                opened_life_days=life,
                own_table=lot.own_table.strip(),
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        act.write("lot.registered", subject=row, facts={"number": row.number, "kind": row.kind.code})
    return row


def _faults(lot: LotTyped, site: Site) -> list[Reason]:
    reasons: list[Reason] = []
    for field, text, words in (
        ("label_value", lot.label_value, "Value on the label"),
        ("uncertainty", lot.uncertainty, "Uncertainty"),
        ("coverage", lot.coverage, "Coverage factor"),
    ):
        reasons.extend(_not_a_number(field, text, words, site.decimal_mark))
    today = timezone.now().astimezone(site.zone).date()
    if lot.received_on > today:
        reasons.append(Reason(f"Received: {lot.received_on} has not come yet; write the day it came.", "received_on"))
    if lot.expires_on < lot.received_on:
        sentence = f"Expires: {lot.expires_on} is before the day it was received; look at the label again."
        reasons.append(Reason(sentence, "expires_on"))
    if bool(lot.uncertainty.strip()) != bool(lot.coverage.strip()):
        sentence = "Coverage factor: an expanded uncertainty needs its k, usually 2. Write both or neither."
        reasons.append(Reason(sentence, "coverage"))
    label = None
    if not any(reason.field == "label_value" for reason in reasons):
        label = read_number(lot.label_value, decimal_mark=site.decimal_mark)
        reasons.extend(_other_buffer(lot, label))
    if lot.own_table.strip():
        reasons.extend(_table_faults(lot.own_table, label))
    return reasons


def _other_buffer(lot: LotTyped, label: Fraction) -> list[Reason]:
    """A bottle is worth what the table of its kind says, so label and kind must be of one buffer."""
    if abs(label - read_number(lot.kind.nominal)) <= SAME_BUFFER:
        return []
    sentence = (
        f"Value on the label: “{lot.label_value.strip()}” is not that of the buffer chosen above, "
        f"pH {lot.kind.nominal}; one of the two is wrong."
    )
    return [Reason(sentence, "label_value")]


def _not_a_number(field: str, text: str, words: str, mark: str) -> list[Reason]:
    if not text.strip():
        return []
    try:
        value = read_number(text, decimal_mark=mark)
    except NotANumber as wrong:
        return [Reason(f"{words}: {wrong}", field)]
    if field == "label_value" and not 0 <= value <= 14:
        return [Reason(f"{words}: “{text}” is no pH of a buffer; write a number from 0 to 14, like 7.00.", field)]
    if field == "coverage" and value == 0:
        return [Reason(f"{words}: it is above zero, usually 2.", field)]
    if value < 0:
        return [Reason(f"{words}: “{text}” is below zero; write it without a sign.", field)]
    return []


def _table_faults(text: str, label: Fraction | None) -> list[Reason]:
    try:
        table = table_from_rows(code="own", name="this lot", rows=rows_of(text), source="")
    except ValueError as wrong:
        return [Reason(f"Table on the label: {wrong}", "own_table")]
    wild = next((value for _, value in table.rows if not 0 <= value <= 14), None)
    if wild is not None:
        return [Reason(f"Table on the label: {plain(wild)} is no pH of a buffer; look at its row.", "own_table")]
    if label is None or not table.low <= LABELLED_AT <= table.high:
        return []
    if abs(table.value(LABELLED_AT) - label) > SAME_BUFFER:
        there = plain(table.value(LABELLED_AT))
        sentence = f"Table on the label: it gives {there} at 25 °C, and the label says {plain(label)}; look at both."
        return [Reason(sentence, "own_table")]
    return []


def record_lot_fact(*, lot: Lot, kind: str, day: dt.date, why: str, by: Person) -> LotFact:
    """Record that a lot was opened, quarantined (because), released again or discarded, on a day.

    Anybody who checks may open, quarantine and discard; releasing a quarantined lot takes a supervisor.
    """
    roles = SUPERVISORS if kind == "released" else OPERATORS
    must_have_role(by, lot.site, roles, to=f"record a lot as {kind}")
    with history.act(site=lot.site, by=by) as act:
        _refuse_fact(lot, kind, day, act.at.astimezone(lot.site.zone).date(), why)
        row = act.add(LotFact(lot=lot, kind=kind, day=day, why=why.strip(), recorded_at=act.at, recorded_by=by))
        act.write(f"lot.{kind}", subject=lot, facts={"day": day, "why": row.why})
    return row


def _refuse_fact(lot: Lot, kind: str, day: dt.date, today: dt.date, why: str) -> None:
    kinds = [fact.kind for fact in lot.facts.order_by("recorded_at", "id")]
    last = next((one for one in reversed(kinds) if one in {"quarantined", "released"}), "")
    reasons: list[Reason] = []
    if day > today:
        reasons.append(Reason(f"Day: {day} has not come yet; write the day it happened.", "day"))
    if day < lot.received_on and kind == "opened":
        reasons.append(Reason(f"Day: {day} is before the lot was received, {lot.received_on}.", "day"))
    if "discarded" in kinds:
        reasons.append(Reason(f"Lot {lot.number} has been discarded; nothing more happens to it."))
    if kind == "released" and last != "quarantined":
        reasons.append(Reason(f"Lot {lot.number} is not quarantined, so it cannot be released."))
    if kind == "quarantined" and last == "quarantined":
        reasons.append(Reason(f"Lot {lot.number} is quarantined already."))
    if kind != "opened" and not why.strip():
        reasons.append(Reason("Because: nothing is written. Say in words why.", "why"))
    if reasons:
        raise Refusal(reasons)
