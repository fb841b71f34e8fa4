"""The budget of a judged value: what it comes to, and that each of its lines can be worked out again by hand."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calibration.compute.budget import (
    Budget,
    budget_of,
    each_of,
    from_certificate,
    from_half_width,
    from_repeats,
    from_resolution,
    lines_together,
)
from calibration.compute.method import Judged
from calibration.compute.reporting import shown_up, significant
from calibration.compute.uncertainty import Component, Distribution
from calibration.compute.verdict import verdict_of

F = Fraction
LOT = "certificate of the lot"


def worked_out(figures: str) -> float:
    """Work a printed line out as it stands: the typographic signs and nothing else are put into a program's."""
    text = re.sub(r"√([\d.]+)", r"math.sqrt(\1)", figures.replace("√(", "math.sqrt("))
    for sign, meant in (("−", "-"), ("×", "*"), ("²", "**2"), ("⁴", "**4")):
        text = text.replace(sign, meant)
    return float(eval(text, {"math": math}))  # noqa: S307 (our own printed line)


def check_by_hand(budget: Budget) -> None:
    for line in budget.lines:
        if line.figures:
            write = shown_up if "U = k" in line.text else significant
            assert write(worked_out(line.figures)) == line.value, line


def ph_at_the_third_buffer() -> tuple[Component | None, ...]:
    """Invented: certificate U 0.02 (k 2), display to 0.01, temperature known to half a degree."""
    return (
        from_certificate(F("0.02"), F(2), "buffer 7.00", LOT),
        from_resolution(F("0.01"), "display"),
        from_half_width(F("0.5"), "temperature", "site figure", sensitivity=F("-0.003")),
    )


def test_the_lines_of_a_budget_as_a_person_reads_them() -> None:
    budget = budget_of(ph_at_the_third_buffer(), unit="pH", name="error at the third buffer")
    assert budget is not None
    told = [(line.text, line.figures, line.value, line.unit) for line in budget.lines]
    assert told == [
        ("Standard uncertainty, buffer 7.00", "0.02 / 2", "0.0100", "pH"),
        ("Standard uncertainty, display", "0.01 / √12", "0.00289", "pH"),
        ("Standard uncertainty, temperature", "0.00300 × 0.5 / √3", "0.000866", "pH"),
        (
            "Combined standard uncertainty u_c, error at the third buffer",
            "√(0.0100² + 0.00289² + 0.000866²)",
            "0.0104",
            "pH",
        ),
        ("Coverage factor k for 95.45 %, the normal distribution", "", "2.00", ""),
        ("Expanded uncertainty U = k × u_c, error at the third buffer", "2.00 × 0.0104", "0.021", "pH"),
    ]
    assert budget.lines[0].source == "type B, 92 % of the variance; certificate of the lot"
    check_by_hand(budget)
    # (0.01^2 + 0.01^2/12 + (0.0015)^2/3) x 4, by hand: 0.000436333...
    assert float(budget.expanded) == pytest.approx(math.sqrt(0.00043633333333), rel=1e-9)


def test_few_repeats_widen_k_and_show_their_degrees_of_freedom() -> None:
    values = [F(text) for text in ("5.02", "5.05", "4.98", "5.01")]
    budget = budget_of(
        (from_certificate(F("0.03"), F(2), "gas", LOT), from_repeats(values, "reading")), unit="mg/L", name="error"
    )
    assert budget is not None and budget.combined is not None and budget.combined.dof is not None
    # By hand: the offs from 5.015 are 5, 35, -35 and -5 thousandths, so s^2 = 2500/3 and u^2 = 2500/12 millionths.
    assert budget.components[1].u == pytest.approx(math.sqrt(2500e-6 / 12), rel=1e-9)
    assert budget.k > 2 and 3 < budget.combined.dof < 60
    assert any("Welch-Satterthwaite" in line.text and line.figures for line in budget.lines)
    assert "type A" in budget.lines[1].source and "n = 4" in budget.lines[1].source
    check_by_hand(budget)


def test_without_the_uncertainty_of_the_standard_there_is_no_budget() -> None:
    display = from_resolution(F("0.01"), "display")
    for unstated in (
        from_certificate(None, F(2), "buffer", LOT),
        from_certificate(F("0.02"), None, "buffer", LOT),
    ):
        assert unstated is None
        assert budget_of((unstated, display), unit="pH", name="error") is None
    same = from_repeats([F(1), F(1)], "reading")
    assert budget_of((), unit="pH", name="error") is None
    assert budget_of((same,), unit="pH", name="error") is None


def test_parts_that_cancel_leave_no_budget() -> None:
    pair = (
        from_half_width(F(1), "a", "site", distribution="normal"),
        from_half_width(F(1), "b", "site", distribution="normal", sensitivity=F(-1)),
    )
    assert budget_of(pair, unit="K", name="difference", correlations={("a", "b"): 1.0}) is None


def test_correlated_components_print_their_pair_and_claim_no_degrees_of_freedom() -> None:
    values = [F(text) for text in ("20.1", "20.3", "20.2")]
    parts = (
        from_repeats(values, "in"),
        from_half_width(F("0.2"), "out", "site figure", sensitivity=F(-1)),
    )
    budget = budget_of(parts, unit="°C", name="difference", correlations={("out", "in"): 0.5})
    assert budget is not None and budget.k == 2
    figures = next(line.figures for line in budget.lines if line.text.startswith("Combined"))
    assert "+ 2 × 0.500 × (−0.115" in figures
    assert any("independent components only" in line.text for line in budget.lines)
    check_by_hand(budget)


def test_a_guard_band_compares_exactly() -> None:
    """U = 2 x 0.02 / 2 is two hundredths to the last digit: a value that leaves exactly U to its limit passes."""
    budget = budget_of((from_certificate(F("0.02"), F(2), "buffer", LOT),), unit="pH", name="error")
    assert budget is not None and budget.expanded == F("0.02") and budget.lines[-1].value == "0.020"
    edge = Judged(
        name="error",
        what="error",
        value=F("0.08"),
        unit="pH",
        of="",
        low=F("-0.10"),
        high=F("0.10"),
        uncertainty=budget.expanded,
    )
    assert verdict_of(edge) == "pass"


SOURCES = st.one_of(
    st.builds(
        lambda u, k: (u, lambda n: from_certificate(u, k, n, "stated")),
        st.fractions(min_value=F(1, 1000), max_value=50, max_denominator=1000),
        st.sampled_from([F(2), F("2.26"), F(3), F("1.96")]),
    ),
    st.builds(
        lambda d: (d, lambda n: from_resolution(d, n)), st.sampled_from([F(1), F("0.1"), F("0.01"), F("0.05"), F(5)])
    ),
    st.builds(
        lambda a, kind, c: (a, lambda n: from_half_width(a, n, "site", distribution=kind, sensitivity=c)),
        st.fractions(min_value=F(1, 1000), max_value=50, max_denominator=1000),
        st.sampled_from(get_args(Distribution)),
        st.fractions(min_value=-30, max_value=30, max_denominator=977).filter(bool),
    ),
    st.builds(
        lambda v: (v, lambda n: from_repeats(v, n)),
        st.lists(st.decimals(min_value=0, max_value=20, places=2).map(F), min_size=2, max_size=6, unique=True),
    ),
)


@given(st.lists(SOURCES, min_size=1, max_size=5))
@settings(max_examples=80, deadline=None)
def test_every_line_gives_its_value_by_hand(sources: list[Any]) -> None:
    budget = budget_of([make(f"part {n}") for n, (_, make) in enumerate(sources)], unit="mg/L", name="error")
    assert budget is not None
    check_by_hand(budget)
    assert F(budget.lines[-1].value) >= budget.expanded


def test_what_claims_no_uncertainty_is_refused() -> None:
    for u, k in ((F(0), F(2)), (F("-0.1"), F(2)), (F("0.1"), F(0))):
        with pytest.raises(ValueError, match="above 0"):
            from_certificate(u, k, "buffer", LOT)
    with pytest.raises(ValueError, match="step of a display"):
        from_resolution(F(0), "display")
    with pytest.raises(ValueError, match="0 or more"):
        from_half_width(F(-1), "temperature", "site figure")


def test_budgets_that_differ_in_nothing_but_their_names_are_written_once() -> None:
    def at(point: int, uncertainty: str) -> Budget:
        parts = (from_certificate(F(uncertainty), F(2), "gauge", LOT), from_resolution(F("0.1"), "last digit read"))
        found = budget_of(parts, unit="kPa", name=f"error of point {point}")
        assert found is not None
        return found

    one, two, other = at(1, "0.5"), at(2, "0.5"), at(3, "0.6")
    lines = lines_together([one, two, other])
    assert len(lines) == len(one.lines) + len(other.lines)
    assert lines[len(one.lines) :] == other.lines
    begins = "Expanded uncertainty U = k × u_c, "
    told = [line.text.removeprefix(begins) for line in lines if line.text.startswith(begins)]
    assert told == ["error of point 1; 2", "error of point 3"]
    assert {"error of point 1", "error of point 2"} <= set(each_of(told[0]))
    assert each_of("error of point 3") == ("error of point 3",)
