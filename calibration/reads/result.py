"""The page of a signed check: its sets as stored, what to do next, what it led to, whether today's code agrees."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from assets.compute.words import day_named
from assets.models import Person
from calibration.compute.methods import METHODS
from calibration.models import Check, CheckReview, Draft, Outcome, ReadingSet
from calibration.reads.consequences import key_of
from calibration.reads.content import digest_of, stored_rows
from calibration.reads.orders import order_of
from calibration.reads.own_fields import is_test, last_stage
from calibration.reads.sheet import FAILING, PASSING, sets_of
from calibration.reads.stored import agrees, read_lot, worked_again
from calibration.reads.told import Told, told_stored
from calibration.reads.trend import Trend, trend_of
from calibration.reads.words import KIND_WORDS, State, state_of
from calibration.reads.written import Written, written_in
from maintenance.models import Performance, WorkOrder

WORDS = {
    "hold": "Hold",
    "hold_on_at": "put on at",
    "hold_off_at": "taken off at",
    "hold_by": "by",
    "hold_note": "kept still by",
    "process_shown": "Display in the process",
    "process_temperature": "Process",
    "cleaned_with": "Cleaned with",
    "own_slope": "Transmitter's own slope",
    "own_zero": "Transmitter's own zero",
    "grab_ph": "Grab after return",
    "grab_temperature": "Grab",
    "grab_shown": "Display at the grab",
}
CHOSEN = {
    "hold": {"on": "on hold", "off": "not on hold"},
    "done": {"cleaned": "cleaned", "adjusted": "adjusted", "both": "cleaned and adjusted", "nothing": "nothing"},
}


@dataclass(frozen=True, slots=True)
class PointRow:
    """One buffer of a set as it was read."""

    name: str
    lot: str
    lot_url: str
    dates: str
    temperature: str
    worth: str
    mv: str
    shown: str
    error: str
    seconds: str
    steady: str


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """A question that was asked and how it was answered."""

    sentence: str
    answer: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SetView:
    """One signed set."""

    kind: str
    word: str
    state: State
    told: Told | None
    points: tuple[PointRow, ...]
    written: Written | None
    notes: tuple[tuple[str, str], ...]
    done: str
    answers: tuple[AnswerRow, ...]
    lost_because: str
    same_as_found: bool
    performed_at: dt.datetime
    recorded_at: dt.datetime
    late_because: str
    signed_by: str
    meaning: str
    signed_at: dt.datetime
    digest: str
    digest_holds: bool
    version: str
    libraries: str
    code_agrees: bool


@dataclass(frozen=True, slots=True)
class Next:
    """The one next action: its words, why, and what it begins ('' = nothing is left to do)."""

    title: str
    why: str
    button: str = ""
    stage: str = ""
    other_button: str = ""
    other_stage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultPage:
    """Everything the page of a check shows."""

    check: Check
    sets: tuple[SetView, ...]
    last: SetView
    next: Next
    draft_url: str
    order: WorkOrder | None
    performance: Performance | None
    review: CheckReview | None
    replaced_by: Check | None
    trend: Trend | None
    due: dt.date | None


def result_page(check: Check, person: Person, *, due: dt.date | None) -> ResultPage:
    """Return a check for its page; `person` sees their own open draft of it."""
    rows = sets_of(check)
    views = tuple(_set_view(check, of) for of in rows)
    by_kind = {of.kind: of for of in rows}
    draft = Draft.objects.filter(check_begun=check, person=person).first()
    replaced_by: Check | None = getattr(check, "replaced_by", None)
    outcome = next((of.outcome for of in rows if hasattr(of, "outcome")), None)
    failed = _verdict(by_kind.get("as found")) in FAILING
    return ResultPage(
        check=check,
        sets=views,
        last=views[-1],
        next=_next(check, by_kind, replaced_by),
        draft_url=draft.get_absolute_url() if draft is not None else "",
        order=order_of(check) if failed else None,
        performance=Performance.objects.filter(key=key_of(check, last_stage(METHODS[check.method]))).first(),
        review=CheckReview.objects.filter(check_of=check).select_related("by", "signature").first(),
        replaced_by=replaced_by,
        trend=trend_of(check.requirement, check.begun_at, outcome.term, check.site.zone) if outcome else None,
        due=due,
    )


def _verdict(of: ReadingSet | None) -> str:
    outcome: Outcome | None = getattr(of, "outcome", None)
    if outcome is None:
        return ""
    return outcome.verdict if outcome.valid else "not valid"


def _next(check: Check, sets: Mapping[str, ReadingSet], replaced_by: Check | None) -> Next:
    if replaced_by is not None:
        return Next(f"Corrected by check {replaced_by.number}", f"Because: {replaced_by.replaces_because}")
    method = METHODS[check.method]
    if last_stage(method) in sets:
        return _after_the_last(_verdict(sets[last_stage(method)]), test=is_test(method))
    found = _verdict(sets.get("as found"))
    if found == "":
        return Next("Next: as left", "As found is lost. Read it as left.", "Go on to as left", "as left")
    if found == "not valid":
        why = "It is neither pass nor fail and puts nothing in doubt. If nothing was touched yet, read as found again."
        return Next("Next: read it again", why, "Begin a new check", "as found", "Go on to as left", "as left")
    if found in FAILING and "confirming" not in sets and "confirming" in method.stages:
        why = (
            "One bad buffer must not put weeks in doubt. Read the probe again in buffers from other lots before "
            "anything is cleaned or adjusted. Both results are kept."
        )
        return Next(
            "Next: a second buffer first", why, "Read the second buffer", "confirming", "Go on to as left", "as left"
        )
    why = "Clean and adjust as needed, then read it again."
    return Next("Next: as left", why, "Go on to as left", "as left")


def _after_the_last(verdict: str, *, test: bool) -> Next:
    if verdict in PASSING:
        good = "The test passed." if test else "As left is good."
        return Next("Done", f"{good} Nothing more is asked here.")
    why = "It fulfils nothing: the routine is still due. Clean, adjust, mend or replace, then check it again."
    return Next("Next: check it again", why, "Begin a new check", "as found")


def _set_view(check: Check, of: ReadingSet) -> SetView:
    outcome: Outcome | None = getattr(of, "outcome", None)
    entries = {entry.quantity: entry for entry in of.entries.all() if entry.point_id is None}
    return SetView(
        kind=of.kind,
        word=word_of(check.method, of.kind),
        state=state_of(of),
        told=told_stored(of, outcome) if outcome is not None else None,
        points=_points(of, outcome) if METHODS[check.method].by_point else (),
        written=None if METHODS[check.method].by_point else written_in(of, outcome),
        notes=tuple(
            (words, _note(name, entries[name].text, entries[name].unit))
            for name, words in WORDS.items()
            if name in entries
        ),
        done=CHOSEN["done"].get(entries["done"].text, "") if "done" in entries else "",
        answers=tuple(AnswerRow(one.sentence, one.answer, one.reason) for one in of.answers.all()),
        lost_because=of.lost_because,
        same_as_found=of.same_as_found,
        performed_at=of.performed_at,
        recorded_at=of.recorded_at,
        late_because=of.late_because,
        signed_by=of.recorded_by.name,
        meaning=of.signature.meaning,
        signed_at=of.signature.signed_at,
        digest=of.signature.digest,
        digest_holds=of.signature.digest == digest_of(check, stored_rows(of)),
        version=outcome.method_version if outcome is not None else "",
        libraries=outcome.libraries if outcome is not None else "",
        code_agrees=outcome is None or agrees(outcome, worked_again(of, outcome)),
    )


def _note(name: str, text: str, unit: str) -> str:
    said = CHOSEN.get(name, {}).get(text, text.replace("-", "\u2212") if unit else text)
    return f"{unit} {said}" if unit == "pH" else f"{said} {unit}".strip()


def word_of(method: str, kind: str) -> str:
    """Return what a set is called: of a test that nothing is read again after, simply the test."""
    return "Test" if is_test(METHODS[method]) and kind == "as found" else KIND_WORDS[kind]


def _points(of: ReadingSet, outcome: Outcome | None) -> tuple[PointRow, ...]:
    if outcome is None:
        return ()
    figures = {one.name: one.shown for one in outcome.figures.all()}
    typed: dict[int, dict[str, str]] = {}
    for entry in of.entries.all():
        if entry.point_id is not None:
            typed.setdefault(entry.point_id, {})[entry.quantity] = entry.text.replace("-", "\u2212")
    rows = []
    for number, point in enumerate(of.points.all(), 1):
        lot, own = read_lot(point.lot_copy), typed.get(point.pk, {})
        third = point.role == "third"
        true = "" if third else figures.get(f"true_{number}", "")
        rows.append(
            PointRow(
                name="Third buffer" if third else str(number),
                lot=f"pH {lot.nominal_text}, lot {lot.label}",
                lot_url=point.lot.get_absolute_url() if point.lot is not None else "",
                dates=f"to {day_named(lot.expires)}" if lot.expires is not None else "",
                temperature=own.get("temperature", ""),
                worth=true,
                mv=own.get("mv", ""),
                shown=own.get("shown", ""),
                error=figures.get("error_third" if third else f"error_{number}", ""),
                seconds=own.get("seconds", ""),
                steady=own.get("steady", ""),
            )
        )
    return tuple(rows)
