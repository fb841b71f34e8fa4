"""Every mistake that a record can show, at every method: caught where it is made, and not in the good set beside it."""

from __future__ import annotations

import itertools
import json
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from assets.compute.units import convert
from calibration.compute.method import AnyMethod
from calibration.compute.methods import ALL, orp, ph
from calibration.compute.typed import fields_for
from tests.calibration.compute.methods import cases_machines, cases_water
from tests.calibration.compute.methods.cases import MethodCase
from tests.calibration.compute.methods.conftest import Checked, caught
from tests.published import Reproduced, rows

CASES = (*cases_water.CASES, *cases_machines.CASES)
BY_METHOD = {case.method.code: case for case in CASES}
MISTAKES = [(case, key) for case in CASES for key in case.catches]


def judged(checked: Checked, case: MethodCase, changes: Mapping[str, str], facts: Mapping[str, Any]) -> Any:
    typed = {name: text for name, text in {**case.good, **changes}.items() if text}
    return checked(case.method, typed, *case.standards, **{"settings": case.settings, **facts})


def test_every_method_has_a_case() -> None:
    elsewhere = {ph.METHOD.code, orp.METHOD.code}
    assert {method.code for method in ALL} - elsewhere == set(BY_METHOD)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.method.code)
def test_the_good_set_is_valid_and_passes_and_its_neighbour_fails(checked: Checked, case: MethodCase) -> None:
    outcome = judged(checked, case, {}, {})
    assert [one.sentence for one in (*outcome.missing, *outcome.unanswered)] == []
    assert outcome.because == ()
    assert outcome.verdict == "pass"
    assert judged(checked, case, case.failing, {}).would_be == "fail"


@pytest.mark.parametrize(("case", "key"), MISTAKES, ids=[f"{case.method.code} {key}" for case, key in MISTAKES])
def test_the_mistake_is_caught_at_its_field_and_not_in_the_good_set(
    checked: Checked, case: MethodCase, key: str
) -> None:
    changes, facts = case.catches[key]
    outcome = judged(checked, case, changes, facts)
    assert caught(outcome, key)
    fields = {one.name for one in _fields(case.method)}
    at = next(one for one in outcome.found if one.key == key)
    assert at.field in fields
    assert len(at.sentence) > 25
    if changes or facts:
        assert not caught(judged(checked, case, {}, {}), key)


def _fields(method: AnyMethod) -> list[Any]:
    return [one for stage in method.stages for one in fields_for(method, stage)]


def test_another_unit_for_the_same_quantity_changes_nothing(checked: Checked) -> None:
    """Every number that may be typed in several units, typed in each that gives an exact decimal."""
    tried: set[str] = set()
    for case in CASES:
        judged_values = [one.value for one, _ in judged(checked, case, {}, {}).judged]
        for one in _fields(case.method):
            if not case.good.get(one.name) or not one.has_units:
                continue
            for unit in one.ask.units[1:]:
                value = convert(Fraction(case.good[one.name]), one.ask.units[0], unit)
                decimal = f"{float(value):.12f}".rstrip("0").rstrip(".")
                if Fraction(decimal) != value or len(decimal) > 20:
                    continue
                other = judged(checked, case, {one.name: decimal, f"{one.name}_unit": unit}, {})
                assert [v.value for v, _ in other.judged] == judged_values, (case.method.code, one.name, unit)
                tried.add(f"{case.method.code} {one.name} {unit}")
    assert len(tried) >= 20, tried


# A second row where the lowest good set has one; invented figures.
MORE_ROWS = {
    "uv-intensity": {"reference2_standard": "U2", "reference2_shown": "104"},
    "bench-meter": {"point2_standard": "C2", "point2_shown": "2.03"},
    "temperature": {"point2_reference": "21.0", "point2_shown": "21.2"},
    "differential-pressure": {"point2_reference": "90", "point2_shown": "89.9"},
    "weigh-scale": {"load2_mass": "100.0", "load2_shown": "100.3"},
    "particle-counter": {"channel1_size": "2", "channel1_counts": "40", "channel2_size": "5", "channel2_counts": "9"},
}
# Least, usual and most flow are told by their place, so there the order is what is said.
TOLD_BY_PLACE = {"flow-comparison"}
IN_ROWS = sorted({case.method.code for case in CASES for ask in case.method.asks if ask.each} - TOLD_BY_PLACE)


@pytest.mark.parametrize("code", IN_ROWS)
def test_the_order_of_rows_changes_no_verdict(checked: Checked, code: str) -> None:
    plain = BY_METHOD[code]
    twins = tuple(
        replace(
            one, id=f"{one.id}2", label=f"{one.label} II", nominal=one.nominal * 2, nominal_text=str(one.nominal * 2)
        )
        for one in plain.standards
        if f"{one.id}2" in MORE_ROWS.get(code, {}).values()
    )
    case = replace(plain, good={**plain.good, **MORE_ROWS.get(code, {})}, standards=(*plain.standards, *twins))
    each = next(ask.each for ask in case.method.asks if ask.each)
    numbers = sorted(
        {int(name[len(each)]) for name in case.good if name.startswith(each) and name[len(each)].isdigit()}
    )
    assert len(numbers) >= 2
    whole = judged(checked, case, {}, {})
    assert whole.verdict == "pass", whole.because
    for order in itertools.islice(itertools.permutations(numbers), 6):
        changes = {
            f"{each}{new}_{name.partition('_')[2]}": text
            for old, new in zip(numbers, order, strict=True)
            for name, text in case.good.items()
            if name.startswith(f"{each}{old}_")
        }
        other = judged(checked, case, changes, {})
        assert other.verdict == whole.verdict
        values = lambda outcome: sorted((v.what.rstrip("0123456789"), v.value) for v, _ in outcome.judged)  # noqa: E731
        assert values(other) == values(whole)


def test_a_grab_at_its_limit_passes_as_the_rule_prints_it(checked: Checked, reproduced: Reproduced) -> None:
    """EPA Method 334.0: the larger of 0.10 mg/L and 15 % of the grab, the limit itself inside."""
    case = BY_METHOD["chlorine"]
    for row in rows("worked/plant_figures.csv"):
        if not row["id"].startswith("C") or row["unit"] != "decision":
            continue
        given = json.loads(row["inputs"])
        changes = {f"grab{n}_shown": str(given["online_mg_L"]) for n in (1, 2)}
        changes |= {f"grab{n}_bench": str(given["grab_mg_L"]) for n in (1, 2)}
        verdict = judged(checked, case, changes, {"settings": {"species": "free", "low_range": "3"}}).verdict
        reproduced.word(verdict, row["expected"].split(" ")[0], file="worked/plant_figures.csv", row=row["id"])


def test_a_turbidimeter_within_a_tenth_of_its_standard_is_not_recalibrated(
    checked: Checked, reproduced: Reproduced
) -> None:
    """Health Canada: recalibrate when the drift is above 10 % of the standard."""
    case = BY_METHOD["turbidity"]
    for row in rows("worked/plant_figures.csv"):
        if not row["id"].startswith("U"):
            continue
        given = json.loads(row["inputs"])
        nominal = str(given["standard_NTU"])
        standard = replace(cases_water.FORMAZIN, nominal=Fraction(nominal), nominal_text=nominal)
        outcome = checked(case.method, {**case.good, "shown": str(given["reading_NTU"])}, standard, settings={})
        said = {"pass": "pass", "fail": "recalibrate"}[outcome.verdict]
        reproduced.word(said, row["expected"], file="worked/plant_figures.csv", row=row["id"])


def test_the_lamp_hours_that_a_check_keeps_are_what_the_next_one_is_held_against(checked: Checked) -> None:
    case = BY_METHOD["uv-intensity"]
    kept = judged(checked, case, {}, {}).worked.figure("hours")
    assert kept is not None
    assert Fraction(kept) == 5000
    later = judged(checked, case, {"hours": "4990"}, {"last": {"hours": Fraction(kept)}})
    assert caught(later, "hours")
