"""Conductivity: printed tables of potassium chloride, compensations, and comparing like with like."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assets.compute.formulas.conductivity import natural_factor
from calibration.compute.methods import conductivity
from calibration.compute.table_files import CONDUCTIVITY, read_conductivity
from calibration.compute.temperature_tables import table_from_rows
from tests.calibration.compute.methods.conftest import Checked, caught, make_standard
from tests.published import FIXTURES, Published, Reproduced, rows

FILE = "tables/kcl_conductivity.csv"
# Rows of potassium chloride, 0.01 mol/kg: Pratt 2001 as in tables/kcl_conductivity.csv.
KCL = make_standard(
    "K", "conductivity solution", "1408", "µS/cm",
    table=table_from_rows(
        code="kcl", name="KCl 0.01", rows=[("10", "1013.95"), ("25", "1408.23")], source="Pratt 2001"
    ),
)  # fmt: skip
PLAIN = make_standard("P", "conductivity solution", "100", "µS/cm")
STRONG = make_standard("S", "conductivity solution", "100.1", "µS/cm")
GOOD = {"hold": "off", "standard": "K", "temperature": "10", "shown": "1013.95", "bubbles": "yes"}


def test_every_row_of_the_solutions_that_come_with_the_tool(reproduced: Reproduced) -> None:
    kinds = {kind.code: kind for kind in read_conductivity((FIXTURES / FILE).read_text())}
    tried = 0
    for row in rows(FILE):
        code, _ = CONDUCTIVITY.get((row["solution"], row["basis"]), ("", ""))
        if code not in kinds or row["how_obtained"] != "read" or row["source"].startswith("OIML"):
            continue
        table = kinds[code].table
        assert table is not None
        name = f"{row['solution']} {row['temperature_c']}"
        value = float(row["conductivity_us_cm"])
        reproduced(table.value(Fraction(row["temperature_c"])), Published(FILE, name, value, 0, row["source"], "read"))
        tried += 1
    assert tried == sum(len(kind.table.rows) for kind in kinds.values() if kind.table)


@pytest.mark.parametrize(
    ("t", "f25"), [(0, "1.918"), (10, "1.428"), (20, "1.116"), (25, "1"), (30, "0.903"), (35, "0.822")]
)
def test_the_factors_of_natural_water_as_a_manual_prints_them(reproduced: Reproduced, t: int, f25: str) -> None:
    """EC-V7 of worked/electrochemistry.csv: six printed factors, each as printed."""
    (row,) = [one for one in rows("worked/electrochemistry.csv") if one["id"] == "EC-V7"]
    assert f25.ljust(5, "0") in row["published_output"] or f25 == "1"
    figure = Published("worked/electrochemistry.csv", f"EC-V7 {t}", float(f25), 0, row["source"], row["how_obtained"])
    reproduced(natural_factor(Fraction(t)), figure)


@pytest.mark.parametrize(
    ("settings", "perfect"),
    [
        ({"compensation": "off"}, "1013.95"),
        ({"compensation": "linear", "coefficient": "2.2"}, "1513.358209"),  # 1013.95 / (1 - 15 x 0.022)
        ({"compensation": "linear", "coefficient": "1.91"}, "1421.093203"),  # 1013.95 / (1 - 15 x 0.0191)
        ({"compensation": "natural"}, "1447.9206"),  # 1013.95 x 1.428
        ({"compensation": "natural", "reference": "20"}, "1297.419892"),  # 1013.95 x 1.428 / 1.116
    ],
)
def test_a_perfect_cell_has_no_error_whatever_it_compensates(
    checked: Checked, settings: dict[str, str], perfect: str
) -> None:
    outcome = checked(conductivity.METHOD, GOOD | {"shown": perfect}, KCL, settings=settings)
    assert outcome.verdict == "pass"
    error = outcome.worked.figure("error")
    assert error is not None
    assert abs(Fraction(error)) < Fraction(1, 10**6)


def test_a_good_cell_read_against_the_value_at_25_degrees_looks_bad() -> None:
    """Computed: 0.01 potassium chloride at 10 degC through 2.2 % a degree shows 1513, 7.5 % above 1408."""
    shown = Fraction("1013.95") / (1 - 15 * Fraction("0.022"))
    assert round(float(shown)) == 1513
    assert round(float(100 * (shown / Fraction("1408.23") - 1)), 1) == 7.5


@pytest.mark.parametrize(
    ("standard", "shown", "verdict"),
    [
        ("P", "105", "pass"), ("P", "105.001", "fail"), ("P", "95", "pass"), ("P", "94.999", "fail"),
        ("S", "103.103", "pass"), ("S", "103.104", "fail"), ("S", "97.097", "pass"), ("S", "97.096", "fail"),
    ],
)  # fmt: skip
def test_the_limit_is_5_percent_up_to_100_and_3_above(
    checked: Checked, standard: str, shown: str, verdict: str
) -> None:
    """From memory of a field manual; the limit itself passes."""
    typed = GOOD | {"standard": standard, "temperature": "25", "shown": shown}
    assert checked(conductivity.METHOD, typed, PLAIN, STRONG, settings={"compensation": "off"}).verdict == verdict


def test_the_cell_constant_that_would_read_true(checked: Checked) -> None:
    """By hand: 1.02 x 100 / 102 = 1."""
    typed = GOOD | {"standard": "P", "temperature": "25", "shown": "102", "constant": "1.02"}
    outcome = checked(conductivity.METHOD, typed, PLAIN, settings={"compensation": "off"})
    assert outcome.worked.figure("new_constant") == 1


def test_a_solution_warmer_than_the_curve_of_natural_water_is_not_valid_and_breaks_nothing(checked: Checked) -> None:
    table = table_from_rows(code="k", name="k", rows=[("20", "1273"), ("40", "1831")], source="invented")
    solution = make_standard("K", "conductivity solution", "1408", "µS/cm", table=table)
    typed = {"standard": "K", "temperature": "36", "shown": "1400", "hold": "on"}
    outcome = checked(conductivity.METHOD, typed, solution, settings={"compensation": "natural"})
    assert caught(outcome, "outside-compensation") == ["not valid"]
    assert outcome.verdict is None


def test_a_straight_line_that_comes_down_to_nought_gives_no_value_and_speaks_of_no_curve(checked: Checked) -> None:
    """1 + 0.10 x (T - 25) is nought at 15 degrees and below it, the most % a degree that a tag may state."""
    table = table_from_rows(code="k", name="k", rows=[("10", "1014"), ("25", "1408")], source="invented")
    solution = make_standard("K", "conductivity solution", "1408", "µS/cm", table=table)
    steep = {"compensation": "linear", "coefficient": "10"}
    typed = {"standard": "K", "shown": "1400", "hold": "on"}
    for temperature, not_valid in (("15", True), ("12", True), ("15.1", False)):
        outcome = checked(conductivity.METHOD, typed | {"temperature": temperature}, solution, settings=steep)
        assert caught(outcome, "outside-compensation") == (["not valid"] if not_valid else [])
        said = [one.sentence for one in outcome.found if one.key == "outside-compensation"]
        assert not [one for one in said if "natural" in one] and all("10 % a degree from 25 °C" in one for one in said)


@pytest.mark.parametrize(("usual", "far"), [("281", True), ("281.7", False), ("", False)])
def test_a_solution_over_five_times_the_water_is_asked_about(checked: Checked, usual: str, far: bool) -> None:
    """1408.23 µS/cm at 25 degrees are five times 281.646."""
    settings = {"compensation": "off", "working_value": usual}
    outcome = checked(conductivity.METHOD, GOOD | {"temperature": "25", "shown": "1408"}, KCL, settings=settings)
    assert bool(caught(outcome, "far-from-process")) is far
