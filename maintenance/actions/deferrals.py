"""Putting a turn off: asked by one person, decided by another, never beyond the next one, never what a rule demands."""

from __future__ import annotations

import datetime as dt

from assets import history
from assets.compute.canonical import digest
from assets.compute.words import day_named
from assets.errors import Reason, Refusal, Stale
from assets.history import UPKEEP, Act
from assets.models import Person
from assets.permissions import OPERATORS, SUPERVISORS, must_have_role
from assets.proofs import Proof, sign
from maintenance.actions.due import rewrite_due, site_day
from maintenance.compute import schedule
from maintenance.models import Deferral, Occurrence, Plan
from maintenance.reads.due_facts import AHEAD, known_of

LONGEST = dt.timedelta(days=366)
"""What is put off for longer is not late but planned otherwise: own judgement."""


def ask_deferral(*, occurrence: Occurrence, to_day: dt.date, because: str, risk: str, by: Person) -> Deferral:
    """Ask that a due item is done later, with the reason and what that risks."""
    plan = occurrence.plan
    must_have_role(by, plan.site, OPERATORS, to="ask to put something off")
    reasons = []
    if not because.strip():
        reasons.append(Reason("Because: write why it cannot be done in time.", "because"))
    if not risk.strip():
        reasons.append(Reason("What it risks: write what may happen meanwhile, and what is done about it.", "risk"))
    with history.act(site=plan.site, by=by) as act:
        history.lock_site(UPKEEP, plan.site)
        turn = _turn(act, plan, occurrence.turn)
        refused = schedule.refused(turn, to_day, site_day(act, plan))
        if refused:
            reasons.append(Reason(refused, "to_day"))
        elif to_day > site_day(act, plan) + LONGEST:
            last = day_named(site_day(act, plan) + LONGEST)
            sentence = f"Give a day no later than {last}. For longer, pause the routine or change its interval."
            reasons.append(Reason(sentence, "to_day"))
        if reasons:
            raise Refusal(reasons)
        row = act.add(
            Deferral(
                site=plan.site,
                plan=plan,
                turn=turn.key,
                due=turn.own_due,
                to_day=to_day,
                because=because.strip(),
                risk=risk.strip(),
                asked_at=act.at,
                asked_by=by,
            )
        )
        facts = {"due": turn.own_due, "to": to_day, "because": row.because, "risk": row.risk}
        act.write("deferral.asked", subject=plan, facts=facts)
    return row


def _turn(act: Act, plan: Plan, key: str) -> schedule.Turn:
    day = site_day(act, plan)
    turns = schedule.turns(known_of([plan])[plan.pk].facts, day, until=day + AHEAD)
    found = next((turn for turn in turns if turn.key == key), None)
    if found is None:
        raise Stale(f"{plan.title}: this due item is not there any more. Nothing was changed; look again.")
    return found


def decide_deferral(*, deferral: Deferral, approved: bool, because: str, proof: Proof | None, by: Person) -> Deferral:
    """Approve it, signed, or refuse it with a reason, as another person than who asked."""
    plan = deferral.plan
    must_have_role(by, plan.site, SUPERVISORS, to="decide on a deferral")
    if deferral.asked_by_id == by.pk:
        raise Refusal("Nobody approves what they asked for themselves; another person does.")
    if not approved and not because.strip():
        raise Refusal("Because: write why it is refused.", field="because")
    with history.act(site=plan.site, by=by) as act:
        history.lock_site(UPKEEP, plan.site)
        day = site_day(act, plan)
        deferral.refresh_from_db()
        if deferral.decided_by is not None:
            word = "approved" if deferral.approved else "refused"
            raise Refusal(f"{deferral.decided_by.name} {word} it on {day_named(deferral.decided_on or day)} already.")
        if approved:
            refused = schedule.refused(_turn(act, plan, deferral.turn), deferral.to_day, day)
            if refused:
                raise Refusal(refused)
            if proof is None:
                raise Refusal("Type your PIN or your password to sign.", field="proof")
            meaning = f"I approve that {plan.title} is put off to {day_named(deferral.to_day)}."
            told = [deferral.pk, deferral.turn, deferral.to_day, deferral.risk]
            sign(act, site=plan.site, person=by, proof=proof, meaning=meaning, digest=digest(told))
        act.close(
            deferral,
            decided_at=act.at,
            decided_on=day,
            decided_by=by,
            approved=approved,
            refused_because=None if approved else because.strip(),
        )
        if approved:
            rewrite_due(act, plan)
        facts = {"approved": approved, "to": deferral.to_day, "because": because.strip()}
        act.write("deferral.decided", subject=plan, facts=facts)
    return deferral
