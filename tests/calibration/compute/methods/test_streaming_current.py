"""Streaming current: it answers to a step, in time and to the right side, or it does not; what is caught beside it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Answer, Band
from calibration.compute.methods import streaming_current
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught
from tests.calibration.compute.test_ph_working import assert_agrees, figured

GOOD = {"hold": "on", "before": "-12.0", "after": "-9.5", "step": "10", "minutes": "6", "cleaned": "no", "flow": "yes"}


def tried(checked: Checked, changes: dict[str, str], **facts: Any) -> Outcome:
    return checked(streaming_current.METHOD, GOOD | changes, **facts)


def test_it_responds_and_its_line_can_be_worked_out_by_hand(checked: Checked) -> None:
    outcome = tried(checked, {})
    assert outcome.verdict == "pass"
    assert outcome.worked.figure("change") == Fraction("2.5")
    assert [line.value for line in figured(outcome)] == ["+2.50"]
    for line in figured(outcome):
        assert_agrees(line)


@pytest.mark.parametrize(
    ("before", "after", "lowered", "verdict"),
    [
        ("-12.00", "-11.99", "", "pass"),  # exactly the least change
        ("-12.000", "-11.991", "", "fail"),
        ("-12.0", "-12.0", "", "fail"),
        ("-12.0", "-13.0", "", "fail"),
        ("-12.0", "-13.0", "yes", "pass"),
        ("-12.0", "-9.5", "yes", "fail"),
        ("-1.0", "+1.0", "", "pass"),
        ("-12.00", "-12.01", "yes", "pass"),
    ],
)
def test_it_moves_to_the_right_side_by_what_can_be_read(
    checked: Checked, before: str, after: str, lowered: str, verdict: str
) -> None:
    """More coagulant, more plus. Least change 0.01: own judgement."""
    assert tried(checked, {"before": before, "after": after, "lowered": lowered}).verdict == verdict


@pytest.mark.parametrize(("minutes", "verdict"), [("20", "pass"), ("20.0", "pass"), ("20.1", "fail"), ("120", "fail")])
def test_it_answers_within_its_minutes(checked: Checked, minutes: str, verdict: str) -> None:
    """Twenty minutes: own judgement, and the requirement's own limit counts instead where there is one."""
    assert tried(checked, {"minutes": minutes}).verdict == verdict
    own = Band(low=None, high=Fraction(120), unit="min", source="a long basin", tag="site setting")
    assert tried(checked, {"minutes": minutes}, limits={"minutes": own}).verdict == "pass"
    assert "20 min" in next(line.text for line in tried(checked, {}).worked.lines if line.text.startswith("Minutes"))


@pytest.mark.parametrize("touched", [{"cleaned": "yes"}, {"probe": "yes"}, {"cleaned": "yes", "probe": "yes"}])
@pytest.mark.parametrize("said", [{}, {"why": "no"}, {"why": "jar"}, {"set_point": "-8"}])
def test_after_a_clean_or_another_probe_the_old_set_point_is_asked_about(
    checked: Checked, touched: dict[str, str], said: dict[str, str]
) -> None:
    assert caught(tried(checked, touched | said), "carried") == ["ask"]
    assert not caught(tried(checked, said), "carried")
    assert caught(tried(checked, touched | said, settings={"set_point": "-8"}), "carried") == ["ask"]


@pytest.mark.parametrize("why", ["jar", "turbidity"])
def test_a_set_point_proved_anew_is_not_asked_about(checked: Checked, why: str) -> None:
    outcome = tried(checked, {"cleaned": "yes", "probe": "yes", "set_point": "-8.0", "why": why})
    assert outcome.verdict == "pass"
    assert outcome.unanswered == ()


def test_that_it_stays_because_it_was_proved_needs_a_reason(checked: Checked) -> None:
    for reason, validity in (("jar test 14", "valid"), ("", "asked")):
        answers = {"carried": Answer(choice="proved", reason=reason)}
        assert tried(checked, {"cleaned": "yes", "why": "no"}, answers=answers).validity == validity


CATCHES = [
    ("flow", {"flow": "no"}, {}, "not valid"),
    ("ph", {"ph_moved": "yes"}, {"ph_moved": "no"}, "asked"),
    ("at-once", {"minutes": "0"}, {"minutes": "0.5"}, "asked"),
    ("blind", {"off": "-12.0"}, {"off": "-0.4"}, "asked"),
    ("blind", {"off": "-11.995"}, {"off": "-11.99"}, "asked"),
    ("no-reason", {"set_point": "-8"}, {"set_point": "-8", "why": "jar"}, "incomplete"),
    ("moved-or-not", {"set_point": "-8", "why": "no"}, {"why": "no"}, "incomplete"),
    ("no-set-point", {"why": "turbidity"}, {"why": "turbidity", "set_point": "-8"}, "asked"),
    ("no-set-point", {"why": "jar"}, {"why": "no"}, "asked"),
    ("wrong-way", {"after": "-13"}, {"after": "-13", "lowered": "yes"}, "valid"),
    ("unread-step", {"step": "-10"}, {"step": "1"}, "incomplete"),
    ("unread-step", {"step": "0"}, {"step": "50"}, "incomplete"),
    ("missing-minutes", {"minutes": ""}, {}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "neighbour", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], neighbour: dict[str, str], validity: str
) -> None:
    outcome = tried(checked, bad)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(tried(checked, neighbour), key)


def test_there_is_no_uncertainty_where_there_is_no_standard(checked: Checked) -> None:
    assert tried(checked, {}).budgets == {}
    assert streaming_current.METHOD.standards == ()
