"""An alarm, interlock or trip: where and how soon it acted, what acted, that it is restored, and what is caught."""

from __future__ import annotations

from fractions import Fraction

import pytest

from calibration.compute.method import Answer, Band
from calibration.compute.methods import trip_test
from calibration.compute.typed import fields_for
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

SETTINGS = {"approved": "0.80", "span": "5", "longest_delay": "10"}
GOOD = {
    "how": "injected",
    "set_point": "0.8",
    "tripped": "0.82",
    "delay": "4",
    "acted": "yes",
    "alarmed": "yes",
    "restored": "yes",
    "in_auto": "yes",
}


def test_a_trip_that_acts_where_and_when_it_should_passes(checked: Checked) -> None:
    outcome = checked(trip_test.METHOD, GOOD, settings=SETTINGS)
    assert outcome.verdict == "pass"
    assert outcome.worked.figure("error") == Fraction(4, 10)
    (line,) = figured(outcome)
    assert_agrees(line)
    assert not outcome.worked.model.points


@pytest.mark.parametrize(
    ("tripped", "verdict"), [("0.85", "pass"), ("0.75", "pass"), ("0.851", "fail"), ("0.749", "fail")]
)
def test_one_per_cent_of_span_itself_passes(checked: Checked, tripped: str, verdict: str) -> None:
    assert checked(trip_test.METHOD, GOOD | {"tripped": tripped}, settings=SETTINGS).verdict == verdict


def test_the_site_s_own_limit_of_the_loop_counts_instead(checked: Checked) -> None:
    own = Band(low=Fraction(-2), high=Fraction(2), unit="%", source="loop", tag="site setting")
    typed = GOOD | {"tripped": "0.89"}
    assert checked(trip_test.METHOD, typed, settings=SETTINGS).verdict == "fail"
    assert checked(trip_test.METHOD, typed, settings=SETTINGS, limits={"error": own}).verdict == "pass"


@pytest.mark.parametrize(
    ("delay", "longest", "verdict"),
    [
        ("0", "0", "pass"),
        ("0.1", "0", "fail"),
        ("10", "10", "pass"),
        ("10.1", "10", "fail"),
        ("10", "", "pass"),
        ("3", "2.5", "fail"),
    ],
)
def test_the_longest_delay_itself_passes(checked: Checked, delay: str, longest: str, verdict: str) -> None:
    settings = SETTINGS | {"longest_delay": longest}
    assert checked(trip_test.METHOD, GOOD | {"delay": delay}, settings=settings).verdict == verdict


@pytest.mark.parametrize("name", ["acted", "alarmed", "reached"])
def test_each_part_of_the_path_that_does_not_act_fails(checked: Checked, name: str) -> None:
    assert checked(trip_test.METHOD, GOOD | {name: "yes"}, settings=SETTINGS).verdict == "pass"
    assert checked(trip_test.METHOD, GOOD | {name: "no"}, settings=SETTINGS).verdict == "fail"


def test_what_is_not_restored_cannot_be_signed_whatever_else_passed(checked: Checked) -> None:
    assert checked(trip_test.METHOD, GOOD, settings=SETTINGS).can_be_signed
    for answer in ("no", ""):
        assert not checked(trip_test.METHOD, GOOD | {"restored": answer}, settings=SETTINGS).can_be_signed


def test_where_it_acted_is_judged_by_the_approved_list_not_by_what_is_set(checked: Checked) -> None:
    """A set point moved to where it trips would pass by itself."""
    moved = GOOD | {"set_point": "1.2", "tripped": "1.2"}
    reason = {"other": Answer(choice="permitted", reason="by the supervisor, in the morning")}
    assert checked(trip_test.METHOD, moved, settings=SETTINGS, answers=reason).verdict == "fail"


@pytest.mark.parametrize("choice", ["within", "longer"])
def test_a_value_in_software_counts_only_where_the_whole_path_was_tried(checked: Checked, choice: str) -> None:
    answers = {"software": Answer(choice=choice, reason="tested in May")}
    outcome = checked(trip_test.METHOD, GOOD | {"how": "software"}, settings=SETTINGS, answers=answers)
    assert outcome.verdict == ("pass" if choice == "within" else None)


SOURCE = make_standard("S", "source", "0", "mA", is_lot=False, uncertainty=Fraction("0.016"), k=Fraction(2))


def test_a_current_at_the_wires_gives_the_uncertainty_of_where_it_acted(checked: Checked) -> None:
    """By hand in % of span: 0.008 mA of 16, and the last digit 0.01 of 5."""
    outcome = checked(trip_test.METHOD, GOOD | {"source": "S"}, SOURCE, settings=SETTINGS)
    u = ((100 * 0.008 / 16) ** 2 + (100 * 0.01 / 12**0.5 / 5) ** 2) ** 0.5
    assert float(outcome.budgets["error"].expanded) == pytest.approx(2 * u, rel=1e-9)
    for typed in (GOOD, GOOD | {"source": "S", "how": "process"}):
        assert checked(trip_test.METHOD, typed, SOURCE, settings=SETTINGS).budgets == {}
    guarded = checked(
        trip_test.METHOD, GOOD | {"source": "S", "tripped": "0.85"}, SOURCE, settings=SETTINGS, guarded=True
    )
    assert guarded.verdict == "conditional pass"


def test_a_source_in_another_unit_counts_as_such(checked: Checked) -> None:
    """16 µA given in A are the same source."""
    ampere = make_standard("S", "source", "0", "A", is_lot=False, uncertainty=Fraction("0.000016"), k=Fraction(2))
    typed = GOOD | {"source": "S"}
    one, other = (checked(trip_test.METHOD, typed, used, settings=SETTINGS) for used in (SOURCE, ampere))
    assert one.budgets["error"].expanded == other.budgets["error"].expanded
    wrong = make_standard("S", "source", "0", "mV", is_lot=False)
    assert caught(checked(trip_test.METHOD, typed, wrong, settings=SETTINGS), "other-unit-source") == ["refuse"]


def test_nothing_is_read_again_after_a_trip() -> None:
    assert trip_test.METHOD.stages == ("as found",)
    assert fields_for(trip_test.METHOD, "as found")


CATCHES = [
    ("no-approved", {}, {"approved": ""}, "incomplete"),
    ("no-approved", {}, {"span": "0"}, "incomplete"),
    ("no-approved", {}, {"span": "-5"}, "incomplete"),
    ("same-reset", {"reset": "0.820"}, {}, "asked"),
    ("other", {"set_point": "0.9"}, {}, "asked"),
    ("button", {"how": "button"}, {}, "not valid"),
    ("software", {"how": "software"}, {}, "asked"),
    ("hand", {"in_auto": "no"}, {}, "not valid"),
    ("shelved", {"shelved": "yes"}, {}, "not valid"),
    ("changed", {"changed": "yes"}, {}, "not valid"),
    ("restored", {"restored": "no"}, {}, "incomplete"),
    ("missing-acted", {"acted": ""}, {}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "settings", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], settings: dict[str, str], validity: str
) -> None:
    outcome = checked(trip_test.METHOD, GOOD | bad, settings=SETTINGS | settings)
    assert caught(outcome, key)
    assert outcome.validity == validity
    assert not caught(checked(trip_test.METHOD, GOOD, settings=SETTINGS), key)


@pytest.mark.parametrize(("key", "field"), [("reset", "reset"), ("call", "reached")])
def test_what_no_record_can_show_is_said_until_it_is_written(checked: Checked, key: str, field: str) -> None:
    assert caught(checked(trip_test.METHOD, GOOD, settings=SETTINGS), key) == ["remind"]
    written = {"reset": "0.7", "reached": "yes"}[field]
    assert not caught(checked(trip_test.METHOD, GOOD | {field: written}, settings=SETTINGS), key)
