"""Coverage factors against the tables of JCGM 100:2008, annex G, entry by entry."""

from __future__ import annotations

import math
from typing import Any

import pytest

from calibration.compute.coverage import (
    TWO_SIGMA,
    below,
    coverage_factor,
    joint_factor,
    normal_quantile,
    normal_share,
    student_quantile,
)
from calibration.compute.uncertainty import standard_uncertainty
from tests.published import Published, example, rows

FILE = "worked/metrology/gum_table_g2.csv"
# The table prints these three shares at four digits and means k = 1, 2 and 3.
MEANT = {"0.6827": normal_share(1), "0.9545": TWO_SIGMA, "0.9973": normal_share(3)}
TABLE = "JCGM 100:2008, table G.2"


def printed(row: dict[str, str]) -> Published:
    """The entry with half a unit of its last printed place: '1.70' is kept as 1.7, and the table prints two places."""
    text = row["GUM_printed"]
    places = 1 if row["nu"] == "1" and row["p"] == "0.9973" else max(2, len(text.partition(".")[2]))
    return Published(FILE, f"nu {row['nu']}, p {row['p']}", float(text), 0.5 * 10**-places, TABLE, "published")


def factor(row: dict[str, str]) -> float:
    dof = math.inf if row["nu"] == "inf" else float(row["nu"])
    return coverage_factor(MEANT.get(row["p"], float(row["p"])), dof)


def misprinted(row: dict[str, str]) -> bool:
    return (row["nu"], row["p"]) == ("35", "0.9")


def test_table_g2_comes_out_entry_by_entry(reproduced: Any) -> None:
    entries = rows(FILE)
    assert len(entries) == 168
    for row in entries:
        if not misprinted(row):
            reproduced(factor(row), printed(row))


def test_one_entry_of_table_g2_is_a_wrong_print() -> None:
    """For 35 degrees of freedom and 90 % it prints 1.70; its neighbours 30 (1.70) and 40 (1.68) show 1.69 between."""
    row = next(row for row in rows(FILE) if misprinted(row))
    assert float(row["GUM_printed"]) == 1.70
    assert factor(row) == pytest.approx(1.689572, abs=1e-6)
    assert student_quantile(0.95, 30) > factor(row) > student_quantile(0.95, 40)
    assert sum(abs(factor(row) - printed(row).value) > printed(row).tolerance for row in rows(FILE)) == 1


def test_the_normal_factors(reproduced: Any) -> None:
    case = example("gum_table_g2")
    for name, share in (("k_normal_90", 0.90), ("k_normal_95", 0.95), ("k_normal_99", 0.99)):
        reproduced(coverage_factor(share), case.figures[name])
    reproduced(100 * standard_uncertainty(1, "rectangular"), case.figures["rect_p_k1"])
    wrong = sum(abs(factor(row) - printed(row).value) > printed(row).tolerance for row in rows(FILE))
    reproduced(wrong, case.figures["entries_differing_exact_p"])


def test_the_column_of_k_2_stands_twice_and_says_the_same() -> None:
    """The entries of table G.2 once more, so they are not counted again."""
    for dof, value in example("gum_table_g2").inputs["k95_45"].items():
        half = 0.0005 if dof == "100" else 0.005
        assert coverage_factor(TWO_SIGMA, float(dof)) == pytest.approx(value, abs=half)


def test_k_is_two_where_it_is_meant_to_be() -> None:
    assert coverage_factor() == 2
    assert coverage_factor(0.9545) != 2
    assert coverage_factor(normal_share(3)) == pytest.approx(3, abs=1e-11)


def test_few_degrees_of_freedom_widen_and_many_come_to_the_normal() -> None:
    ks = [coverage_factor(TWO_SIGMA, dof) for dof in (1, 2.5, 10, 100, 1e7, math.inf)]
    assert ks == sorted(ks, reverse=True)
    assert ks[-2] == pytest.approx(2, abs=1e-6)


def test_both_tails_keep_their_digits() -> None:
    assert below(-8) == pytest.approx(6.220960574271785e-16, rel=1e-12)  # Phi(-8), Abramowitz and Stegun 26.2
    assert normal_quantile(below(-2.5)) == pytest.approx(-2.5, abs=1e-13)


def test_several_comparisons_at_once_ask_for_more_each() -> None:
    assert joint_factor(0.05, 1, 38) == pytest.approx(student_quantile(0.975, 38), abs=1e-12)
    assert joint_factor(0.05, 3, 38) > joint_factor(0.05, 2, 38) > joint_factor(0.05, 1, 38)


@pytest.mark.parametrize(
    ("probability", "dof"), [(0.0, 5.0), (1.0, 5.0), (1.2, math.inf), (0.9, 0.0), (0.9, -3.0), (0.9, math.nan)]
)
def test_what_is_no_probability_or_no_degree_of_freedom_is_refused(probability: float, dof: float) -> None:
    with pytest.raises(ValueError, match=r"between 0 and 1|above 0"):
        student_quantile(probability, dof)
    with pytest.raises(ValueError, match="At least one"):
        joint_factor(0.05, 0, 5)
