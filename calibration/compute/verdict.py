"""Judging: four outcomes with a guard band where the uncertainty is stated, two where it is not; validity apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from calibration.compute.asked import Record, written
from calibration.compute.budget import lines_together
from calibration.compute.figures import plain, sentence_case, shown
from calibration.compute.method import (
    VERDICTS,
    Answer,
    AnyMethod,
    Found,
    Inputs,
    Judged,
    Known,
    Line,
    Typed,
    Validity,
    Verdict,
    Worked,
)

if TYPE_CHECKING:
    from calibration.compute.budget import Budget


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a reading set comes to.

    `verdict` is None unless the set is valid; `would_be` is what the numbers alone say, for the page that is being
    typed. `because` are the sentences that make the set not valid. `unanswered` are the questions still open;
    `missing` is what must be mended before anyone can sign. `uncertainty_stated` is False for plain pass or fail.
    """

    method: str
    version: str
    kind: str
    validity: Validity
    because: tuple[str, ...]
    verdict: Verdict | None
    would_be: Verdict | None
    judged: tuple[tuple[Judged, Verdict], ...]
    worked: Worked
    found: tuple[Found, ...]
    unanswered: tuple[Found, ...]
    missing: tuple[Found, ...]
    uncertainty_stated: bool
    budgets: Mapping[str, Budget] = field(default_factory=dict)

    @property
    def can_be_signed(self) -> bool:
        """True when nothing is missing and every question is answered, or the set is not valid whatever is answered."""
        return not self.missing and (bool(self.because) or not self.unanswered)


def verdict_of(judged: Judged) -> Verdict:
    """Judge one value: limit included, unrounded.

    With the expanded uncertainty U stated: pass up to limit - U, conditional pass above that up to the limit,
    conditional fail above the limit up to limit + U, fail beyond. Without: pass or fail. ILAC-G8:09/2019, four
    outcomes; the guide leaves equality open, here the limit itself is inside. Raises ValueError for U < 0.
    """
    if isinstance(judged.value, bool):
        return "pass" if judged.value else "fail"
    uncertainty = judged.uncertainty or Fraction(0)
    if uncertainty < 0:
        raise ValueError(f"{judged.what}: an uncertainty cannot be negative; write it without a sign.")
    inside = min(
        (
            *((judged.value - judged.low,) if judged.low is not None else ()),
            *((judged.high - judged.value,) if judged.high is not None else ()),
        ),
        default=uncertainty,
    )
    if inside >= uncertainty:
        return "pass"
    if inside >= 0:
        return "conditional pass"
    return "conditional fail" if inside >= -uncertainty and uncertainty else "fail"


def worst(verdicts: tuple[Verdict, ...]) -> Verdict | None:
    """Return the worst of several verdicts, None of none."""
    return max(verdicts, key=VERDICTS.index, default=None)


def answer_to(found: Found, inputs: Inputs) -> Answer | None:
    """Return the answer that settles a question, or None.

    An answer counts when it names one of the choices, when it was given to this very sentence (a figure changed since
    asks anew), when it gives a reason if the value is to stand or to fail, and when it is not a promise to write again.
    """
    answer = inputs.answers.get(found.key)
    choice = next((one for one in found.choices if answer is not None and one.code == answer.choice), None)
    if answer is None or choice is None or choice.then == "write again":
        return None
    if answer.asked and answer.asked != found.sentence:
        return None
    if choice.then in {"stands", "fail"} and not answer.reason.strip():
        return None
    return answer


def _then(found: Found, inputs: Inputs) -> str:
    answer = answer_to(found, inputs)
    return "" if answer is None else next(one.then for one in found.choices if one.code == answer.choice)


def _falls(found: Found, inputs: Inputs) -> bool:
    return found.weight == "not valid" or (found.weight == "ask" and _then(found, inputs) == "not valid")


def _because(found: tuple[Found, ...], inputs: Inputs) -> tuple[str, ...]:
    """Return why the whole set is not valid: what cannot be, and what a person answered to a question."""
    whole = [one for one in found if not one.about]
    sure = [one.sentence for one in whole if one.weight == "not valid"]
    answered = [
        f"{next(c.label for c in one.choices if c.code == inputs.answers[one.key].choice)}. {one.sentence}"
        for one in whole
        if one.weight == "ask" and _then(one, inputs) == "not valid"
    ]
    return tuple(sure + answered)


def _validity(*, missing: bool, because: bool, unanswered: bool) -> Validity:
    if missing:
        return "incomplete"
    if because:
        return "not valid"
    return "asked" if unanswered else "valid"


def _failed_by_answer(found: tuple[Found, ...], inputs: Inputs) -> tuple[Judged, ...]:
    return tuple(
        Judged(
            name=one.key, what=one.sentence, value=False, unit="", of="", low=None, high=None, source="the answer given"
        )
        for one in found
        if one.weight == "ask" and _then(one, inputs) == "fail"
    )


def _converted(inputs: Inputs, worked: Worked) -> Worked:
    """Begin the working with what was typed in another unit than the one it is kept in."""
    lines = tuple(
        Line(
            text=sentence_case(one.ask.label),
            figures=f"{one.value.text} {one.value.unit}".replace("-", "−"),
            value=plain(one.value.value) if len(plain(one.value.value)) < 9 else shown(one.value.value, 4),
            unit=one.ask.units[0],
            source="converted",
        )
        for one in (written(inputs) if isinstance(inputs, Record) else ())
        if isinstance(one.value, Typed) and one.value.converted
    )
    return replace(worked, lines=lines + worked.lines) if lines else worked


def _with_budgets(worked: Worked, budgets: Mapping[str, Budget], *, guarded: bool) -> Worked:
    """Add the lines of the budgets; where the requirement guards, they count for what states no uncertainty itself."""
    if not budgets:
        return worked
    judged = tuple(
        replace(one, uncertainty=budgets[one.name].expanded)
        if guarded and one.uncertainty is None and one.name in budgets
        else one
        for one in worked.judged
    )
    return replace(worked, judged=judged, lines=worked.lines + lines_together(budgets.values()))


def judge(method: AnyMethod, inputs: Inputs, known: Known) -> Outcome:
    """Work a reading set out, find what is wrong with it, and judge it: the one door to a method's result."""
    worked = _converted(inputs, method.work(inputs, known))
    budgets = method.budget(inputs, known, worked) if method.budget is not None else {}
    worked = _with_budgets(worked, budgets, guarded=known.guarded)
    found = inputs.unread + tuple(one for catch in method.catches for one in catch(inputs, known, worked))
    missing = tuple(one for one in found if one.weight == "refuse")
    unanswered = tuple(one for one in found if one.weight == "ask" and answer_to(one, inputs) is None)
    because = _because(found, inputs)
    fallen = {one.about for one in found if one.about and _falls(one, inputs)}
    counted = tuple(one for one in worked.judged if one.name not in fallen) + _failed_by_answer(found, inputs)
    judged = tuple((one, verdict_of(one)) for one in counted)
    would_be = worst(tuple(verdict for _, verdict in judged))
    validity = _validity(missing=bool(missing), because=bool(because), unanswered=bool(unanswered))
    return Outcome(
        method=method.code,
        version=method.version,
        kind=inputs.kind,
        validity=validity,
        because=because,
        verdict=would_be if validity == "valid" else None,
        would_be=would_be,
        judged=judged,
        worked=worked,
        found=found,
        unanswered=unanswered,
        missing=missing,
        uncertainty_stated=any(one.uncertainty is not None for one in counted),
        budgets=budgets,
    )
