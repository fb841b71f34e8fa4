"""Values that a condition works out: by hand from their formulas, from readings taken together.

A strainer's pressure rises with the square of the flow (any handbook of hydraulics); the affinity example is that of
`tests.assets.compute.readings.test_derived`. Pressures, flows and hours are invented. That readings of one moment are
at most so many minutes apart is own judgement.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.compute.readings.together import Read, taken_together
from assets.compute.units import convert
from maintenance.compute import worked, worked_kinds
from maintenance.compute.schedule import Limits
from tests.published import Reproduced, of_row, rows

ZONE = ZoneInfo("America/Denver")
SIX = dt.datetime(2026, 3, 2, 6, 0, tzinfo=ZONE)


def taken(number: str, minutes: float, *, walk: str = "", known: float | None = None) -> Read:
    """A reading so many minutes after 2 March 2026, 06:00, written down then or later."""
    moment = SIX + dt.timedelta(minutes=minutes)
    later = None if known is None else SIX + dt.timedelta(minutes=known)
    return Read(key=f"{number} {minutes}", value=Fraction(number), at=moment, walk=walk, recorded_at=later)


# ------------------------------------------------------------------------------------------------------ taken together


@pytest.mark.parametrize(
    ("flow", "partner"),
    [(15, "80 15"), (-15, "80 -15"), (15.5, None), (-15.5, None), (600, None)],
)
def test_readings_belong_together_up_to_so_many_minutes_those_included(flow: float, partner: str | None) -> None:
    (one,) = taken_together({"pressure": [taken("20", 0)], "flow": [taken("80", flow)]}, lead="pressure", minutes=15)
    assert (one.found["flow"].key if "flow" in one.found else None) == partner
    assert ("flow" in one.missing) is (partner is None)


def test_what_has_no_partner_says_how_far_off_the_nearest_is() -> None:
    def why(*flows: Read) -> str:
        return taken_together({"pressure": [taken("20", 0)], "flow": flows}, lead="pressure")[0].missing["flow"]

    assert why() == "it was never read"
    assert why(taken("80", 40)) == "not read within 15 min; the nearest is from 40 min after"
    assert why(taken("80", -190), taken("80", 600)) == "not read within 15 min; the nearest is from 3.2 h before"


def test_on_one_walk_they_may_be_farther_apart_and_the_nearer_counts() -> None:
    flows = [taken("70", -50, walk="7"), taken("80", 45, walk="7"), taken("90", 30, walk="8")]
    for same_walk, partner in ((False, None), (True, "80 45")):
        (one,) = taken_together(
            {"pressure": [taken("20", 0, walk="7")], "flow": flows}, lead="pressure", same_walk=same_walk
        )
        assert (one.found["flow"].key if "flow" in one.found else None) == partner


@given(
    st.lists(st.integers(-300, 300), max_size=8, unique=True),
    st.lists(st.integers(-300, 300), min_size=1, max_size=8, unique=True),
    st.integers(0, 60),
)
def test_the_partner_is_the_nearest_of_all_and_no_lead_is_lost(leads: list[int], own: list[int], minutes: int) -> None:
    """Reference: the least distance over all pairs."""
    sets = taken_together(
        {"a": [taken("1", n) for n in leads], "b": [taken("2", n) for n in own]}, lead="a", minutes=minutes
    )
    assert [one.lead.key for one in sets] == [f"1 {n}" for n in sorted(leads)]
    for n, one in zip(sorted(leads), sets, strict=True):
        least = min(abs(n - other) for other in own)
        assert ("b" in one.found) is (least <= minutes)
        if "b" in one.found:
            assert abs(one.found["b"].at - one.lead.at) == dt.timedelta(minutes=least)


# --------------------------------------------------------------------------------------------------- what is worked out


def numbers(**given: str) -> dict[str, Fraction]:
    return {name.replace("_", " "): Fraction(text) for name, text in given.items()}


def only(kind: worked.Kind, given: dict[str, Fraction], **reads: str) -> worked.Worked:
    sets = taken_together({name: [taken(text, 0)] for name, text in reads.items()}, lead=kind.lead)
    (one,) = worked.values_of(kind, sets, given)
    return one


def test_a_strainer_by_hand() -> None:
    given = numbers(reference="100", clean="12")
    # 24 x (100 / 80)^2 - 12 = 37.5 - 12
    assert only(worked_kinds.STRAINER, given, pressure="24", flow="80").value.value == Fraction("25.5")
    assert only(
        worked_kinds.STRAINER, numbers(reference="100", clean="12", taps="4"), pressure="24", flow="80"
    ).value.value == (
        Fraction("19.25")  # (24 - 4) x 1.5625 - 12
    )
    assert "says too little" in only(worked_kinds.STRAINER, given, pressure="24", flow="69.9").value.why


def test_a_membrane_at_its_clean_temperature_by_hand() -> None:
    given = numbers(clean_flow="50", clean_pressure="60", clean_temperature="12")
    found = only(worked_kinds.MEMBRANE, given, flow="45", pressure="72", temperature="12")
    assert found.value.value == 25  # (45 / 72) / (50 / 60) = 0.75


def test_a_pump_against_its_own_baseline_at_equal_flow() -> None:
    """1 m of water is 9.80369... kPa at 999.7 kg/m3 (definition of head): 400 kPa against 100 are 30.6 m."""
    given = numbers(flow_1="60", head_1="36", flow_2="100", head_2="30", suction="100")
    found = only(worked_kinds.HEAD, given, discharge="400", flow="80").value
    assert found.value is not None
    metres = Fraction(300_000) / (Fraction("999.7") * Fraction("9.80665"))
    assert found.value == 100 * metres / 33  # on the line at 80: 33 m
    assert only(worked_kinds.HEAD, given, discharge="400", flow="101").value.value is None, "nothing beyond its points"


def test_a_published_height_from_pressure_is_the_head_that_two_gauges_give(reproduced: Reproduced) -> None:
    """25 psi are 58 ft (answer key of a plant operators' exam); against a flat baseline of 100 ft that is 58 %."""
    (row,) = [row for row in rows("worked/plant_figures.csv") if row["id"] == "L01"]
    psi = Fraction(json.loads(row["inputs"])["pressure_psi"])
    flat = convert(Fraction(100), "ft", "m")
    given = {"flow 1": Fraction(0), "head 1": flat, "flow 2": Fraction(100), "head 2": flat, "suction": Fraction(0)}
    pressure = replace(taken("0", 0), value=convert(psi, "psi", "kPa"))
    (one,) = worked.values_of(
        worked_kinds.HEAD,
        taken_together({"discharge": [pressure], "flow": [taken("80", 0)]}, lead="discharge"),
        given,
    )
    assert one.value.value is not None
    found = of_row("worked/plant_figures.csv", row, key="id", value="expected", tolerance=row["tolerance"])
    reproduced(float(one.value.value), found)


def test_a_pump_at_another_speed_is_held_against_the_moved_baseline() -> None:
    """The published example of the affinity laws in test_derived, through the gauges: 34.33 ft at 1450 of 1750 rpm."""
    given = numbers(
        flow_1="0", head_1="60", flow_2="60", head_2="56", flow_3="100", head_3="50", flow_4="140", head_4="40",
        suction="0", baseline_speed="1750",
    )  # fmt: skip
    pressure = Fraction("34.33") * Fraction("999.7") * Fraction("9.80665") / 1000
    sets = taken_together(
        {
            "discharge": [replace(taken("0", 0), value=pressure)],
            "flow": [taken("82.86", 0)],
            "speed": [taken("1450", 1)],
        },
        lead="discharge",
    )
    (one,) = worked.values_of(worked_kinds.HEAD, sets, given)
    assert one.value.value is not None
    assert float(one.value.value) == pytest.approx(100, abs=0.02)


def test_a_chosen_reading_without_a_partner_gives_no_value_and_is_never_replaced_by_another() -> None:
    given = numbers(flow_1="60", head_1="36", flow_2="100", head_2="30")
    sets = taken_together(
        {"discharge": [taken("400", 0)], "flow": [taken("80", 0)], "suction": [taken("100", 96)]}, lead="discharge"
    )
    (one,) = worked.values_of(worked_kinds.HEAD, sets, given)
    assert one.value.value is None
    assert one.value.why == "Suction pressure: not read within 15 min; the nearest is from 1.6 h after."


def test_twins_share_what_both_ran_since_they_were_read_together_so_long_before() -> None:
    day = 24 * 60
    sets = taken_together(
        {
            "first": [taken(str(hours), n * day) for n, hours in ((0, 1000), (10, 1100), (30, 1400), (40, 1450))],
            "second": [taken(str(hours), n * day + 5) for n, hours in ((0, 500), (10, 600), (30, 700), (40, 750))],
        },
        lead="first",
    )
    found = list(worked.values_of(worked_kinds.TWINS, sets, numbers(over="30")))
    assert [one.value.value for one in found[:2]] == [None, None]
    assert found[1].value.why == "The two were not read together 30 days before."
    # 400 of 600 h since day 0; on day 40 since day 10: 350 of 500 h.
    assert [one.value.value for one in found[2:]] == [Fraction(200, 3), 70]
    assert [one.since.lead.key if one.since else "" for one in found[2:]] == ["1000 0", "1100 14400"]


@pytest.mark.parametrize(
    ("value", "said"),
    [("35", "35"), ("35.0000001", "35.0000001"), ("34.99996", "35.0"), ("41.27", "41.3"), ("1234.5", "1235")],
)
def test_a_value_is_never_written_on_the_other_side_of_its_limit(value: str, said: str) -> None:
    limits = Limits(high=Fraction(35))
    assert worked.shown_beside(Fraction(value), limits.outside) == said


def test_every_kind_fits_the_columns_it_is_kept_in() -> None:
    from maintenance.models.routines import Computes, PlanTerm, TermInput

    assert [kind.code for kind in worked_kinds.KINDS] == list(Computes.values)
    longest = TermInput._meta.get_field("name").max_length or 0
    for kind in worked_kinds.KINDS:
        assert len(kind.words) <= (PlanTerm._meta.get_field("reads").max_length or 0)
        assert all(len(one.name) <= longest for one in (*kind.asks, *kind.givens))
