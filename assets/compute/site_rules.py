"""The rules a site may set for itself: what each is called, what may be written, what holds where nothing is written.

Each default names where it comes from: a rule and its clause, *common practice*, or our own judgement.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from fractions import Fraction
from typing import Literal

from assets.compute.numbers import NotANumber, read_number

OWN = "own judgement"
TIME = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", re.ASCII)
MOST_SHIFTS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule: its words, what may be written, and what holds where the site wrote nothing ("": nothing holds)."""

    name: str
    label: str
    kind: Literal["number", "whole", "choice", "times", "time"]
    default: str
    source: str
    means: str
    unit: str = ""
    low: Fraction = Fraction(0)
    high: Fraction = Fraction(10_000)
    choices: tuple[tuple[str, str], ...] = ()


YES_NO = (("no", "No"), ("yes", "Yes"))
RULES: tuple[Rule, ...] = (
    Rule(
        name="clock_days",
        label="Working days after which a failed compliance monitor must be back",
        kind="whole",
        unit="working days",
        low=Fraction(1),
        high=Fraction(60),
        default="5",
        source="40 CFR 141.174(b); smaller systems 14 days, 40 CFR 141.561",
        means="Counted from the day after the failure; holidays of the site are no working days.",
    ),
    Rule(
        name="clock_counts_failure_day",
        label="The day of the failure counts as the first working day",
        kind="choice",
        choices=YES_NO,
        default="no",
        source="40 CFR 141.174(b) says working days following the failure; a state may count the day itself",
        means="Where it counts, the clock ends one working day earlier.",
    ),
    Rule(
        name="grab_hours",
        label="Hours between grab samples while a compliance monitor is out",
        kind="number",
        unit="h",
        low=Fraction(1),
        high=Fraction(24),
        default="4",
        source="40 CFR 141.174(b) and 141.74(c)(2)",
        means="Hours that really pass, also in the night in which the clock is set.",
    ),
    Rule(
        name="stale_meter_days",
        label="Days without a reading after which a meter must be read",
        kind="whole",
        unit="days",
        low=Fraction(1),
        high=Fraction(400),
        default="30",
        source=OWN,
        means="A routine by run hours cannot be told due from older readings; reading the meter becomes due itself.",
    ),
    Rule(
        name="same_value_days",
        label="Days of one and the same value after which it is asked about",
        kind="whole",
        unit="days",
        low=Fraction(2),
        high=Fraction(90),
        default="7",
        source=OWN,
        means="A number copied from yesterday, or a signal that stands still, looks like a healthy one.",
    ),
    Rule(
        name="look_hours",
        label="Hours in which a forced value is held against independent evidence at least once",
        kind="number",
        unit="h",
        low=Fraction(1),
        high=Fraction(168),
        default="24",
        source="daily review of overrides, European Process Safety Centre fundamentals, second-hand",
        means="By a second meter, a tank drop, a bench reading: never by the forced value itself.",
    ),
    Rule(
        name="override_hours_safety",
        label="Longest time of a forced value or hold that matters for safety",
        kind="number",
        unit="h",
        low=Fraction(1),
        high=Fraction(720),
        default="12",
        source=OWN,
        means="Each extension is approved anew.",
    ),
    Rule(
        name="override_hours_compliance",
        label="Longest time of a forced value or hold that matters for compliance",
        kind="number",
        unit="h",
        low=Fraction(1),
        high=Fraction(720),
        default="72",
        source=OWN,
        means="Each extension is approved anew.",
    ),
    Rule(
        name="override_hours_other",
        label="Longest time of any other forced value or hold",
        kind="number",
        unit="h",
        low=Fraction(1),
        high=Fraction(2_160),
        default="168",
        source=OWN,
        means="Each extension is approved anew.",
    ),
    Rule(
        name="override_extensions",
        label="How often a forced value may be extended",
        kind="whole",
        unit="times",
        low=Fraction(0),
        high=Fraction(20),
        default="3",
        source=OWN,
        means="After that it is a change of the plant and is decided as one.",
    ),
    Rule(
        name="approver_from",
        label="A second person approves what matters for",
        kind="choice",
        choices=(
            ("safety", "Safety only"),
            ("compliance", "Safety and compliance"),
            ("production", "Safety, compliance and production"),
            ("other", "Everything"),
        ),
        default="production",
        source="IEC 61511-1:2016, 16.2, from memory: authorization that fits the criticality",
        means="Nobody approves what they asked for themselves.",
    ),
    Rule(
        name="shift_times",
        label="When shifts begin",
        kind="times",
        default="",
        source="",
        means="Handover is asked for at these times; where none are written, it is made when people wish.",
    ),
    Rule(
        name="digest_time",
        label="When the morning message is sent",
        kind="time",
        default="06:00",
        source=OWN,
        means="To each person what is theirs today, and only where something is.",
    ),
    Rule(
        name="hours_a_week",
        label="Hours a week that people have for upkeep",
        kind="number",
        unit="h",
        low=Fraction(1),
        high=Fraction(2_000),
        default="",
        source="",
        means="Held beside the hours that routines and work orders ask for; without it nothing is compared.",
    ),
)
BY_NAME: Mapping[str, Rule] = {rule.name: rule for rule in RULES}


def as_written(rule: Rule, typed: str, *, decimal_mark: str = ".") -> str:
    """Return what is kept of a typed value. Raises ValueError with one sentence that says what would be right."""
    text = typed.strip()
    if rule.kind == "choice":
        if text not in dict(rule.choices):
            raise ValueError(f"Choose one of: {', '.join(word for _, word in rule.choices)}.")
        return text
    if rule.kind in {"time", "times"}:
        return _times(rule, text)
    try:
        number = read_number(text, decimal_mark=decimal_mark)
    except NotANumber as wrong:
        raise ValueError(str(wrong)) from wrong
    if not rule.low <= number <= rule.high:
        raise ValueError(f"{text} {rule.unit} is outside {rule.low} to {rule.high}; look at the decimal mark.")
    if rule.kind == "whole" and number.denominator != 1:
        raise ValueError(f"{text} is no whole number; write one like {rule.default or '5'}.")
    return str(number.numerator) if number.denominator == 1 else text.replace(",", ".")


def _times(rule: Rule, text: str) -> str:
    words = text.replace(",", " ").split()
    read = [TIME.fullmatch(word) for word in words]
    most = MOST_SHIFTS if rule.kind == "times" else 1
    if not words or len(words) > most or not all(read):
        one = "one time" if most == 1 else f"one to {most} times of day with spaces between"
        raise ValueError(f"“{text}” is not understood: write {one}, like 06:30{' 18:30' if most > 1 else ''}.")
    found = sorted({f"{int(match[1]):02d}:{match[2]}" for match in read if match})
    if len(found) < len(words):
        raise ValueError(f"“{text}” names one time twice; write each once.")
    return " ".join(found)


@dataclass(frozen=True, slots=True)
class InForce:
    """What holds on a day: each written value by the name of its rule; the default where nothing is written."""

    written: Mapping[str, str]
    on: date

    def text(self, name: str) -> str:
        """Return the value of a rule as kept, "" where nothing holds. Raises KeyError for an unknown rule."""
        rule = BY_NAME[name]
        return self.written.get(name, rule.default)

    def number(self, name: str) -> Fraction | None:
        """Return a number in the rule's own unit, exact; None where nothing holds."""
        text = self.text(name)
        return read_number(text) if text else None

    def hours(self, name: str) -> Fraction:
        """Return a number that always holds. Raises LookupError where the rule has no default and none is written."""
        number = self.number(name)
        if number is None:
            raise LookupError(f"No value of {name} is written.")
        return number

    def says_yes(self, name: str) -> bool:
        """Tell whether a yes-or-no rule says yes."""
        return self.text(name) == "yes"

    def times(self, name: str) -> tuple[time, ...]:
        """Return times of day at the site, in order."""
        return tuple(time.fromisoformat(word) for word in self.text(name).split())
