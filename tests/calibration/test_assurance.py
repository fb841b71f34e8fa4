"""How sure a result is: published figures through the lines of a budget, and the words on pages, paper and in files."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from defusedxml.ElementTree import fromstring
from django.test import Client
from django.urls import reverse

from calibration.actions.requirements import change_requirement
from calibration.compute.budget import budget_of, from_certificate, from_half_width, from_repeats, lines_together
from calibration.compute.conformity import (
    conformance_probability,
    hardest_first,
    share_of_limit,
    stated_in,
    sureness,
)
from calibration.compute.coverage import below
from calibration.compute.dcc import DCC, SI
from calibration.compute.method import Judged, Line, Verdict
from calibration.compute.verdict import verdict_of
from calibration.models import Check
from calibration.reads.stored import agrees, worked_again
from calibration.reads.sure import percent, sure_words
from calibration.reads.words import judged_value, together
from tests.make_checks import FAILING, Bench, make_lot, make_terms
from tests.published import example

F = Fraction


def judged(value: str, low: str = "", high: str = "", *, what: str = "error", uncertainty: str = "") -> Judged:
    return Judged(
        name=what.replace(" ", "_"),
        what=what,
        value=F(value),
        unit="V",
        of="",
        low=F(low) if low else None,
        high=F(high) if high else None,
        uncertainty=F(uncertainty) if uncertainty else None,
    )


def lines_of(u: str, what: str = "error") -> tuple[Line, ...]:
    """The lines of a budget of one component that is a standard uncertainty already."""
    drawn = budget_of([from_half_width(F(u), "all of it", "told", distribution="normal")], unit="V", name=what)
    assert drawn is not None
    return drawn.lines


@pytest.mark.parametrize("name", ["zener", "burst", "oil"])
def test_published_probabilities_come_out_of_the_stored_lines(reproduced: Any, name: str) -> None:
    case = example("jcgm106_conformance_probability")
    given = case.inputs[name]
    one = judged(str(given["y"]), str(given.get("TL", "")), str(given.get("TU", "")))
    found = sureness(one, verdict_of(one), stated_in(lines_of(str(given["u"])))["error"])
    assert found is not None and not found.from_expanded
    reproduced(found.assurance.conforming, case.figures[f"pC_{name}"])
    assert found.assurance.false_acceptance == pytest.approx(1 - found.assurance.conforming)


def test_the_degrees_of_freedom_of_the_budget_count() -> None:
    """Two repeats, 1 and -1: u = 1 with 1 degree of freedom, the Cauchy distribution: P(T <= 1) = 3/4 exactly."""
    drawn = budget_of([from_repeats([F(1), F(-1)], "repeats")], unit="V", name="error")
    assert drawn is not None
    one = judged("9", high="10")
    found = sureness(one, "pass", stated_in(drawn.lines)["error"])
    assert found is not None and found.dof == 1
    assert found.assurance.conforming == pytest.approx(0.75, rel=1e-12)
    (said,) = sure_words([(one, "pass")], drawn.lines)
    assert (said.inside, said.wrong) == ("75 %", "25 %")
    assert "Student’s t with 1.00 degrees of freedom" in said.because


def test_students_t_covers_what_the_guide_tables() -> None:
    """JCGM 100:2008, table G.2: t for 95.45 % is 2.37 at 8 degrees of freedom, 13.97 at 1 (a rounded figure each)."""
    for dof, t in ((8, "2.37"), (1, "13.97")):
        inside = conformance_probability(0, 1.0, low=-F(t), high=F(t), dof=dof)
        assert inside == pytest.approx(0.9545, abs=1e-3)


def test_a_figure_from_the_lines_differs_from_the_unrounded_one_by_less_than_it_shows() -> None:
    """u_c stands with three digits in a line; the figure worked from it is at most 0.13 percent off (0.5 % of u)."""
    for stated in ("0.0012349", "0.01005", "0.0099949"):
        u = float(F(stated))
        for multiple in ("0.2", "1", "1.7", "2.6"):
            one = judged(str(float(F(multiple) * F(stated))), high=str(float(2 * F(multiple) * F(stated))))
            found = sureness(one, "pass", stated_in(lines_of(stated))["error"])
            assert found is not None
            exact = conformance_probability(F(one.value), u, high=one.high)
            assert abs(found.assurance.conforming - exact) < 0.0013


def test_an_uncertainty_without_a_budget_is_halved_and_said_to_be_normal() -> None:
    one = judged("0.09", "-0.1", "0.1", uncertainty="0.02")
    (said,) = sure_words([(one, verdict_of(one))], ())
    assert said.result == "conditional pass"
    assert said.inside == percent(below(1.0)) == "84 %" and said.wrong == "16 %"
    assert "u = U / 2" in said.because and "normal distribution" in said.because
    assert said.without_condition == "±0.08 V"


def test_what_the_limit_states_counts_before_a_budget_that_says_something_else() -> None:
    one = judged("0.09", "-0.1", "0.1", uncertainty="0.02")
    found = sureness(one, "conditional pass", stated_in(lines_of("0.05"))["error"])
    assert found is not None and found.from_expanded and found.u == F("0.01")
    same = sureness(one, "conditional pass", stated_in(lines_of("0.01"))["error"])
    assert same is not None and not same.from_expanded and same.u == F("0.01")


def test_a_fail_tells_the_risk_of_refusing_what_is_good() -> None:
    one = judged("0.11", high="0.1")
    found = sureness(one, "fail", stated_in(lines_of("0.01"))["error"])
    assert found is not None and found.assurance.false_acceptance is None
    assert found.assurance.false_rejection == pytest.approx(below(-1.0), rel=1e-9)


def test_nothing_is_said_where_nothing_is_stated_or_nothing_can_be_unsure() -> None:
    yes = replace(judged("0", high="1"), value=True, low=None, high=None)
    no_limit = judged("1", uncertainty="0.1")
    for one in (judged("1", high="2"), judged("1", high="2", uncertainty="0"), yes, no_limit):
        assert sure_words([(one, "pass")], lines_of("0.1", what="another error")) == ()


def test_limits_without_condition_are_rounded_inwards_and_may_be_nowhere() -> None:
    narrow = judged("0", "-0.1", "0.1", uncertainty="0.0123456")
    (said,) = sure_words([(narrow, "pass")], ())
    assert said.without_condition == "±0.087 V"  # 0.0876544, never shown wider
    (said,) = sure_words([(judged("0", "-0.1", "0.1", uncertainty="0.11"), "conditional pass")], ())
    assert "nothing" in said.without_condition
    (said,) = sure_words([(judged("95", low="90", uncertainty="1.25"), "pass")], ())
    assert said.without_condition == "at least 91.3 V"


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (1.0, "more than 99.9 %"), (0.0, "less than 0.1 %"), (0.9990001, "more than 99.9 %"), (0.99899, "99.9 %"),
        (0.992, "99.2 %"), (0.008, "0.8 %"), (0.5, "50 %"), (0.841, "84 %"), (0.1, "10 %"), (0.901, "90.1 %"),
    ],
)  # fmt: skip
def test_a_percentage_is_never_all_or_nothing(probability: float, said: str) -> None:
    assert percent(probability) == said


def test_a_probability_and_its_counterpart_make_a_hundred() -> None:
    for step in range(2, 998):
        two = [float(percent(p).removesuffix(" %")) for p in (step / 1000 + 0.00037, 1 - step / 1000 - 0.00037)]
        assert math.isclose(sum(two), 100), (step, two)


def test_the_share_of_a_limit() -> None:
    for one, share in (
        (judged("0.05", "-0.1", "0.1"), F(1, 2)),
        (judged("102", "92", "102"), F(1)),
        (judged("97", "92", "102"), F(0)),
        (judged("3", high="4"), F(3, 4)),
        (judged("120", low="90"), F(3, 4)),
        (judged("-3", high="4"), F(0)),
        (judged("0", low="0"), F(1)),
        (judged("-1", low="0"), F(2)),
        (judged("7", low="0"), F(0)),
    ):
        assert share_of_limit(one) == share, one


def test_a_failing_value_comes_first_and_then_the_largest_share() -> None:
    near = judged("0.09", "-0.1", "0.1", what="error of point 2")
    far = judged("0.01", "-0.1", "0.1", what="error of point 1")
    worse = judged("0.12", "-0.1", "0.1", what="error of point 3")
    wet = replace(far, name="dry", what="dry", value=False, low=None, high=None)
    pairs: list[tuple[Judged, Verdict]] = [(one, verdict_of(one)) for one in (far, near, worse, wet)]
    assert [one.what for one, _ in hardest_first(pairs)] == [
        "dry", "error of point 3", "error of point 2", "error of point 1",
    ]  # fmt: skip
    assert [one.what for one, _ in hardest_first(pairs[:2])] == ["error of point 2", "error of point 1"]


def test_names_written_once_for_several_values_are_each_found() -> None:
    parts = [from_certificate(F("0.02"), F(2), "gauge", "its certificate")]
    drawn = [budget_of(parts, unit="V", name=f"error of point {n}") for n in (1, 2, 3)]
    found = stated_in(lines_together(one for one in drawn if one is not None))
    assert {f"error of point {n}" for n in (1, 2, 3)} <= set(found)
    one = found["error of point 3"]
    assert (one.u, one.expanded, one.k, one.probability) == (F("0.01"), "0.020", "2.00", "0.9545")
    pairs: list[tuple[Judged, Verdict]] = [
        (judged(value, high="1", what=f"error of point {n}"), "pass") for n, value in ((1, "0"), (2, "0.99"), (3, "0"))
    ]
    said = sure_words(pairs, lines_together(one for one in drawn if one is not None))
    # The second is one u below its limit: Phi(1) = 84 %; of the others the very same is to be said.
    assert [(one.what, one.inside) for one in said] == [
        ("Error of point 1; 3", "more than 99.9 %"), ("Error of point 2", "84 %"),
    ]  # fmt: skip


# ---------------------------------------------------------------- on pages


@pytest.fixture
def stated(bench: Bench) -> Bench:
    """A bench whose lots state U = 0.02 with k = 2; the error of its good set is +0.026 pH, u_c a third of that."""
    for kind in ("7", "10"):
        number = f"2613-{kind}"
        bench.lots[kind] = make_lot(site=bench.site, by=bench.supervisor, kind=kind, number=number, uncertainty="0.02")
    return bench


def guard(bench: Bench) -> None:
    terms = make_terms(rule="guarded", uncertainty_source="the certificates of the lots")
    change_requirement(requirement=bench.requirement, terms=terms, why="lots state it", by=bench.supervisor)


def pages_of(check: Check, browser: Client) -> tuple[str, str]:
    page, paper = (
        browser.get(reverse(f"calibration:{name}", args=[check.number])).content.decode()
        for name in ("check", "check-paper")
    )
    return page, paper


def row_of(browser: Client) -> dict[str, str]:
    return next(csv.DictReader(io.StringIO(browser.get(reverse("calibration:checks-csv")).content.decode())))


@pytest.mark.django_db
def test_a_signed_check_says_how_sure_it_is(stated: Bench, operator: Client) -> None:
    check = stated.check()
    page, paper = pages_of(check, operator)
    assert "<summary>How sure this is</summary>" in page and "that this pass is wrong" in page
    for html in (page, paper):
        assert "How sure this is" in html and "more than 99.9 %" in html and "less than 0.1 %" in html
        assert "normal distribution" in html and "100 %</b>" not in html
    assert "Passes without condition" not in page
    assert row_of(operator)["error inside its limit, probability"] == "more than 99.9 %"
    for of in check.sets.select_related("outcome"):
        assert agrees(of.outcome, worked_again(of, of.outcome))


@pytest.mark.django_db
def test_a_guarded_limit_shows_between_what_a_result_passes_without_condition(stated: Bench, operator: Client) -> None:
    guard(stated)
    page, paper = pages_of(stated.check(), operator)
    # U = 0.0166...: 0.10 less it, rounded inwards.
    assert "Passes without condition" in page and "±0.083 pH" in page and "±0.083 pH" in paper


@pytest.mark.django_db
def test_nothing_is_said_where_no_uncertainty_is_stated_or_the_set_is_not_valid(bench: Bench, operator: Client) -> None:
    for html in pages_of(bench.check(), operator):
        assert "How sure" not in html and "robability" not in html
    assert not [name for name in row_of(operator) if "probability" in name]


@pytest.mark.django_db
def test_a_set_that_is_not_valid_is_not_said_to_be_sure(stated: Bench, operator: Client) -> None:
    for html in pages_of(stated.check({"point1_steady": "no"}), operator):
        assert "How sure" not in html


@pytest.mark.django_db
def test_a_draft_says_it_while_it_is_written(stated: Bench, operator: Client) -> None:
    draft = stated.draft()
    html = operator.get(draft.get_absolute_url()).content.decode()
    assert "How sure this is" in html and "that this pass is wrong" in html


@pytest.mark.django_db
def test_lists_and_files_name_the_value_that_decides(bench: Bench, operator: Client) -> None:
    bench.check(FAILING)
    html = operator.get(reverse("calibration:checks")).content.decode()
    said = row_of(operator)["what it says"]
    assert said.startswith("error at the process value +0.1") and said.endswith("limit ±0.10 pH")
    assert said in html


@pytest.mark.django_db
@pytest.mark.parametrize("guarded", [False, True])
def test_the_file_for_other_computers_carries_the_uncertainty_under_any_rule(
    stated: Bench, operator: Client, *, guarded: bool
) -> None:
    if guarded:
        guard(stated)
    where = reverse("calibration:check-dcc", args=[stated.check().number])
    root = fromstring(operator.get(where, {"country": "ch", "schema": "3.3.0"}).content)

    def texts(name: str) -> set[str]:
        return {one.text or "" for one in root.iter(f"{{{SI}}}{name}")}

    (expanded,) = texts("valueExpandedMU")
    # The rule counts U unrounded; where it counts none, what is written is U as the working shows it, rounded up.
    assert expanded == "0.017" if not guarded else F("0.0165") < F(expanded) < F("0.017")
    assert texts("coverageFactor") == {"2.00"} and texts("coverageProbability") == {"0.9545"}
    rule = "guarded" if guarded else "uncertainty not considered"
    assert all(rule in (one.text or "") for one in root.iter(f"{{{DCC}}}content") if "limit" in (one.text or ""))


def test_a_value_is_written_as_the_working_shows_it_unless_that_crosses_a_limit() -> None:
    one = judged("30", high="60")
    assert judged_value(one, as_figure="30.0") == "30.0 V" and judged_value(one) == "30 V"
    beyond = judged("0.1004", "-0.1", "0.1")
    assert judged_value(beyond, as_figure="+0.10") == judged_value(beyond) == "+0.1004 V"


def test_names_that_differ_in_their_last_word_stand_side_by_side() -> None:
    points = [f"error at the {face}, point {number}" for number in (1, 2) for face in ("PLC", "HMI")]
    assert together(points) == "error at the PLC, point 1; 2; error at the HMI, point 1; 2"
    assert together(["slope"]) == "slope"
