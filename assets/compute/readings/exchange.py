"""Whether two machines beside each other were read the wrong way round: a counter that shows the other one's number.

Seen by the numbers alone: a number goes on from the one before on its own counter, or it does not. Where both counters
show nearly the same, nothing can be told and nothing is asked.
"""

from __future__ import annotations

from dataclasses import dataclass

from assets.compute.readings.asked import Answer, Asked
from assets.compute.readings.counting import Counter
from assets.compute.readings.facts import Taken, hours_between, when

STANDS = Answer(key="stands", label="No, it is so")


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """The counter of one machine: its tag, the number before, what is known of it."""

    tag: str
    last: Taken
    counter: Counter

    def goes_on(self, number: Taken) -> bool:
        """Whether a number could be the next one of this counter: not less than before, not more than it can count."""
        most = self.counter.most(hours_between(self.last.at, number.at))
        return number.value >= self.last.value and (most is None or number.value <= self.last.value + most)

    def is_near(self, number: Taken) -> bool:
        """Whether a number goes on from here and it is known how much this counter can count, so that it tells much."""
        known = self.counter.most(hours_between(self.last.at, number.at)) is not None
        return known and self.goes_on(number)


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked(Meter):
    """The same with the number as typed."""

    now: Taken


def shows_other(one: Walked, other: Meter) -> Asked | None:
    """Ask whether the number typed for one machine is the other one's: it goes on from there, and not from its own.

    `other` before anybody read it, or read right: only the number typed for `one` has to be written anew.
    """
    if one.goes_on(one.now) or not other.is_near(one.now):
        return None
    answers = (Answer(key="other", label=f"It is that of {other.tag}: I write this one anew"), STANDS)
    return Asked(key="exchanged", head=_head(one, other), sentence=_why(one, other), answers=answers)


def exchanged(one: Walked, other: Walked) -> Asked | None:
    """Ask whether two machines were exchanged: each number fits the other counter, and one at least not its own."""
    crossed = one.is_near(other.now) and other.is_near(one.now)
    if not crossed or (one.goes_on(one.now) and other.goes_on(other.now)):
        return None
    wrong, right = (one, other) if not one.goes_on(one.now) else (other, one)
    suggestion = f"{one.tag} {other.now.told}, {other.tag} {one.now.told}"
    return Asked(
        key="exchanged",
        head=_head(wrong, right),
        sentence=f"{_why(wrong, right)} The other way round both fit: {suggestion}.",
        suggestion=suggestion,
        answers=(Answer(key="round", label="Exchanged: put both right"), STANDS),
    )


def _head(one: Walked, other: Meter) -> str:
    said = {"h": "hours", "starts": "starts"}.get(one.now.unit, "number")
    return f"{one.tag} shows the {said} of {other.tag}?"


def _why(one: Walked, other: Meter) -> str:
    return (
        f"{one.now.told} does not go on from {one.last.told} of {one.tag} {when(one.last.at, one.now.at)}, but from "
        f"{other.last.told} of {other.tag}."
    )
