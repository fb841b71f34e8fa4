"""Standards that are made here: dilutions of lots, and values given to blocks on one instrument."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction

from assets import history
from assets.compute.canonical import canonical
from assets.compute.numbers import NotANumber, read_number
from assets.errors import Reason, Refusal
from assets.models import Asset, Person, Site
from assets.permissions import OPERATORS, must_have_role
from calibration.compute.dilution import CannotBe, Diluted, Taken, diluted, significant
from calibration.compute.families import usual_life
from calibration.compute.standards import Standard, why_unfit
from calibration.models import Assignment, Check, Dilution, DilutionPart, Lot, StandardKind
from calibration.reads.instruments import instruments_at, key_of_asset
from calibration.reads.standards import standards_at

MOST_PARTS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTyped:
    """A volume taken from a lot, and the tolerance printed on what measured it, as typed."""

    lot: Lot
    taken: str
    tolerance: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DilutionTyped:
    """A dilution as typed: all volumes in `volume_unit`, made up with water to `made_up`."""

    kind: StandardKind
    number: str
    parts: Sequence[PartTyped]
    made_up: str
    made_up_tolerance: str = ""
    volume_unit: str = "mL"
    made_on: dt.date
    use_by: dt.date
    measured_with: Asset | None = None


def make_dilution(*, site: Site, made: DilutionTyped, by: Person) -> Lot:
    """Write down a lot that was made here from others; its value is computed from the volumes.

    Refused when a lot it is made from, or the instrument it was measured with, was not fit on the day it was made.
    """
    must_have_role(by, site, OPERATORS, to="write down a dilution")
    with history.act(site=site, by=by) as act:
        today = act.at.astimezone(site.zone).date()
        keys = {str(part.lot.pk) for part in made.parts}
        parents = standards_at(site, made.made_on, keys=keys)
        reasons = [*_faults(made, today), *_faults_of_parts(made, parents, site.decimal_mark)]
        reasons += _unfit_tool(made, site)
        if reasons:
            raise Refusal(reasons)
        result = _worked(made, parents, site.decimal_mark)
        row = act.add(_lot(site, made, result, act.at, by))
        dilution = act.add(
            Dilution(
                lot=row,
                made_on=made.made_on,
                made_up=made.made_up.strip(),
                made_up_tolerance=made.made_up_tolerance.strip(),
                volume_unit=made.volume_unit,
                measured_with=made.measured_with,
                exact=str(result.value),
                u="" if result.u is None else str(result.u),
                working=canonical([asdict(line) for line in result.lines]),
            )
        )
        for part in made.parts:
            value = parents[str(part.lot.pk)].nominal
            taken, tolerance = part.taken.strip(), part.tolerance.strip()
            act.add(
                DilutionPart(dilution=dilution, parent=part.lot, taken=taken, tolerance=tolerance, exact=str(value))
            )
        numbers = [part.lot.number for part in made.parts]
        act.write("lot.made", subject=row, facts={"number": row.number, "from": numbers, "value": row.label_value})
    return row


def _lot(site: Site, made: DilutionTyped, result: Diluted, at: dt.datetime, by: Person) -> Lot:
    known = result.u is not None
    return Lot(
        site=site,
        kind=made.kind,
        number=made.number.strip(),
        label_value=significant(result.value, 6)[:12],
        uncertainty=significant(2 * result.u, 2, up=True) if result.u is not None else "",
        coverage="2" if known else "",
        received_on=made.made_on,
        expires_on=made.use_by,
        opened_life_days=usual_life(made.kind.of_family, result.value),
        recorded_at=at,
        recorded_by=by,
    )


def _worked(made: DilutionTyped, parents: dict[str, Standard], mark: str) -> Diluted:
    def number(text: str) -> Fraction | None:
        return read_number(text, decimal_mark=mark) if text.strip() else None

    taken = []
    for part in made.parts:
        parent = parents[str(part.lot.pk)]
        u = parent.uncertainty / parent.k if parent.uncertainty is not None and parent.k else None
        volume, tolerance = number(part.taken) or Fraction(0), number(part.tolerance)
        taken.append(Taken(called=parent.called, value=parent.nominal, volume=volume, u=u, tolerance=tolerance))
    try:
        return diluted(
            taken,
            made_up=number(made.made_up) or Fraction(0),
            tolerance=number(made.made_up_tolerance),
            unit=made.kind.in_unit,
            volume_unit=made.volume_unit,
        )
    except CannotBe as wrong:
        raise Refusal(f"Made up to: {wrong}", field="made_up") from wrong


def _faults(made: DilutionTyped, today: dt.date) -> list[Reason]:
    reasons: list[Reason] = []
    if not made.number.strip():
        reasons.append(Reason("Lot: nothing is written. Give the bottle a number, and write it on it.", "number"))
    if made.made_on > today:
        reasons.append(Reason(f"Made on: {made.made_on} has not come yet; write the day it was made.", "made_on"))
    if made.use_by < made.made_on:
        reasons.append(Reason(f"Use by: {made.use_by} is before the day it was made.", "use_by"))
    if made.kind.of_family == "buffer":
        reasons.append(Reason("Kind: a buffer is not diluted; its pH does not follow the volumes.", "kind"))
    if not 1 <= len(made.parts) <= MOST_PARTS:
        reasons.append(Reason(f"Taken from: write one to {MOST_PARTS} lots.", "part1_lot"))
    if len({part.lot.pk for part in made.parts}) < len(made.parts):
        reasons.append(Reason("Taken from: each lot stands once; add its volumes together.", "part1_lot"))
    return reasons


def _faults_of_parts(made: DilutionTyped, parents: dict[str, Standard], mark: str) -> list[Reason]:
    reasons: list[Reason] = []
    texts = [("made_up", "Made up to", made.made_up), ("made_up_tolerance", "Tolerance", made.made_up_tolerance)]
    for number, part in enumerate(made.parts, 1):
        field = f"part{number}_lot"
        parent = parents.get(str(part.lot.pk))
        if parent is None:
            reasons.append(Reason(f"Taken from: lot {part.lot.number} is not of this site or has no value.", field))
            continue
        if parent.unit != made.kind.in_unit:
            sentence = f"Taken from: {parent.called} is in {parent.unit}, the dilution in {made.kind.in_unit}."
            reasons.append(Reason(sentence, field))
        reasons.extend(Reason(f"Taken from: {why}", field) for why in why_unfit(parent, made.made_on))
        texts += [
            (f"part{number}_taken", "Volume taken", part.taken),
            (f"part{number}_tolerance", "Tolerance", part.tolerance),
        ]
    for field, words, text in texts:
        reasons.extend(_not_above_zero(field, words, text, mark))
    return reasons


def _not_above_zero(field: str, words: str, text: str, mark: str) -> list[Reason]:
    if not text.strip():
        missing = f"{words}: nothing is written. Write the volume, like 10.00."
        return [] if words == "Tolerance" else [Reason(missing, field)]
    try:
        value = read_number(text, decimal_mark=mark)
    except NotANumber as wrong:
        return [Reason(f"{words}: {wrong}", field)]
    return [] if value > 0 else [Reason(f"{words}: “{text}” is not above zero.", field)]


def _unfit_tool(made: DilutionTyped, site: Site) -> list[Reason]:
    """What measured the volumes must be fit, where it is one of the instruments that serve as standards."""
    tool = made.measured_with
    if tool is None:
        return []
    if tool.site_id != site.pk:
        return [Reason(f"Measured with: {tool} belongs to another site.", "measured_with")]
    known = instruments_at(site, made.made_on, assets=[tool.pk]).get(key_of_asset(tool.pk))
    found = why_unfit(known, made.made_on) if known is not None else ()
    return [Reason(f"Measured with: {why}", "measured_with") for why in found]


@dataclass(frozen=True, slots=True, kw_only=True)
class AssignmentTyped:
    """The value a block showed on an instrument after its primary calibration, as typed; that calibration's record."""

    value: str
    on: dt.date
    primary: Check | None = None
    primary_lot: Lot | None = None
    primary_words: str = ""


def assign_value(*, lot: Lot, asset: Asset, given: AssignmentTyped, by: Person) -> Assignment:
    """Give a block its value on one instrument, on the day of that instrument's primary calibration or after it."""
    must_have_role(by, lot.site, OPERATORS, to="give a block its value")
    with history.act(site=lot.site, by=by) as act:
        reasons = _assignment_faults(lot, asset, given, act.at.astimezone(lot.site.zone).date())
        if reasons:
            raise Refusal(reasons)
        row = act.add(
            Assignment(
                lot=lot,
                asset=asset,
                value=given.value.strip(),
                on=given.on,
                primary=given.primary,
                primary_lot=given.primary_lot,
                primary_words=given.primary_words.strip(),
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        facts = {"asset": str(asset), "value": row.value, "on": row.on, "primary": str(given.primary or "")}
        act.write("lot.value assigned", subject=lot, facts=facts)
    return row


def _assignment_faults(lot: Lot, asset: Asset, given: AssignmentTyped, today: dt.date) -> list[Reason]:
    reasons = _not_above_zero("value", "Value", given.value, lot.site.decimal_mark)
    if asset.site_id != lot.site_id:
        reasons.append(Reason(f"Instrument: {asset} belongs to another site.", "asset"))
    if given.on > today:
        reasons.append(Reason(f"Day: {given.on} has not come yet; write the day it was read.", "on"))
    if lot.facts.filter(kind="discarded").exists():
        reasons.append(Reason(f"Lot {lot.number} has been discarded; it is given no value any more."))
    primary = given.primary
    if primary is None and (given.primary_lot is None or not given.primary_words.strip()):
        sentence = (
            "Primary calibration: choose the check that calibrated this instrument, or the lot that was used and write "
            "where it stands. A block says nothing before the instrument was calibrated with a primary standard."
        )
        reasons.append(Reason(sentence, "primary"))
    if given.primary_lot is not None and given.primary_lot == lot:
        reasons.append(Reason("Lot used: a block is not given its value by itself.", "primary_lot"))
    if primary is not None:
        reasons.extend(_not_its_primary(primary, lot, asset, given.on))
    return reasons


def _not_its_primary(primary: Check, lot: Lot, asset: Asset, on: dt.date) -> list[Reason]:
    if primary.asset_id != asset.pk:
        return [Reason(f"Primary calibration: check {primary.number} is not of {asset}.", "primary")]
    if primary.begun_at.astimezone(lot.site.zone).date() > on:
        sentence = f"Primary calibration: check {primary.number} is later than the day the value was read."
        return [Reason(sentence, "primary")]
    outcomes = [getattr(of, "outcome", None) for of in primary.sets.select_related("outcome")]
    last = next((one for one in reversed(outcomes) if one is not None), None)
    if last is None or not last.valid or last.verdict not in {"pass", "conditional pass"}:
        sentence = f"Primary calibration: check {primary.number} did not end in a pass."
        return [Reason(sentence, "primary")]
    if primary.withdrawals.exists():
        return [Reason(f"Primary calibration: what check {primary.number} relied on was withdrawn.", "primary")]
    return []
