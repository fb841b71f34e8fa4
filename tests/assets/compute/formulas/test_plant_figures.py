"""Dosing, flow, level, signals and chlorine against worked examples of training pages, codes and tutorials."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

import pytest

from assets.compute.formulas import chlorine, counters, current_loop, dosing, flow, membrane, strainer
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
ROWS = {row["id"]: row for row in rows(FILE)}


def exact(value: object) -> Any:
    return [exact(one) for one in value] if isinstance(value, list) else Fraction(str(value))


def _five_points(i: Mapping[str, Any]) -> list[tuple[Fraction, Fraction]]:
    ideal = [current_loop.current_for(p, min(i["input_psi"]), max(i["input_psi"])) for p in i["input_psi"]]
    return [(a, b) for run in ("up_mA", "down_mA") for a, b in zip(ideal, i[run], strict=True)]


def _non_linearity(i: Mapping[str, Any]) -> Fraction:
    mean = [(a + b) / 2 for a, b in zip(i["up_mA"], i["down_mA"], strict=True)]
    span = max(i["input_psi"]) - min(i["input_psi"])
    line = [mean[0] + (mean[-1] - mean[0]) * (p - i["input_psi"][0]) / span for p in i["input_psi"]]
    return max(abs(a - b) for a, b in zip(mean, line, strict=True)) / 16 * 100


GALLON = Fraction("7.48")
MGD = Fraction(1440, 1000000)
WORKED: dict[str, Callable[[Mapping[str, Any]], Fraction]] = {
    "D01": lambda i: i["naocl_volume_L"] * i["naocl_pct_w_v"] * i["constant"] / (i["water_gal"] * i["L_per_gal"]),
    "D03": lambda i: i["mg_per_L_per_pct"] * i["mw_cl2"] / i["mw_naocl"],
    "D04": lambda i: dosing.pounds_a_day(i["flow_MGD"], i["dose_mg_L"]),
    "D05": lambda i: i["feed_lb_day"] / 24,
    "D06": lambda i: i["feed_lb_h"] / 60,
    "D07": lambda i: i["polymer_mg"] / i["water_mL"],
    "D08": lambda i: dosing.pounds_a_day(i["flow_MGD"], i["dose_mg_L"]),
    "D10": lambda i: dosing.pounds_a_day(i["flow_gpm"] * MGD, i["dose_mg_L"]),
    "D11": lambda i: dosing.pounds_a_day(
        i["quarter_pi"] * i["diameter_ft"] ** 2 * i["depth_ft"] * i["gal_per_ft3"] / 10**6, i["dose_mg_L"]
    ),
    "D12": lambda i: dosing.pounds_a_day(
        i["quarter_pi"] * (i["diameter_in"] / 12) ** 2 * i["length_ft"] * i["gal_per_ft3"] / 10**6, i["dose_mg_L"]
    ),
    "D13": lambda i: i["chemical_lb"] / (i["dose_mg_L"] * dosing.LB_PER_MG_L_MGAL),
    "D19": lambda i: dosing.dose_from_pounds(i["feed_lb_day"], i["flow_gpm"] * MGD),
    "D21": lambda i: dosing.dose_from_pounds(i["feed_lb_day"], i["flow_MGD"]),
    "D22": lambda i: (
        i["strength_pct_wt"]
        * i["chem_gal"]
        * i["specific_gravity"]
        / (i["chem_gal"] * i["specific_gravity"] + i["water_gal"])
    ),
    "D23": lambda i: (i["chem_gal"] * i["specific_gravity"] + i["water_gal"]) / (i["chem_gal"] + i["water_gal"]),
    "D24": lambda i: dosing.feed_for(
        i["dose_mg_L"], i["flow_MGD"] * 10**6 * i["L_per_gal"] / 1440, i["solution_mg_mL"]
    ),
    "D25": lambda i: 100 * i["desired_flow"] / i["max_flow"],
    "D26": lambda i: i["feed_mL_min"] * i["factor"],
    "D27": lambda i: dosing.delivered(i["volume_start_mL"] - i["volume_end_mL"], i["seconds"]),
    "D28": lambda i: flow.error_of_true(i["measured_mL_min"], i["target_mL_min"]),
    "D30": lambda i: i["feed_mL_min"] * i["flow_new_gpm"] / i["flow_old_gpm"],
    "D31": lambda i: i["gpl_available_cl2"] / 10,
    "D32": lambda i: i["trade_pct"] / i["specific_gravity"],
    "D33": lambda i: i["gpl_available_cl2"] / 10 / i["specific_gravity"] * i["factor"],
    "D34": lambda i: dosing.chlorine_of_hypochlorite(i["pct_wt_naocl"]),
    "D35": lambda i: i["M0"] + i["M1"] * i["specific_gravity"] + i["M2"] * i["specific_gravity"] ** 2,
    "D36": lambda i: i["M0"] + i["M1"] * i["specific_gravity"] + i["M2"] * i["specific_gravity"] ** 2,
    "F01": lambda i: i["quarter_pi"] * i["diameter_ft"] ** 2 * i["gal_per_ft3"],
    "F02": lambda i: i["volume_gal"] * 60 / i["seconds"],
    "F03": lambda i: flow.error_of_true(i["indicated_gpm"], i["true_gpm"]),
    "F04": lambda i: flow.error_of_meter(i["meter"], i["standard"]),
    "F05": lambda i: flow.volume_missed(i["metered_volume_MG"], i["registration_pct"]),
    "F07": lambda i: flow.volume_missed(i["metered_volume_MG"], i["registration_pct"]),
    "L01": lambda i: i["pressure_psi"] * i["ft_per_psi"],
    "L02": lambda i: i["nominal_ft"] / i["actual_ft"],
    "L03": lambda i: i["span_bar"] * i["class_pct"] / 100,
    "L04": lambda i: i["span_psi"] / 100,
    "T01": lambda i: current_loop.value_at(i["mA"], i["lrv"], i["urv"]),
    "T03": lambda i: current_loop.current_for(i["value"], i["lrv"], i["urv"]),
    "T04": lambda i: max(abs(b - a) for a, b in _five_points(i)) / 16 * 100,
    "T05": lambda i: max(abs(a - b) for a, b in zip(i["up_mA"], i["down_mA"], strict=True)) / 16 * 100,
    "T06": _non_linearity,
    "T07": lambda i: (i["up_mA"] - i["ideal_mA"]) / 16 * 100,
    **{f"T{n}": lambda i: current_loop.root_current(i["linear_mA"]) for n in (12, 13, 14, 15, 16)},
    "T17": lambda i: 100 * current_loop.flow_share(i["dp_fraction"]),
    "C07": lambda i: i["abs"] / i["rel"],
}


@pytest.mark.parametrize("key", WORKED)
def test_the_worked_example_comes_out(key: str, reproduced: Reproduced) -> None:
    row = ROWS[key]
    given = {
        name: exact(value) if isinstance(value, int | float | list) else value
        for name, value in json.loads(row["inputs"]).items()
    }
    reproduced(WORKED[key](given), of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]))


@pytest.mark.parametrize("key", [key for key in ROWS if key.startswith("N")])
def test_the_band_of_a_signal(key: str, reproduced: Reproduced) -> None:
    row = ROWS[key]
    band = current_loop.signal_band(exact(json.loads(row["inputs"])["mA"]))
    said = {"under-range": "under-range, still valid", "over-range": "over-range, still valid"}.get(band, band)
    reproduced.word(said, row["expected"], file=FILE, row=key)


def test_the_allowed_band_around_an_indicated_value(reproduced: Reproduced) -> None:
    given = json.loads(ROWS["T11"]["inputs"])
    half = Fraction(str(given["tolerance_pct_span"])) / 100 * given["span_inWC"]
    reproduced.word(f"[{given['indicated'] - half}, {given['indicated'] + half}]", "[152, 154]", file=FILE, row="T11")
    assert ROWS["T11"]["expected"] == "[152, 154]"


@pytest.mark.parametrize(
    ("current", "band"),
    [("3.6", "failure low"), ("3.7", "questionable"), ("20.7", "questionable"), ("21", "failure high")],
)
def test_the_edges_of_a_signal_count_as_failed(current: str, band: str) -> None:
    """From memory of NE 43; a tutorial leaves the edges outside."""
    assert current_loop.signal_band(Fraction(current)) == band


def test_the_larger_of_two_chlorine_limits_changes_at_two_thirds() -> None:
    at = Fraction(2, 3)
    assert chlorine.grab_limit(at) == Fraction("0.10")
    assert chlorine.grab_limit(at * 2) == Fraction("0.20")


def test_a_sensor_set_at_ph_7_2_reads_29_percent_low_at_7_6() -> None:
    """Worked from pKa = 3000/T - 10.0686 + 0.0253 T at 15 degC, formula from memory."""
    effect = chlorine.acid_share(Fraction("7.6"), Fraction(15)) / chlorine.acid_share(Fraction("7.2"), Fraction(15)) - 1
    assert round(float(100 * effect)) == -29


def test_a_membrane_of_four_logs() -> None:
    """Constants from memory: Qp 360 L/min, ALCR 40, 101.3 kPa, 180 L, VCF 1.5; 0.48 kPa/min proves 4.05, 0.60 3.95."""
    constants = {
        name: Fraction(text)
        for name, text in {"flow": "360", "ratio": "40", "air": "101.3", "volume": "180", "factor": "1.5"}.items()
    }
    assert membrane.decay_rate(Fraction(100), Fraction("97.6"), Fraction(5)) == Fraction("0.48")
    assert float(membrane.log_removal(Fraction("0.48"), **constants)) == pytest.approx(4.05, abs=0.005)
    assert float(membrane.log_removal(Fraction("0.60"), **constants)) == pytest.approx(3.95, abs=0.005)
    assert float(membrane.largest_decay(Fraction(4), **constants)) == pytest.approx(0.540, abs=0.0005)


def test_a_strainer_is_compared_at_one_flow_and_not_below_seven_tenths_of_it() -> None:
    assert strainer.at_reference_flow(Fraction(20), Fraction(40), Fraction(50)) == Fraction("31.25")
    assert strainer.at_reference_flow(Fraction(20), Fraction(35), Fraction(50)) is not None
    assert strainer.at_reference_flow(Fraction(20), Fraction("34.9"), Fraction(50)) is None


@pytest.mark.parametrize("before", ["0", "99998.5", "50000"])
def test_a_meter_replaced_or_rolled_over_counts_what_it_would_have_counted_without(before: str) -> None:
    start, ran = Fraction(before), Fraction("12.5")
    modulus = Fraction(100000)
    plain = (start + ran) % modulus
    assert counters.counted(start, plain, modulus=modulus) == ran
    swap = counters.Replaced(old_last=(start + 5) % modulus, new_first=Fraction(3))
    assert counters.counted(start, 3 + ran - 5, modulus=modulus, replaced=swap) == ran


def test_a_meter_that_went_down_is_asked_about() -> None:
    with pytest.raises(ValueError, match="roll over"):
        counters.counted(Fraction(10), Fraction(9))
    assert counters.duty(Fraction(6), Fraction(24)) == Fraction(1, 4)


def test_filling_puts_the_leak_back_and_drawing_down_takes_it_off() -> None:
    common = {"area": Fraction(100), "change": Fraction(1), "seconds": Fraction(3600), "leak": Fraction("0.01")}
    assert flow.flow_from_level(**common, filling=True) == 101
    assert flow.flow_from_level(**common, filling=False) == 99
