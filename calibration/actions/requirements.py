"""What a position is checked by: its method, limits and rule, from a day on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from assets import history
from assets.compute.canonical import canonical
from assets.compute.numbers import NotANumber, normal_text, read_number
from assets.errors import Reason, Refusal
from assets.history import Act
from assets.models import Person, Position
from assets.permissions import SUPERVISORS, must_have_role
from calibration.compute.figures import plain, sentence_case
from calibration.compute.methods import METHODS
from calibration.models import Requirement, RequirementTerm
from calibration.reads.fitting import OF_MACHINES
from maintenance.models import Plan

TAGS = ("standard", "common practice", "from memory", "own judgement", "site setting")


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitTyped:
    """One limit as typed, either side may be empty, with where it comes from."""

    low: str
    high: str
    unit: str
    source: str
    tag: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TermsTyped:
    """Limits and rule from a day on. `working_value`: where the error is judged when the process shows nothing."""

    limits: Mapping[str, LimitTyped]
    from_day: dt.date
    source: str
    rule: str = "plain"
    uncertainty: str = ""
    uncertainty_source: str = ""
    working_value: str = ""
    slope_sign: str = "falling"
    settings: Mapping[str, str] = field(default_factory=dict)


def set_requirement(
    *, position: Position, method: str, terms: TermsTyped, plan: Plan | None, by: Person
) -> Requirement:
    """Say by which method and limits a position is checked, and which routine asks for it (none: on demand)."""
    must_have_role(by, position.site, SUPERVISORS, to="set what a tag is checked by")
    reasons = [*_place_faults(position, method, plan), *_term_faults(method, terms, position.site.decimal_mark)]
    if reasons:
        raise Refusal(reasons)
    with history.act(site=position.site, by=by) as act:
        row = act.add(Requirement(site=position.site, position=position, method=method, plan=plan))
        _add_term(act, row, terms, why="", by=by)
        act.write("requirement.set", subject=row, facts={"method": method, "from": terms.from_day})
    return row


def change_requirement(*, requirement: Requirement, terms: TermsTyped, why: str, by: Person) -> RequirementTerm:
    """Change limits or rule from a day on, with the reason; what was judged before stays as it was judged."""
    must_have_role(by, requirement.site, SUPERVISORS, to="change what a tag is checked by")
    reasons = _term_faults(requirement.method, terms, requirement.site.decimal_mark)
    if not why.strip():
        reasons.append(Reason("Reason of the change: nothing is written. Say why the limits change.", "why"))
    if reasons:
        raise Refusal(reasons)
    with history.act(site=requirement.site, by=by) as act:
        row = _add_term(act, requirement, terms, why=why, by=by)
        act.write("requirement.changed", subject=requirement, facts={"why": why, "from": terms.from_day})
    return row


def link_routine(*, requirement: Requirement, plan: Plan | None, by: Person) -> Requirement:
    """Let a routine ask for a requirement's check, or none."""
    must_have_role(by, requirement.site, SUPERVISORS, to="say which routine asks for a check")
    reasons = _plan_faults(requirement.position, plan)
    if reasons:
        raise Refusal(reasons)
    with history.act(site=requirement.site, by=by) as act:
        act.change(requirement, expect={"plan": requirement.plan_id}, plan=plan)
        act.write("requirement.linked", subject=requirement, facts={"routine": plan.title if plan else ""})
    return requirement


def _add_term(act: Act, requirement: Requirement, terms: TermsTyped, *, why: str, by: Person) -> RequirementTerm:
    kept = {name: normal_text(text) for name, text in terms.settings.items() if text.strip()}
    limits = {
        name: {
            "low": normal_text(limit.low),
            "high": normal_text(limit.high),
            "unit": limit.unit,
            "source": limit.source.strip(),
            "tag": limit.tag,
        }
        for name, limit in terms.limits.items()
    }
    return act.add(
        RequirementTerm(
            requirement=requirement,
            limits=canonical(limits),
            rule=terms.rule,
            uncertainty=terms.uncertainty.strip(),
            uncertainty_source=terms.uncertainty_source.strip(),
            working_value=terms.working_value.strip(),
            slope_sign=terms.slope_sign,
            settings=canonical(kept) if kept else "",
            source=terms.source.strip(),
            why=why.strip(),
            from_day=terms.from_day,
            recorded_at=act.at,
            recorded_by=by,
        )
    )


def _place_faults(position: Position, method: str, plan: Plan | None) -> list[Reason]:
    reasons: list[Reason] = []
    if method not in METHODS:
        reasons.append(Reason(f"Method: there is none called “{method}”.", "method"))
    elif not position.measures and method not in OF_MACHINES:
        reasons.append(Reason(f"{position.tag} measures nothing, so there is nothing to check there.", "method"))
    if position.retired_at is not None:
        reasons.append(Reason(f"{position.tag} is retired; a retired tag is not checked."))
    return reasons + _plan_faults(position, plan)


def _plan_faults(position: Position, plan: Plan | None) -> list[Reason]:
    if plan is None:
        return []
    if plan.position_id != position.pk or plan.kind not in {"calibrate", "verify"}:
        sentence = f"Routine: “{plan.title}” is no calibration or verification of {position.tag}; choose one that is."
        return [Reason(sentence, "plan")]
    if plan.retired_at is not None:
        return [Reason(f"Routine: “{plan.title}” is retired; choose one in force.", "plan")]
    return []


def _term_faults(method: str, terms: TermsTyped, mark: str) -> list[Reason]:
    reasons: list[Reason] = []
    if method not in METHODS:
        return reasons
    wanted = {limit.name: limit.what for limit in METHODS[method].limits}
    for name, what in wanted.items():
        if name not in terms.limits:
            reasons.append(Reason(f"{what}: no limit is written.", f"{name}_high"))
    own = {limit.name for limit in METHODS[method].limits if callable(limit.low) or callable(limit.high)}
    own |= {limit.name for limit in METHODS[method].limits if limit.low is None and limit.high is None}
    for name, limit in terms.limits.items():
        reasons.extend(_limit_faults(name, wanted.get(name, name), limit, mark, may_be_open=name in own))
    reasons.extend(_setting_faults(method, terms, mark))
    reasons.extend(_number_fault("uncertainty", "Uncertainty", terms.uncertainty, mark))
    reasons.extend(_number_fault("working_value", "Working value", terms.working_value, mark))
    budget = METHODS[method].budget is not None
    if terms.rule == "guarded" and not terms.uncertainty_source.strip():
        sentence = "Rule: guarded by the uncertainty says where that comes from."
        reasons.append(Reason(sentence, "uncertainty_source"))
    if terms.rule == "guarded" and not terms.uncertainty.strip() and not budget:
        sentence = "Rule: guarded by the uncertainty needs one that is stated, with where it comes from."
        reasons.append(Reason(sentence, "uncertainty"))
    if not terms.source.strip():
        reasons.append(Reason("Where the limits come from: nothing is written.", "source"))
    return reasons


def _limit_faults(name: str, what: str, limit: LimitTyped, mark: str, *, may_be_open: bool) -> Iterator[Reason]:
    faults = [
        *_number_fault(f"{name}_low", f"{what}, lowest", limit.low, mark),
        *_number_fault(f"{name}_high", f"{what}, highest", limit.high, mark),
    ]
    yield from faults
    if not may_be_open and not limit.low.strip() and not limit.high.strip():
        yield Reason(f"{what}: neither a lowest nor a highest value is written.", f"{name}_high")
    both = not faults and limit.low.strip() and limit.high.strip()
    if both and read_number(limit.low, decimal_mark=mark) > read_number(limit.high, decimal_mark=mark):
        yield Reason(f"{what}: the lowest, {limit.low}, is above the highest, {limit.high}.", f"{name}_low")
    if not limit.source.strip() or limit.tag not in TAGS:
        sentence = f"{what}: say where the limit comes from, and whether it is a standard, common practice or memory."
        yield Reason(sentence, f"{name}_source")


def _setting_faults(method: str, terms: TermsTyped, mark: str) -> Iterator[Reason]:
    """Refuse what the method must know of the place and is empty, unreadable or impossible."""
    for ask in METHODS[method].settings:
        text = terms.settings.get(ask.name, "").strip()
        name, words = f"setting_{ask.name}", sentence_case(ask.label)
        if not text:
            if ask.must:
                yield Reason(f"{words}: nothing is written. Without it the check has no value.", name)
            continue
        if ask.kind == "choice" and text not in {code for code, _ in ask.choices}:
            yield Reason(f"{words}: “{text}” is not one of the choices.", name)
        if ask.kind != "number":
            continue
        faults = _number_fault(name, words, text, mark)
        yield from faults
        if faults:
            continue
        value = read_number(text, decimal_mark=mark)
        if (ask.low is not None and value < ask.low) or (ask.high is not None and value > ask.high):
            low, high = (plain(edge) if edge is not None else "any" for edge in (ask.low, ask.high))
            yield Reason(f"{words}: “{text}” cannot be; write a number from {low} to {high}.", name)


def _number_fault(field: str, words: str, text: str, mark: str) -> list[Reason]:
    if not text.strip():
        return []
    try:
        value = read_number(text, decimal_mark=mark)
    except NotANumber as wrong:
        return [Reason(f"{words}: {wrong}", field)]
    if field == "uncertainty" and value <= 0:
        return [Reason(f"{words}: “{text}” is not above zero; write the expanded uncertainty, like 0.03.", field)]
    return []
