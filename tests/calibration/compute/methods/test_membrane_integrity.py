"""A membrane by pressure decay: the limit that follows from the removal, the removal proved, and what is caught."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Answer, Band
from calibration.compute.methods import membrane_integrity
from tests.calibration.compute.methods.conftest import Checked, caught
from tests.calibration.compute.test_ph_working import assert_agrees, figured

# Constants from memory: 360 L/min, ratio 40, 101.3 kPa, 180 L, factor 1.5; four logs.
SETTINGS = {
    "removal": "4",
    "flow": "360",
    "ratio": "40",
    "air": "101.3",
    "volume": "180",
    "factor": "1.5",
    "least_start": "95",
    "least_minutes": "5",
}
GOOD = {
    "start": "100.0",
    "end": "97.6",
    "minutes": "5",
    "shut": "yes",
    "off_line": "yes",
    "temperature": "12.4",
    "drained": "180",
    "repeat": "no",
}


def test_a_test_gives_the_decay_and_the_removal_it_proves(checked: Checked) -> None:
    """0.48 kPa/min proves 4.05, from memory."""
    outcome = checked(membrane_integrity.METHOD, GOOD, settings=SETTINGS)
    assert outcome.verdict == "pass"
    assert outcome.worked.figure("decay") == Fraction("0.48")
    removal = next(one for one in outcome.worked.figures if one.name == "removal")
    assert removal.shown == "4.05"
    (line,) = figured(outcome)
    assert_agrees(line)
    assert outcome.budgets == {}


@pytest.mark.parametrize(("end", "verdict"), [("95.948", "pass"), ("95.947999999", "fail"), ("95.95", "pass")])
def test_the_largest_decay_itself_passes(checked: Checked, end: str, verdict: str) -> None:
    """By hand: 360 x 40 x 101.3 / (10^4 x 180 x 1.5) = 0.5402666... = 4.052 / 7.5 kPa/min, exactly."""
    typed = GOOD | {"start": "100", "end": end, "minutes": "7.5"}
    outcome = checked(membrane_integrity.METHOD, typed, settings=SETTINGS)
    assert outcome.verdict == verdict
    high = next(one.high for one, _ in outcome.judged)
    assert high == Fraction(4052, 7500)
    assert round(float(high), 3) == 0.540


def test_a_removal_a_hair_short_is_not_shown_as_proved(checked: Checked) -> None:
    typed = GOOD | {"start": "100", "end": "95.947999", "minutes": "7.5"}
    outcome = checked(membrane_integrity.METHOD, typed, settings=SETTINGS)
    shown = next(one.shown for one in outcome.worked.figures if one.name == "removal")
    assert outcome.verdict == "fail"
    assert Fraction(shown) < 4


@pytest.mark.parametrize(("start", "minutes", "valid"), [("95", "5", True), ("94.9", "5", False), ("95", "4.9", False)])
def test_the_least_pressure_and_minutes_themselves_are_enough(
    checked: Checked, start: str, minutes: str, valid: bool
) -> None:
    typed = GOOD | {"start": start, "end": str(float(Fraction(start) - 2)), "minutes": minutes}
    assert (checked(membrane_integrity.METHOD, typed, settings=SETTINGS).validity == "valid") is valid


def test_units_of_pressure_change_nothing(checked: Checked) -> None:
    bar = GOOD | {"start": "1.000", "start_unit": "bar", "end": "0.976", "end_unit": "bar"}
    one, other = (checked(membrane_integrity.METHOD, typed, settings=SETTINGS) for typed in (GOOD, bar))
    assert [value.value for value, _ in one.judged] == [value.value for value, _ in other.judged]


def test_the_permit_s_own_limit_counts_instead(checked: Checked) -> None:
    own = Band(low=None, high=Fraction("0.4"), unit="kPa/min", source="permit", tag="site setting")
    assert checked(membrane_integrity.METHOD, GOOD, settings=SETTINGS, limits={"decay": own}).verdict == "fail"


@pytest.mark.parametrize("temperature", ["", "2", "35"])
def test_the_temperature_is_kept_and_moves_nothing(checked: Checked, temperature: str) -> None:
    outcome = checked(membrane_integrity.METHOD, GOOD | {"temperature": temperature}, settings=SETTINGS)
    assert [value.value for value, _ in outcome.judged] == [Fraction("0.48")]


CATCHES: list[tuple[str, dict[str, str], dict[str, str], str]] = [
    *(("no-constants", {}, {name: text}, "incomplete") for name in SETTINGS for text in ("", "0", "-1")),
    ("low-start", {"start": "90", "end": "88"}, {}, "not valid"),
    ("short", {"minutes": "2"}, {}, "not valid"),
    ("valves", {"shut": "no"}, {}, "not valid"),
    ("rose", {"end": "100.1"}, {}, "not valid"),
    ("rose", {"start": "97.6", "end": "100.0"}, {}, "not valid"),
    ("still", {"end": "100"}, {}, "asked"),
    ("volume", {"drained": "198.1"}, {}, "asked"),
    ("volume", {"drained": "161.9"}, {}, "asked"),
    ("on-line", {"off_line": "no"}, {}, "asked"),
    ("missing-shut", {"shut": ""}, {}, "incomplete"),
    ("unread-minutes", {"minutes": "0"}, {}, "incomplete"),
    ("unread-end", {"end": "-1"}, {}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "settings", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], settings: dict[str, str], validity: str
) -> None:
    outcome = checked(membrane_integrity.METHOD, GOOD | bad, settings=SETTINGS | settings)
    assert caught(outcome, key)
    assert outcome.validity == validity
    for neighbour in (GOOD, GOOD | {"drained": "198"}, GOOD | {"drained": "162"}):
        assert not caught(checked(membrane_integrity.METHOD, neighbour, settings=SETTINGS), key)


def test_a_leaking_valve_and_a_rise_are_both_said(checked: Checked) -> None:
    outcome = checked(membrane_integrity.METHOD, GOOD | {"shut": "no", "end": "101"}, settings=SETTINGS)
    assert caught(outcome, "valves") and caught(outcome, "rose")


@pytest.mark.parametrize(("choice", "verdict"), [("tight", "pass"), ("frozen", None)])
def test_nothing_lost_passes_only_once_the_gauge_was_looked_at(checked: Checked, choice: str, verdict: Any) -> None:
    answers = {"still": Answer(choice=choice, reason="opened the vent for a second: it moved")}
    outcome = checked(membrane_integrity.METHOD, GOOD | {"end": "100.0"}, settings=SETTINGS, answers=answers)
    assert outcome.verdict == verdict


def test_whether_it_repeats_a_test_that_failed_is_reminded_of(checked: Checked) -> None:
    assert caught(checked(membrane_integrity.METHOD, GOOD | {"repeat": ""}, settings=SETTINGS), "repeat") == ["remind"]
    assert not caught(checked(membrane_integrity.METHOD, GOOD, settings=SETTINGS), "repeat")
