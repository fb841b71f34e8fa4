"""Words for days, times and results that stand in records and reasons."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from calibration.compute.conformity import hardest_first
from calibration.compute.figures import shown
from calibration.compute.method import AnyMethod, Band, Judged, Verdict
from calibration.compute.working import band_text
from calibration.models import Outcome, ReadingSet

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
SHAPES = {
    "pass": ("Pass", "pass", "good"),
    "conditional pass": ("Conditional pass", "cpass", "watch"),
    "conditional fail": ("Conditional fail", "cfail", "bad"),
    "fail": ("Fail", "fail", "bad"),
}
KIND_WORDS = {"as found": "As found", "confirming": "Second buffer", "as left": "As left"}
PLACES = {"pH": 3, "%": 1, "mV": 1}


@dataclass(frozen=True, slots=True)
class State:
    """A word, its shape and its ink."""

    word: str
    shape: str
    ink: str = ""


def verdict_state(verdict: str, *, valid: bool = True) -> State:
    """Return how a verdict is drawn."""
    if not valid:
        return State("Not valid", "notvalid", "still")
    word, shape, ink = SHAPES.get(verdict, ("No verdict", "noroutine", "still"))
    return State(word, shape, ink)


def state_of(of: ReadingSet) -> State:
    """Return how the result of a signed set is drawn; of one without readings, that it is lost."""
    outcome: Outcome | None = getattr(of, "outcome", None)
    if outcome is None:
        return State("Lost", "no", "still")
    return verdict_state(outcome.verdict, valid=outcome.valid)


def proves_words(method: AnyMethod) -> str:
    """Say how far a check of this method reaches."""
    if method.code == "ph":
        return "This proves the probe and the display, not the number on the HMI."
    return {
        "sensor": "This proves the sensor, not the number on the HMI.",
        "to display": "This proves the instrument up to its display, not the number on the HMI.",
    }.get(method.sees, "")


def day_words(day: dt.date) -> str:
    """Write a day: 25 November 2026."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def moment_words(moment: dt.datetime, zone: ZoneInfo) -> str:
    """Write a day and time at the site: 25 November 2026, 14:05."""
    here = moment.astimezone(zone)
    return f"{day_words(here.date())}, {here:%H:%M}"


def judged_value(one: Judged) -> str:
    """Write a judged value with its sign and unit; never so rounded that it crosses a limit."""
    if isinstance(one.value, bool):
        return "so" if one.value else "not so"
    places = PLACES.get(one.unit, 3)
    plus = one.unit != "%"
    edges = [edge for edge in (one.low, one.high) if edge is not None]
    for more in range(places, places + 9):
        text = shown(one.value, more, plus=plus)
        near = Fraction(text.replace("\u2212", "-"))
        if all((near < edge) == (one.value < edge) and (near > edge) == (one.value > edge) for edge in edges):
            return f"{text} {one.unit}".strip()
    return f"{shown(one.value, places + 9, plus=plus)} {one.unit}".strip()


def limit_words(one: Judged) -> str:
    """Write the limit of a judged value: '±0.10 pH'."""
    band = Band(low=one.low, high=one.high, unit=one.unit, source=one.source, tag="site setting")
    return band_text(band)


def worst_first(judged: Iterable[tuple[Judged, Verdict]]) -> list[tuple[Judged, Verdict]]:
    """Sort judged values by gravity, worst first; of one verdict, what takes the largest share of its limit."""
    return hardest_first(judged)


def hardest_words(judged: Iterable[tuple[Judged, Verdict]]) -> str:
    """Name the judged value that decides: failing first, then the largest share of its limit; '' where none is."""
    one = next((one for one, _ in hardest_first(judged)), None)
    if one is None:
        return ""
    if isinstance(one.value, bool):
        return f"{one.what}: {'yes' if one.value else 'no'}"
    of = f" of {one.of}" if one.of else ""
    return f"{one.what} {judged_value(one)}{of}, limit {limit_words(one)}"
