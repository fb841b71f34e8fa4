"""What a pH check catches: for each mistake one input that makes it and one next to it that does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.method import Found, Weight
from calibration.compute.methods import ph
from calibration.compute.temperature_tables import TemperatureTable, table_from_rows
from calibration.compute.verdict import Outcome
from tests.calibration.compute.conftest import THIRD

Check = Callable[..., Outcome]
Changes = dict[str, str | None]
AS_LEFT: Changes = {"point1_shown": "7.05", "point2_shown": "10.14"}
POINT1_AT_25: Changes = {"point1_temperature": "25.0", "process_temperature": "24.0"}
NEAR_25: Changes = {"point1_temperature": "25.0", "point2_temperature": "24.8"}
POINT2: Changes = {f"point2_{name}": None for name in ("lot", "temperature", "mv", "shown", "seconds", "steady")}


@dataclass(frozen=True, kw_only=True)
class Case:
    key: str
    weight: Weight
    at: str
    said: str  # words of the sentence: what was wrong, as typed, and what would be right
    bad: Changes = field(default_factory=dict)
    good: Changes = field(default_factory=dict)
    bad_facts: dict[str, Any] = field(default_factory=dict)
    good_facts: dict[str, Any] = field(default_factory=dict)


def lot(key: str, **facts: Any) -> dict[str, Any]:
    return {"lot": (key, facts)}


OWN = {"own_slope": "100.0", "own_slope_unit": "%", "own_zero": "0.0", "own_zero_unit": "mV"}
LEFT = {"kind": "as left"}
PHOSPHATE = table_from_rows(code="phosphate", name="6.86", rows=[("0", "6.984"), ("25", "6.865")], source="test")
ROUND7 = table_from_rows(code="round7", name="7.01", rows=[("0", "7.13"), ("25", "7.01")], source="test")

CASES = {
    "swapped buffers": Case(
        key="rising", weight="ask", at="point1_mv", said="“−178.6” mV at pH 7.048 and “−4.8” mV at pH 10.149",
        bad={"point1_mv": "-178.6", "point2_mv": "-4.8"}, good={"point1_mv": "-4.8", "point2_mv": "-178.6"},
    ),
    "a lost minus": Case(
        key="rising", weight="ask", at="point1_mv", said="a plus or minus on the wrong line",
        bad={"point2_mv": "178.6"}, good={"point2_mv": "-178.6"},
    ),
    "millivolts fall where the probe is set to count up": Case(
        key="rising", weight="ask", at="point1_mv", said="more volts in alkali, by its setting",
        bad_facts={"settings": {"slope_sign": "positive"}}, good_facts={"settings": {"slope_sign": "negative"}},
    ),
    "no answer to pH": Case(
        # A tenth of theory at 12.5 degC over 3.101 pH is 17.58 mV.
        key="flat", weight="ask", at="point2_mv",
        said="9.9 % of theory. The same cup twice does this, and so does a cracked",
        bad={"point1_mv": "0.0", "point2_mv": "-17.4"}, good={"point1_mv": "0.0", "point2_mv": "-17.6"},
    ),
    "no answer to pH, the wrong way": Case(
        key="flat", weight="ask", at="point2_mv", said="nearly the same in both buffers, “0.0” mV",
        bad={"point1_mv": "0.0", "point2_mv": "5.0"}, good={"point1_mv": "0.0", "point2_mv": "-150.0"},
    ),
    "a display that stands still": Case(
        key="display-flat", weight="ask", at="point2_shown", said="“7.08” at pH 7.048 and “7.20” at pH 10.149",
        bad={"point2_shown": "7.20"}, good={"point2_shown": "7.50"},
    ),
    "a display that falls": Case(
        key="display-falls", weight="ask", at="point1_shown", said="falls where pH rises",
        bad={"point1_shown": "10.15", "point2_shown": "7.08"}, good={"point1_shown": "7.08", "point2_shown": "10.15"},
    ),
    "mV/pH in the box for %": Case(
        key="unit-of-slope", weight="ask", at="own_slope_unit", said="“56.1” %. 45 to 65 is what a slope in mV per pH",
        bad={**AS_LEFT, "own_slope": "56.1", "own_slope_unit": "%"},
        good={**AS_LEFT, "own_slope": "56.1", "own_slope_unit": "mV/pH"}, bad_facts=LEFT, good_facts=LEFT,
    ),
    "% in the box for mV/pH": Case(
        key="unit-of-slope", weight="ask", at="own_slope_unit", said="“98.9” mV/pH. 75 to 110 is what a slope in %",
        bad={**AS_LEFT, "own_slope": "98.9", "own_slope_unit": "mV/pH"},
        good={**AS_LEFT, "own_slope": "98.9", "own_slope_unit": "%"}, bad_facts=LEFT, good_facts=LEFT,
    ),
    "a slope without its unit": Case(
        key="no-unit-of-slope", weight="refuse", at="own_slope_unit", said="“98.9” has no unit. Choose % of theory",
        bad={**AS_LEFT, "own_slope": "98.9"}, good={**AS_LEFT, "own_slope": "98.9", "own_slope_unit": "%"},
        bad_facts=LEFT, good_facts=LEFT,
    ),
    "a zero without its unit": Case(
        key="no-unit-of-zero", weight="refuse", at="own_zero_unit", said="“6.98” has no unit. Choose mV at pH 7",
        bad={**AS_LEFT, "own_zero": "6.98"}, good={**AS_LEFT, "own_zero": "6.98", "own_zero_unit": "pH"},
        bad_facts=LEFT, good_facts=LEFT,
    ),
    "no temperature": Case(
        key="no-temperature-point1_", weight="not valid", at="point1_temperature", said="write it, like 12.5 °C",
        bad={"point1_temperature": None}, good={"point1_temperature": "12.5"},
    ),
    "25.0 in every buffer": Case(
        key="default-temperature", weight="ask", at="point1_temperature", said="25 °C exactly",
        bad={**POINT1_AT_25, "point2_temperature": "25,0"}, good={**POINT1_AT_25, "point2_temperature": "24.9"},
    ),
    "degF in the buffer": Case(
        key="fahrenheit-point1_temperature", weight="ask", at="point1_temperature",
        said="“48.5” °C is warm. If it was read in °F, it is 9.2 °C",
        bad={"point1_temperature": "48.5"}, good={"point1_temperature": "9.2"},
    ),
    "degF below 40, far over a cold process": Case(
        key="fahrenheit-point1_temperature", weight="ask", at="point1_temperature", said="“39.0” °C is warm",
        bad={"point1_temperature": "39.0", "process_temperature": "4.0"},
        good={"point1_temperature": "39.0", "process_temperature": "30.0"},
    ),
    "degF in the process": Case(
        key="fahrenheit-process_temperature", weight="ask", at="process_temperature", said="Process: “51.8” °C is warm",
        bad={"process_temperature": "51.8"}, good={"process_temperature": "11.0"},
    ),
    "beyond the table": Case(
        key="outside-point1_temperature", weight="not valid", at="point1_temperature",
        said="54.5 °C is outside the table of commercial phosphate mixture, nominal 7.00",
        bad={"point1_temperature": "54.5"}, good={"point1_temperature": "50.0"},
    ),
    "the label typed in instead of the value at temperature": Case(
        key="label-on-display-point1_shown", weight="ask", at="point1_shown",
        said="shows “7.00”, exactly the label, but at 12.5 °C this buffer is worth pH 7.048",
        bad={**AS_LEFT, "point1_shown": "7.00"},
        good={**AS_LEFT, "point1_shown": "7.01"}, bad_facts=LEFT, good_facts=LEFT,
    ),
    "as left copied from the labels": Case(
        key="copied-as-left", weight="ask", at="point1_shown",
        said="As left shows 7.00 and 10.01, the labels to the last",
        bad={**NEAR_25, "point1_shown": "7.00", "point2_shown": "10.01"},
        good={**NEAR_25, "point1_shown": "7.00", "point2_shown": "10.02"},
        bad_facts=LEFT, good_facts=LEFT,
    ),
    "a 6.86 buffer in the cup of the 7.00 lot": Case(
        key="mixture-point1_lot", weight="ask", at="point1_lot", said="the 6.86 buffer is worth pH 6.912. Which bottle",
        bad={"point1_shown": "6.92"}, good={"point1_shown": "6.95"},
    ),
    "a 7.00 label with the table of a 6.86 buffer": Case(
        key="label-point1_lot", weight="ask", at="point1_lot",
        said="labelled pH 7.00, but its table gives pH 6.865 at 25 °C",
        bad_facts=lot("7", table=PHOSPHATE), good_facts=lot("7", table=ROUND7),
    ),
    "buffers less than 2 pH apart": Case(
        key="too-near", weight="not valid", at="point2_lot",
        said="labelled 7.00 and 8.99, 1.99 pH apart. Use buffers at least 2 pH",
        bad_facts=lot("10", nominal=Fraction("8.99"), nominal_text="8.99"),
        good_facts=lot("10", nominal=Fraction("9.00"), nominal_text="9.00"),
    ),
    "one buffer written as two points": Case(
        key="too-near", weight="not valid", at="point2_lot", said="both in lot 26-7: that is one buffer, written twice",
        bad={"point2_lot": "7"}, good={"point2_lot": "10"},
    ),
    "one point of a two-point check": Case(
        key="too-few-buffers", weight="ask", at="point2_shown", said="1 of 2 buffers is written", bad=POINT2, good={},
    ),
    "process above the buffers": Case(
        key="outside-buffers", weight="ask", at="process_shown", said="lies above all buffers, pH 7.05 to 10.15",
        bad={"process_shown": "10.16"}, good={"process_shown": "10.15"},
    ),
    "process below the buffers": Case(
        key="outside-buffers", weight="ask", at="process_shown", said="lies below all buffers",
        bad={"process_shown": "7.07"}, good={"process_shown": "7.08"},
    ),
    "nowhere to judge the error": Case(
        key="no-process", weight="refuse", at="process_shown", said="Write what the display showed before",
        bad={"process_shown": None}, good={"process_shown": None}, good_facts={"settings": {"working_ph": "7.8"}},
    ),
    "third buffer from the same bottle": Case(
        key="third-same-bottle", weight="not valid", at="third_lot", said="lot 26-10 was already used for the line",
        bad={**AS_LEFT, **THIRD, "third_lot": "10", "third_shown": "10.15"}, good={**AS_LEFT, **THIRD},
        bad_facts=LEFT, good_facts=LEFT,
    ),
    "high buffer open for more than 30 days": Case(
        key="unfit-point2_lot-1", weight="not valid", at="point2_lot",
        said="may be used for 30 days, to 23 November 2026. A high buffer",
        bad_facts=lot("10", opened=date(2026, 10, 24)), good_facts=lot("10", opened=date(2026, 10, 25)),
    ),
    "other buffer open for more than 90 days": Case(
        key="unfit-point1_lot-1", weight="not valid", at="point1_lot",
        said="may be used for 90 days, to 23 November 2026",
        bad_facts=lot("7", opened=date(2026, 8, 25)), good_facts=lot("7", opened=date(2026, 8, 26)),
    ),
    "a lot with its own opened life": Case(
        key="unfit-point1_lot-1", weight="not valid", at="point1_lot", said="may be used for 20 days",
        bad_facts=lot("7", opened_life=20), good_facts=lot("7", opened_life=21),
    ),
    "expired lot": Case(
        key="unfit-point1_lot-1", weight="not valid", at="point1_lot",
        said="expired on 23 November 2026. Read again in a lot",
        bad_facts=lot("7", expires=date(2026, 11, 23)), good_facts=lot("7", expires=date(2026, 11, 24)),
    ),
    "quarantined lot": Case(
        key="unfit-point1_lot-1", weight="not valid", at="point1_lot",
        said="quarantined: cloudy. Read again in another lot",
        bad_facts=lot("7", quarantined="cloudy."), good_facts=lot("7", quarantined=""),
    ),
    "discarded lot": Case(
        key="unfit-point1_lot-1", weight="not valid", at="point1_lot", said="was discarded on 24 November 2026",
        bad_facts=lot("7", discarded=date(2026, 11, 24)), good_facts=lot("7", discarded=date(2026, 11, 25)),
    ),
    "lot opened after the reading": Case(
        key="unfit-point1_lot-1", weight="not valid", at="point1_lot",
        said="opened on 25 November 2026, after this reading",
        bad_facts=lot("7", opened=date(2026, 11, 25)), good_facts=lot("7", opened=date(2026, 11, 24)),
    ),
    "no opening day": Case(
        key="opened-point1_lot", weight="remind", at="point1_lot", said="no opening day is written for lot 26-7",
        bad_facts=lot("7", opened=None), good_facts=lot("7", opened=date(2026, 11, 24)),
    ),
    "buffers far from each other in temperature": Case(
        key="temperatures-apart", weight="ask", at="point2_temperature", said="2.1 °C apart, from 12.5 to 14.6 °C",
        bad={"point2_temperature": "14.6"}, good={"point2_temperature": "14.5"},
    ),
    "buffer far from the process": Case(
        key="far-from-process-point1_temperature", weight="ask", at="point1_temperature",
        said="the buffer is at “12.5” °C, the process at “2.4” °C, more than 10 °C apart",
        bad={"process_temperature": "2.4"}, good={"process_temperature": "2.5"},
    ),
    "factory reset": Case(
        key="factory-reset", weight="ask", at="own_slope", said="exactly 100.0 % and an offset of exactly 0.0 mV",
        bad={**AS_LEFT, **OWN}, good={**AS_LEFT, **OWN, "own_zero": "0.1"}, bad_facts=LEFT, good_facts=LEFT,
    ),
    "factory reset given as a zero point": Case(
        key="factory-reset", weight="ask", at="own_slope", said="comes from the factory",
        bad={**AS_LEFT, **OWN, "own_zero": "7.00", "own_zero_unit": "pH"},
        good={**AS_LEFT, **OWN, "own_slope": "99.9", "own_zero": "7.00", "own_zero_unit": "pH"},
        bad_facts=LEFT, good_facts=LEFT,
    ),
    "not on hold while it paces a pump": Case(
        key="no-hold", weight="ask", at="hold",
        said="This signal paces P-21 acid and trips P-22, and it is not written as on hold",
        bad={"hold": "off"}, good={"hold": "on"},
        bad_facts={"uses": ("paces P-21 acid", "trips P-22")}, good_facts={"uses": ("paces P-21 acid", "trips P-22")},
    ),
    "hold not answered": Case(
        key="no-hold", weight="ask", at="hold", said="paces P-21",
        bad={"hold": None}, good={"hold": None}, bad_facts={"uses": ("paces P-21",)}, good_facts={"uses": ()},
    ),
    "not steady": Case(
        key="not-steady-point2_", weight="not valid", at="point2_steady", said="did not stand still for 30 seconds",
        bad={"point2_steady": "no"}, good={"point2_steady": "yes"},
    ),
    "steady not answered": Case(
        key="missing-point2_steady", weight="refuse", at="point2_steady", said="neither yes nor no is chosen",
        bad={"point2_steady": None}, good={"point2_steady": "yes"},
    ),
    "display not written": Case(
        key="missing-point1_shown", weight="refuse", at="point1_shown",
        said="Write what it shows in this buffer, like 7.02",
        bad={"point1_shown": None}, good={"point1_shown": "7.02"},
    ),
    "no lot": Case(
        key="missing-point1_lot", weight="refuse", at="point1_lot", said="Choose the lot that is on the bottle",
        bad={"point1_lot": "unheard of"}, good={"point1_lot": "7"},
    ),
    "millivolts in one buffer only": Case(
        key="some-millivolts", weight="remind", at="point2_mv", said="Write them in every buffer, or in none",
        bad={"point2_mv": None}, good={"point1_mv": None, "point2_mv": None},
    ),
    "as left without anything on the electrode": Case(
        key="electrode-not-judged", weight="remind", at="own_slope", said="Slope and offset are not judged",
        bad={**AS_LEFT, "point1_mv": None, "point2_mv": None}, good=AS_LEFT, bad_facts=LEFT, good_facts=LEFT,
    ),
    "unreadable": Case(
        key="unread-point1_shown", weight="refuse", at="point1_shown",
        said="Point 1, display shows: “7.0.2” is not a number",
        bad={"point1_shown": "7.0.2"}, good={"point1_shown": "7,02"},
    ),
    "could be thousands": Case(
        key="unread-point1_shown", weight="refuse", at="point1_shown", said="“7,028” can mean two numbers; write 7028",
        bad={"point1_shown": "7,028"}, good={"point1_shown": "7.028"},
    ),
    "no pH meter shows this": Case(
        key="unread-point1_shown", weight="refuse", at="point1_shown",
        said="“70.8” is outside what such an instrument shows; write a number from 0 to 14 pH",
        bad={"point1_shown": "70.8"}, good={"point1_shown": "14"},
    ),
    "no electrode gives this": Case(
        key="unread-point2_mv", weight="refuse", at="point2_mv", said="write a number from −500 to 500 mV",
        bad={"point2_mv": "-1786"}, good={"point2_mv": "-500"},
    ),
    "neither yes nor no": Case(
        key="unread-point1_steady", weight="refuse", at="point1_steady", said="“perhaps” is neither yes nor no",
        bad={"point1_steady": "perhaps"}, good={"point1_steady": "yes"},
    ),
    "not one of the choices": Case(
        key="unread-hold", weight="refuse", at="hold",
        said="“maybe” is not one of the choices; choose On hold or Not on hold",
        bad={"hold": "maybe"}, good={"hold": "off"},
    ),
}  # fmt: skip


def found(outcome: Outcome, key: str) -> list[Found]:
    return [one for one in outcome.found if one.key == key]


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_mistake_is_caught_at_its_field(check: Check, case: Case) -> None:
    (caught,) = found(check(case.bad, **case.bad_facts), case.key)
    assert (caught.weight, caught.field) == (case.weight, case.at)
    assert case.said in caught.sentence
    assert caught.sentence[0].isupper() or caught.sentence[0].isdigit()
    assert caught.sentence.endswith((".", "?"))
    assert bool(caught.choices) == (case.weight == "ask")


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_its_neighbour_is_not(check: Check, case: Case) -> None:
    assert found(check(case.good, **case.good_facts), case.key) == []


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_what_follows_from_its_weight(check: Check, case: Case) -> None:
    outcome = check(case.bad, **case.bad_facts)
    if case.weight == "refuse":
        assert (outcome.validity, outcome.verdict, outcome.can_be_signed) == ("incomplete", None, False)
    elif case.weight == "ask":
        assert outcome.verdict is None
        assert case.key in [one.key for one in outcome.unanswered]
    elif case.weight == "remind" or case.at.startswith("third"):
        assert outcome.because == ()
    else:
        assert (outcome.validity, outcome.verdict) == ("not valid", None)
        assert any(case.said in reason for reason in outcome.because)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_every_field_named_is_a_field_of_the_form(case: Case) -> None:
    assert case.at in {one.name for one in ph.fields_for("as left", points=3)}


def test_degf_beyond_the_table_says_what_it_would_be(check: Check) -> None:
    (caught,) = found(check({"point1_temperature": "54.5"}), "outside-point1_temperature")
    assert "If “54.5” is °F, it is 12.5 °C: write that." in caught.sentence


def test_a_good_cold_set_is_not_bothered_with_anything(check: Check) -> None:
    assert check().found == ()


def test_the_tables_of_the_project_agree_with_the_labels_of_the_trade(tables: dict[str, TemperatureTable]) -> None:
    # Trade labels, common practice: none of them may be asked about at every check.
    labels = {"phthalate": ("4.00", "4.01"), "phosphate": ("6.86",), "phosphate-7.00": ("7.00", "7.01"),
              "borax": ("9.18",), "carbonate": ("10.00", "10.01"), "tetroxalate": ("1.68",)}  # fmt: skip
    for code, written in labels.items():
        for label in written:
            assert abs(tables[code].value(Fraction(25)) - Fraction(label)) <= Fraction("0.05")
