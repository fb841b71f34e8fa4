"""A pH check from the typed fields to its verdict: as found by the error alone, as left also by the electrode."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.compute.method import Band, Known, Typed
from calibration.compute.methods import ph
from calibration.compute.standards import Standard
from calibration.compute.temperature_tables import table_from_rows
from calibration.compute.verdict import Outcome
from tests.calibration.compute.conftest import COLD, DAY, THIRD

Check = Callable[..., Outcome]
TENTH = Fraction(1, 10)


def figure(outcome: Outcome, name: str) -> Fraction:
    value = outcome.worked.figure(name)
    assert isinstance(value, Fraction), name
    return value


def own_lot(key: str, label: str, value: str) -> Standard:
    table = table_from_rows(
        code=f"own-{key}", name=f"lot {key}", rows=[("0", value), ("50", value)], source="certificate"
    )
    return Standard(id=key, label=key, nominal=Fraction(label), nominal_text=label, table=table, opened=DAY)


def test_the_cold_probe_passes(check: Check) -> None:
    # By hand: g = 3.07 / 3.101; p = 7.0475 + 0.72 / g = 7.7748; 7.80 - 7.7748 = +0.0252.
    outcome = check()
    assert (outcome.validity, outcome.verdict) == ("valid", "pass")
    assert round(float(figure(outcome, "process_ph")), 4) == 7.7748
    assert round(float(figure(outcome, "error")), 4) == 0.0252
    assert not outcome.uncertainty_stated
    assert outcome.can_be_signed
    # The electrode of the worked example at 12.5 degC.
    assert float(figure(outcome, "slope")) == pytest.approx(-56.046437, abs=5e-7, rel=0)
    assert float(figure(outcome, "percent_slope")) == pytest.approx(98.883812, abs=5e-7, rel=0)
    assert float(figure(outcome, "offset")) == pytest.approx(-2.137794, abs=5e-7, rel=0)
    assert float(figure(outcome, "zero_point")) == pytest.approx(6.961857, abs=5e-7, rel=0)


def test_the_same_probe_shown_too_high_in_one_buffer_fails(check: Check) -> None:
    # By hand: g = 2.95 / 3.101; p = 7.0475 + 0.60 / g = 7.6782; 7.80 - 7.6782 = +0.1218.
    outcome = check({"point1_shown": "7.20"})
    assert outcome.verdict == "fail"
    assert round(float(figure(outcome, "process_ph")), 4) == 7.6782
    assert round(float(figure(outcome, "error")), 4) == 0.1218


def exactly_on_the_limit(known: Known, *, swap: bool) -> Outcome:
    lots = {"low": own_lot("low", "7.10", "7.104"), "high": own_lot("high", "10.32", "10.317")}
    low, high = ("2", "1") if swap else ("1", "2")
    typed = COLD | {
        f"point{low}_lot": "low",
        f"point{low}_shown": "7.00",
        f"point{low}_mv": "-6.0",
        f"point{high}_lot": "high",
        f"point{high}_shown": "10.22",
        f"point{high}_mv": "-188.0",
        "process_shown": "8.84",
    }
    return ph.judge_set(ph.read(typed, kind="as found"), replace(known, standards=lots))


@pytest.mark.parametrize("swap", [False, True], ids=["in order", "exchanged"])
def test_an_error_exactly_on_the_limit_passes(known: Known, *, swap: bool) -> None:
    # By hand: p = 7.104 + 1.84 x 3.213 / 3.22 = 8.94; 8.84 - 8.94 = -0.10. In 28-digit decimals this comes out beyond.
    outcome = exactly_on_the_limit(known, swap=swap)
    assert figure(outcome, "error") == -TENTH
    assert outcome.verdict == "pass"


@pytest.mark.parametrize(
    ("u", "verdict"), [("0", "pass"), ("0.01", "conditional pass"), ("0.07475", "conditional pass"), (None, "pass")]
)
def test_a_stated_uncertainty_makes_the_edge_conditional(known: Known, u: str | None, verdict: str) -> None:
    band = Band(
        low=-TENTH,
        high=TENTH,
        unit="pH",
        source="site setting of 4 January 2026",
        tag="site setting",
        uncertainty=None if u is None else Fraction(u),
    )
    outcome = exactly_on_the_limit(replace(known, limits={"error": band}), swap=False)
    assert outcome.verdict == verdict
    assert outcome.uncertainty_stated == (u is not None)


def test_a_failed_error_within_the_uncertainty_is_a_conditional_fail(check: Check) -> None:
    band = Band(low=-TENTH, high=TENTH, unit="pH", source="", tag="site setting", uncertainty=Fraction("0.03"))
    assert check({"point1_shown": "7.20"}, limits={"error": band}).verdict == "conditional fail"


def test_as_found_is_judged_by_the_error_alone(check: Check) -> None:
    # 80 % of theory and far off: advice, not a verdict.
    outcome = check({"point1_mv": "-40.0", "point2_mv": "-180.6"})
    assert [one.name for one, _ in outcome.judged] == ["error"]
    assert outcome.verdict == "pass"
    assert outcome.worked.advice[0].word == "replace"


AS_LEFT = {"point1_shown": "7.05", "point2_shown": "10.15", **THIRD}


def test_as_left_is_judged_by_error_slope_offset_and_third_buffer(check: Check) -> None:
    outcome = check(AS_LEFT, kind="as left", last={"process_ph": Fraction("7.77")})
    assert [one.name for one, _ in outcome.judged] == ["error", "slope", "offset", "third"]
    assert (outcome.validity, outcome.verdict) == ("valid", "pass")


@pytest.mark.parametrize(
    ("changes", "failing"),
    [
        ({"point1_mv": "-8.0", "point2_mv": "-168.0"}, "slope"),  # 91.0 %
        ({"point1_mv": "-40.0", "point2_mv": "-213.8"}, "offset"),  # -37 mV
        ({"third_shown": "4.10"}, "third"),  # 4.10 - 3.9975
    ],
)
def test_as_left_fails_by_each_of_its_own_limits(check: Check, changes: dict[str, str], failing: str) -> None:
    outcome = check(AS_LEFT | changes, kind="as left", last={"process_ph": Fraction("7.77")})
    assert outcome.verdict == "fail"
    assert [one.name for one, verdict in outcome.judged if verdict == "fail"] == [failing]


def test_as_left_takes_the_process_of_as_found_not_the_old_reading(check: Check) -> None:
    carried = check().worked.next_value
    outcome = check(AS_LEFT, kind="as left", last=carried)
    assert figure(outcome, "process_ph") == carried["process_ph"]
    assert abs(figure(outcome, "error")) < Fraction("0.01")


def test_neither_cleaned_nor_adjusted_as_left_is_as_found(known: Known) -> None:
    found = ph.read(COLD, kind="as found")
    first = ph.judge_set(found, known)
    left = ph.judge_set(ph.as_left_unchanged(found), replace(known, last=first.worked.next_value))
    assert figure(left, "error") == figure(first, "error")
    assert left.verdict == "pass"
    assert left.kind == "as left"


def test_without_a_process_reading_the_working_ph_is_taken_and_said(check: Check) -> None:
    # By hand: shown at 7.5 = 7.08 + (3.07 / 3.101)(7.5 - 7.0475) = 7.52798.
    outcome = check({"process_shown": None}, settings={"working_ph": "7.5"})
    assert outcome.verdict == "pass"
    assert round(float(figure(outcome, "error")), 5) == 0.02798
    assert any("working pH of the requirement" in line.text for line in outcome.worked.lines)


def test_three_buffers_are_judged_on_the_line_of_least_squares(check: Check) -> None:
    # By hand, at 25 degC: mean 7.0056667 and 7.04; g = sum(dx dy) / sum(dx^2) = 0.9955128; see the working.
    typed = {"point1_lot": "4", "point1_shown": "4.05", "point1_mv": "176.9", "point1_temperature": "25.0"}
    typed |= {"point2_lot": "7", "point2_shown": "7.04", "point2_mv": "2.1", "point2_temperature": "25.0"}
    typed |= {f"point3_{name}": value for name, value in (("lot", "10"), ("temperature", "25.0"), ("steady", "yes"))}
    outcome = check(typed | {"point3_shown": "10.03", "point3_mv": "-171.8", "process_temperature": "24"})
    x, y = (4.005, 7.0, 10.012), (4.05, 7.04, 10.03)
    mx, my = sum(x) / 3, sum(y) / 3
    g = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)
    assert float(figure(outcome, "process_ph")) == pytest.approx(mx + (7.80 - my) / g, abs=1e-9)
    # The electrode of the worked example with three buffers.
    assert float(figure(outcome, "percent_slope")) == pytest.approx(98.122523, abs=5e-7, rel=0)
    assert float(figure(outcome, "largest_residual_ph")) == pytest.approx(0.010835, abs=5e-7, rel=0)
    assert outcome.worked.figure("residual_sd") == pytest.approx(0.770295, abs=5e-7, rel=0)
    assert outcome.worked.figure("se_slope") == pytest.approx(0.181348, abs=5e-7, rel=0)
    assert outcome.worked.figure("se_intercept") == pytest.approx(1.346057, abs=5e-7, rel=0)


def test_a_buffer_off_the_line_of_three_is_advice_not_a_verdict(check: Check) -> None:
    typed = {"point3_lot": "4", "point3_temperature": "12.5", "point3_shown": "4.05", "point3_steady": "yes"}
    outcome = check(typed | {"point3_mv": "152.0"})  # 166.1 would lie on the line of the other two
    assert "look at buffers" in [one.word for one in outcome.worked.advice]
    assert outcome.verdict == "pass"


def test_buffers_at_two_temperatures_take_their_own_values_and_the_mean_for_theory(check: Check) -> None:
    outcome = check({"point1_temperature": "12.0", "point2_temperature": "13.0"})
    assert figure(outcome, "true_1") == Fraction("7.059") - Fraction("0.023") * Fraction(2, 5)
    assert figure(outcome, "true_2") == Fraction("10.179") - Fraction("0.061") * Fraction(3, 5)
    assert figure(outcome, "nernst") == ph.nernst_slope(Fraction("12.5"))


NO_MV: dict[str, str | None] = {"point1_mv": None, "point2_mv": None}


def test_without_millivolts_the_slope_now_is_an_estimate(check: Check) -> None:
    outcome = check(NO_MV, last={"slope_percent": Fraction(99)})
    assert outcome.worked.figure("slope") is None
    assert figure(outcome, "slope_now") == 99 * Fraction("3.07") / Fraction("3.101")
    assert any("estimate" in line.text for line in outcome.worked.lines)
    assert outcome.verdict == "pass"


@pytest.mark.parametrize(
    ("own", "percent", "offset"),
    [
        ({"own_slope": "98.2", "own_slope_unit": "%", "own_zero": "-3.0", "own_zero_unit": "mV"}, 98.2, -3.0),
        # 55.66 / 56.679082 = 98.20 %; (6.95 - 7) x 55.66 = -2.783 mV, by hand.
        ({"own_slope": "55.66", "own_slope_unit": "mV/pH", "own_zero": "6.95", "own_zero_unit": "pH"}, 98.2020, -2.783),
    ],
)
def test_without_millivolts_as_left_is_judged_by_the_transmitters_own_figures(
    check: Check, own: dict[str, str], percent: float, offset: float
) -> None:
    outcome = check(AS_LEFT | NO_MV | own, kind="as left")
    values = {one.name: one.value for one, _ in outcome.judged}
    assert float(values["slope"]) == pytest.approx(percent, abs=5e-5)
    assert float(values["offset"]) == pytest.approx(offset, abs=5e-4)


def test_millivolts_read_go_before_the_transmitters_own_figures(check: Check) -> None:
    own = {"own_slope": "70.0", "own_slope_unit": "%", "own_zero": "0.0", "own_zero_unit": "mV"}
    outcome = check(AS_LEFT | own, kind="as left", last={"process_ph": Fraction("7.77")})
    assert {one.name: verdict for one, verdict in outcome.judged}["slope"] == "pass"


def test_one_buffer_where_one_is_asked_is_an_offset_and_says_so(check: Check) -> None:
    second: dict[str, str | None] = {name: None for name in COLD if name.startswith("point2_")}
    outcome = check(second, settings={"points": "1"})
    assert figure(outcome, "error") == Fraction("7.08") - Fraction("7.0475")
    assert outcome.worked.model.kind == "offset"
    assert any("estimate" in line.text for line in outcome.worked.lines)
    assert outcome.verdict == "pass"


def test_the_error_model_is_kept_as_true_and_shown(check: Check) -> None:
    model = check().worked.model
    assert model.kind == "two-point"
    assert model.points == ((Fraction("7.0475"), Fraction("7.08")), (Fraction("10.1485"), Fraction("10.15")))


def test_a_probe_set_to_count_the_other_way_is_healthy_with_rising_millivolts(check: Check) -> None:
    outcome = check({"point1_mv": "4.8", "point2_mv": "178.6"}, settings={"slope_sign": "positive"})
    assert outcome.validity == "valid"
    assert float(figure(outcome, "percent_slope")) == pytest.approx(98.883812, abs=5e-7, rel=0)
    assert outcome.worked.advice[0].word == "healthy"


@pytest.mark.parametrize(
    ("percent", "word"),
    [
        ("84.9", "replace"),
        ("85", "clean and repeat"),
        ("91.9", "clean and repeat"),
        ("92", "watch"),
        ("95", "healthy"),
        ("102", "healthy"),
        ("102.1", "look at buffers and temperature"),
        ("105", "look at buffers and temperature"),
        ("105.1", "buffers wrong"),
    ],
)
def test_advice_on_the_slope(percent: str, word: str) -> None:
    # Bands of makers' manuals, partly from memory: advice only, no verdict hangs on them.
    slope = -Fraction(percent) / 100 * ph.nernst_slope(Fraction(25))
    probe = ph.electrode(tuple((value, slope * (value - 7)) for value in (Fraction(7), Fraction(4))), Fraction(25))
    assert ph.advice_on(probe, ())[0].word == word


@pytest.mark.parametrize(
    ("offset", "word"), [("30", "healthy"), ("-30.1", "watch"), ("50", "watch"), ("50.1", "replace")]
)
def test_advice_on_the_offset(offset: str, word: str) -> None:
    slope = -ph.nernst_slope(Fraction(25))
    points = tuple((value, Fraction(offset) + slope * (value - 7)) for value in (Fraction(7), Fraction(4)))
    assert ph.advice_on(ph.electrode(points, Fraction(25)), ())[0].word == word


def test_slow_to_settle_is_advice(check: Check) -> None:
    assert "slow" not in [one.word for one in check({"point1_seconds": "180"}).worked.advice]
    outcome = check({"point1_seconds": "181"})
    assert "slow" in [one.word for one in outcome.worked.advice]
    assert outcome.verdict == "pass"


def test_a_set_is_worked_out_while_it_is_being_written(known: Known) -> None:
    started = ph.judge_set(ph.read({"point1_lot": "7", "point1_temperature": "12.5"}, kind="as found"), known)
    assert started.worked.figure("true_1") == Fraction("7.0475")
    assert (started.validity, started.verdict, started.would_be) == ("incomplete", None, None)
    assert not started.can_be_signed
    nothing = ph.judge_set(ph.read({}, kind="as found"), known)
    assert nothing.validity == "incomplete"
    assert nothing.worked.lines == ()


READ = st.decimals(min_value=0, max_value=14, places=2)
VOLTS = st.decimals(min_value=-500, max_value=500, places=1)
WARMTH = st.decimals(min_value=0, max_value=50, places=1)


def exchanged(inputs: ph.ReadingSet) -> ph.ReadingSet:
    return replace(inputs, points=(inputs.points[1], inputs.points[0], *inputs.points[2:]))


@given(shown=st.tuples(READ, READ), mv=st.tuples(VOLTS, VOLTS), warm=st.tuples(WARMTH, WARMTH), process=READ)
def test_exchanging_the_buffers_changes_nothing(
    known: Known, shown: tuple, mv: tuple, warm: tuple, process: object
) -> None:
    typed = COLD | {"process_shown": str(process)}
    for number in (0, 1):
        prefix = f"point{number + 1}_"
        typed |= {f"{prefix}shown": str(shown[number]), f"{prefix}mv": str(mv[number])}
        typed |= {f"{prefix}temperature": str(warm[number])}
    inputs = ph.read(typed, kind="as left")
    one, other = ph.judge_set(inputs, known), ph.judge_set(exchanged(inputs), known)
    names = ("error", "process_ph", "shown_per_ph", "slope", "percent_slope", "offset", "zero_point", "nernst")
    assert [one.worked.figure(name) for name in names] == [other.worked.figure(name) for name in names]
    assert (one.validity, one.verdict, one.would_be) == (other.validity, other.verdict, other.would_be)
    assert one.judged == other.judged
    assert one.worked.advice == other.worked.advice


@given(
    gain=st.decimals(min_value="0.5", max_value="1.5", places=3).map(Fraction),
    shift=st.decimals(min_value=-2, max_value=2, places=3).map(Fraction),
    process=st.decimals(min_value=5, max_value=9, places=2).map(Fraction),
)
def test_a_straight_display_gives_back_its_error_at_any_process(
    known: Known, gain: Fraction, shift: Fraction, process: Fraction
) -> None:
    def shown_at(true: Fraction) -> Typed:
        return Typed(text="7.00", value=gain * true + shift)

    inputs = ph.read(COLD, kind="as found")
    true = (Fraction("7.0475"), Fraction("10.1485"))
    points = tuple(replace(point, shown=shown_at(value)) for point, value in zip(inputs.points, true, strict=False))
    outcome = ph.judge_set(replace(inputs, points=points, process_shown=shown_at(process)), known)
    assert outcome.worked.figure("process_ph") == process
    assert outcome.worked.figure("error") == gain * process + shift - process


@given(
    st.decimals(min_value=-400, max_value=400, places=1), st.sampled_from(["-", "\u2212"]), st.sampled_from([".", ","])
)
def test_comma_or_point_real_minus_or_hyphen_read_the_same(value: object, minus: str, mark: str) -> None:
    text = str(value).replace("-", minus).replace(".", mark)
    point = ph.read({"point1_mv": f" {text} "}, kind="as found").points[0]
    assert point.mv is not None
    assert point.mv.value == Fraction(str(value))
    assert point.mv.decimals == 1


def test_the_day_is_told_not_taken_from_a_clock(check: Check) -> None:
    assert check(day=date(2026, 12, 3)).validity == "valid"
    assert check(day=date(2026, 12, 4)).validity == "not valid"  # the high buffer, opened on 3 November, has 30 days
