"""Lots of every kind: registered as received, then what became of them."""

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
from calibration.compute.families import FAMILIES, usual_life
from calibration.compute.figures import plain
from calibration.compute.standards import SOLID
from calibration.compute.temperature_tables import table_from_rows
from calibration.models import Lot, LotFact, StandardKind
from calibration.reads.standards import rows_of

LABELLED_AT = Fraction(25)  # degC


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTyped:
    """A lot as its label and certificate say, numbers as typed. `opened_life_days` None: the usual one."""

    kind: StandardKind
    number: str
    label_value: str
    received_on: dt.date
    expires_on: dt.date | None
    uncertainty: str = ""
    coverage: str = ""
    certificate: str = ""
    issuer: str = ""
    opened_life_days: int | None = None
    own_table: str = ""


def register_lot(*, site: Site, lot: LotTyped, by: Person) -> Lot:
    """Register a lot as received."""
    must_have_role(by, site, SUPERVISORS, to="register a lot")
    reasons = _faults(lot, site)
    if reasons:
        raise Refusal(reasons)
    label = read_number(lot.label_value, decimal_mark=site.decimal_mark)
    life = lot.opened_life_days or usual_life(lot.kind.of_family, label)
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
        reasons.extend(_not_a_number(field, text, words, lot.kind, site.decimal_mark))
    reasons.extend(_faults_of_days(lot, site))
    if bool(lot.uncertainty.strip()) != bool(lot.coverage.strip()):
        sentence = "Coverage factor: an expanded uncertainty needs its k, usually 2. Write both or neither."
        reasons.append(Reason(sentence, "coverage"))
    label = None
    if not any(reason.field == "label_value" for reason in reasons):
        label = read_number(lot.label_value, decimal_mark=site.decimal_mark)
        reasons.extend(_other_kind(lot, label))
    if lot.own_table.strip():
        reasons.extend(_table_faults(lot, label))
    return reasons


def _faults_of_days(lot: LotTyped, site: Site) -> list[Reason]:
    reasons: list[Reason] = []
    if lot.kind.site_id not in {None, site.pk}:
        reasons.append(Reason("Kind: this kind of standard belongs to another site.", "kind"))
    if lot.received_on > timezone.now().astimezone(site.zone).date():
        reasons.append(Reason(f"Received: {lot.received_on} has not come yet; write the day it came.", "received_on"))
    if lot.expires_on is None and lot.kind.of_family not in SOLID:
        sentence = "Expires: nothing is written. Only a solid standard has no last day; write the one on the label."
        reasons.append(Reason(sentence, "expires_on"))
    if lot.expires_on is not None and lot.expires_on < lot.received_on:
        sentence = f"Expires: {lot.expires_on} is before the day it was received; look at the label again."
        reasons.append(Reason(sentence, "expires_on"))
    return reasons


def _other_kind(lot: LotTyped, label: Fraction) -> list[Reason]:
    """A bottle is worth what the table of its kind says, so label and kind must be of one solution."""
    kind = lot.kind
    if not kind.nominal or FAMILIES[kind.of_family].agree(label, read_number(kind.nominal, decimal_mark=",")):
        return []
    if kind.of_family == "buffer":
        chosen = f"that of the buffer chosen above, pH {kind.nominal}"
    else:
        chosen = f"that of the kind chosen above, {kind.nominal} {kind.in_unit}"
    return [
        Reason(
            f"Value on the label: “{lot.label_value.strip()}” is not {chosen}; one of the two is wrong.", "label_value"
        )
    ]


def _not_a_number(field: str, text: str, words: str, kind: StandardKind, mark: str) -> list[Reason]:
    if not text.strip():
        return []
    try:
        value = read_number(text, decimal_mark=mark)
    except NotANumber as wrong:
        return [Reason(f"{words}: {wrong}", field)]
    if field == "label_value":
        return _no_such_value(text, words, value, kind)
    if field == "coverage" and value == 0:
        return [Reason(f"{words}: it is above zero, usually 2.", field)]
    if value < 0:
        return [Reason(f"{words}: “{text}” is below zero; write it without a sign.", field)]
    return []


def _no_such_value(text: str, words: str, value: Fraction, kind: StandardKind) -> list[Reason]:
    family = FAMILIES[kind.of_family]
    if family.low <= value <= family.high:
        return []
    if kind.of_family == "buffer":
        sentence = f"{words}: “{text}” is no pH of a buffer; write a number from 0 to 14, like 7.00."
    else:
        between = f"from {plain(family.low)} to {plain(family.high)} {kind.in_unit}"
        sentence = f"{words}: “{text}” is no value of a {kind.family_words}; write a number {between}."
    return [Reason(sentence, "label_value")]


def _table_faults(lot: LotTyped, label: Fraction | None) -> list[Reason]:
    family = FAMILIES[lot.kind.of_family]
    try:
        table = table_from_rows(code="own", name="this lot", rows=rows_of(lot.own_table), source="")
    except ValueError as wrong:
        return [Reason(f"Table on the label: {wrong}", "own_table")]
    wild = next((value for _, value in table.rows if not family.low <= value <= family.high), None)
    if wild is not None:
        what = "pH of a buffer" if lot.kind.of_family == "buffer" else f"value of a {lot.kind.family_words}"
        return [Reason(f"Table on the label: {plain(wild)} is no {what}; look at its row.", "own_table")]
    if label is None or not table.low <= LABELLED_AT <= table.high:
        return []
    if not family.agree(table.value(LABELLED_AT), label):
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
    reasons.extend(_faults_of_quarantine(lot, kind, last))
    if kind != "opened" and not why.strip():
        reasons.append(Reason("Because: nothing is written. Say in words why.", "why"))
    if reasons:
        raise Refusal(reasons)


def _faults_of_quarantine(lot: Lot, kind: str, last: str) -> list[Reason]:
    """Return what keeps a lot from being quarantined or released; `last` is what it was last, of the two."""
    if kind == "quarantined" and last == "quarantined":
        return [Reason(f"Lot {lot.number} is quarantined already.")]
    if kind != "released":
        return []
    if last != "quarantined":
        return [Reason(f"Lot {lot.number} is not quarantined, so it cannot be released.")]
    if lot.recalls.exists():
        return [Reason(f"Lot {lot.number} was withdrawn with what relied on it; it is not released again.")]
    return []
