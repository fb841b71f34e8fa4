"""Values on which routines by condition hang: by hand from their definitions, and why there is none."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings import derived
from assets.compute.readings.derived import Curve, Filtering
from assets.compute.readings.running import Shared
from tests.assets.compute.readings.moments import PROPERTY

# Strainer: the pressure lost in turbulent flow rises with the square of the flow (any handbook of hydraulics).


def rise(pressure: str | None, flow: str | None, **more: Fraction) -> derived.Derived:
    numbers = (None if one is None else Fraction(one) for one in (pressure, flow))
    return derived.strainer_rise(*numbers, reference=Fraction(100), clean=Fraction(12), **more)


def test_by_hand_at_80_per_cent_of_the_flow_the_pressure_counts_for_more() -> None:
    assert rise("20", "80").value == Fraction("19.25")  # 20 x (100 / 80)^2 = 31.25, less 12
    assert rise("20", "80", taps_head=Fraction(4)).value == 13  # 16 x 1.5625 = 25, less 12
    assert rise("12", "100").value == 0


@pytest.mark.parametrize(("flow", "told"), [("70", True), ("69.9", False), ("0", False), ("-5", False)])
def test_below_seven_tenths_of_the_reference_flow_there_is_no_value(flow: str, told: bool) -> None:
    found = rise("20", flow)
    assert (found.value is not None) == told
    assert told == (found.why == "") and (told or "says too little" in found.why)


def test_a_site_may_let_less_flow_count_but_never_none() -> None:
    assert rise("20", "50", least_share=Fraction(1, 2)).value == 68  # 20 x 4, less 12
    assert rise("20", "0", least_share=Fraction(0)).value is None


def test_no_pressure_lost_at_flow_is_doubted_and_what_was_not_read_is_named() -> None:
    assert rise("0", "100").doubt == "No pressure lost at flow: a blocked tapping or a missing screen?"
    assert rise("4", "100", taps_head=Fraction(4)).doubt != "" and rise("12", "100").doubt == ""
    assert rise(None, "100").why == "Not read: differential pressure."
    with pytest.raises(ValueError, match="above zero"):
        derived.strainer_rise(Fraction(1), Fraction(1), reference=Fraction(0), clean=Fraction(1))


@PROPERTY
@given(st.fractions(1, 50), st.fractions(70, 150))
def test_a_strainer_that_only_sees_another_flow_has_not_risen(clean: Fraction, flow: Fraction) -> None:
    pressure = clean * (flow / 100) ** 2
    assert derived.strainer_rise(pressure, flow, reference=Fraction(100), clean=clean).value == 0


# Membrane

# Reprints: "1.002 at 20 °C" and "0.890 cP at about 25 °C" (public engineering tables, second-hand).
# International Critical Tables 1928, reprinted in an encyclopedia of environmental engineering; 0.7 % higher at 20 °C,
# where the value of today is 1.0016 mPa s.
OLD_TABLE = {
    0: "1.7921",
    5: "1.5188",
    10: "1.3097",
    15: "1.1447",
    20: "1.0087",
    25: "0.8949",
    30: "0.8004",
    39: "0.6661",
}


@pytest.mark.parametrize(("temperature", "printed"), [(20, 1.002), (25, 0.890)])
def test_viscosity_agrees_with_print_to_its_last_place(temperature: int, printed: float) -> None:
    assert float(derived.viscosity(Fraction(temperature))) == pytest.approx(printed, abs=0.0005)


@pytest.mark.parametrize(("temperature", "printed"), OLD_TABLE.items())
def test_viscosity_lies_within_one_per_cent_of_an_old_table(temperature: int, printed: str) -> None:
    assert float(derived.viscosity(Fraction(temperature)) / Fraction(printed)) == pytest.approx(1, abs=0.01)


def test_by_hand_cold_water_alone_is_no_decline() -> None:
    clean = Filtering(flow=Fraction(50), pressure=Fraction(60), temperature=Fraction(20))
    factor = derived.viscosity(Fraction(5)) / derived.viscosity(Fraction(20))
    cold = Filtering(flow=50 / factor, pressure=Fraction(60), temperature=Fraction(5))
    assert derived.membrane_decline(cold, clean).value == 0
    # Printed viscosities 1.5188 at 5 °C and 1.0087 at 20 °C: two thirds of the flow is then all there can be.
    assert float(1 / factor) == pytest.approx(1.0087 / 1.5188, rel=0.01)


def test_by_hand_at_equal_temperature_only_flow_and_pressure_count() -> None:
    clean = Filtering(flow=Fraction(50), pressure=Fraction(60), temperature=Fraction(12))
    now = Filtering(flow=Fraction(45), pressure=Fraction(72), temperature=Fraction(12))
    assert derived.membrane_decline(now, clean).value == 25  # (45/72) / (50/60) = 0.625 / 0.8333 = 0.75
    assert derived.membrane_decline(clean, clean).value == 0


@pytest.mark.parametrize(
    ("now", "why"),
    [
        (("50", "60", None), "Not read: water, now."),
        (("50", "0", "12"), "Without pressure across the membrane there is nothing to compare."),
        (("50", "60", "41"), "The viscosity of water is worked out from 0 to 40 °C here."),
    ],
)
def test_a_membrane_without_what_it_takes_says_why(now: tuple[str | None, ...], why: str) -> None:
    flow, pressure, temperature = (None if one is None else Fraction(one) for one in now)
    clean = Filtering(flow=Fraction(50), pressure=Fraction(60), temperature=Fraction(12))
    found = derived.membrane_decline(Filtering(flow=flow, pressure=pressure, temperature=temperature), clean)
    assert (found.value, found.why) == (None, why)
    none = Filtering(flow=Fraction(0), pressure=Fraction(60), temperature=Fraction(12))
    assert derived.membrane_decline(clean, none).why == "The clean membrane gave no water."
    assert derived.membrane_decline(none, clean).value == 100


# Pump


def test_head_from_two_gauges_agrees_with_2_31_feet_to_the_psi() -> None:
    # 2.31 ft of water to the psi (operator training, PA DEP Basic Math key p. 10): 100 psi are 231 ft.
    psi, foot = Fraction("6.894757"), Fraction("0.3048")
    found = derived.pump_head(100 * psi, Fraction(0)).value
    assert found is not None and float(found / foot) == pytest.approx(231, abs=0.5)


def test_by_hand_a_pump_that_sucks_lifts_that_too() -> None:
    density = Fraction("1000") / Fraction("9.80665")  # so that 1 kPa is 1 m
    found = derived.pump_head(Fraction(400), Fraction(-30), gauges_apart=Fraction(1), density=density)
    assert found.value == 431
    assert derived.pump_head(None, Fraction(3)).why == "Not read: discharge pressure."


CURVE = Curve(
    points=tuple((Fraction(q), Fraction(h)) for q, h in ((0, 60), (60, 56), (100, 50), (140, 40))), speed=Fraction(1750)
)


def test_by_hand_the_curve_is_read_on_the_straight_line() -> None:
    assert CURVE.head_at(Fraction(80)) == 53
    assert derived.percent_of_curve(Fraction("47.7"), Fraction(80), CURVE).value == 90


def test_a_published_example_of_the_affinity_laws_lies_on_the_moved_curve() -> None:
    # 100 gpm at 50 ft and 1750 rpm give 82.86 gpm at 34.33 ft and 1450 rpm (public page on pump affinity, second-hand).
    found = derived.percent_of_curve(Fraction("34.33"), Fraction("82.86"), CURVE, speed=Fraction(1450)).value
    assert found is not None and float(found) == pytest.approx(100, abs=0.02)


@PROPERTY
@given(st.fractions("0.5", "1.2"), st.fractions(0, 140))
def test_at_any_speed_the_pump_of_the_affinity_laws_keeps_all_its_head(ratio: Fraction, flow: Fraction) -> None:
    head = CURVE.head_at(flow)
    assert head is not None
    found = derived.percent_of_curve(head * ratio**2, flow * ratio, CURVE, speed=1750 * ratio)
    assert found.value == 100


def test_outside_the_curve_or_without_its_speed_there_is_no_value() -> None:
    assert "outside the points" in derived.percent_of_curve(Fraction(40), Fraction("140.1"), CURVE).why
    assert derived.percent_of_curve(Fraction(40), Fraction(140), CURVE).value == 100
    bare = Curve(points=CURVE.points)
    found = derived.percent_of_curve(Fraction(40), Fraction(140), bare, speed=Fraction(1450))
    assert found.why == "Not read: speed over that of the curve."
    assert derived.percent_of_curve(None, Fraction(140), CURVE).why == "Not read: head."
    shut = Curve(points=((Fraction(0), Fraction(9)), (Fraction(10), Fraction(0))))
    assert derived.percent_of_curve(Fraction(1), Fraction(10), shut).why == "The curve has no head at this flow."
    with pytest.raises(ValueError, match="two points"):
        Curve(points=CURVE.points[:1])


def test_the_share_of_twins_is_in_per_cent_and_says_why_there_is_none() -> None:
    def share(one: int, other: int) -> derived.Derived:
        both = one + other
        return derived.twin_share(
            Shared(one_hours=Fraction(one), other_hours=Fraction(other), share=Fraction(one, both) if both else None)
        )

    assert share(6, 18).value == 25
    assert share(0, 0).why == "Neither ran."
    assert derived.twin_share(None).why == "The two are not covered for the same hours."
