"""A reading set while it is written: what it comes to, what is asked, and what stands in the way of a signature."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from assets.errors import Reason
from assets.models import Asset, Fitting, Position
from calibration.compute.method import Answer, AnyMethod, Found, Known
from calibration.compute.methods import METHODS
from calibration.compute.typed import fields_for, read_fields
from calibration.compute.verdict import Outcome as Result
from calibration.compute.verdict import judge
from calibration.models import Check, Draft, Figure, ReadingSet, Requirement, RequirementTerm
from calibration.reads.known import known_for, term_in_force
from calibration.reads.own_fields import (
    clock_faults,
    hold_still_on,
    hold_without_time,
    is_test,
    last_stage,
    read_own,
    refuse,
)
from calibration.reads.stored import AnyInputs, as_left_unchanged, inputs_of, key_of

FAILING = frozenset({"fail", "conditional fail"})
PASSING = frozenset({"pass", "conditional pass"})


@dataclass(frozen=True, slots=True)
class Sheet:
    """A set as typed so far. `left` is the as left that needs no reading again, when nothing was done."""

    method: AnyMethod
    stage: str
    typed: Mapping[str, str]
    inputs: AnyInputs
    known: Known
    term: RequirementTerm
    fitting: Fitting | None
    result: Result
    left: Result | None
    own: tuple[Found, ...]

    @property
    def lost(self) -> str:
        """Why there are no readings as found; empty when there are."""
        return self.typed.get("lost_because", "").strip() if self.stage == "as found" else ""

    @property
    def found(self) -> tuple[Found, ...]:
        """Everything wrong or doubtful, in the order of the method."""
        return self.own if self.lost else self.result.found + self.own

    @property
    def unread(self) -> tuple[Found, ...]:
        """What was typed and cannot be read: said at once, not only at the signature."""
        return tuple(one for one in self.found if one.key.startswith("unread-"))

    @property
    def in_the_way(self) -> tuple[Found, ...]:
        """What must be mended or answered before anyone can sign."""
        if self.lost:
            return self.own
        asked = () if self.result.because else self.result.unanswered
        return self.result.missing + self.own + asked

    @property
    def signs_as_left(self) -> bool:
        """Whether one signature covers as left too: nothing was done, and as found is good."""
        return self.left is not None and self.result.verdict in PASSING


def typed_of(draft: Draft) -> dict[str, str]:
    """Return the fields of a draft, with those carried over from the sets before it."""
    return {**draft.typed.get("carried", {}), **draft.typed.get("fields", {})}


def answers_in(kept: Mapping[str, Mapping[str, str]]) -> dict[str, Answer]:
    """Return kept answers as the method reads them."""
    return {
        key: Answer(choice=one.get("choice", ""), reason=one.get("reason", ""), asked=one.get("asked", ""))
        for key, one in kept.items()
    }


def fitted_at(position: Position, moment: dt.datetime) -> Fitting | None:
    """Return the fitting in force at a position at a moment."""
    return Fitting.objects.on(moment).filter(position=position).select_related("asset").first()


def last_figure(requirement: Requirement, asset: Asset | None, name: str) -> Fraction | None:
    """Return a figure as left of the newest check of the same instrument; None when there is none."""
    if asset is None:
        return None
    row = (
        Figure.objects.filter(
            name=name,
            outcome__valid=True,
            outcome__set__kind="as left",
            outcome__set__check_of__requirement=requirement,
            outcome__set__check_of__asset=asset,
            outcome__set__check_of__replaced_by__isnull=True,
        )
        .order_by("-outcome__set__performed_at")
        .values_list("exact", flat=True)
        .first()
    )
    return None if row is None else Fraction(row)


def figure_of(check: Check, name: str) -> Fraction | None:
    """Return a figure as the newest valid set of a check worked it out."""
    row = (
        Figure.objects.filter(name=name, outcome__valid=True, outcome__set__check_of=check)
        .order_by("-outcome__set__pk")
        .values_list("exact", flat=True)
        .first()
    )
    return None if row is None else Fraction(row)


def last_figures(draft: Draft, fitting: Fitting | None) -> dict[str, Fraction]:
    """Return figures of earlier sets that a method may fall back on.

    As left: those of this very check; else those as left of the last check of the same instrument.
    """
    asset = fitting.asset if fitting else None
    check = draft.check_begun if draft.stage == "as left" else None
    named = {}
    for one in METHODS[draft.requirement.method].recalls:
        if one.of_this_check and check is not None:
            named[one.name] = figure_of(check, one.figure)
        elif not one.of_this_check:
            named[one.name] = last_figure(draft.requirement, asset, one.figure)
    return {name: value for name, value in named.items() if value is not None}


def sheet_of(draft: Draft, *, at: dt.datetime) -> Sheet | None:
    """Return what a draft comes to if read at a moment; None when no limits are in force on that day."""
    day = at.astimezone(draft.site.zone).date()
    term = term_in_force(draft.requirement, day)
    if term is None:
        return None
    method, stage = METHODS[draft.requirement.method], draft.stage
    typed = typed_of(draft)
    fitting = fitted_at(draft.requirement.position, at)
    last, asset = last_figures(draft, fitting), fitting.asset if fitting else None
    keys = keys_in(method, typed)
    known = known_for(draft.requirement, term, day=day, last=last, keys=keys, asset=asset, at=at)
    inputs = _inputs(draft, method, typed)
    result = judge(method, inputs, known)
    left = None
    if stage == "as found" and not is_test(method) and typed.get("next") == "nothing":
        left = judge(method, as_left_unchanged(inputs), known)
    own = _own_faults(draft, typed, result, left, at=at)
    return Sheet(
        method=method,
        stage=stage,
        typed=typed,
        inputs=inputs,
        known=known,
        term=term,
        fitting=fitting,
        result=result,
        left=left,
        own=tuple(own),
    )


def keys_in(method: AnyMethod, typed: Mapping[str, str]) -> frozenset[str]:
    """Return the keys of the standards that a set names."""
    stages = {one.name: one for stage in method.stages for one in fields_for(method, stage)}
    return frozenset(text for name, text in typed.items() if name in stages and stages[name].ask.kind == "standard")


def _inputs(draft: Draft, method: AnyMethod, typed: Mapping[str, str]) -> AnyInputs:
    stage = draft.stage
    answers = answers_in(draft.typed.get("answers", {}))
    mark = draft.site.decimal_mark
    unchanged = stage == "as left" and typed.get("done") == "nothing"
    before = last_set(draft) if unchanged else None
    if before is not None and not before.lost_because:
        base = inputs_of(before, decimal_mark=mark)
        return as_left_unchanged(replace(base, answers={**base.answers, **answers}))
    read: AnyInputs = method.read(read_fields(fields_for(method, stage), typed, decimal_mark=mark), stage, answers)
    return read


def last_set(draft: Draft) -> ReadingSet | None:
    """Return the set that as left falls back on when nothing was done: the second buffer, else as found."""
    if draft.check_begun is None:
        return None
    sets = {one.kind: one for one in sets_of(draft.check_begun)}
    return sets.get("confirming") or sets.get("as found")


def sets_of(check: Check) -> list[ReadingSet]:
    """Return the signed sets of a check with all that is kept of them."""
    return list(
        check.sets.select_related("outcome", "signature", "recorded_by", "check_of").prefetch_related(
            "points__lot",
            "points__reference",
            "entries",
            "answers",
            "outcome__figures",
            "check_of__sets__points",
            "check_of__sets__entries",
        )
    )


def _own_faults(
    draft: Draft, typed: Mapping[str, str], result: Result, left: Result | None, *, at: dt.datetime
) -> Iterator[Found]:
    stage, method = draft.stage, METHODS[draft.requirement.method]
    yield from read_own(method, stage, typed, decimal_mark=draft.site.decimal_mark).unread
    yield from clock_faults(typed, at=at.astimezone(draft.site.zone))
    yield from hold_without_time(typed)
    if stage == "as found" and not is_test(method):
        yield from _as_found_faults(method, typed)
    if stage == "as left":
        yield from _as_left_faults(draft, method, typed)
    if stage == "confirming":
        yield from _same_lots(draft, typed)
    if stage == last_stage(method) or (left is not None and result.verdict in PASSING):
        yield from hold_still_on(typed)


def _readings(method: AnyMethod, typed: Mapping[str, str]) -> list[str]:
    """Return the fields of readings that hold something, other than the standards chosen."""
    parts = {"as found", "reading set"} | ({"as left"} if method.by_point else set())
    fields = {
        one.name
        for stage in method.stages
        for one in fields_for(method, stage)
        if one.ask.part in parts and one.ask.kind != "standard" and (one.row or not method.by_point)
    }
    return [name for name, text in typed.items() if text and name in fields]


def _as_found_faults(method: AnyMethod, typed: Mapping[str, str]) -> Iterator[Found]:
    lost = typed.get("lost_because", "").strip()
    if lost and _readings(method, typed):
        sentence = (
            "As found is lost, because: a reason is written, but readings as found are too. Empty the one that is "
            "wrong; nothing is thrown away for you."
        )
        yield refuse("lost_because", sentence)
    if not lost and not typed.get("next"):
        yield refuse("next", "What comes next: nothing is chosen. Say whether it is cleaned or adjusted now.")
    if lost and typed.get("next") == "nothing":
        sentence = "What comes next: as found is lost, so as left must be read. Choose that it is read again."
        yield refuse("next", sentence)


def _as_left_faults(draft: Draft, method: AnyMethod, typed: Mapping[str, str]) -> Iterator[Found]:
    if not typed.get("done"):
        yield refuse("done", "What was done: nothing is chosen. Say whether it was cleaned, adjusted or neither.")
    if typed.get("done") != "nothing":
        return
    before = last_set(draft)
    if before is None or before.lost_because:
        yield refuse("done", "What was done: as found is lost, so as left must be read.")
    elif _readings(method, draft.typed.get("fields", {})):
        sentence = (
            "What was done: nothing was, so as left is as found; but readings as left are written. Empty them, or "
            "say what was done."
        )
        yield refuse("done", sentence)


def _same_lots(draft: Draft, typed: Mapping[str, str]) -> Iterator[Found]:
    """Refuse a second buffer from a bottle that as found was read in: it would confirm a bad bottle by itself."""
    before = last_set(draft)
    points = before.points.all() if before is not None else ()
    used = {key_of(point): point.lot.number for point in points if point.lot is not None}
    for name in ("point1_lot", "point2_lot", "point3_lot"):
        lot = typed.get(name, "")
        if lot in used:
            sentence = (
                f"Lot {used[lot]} was already used as found, so it confirms nothing. Read the second buffer from "
                "another lot."
            )
            yield refuse(name, sentence)


def reasons_of(found: Iterable[Found]) -> list[Reason]:
    """Return what was found as reasons, each with its field."""
    return [Reason(one.sentence, one.field) for one in found]


def shape_of_draft(typed: Mapping[str, Any]) -> dict[str, Any]:
    """Return a draft's content with every part there."""
    empty: dict[str, Any] = {"fields": {}, "answers": {}, "carried": {}, "beside": None, "corrects_because": ""}
    return {**empty, **typed}


__all__ = [
    "FAILING",
    "PASSING",
    "Sheet",
    "answers_in",
    "fitted_at",
    "figure_of",
    "last_set",
    "reasons_of",
    "sets_of",
    "shape_of_draft",
    "sheet_of",
    "typed_of",
]
