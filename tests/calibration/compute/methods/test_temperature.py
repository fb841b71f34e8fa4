"""Temperature beside a reference thermometer: limit, correction, units, element, depth, uncertainty, order."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from calibration.compute.methods import temperature
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import rows

THERMOMETER = make_standard(
    "T", "thermometer", "0", "°C", is_lot=False, opened=None, label="Thermometer RT-1", certificate="certificate 7",
    corrections=((Fraction(0), Fraction("-0.1")), (Fraction(20), Fraction("-0.3"))),
)  # fmt: skip
PLAIN = replace(THERMOMETER, corrections=())
CERTIFIED = replace(PLAIN, uncertainty=Fraction("0.10"), k=Fraction(2))
GOOD = {"hold": "on", "standard": "T", "point1_reference": "12.0", "point1_shown": "12.1", "steady": "yes"}
THREE = {
    "point1_reference": "0.0", "point1_shown": "0.1", "point2_reference": "12.0", "point2_shown": "12.2",
    "point3_reference": "20.0", "point3_shown": "20.4",
}  # fmt: skip


@pytest.fixture
def read(checked: Checked) -> Any:
    def worked(used: Any = PLAIN, /, facts: dict[str, Any] | None = None, **typed: str) -> Outcome:
        every = {name: text for name, text in {**GOOD, **typed}.items() if text}
        return checked(temperature.METHOD, every, used, **{"settings": {"element": "pt100"}, **(facts or {})})

    return worked


def test_every_line_can_be_worked_out_by_hand(read: Any) -> None:
    lines = figured(read(THERMOMETER, **THREE, point2_hmi="12.3"))
    fahrenheit = {"point1_reference": "53.7", "point1_reference_unit": "°F"}
    lines += [line for line in figured(read(THERMOMETER, **fahrenheit)) if line.source != "converted"]
    assert len(lines) == 9
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("shown", "verdict"),
    [("12.5", "pass"), ("12.51", "fail"), ("11.5", "pass"), ("11.49", "fail"), ("12.50000001", "fail")],
)
@pytest.mark.parametrize("face", ["shown", "hmi"])
def test_the_limit_itself_passes_at_either_face(read: Any, face: str, shown: str, verdict: str) -> None:
    assert read(**{f"point1_{face}": shown}).verdict == verdict


def test_the_correction_is_added_to_the_reference_and_not_to_the_display(read: Any) -> None:
    """-0.1 at 0 and -0.3 at 20 degC: at 12 degC -0.22, by the line between them."""
    outcome = read(THERMOMETER)
    assert outcome.worked.figure("true_1") == Fraction("11.78")
    assert outcome.worked.figure("error_1") == Fraction("0.32")
    assert read(THERMOMETER, point1_shown="12.28").verdict == "pass"
    assert read(THERMOMETER, point1_shown="12.29").verdict == "fail"


def test_a_certificate_in_fahrenheit_corrects_by_the_scale_alone(read: Any) -> None:
    """-0.18 degF at 32 and at 68 degF is -0.1 degC, never -17.9."""
    other = replace(
        PLAIN, unit="°F", corrections=((Fraction(32), Fraction("-0.18")), (Fraction(68), Fraction("-0.18")))
    )
    assert read(other).worked.figure("true_1") == Fraction("11.9")
    assert not caught(read(other), "beyond-1")


def test_a_reference_in_another_quantity_is_refused(read: Any) -> None:
    assert caught(read(replace(PLAIN, unit="kPa")), "other-unit-standard") == ["refuse"]


def test_a_reading_typed_in_fahrenheit_is_the_same_reading(read: Any) -> None:
    same = {"point1_reference": "53.6", "point1_reference_unit": "°F", "point1_shown": "53.78",
            "point1_shown_unit": "°F"}  # fmt: skip
    assert read(**same).worked.figure("error_1") == read().worked.figure("error_1") == Fraction("0.1")


@pytest.mark.parametrize(("reference", "asked"), [("-2", False), ("-2.1", True), ("0", False)])
def test_colder_than_ice_water_is_another_unit(read: Any, reference: str, asked: bool) -> None:
    assert bool(caught(read(point1_reference=reference, point1_shown=reference), "below-ice-1")) == asked


def test_celsius_written_as_fahrenheit_would_hide_an_error(read: Any) -> None:
    """12.0 beside 12.8 fails in degC; the same figures taken as degF are 0.44 degC apart and would pass."""
    assert read(point1_shown="12.8").verdict == "fail"
    units = {"point1_reference_unit": "°F", "point1_shown_unit": "°F"}
    outcome = read(point1_shown="12.8", **units)
    assert caught(outcome, "below-ice-1") == ["ask"]
    assert outcome.verdict is None


@pytest.mark.parametrize("field", ["steady", "immersed"])
def test_no_is_not_valid(read: Any, field: str) -> None:
    assert read(**{field: "no"}).validity == "not valid"
    assert read(**{field: "yes"}).verdict == "pass"


@pytest.mark.parametrize(("second", "said"), [("16.9", True), ("17", False), ("7", False), ("12", True)])
def test_points_of_one_temperature_are_no_span(read: Any, second: str, said: bool) -> None:
    outcome = read(point2_reference=second, point2_shown=second)
    assert bool(caught(outcome, "alike")) == said
    assert outcome.verdict == "pass"


@pytest.mark.parametrize(("reference", "said"), [("0", False), ("-0.1", True), ("20", False), ("20.1", True)])
def test_beyond_the_corrected_points_it_is_said(read: Any, reference: str, said: bool) -> None:
    typed = {"point1_reference": reference, "point1_shown": reference}
    assert bool(caught(read(THERMOMETER, **typed), "beyond-1")) == said
    assert not caught(read(**typed), "beyond-1")


def test_the_printed_resistance_of_pt100_is_asked_nothing_and_its_tenfold_is(read: Any) -> None:
    """Each printed value of IEC 60751 in the range of the field; one that is off by the class at that temperature."""
    tried = 0
    for row in rows("worked/plant_figures.csv"):
        if row["topic"] != "Pt100 resistance":
            continue
        t, ohm = str(json.loads(row["inputs"])["t_C"]), Fraction(row["expected"])
        if not -40 <= Fraction(t) <= 150:
            continue
        points = {"point1_reference": t, "point1_shown": t}
        for factor, asked in ((1, False), (10, True)):
            outcome = read(**points, point1_ohm=f"{float(ohm * factor):.2f}")
            assert bool(caught(outcome, "element-1")) == asked
        other = read(facts={"settings": {"element": "pt1000"}}, **points, point1_ohm=f"{float(ohm):.2f}")
        assert caught(other, "element-1")
        tried += 1
    assert tried >= 4


@pytest.mark.parametrize(
    ("ohm", "asked"), [("100.508079", False), ("100.50808", True), ("99.491921", False), ("99.49", True)]
)
def test_leads_that_read_high_are_told_from_the_class(read: Any, ohm: str, asked: bool) -> None:
    """At 0 degC class B is 0.3 degC; with 1 degC for the bath 1.3 x 0.39083 ohm = 0.508079 ohm."""
    outcome = read(point1_reference="0", point1_shown="0", point1_ohm=ohm)
    assert bool(caught(outcome, "element-1")) == asked
    if asked:
        sentence = next(one.sentence for one in outcome.found if one.key == "element-1")
        assert ("leads" in sentence) == (Fraction(ohm) > 100)


def test_the_order_of_points_changes_neither_verdict_nor_errors(read: Any) -> None:
    seen = set()
    for order in itertools.permutations((1, 2, 3)):
        typed = {f"point{new}_{name}": THREE[f"point{old}_{name}"] for new, old in enumerate(order, 1)
                 for name in ("reference", "shown")}  # fmt: skip
        outcome = read(CERTIFIED, **typed)
        errors = tuple(sorted(Fraction(one.value) for one, _ in outcome.judged))
        seen.add((outcome.verdict, errors, tuple(sorted(outcome.worked.model.points))))
    assert len(seen) == 1


def test_one_point_is_an_offset_and_several_are_by_points(read: Any) -> None:
    assert read().worked.model.kind == "offset"
    assert read(**THREE).worked.model.kind == "by points"


def test_one_point_that_fails_fails_the_set(read: Any) -> None:
    for count in (1, 2, 3):
        shown = str(float(THREE[f"point{count}_reference"]) + 0.6)
        assert read(**{**THREE, f"point{count}_shown": shown}).verdict == "fail"


def test_an_expired_thermometer_is_not_valid(read: Any) -> None:
    assert read(replace(PLAIN, expires=date(2026, 11, 23))).validity == "not valid"
    assert read(replace(PLAIN, expires=date(2026, 11, 24))).verdict == "pass"


def test_the_uncertainty_of_each_face_by_hand(read: Any) -> None:
    """0.10 / 2 of the certificate; a tenth of the reference and a tenth of the display, a hundredth of the HMI."""
    budgets = read(CERTIFIED, point1_hmi="12.14").budgets
    for name, digit in (("error_1", 0.1), ("error_1_hmi", 0.01)):
        combined = budgets[name].combined
        assert combined is not None
        assert combined.u_c == pytest.approx(sqrt(0.05**2 + (0.1**2 + digit**2) / 12), rel=1e-9)


def test_a_certificate_in_fahrenheit_counts_in_celsius(read: Any) -> None:
    other = replace(CERTIFIED, unit="°F", uncertainty=Fraction("0.18"))
    assert read(other).budgets["error_1"].expanded == read(CERTIFIED).budgets["error_1"].expanded


def test_guarded_the_hmi_counts_like_the_display(read: Any) -> None:
    facts = {"guarded": True}
    for face in ("shown", "hmi"):
        near = {f"point1_{face}": "12.4"}
        assert read(CERTIFIED, facts=facts, **near).verdict == "conditional pass"
        assert read(CERTIFIED, facts=facts, **{f"point1_{face}": "12.6"}).verdict == "conditional fail"
        assert read(facts=facts, **near).budgets == {}
