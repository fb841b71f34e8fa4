"""Words for days, times and results that stand in records and reasons."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from zoneinfo import ZoneInfo

from assets.compute.words import moment_named
from calibration.compute.budget import several
from calibration.compute.conformity import hardest_first
from calibration.compute.figures import plain, shown
from calibration.compute.method import AnyMethod, Band, Judged
from calibration.compute.methods import METHODS
from calibration.compute.working import band_text
from calibration.models import Outcome, ReadingSet
from calibration.reads.stored import judged_in

SHAPES = {
    "pass": ("Pass", "pass", "good"),
    "conditional pass": ("Conditional pass", "cpass", "watch"),
    "conditional fail": ("Conditional fail", "cfail", "bad"),
    "fail": ("Fail", "fail", "bad"),
}
KIND_WORDS = {"as found": "As found", "confirming": "Second buffer", "as left": "As left"}
PLACES = {"pH": 3, "%": 1, "mV": 1}


def together(names: Iterable[str]) -> str:
    """Write names, those that differ in their last word alone side by side: 'error at the PLC, point 1; 2'."""
    alike: dict[str, list[str]] = {}
    for name in names:
        alike.setdefault(name.rpartition(" ")[0], []).append(name)
    return "; ".join(several(group) for group in alike.values())


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
    if method.by_point:
        return "This proves the probe and the display, not the number on the HMI."
    return {
        "sensor": "This proves the sensor, not the number on the HMI.",
        "to display": "This proves the instrument up to its display, not the number on the HMI.",
    }.get(method.sees, "")


def moment_words(moment: dt.datetime, zone: ZoneInfo) -> str:
    """Write a day and time at the site: 25 November 2026, 14:05."""
    return moment_named(moment.astimezone(zone))


def judged_value(one: Judged, *, as_figure: str = "") -> str:
    """Write a judged value with its sign and unit; never so rounded that it crosses a limit.

    A time or an amount, whose limits know no minus, has neither plus nor empty places: 30 s.
    as_figure: the text of the figure of that name, as the working shows it; it is taken unless it crosses one.
    """
    if isinstance(one.value, bool):
        return "so" if one.value else "not so"
    if as_figure and _on_its_side(one, as_figure):
        return f"{as_figure} {one.unit}".strip()
    places = PLACES.get(one.unit, 3)
    amount = one.unit not in PLACES and (one.low is None or one.low >= 0) and one.value >= 0
    plus = one.unit != "%" and not amount
    for more in range(places, places + 9):
        text = plain(one.value, most=more) if amount else shown(one.value, more, plus=plus)
        if _on_its_side(one, text):
            return f"{text} {one.unit}".strip()
    return f"{shown(one.value, places + 9, plus=plus)} {one.unit}".strip()


def _on_its_side(one: Judged, text: str) -> bool:
    """Tell whether a value as written lies on the same side of each limit as the value itself."""
    near = Fraction(text.replace("\u2212", "-"))
    edges = [edge for edge in (one.low, one.high) if edge is not None]
    return all((near < edge) == (one.value < edge) and (near > edge) == (one.value > edge) for edge in edges)


def limit_words(one: Judged) -> str:
    """Write the limit of a judged value: '±0.10 pH'."""
    band = Band(low=one.low, high=one.high, unit=one.unit, source=one.source, tag="site setting")
    return band_text(band)


def hardest_words(of: ReadingSet) -> str:
    """Name the judged value of a signed set that decides; '' where nothing was judged.

    Failing first, then the largest share of its limit; of several alike the one that stands first on the page. Reads
    the outcome with its figures.
    """
    method = METHODS[of.check_of.method]
    in_order = sorted(judged_in(of.outcome), key=lambda pair: pair[0].name != method.headline)
    one = next((one for one, _ in hardest_first(in_order)), None)
    if one is None:
        return ""
    if isinstance(one.value, bool):
        return f"{one.what}: {'yes' if one.value else 'no'}"
    texts = {(figure.name, figure.unit): figure.shown for figure in of.outcome.figures.all()}
    share = f" of {one.of}" if one.of else ""
    value = judged_value(one, as_figure=texts.get((one.name, one.unit), ""))
    return f"{one.what} {value}{share}, limit {limit_words(one)}"
