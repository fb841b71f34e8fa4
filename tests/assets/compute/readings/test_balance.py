"""The water balance of a day: by hand, its uncertainty against the package uncertainties, and when there is none."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from assets.compute.readings import balance as water
from assets.compute.readings.balance import Balance, Kind, Metered, Rise
from assets.compute.readings.facts import Span
from assets.compute.readings.series import total_over
from assets.compute.units import convert
from tests.assets.compute.readings.moments import PROPERTY, count, hour


def metered(
    kind: Kind, total: str | None, *, name: str = "", u: str | None = "0", face: str = "display", ends: float = 24
) -> Metered:
    return Metered(
        name=name or kind,
        kind=kind,
        total=None if total is None else Fraction(total),
        face=face,
        start=hour(0),
        end=hour(ends),
        covered_hours=Fraction(ends),
        u=None if u is None else Fraction(u),
    )


DAY = [
    metered("in", "1446", u="21.6"),
    metered("out", "1315", u="13.1"),
    metered("plant use", "41", u="12"),
    metered("backwash", "60.5", u="1.8"),
]
RISE = Rise(name="clearwell", volume=Fraction("30.2"), u=Fraction("0.6"))


def test_by_hand_what_is_left_of_a_day() -> None:
    # 1446 - 1315 - 41 - 60.5 - 30.2 = -0.7; of 1446 that is -0.0484 %. An invented plant.
    found = water.balance(DAY, [RISE])
    assert found.left == Fraction("-0.7")
    assert found.percent == Fraction(-70, 1446)
    assert (found.covered_hours, found.of_hours) == (24, 24)


def test_two_u_is_that_of_the_package_uncertainties() -> None:
    found = water.balance(DAY, [RISE])
    came_in, out, use, wash, rise = (
        ufloat(value, u) for value, u in ((1446, 21.6), (1315, 13.1), (41, 12), (60.5, 1.8), (30.2, 0.6))
    )
    reference = 100 * (came_in - out - use - wash - rise) / came_in
    assert float(found.percent or 0) == pytest.approx(reference.n, rel=1e-9)
    assert float(found.two_u or 0) == pytest.approx(2 * reference.s, rel=1e-9)
    assert found.says.startswith("\u22120.0484 % of what came in is not accounted for (2u 3.9 %); covers 24 of 24 h.")


@PROPERTY
@given(
    st.lists(st.tuples(st.integers(100, 5000), st.integers(1, 100)), min_size=5, max_size=5),
    st.permutations(range(4)),
)
def test_any_day_agrees_with_the_package_and_order_and_unit_change_nothing(
    numbers: list[tuple[int, int]], order: list[int]
) -> None:
    kinds: tuple[Kind, ...] = ("in", "out", "plant use", "backwash")

    def worked(code: str, order: list[int]) -> Balance:
        numerals = [[str(convert(Fraction(one), "m³", code)) for one in pair] for pair in numbers]
        parts = [metered(kind, total, u=u) for kind, (total, u) in zip(kinds, numerals, strict=False)]
        rise = Rise(name="store", volume=Fraction(numerals[4][0]), u=Fraction(numerals[4][1]))
        return water.balance([parts[n] for n in order], [rise])

    found = worked("m³", [0, 1, 2, 3])
    reference = [ufloat(*pair) for pair in numbers]
    expected = 100 * (reference[0] - sum(reference[1:])) / reference[0]
    assert float(found.percent or 0) == pytest.approx(expected.n, rel=1e-9, abs=1e-9)
    assert float(found.two_u or 0) == pytest.approx(2 * expected.s, rel=1e-9, abs=1e-9)
    again = worked("gal", order)
    assert again.percent == found.percent
    assert again.two_u == pytest.approx(float(found.two_u or 0), rel=1e-10)


def test_without_a_stated_uncertainty_it_says_whose_is_missing() -> None:
    parts = [*DAY[:1], metered("out", "1315", name="FIT-420", u=None), *DAY[2:]]
    found = water.balance(parts, [Rise(name="clearwell", volume=Fraction("30.2"))])
    assert found.two_u is None and found.percent is not None
    assert "uncertainty not stated for FIT-420, clearwell" in found.says


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ([metered("in", "0"), metered("out", "5")], "Nothing came in, so there is no share of it."),
        ([], "Nothing came in, so there is no share of it."),
        ([metered("in", "9"), metered("out", None)], "No total of out."),
        (
            [metered("in", "9"), metered("out", "5", face="HMI")],
            "The totals were read at different faces (HMI, display); take them all from one.",
        ),
        (
            [metered("in", "9"), metered("out", "5", name="in")],
            "in stands in it twice: two faces of one meter are not two meters.",
        ),
        (
            [metered("in", "9"), metered("out", "5", ends=20)],
            "in and out do not cover the same time (24 and 20 h); only hours that all meters have can be balanced.",
        ),
    ],
)
def test_where_no_balance_can_be_drawn_it_says_why(parts: list[Metered], says: str) -> None:
    found = water.balance(parts)
    assert (found.percent, found.left, found.two_u, found.says) == (None, None, None, says)


def test_totals_may_lie_a_quarter_of_an_hour_apart_as_on_a_walk() -> None:
    assert water.balance([metered("in", "9"), metered("out", "5", ends=23.75)]).percent is not None
    assert water.balance([metered("in", "9"), metered("out", "5", ends=23.74)]).percent is None


def test_more_out_than_in_is_below_nought_and_no_alarm() -> None:
    found = water.balance([metered("in", "100"), metered("out", "110")])
    assert found.percent == -10
    assert set(Balance.__slots__) == {
        "came_in", "left", "percent", "two_u", "covered_hours", "of_hours", "says"
    }  # fmt: skip


def test_a_counter_s_total_comes_with_its_hours_and_its_share_of_uncertainty() -> None:
    total = total_over([count(1000, 0), count(2446, 24)], Span(start=hour(0), end=hour(24)))
    part = water.metered("FIT-110", "in", total, face="display", ends=(hour(0), hour(24)), share=Fraction("0.015"))
    assert (part.total, part.covered_hours, part.u) == (1446, 24, Fraction("21.69"))
    assert water.metered("FIT-110", "in", total, face="display", ends=(hour(0), hour(24))).u is None


# What stores hold


def test_a_straight_store_rises_by_its_area_and_a_constant_error_of_the_level_cancels() -> None:
    one = water.rise_by_area("tank", (Fraction("2.10"), Fraction("2.60")), Fraction(60))
    shifted = water.rise_by_area("tank", (Fraction("2.15"), Fraction("2.65")), Fraction(60))
    assert one.volume == shifted.volume == 30 and one.u is None


def test_its_uncertainty_is_that_of_the_package() -> None:
    found = water.rise_by_area(
        "tank", (Fraction("2.10"), Fraction("2.60")), Fraction(60), u_reading=Fraction("0.005"), u_area=Fraction("0.6"),
        span_share=Fraction("0.01"),
    )  # fmt: skip
    area, span = ufloat(60, 0.6), ufloat(1, 0.01)
    reference = area * span * (ufloat(2.60, 0.005) - ufloat(2.10, 0.005))
    assert float(found.u or 0) == pytest.approx(reference.s, rel=1e-9)


TABLE = [(Fraction(0), Fraction(0)), (Fraction(1), Fraction(40)), (Fraction(3), Fraction(160))]  # a cone-bottomed tank


def test_by_hand_the_strapping_table_is_read_on_the_straight_line() -> None:
    # 0.5 m: 20 m^3; 2 m: 40 + 60 = 100 m^3
    assert water.volume_at(Fraction("0.5"), TABLE) == 20 and water.volume_at(Fraction(2), TABLE) == 100
    assert [water.volume_at(level, TABLE) for level, _ in TABLE] == [volume for _, volume in TABLE]
    found = water.rise_by_table(
        "tank", (Fraction("0.5"), Fraction(2)), TABLE, u_reading=Fraction("0.005"), table_share=Fraction("0.005")
    )
    assert found.volume == 80
    # slopes 40 and 60 m^2: sqrt((40 x 0.005)^2 + (60 x 0.005)^2 + (80 x 0.005)^2) = sqrt(0.04 + 0.09 + 0.16)
    assert float(found.u or 0) == pytest.approx(0.29**0.5, rel=1e-9)
    assert water.rise_by_table("tank", (Fraction(0), Fraction(1)), TABLE).u is None


@pytest.mark.parametrize("level", ["-0.01", "3.01"])
def test_beyond_the_strapping_table_nothing_is_guessed(level: str) -> None:
    with pytest.raises(ValueError, match="nothing is guessed"):
        water.volume_at(Fraction(level), TABLE)


def test_a_strapping_table_that_falls_is_refused() -> None:
    with pytest.raises(ValueError, match="rises"):
        water.volume_at(Fraction(1), [(Fraction(0), Fraction(9)), (Fraction(2), Fraction(5))])
