"""Flow against a measured tank: true flow by area and by a table, every face judged, what is caught."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from calibration.compute.method import Answer, Band
from calibration.compute.methods import flow_volume
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
ROWS = {row["id"]: row for row in rows(FILE)}
TANK = make_standard("T", "tank", "50", "m²", is_lot=False, opened=None)
GOOD = {
    "hold": "on",
    "tank": "T",
    "way": "down",
    "first": "4.000",
    "last": "3.000",
    "seconds": "3600",
    "indicated": "50.5",
    "shut": "yes",
    "leak": "0",
    "full": "yes",
    "steady_constant": "no",
}
WHOLE = GOOD | {"zero": "0.1", "hmi": "50.6", "total_first": "1000.00", "total_last": "1050.40"}
TABLE = {"volume_first": "210", "volume_last": "160"}
SETTINGS = {"level_step": "0.002"}


def test_every_face_is_judged_and_every_line_can_be_worked_out_by_hand(checked: Checked) -> None:
    outcome = checked(flow_volume.METHOD, WHOLE, TANK, settings=SETTINGS | {"level_within": "0.002"})
    assert outcome.verdict == "pass"
    values = {one.name: (one.value, one.face) for one, _ in outcome.judged}
    assert values == {
        "error": (Fraction(1), "display"),
        "hmi": (Fraction("1.2"), "HMI"),
        "zero": (Fraction("0.2"), "display"),
        "total": (Fraction("0.8"), "display"),
    }
    lines = figured(outcome)
    assert len(lines) == 10
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize(
    ("name", "at", "beyond"),
    [
        ("error", {"indicated": "51.5"}, {"indicated": "51.50001"}),
        ("hmi", {"hmi": "48.5"}, {"hmi": "48.49999"}),
        ("zero", {"zero": "0.5"}, {"zero": "0.50001"}),
        ("zero", {"zero": "-0.5"}, {"zero": "-0.50001"}),
        ("total", {"total_last": "1051.5"}, {"total_last": "1051.50001"}),
    ],
)
def test_each_limit_itself_passes_and_a_hair_more_fails_by_it_alone(
    checked: Checked, name: str, at: dict[str, str], beyond: dict[str, str]
) -> None:
    assert checked(flow_volume.METHOD, WHOLE | at, TANK, settings=SETTINGS).verdict == "pass"
    outcome = checked(flow_volume.METHOD, WHOLE | beyond, TANK, settings=SETTINGS)
    assert [one.name for one, verdict in outcome.judged if verdict == "fail"] == [name]
    assert outcome.verdict == "fail"


def test_the_site_s_own_limit_of_the_zero_counts_with_its_source(checked: Checked) -> None:
    own = Band(low=Fraction(-2), high=Fraction(2), unit="%", source="maker’s sheet", tag="site setting")
    outcome = checked(flow_volume.METHOD, WHOLE | {"zero": "0.9"}, TANK, settings=SETTINGS, limits={"zero": own})
    assert outcome.verdict == "pass"
    assert next(one.source for one, _ in outcome.judged if one.name == "zero") == "maker’s sheet"


def test_a_drop_test_gives_the_flow_of_the_worked_example_by_area_and_by_table(
    checked: Checked, reproduced: Reproduced
) -> None:
    """UFC 3-230-02: 9400 gal in 1128 s are 500 gal/min; one metre of a tank that holds 9400 gal a metre."""
    given = {name: str(value) for name, value in json.loads(ROWS["F02"]["inputs"]).items()}
    gallon = Fraction("0.003785411784")
    area = float(Fraction(given["volume_gal"]) * gallon)
    tank = replace(TANK, nominal=Fraction(str(area)), nominal_text=str(area))
    test = GOOD | {"seconds": given["seconds"], "indicated": "512", "indicated_unit": "gal/min"}
    by_table = {"volume_first": "20000", "volume_last": str(20000 - int(given["volume_gal"]))} | {
        f"volume_{end}_unit": "gal" for end in ("first", "last")
    }
    for typed in (test, test | by_table):
        worked = checked(flow_volume.METHOD, typed, tank, settings=SETTINGS).worked
        true = Fraction(worked.figure("true") or 0) / gallon / 60
        for key, value in (("F02", true), ("F03", worked.figure("error")), ("F04", worked.figure("error_of_meter"))):
            row = ROWS[key]
            assert value is not None
            reproduced(value, of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))


@pytest.mark.parametrize(("way", "first", "last", "true"), [("down", "4", "3", "49.5"), ("up", "3", "4", "50.5")])
def test_a_leak_is_taken_off_drawing_down_and_put_back_filling_by_area_and_by_table(
    checked: Checked, way: str, first: str, last: str, true: str
) -> None:
    typed = GOOD | {"way": way, "first": first + ".000", "last": last + ".000", "leak": "0.01"}
    volumes = {"volume_first": str(10 + 50 * int(first)), "volume_last": str(10 + 50 * int(last))}
    for one in (typed, typed | volumes):
        assert checked(flow_volume.METHOD, one, TANK, settings=SETTINGS).worked.figure("true") == Fraction(true)


def test_a_table_needs_no_area_and_counts_before_one(checked: Checked) -> None:
    no_area = checked(flow_volume.METHOD, GOOD | TABLE, make_standard("T", "tank", "0", "m³", opened=None))
    assert no_area.verdict == "pass"
    coned = checked(flow_volume.METHOD, GOOD | TABLE | {"volume_last": "161"}, TANK, settings=SETTINGS)
    assert coned.worked.figure("true") == 49
    for line in figured(coned):
        assert_agrees(line)


def test_two_levels_within_two_millimetres_in_458_give_0_71_percent_and_0_87_at_worst(checked: Checked) -> None:
    """By hand: 2 x sqrt(2) x (2 / sqrt(3)) / 458 = 0.713 %; 2 x 2 / 458 = 0.873 %."""
    tank = replace(TANK, uncertainty=Fraction("0.1"), k=Fraction(2))
    typed = GOOD | {"first": "4.000", "last": "3.542", "indicated": "22.9"}
    outcome = checked(flow_volume.METHOD, typed, tank, settings=SETTINGS | {"level_within": "0.002"})
    levels = [one for one in outcome.budgets["error"].components if one.name.startswith("level at the")]
    assert len(levels) == 2
    assert round(2 * sqrt(sum(one.contribution**2 for one in levels)), 2) == 0.71
    assert round(float(outcome.worked.figure("level_worst")), 2) == 0.87


CERTIFIED = replace(TANK, uncertainty=Fraction("0.4"), k=Fraction(2), certificate="own measurement")
WITHIN = SETTINGS | {"level_within": "0.003"}


def test_the_uncertainty_is_that_of_tank_levels_time_and_digits(checked: Checked) -> None:
    """By hand in %, of a change of 1 m in an hour: area 0.2 of 50, levels 3 mm / sqrt(3) each, 1 s, 0.1 and 0.01."""
    outcome = checked(flow_volume.METHOD, WHOLE, CERTIFIED, settings=WITHIN)
    tank = (0.4 / 2 / 50) ** 2 + 2 * (0.003 / sqrt(3)) ** 2
    time = (1 / sqrt(12) / 3600) ** 2
    for name, ratio, timed in (("error", 1.01, time), ("hmi", 1.012, time)):
        u = 100 * sqrt(ratio**2 * (tank + timed) + (0.1 / sqrt(12) / 50) ** 2)
        assert float(outcome.budgets[name].expanded) == pytest.approx(2 * u, rel=1e-9)
    u = 100 * sqrt(1.008**2 * tank + 2 * (0.01 / sqrt(12) / 50) ** 2)
    assert float(outcome.budgets["total"].expanded) == pytest.approx(2 * u, rel=1e-9)
    assert "zero" not in outcome.budgets


def test_a_table_s_uncertainty_counts_at_both_levels(checked: Checked) -> None:
    tank = make_standard("T", "tank", "0", "m³", opened=None, uncertainty=Fraction("0.5"), k=Fraction(2))
    outcome = checked(flow_volume.METHOD, GOOD | TABLE, tank, settings=WITHIN)
    of_tank = 2 * (0.25 / 50) ** 2 + 2 * (0.003 / sqrt(3)) ** 2 + (1 / sqrt(12) / 3600) ** 2
    u = 100 * sqrt(1.01**2 * of_tank + (0.1 / sqrt(12) / 50) ** 2)
    assert float(outcome.budgets["error"].expanded) == pytest.approx(2 * u, rel=1e-9)


def test_typed_in_other_units_the_uncertainty_is_that_of_their_last_digit(checked: Checked) -> None:
    """14.00 L/s are read to 0.036 m³/h and one minute is 60 s: by hand."""
    typed = GOOD | {"indicated": "14.00", "indicated_unit": "L/s", "seconds": "60", "seconds_unit": "min"}
    outcome = checked(flow_volume.METHOD, typed, CERTIFIED, settings=WITHIN)
    ratio = 50.4 / 50
    tank = (0.004) ** 2 + 2 * (0.003 / sqrt(3)) ** 2 + (60 / sqrt(12) / 3600) ** 2
    u = 100 * sqrt(ratio**2 * tank + (0.036 / sqrt(12) / 50) ** 2)
    assert float(outcome.budgets["error"].expanded) == pytest.approx(2 * u, rel=1e-9)


@pytest.mark.parametrize(
    ("tank", "settings"),
    [(TANK, WITHIN), (CERTIFIED, SETTINGS), (CERTIFIED, SETTINGS | {"level_within": "0"})],
)
def test_without_one_of_its_parts_the_uncertainty_is_not_stated(
    checked: Checked, tank: Any, settings: dict[str, str]
) -> None:
    assert checked(flow_volume.METHOD, WHOLE, tank, settings=settings, guarded=True).budgets == {}


def test_a_requirement_that_guards_counts_it(checked: Checked) -> None:
    typed = GOOD | {"indicated": "51.4"}
    assert checked(flow_volume.METHOD, typed, CERTIFIED, settings=WITHIN, guarded=True).verdict == "conditional pass"


CATCHES: list[tuple[str, dict[str, str], dict[str, Any], str]] = [
    ("shut", {"shut": "no"}, {}, "not valid"),
    ("way", {"last": "4.500"}, {}, "not valid"),
    ("way", {"last": "4.000"}, {}, "not valid"),
    ("way", {"way": "up"}, {}, "not valid"),
    ("leak", {"leak": "1"}, {}, "not valid"),
    ("full", {"full": "no"}, {}, "not valid"),
    ("direction", {"direction": "no"}, {}, "not valid"),
    ("constant", {"steady_constant": "yes"}, {}, "not valid"),
    ("forced", {"hmi": "60"}, {"forced": ("FIT-1 forced to 60",)}, "valid"),
    ("no-area", {}, {"tank": replace(TANK, nominal=Fraction(0))}, "incomplete"),
    ("other-unit-tank", {}, {"tank": replace(TANK, unit="m")}, "incomplete"),
    ("one-volume", {"volume_first": "210"}, {}, "incomplete"),
    ("one-volume", {"volume_last": "160"}, {}, "incomplete"),
    ("volume", {"volume_first": "160", "volume_last": "210"}, {}, "not valid"),
    ("volume", {"volume_first": "160", "volume_last": "160"}, {}, "not valid"),
    ("table", {"volume_first": "210", "volume_last": "150"}, {}, "asked"),
    ("short", {"last": "3.981"}, {}, "asked"),
    ("short", {"last": "3.9"}, {}, "asked"),
    ("damped", {"damping": "361"}, {}, "asked"),
    ("unit", {"indicated": "13.9"}, {}, "asked"),
    ("unit", {"indicated": "182"}, {}, "asked"),
    ("unit", {"indicated": "15.3"}, {}, "asked"),
    ("unit", {"indicated": "4.2"}, {}, "asked"),
    ("unit", {"indicated": "505"}, {}, "asked"),
    ("unit-total", {"total_last": "1504"}, {}, "asked"),
    ("one-total", {"total_first": ""}, {}, "incomplete"),
    ("one-total", {"total_last": ""}, {}, "incomplete"),
    ("total-down", {"total_last": "949.6"}, {}, "valid"),
    ("missing-leak", {"leak": ""}, {}, "incomplete"),
    ("unread-first", {"first": "-4"}, {}, "incomplete"),
]


@pytest.mark.parametrize(("key", "bad", "facts", "validity"), CATCHES)
def test_the_mistake_is_caught_and_its_neighbour_is_not(
    checked: Checked, key: str, bad: dict[str, str], facts: dict[str, Any], validity: str
) -> None:
    good = WHOLE | {"direction": "yes", "damping": "360"}
    known = {name: fact for name, fact in facts.items() if name != "tank"}
    outcome = checked(flow_volume.METHOD, good | bad, facts.get("tank", TANK), settings=SETTINGS, **known)
    assert caught(outcome, key)
    assert outcome.validity == validity
    for neighbour in (good, good | TABLE):
        right = checked(flow_volume.METHOD, neighbour, TANK, settings=SETTINGS)
        assert right.validity == "valid"
        assert not caught(right, key)


def test_a_short_drop_is_seen_in_the_digits_typed_where_no_step_is_written(checked: Checked) -> None:
    """Twenty steps of a centimetre are 0.2 m, of a millimetre 0.02 m: in any unit."""
    for first, last, unit, short in (
        ("4.00", "3.80", "m", False),
        ("4.00", "3.81", "m", True),
        ("400", "381", "mm", True),
        ("400", "380", "mm", False),
    ):
        typed = GOOD | {"first": first, "last": last, "first_unit": unit, "last_unit": unit}
        assert bool(caught(checked(flow_volume.METHOD, typed, TANK), "short")) is short


def test_a_totalizer_that_went_down_is_left_out_and_the_rate_is_judged(checked: Checked) -> None:
    outcome = checked(flow_volume.METHOD, WHOLE | {"total_last": "949.6"}, TANK, settings=SETTINGS)
    assert outcome.verdict == "pass"
    assert "total" not in {one.name for one, _ in outcome.judged}


@pytest.mark.parametrize("choice", ["known", "longer"])
def test_a_short_test_stands_only_with_a_reason(checked: Checked, choice: str) -> None:
    typed = GOOD | {"last": "3.981", "indicated": "0.95"}
    for reason in ("", "the reservoir holds no more"):
        answers = {"short": Answer(choice=choice, reason=reason)}
        outcome = checked(flow_volume.METHOD, typed, TANK, settings=SETTINGS, answers=answers)
        assert (outcome.verdict == "pass") is (choice == "known" and bool(reason))


@pytest.mark.parametrize("field", ["total_first", "zero", "full", "steady_constant"])
def test_what_is_not_written_is_reminded_of(checked: Checked, field: str) -> None:
    key = {"total_first": "totalizer", "zero": "zero", "full": "pipe", "steady_constant": "forced"}[field]
    bare = {name: text for name, text in WHOLE.items() if name != field and not name.startswith("total")}
    assert caught(checked(flow_volume.METHOD, bare, TANK, settings=SETTINGS), key) == ["remind"]
    assert not caught(checked(flow_volume.METHOD, WHOLE, TANK, settings=SETTINGS), key)
