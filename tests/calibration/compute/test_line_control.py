"""Check standards on a calibration line, against the optical line widths of the NIST e-Handbook 2.3.7."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest

from calibration.compute.line_control import LineInUse, control
from tests.published import FIXTURES, example

F = Fraction


def test_only_the_fourth_day_is_out_of_control(reproduced: Any) -> None:
    case = example("nist_mpc37_calibration_line_control")
    i = case.inputs
    line = LineInUse(intercept=F(str(i["b0"])), slope=F(str(i["b1"])), s=i["s"], dof=i["df"])
    checks = [(F(str(x)), F(str(y))) for x, y in zip(i["X_known"], i["Y_measured"], strict=True)]
    found = control(line, checks, standards=i["m"], alpha=i["alpha"])
    reproduced(found.factor, case.figures["t_star"])
    reproduced(found.limit, case.figures["limit"])
    for number, one in enumerate(found.differences, start=1):
        reproduced(one, case.figures[f"W_{number}"])
    kept = json.loads((FIXTURES / case.file).read_text())
    expected = next(one["value"] for one in kept["expected"] if one["name"] == "out_rows_zero_based")
    reproduced.word(str(list(found.out)), str(expected), file=case.file, row="out_rows_zero_based")
    assert {i["day"][place] for place in found.out} == {4}


def test_a_value_on_the_limit_is_inside_and_a_falling_line_has_the_same_limit() -> None:
    line = LineInUse(intercept=F(0), slope=F(1), s=0.0, dof=10)
    assert control(line, [(F(5), F(5))], standards=3).out == ()
    rising = control(LineInUse(intercept=F(0), slope=F(2), s=0.1, dof=10), [(F(1), F(3))], standards=1)
    falling = control(LineInUse(intercept=F(0), slope=F(-2), s=0.1, dof=10), [(F(1), F(-3))], standards=1)
    assert rising.limit == falling.limit > 0 and rising.out == falling.out == (0,)


def test_more_standards_in_a_check_stand_further_apart_before_they_alarm() -> None:
    line = LineInUse(intercept=F(0), slope=F(1), s=0.1, dof=10)
    limits = [control(line, [], standards=m).limit for m in (1, 2, 3)]
    assert limits == sorted(limits) and len(set(limits)) == 3
    with pytest.raises(ZeroDivisionError):
        control(LineInUse(intercept=F(0), slope=F(0), s=0.1, dof=10), [(F(1), F(1))], standards=1)
