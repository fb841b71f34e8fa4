"""How sure a result is, in words: the probability that the true value is inside the limit, and what that rests on.

Nothing is kept of it: it is worked out when a page is drawn, from the value, the limits, u and the degrees of freedom
that were stored with the set. So a record signed before these words were there has them too, no signed line changes,
and a draft says the same as the record that comes of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from calibration.compute.conformity import Sure, stated_in, sureness
from calibration.compute.figures import plain, sentence_case
from calibration.compute.method import Band, Judged, Line, Verdict
from calibration.compute.reporting import places_of, significant
from calibration.compute.working import band_text
from calibration.reads.words import limit_words, together

GUIDE = "JCGM 106:2012, 7.3"
NEARLY = 0.1
"""Percent: what is less is only said to be less, for no distribution is known that far out."""
WHOLE_FROM = 10.0
MOST = 6
"""Decimals of a limit, as many as a page writes."""


@dataclass(frozen=True, slots=True)
class SureWords:
    """One judged value, or several alike: how likely it is inside, how likely the result is wrong, and from what."""

    what: str
    inside: str
    wrong: str
    result: str
    limit: str
    because: str
    without_condition: str


def sure_words(judged: Iterable[tuple[Judged, Verdict]], lines: Iterable[Line]) -> tuple[SureWords, ...]:
    """Return the words of every judged value whose uncertainty is stated; of the others there are none.

    Values of which the very same is to be said stand together: 'Error of point 1; 2; 3'.
    """
    alike: dict[SureWords, list[str]] = {}
    for one in _sure(judged, lines):
        alike.setdefault(_words(one), []).append(one.of.what)
    return tuple(replace(said, what=sentence_case(together(names))) for said, names in alike.items())


def _words(one: Sure) -> SureWords:
    return SureWords(
        what="",
        inside=percent(one.assurance.conforming),
        wrong=percent(_risk(one)),
        result=one.verdict,
        limit=limit_words(one.of),
        because=_because(one),
        without_condition=_without_condition(one),
    )


def sure_figures(judged: Iterable[tuple[Judged, Verdict]], lines: Iterable[Line]) -> dict[str, str]:
    """Return the same for a file: the probability of being inside, in words of percent, by the name of the value."""
    return {one.of.name: percent(one.assurance.conforming) for one in _sure(judged, lines)}


def _sure(judged: Iterable[tuple[Judged, Verdict]], lines: Iterable[Line]) -> Iterator[Sure]:
    stated = stated_in(lines)
    for one, verdict in judged:
        found = sureness(one, verdict, stated.get(one.what))
        if found is not None:
            yield found


def _risk(one: Sure) -> float:
    """Return the risk of the decision that was taken, of the two kinds the one that there is."""
    accepted, rejected = one.assurance.false_acceptance, one.assurance.false_rejection
    return accepted if accepted is not None else rejected or 0.0


def percent(probability: float) -> str:
    """Write a probability: whole percent in the middle, tenths near the ends, never 0 % or 100 %.

    Both sides are rounded alike, so that a probability and its counterpart add up to 100 %.
    """
    value = 100 * probability
    if value > 100 - NEARLY:
        return f"more than {100 - NEARLY} %"
    if value < NEARLY:
        return f"less than {NEARLY} %"
    minor = min(value, 100 - value)
    near = round(minor, 1 if minor < WHOLE_FROM else 0)
    text = f"{near if value == minor else 100 - near:.1f}"
    return f"{text if minor < WHOLE_FROM else text.removesuffix('.0')} %"


def _because(one: Sure) -> str:
    u = f"{significant(one.u)} {one.of.unit}".strip()
    if one.from_expanded:
        expanded = f"{plain(one.of.uncertainty or Fraction(0))} {one.of.unit}".strip()
        return f"from U = {expanded} alone: u = U / 2 = {u}, normal distribution; {GUIDE}"
    if math.isinf(one.dof):
        return f"from u_c = {u}, normal distribution; {GUIDE}"
    return f"from u_c = {u}, Student\u2019s t with {significant(one.dof)} degrees of freedom; {GUIDE}"


def _without_condition(one: Sure) -> str:
    """Say between which limits a result passes without condition, rounded inwards; empty where none are guarded."""
    if one.none_passes:
        return "nothing, for U is more than half the distance between the limits"
    if one.inner is None:
        return ""
    places = min(MOST, max(places_of(one.of.uncertainty or 0, 2), _decimals(one.of.low), _decimals(one.of.high)))
    low, high = one.inner
    scale = 10**places
    inner = Band(
        low=None if low is None else Fraction(math.ceil(low * scale), scale),
        high=None if high is None else Fraction(math.floor(high * scale), scale),
        unit=one.of.unit,
        source="",
        tag="site setting",
    )
    return band_text(inner)


def _decimals(edge: Fraction | None) -> int:
    return 0 if edge is None else len(plain(edge, most=MOST).partition(".")[2])
