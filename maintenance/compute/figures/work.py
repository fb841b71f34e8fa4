"""Work orders in figures: schedule, backlog, restoration, hours by kind of work, time between failures.

Names and formulas as in EN 15341 and the SMRP metrics, second-hand; no codes, which differ between the editions.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from assets.compute.reliability.rates import mean_time_between_failures
from assets.compute.rounding import grouped, shown
from assets.compute.words import count_of
from maintenance.compute.figures.shares import FEWEST, Figure, LeftOut, not_told, percent, ratio, share, short, some

BOUND = 0.9
"""Confidence of the limits of a mean time between failures."""

IMMEDIATE, DEFERRED = "corrective immediate", "corrective deferred"
CORRECTIVE = frozenset({IMMEDIATE, DEFERRED})
PREVENTIVE = frozenset({"preventive", "condition-based"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One work order: its type ('' where none is written), hours from raised to done, days as at the site."""

    name: str
    type: str
    state: str
    wanted_by: date | None = None
    done_on: date | None = None
    hours_to_done: Fraction | None = None
    planned_minutes: int | None = None


def adherence(orders: Iterable[Order], today: date) -> Figure:
    """Share of work orders wanted by a day of the period that were done by it; one wanted today has till night."""
    wanted = [one for one in orders if one.wanted_by is not None]
    withdrawn = [one for one in wanted if one.state == "withdrawn"]
    known = [one for one in wanted if one.state != "withdrawn" and (one.done_on or _before(one.wanted_by, today))]
    good = [one for one in known if one.done_on and one.wanted_by and one.done_on <= one.wanted_by]
    return share(
        "Schedule kept",
        "work orders done by the day they were wanted by ÷ work orders wanted by a day of the period",
        kept=len(good),
        of=len(known),
        words=("done by that day", "wanted by a day of the period"),
        left_out=[LeftOut("withdrawn; stands in neither number", len(withdrawn), _names(withdrawn))],
    )


def _before(wanted: date | None, today: date) -> bool:
    return wanted is not None and wanted < today


def restoration(orders: Iterable[Order]) -> Figure:
    """Mean time from raising a corrective order to its being done; waiting counts."""
    found = list(orders)
    mended = [one for one in found if one.type in CORRECTIVE and one.hours_to_done is not None]
    untyped = [one for one in found if not one.type]
    hours = sum((one.hours_to_done or Fraction(0) for one in mended), Fraction(0))
    return ratio(
        (
            "Mean time to restoration",
            "sum of the hours from raising to done ÷ number, of corrective work orders done in the period",
        ),
        top=hours,
        bottom=Fraction(len(mended)),
        unit="h",
        words=(f"{shown(hours, 1)} h", f"{len(mended)} corrective work orders done"),
        n=len(mended),
        said=(
            "Waiting counts; the time before the failure was seen is not known. Deferred work waits on purpose.",
            [LeftOut("no type is written; not counted", len(untyped), _names(untyped))],
        ),
    )


def backlog(orders: Iterable[Order], hours_a_week: Fraction | None) -> Figure:
    """Weeks that the planned hours of open work orders would take, against the hours people have a week."""
    name = "Backlog"
    formula = "planned hours of open work orders ÷ hours a week that people have for upkeep"
    found = [one for one in orders if one.state in ("raised", "planned", "under way", "waiting")]
    planned = [one for one in found if one.planned_minutes]
    blank = [one for one in found if not one.planned_minutes]
    ready = sum((one.planned_minutes or 0 for one in planned if one.state != "waiting"), 0)
    hours = Fraction(sum(one.planned_minutes or 0 for one in planned), 60)
    # A sum of what is there, no estimate of anything: it needs no least number.
    told = hours_a_week is not None
    return Figure(
        name=name,
        formula=formula,
        state="told" if told else "n/a",
        value=short(hours / hours_a_week) if hours_a_week else "",
        unit="weeks",
        numerator=f"{shown(hours, 1)} h planned",
        denominator=f"{short(hours_a_week)} h a week" if hours_a_week else "no hours a week are written",
        n=len(planned),
        says=f"Ready, not waiting for anything: {_hours(ready)} h."
        if told
        else "Hours a week are written among the rules of the site; without them nothing is compared.",
        left_out=some([LeftOut("no planned hours are written; not counted", len(blank), _names(blank))]),
    )


@dataclass(frozen=True, slots=True)
class Time:
    """Minutes written on work orders of one type."""

    type: str
    minutes: int
    orders: int


def hours_by_kind(times: Sequence[Time]) -> tuple[Figure, ...]:
    """Shares of preventive, corrective and immediate corrective work in the hours written on work orders.

    Improvement is no maintenance and stands apart; time on orders without a type cannot be told apart and is left out.
    """
    counted = [one for one in times if one.type and one.type != "improvement"]
    total, orders = sum(one.minutes for one in counted), sum(one.orders for one in counted)
    kinds = (
        ("Preventive share of the hours", "preventive and condition-based", PREVENTIVE),
        ("Corrective share of the hours", "corrective, immediate and deferred", CORRECTIVE),
        ("Immediate corrective share of the hours", "immediate corrective", frozenset({IMMEDIATE})),
    )
    left_out = [
        LeftOut(f"{why}, {_hours(minutes)} h; stands in neither number", n)
        for why, minutes, n in (
            ("improvement", *_sum(times, "improvement")),
            ("no type is written", *_sum(times, "")),
        )
    ]
    return tuple(_part(name, words, types, counted, (total, orders), left_out) for name, words, types in kinds)


def _part(
    name: str,
    words: str,
    types: frozenset[str],
    counted: Sequence[Time],
    whole: tuple[int, int],
    left_out: Sequence[LeftOut],
) -> Figure:
    total, orders = whole
    part = sum(one.minutes for one in counted if one.type in types)
    told = bool(total) and orders >= FEWEST
    return Figure(
        name=name,
        formula=f"hours on {words} work orders ÷ all maintenance hours written on work orders",
        state="n/a" if not total else "told" if told else "too few",
        value=percent(Fraction(part, total)) if told else "",
        unit="%",
        numerator=f"{_hours(part)} h",
        denominator=f"{_hours(total)} h",
        n=orders,
        says=f"Written on {orders} work orders.",
        left_out=tuple(one for one in left_out if one.n),
    )


def _sum(times: Sequence[Time], type_: str) -> tuple[int, int]:
    own = [one for one in times if one.type == type_]
    return sum(one.minutes for one in own), sum(one.orders for one in own)


def _hours(minutes: int) -> str:
    return shown(Fraction(minutes, 60), 1)


def between_failures(
    name: str, *, failures: int, running: Fraction, unit: str, items: int, calendar: bool, says: str = ""
) -> Figure:
    """Mean time between failures with its limits at 90 %: operating hours where they are counted, else calendar time.

    Too few failures give no mean, but still the range that agrees with them.
    """
    what = "calendar time, running or not" if calendar else "operating time by hour meter"
    formula = f"{what} of all ÷ failures of the same machines in the same time"
    if running <= 0:
        return not_told(name, formula, why="No hour meter was read twice in the period." if not calendar else says)
    told = mean_time_between_failures(failures, float(running), confidence=BOUND)
    low, high = _large(told.low), _large(told.high) if told.high else None
    likely = f"likely {low} to {high} {unit} (90 %)" if high else f"likely more than {low} {unit} (90 %)"
    return Figure(
        name=name,
        formula=formula,
        state="told" if failures >= FEWEST else "too few",
        value=_large(told.mean) if told.mean is not None and failures >= FEWEST else "",
        unit=unit,
        numerator=f"{_large(float(running))} {unit}",
        denominator=count_of(failures, "failure"),
        n=failures,
        likely=likely,
        says=f"{count_of(items, 'machine')}. {says}".strip(),
    )


def _large(value: float) -> str:
    return grouped(round(value)) if value >= 100 else shown(Fraction(value), 1)


def _names(orders: Sequence[Order]) -> tuple[str, ...]:
    return tuple(one.name for one in orders[:40])
