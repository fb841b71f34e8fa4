"""While something is forced or defeated: more time asked for and decided, looks against independent evidence."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assets import history
from assets.compute.canonical import digest
from assets.compute.numbers import NotANumber, read_number
from assets.compute.words import moment_named
from assets.errors import Reason, Refusal
from assets.history import UPKEEP
from assets.models import Person
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from assets.proofs import Proof, sign
from assets.reads.site_rules import rules_on
from maintenance.actions.overrides import A_MINUTE, changed, must_be_on, refuse_own, said
from maintenance.compute.overrides import longest
from maintenance.models import Override, OverrideExtension, OverrideLook


def ask_extension(*, override: Override, to_at: dt.datetime, reason: str, by: Person) -> OverrideExtension:
    """Ask for more time; each extension is decided by another person and counted."""
    must_have_role(by, override.site, OPERATORS, to="ask for more time")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        must_be_on(override)
        rules = rules_on(override.site, act.at.astimezone(override.site.zone).date())
        faults = []
        most = longest(override.matters_for, rules)
        if not reason.strip():
            faults.append(Reason("Write why more time is needed.", "reason"))
        if to_at <= max(override.limit_at, act.at):
            faults.append(Reason("Write a moment after the time limit that it has now.", "to_at"))
        elif to_at > act.at + most:
            last = (act.at + most).astimezone(override.site.zone)
            faults.append(Reason(f"At most {said(most)} from now: until {moment_named(last)}.", "to_at"))
        granted = override.extensions.filter(granted=True).count()
        allowed = rules.hours("override_extensions")
        if granted >= allowed:
            faults.append(
                Reason(
                    f"It was extended {granted} times, and {allowed} are allowed here. Restore it, or decide it as a "
                    "change of the plant.",
                    "to_at",
                )
            )
        if faults:
            raise Refusal(faults)
        number = override.extensions.count() + 1
        row = act.add(
            OverrideExtension(
                override=override, number=number, to_at=to_at, reason=reason.strip(), asked_at=act.at, asked_by=by
            )
        )
        facts = {"until": to_at, "because": row.reason, "number": number}
        act.write("override.extension_asked", subject=override, facts=facts)
    return row


def decide_extension(
    *, extension: OverrideExtension, granted: bool, because: str, proof: Proof | None, by: Person
) -> OverrideExtension:
    """Grant more time, signed, or refuse it with a reason, as another person than who asked."""
    override = extension.override
    must_have_role(by, override.site, SUPERVISORS, to="decide on more time")
    refuse_own(extension.asked_by_id, by)
    if not granted and not because.strip():
        raise Refusal("Write why it is refused.", field="because")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        must_be_on(override)
        if granted:
            if proof is None:
                raise Refusal("Type your PIN or your password to sign.", field="proof")
            if extension.to_at <= act.at:
                raise Refusal("The time asked for has passed meanwhile; ask anew.")
            meaning = f"I grant {override} at {override.position.tag} more time."
            told = [override.number, extension.number, extension.to_at]
            sign(act, site=override.site, person=by, proof=proof, meaning=meaning, digest=digest(told))
            changed(act, override, None, limit_at=extension.to_at)
        act.close(extension, decided_at=act.at, decided_by=by, granted=granted, because=because.strip() or "granted")
        facts = {"number": extension.number, "granted": granted, "until": extension.to_at, "because": because.strip()}
        act.write("override.extension_decided", subject=override, facts=facts)
    return extension


@dataclass(frozen=True, slots=True, kw_only=True)
class LookTyped:
    """One look against independent evidence, as typed."""

    value: str
    source: str
    taken_at: dt.datetime | None
    agrees: bool
    unit: str = ""
    words: str = ""


def look_at_override(*, override: Override, typed: LookTyped, by: Person) -> OverrideLook:
    """Hold it against an independent value, with its source and its time: never against the forced signal itself."""
    must_have_role(by, override.site, OPERATORS, to="look at a forced value")
    faults: list[Reason] = []
    try:
        read_number(typed.value, decimal_mark=override.site.decimal_mark)
    except NotANumber as wrong:
        faults.append(Reason(str(wrong), "value"))
    if not typed.source.strip():
        faults.append(
            Reason("Write where the value comes from: a second meter, a tank drop, a bench reading.", "source")
        )
    if typed.taken_at is None:
        faults.append(Reason("Write when it was read.", "taken_at"))
    if not typed.agrees and not typed.words.strip():
        faults.append(Reason("It does not agree: write what you did about it.", "words"))
    if faults or typed.taken_at is None:
        raise Refusal(faults)
    with history.act(site=override.site, by=by) as act:
        override.refresh_from_db()
        must_be_on(override)
        if typed.taken_at > act.at + A_MINUTE:
            raise Refusal("That moment has not come yet; write when it was read.", field="taken_at")
        if override.begun_at is not None and typed.taken_at < override.begun_at:
            raise Refusal("It was not in force at that moment; look at day and time.", field="taken_at")
        row = act.add(
            OverrideLook(
                override=override,
                value=typed.value.strip(),
                unit=typed.unit.strip(),
                source=typed.source.strip(),
                taken_at=min(typed.taken_at, act.at),
                agrees=typed.agrees,
                words=typed.words.strip(),
                looked_by=by,
                recorded_at=act.at,
            )
        )
        facts = {"value": f"{row.value} {row.unit}".strip(), "from": row.source, "agrees": row.agrees, "did": row.words}
        act.write("override.looked_at", subject=override, facts=facts, happened_at=row.taken_at)
    return row
