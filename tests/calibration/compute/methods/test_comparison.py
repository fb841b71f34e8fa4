"""Any analyzer beside grabs: the limit, a pair or one, an offset or a gain, its uncertainty, the order of rows."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from math import sqrt
from typing import Any

import pytest

from calibration.compute.method import Band
from calibration.compute.methods import comparison
from calibration.compute.verdict import Outcome
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.calibration.compute.test_ph_working import assert_agrees, figured

METER = make_standard("M", "bench meter", "0", "mg/L", is_lot=False, opened=None)
CERTIFIED = replace(METER, uncertainty=Fraction("0.04"), k=Fraction(2), certificate="check of the bench meter")
GOOD = {
    "hold": "on",
    "meter": "M",
    "grab1_shown": "0.72",
    "grab1_bench": "0.70",
    "grab2_shown": "0.74",
    "grab2_bench": "0.71",
    "own_line": "yes",
}
ONE = {"grab2_shown": "", "grab2_bench": ""}


@pytest.fixture
def read(checked: Checked) -> Any:
    def worked(settings: dict[str, str] | None = None, /, facts: dict[str, Any] | None = None, **typed: str) -> Outcome:
        every = {name: text for name, text in {**GOOD, **typed}.items() if text}
        meter = (facts or {}).get("meter", METER)
        known = {name: value for name, value in (facts or {}).items() if name != "meter"}
        return checked(comparison.METHOD, every, meter, **{"settings": settings or {}, **known})

    return worked


def pair(shown: str, bench: str) -> dict[str, str]:
    return {f"grab{n}_{name}": text for n in (1, 2) for name, text in (("shown", shown), ("bench", bench))}


def test_every_line_can_be_worked_out_by_hand(read: Any) -> None:
    lines = figured(read()) + figured(read(grab3_shown="0.7", grab3_bench="0.72"))
    assert len(lines) == 8
    for line in lines:
        assert_agrees(line)


@pytest.mark.parametrize("model", ["offset", "gain", ""])
@pytest.mark.parametrize(
    ("shown", "verdict"), [("1.10", "pass"), ("1.1001", "fail"), ("0.90", "pass"), ("0.8999", "fail"), ("1.00", "pass")]
)
def test_the_limit_itself_passes_whatever_the_model(read: Any, model: str, shown: str, verdict: str) -> None:
    outcome = read({"model": model}, **pair(shown, "1.00"))
    assert outcome.verdict == verdict
    assert outcome.worked.model.kind == (model or "gain")
    assert outcome.worked.model.points == ((Fraction(1), Fraction(shown)),) * 2


def test_the_share_is_of_the_grab_and_not_of_the_analyzer(read: Any) -> None:
    """0.905 beside 1.00 is -9.5 % of the grab; divided by the analyzer it would be -10.5 %."""
    assert read(**pair("0.905", "1.00")).worked.figure("error") == Fraction("-9.5")
    assert read(**pair("0.905", "1.00")).verdict == "pass"


def test_a_site_sets_its_own_limit(read: Any) -> None:
    band = Band(low=Fraction(-5), high=Fraction(5), unit="%", source="rule of the site", tag="site setting")
    facts = {"limits": {"error": band}}
    assert read(facts=facts, **pair("1.05", "1.00")).verdict == "pass"
    assert read(facts=facts, **pair("1.06", "1.00")).verdict == "fail"


@pytest.mark.parametrize("settings", [{}, {"one_grab": "no"}])
def test_one_grab_needs_the_site_s_word(read: Any, settings: dict[str, str]) -> None:
    assert caught(read(settings, **ONE), "second-grab") == ["refuse"]
    assert read({"one_grab": "yes"}, **ONE).verdict == "pass"


def test_adjusting_always_needs_a_pair(read: Any) -> None:
    facts = {"kind": "as left", "last": {"error": Fraction(12)}}
    assert caught(read({"one_grab": "yes"}, facts=facts, **ONE), "second-grab") == ["refuse"]
    assert read({"one_grab": "yes"}, facts=facts).verdict == "pass"


@pytest.mark.parametrize(
    ("before", "asked"), [("1", True), ("3.5", True), ("3.6", False), ("12", False), ("-1", False), ("0", False)]
)
def test_an_error_that_grew_to_the_same_side_is_asked_about(read: Any, before: str, asked: bool) -> None:
    """As left the mean reads 0.73 beside 0.705: +3.546 %."""
    facts = {"kind": "as left", "last": {"error": Fraction(before)}}
    assert bool(caught(read(facts=facts), "wrong-way")) == asked
    assert not caught(read(facts=facts | {"kind": "as found"}), "wrong-way")


@pytest.mark.parametrize(
    ("benches", "at"),
    [
        (("0.70", "0.90", ""), "grab2_bench"),
        (("0.90", "0.70", "0.71"), "grab1_bench"),
        (("0.70", "0.71", "0.90"), "grab3_bench"),
        (("0.90", "1.00", ""), ""),
        (("0.899", "1.00", ""), "grab2_bench"),
    ],
)
def test_the_grab_that_lies_apart_is_the_one_pointed_at(read: Any, benches: tuple[str, ...], at: str) -> None:
    typed = {f"grab{n}_bench": text for n, text in enumerate(benches, 1)}
    outcome = read(**typed, grab3_shown="0.73" if benches[2] else "")
    assert [one.field for one in outcome.found if one.key == "apart"] == ([at] if at else [])


def test_the_order_of_rows_changes_neither_error_nor_uncertainty(read: Any) -> None:
    seen = set()
    for order in itertools.permutations((("0.72", "0.7"), ("0.740", "0.71"), ("0.7", "0.705"))):
        typed = {f"grab{n}_{name}": text for n, row in enumerate(order, 1)
                 for name, text in zip(("shown", "bench"), row, strict=True)}  # fmt: skip
        outcome = read(facts={"meter": CERTIFIED}, **typed)
        seen.add((outcome.verdict, outcome.worked.figure("error"), float(outcome.budgets["error"].expanded)))
    assert len({(one, two) for one, two, _ in seen}) == 1
    assert max(u for *_, u in seen) == pytest.approx(min(u for *_, u in seen), rel=1e-9)


def test_nothing_beside_nothing_is_no_pass(read: Any) -> None:
    outcome = read(**pair("0", "0"))
    assert outcome.validity == "not valid"
    assert caught(outcome, "nothing") == ["not valid"]


@pytest.mark.parametrize("model", ["offset", "gain"])
def test_the_uncertainty_in_per_cent_of_the_grab_by_hand(read: Any, model: str) -> None:
    """s = 0.73, g = 0.705: 100/g = 141.8 % for the analyzer and 100 s/g² = 146.9 % for the grab, per mg/L.

    Of two pairs half their difference is s / sqrt(2).
    """
    s, g = 0.73, 0.705
    of_read, of_grab = 100 / g, -100 * s / g**2
    one, two = of_read * 0.72 + of_grab * 0.70, of_read * 0.74 + of_grab * 0.71
    parts = (of_grab * 0.02) ** 2 + (of_read**2 + of_grab**2) * 0.01**2 / 12 + ((one - two) / 2) ** 2
    combined = read({"model": model}, facts={"meter": CERTIFIED}).budgets["error"].combined
    assert combined is not None
    assert combined.u_c == pytest.approx(sqrt(parts), rel=1e-9)


def test_what_is_not_stated_has_none(read: Any) -> None:
    assert read().budgets == {}
    assert read({"one_grab": "yes"}, facts={"meter": CERTIFIED}, **ONE).budgets == {}
    assert read(facts={"meter": CERTIFIED}, **pair("0", "0")).budgets == {}
    assert read(facts={"meter": replace(CERTIFIED, k=None)}).budgets == {}


@pytest.mark.parametrize(
    ("shown", "verdict"),
    [("1.00", "pass"), ("1.08", "conditional pass"), ("1.12", "conditional fail"), ("1.20", "fail")],
)
def test_guarded_it_counts(read: Any, shown: str, verdict: str) -> None:
    facts = {"meter": CERTIFIED, "guarded": True}
    assert read(facts=facts, **pair(shown, "1.00")).verdict == verdict
