"""Forced values, holds, bypasses, shelved alarms: asked for, approved by another person, put on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Max

from assets import history
from assets.compute.canonical import digest
from assets.compute.numbers import NotANumber, read_number
from assets.compute.site_rules import InForce
from assets.compute.units import UnknownUnit, same_quantity, unit_of
from assets.compute.words import moment_named
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Person, Position, SignalUse, Site
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from assets.proofs import Proof, sign
from assets.reads.site_rules import rules_on
from maintenance.compute.overrides import longest, needs_approval
from maintenance.models import Override, OverrideKind, WorkOrder

A_MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class OverrideTyped:
    """What is asked for, as typed. `on_since`: it was put on already, because `cannot_wait`."""

    kind: str
    what: str
    way: str
    reason: str
    measures: str
    limit_at: dt.datetime
    place: str = ""
    value: str = ""
    unit: str = ""
    basis: str = ""
    last_good: str = ""
    last_good_at: dt.datetime | None = None
    every_hours: int | None = None
    order: WorkOrder | None = None
    on_since: dt.datetime | None = None
    cannot_wait: str = ""


def ask_override(*, position: Position, typed: OverrideTyped, by: Person) -> Override:
    """Write down a forced value, a hold, a bypass or a shelved alarm that is wanted or that was put on already."""
    site = position.site
    must_have_role(by, site, OPERATORS, to="force a value or defeat a function")
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        rules = rules_on(site, act.at.astimezone(site.zone).date())
        asked = needs_approval(position.matters_for, rules)
        faults = [*_faults(position, typed), *_time_faults(act.at, position, typed, rules, asked=asked)]
        if faults:
            raise Refusal(faults)
        row = act.add(
            Override(
                site=site,
                number=_next_number(site),
                position=position,
                kind=typed.kind,
                what=typed.what.strip(),
                way=typed.way,
                place=typed.place.strip(),
                value=typed.value.strip(),
                unit=unit_of(typed.unit).code if typed.unit.strip() else "",
                basis=typed.basis.strip(),
                last_good=typed.last_good.strip(),
                last_good_at=typed.last_good_at,
                rests_on_it=_rests_on(position),
                matters_for=position.matters_for,
                reason=typed.reason.strip(),
                measures=typed.measures.strip(),
                every_hours=typed.every_hours,
                order=typed.order,
                asked_at=act.at,
                asked_by=by,
                begun_at=min(typed.on_since, act.at) if typed.on_since else None,
                limit_at=typed.limit_at,
                needs_approval=asked,
                cannot_wait=typed.cannot_wait.strip() if typed.on_since else "",
                owner=by,
                owned_since=act.at,
            )
        )
        facts = {
            "at": position.tag,
            "what": row.what,
            "value": f"{row.value} {row.unit}".strip(),
            "until": row.limit_at,
        }
        act.write("override.asked", subject=row, facts={**facts, "because": row.reason, "instead": row.measures})
    return row


def _faults(position: Position, typed: OverrideTyped) -> list[Reason]:
    faults: list[Reason] = []
    for name, text, wanted in (
        ("what", typed.what, "Write what is forced or defeated, like “flow on the HMI”."),
        ("reason", typed.reason, "Write why; “maintenance” alone tells the next shift nothing."),
        ("measures", typed.measures, "Write what is done instead, like “weir measured twice a shift”."),
    ):
        if not text.strip():
            faults.append(Reason(wanted, name))
    if typed.reason.strip().casefold() in {"maintenance", "repair", "test"}:
        faults.append(Reason("Write why; “maintenance” alone tells the next shift nothing.", "reason"))
    if typed.order is not None and typed.order.site_id != position.site_id:
        faults.append(Reason("Choose a work order of this site.", "order"))
    if position.retired_at is not None:
        faults.append(Reason(f"{position.tag} is retired.", "position"))
    return [*faults, *_value_faults(position, typed)]


def _value_faults(position: Position, typed: OverrideTyped) -> list[Reason]:
    faults: list[Reason] = []
    forced = typed.kind == OverrideKind.FORCED
    if forced and not typed.basis.strip():
        faults.append(Reason("Write what the value rests on: a weir, a pump curve, yesterday’s mean.", "basis"))
    for name, text, needed in (("value", typed.value, forced), ("last_good", typed.last_good, False)):
        if not text.strip() and not needed:
            continue
        try:
            read_number(text, decimal_mark=position.site.decimal_mark)
        except NotANumber as wrong:
            faults.append(Reason(str(wrong), name))
    return [*faults, *_unit_faults(position, typed, forced=forced)]


def _unit_faults(position: Position, typed: OverrideTyped, *, forced: bool) -> list[Reason]:
    if not typed.unit.strip() and not forced:
        return []
    if not typed.unit.strip() and position.unit:
        return [Reason(f"Choose the unit of the value, like {position.unit}.", "unit")]
    try:
        code = unit_of(typed.unit).code
    except UnknownUnit as wrong:
        return [Reason(str(wrong), "unit")]
    if position.unit and not same_quantity(code, position.unit):
        return [Reason(f"{position.tag} reads in {position.unit}; choose a unit of that.", "unit")]
    return []


def _time_faults(
    now: dt.datetime, position: Position, typed: OverrideTyped, rules: InForce, *, asked: bool
) -> list[Reason]:
    faults: list[Reason] = []
    if typed.on_since is not None and typed.on_since > now + A_MINUTE:
        faults.append(Reason("That moment has not come yet; write when it was put on.", "on_since"))
    if typed.on_since is not None and asked and not typed.cannot_wait.strip():
        faults.append(Reason("Another person approves this first; write why that could not wait.", "cannot_wait"))
    most = longest(position.matters_for, rules)
    begin = min(typed.on_since or now, now)
    if typed.limit_at <= now:
        faults.append(Reason("The time limit has passed; write a moment that is to come.", "limit_at"))
    elif typed.limit_at > begin + most:
        last = (begin + most).astimezone(position.site.zone)
        faults.append(
            Reason(
                f"What matters for {position.matters_for} lasts {said(most)} at most here: until "
                f"{moment_named(last)}. After that it is asked for anew.",
                "limit_at",
            )
        )
    return faults


def said(span: dt.timedelta) -> str:
    """Return a span of time in hours."""
    hours = span.total_seconds() / 3600
    return f"{hours:g} hours"


def _rests_on(position: Position) -> str:
    uses = SignalUse.objects.filter(position=position).now().select_related("target").order_by("id")
    return "; ".join(f"{use.get_use_display().lower()} {use.on}" for use in uses)[:300]


def _next_number(site: Site) -> int:
    newest = Override.objects.filter(site=site).aggregate(newest=Max("number"))["newest"]
    return int(newest or 0) + 1


def approve_override(*, override: Override, proof: Proof, by: Person, version: int | None = None) -> Override:
    """Approve it as another person than who asked; signed."""
    must_have_role(by, override.site, SUPERVISORS, to="approve a forced value or a hold")
    refuse_own(override.asked_by_id, by)
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        _refuse_decided(override)
        told = [override.number, override.kind, override.position.tag, override.value, override.unit, override.limit_at]
        meaning = f"I approve {override} at {override.position.tag}."
        sign(act, site=override.site, person=by, proof=proof, meaning=meaning, digest=digest(told))
        changed(act, override, version, approved_at=act.at, approved_by=by)
        act.write("override.approved", subject=override, facts={"until": override.limit_at})
    return override


def refuse_override(*, override: Override, because: str, by: Person, version: int | None = None) -> Override:
    """Refuse it, with the reason. What was put on already stays on until a person takes it off."""
    must_have_role(by, override.site, SUPERVISORS, to="refuse a forced value or a hold")
    refuse_own(override.asked_by_id, by)
    if not because.strip():
        raise Refusal("Write why it is refused.", field="because")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        _refuse_decided(override)
        changed(act, override, version, refused_at=act.at, refused_by=by, refused_because=because.strip())
        act.write("override.refused", subject=override, facts={"because": because.strip()})
    return override


def refuse_own(asked_by: int, by: Person) -> None:
    """Refuse a decision on what the person asked for."""
    if asked_by == by.pk:
        raise Refusal("Nobody approves what they asked for themselves; another person does.")


def _refuse_decided(override: Override) -> None:
    override.refresh_from_db()
    if override.approved_at is not None or override.refused_at is not None:
        raise Refusal(f"{str(override).capitalize()} was decided already.")
    if not override.needs_approval:
        raise Refusal(f"{str(override).capitalize()} needs nobody’s approval here.")
    if override.removed_at is not None:
        raise Refusal(f"{str(override).capitalize()} was taken off already.")


def put_on(*, override: Override, by: Person, at: dt.datetime | None = None, version: int | None = None) -> Override:
    """Write that it was put on, now or at an earlier moment (aware), after it was approved where that is needed."""
    must_have_role(by, override.site, OPERATORS, to="force a value or defeat a function")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        if override.begun_at is not None:
            raise Refusal(f"{str(override).capitalize()} was put on already.")
        if override.refused_at is not None:
            raise Refusal(f"{str(override).capitalize()} was refused: {override.refused_because}.")
        if override.needs_approval and override.approved_at is None:
            raise Refusal("It is not approved yet. Where it cannot wait, ask anew and write why.")
        moment = min(at or act.at, act.at + A_MINUTE)
        if at is not None and at > act.at + A_MINUTE:
            raise Refusal("That moment has not come yet; write when it was put on.", field="at")
        if moment < (override.approved_at or override.asked_at):
            raise Refusal("That is before it was asked for and approved; look at day and time.", field="at")
        if act.at > override.limit_at:
            raise Refusal("Its time limit has passed before it was put on; ask anew.")
        changed(act, override, version, begun_at=min(moment, act.at), owner=by, owned_since=act.at)
        act.write(
            "override.put_on", subject=override, facts={"until": override.limit_at}, happened_at=override.begun_at
        )
    return override


def must_be_on(override: Override) -> None:
    """Refuse what only makes sense while it is in force."""
    if override.begun_at is None or override.removed_at is not None:
        raise Refusal(f"{str(override).capitalize()} is not in force.")


def changed(act: Act, override: Override, version: int | None, **new: object) -> None:
    """Change its columns if it is still in the version that was shown."""
    shown = version if version is not None else override.version
    act.change(override, expect={"version": shown}, version=shown + 1, **new)
