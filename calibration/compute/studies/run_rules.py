"""Run rules on a chart of single values, each of which can be switched on alone.

Sources: Western Electric (1956), Statistical Quality Control Handbook; Nelson (1984), J. Qual. Technol. 16(4).
All four Western Electric rules together give one false alarm in about 92 checks, the first alone one in 370
(NIST/SEMATECH e-Handbook 6.3.2), so that rules are chosen, not piled up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import pairwise
from types import MappingProxyType

Window = Sequence[Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRule:
    """One rule: how many points it looks back on, and whether those points, in standard deviations, break it."""

    code: str
    says: str
    length: int
    broken: Callable[[Window], bool]
    shortest: int = 0  # points it can do with at the beginning of a chart; 0: all of `length`


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A rule and the place, from 0, of the point at which it was broken."""

    code: str
    at: int
    says: str


def _several_beyond(window: Window, *, count: int, sds: int) -> bool:
    # The newest point is one of them, so that a signal stands at a point that is itself far out.
    upper = window[-1] > sds and sum(z > sds for z in window) >= count
    return upper or (window[-1] < -sds and sum(z < -sds for z in window) >= count)


def _one_side(window: Window) -> bool:
    return all(z > 0 for z in window) or all(z < 0 for z in window)


def _steady(window: Window) -> bool:
    steps = [b - a for a, b in pairwise(window)]
    return _one_side(steps)


def _alternating(window: Window) -> bool:
    steps = [b - a for a, b in pairwise(window)]
    return all(a * b < 0 for a, b in pairwise(steps))


def _all_within(window: Window) -> bool:
    return all(abs(z) <= 1 for z in window)


def _none_within(window: Window) -> bool:
    return all(abs(z) > 1 for z in window)


def _beyond(code: str, says: str, *, count: int, of: int, sds: int) -> RunRule:
    return RunRule(
        code=code, says=says, length=of, broken=partial(_several_beyond, count=count, sds=sds), shortest=count
    )


_ONE, _TWO, _FOUR = (
    "one check beyond 3 standard deviations",
    "two of three checks beyond 2 standard deviations, on the same side",
    "four of five checks beyond 1 standard deviation, on the same side",
)

WESTERN_ELECTRIC = (
    _beyond("WE1", _ONE, count=1, of=1, sds=3),
    _beyond("WE2", _TWO, count=2, of=3, sds=2),
    _beyond("WE3", _FOUR, count=4, of=5, sds=1),
    RunRule(code="WE4", says="eight checks in a row on one side of the centre", length=8, broken=_one_side),
)
NELSON = (
    _beyond("N1", _ONE, count=1, of=1, sds=3),
    RunRule(code="N2", says="nine checks in a row on one side of the centre", length=9, broken=_one_side),
    RunRule(code="N3", says="six checks in a row, each higher or each lower than the last", length=6, broken=_steady),
    RunRule(code="N4", says="fourteen checks in a row, up and down in turn", length=14, broken=_alternating),
    _beyond("N5", _TWO, count=2, of=3, sds=2),
    _beyond("N6", _FOUR, count=4, of=5, sds=1),
    RunRule(code="N7", says="fifteen checks in a row within 1 standard deviation", length=15, broken=_all_within),
    RunRule(code="N8", says="eight checks in a row beyond 1 standard deviation", length=8, broken=_none_within),
)
RULES: Mapping[str, RunRule] = MappingProxyType({rule.code: rule for rule in (*WESTERN_ELECTRIC, *NELSON)})


def signals(distances: Sequence[Fraction], *, rules: Iterable[str] = ("WE1",)) -> tuple[Signal, ...]:
    """Return where the rules named by code are broken, in order of the points.

    `distances` are distances from the centre in standard deviations. Raises KeyError for a code that is no rule.
    """
    chosen = [RULES[code] for code in rules]
    return tuple(
        Signal(code=rule.code, at=at, says=rule.says)
        for at in range(len(distances))
        for rule in chosen
        if at + 1 >= (rule.shortest or rule.length) and rule.broken(distances[max(0, at + 1 - rule.length) : at + 1])
    )
