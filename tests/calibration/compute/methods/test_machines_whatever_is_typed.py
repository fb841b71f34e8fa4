"""Whatever is typed at a machine or its instruments: no fault, no silence, and lines that can be worked out."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.budget import EXPANDED
from calibration.compute.typed import fields_for
from tests.calibration.compute.methods import cases_machines
from tests.calibration.compute.methods.cases import MethodCase
from tests.calibration.compute.methods.conftest import Checked
from tests.calibration.compute.test_ph_working import assert_agrees, figured

NUMBERS = st.sampled_from(["", "0", "-1", "0.001", "1", "5.02", "50", "100", "1000"])
OTHERS = {"yes or no": ["", "yes", "no"], "text": ["", "so"], "standard": [""]}


def anything(case: MethodCase) -> st.SearchStrategy[dict[str, str]]:
    """Some fields of the form, each with something that may be typed there; the others stay as in the good set."""
    kinds = {
        one.name: NUMBERS
        if one.ask.kind == "number"
        else st.sampled_from([*(code for code, _ in one.ask.choices), ""] if one.ask.choices else OTHERS[one.ask.kind])
        for one in fields_for(case.method, "as found")
    }
    return st.lists(st.sampled_from(sorted(kinds)), max_size=5, unique=True).flatmap(
        lambda names: st.fixed_dictionaries({name: kinds[name] for name in names})
    )


@pytest.mark.parametrize("case", cases_machines.CASES, ids=lambda case: case.method.code)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_it_is_judged_or_said_why_not_and_its_lines_can_be_worked_out_by_hand(
    checked: Checked, case: MethodCase, data: Any
) -> None:
    typed = {name: text for name, text in (dict(case.good) | data.draw(anything(case))).items() if text}
    outcome = checked(case.method, typed, *case.standards, settings=case.settings, uses=("paces P-41",))
    if outcome.validity == "valid":
        assert outcome.verdict is not None
    names = {one.name for one in fields_for(case.method, "as found")}
    assert {one.field for one in outcome.found} <= names
    for line in figured(outcome):
        if line.source != "converted" and "√" not in line.figures and not line.text.startswith(EXPANDED):
            assert_agrees(line)
