"""What the walk computes: questions in their order, drawdown, days of the week, and the figures of a day by hand."""

from __future__ import annotations

import datetime as dt
import json
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest

from assets.compute.readings.facts import taken
from assets.compute.readings.plausibility import Bound
from assets.compute.readings.running import Run
from assets.compute.readings.series import Broken, Count, with_break
from maintenance.compute.walk import (
    Asks,
    answered,
    as_answered,
    as_entered,
    as_text,
    asked_on,
    days_said,
    drawn,
    fell_because,
    questions,
    said_of,
    undone_said,
)
from maintenance.compute.walk_day import Part, Register, balance_on, counted_on, flags_on, twins_on
from tests.published import Reproduced, of_row, rows

FILE = "worked/plant_figures.csv"
ZONE = ZoneInfo("America/Denver")
DAY = dt.date(2026, 11, 24)
HIGH = Bound(name="operating limit", side="high", value=Fraction(720), told="720 kPa")
LOW = Bound(name="operating limit", side="low", value=Fraction(560), told="560 kPa")


def at(day: int, hour: int = 6, minute: int = 48, month: int = 11) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, minute, tzinfo=ZONE)


def counts(unit: str, *pairs: tuple[dt.datetime, str]) -> tuple[Count, ...]:
    return tuple(with_break(taken(text, unit, moment)) for moment, text in pairs)


def keys(text: str, unit: str, history: tuple[Count, ...], asks: Asks) -> list[str]:
    return [one.key for one in questions(taken(text, unit, at(25)), history, asks)]


@pytest.mark.parametrize(
    ("text", "asked"),
    [("688", []), ("720", []), ("560.0", []), ("742", ["limit-high"]), ("559", ["limit-low"])],
)
def test_a_reading_is_asked_about_beyond_its_limits_and_not_at_them(text: str, asked: list[str]) -> None:
    history = counts("kPa", (at(24), "688"))
    assert keys(text, "kPa", history, Asks(unit="kPa", bounds=(LOW, HIGH))) == asked


def test_the_likeliest_slip_comes_first() -> None:
    history = counts("kPa", *((at(n), "688") for n in range(10, 25)))
    found = keys("6880", "kPa", history, Asks(unit="kPa", bounds=(LOW, HIGH)))
    assert found == ["decimal", "limit-high"]


def test_a_value_that_stands_still_by_its_nature_is_not_asked_about() -> None:
    history = counts("kPa", *((at(n), "688") for n in range(10, 25)))
    assert keys("688", "kPa", history, Asks(unit="kPa")) == ["same"]
    assert keys("688", "kPa", history, Asks(unit="kPa", constant=True)) == []


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("18426.7", []),  # 24.1 h in 24 h: the tenth is left for reading
        ("18426.8", ["too-long"]),
        ("18402.5", ["fell"]),
        ("184261", ["decimal", "too-long"]),
    ],
)
def test_run_hours_are_held_against_the_time_that_went_by(text: str, asked: list[str]) -> None:
    history = counts("h", (at(23), "18378.4"), (at(24), "18402.6"))
    assert keys(text, "h", history, Asks(unit="h", counter=True)) == asked


def test_a_counter_said_to_have_rolled_over_is_not_asked_again() -> None:
    history = counts("m³", (at(24), "99990"))
    now = taken("12", "m³", at(25))
    assert [one.key for one in questions(now, history, Asks(unit="m³", counter=True))] == ["fell"]
    rolled = Broken(kind="rolled over", modulus=Fraction(100_000))
    assert questions(now, history, Asks(unit="m³", counter=True), broken=rolled) == ()


def test_questions_are_kept_with_their_answers_in_one_spelling() -> None:
    asked = questions(taken("742", "kPa", at(25)), (), Asks(unit="kPa", bounds=(HIGH,)))
    kept = answered(asked, {"limit-high": "stands"})
    assert (kept[0].answer, kept[0].open) == ("Still 742 kPa", False)
    assert answered(asked, {})[0].open
    assert as_answered(as_text(kept)) == kept
    assert as_answered("") == ()
    why = fell_because("Another counter was put in", {"old_last": "18410.2", "new_first": "0"})
    assert as_answered(as_text([why])) == (why,)
    assert as_text(kept).startswith('[{"answer":"Still 742 kPa","head":"Above the operating limit, 720 kPa","key":')
    assert as_text(()) == ""


@pytest.mark.parametrize(
    ("volume", "seconds", "rate"), [("50", "60", "50"), ("50", "41.2", "72.815534"), ("25", "0.5", "3000")]
)
def test_a_drawdown_is_millilitres_a_minute(volume: str, seconds: str, rate: str) -> None:
    assert as_entered(drawn(Fraction(volume), Fraction(seconds))) == rate


def test_a_drawdown_in_no_time_is_refused() -> None:
    with pytest.raises(ValueError, match="takes more than no time"):
        drawn(Fraction(50), Fraction(0))


@pytest.mark.parametrize(
    ("bounds", "says"),
    [((LOW, HIGH), "Limits 560 to 720 kPa"), ((HIGH,), "At most 720 kPa"), ((LOW,), "At least 560 kPa"), ((), "")],
)
def test_limits_stand_beside_the_box_in_words(bounds: tuple[Bound, ...], says: str) -> None:
    assert said_of(bounds, "kPa") == says


def test_days_of_a_round() -> None:
    assert (days_said("1234567"), days_said("12345"), days_said("7"), days_said("41")) == (
        "every day",
        "Monday to Friday",
        "Sunday",
        "Monday and Thursday",
    )
    # 24 November 2026 is a Tuesday.
    assert asked_on("2", DAY)
    assert not asked_on("134567", DAY)
    assert undone_said([], 22) == "All 22 check points done."
    assert undone_said(["UV"], 22) == "1 of 22 check points left undone: UV."


# The figures of a day


def register(tag: str, unit: str, *pairs: tuple[dt.datetime, str], twin: str = "", what: str = "Run hours") -> Register:
    return Register(tag=tag, what=what, unit=unit, counts=counts(unit, *pairs), twin=twin)


def test_a_day_runs_from_its_first_reading_to_the_first_of_the_next() -> None:
    pump = register(
        "P-61", "h", (at(24), "100.0"), (at(24, 18), "108.0"), (at(25, 6, 18), "112.1"), (at(25, 18), "120")
    )
    found = counted_on(pump, DAY, ZONE)
    # By hand: 112.1 - 100.0 = 12.1 h in 23.5 h, by two steps.
    assert (found.value, found.total.n if found.total else 0) == (Fraction("12.1"), 2)
    assert found.duty == Fraction("12.1") / Fraction("23.5")
    assert counted_on(pump, DAY + dt.timedelta(days=1), ZONE).value is None


def test_a_day_on_which_the_clocks_change_has_its_own_length() -> None:
    # In Denver clocks go back on 1 November 2026: from 06:48 to 06:48 are 25 h.
    pump = register("P-61", "h", (at(31, month=10), "0"), (at(1), "12.5"))
    assert counted_on(pump, dt.date(2026, 10, 31), ZONE).duty == Fraction("0.5")


def test_twins_share_the_hours_that_both_were_read_for() -> None:
    one = register("P-61", "h", (at(24), "100"), (at(25), "118"), twin="P-62")
    other = register("P-62", "h", (at(24, 6, 50), "50"), (at(25, 6, 50), "56"), twin="P-61")
    pair = twins_on((one, other), DAY, ZONE)
    assert [found.tags for found in pair] == [("P-61", "P-62")]
    # By hand: of 24 h, 23 h 58 min are common, so 18 and 6 each times 1438/1440; the share stays 18 of 24.
    assert (pair[0].shared.share, pair[0].hours) == (Fraction(3, 4), Fraction(1438, 60))


def test_a_pump_that_ran_all_night_is_noticed_by_counter_and_by_switching() -> None:
    # Evening to morning 12.8 h with 12.8 h counted: no room for a stop.
    busy = register("P-61", "h", (at(24, 18, 0), "100"), (at(25, 6, 48), "112.8"))
    idle = register("P-62", "h", (at(24, 18, 0), "100"), (at(25, 6, 48), "103.0"))
    found = flags_on((busy, idle), {}, DAY, at(25, 7, 0), ZONE)
    assert [(flag.tag, flag.noticed.key) for flag in found] == [("P-61", "all-night")]
    runs = {"P-62": [Run(on_at=at(24, 21, 0), off_at=at(25, 6, 30))]}
    found = flags_on((busy, idle), runs, DAY, at(25, 7, 0), ZONE)
    assert [flag.tag for flag in found] == ["P-61", "P-62"]


def test_the_balance_of_a_day_by_hand() -> None:
    def part(kind: str, *texts: str, **other: Fraction) -> Part:
        unit = "m" if kind == "store" else "m³"
        pairs = zip((at(24), at(25)), texts, strict=True)
        return Part(name=kind, kind=kind, face="display", taken=counts(unit, *pairs), **other)

    parts = (
        part("in", "10000", "11500", share=Fraction(1, 100)),
        part("out", "20000", "21300", share=Fraction(1, 100)),
        part("plant use", "500", "520", share=Fraction(1, 100)),
        part("backwash", "800", "860", share=Fraction(1, 100)),
        part("store", "3.10", "3.25", area=Fraction(400), u_level=Fraction(1, 100), u_area=Fraction(2)),
    )
    found = balance_on(parts, DAY, ZONE)
    # 1500 - 1300 - 20 - 60 - 0.15 * 400 = 60; 60 / 1500 = 4 %
    assert found is not None
    assert found.balance is not None
    assert (found.balance.left, found.balance.percent) == (60, 4)
    assert found.percent == "4"
    # In %: in 100 * 1440 / 1500² * 15 = 0.96, out 13 / 15 = 0.867, plant use 0.013, backwash 0.04, store
    # sqrt(2 * 4² + 0.3²) / 15 = 0.378; the root of the sum of squares is 1.348, twice that 2.7.
    assert "4 % of what came in is not accounted for (2u 2.7 %); covers 24 of 24 h." in found.says
    without = balance_on((*parts[:1], Part(name="out", kind="out", face="display", taken=())), DAY, ZONE)
    assert without is not None
    assert (without.percent, without.says) == ("", "Not read at both ends of the day: out.")
    assert balance_on((), DAY, ZONE) is None


def test_the_drawdown_of_the_worked_figures(reproduced: Reproduced) -> None:
    row = next(one for one in rows(FILE) if one["id"] == "D27")
    given = json.loads(row["inputs"])
    volume = Fraction(given["volume_start_mL"] - given["volume_end_mL"])
    reproduced(
        drawn(volume, Fraction(given["seconds"])),
        of_row(FILE, row, key="id", value="expected", tolerance=row["tolerance"]),
    )
