"""Drafts: begun, kept as they are typed, put aside. They are scratch paper: what is signed from them is the record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assets import history
from assets.errors import Refusal, Stale
from assets.history import Act
from assets.models import Person
from assets.permissions import OPERATORS, must_have_role
from calibration.compute.method import AnyMethod
from calibration.compute.methods import METHODS
from calibration.compute.standards import why_unfit
from calibration.compute.typed import fields_for
from calibration.models import Check, Draft, ReadingSet, Requirement
from calibration.reads.known import term_in_force
from calibration.reads.sheet import FAILING, shape_of_draft
from calibration.reads.standards import standards_at
from calibration.reads.stored import typed_of

HOLD = ("hold", "hold_on_at", "hold_by", "hold_note")


def begin_draft(*, requirement: Requirement, by: Person, stage: str = "as found", check: Check | None = None) -> Draft:
    """Begin a reading set, or go on with the one the person has begun already.

    as found begins a new check; confirming and as left belong to a `check` that has its as found.
    """
    must_have_role(by, requirement.site, OPERATORS, to="make a check")
    if check is None and stage != "as found":
        raise Refusal(f"A check begins with as found; “{stage}” belongs to a check whose as found is signed.")
    later = METHODS[requirement.method].stages[1:]
    if check is not None and (stage not in later or check.requirement_id != requirement.pk):
        raise Refusal(f"“{stage}” is no part to go on with in check {check.number} of {requirement.position.tag}.")
    with history.act(site=requirement.site, by=by) as act:
        there = Draft.objects.filter(requirement=requirement, person=by).first()
        if there is not None:
            return _same_or_refuse(there, stage, check)
        _refuse_place(act, requirement)
        typed = _first_fields(act, requirement) if check is None else _next_fields(check, stage)
        draft = _add(act, requirement, by, stage, check, None, typed)
        act.write("check.begun", subject=requirement, facts={"stage": stage})
    return draft


def _same_or_refuse(there: Draft, stage: str, check: Check | None) -> Draft:
    begun = check.pk if check is not None else None
    if (there.stage, there.check_begun_id) == (stage, begun) and there.corrects_id is None:
        return there
    raise Refusal(
        f"You have begun {there.stage} at {there.requirement.position.tag} already and not signed it. "
        "Go on with it, or put it aside, before you begin another set there."
    )


def _refuse_place(act: Act, requirement: Requirement) -> None:
    position = requirement.position
    if position.retired_at is not None:
        raise Refusal(f"{position.tag} is retired; a retired tag is not checked.")
    if term_in_force(requirement, act.at.astimezone(requirement.site.zone).date()) is None:
        raise Refusal(f"No limits are in force at {position.tag} today. A supervisor sets them first.")


def _add(
    act: Act,
    requirement: Requirement,
    by: Person,
    stage: str,
    check: Check | None,
    corrects: Check | None,
    typed: Mapping[str, Any],
) -> Draft:
    return act.add(
        Draft(
            site=requirement.site,
            requirement=requirement,
            person=by,
            check_begun=check,
            stage=stage,
            corrects=corrects,
            typed=shape_of_draft(typed),
            begun_at=act.at,
            saved_at=act.at,
        )
    )


def _typed_sets(check: Check) -> dict[str, ReadingSet]:
    """Return the signed sets of a check by their kind, with what was typed in them and their outcome."""
    rows = check.sets.select_related("outcome", "check_of").prefetch_related("points", "entries")
    return {one.kind: one for one in rows}


def _first_fields(act: Act, requirement: Requirement) -> dict[str, Any]:
    """Fill in the lots of the last check here, where they may still be used; never a reading."""
    last = Check.objects.filter(requirement=requirement).order_by("-begun_at", "-pk").first()
    sets = _typed_sets(last) if last is not None else {}
    today = act.at.astimezone(requirement.site.zone).date()
    method = METHODS[requirement.method]
    # Where as found was lost, its lots were written as left.
    usual = _lots(method, sets.get("as found")) or _lots(method, sets.get("as left"))
    there = standards_at(requirement.site, today, keys=set(usual.values()))
    lots = {name: key for name, key in usual.items() if key in there and not why_unfit(there[key], today)}
    return {"fields": lots}


def _lots(method: AnyMethod, of: ReadingSet | None) -> dict[str, str]:
    """Return the standards of a set by the field they were chosen in; at a pH probe those of the line only."""
    if of is None:
        return {}
    names = {one.name for one in fields_for(method, "as found") if one.ask.kind == "standard"}
    if method.code == "ph":
        names &= {"point1_lot", "point2_lot"}
    return {name: text for name, text in typed_of(of).items() if name in names}


def _next_fields(check: Check, stage: str) -> dict[str, Any]:
    """Carry the process and the hold over from as found; for as left the lots too, for they are read again."""
    sets = _typed_sets(check)
    _refuse_stage(check, sets, stage)
    before = typed_of(sets["as found"])
    fields = {name: before[name] for name in HOLD if name in before}
    method = METHODS[check.method]
    if stage == "as left":
        fields |= _lots(method, sets["as found"]) | _corrected_fields(check)
    return {"fields": fields, "carried": {name: before[name] for name in method.carried if name in before}}


def _corrected_fields(check: Check) -> dict[str, str]:
    """Take over what was typed as left in the check that this one corrects: a correction changes what was wrong."""
    if check.replaces is None:
        return {}
    old = _typed_sets(check.replaces)
    return {name: text for name, text in typed_of(old["as left"]).items()} if "as left" in old else {}


def _refuse_stage(check: Check, sets: Mapping[str, ReadingSet], stage: str) -> None:
    if Check.objects.filter(replaces=check).exists():
        raise Refusal(f"Check {check.number} has been corrected by a later one; go on with that.")
    if "as found" not in sets:
        raise Refusal(f"Check {check.number} has no as found yet.")
    if stage in sets:
        raise Refusal(f"This part of check {check.number} is signed already; correct it by a new check.")
    if "as left" in sets:
        raise Refusal(f"Check {check.number} is finished: as left is signed. Begin a new check.")
    if stage == "confirming" and getattr(sets["as found"], "outcome", None) is None:
        raise Refusal(f"As found of check {check.number} is lost, so there is nothing to confirm.")
    if stage == "confirming" and sets["as found"].outcome.verdict not in FAILING:
        raise Refusal(f"As found of check {check.number} did not fail, so there is nothing to confirm.")


def begin_correction(*, check: Check, why: str, by: Person) -> Draft:
    """Begin a new check that will replace a signed one, with what was typed there; both stay."""
    must_have_role(by, check.site, OPERATORS, to="correct a check")
    if not why.strip():
        raise Refusal("What was wrong: nothing is written. Say what is wrong with the signed check.", field="why")
    with history.act(site=check.site, by=by) as act:
        if Check.objects.filter(replaces=check).exists():
            raise Refusal(f"Check {check.number} has been corrected already; correct the newest one.")
        if Draft.objects.filter(requirement=check.requirement, person=by).exists():
            raise Refusal("You have begun a check here that is not signed; finish it or put it aside first.")
        sets = _typed_sets(check)
        fields = typed_of(sets["as found"])
        if "as left" in sets and sets["as left"].same_as_found:
            fields |= {name: text for name, text in typed_of(sets["as left"]).items() if name.startswith("hold")}
        typed = {"fields": fields, "corrects_because": why.strip()[:200]}
        draft = _add(act, check.requirement, by, "as found", None, check, typed)
        act.write("check.correction_begun", subject=check, facts={"why": why.strip()})
    return draft


def keep_draft(
    *,
    draft: Draft,
    fields: Mapping[str, str],
    answers: Mapping[str, Mapping[str, str]],
    version: int,
    settles: bool,
    by: Person,
) -> Draft:
    """Keep what is typed so far.

    Raises Stale when another device has saved since the page was opened: nothing is overwritten, and what was typed
    here is kept beside it. `settles`: the person has seen both and keeps what stands in the boxes.
    """
    with history.act(site=draft.site, by=by) as act:
        mine = Draft.objects.filter(pk=draft.pk, person=by).select_related("requirement__position", "site")
        row = mine.select_for_update(of=("self",)).first()  # a twin of this form is waited for, then looked at
        if row is None:
            raise Stale("This draft was signed or put aside on another device. What you typed stands in the boxes.")
        typed = shape_of_draft(row.typed)
        same = typed["fields"] == dict(fields) and typed["answers"] == {k: dict(v) for k, v in answers.items()}
        stale = row.version != version and not same
        now = act.at.isoformat()
        if stale:
            beside = {"fields": dict(fields), "saved_at": now, "whose": "this device"}
            act.change(row, typed={**typed, "beside": beside})
        elif not same or row.first_saved_at is None:
            # Once: later saves of the same page must not put its own earlier text in the other version's place.
            if settles and (typed["beside"] or {}).get("whose") != "the other device":
                beside = {"fields": typed["fields"], "saved_at": row.saved_at.isoformat(), "whose": "the other device"}
                typed = {**typed, "beside": beside}
            new = {**typed, "fields": dict(fields), "answers": {key: dict(one) for key, one in answers.items()}}
            act.change(
                row,
                expect={"version": row.version},
                typed=new,
                version=row.version + 1,
                first_saved_at=row.first_saved_at or act.at,
                saved_at=act.at,
            )
    if stale:
        raise Stale(
            "Another device has saved this draft since the page was opened. Nothing was overwritten: what you typed "
            "stands in the boxes, what was saved there stands beside each box that differs."
        )
    return row


def discard_draft(*, draft: Draft, by: Person) -> None:
    """Put a draft aside for good; what was typed in it goes into the history, so that nothing is lost."""
    if draft.person_id != by.pk:
        raise Refusal("This draft is another person's.")
    with history.act(site=draft.site, by=by) as act:
        typed = shape_of_draft(draft.typed)
        found, _ = Draft.objects.filter(pk=draft.pk, person=by, version=draft.version).delete()
        if not found:
            raise Stale("This draft was saved or signed on another device meanwhile; look again.")
        facts = {"stage": draft.stage, "typed": typed["fields"]}
        act.write("draft.put_aside", subject=draft.requirement, facts=facts)
