"""A bench meter: three levels that are three, limits of nought, buffers at their temperature, what it is unsure by."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from calibration.compute.methods import bench_meter
from calibration.compute.standards import Assigned, Standard
from calibration.compute.temperature_tables import table_from_rows
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import Reproduced, of_row, rows

LOW, MIDDLE, HIGH = (make_standard(key, "chlorine standard", key, "mg/L") for key in ("0.20", "1.00", "3.00"))
NEAR = make_standard("1.09", "chlorine standard", "1.09", "mg/L")
AGAIN = replace(MIDDLE, id="again", label="26-again")
GIVEN = Assigned(unit_key="asset-9", value=Fraction("0.48"), text="0.48", on=date(2026, 10, 1))
BLOCK = make_standard("block", "turbidity block", "0.52", "NTU", assigned=(GIVEN,))
TABLE = table_from_rows(
    code="seven", name="Buffer 7", rows=[("10", "7.06"), ("20", "7.02"), ("30", "6.99")], source="invented"
)
SEVEN = make_standard("seven", "buffer", "7.00", "pH", table=TABLE)
FOUR, TEN = (make_standard(key, "buffer", key, "pH") for key in ("4.00", "10.00"))
ALL = (LOW, MIDDLE, HIGH, NEAR, AGAIN, BLOCK, SEVEN, FOUR, TEN)
WARMEST = 60
"""°C that the field of a temperature takes."""
GOOD = {"way": "daily", "blank": "0.00", "point1_standard": "1.00", "point1_shown": "1.04"}
PH = {"blank": "", "point1_standard": "seven", "point1_temperature": "15", "point1_shown": "7.04"}


def judged(checked: Checked, changes: dict[str, str], *standards: Standard, **facts: Any) -> Any:
    return checked(bench_meter.METHOD, GOOD | changes, *(standards or ALL), **facts)


def primary(*pairs: tuple[str, str]) -> dict[str, str]:
    named = {f"point{n}_standard": key for n, (key, _) in enumerate(pairs, 1)}
    return {"way": "primary", **named, **{f"point{n}_shown": text for n, (_, text) in enumerate(pairs, 1)}}


THREE = primary(("0.20", "0.21"), ("1.00", "1.04"), ("3.00", "2.95"))


@pytest.mark.parametrize("changes", [{}, THREE, PH, PH | {"point1_temperature": "20"}])
def test_every_line_can_be_worked_out_by_hand(checked: Checked, changes: dict[str, str]) -> None:
    outcome = judged(checked, changes)
    assert outcome.verdict == "pass"
    assert figured(outcome)
    for line in figured(outcome):
        assert_agrees(line)


# --------------------------------------------------------------------------------------------------------------- levels


@pytest.mark.parametrize(
    ("pairs", "field"),
    [
        ([("1.00", "1.04")] * 3, "point2_standard"),
        ([("1.00", "1.04")] * 4, "point2_standard"),
        ([("0.20", "0.2"), ("1.00", "1.04"), ("1.00", "1.03")], "point3_standard"),
        ([("0.20", "0.2"), ("1.00", "1.04"), ("again", "1.03")], "point3_standard"),  # another lot, the same value
        ([("0.20", "0.2"), ("1.00", "1.04"), ("1.09", "1.1")], "point3_standard"),  # nearer than the error allowed
        ([("1.00", "1.04")], "point2_shown"),
        ([("0.20", "0.2"), ("1.00", "1.04")], "point3_shown"),
    ],
)
def test_fewer_than_three_values_are_no_primary_check(
    checked: Checked, pairs: list[tuple[str, str]], field: str
) -> None:
    outcome = judged(checked, primary(*pairs))
    assert [one.field for one in outcome.missing if one.key == "levels"] == [field]
    assert outcome.verdict is None


def test_three_values_are_in_any_order_and_a_fourth_may_be_one_of_them(checked: Checked) -> None:
    three = [("0.20", "0.20"), ("1.00", "1.04"), ("3.00", "2.95")]
    assert judged(checked, primary(*reversed(three))).verdict == "pass"
    assert judged(checked, primary(three[0], three[1], three[1], three[2])).verdict == "pass"
    model = judged(checked, primary(three[0], three[1], three[1], three[2])).worked.model
    assert [true for true, _ in model.points] == [Fraction("0.2"), Fraction(1), Fraction(3)]


def test_the_same_standard_twice_is_no_line(checked: Checked) -> None:
    twice = judged(checked, {"point2_standard": "1.00", "point2_shown": "1.02"})
    assert twice.verdict == "pass"
    assert (twice.worked.model.kind, len(twice.worked.model.points)) == ("gain", 1)


@pytest.mark.parametrize("one", ["1", "2", "3"])
def test_one_level_out_fails_whatever_the_others_show(checked: Checked, one: str) -> None:
    assert judged(checked, THREE | {f"point{one}_shown": "2.0"}).verdict == "fail"


# ----------------------------------------------------------------------------------------------------- limits and blank


@pytest.mark.parametrize(
    ("settings", "shown", "verdict"),
    [
        ({}, "1.10", "pass"), ({}, "1.101", "fail"), ({}, "0.90", "pass"), ({}, "0.899", "fail"),
        ({"percent": "0"}, "1.00", "pass"), ({"percent": "0"}, "1.001", "fail"),
        ({"percent": "0", "fixed": "0"}, "1.001", "fail"), ({"percent": "0", "fixed": "0.02"}, "1.02", "pass"),
        ({"percent": "5", "fixed": "0.02"}, "1.05", "pass"), ({"percent": "5", "fixed": "0.02"}, "1.051", "fail"),
    ],
)  # fmt: skip
def test_a_limit_of_nought_is_one_and_only_an_empty_one_is_the_usual(
    checked: Checked, settings: dict[str, str], shown: str, verdict: str
) -> None:
    assert judged(checked, {"point1_shown": shown}, settings=settings).verdict == verdict


@pytest.mark.parametrize(
    ("limit", "blank", "verdict"),
    [
        ("", "0.05", "pass"), ("", "0.051", "fail"), ("", "-0.05", "pass"), ("", "-0.051", "fail"),
        ("0", "0.00", "pass"), ("0", "0.01", "fail"), ("0", "-0.01", "fail"), ("0.02", "0.02", "pass"),
        ("0.02", "0.021", "fail"),
    ],
)  # fmt: skip
def test_a_blank_allowed_nought_stays_nought(checked: Checked, limit: str, blank: str, verdict: str) -> None:
    settings = {"blank_limit": limit} if limit else {}
    assert judged(checked, {"blank": blank}, settings=settings).verdict == verdict


def test_a_blank_is_left_out_with_buffers_alone(checked: Checked) -> None:
    assert caught(judged(checked, {"blank": ""}), "missing-blank") == ["refuse"]
    assert not caught(judged(checked, PH), "missing-blank")
    assert judged(checked, PH).verdict == "pass"
    assert [one.key for one in judged(checked, {"blank": "none"}).missing] == ["unread-blank"]


# -------------------------------------------------------------------------------------------------------------- buffers


@pytest.mark.parametrize(
    ("temperature", "true"), [("10", "7.06"), ("15", "7.04"), ("20", "7.02"), ("24", "7.008"), ("30", "6.99")]
)
def test_a_buffer_is_worth_what_its_table_says(checked: Checked, temperature: str, true: str) -> None:
    """By hand, straight between the rows; 7.00 on the label plays no part."""
    changes = PH | {"point1_temperature": temperature}
    assert judged(checked, changes).worked.figure("true_1") == Fraction(true)
    for off, verdict in (("0.1", "pass"), ("-0.1", "pass"), ("0.1001", "fail"), ("-0.1001", "fail")):
        shown = f"{float(Fraction(true) + Fraction(off)):.4f}"
        assert judged(checked, changes | {"point1_shown": shown}).verdict == verdict


def test_the_buffers_of_printed_tables(checked: Checked, reproduced: Reproduced) -> None:
    """Every row of tables/ph_buffers.csv that a thermometer of this method can show, read back through the meter."""
    file = "tables/ph_buffers.csv"
    for name in dict.fromkeys(one["buffer"] for one in rows(file)):
        printed = [one for one in rows(file) if one["buffer"] == name]
        table = table_from_rows(
            code=name, name=name, rows=[(one["temperature_c"], one["ph"]) for one in printed], source="reprinted"
        )
        for one in printed:
            if Fraction(one["temperature_c"]) > WARMEST:
                continue
            changes = PH | {"point1_temperature": one["temperature_c"]}
            got = judged(checked, changes, replace(SEVEN, table=table)).worked.figure("true_1")
            row = one | {"row": f"{name} {one['temperature_c']}"}
            reproduced(got, of_row(file, row, key="row", value="ph", tolerance=0))


@pytest.mark.parametrize(("temperature", "key"), [("", "no-temperature-1"), ("9.9", "outside-table-1"),
                                                  ("30.1", "outside-table-1")])  # fmt: skip
def test_a_buffer_without_a_value_at_its_temperature_is_not_judged(
    checked: Checked, temperature: str, key: str
) -> None:
    outcome = judged(checked, PH | {"point1_temperature": temperature})
    assert caught(outcome, key)
    assert outcome.verdict is None
    assert "error_1" not in {one.name for one, _ in outcome.judged}
    assert not caught(judged(checked, {}), "no-temperature-1")  # a chlorine standard has no table


@pytest.mark.parametrize(
    ("settings", "shown", "verdict"),
    [({}, "7.7", "fail"), ({"percent": "10"}, "7.7", "fail"), ({"fixed": "0.05"}, "7.10", "fail"),
     ({"fixed": "0.05"}, "7.09", "pass"), ({"fixed": "0"}, "7.041", "fail"), ({"fixed": "0"}, "7.04", "pass")],
)  # fmt: skip
def test_ten_per_cent_of_a_ph_is_no_limit(checked: Checked, settings: dict[str, str], shown: str, verdict: str) -> None:
    assert judged(checked, PH | {"point1_shown": shown}, settings=settings).verdict == verdict


def test_three_buffers_are_three_levels_and_their_error_is_an_offset(checked: Checked) -> None:
    three = primary(("4.00", "4.02"), ("seven", "7.04"), ("10.00", "9.95")) | {"blank": "", "point2_temperature": "15"}
    assert judged(checked, three).verdict == "pass"
    assert judged(checked, PH).worked.model.kind == "offset"
    lacking = judged(checked, three | {"point2_temperature": ""})
    assert [one.key for one in lacking.missing] == ["no-temperature-2"]


# -------------------------------------------------------------------------------------------------------- blocks, units


@pytest.mark.parametrize(
    ("unit_key", "last", "key"),
    [("asset-9", "", ""), ("asset-9", "2026-10-01", ""), ("asset-9", "2026-10-02", "old-assignment-1"),
     ("asset-3", "", "unassigned-1")],
)  # fmt: skip
def test_a_block_counts_with_the_last_value_it_was_given_on_this_meter(
    checked: Checked, unit_key: str, last: str, key: str
) -> None:
    block = {"point1_standard": "block", "point1_shown": "0.528"}  # 0.48 and its tenth
    outcome = judged(checked, block, unit_key=unit_key, settings={"last_primary": last})
    assert [one.key for one in outcome.found if one.weight != "remind"] == ([key] if key else [])
    assert outcome.verdict == (None if key else "pass")
    over = judged(checked, block | {"point1_shown": "0.5281"}, unit_key="asset-9")
    assert over.verdict == "fail"


def test_two_units_in_one_check_are_refused_at_the_second(checked: Checked) -> None:
    mixed = {"point2_standard": "block", "point2_shown": "0.48"}
    outcome = judged(checked, mixed, unit_key="asset-9")
    assert [one.field for one in outcome.missing] == ["point2_standard"]


# ---------------------------------------------------------------------------------------------------------- uncertainty

STATED: dict[str, Any] = {"uncertainty": Fraction("0.04"), "k": Fraction(2), "certificate": "certificate of the lot"}


def u_c(outcome: Any, name: str) -> float:
    combined = outcome.budgets[name].combined
    assert combined is not None
    return float(combined.u_c)


def test_each_point_has_its_own_uncertainty_by_hand_and_the_blank_has_none(checked: Checked) -> None:
    stated = (replace(LOW, **{**STATED, "uncertainty": Fraction("0.01")}), replace(MIDDLE, **STATED), HIGH)
    outcome = judged(checked, THREE | {"point2_shown": "1.0"}, *stated)
    assert set(outcome.budgets) == {"error_1", "error_2"}
    assert u_c(outcome, "error_1") == pytest.approx(sqrt(0.005**2 + 0.01**2 / 12), rel=1e-9)
    assert u_c(outcome, "error_2") == pytest.approx(sqrt(0.02**2 + 0.1**2 / 12), rel=1e-9)


@pytest.mark.parametrize(("temperature", "slope"), [("15.0", 0.004), ("25.0", 0.003), ("20.0", 0.004)])
def test_the_last_digit_of_the_temperature_moves_a_buffer(checked: Checked, temperature: str, slope: float) -> None:
    """7.06 at 10, 7.02 at 20, 6.99 at 30 degC: 0.004 and 0.003 pH a degree; on a row, the steeper side."""
    stated = replace(SEVEN, **STATED)
    changes = PH | {"point1_temperature": temperature}
    parts = 0.02**2 + 0.01**2 / 12 + (slope * 0.1) ** 2 / 12
    assert u_c(judged(checked, changes, stated), "error_1") == pytest.approx(sqrt(parts), rel=1e-9)


@pytest.mark.parametrize(
    ("shown", "verdict"),
    [("1.05", "pass"), ("1.06", "conditional pass"), ("1.14", "conditional fail"), ("1.15", "fail")],
)
def test_guarded_a_point_near_its_limit_is_conditional(checked: Checked, shown: str, verdict: str) -> None:
    """U = 2 x sqrt(0.02^2 + 0.01^2 / 12) = 0.0404 around 0.10."""
    stated = replace(MIDDLE, **STATED)
    assert judged(checked, {"point1_shown": shown}, stated, guarded=True).verdict == verdict


@pytest.mark.parametrize("facts", [{"uncertainty": None}, {"k": None}, {"uncertainty": Fraction(0)}])
def test_a_standard_that_states_none_leaves_it_not_stated(checked: Checked, facts: dict[str, Any]) -> None:
    outcome = judged(checked, {}, replace(MIDDLE, **{**STATED, **facts}), guarded=True)
    assert outcome.budgets == {}
    assert not outcome.uncertainty_stated


def test_the_uncertainty_on_a_label_is_not_that_of_a_value_given_here(checked: Checked) -> None:
    block = {"point1_standard": "block", "point1_shown": "0.50"}
    assert judged(checked, block, replace(BLOCK, **STATED), unit_key="asset-9").budgets == {}
