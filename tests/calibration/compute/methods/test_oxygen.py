"""Dissolved oxygen: saturation as published, both limits, zero, another meter, cap, pressure, uncertainty."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from assets.compute.formulas.oxygen import saturation
from calibration.compute.asked import as_left_unchanged
from calibration.compute.method import Band, Known
from calibration.compute.methods import oxygen
from calibration.compute.typed import fields_for, read_fields
from calibration.compute.verdict import Outcome, judge
from tests.calibration.compute.methods.conftest import DAY, Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

GOOD = {"hold": "on", "way": "air", "temperature": "15", "pressure": "700", "shown": "9.30"}
HEIGHT = {"height": "690"}
BESIDE = GOOD | {"way": "beside", "beside": "8.50", "shown": "8.60", "pressure": ""}


def tool(key: str, kind: str, unit: str, u: str | None = None, **facts: Any) -> Any:
    stated = {} if u is None else {"uncertainty": Fraction(u), "k": Fraction(2), "certificate": f"certificate of {key}"}
    return make_standard(key, kind, "0", unit, is_lot=False, opened=None, **stated, **facts)


@pytest.fixture
def read(checked: Checked) -> Any:
    def worked(
        *standards: Any, good: dict[str, str] = GOOD, facts: dict[str, Any] | None = None, **typed: str
    ) -> Outcome:
        every = {name: text for name, text in {**good, **typed}.items() if text}
        return checked(oxygen.METHOD, every, *standards, **{"settings": HEIGHT, **(facts or {})})

    return worked


@pytest.mark.parametrize("way", ["air", "water"])
@pytest.mark.parametrize(
    ("temperature", "pressure", "printed"),
    [("0", "760", "14.62"), ("15", "760", "10.08"), ("15", "700", "9.27"), ("30", "760", "7.56")],
)
def test_a_perfect_sensor_shows_the_printed_saturation(
    read: Any, way: str, temperature: str, pressure: str, printed: str
) -> None:
    """Benson and Krause 1984; tables/oxygen_saturation.csv, where every row is compared with the formula itself."""
    outcome = read(facts={"settings": {}}, way=way, temperature=temperature, pressure=pressure, shown=printed)
    assert next(one.shown for one in outcome.worked.figures if one.name == "saturation") == printed
    assert outcome.verdict == "pass"


@pytest.mark.parametrize("settings", [HEIGHT, HEIGHT | {"cap_life": "365"}])
def test_every_line_can_be_worked_out_by_hand(read: Any, settings: dict[str, str]) -> None:
    thermometer = tool("T", "thermometer", "°C", corrections=((Fraction(15), Fraction("-0.2")),))
    barometer = tool("B", "barometer", "mmHg", corrections=((Fraction(700), Fraction("1.5")),))
    named = {"thermometer": "T", "barometer": "B", "zero": "0.1"}
    lines = figured(read(thermometer, barometer, facts={"settings": settings}, **named))
    lines += figured(read(good=BESIDE))
    assert len(lines) == 6
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("shown", "kind", "verdict"),
    [
        ("8.80", "as found", "pass"),
        ("8.81", "as found", "fail"),
        ("8.20", "as found", "pass"),
        ("8.19", "as found", "fail"),
        ("8.70", "as left", "pass"),
        ("8.71", "as left", "fail"),
        ("8.30", "as left", "pass"),
        ("8.29", "as left", "fail"),
    ],
)
def test_both_limits_themselves_pass(read: Any, shown: str, kind: str, verdict: str) -> None:
    assert read(good=BESIDE, facts={"kind": kind}, shown=shown).verdict == verdict


def test_a_sensor_nobody_touched_is_not_held_to_the_narrower_limit_of_an_adjustment() -> None:
    typed = {name: text for name, text in (BESIDE | {"shown": "8.75"}).items() if text}
    entered = read_fields(fields_for(oxygen.METHOD, "as found"), typed)
    found = oxygen.METHOD.read(entered, "as found", {})
    known = Known(day=DAY, settings=HEIGHT)
    assert judge(oxygen.METHOD, as_left_unchanged(found), known).verdict == "pass"
    assert judge(oxygen.METHOD, replace(found, kind="as left"), known).verdict == "fail"


@pytest.mark.parametrize(
    ("zero", "verdict", "asked"), [("0.2", "pass", False), ("0.21", None, True), ("0", "pass", False)]
)
def test_the_zero_limit_itself_passes(read: Any, zero: str, verdict: str | None, asked: bool) -> None:
    outcome = read(zero=zero)
    assert outcome.verdict == verdict
    assert bool(caught(outcome, "stale-zero")) == asked
    assert outcome.would_be == ("pass" if verdict else "fail")


def test_a_stale_zero_is_held_to_the_site_s_own_limit(read: Any) -> None:
    site = {"zero": Band(low=None, high=Fraction("0.05"), unit="mg/L", source="site", tag="site setting")}
    assert caught(read(facts={"limits": site}, zero="0.06"), "stale-zero")
    assert not caught(read(facts={"limits": site}, zero="0.05"), "stale-zero")


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ({"temperature": "0"}, ""),
        ({"temperature": "40"}, ""),
        ({"temperature": "40.1"}, "outside-formula"),
        ({"temperature": "-0.1"}, "outside-formula"),
        ({"pressure": "380"}, ""),
        ({"pressure": "379.9"}, "outside-pressure"),
        ({"pressure": "836"}, ""),
        ({"pressure": "837"}, "outside-pressure"),
    ],
)
def test_saturation_outside_its_formula_is_said_and_never_passes(read: Any, typed: dict[str, str], key: str) -> None:
    outcome = read(**typed)
    found = [one.key for one in outcome.found if one.key.startswith("outside")]
    assert found == ([key] if key else [])
    assert outcome.verdict is None or not key
    assert outcome.validity != "valid" or not key


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ({"pressure": "760"}, True),
        ({"pressure": "1013", "pressure_unit": "hPa"}, True),
        ({"pressure": "29.92", "pressure_unit": "inHg"}, True),
        ({"pressure": "700", "pressure_unit": "hPa"}, True),
        ({"pressure": "933.3", "pressure_unit": "hPa"}, False),
        ({"pressure": "93.33", "pressure_unit": "kPa"}, False),
    ],
)
def test_a_pressure_reduced_to_sea_level_shows_in_any_unit(read: Any, typed: dict[str, str], asked: bool) -> None:
    assert bool(caught(read(**typed), "sea-level")) == asked


@pytest.mark.parametrize(("percent", "asked"), [("100", False), ("103.2", False), ("104", True), ("97", True)])
def test_a_percentage_that_does_not_belong_to_its_milligrams(read: Any, percent: str, asked: bool) -> None:
    """9.30 mg/L are 100.3 % of saturation."""
    assert bool(caught(read(percent=percent), "percent-otherwise")) == asked
    assert not caught(read(good=BESIDE, percent=percent), "percent-otherwise")


@pytest.mark.parametrize(("shown", "asked"), [("20", False), ("20.1", True)])
def test_more_than_clean_water_holds_is_a_percentage_in_either_box(read: Any, shown: str, asked: bool) -> None:
    outcome = read(good=BESIDE, shown=shown, beside=shown)
    assert bool(caught(outcome, "percent")) == bool(caught(outcome, "percent-beside")) == asked
    assert (outcome.verdict is None) == asked


@pytest.mark.parametrize(("level", "asked"), [("0", True), ("0.99", True), ("1", False)])
def test_two_meters_that_agree_on_nothing_prove_no_gain(read: Any, level: str, asked: bool) -> None:
    outcome = read(good=BESIDE, shown=level, beside=level)
    assert bool(caught(outcome, "too-little")) == asked
    assert (outcome.verdict is None) == asked


@pytest.mark.parametrize(
    ("settings", "days", "asked"),
    [
        (HEIGHT, "730", False),
        (HEIGHT, "731", True),
        (HEIGHT | {"cap_life": "365"}, "365", False),
        (HEIGHT | {"cap_life": "365"}, "366", True),
        (HEIGHT, "", False),
    ],
)
def test_a_cap_older_than_the_site_allows_is_asked_about(
    read: Any, settings: dict[str, str], days: str, asked: bool
) -> None:
    assert bool(caught(read(facts={"settings": settings}, cap=days), "old-cap")) == asked


THERMOMETER, BAROMETER = tool("T", "thermometer", "°C", "0.2"), tool("B", "barometer", "hPa", "2")
NAMED = {"thermometer": "T", "barometer": "B"}


def test_the_uncertainty_at_saturation_by_hand(read: Any) -> None:
    """Slopes at 15 degC and 700 mmHg by the formula over one degree and over ten mmHg; 1 hPa = 0.750062 mmHg."""
    at = {(t, p): float(saturation(Fraction(t), Fraction(p))) for t, p in
          (("15.5", 700), ("14.5", 700), ("15", 705), ("15", 695))}  # fmt: skip
    by_degree, by_pressure = at["15.5", 700] - at["14.5", 700], (at["15", 705] - at["15", 695]) / 10
    parts = (0.1 * by_degree) ** 2 + (1 * by_degree) ** 2 / 12 + (0.750062 * by_pressure) ** 2 + by_pressure**2 / 12
    combined = read(THERMOMETER, BAROMETER, **NAMED).budgets["error"].combined
    assert combined is not None
    assert combined.u_c == pytest.approx(sqrt(parts + 0.01**2 / 12), rel=2e-4)


def test_the_uncertainty_beside_another_meter_by_hand(read: Any) -> None:
    meter = tool("M", "bench meter", "mg/L", "0.2")
    combined = read(meter, good=BESIDE, meter="M").budgets["error"].combined
    assert combined is not None
    assert combined.u_c == pytest.approx(sqrt(0.1**2 + 2 * 0.01**2 / 12), rel=1e-9)


@pytest.mark.parametrize(
    "typed",
    [
        {"thermometer": "T"},
        {"barometer": "B"},
        {},
        {"thermometer": "T", "barometer": "B", "pressure": ""},  # estimated from the height
        {"thermometer": "T", "barometer": "B", "temperature": "45"},
    ],
)
def test_what_is_not_stated_in_whole_has_none(read: Any, typed: dict[str, str]) -> None:
    assert read(THERMOMETER, BAROMETER, **typed).budgets == {}
    assert read(tool("T", "thermometer", "°C"), BAROMETER, **NAMED).budgets == {}


def test_at_the_ends_of_the_formula_the_slope_is_taken_to_one_side(read: Any) -> None:
    for temperature in ("0", "40"):
        assert set(read(THERMOMETER, BAROMETER, temperature=temperature, **NAMED).budgets) == {"error"}


def test_guarded_it_counts_beside_the_limit(read: Any) -> None:
    meter = tool("M", "bench meter", "mg/L", "0.2")
    for shown, verdict in (
        ("8.59", "pass"),
        ("8.70", "conditional pass"),
        ("8.95", "conditional fail"),
        ("9.1", "fail"),
    ):
        assert read(meter, good=BESIDE, facts={"guarded": True}, meter="M", shown=shown).verdict == verdict


def test_an_unfit_barometer_or_one_of_another_quantity_is_caught(read: Any) -> None:
    old = replace(BAROMETER, expires=date(2026, 10, 1))
    assert read(THERMOMETER, old, **NAMED).validity == "not valid"
    outcome = read(THERMOMETER, tool("B", "barometer", "mg/L", "1"), **NAMED)
    assert caught(outcome, "other-unit-barometer") == ["refuse"]


def test_a_correction_of_either_tool_moves_what_is_right(read: Any) -> None:
    warm = replace(THERMOMETER, corrections=((Fraction(0), Fraction("0.5")), (Fraction(30), Fraction("0.5"))))
    low = replace(BAROMETER, corrections=((Fraction(933), Fraction(-10)),))  # hPa: -7.5 mmHg
    got = read(warm, low, **NAMED).worked.figure("saturation")
    mmhg = 700 - 10 * Fraction("0.750061683")
    assert float(got) == pytest.approx(float(saturation(Fraction("15.5"), mmhg)), abs=1e-6)
