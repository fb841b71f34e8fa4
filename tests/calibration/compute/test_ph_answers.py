"""What a person's answer to a question makes of a pH check: a slip is not valid, a broken probe is a fail."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from calibration.compute.method import Answer, Known
from calibration.compute.methods import ph
from calibration.compute.verdict import Outcome
from tests.calibration.compute.conftest import COLD, THIRD

Check = Callable[..., Outcome]
Changes = dict[str, str | None]
AS_LEFT: Changes = {"point1_shown": "7.05", "point2_shown": "10.14"}
NO_POINT2: Changes = {f"point2_{name}": None for name in ("lot", "temperature", "mv", "shown", "seconds", "steady")}
FLAT: Changes = {"point1_mv": "1.0", "point2_mv": "0.0"}
REASON = "looked twice"


def keys(outcome: Outcome) -> set[str]:
    return {one.key for one in outcome.found}


def answered(key: str, choice: str, reason: str = REASON, asked: str = "") -> dict[str, Answer]:
    return {key: Answer(choice=choice, reason=reason, asked=asked)}


@pytest.mark.parametrize(
    ("changes", "key", "choice", "validity", "verdict"),
    [
        (FLAT, "flat", "same cup", "not valid", None),
        (FLAT, "flat", "two buffers", "valid", "fail"),
        (FLAT, "flat", "write again", "asked", None),
        ({"point2_shown": "7.10"}, "display-flat", "two buffers", "valid", "fail"),
        ({"point2_shown": "7.10"}, "display-flat", "same cup", "not valid", None),
        ({"point2_mv": "178.6"}, "rising", "swapped", "not valid", None),
        ({"point2_mv": "178.6"}, "rising", "wrong sign", "asked", None),
        ({"point2_mv": "178.6"}, "rising", "wrong lines", "asked", None),
        ({"point2_mv": "178.6"}, "rising", "two buffers", "valid", "fail"),
        ({"point2_mv": "178.6"}, "rising", "other way", "valid", "pass"),
        # Shown 0.25 too high at the process, beyond the high buffer.
        ({"point2_shown": "10.40", "process_shown": "10.41"}, "outside-buffers", "extended", "valid", "fail"),
        (NO_POINT2, "too-few-buffers", "one buffer", "not valid", None),
    ],
)
@pytest.mark.parametrize("kind", ["as found", "confirming"])
def test_what_a_person_answers_decides(
    check: Check, changes: Changes, key: str, choice: str, validity: str, verdict: str | None, kind: str
) -> None:
    # A cracked glass must end as a fail, never as not valid.
    outcome = check(changes, kind=kind, answers=answered(key, choice))
    assert (outcome.validity, outcome.verdict) == (validity, verdict)


def test_a_probe_that_does_not_answer_is_to_be_replaced(check: Check) -> None:
    outcome = check(FLAT, answers=answered("flat", "two buffers"))
    assert outcome.worked.advice[0].word == "replace"


def test_a_probe_answered_to_count_the_other_way_is_worked_out_so(check: Check) -> None:
    outcome = check({"point1_mv": "4.8", "point2_mv": "178.6"}, answers=answered("rising", "other way"))
    percent = outcome.worked.figure("percent_slope")
    assert percent is not None
    assert round(float(percent), 6) == 98.883812


@pytest.mark.parametrize("reason", ["", "  "])
def test_a_value_that_is_to_count_needs_a_reason(check: Check, reason: str) -> None:
    assert check(FLAT, answers=answered("flat", "two buffers", reason)).validity == "asked"
    assert check(FLAT, answers=answered("flat", "same cup", reason)).validity == "not valid"


def test_an_answer_to_other_figures_asks_again(check: Check) -> None:
    (question,) = check(FLAT).unanswered
    answer = answered("flat", "two buffers", asked=question.sentence)
    assert check(FLAT, answers=answer).verdict == "fail"
    assert check(FLAT | {"point2_mv": "2.0"}, answers=answer).validity == "asked"


def test_an_answer_that_is_no_choice_counts_for_nothing(check: Check) -> None:
    assert check(FLAT, answers=answered("flat", "because")).validity == "asked"


def test_a_third_buffer_from_the_same_bottle_spoils_only_itself(check: Check) -> None:
    third = {**AS_LEFT, **THIRD, "third_lot": "10", "third_shown": "9.00"}
    outcome = check(third, kind="as left", last={"process_ph": Fraction("7.77")})
    assert (outcome.validity, outcome.verdict) == ("valid", "pass")
    assert "third" not in [one.name for one, _ in outcome.judged]


def test_a_third_buffer_answered_to_be_another_spoils_only_itself(check: Check) -> None:
    third = {**AS_LEFT, **THIRD, "third_shown": "4.50"}
    outcome = check(
        third,
        kind="as left",
        last={"process_ph": Fraction("7.77")},
        answers=answered("label-third_lot", "wrong table"),
        lot=("4", {"nominal": Fraction("4.20"), "nominal_text": "4.20"}),
    )
    assert (outcome.validity, outcome.verdict) == ("valid", "pass")


def test_what_is_not_valid_can_be_signed_as_such_with_questions_open(check: Check) -> None:
    outcome = check(FLAT | {"point1_steady": "no"})
    assert outcome.validity == "not valid"
    assert outcome.unanswered
    assert outcome.can_be_signed


def test_as_left_said_to_be_unchanged_is_not_asked_about_its_labels(known: Known) -> None:
    typed = COLD | {"point1_shown": "7.00", "point2_shown": "10.01"}
    key = "label-on-display-point1_shown"
    assert key in keys(ph.judge_set(ph.read(typed, kind="as left"), known))
    unchanged = ph.as_left_unchanged(ph.read(typed, kind="as found"))
    assert key not in keys(ph.judge_set(unchanged, known))
