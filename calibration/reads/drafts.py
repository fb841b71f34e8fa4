"""What the page of a draft shows beside its fields: whose probe, what it moves, what is doubtful at which field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import QuerySet

from assets.models import Person, Position
from calibration.compute.method import Choice, Found
from calibration.compute.methods import METHODS, short_name
from calibration.models import Draft, Requirement
from calibration.reads.own_fields import is_test
from calibration.reads.sheet import Sheet, answers_in, fitted_at, typed_of
from calibration.reads.words import KIND_WORDS
from maintenance.models import Occurrence

SHAPES = {"refuse": "refused", "not valid": "notvalid", "ask": "asks", "remind": "asks"}
INKS = {"refuse": "bad", "not valid": "still", "ask": "", "remind": ""}


@dataclass(frozen=True, slots=True)
class Catch:
    """One sentence at a field, with the answers there are to it."""

    key: str
    field: str
    sentence: str
    shape: str
    ink: str
    choices: tuple[Choice, ...]
    chosen: str
    reason: str
    settled: bool
    again: bool


def catches_of(sheet: Sheet, draft: Draft) -> dict[str, tuple[Catch, ...]]:
    """Return every sentence by the field it stands at. What is merely still missing is said at the signature only."""
    found = [one for one in sheet.found if not (one.weight == "refuse" and not one.key.startswith("unread-"))]
    answers = answers_in(draft.typed.get("answers", {}))
    open_keys = {one.key for one in sheet.result.unanswered}
    grouped: dict[str, list[Catch]] = {}
    for one in found:
        answer = answers.get(one.key)
        current = answer is not None and (not answer.asked or answer.asked == one.sentence)
        choice = next((c for c in one.choices if answer is not None and current and c.code == answer.choice), None)
        grouped.setdefault(one.field, []).append(
            Catch(
                key=one.key,
                field=one.field,
                sentence=one.sentence,
                shape=SHAPES[one.weight],
                ink=INKS[one.weight],
                choices=one.choices,
                chosen=choice.code if choice is not None else "",
                reason=answer.reason if answer is not None and current else "",
                settled=one.weight == "ask" and one.key not in open_keys,
                again=choice is not None and choice.then == "write again",
            )
        )
    return {field: tuple(catches) for field, catches in grouped.items()}


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the record."""

    word: str
    done: bool
    now: bool


@dataclass(frozen=True, slots=True)
class About:
    """The title block of a draft."""

    title: str
    probe: str
    fitted_from: dt.datetime | None
    due: dt.date | None
    uses: tuple[str, ...]
    process: str
    stages: tuple[Stage, ...]
    corrects: int | None
    corrects_because: str
    check_number: int | None


def about(draft: Draft, at: dt.datetime) -> About:
    """Return what stands at the head of a draft."""
    requirement = draft.requirement
    fitting = fitted_at(requirement.position, at)
    typed = typed_of(draft)
    return About(
        title=title_of(draft),
        probe=str(fitting.asset) if fitting is not None else "",
        fitted_from=fitting.from_at if fitting is not None else None,
        due=due_of(requirement.plan_id),
        uses=all_uses(requirement.position),
        process=_process(draft.typed.get("carried", {}) or typed),
        stages=_stages(draft),
        corrects=draft.corrects.number if draft.corrects is not None else None,
        corrects_because=draft.typed.get("corrects_because", ""),
        check_number=draft.check_begun.number if draft.check_begun is not None else None,
    )


def title_of(draft: Draft) -> str:
    """Return what a draft is called: the method, and which set."""
    method = METHODS[draft.requirement.method]
    name = "Check pH" if method.code == "ph" else short_name(method)
    return name if is_test(method) else f"{name}: {KIND_WORDS[draft.stage].lower()}"


def others_begun(requirement: Requirement, person: Person) -> QuerySet[Draft]:
    """Return the sets that other people have begun here and not signed, the oldest first."""
    drafts = Draft.objects.filter(requirement=requirement).exclude(person=person)
    return drafts.select_related("person").order_by("begun_at", "pk")


def due_of(plan_id: int | None) -> dt.date | None:
    """Return the day the next turn of a routine is due; None without a routine or an open turn."""
    if plan_id is None:
        return None
    return Occurrence.objects.open().filter(plan_id=plan_id).order_by("due").values_list("due", flat=True).first()


def all_uses(position: Position) -> tuple[str, ...]:
    """Return all that depends on a signal, in words."""
    return tuple(f"{use.use} {use.on}" for use in position.uses.now().select_related("target"))


def _process(typed: Mapping[str, str]) -> str:
    shown, degrees = typed.get("process_shown", ""), typed.get("process_temperature", "")
    return ", ".join(part for part in (f"pH {shown}" if shown else "", f"{degrees} °C" if degrees else "") if part)


def _stages(draft: Draft) -> tuple[Stage, ...]:
    signed = set(draft.check_begun.sets.values_list("kind", flat=True)) if draft.check_begun is not None else set()
    stages = METHODS[draft.requirement.method].stages
    if len(stages) == 1:
        return (Stage("Test", done=False, now=True),)
    shown = [
        kind
        for kind in KIND_WORDS
        if kind in stages and (kind != "confirming" or kind in signed or draft.stage == kind)
    ]
    return tuple(Stage(KIND_WORDS[kind], kind in signed, kind == draft.stage) for kind in shown)


@dataclass(frozen=True, slots=True)
class Beside:
    """A field that differs between this draft and its other version."""

    field: str
    label: str
    here: str
    there: str


def differences(
    labels: Iterable[tuple[str, str]], here: Mapping[str, str], there: Mapping[str, str], lots: Mapping[str, str]
) -> tuple[Beside, ...]:
    """Return the fields whose text differs between two versions; lots are named by their numbers."""

    def said(name: str, text: str) -> str:
        return lots.get(text, text)

    return tuple(
        Beside(name, label, said(name, here.get(name, "")), said(name, there.get(name, "")))
        for name, label in labels
        if here.get(name, "") != there.get(name, "")
    )


def general(catches: Mapping[str, tuple[Catch, ...]], shown: Iterable[str]) -> tuple[Catch, ...]:
    """Return the sentences whose field is not on this page."""
    on_page = set(shown)
    return tuple(catch for field, group in catches.items() if field not in on_page for catch in group)


def missing_words(found: Iterable[Found]) -> tuple[Found, ...]:
    """Return what is still missing, for the count beside the result."""
    return tuple(one for one in found if one.weight == "refuse")
